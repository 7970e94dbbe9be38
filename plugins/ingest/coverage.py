"""Expanded uncertainties with their coverage factor in a column of its own: scaled to k = 2, and said."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from audit.sheets import Sheet, text_of
from plugins.ingest.cells import Number
from plugins.ingest.columns import At, Column
from plugins.ingest.headings import COVERAGE, COVERAGE_FACTOR, HOUSE_K, LISTED, READING, UNCERTAINTY, UNKNOWN
from plugins.ingest.notebook import Notebook, clip, where

LEAST_K, MOST_K = 1.0, 5.0  # below lies no expanded uncertainty, above none that anybody prints (GUM 6.3)


def apply_coverage(columns: Sequence[Column], notebook: Notebook, sheet: Sheet, at: At) -> None:
    """Scale the expanded uncertainties of each row by the factor that stands beside them.

    A factor whose heading says whose it is, k(...), is for that quantity alone. A heading with its own k, and standard
    uncertainties, aren't touched. A factor that can't be one costs the uncertainty, never the value; without any
    uncertainty beside it the column is listed.
    """
    factors = [column for column in columns if column.meaning.role == COVERAGE_FACTOR]
    owned = {column.meaning.target for column in factors}
    for column in factors:
        target = column.meaning.target
        expanded = [
            other
            for other in columns
            if (other.meaning.role == UNCERTAINTY or (other.meaning.role == READING and _stated(other)))
            and (other.meaning.target == target if target != COVERAGE_FACTOR else other.meaning.target not in owned)
        ]
        rivals = [other for other in factors if other.meaning.target == target and _differ(other, column)]
        _apply(column, rivals, expanded, notebook, where(sheet, *at(column)))


def _differ(first: Column, second: Column) -> bool:
    return [text_of(cell) for cell in first.cells] != [text_of(cell) for cell in second.cells]


def _apply(
    factors: Column, rivals: Sequence[Column], expanded: Sequence[Column], notebook: Notebook, place: str
) -> None:
    """Scale uncertainties by one column of factors; with `rivals`, which of them is theirs isn't said."""
    scaled = [column for column in expanded if column.meaning.coverage == HOUSE_K]
    plausible = any(LEAST_K <= value <= MOST_K for value in factors.values)
    if len(factors.heading.strip()) == 1 and factors.values and not plausible:
        factors.meaning = replace(factors.meaning, role=UNKNOWN)  # K may be kelvin
        return
    if not scaled or factors.example is None:
        factors.meaning = replace(factors.meaning, role=LISTED, target="listed")
        return
    if rivals:
        why = f"the uncertainty isn't used: which of the columns '{clip(factors.heading)}' is its factor isn't said"
        for column in scaled:
            for item in range(len(column.cells)):
                column.put(item, _without(column.number(item), column, why))
        return
    for column in scaled:
        for item, cell in enumerate(column.cells):
            column.put(item, _scaled(column.number(item), factors.number(item), cell, factors, column))
    shown = ", ".join(f"{value:g}" for value in sorted(set(factors.values))[:5])
    plain = all(value == HOUSE_K for value in factors.values)
    message = f"the coverage factor of the expanded uncertainties is that under '{clip(factors.heading)}' ({shown})"
    notebook.remark(
        "coverage_factor",
        "note",
        message + ("" if plain else "; they are scaled to k = 2"),
        "nothing, if the factor is that of the uncertainties beside it",
        subject=factors.heading,
        place=place,
    )


def _stated(column: Column) -> bool:
    """Whether cells of a reading state its uncertainty behind it."""
    return any(not math.isnan(found.uncertainty) for found in column.odd.values())


def _without(found: Number, column: Column, why: str) -> Number:
    """Return a number without the uncertainty that it is, or that stands behind it."""
    if column.meaning.role == READING:
        return found._replace(uncertainty=math.nan, doubt=why) if found.uncertainty > 0 else found
    return found if math.isnan(found.value) else Number(problem=why)


def _scaled(found: Number, factor: Number, cell: Any, factors: Column, column: Column) -> Number:
    uncertainty = found.uncertainty if column.meaning.role == READING else found.value
    if math.isnan(uncertainty) or found.problem or COVERAGE.search(text_of(cell)):
        return found  # none, or it states its own factor
    if factor.problem or not (math.isnan(factor.value) or LEAST_K <= factor.value <= MOST_K):
        why = factor.problem or f"{factor.value:g} can't be a coverage factor"
        return _without(found, column, f"the uncertainty isn't used: under '{clip(factors.heading)}' {why}")
    scaled = uncertainty * HOUSE_K / (HOUSE_K if math.isnan(factor.value) else factor.value)
    return found._replace(uncertainty=scaled) if column.meaning.role == READING else found._replace(value=scaled)
