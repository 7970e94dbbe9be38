"""Cells into numbers: a printed value with its unit and its last digit, "no value", or a reason why not."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audit.numbers import Printed, parse_number
from audit.register import quantity_register
from audit.sheets import text_of
from audit.units import conversion, is_unit
from audit.units import fold as fold_unit
from plugins.ingest.headings import READING, Meaning

NO_VALUE = frozenset({"", "-", "--", "---", "–", "—", "n/a", "n.a."})
MAX_FRACTION = 1.5  # a flux maintenance of 1.02 is a fraction; in per cent nothing of interest is that low
WITH_UNIT = re.compile(r"([+\-−]?[\d.]+(?:[eE][+\-]?\d+)?)\s*(\D.*)")


@dataclass(frozen=True)
class Number:
    """A cell's value and resolution in the unit of its column; `problem` says why it has none."""

    value: float = math.nan
    resolution: float = math.nan
    problem: str = ""
    fraction: bool = False  # a bare number that may be a fraction, where per cent is meant


NOTHING = Number()


def has_value(cell: Any) -> bool:
    """Whether a cell holds anything but blanks or one of the marks for "no value"."""
    return text_of(cell).casefold() not in NO_VALUE


def number(cell: Any, meaning: Meaning) -> Number:
    """Return a cell under a heading as a number in the heading's house unit; a cell's own unit comes first."""
    if not has_value(cell):
        return NOTHING
    printed, convert, own_unit = parse_number(cell), meaning.conversion, ""
    if printed is None:
        text = text_of(cell)
        if meaning.role == "uncertainty":
            text = text.lstrip("±").strip()
        match = WITH_UNIT.fullmatch(text)
        printed = parse_number(match[1] if match else text)
        own_unit = match[2] if match else ""
        if printed is None or (own_unit and not is_unit(own_unit)):
            return Number(problem=f"'{text_of(cell)[:60]}' is no number{_comma(text)}")
        if own_unit:
            try:
                convert = conversion(own_unit, meaning.unit)
            except ValueError as error:
                return Number(problem=f"in '{text_of(cell)[:60]}' {error}")
    value = printed.value * convert.factor if meaning.role == "uncertainty" else convert.apply(printed.value)
    per_cent = fold_unit(meaning.spelled_unit or meaning.unit) == "%" and not own_unit
    fraction = per_cent and abs(printed.value) <= MAX_FRACTION
    return Number(value, printed.resolution * abs(convert.factor), fraction=fraction)


def _comma(text: str) -> str:
    return ": write the decimal mark as a point and leave out thousands marks" if re.search(r"\d,\d", text) else ""


def resolution(cells: Sequence[Any], numbers: Sequence[Number], meaning: Meaning) -> float:
    """Return one unit of the last digit to which a column is printed, in its house unit.

    Programs drop trailing zeros, so the finest cell speaks for all. A workbook keeps numbers without their
    format: there the trade's usual digits (register: decimals) are assumed where the cells show fewer.
    """
    finest = min((found.resolution for found in numbers if not math.isnan(found.resolution)), default=math.nan)
    if meaning.role == READING and any(isinstance(cell, float) for cell in cells):
        return min(finest, 10.0 ** -quantity_register()[meaning.target].decimals)
    return finest


def maybe_fractions(numbers: Sequence[Number]) -> bool:
    """Whether every value of a column in per cent is so low that fractions may have been written."""
    values = [found for found in numbers if not math.isnan(found.value) and found.value != 0]
    return bool(values) and all(found.fraction for found in values)


def as_numbers(cells: Sequence[Any]) -> np.ndarray | None:
    """Return cells as floats, or None where any of them isn't a finite number printed in the usual way."""
    try:
        if isinstance(cells[0], str):
            text = "".join(cells)
            if "_" in text or not text.isascii():  # float() takes 1_000 and digits of other scripts
                raise ValueError
        values = np.fromiter(map(float, cells), np.float64, len(cells))
    except (TypeError, ValueError):
        found: list[Printed | None] = [parse_number(cell) for cell in cells]  # a typographic minus, blanks
        if None in found:
            return None
        values = np.array([printed.value for printed in found if printed])
    return values if np.isfinite(values).all() else None


def first_bad(cells: Sequence[Any]) -> int:
    """Return the index of the first cell that isn't a number."""
    return next(index for index, cell in enumerate(cells) if parse_number(cell) is None)
