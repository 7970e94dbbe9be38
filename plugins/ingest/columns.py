"""The columns of a table: what each means beside the others, which are read, and what is said of the rest."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from audit.model import NUMBER, POINT_FIELDS
from audit.numbers import parse_number
from audit.register import quantity_register
from audit.sheets import Sheet, text_of
from plugins.ingest.cells import Number, has_value, maybe_fractions, number, resolution
from plugins.ingest.headings import (
    AMBIGUOUS,
    COLUMN,
    DOCUMENT,
    LISTED,
    READING,
    REFUSED,
    SPECTRAL,
    STATE,
    UNCERTAINTY,
    UNKNOWN,
    WAVELENGTH,
    Meaning,
    fold,
    resolve,
)
from plugins.ingest.notebook import Notebook, where

AGREE = 1e-3  # of the value: two columns in different units (lx and fc) say the same
SATURATION = re.compile(r"^(?:saturation|sat\.?)(?![\w ]*set)", re.IGNORECASE)
STATE_NUMBERS = frozenset(name for name, kind in POINT_FIELDS.items() if kind == NUMBER)
NAME_IT = "name the column after one quantity (as the quantity register does), with its unit in brackets"


@dataclass(eq=False)
class Column:
    """One column or key: where it stands, what it means, and its cells as numbers where it holds numbers."""

    index: int
    heading: str
    meaning: Meaning
    cells: list[Any] = field(default_factory=list)
    numbers: list[Number] = field(default_factory=list)
    resolution: float = math.nan


def understand(headings: Sequence[Any], layout: str = COLUMN) -> list[Meaning]:
    """Return the meaning of each heading; neighbours settle what a heading alone leaves open."""
    texts = [text_of(heading) for heading in headings]
    folded = {fold(text) for text in texts}
    meanings = [resolve(text, layout) for text in texts]
    hue = any(meaning.target == "hue_setting_deg" for meaning in meanings)
    for index, text in enumerate(texts):
        tristimulus = fold(text) == "Y" and {"X", "Z"} <= folded
        uniform_1960 = fold(text) in ("u", "v") and {"u'", "v'"} <= folded
        if tristimulus or uniform_1960:
            meanings[index] = Meaning(LISTED, "listed")
        elif hue and SATURATION.match(text):  # a detector may be saturated too
            meanings[index] = resolve(SATURATION.sub("saturation setting", text), layout)
    return meanings


def make_columns(
    heads: Sequence[tuple[int, str, Meaning]],
    cells_of: Callable[[int], list[Any]],
    shown_as_per_cent: Callable[[int, int], bool],
) -> list[Column]:
    """Return the columns with their cells; numbers where the meaning asks for them.

    `shown_as_per_cent` takes a column's index and an item: does the workbook print that cell in per cent?
    """
    columns = []
    for index, heading, meaning in heads:
        cells = cells_of(index)
        column = Column(index, heading, settled_by_cells(meaning, cells), cells)
        if column.meaning.number:
            _parse(column)
            if maybe_fractions(column.numbers):
                _settle_fractions(column, shown_as_per_cent)
        columns.append(column)
    return columns


def _parse(column: Column) -> None:
    column.numbers = [number(cell, column.meaning) for cell in column.cells]
    column.resolution = resolution(column.cells, column.numbers, column.meaning)


def _settle_fractions(column: Column, shown_as_per_cent: Callable[[int, int], bool]) -> None:
    """Values of at most 1.5 under per cent: a workbook's format may say that 0.95 is printed as 95 %."""
    item = next(item for item, cell in enumerate(column.cells) if has_value(cell))
    if isinstance(column.cells[item], float) and shown_as_per_cent(column.index, item):
        column.cells = [f"{100 * cell:.12g} %" if isinstance(cell, float) else cell for cell in column.cells]
        _parse(column)
    elif not column.meaning.spelled_unit:
        why = "its values may be fractions or per cent, and its unit isn't stated"
        column.meaning = replace(column.meaning, role=REFUSED, why=why)


def settled_by_cells(meaning: Meaning, cells: Sequence[Any]) -> Meaning:
    """A heading that means a number or a date (Time) means the date where no cell is a number."""
    if "date" in meaning.targets and not any(parse_number(cell) for cell in cells):
        return Meaning(DOCUMENT, "date")
    return meaning


At = Callable[[Column], tuple[int, int]]  # row and column (from 0) of a column's heading or of a key's value


def settle_doubles(columns: Sequence[Column], notebook: Notebook, sheet: Sheet, at: At) -> None:
    """Mark columns that say a thing twice as not used; where two disagree on a number, neither is used."""
    kept: dict[tuple[str, str, str], Column] = {}
    for column in columns:
        meaning = column.meaning
        if meaning.role not in (READING, UNCERTAINTY, STATE):
            continue
        key = (meaning.role, meaning.target, meaning.definition)
        first = kept.setdefault(key, column)
        if first is column:
            continue
        place = f"{where(sheet, *at(first))}; {where(sheet, *at(column))}"
        if _agree(first, column):
            notebook.listed(column.heading, f"the same as '{first.heading}'", where(sheet, *at(column)))
            column.meaning = replace(meaning, role=LISTED)
        elif meaning.number:
            why = f"'{first.heading}' and '{column.heading}' both mean {meaning.target} and differ: neither is used"
            notebook.remark("column_doubled", "major", why, NAME_IT, subject=meaning.target, place=place)
            column.meaning = replace(meaning, role=AMBIGUOUS, why="")
            first.meaning = replace(first.meaning, role=AMBIGUOUS, why="")
        else:
            why = f"'{first.heading}' and '{column.heading}' both mean {meaning.target}: the first is used"
            notebook.remark("column_doubled", "minor", why, NAME_IT, subject=meaning.target, place=place)
            column.meaning = replace(meaning, role=LISTED)


def _agree(first: Column, second: Column) -> bool:
    if not first.meaning.number:
        return [text_of(cell) for cell in first.cells] == [text_of(cell) for cell in second.cells]
    a, b = (np.array([found.value for found in column.numbers]) for column in (first, second))
    rounding = (first.resolution + second.resolution) / 2
    return bool(np.isclose(a, b, rtol=AGREE, atol=rounding if math.isfinite(rounding) else 0.0, equal_nan=True).all())


def remark_unused(columns: Sequence[Column], notebook: Notebook, sheet: Sheet, at: At) -> None:
    """Say which columns aren't read and why; a column without any value needs no word."""
    measured = {column.meaning.target for column in columns if column.meaning.role == READING}
    for column in columns:
        meaning, place = column.meaning, where(sheet, *at(column))
        example = next((cell for cell in column.cells if has_value(cell)), None)
        if example is None:
            continue
        if meaning.role == UNKNOWN:
            notebook.unknown(column.heading, example, place)
        elif meaning.role == LISTED and meaning.target == "listed":
            notebook.listed(column.heading, example, place)
        elif meaning.role in (AMBIGUOUS, REFUSED) and meaning.why:
            _remark_unreadable(column, measured, notebook, place)
        elif meaning.role in (SPECTRAL, WAVELENGTH):
            why = f"'{column.heading}' is a heading of spectra, but the sheet has no column of wavelengths and values"
            notebook.remark("column_not_read", "major", why, "give each wavelength its own row or column", place=place)


def _remark_unreadable(column: Column, measured: set[str], notebook: Notebook, place: str) -> None:
    meaning, heading = column.meaning, column.heading
    if meaning.role == REFUSED:
        message = f"'{heading}' is recognised as {meaning.target}, but isn't used: {meaning.why}"
        notebook.remark("column_not_read", "major", message, NAME_IT, subject=meaning.target, place=place)
        return
    bears = bool({meaning.target, *meaning.targets} & (quantity_register().keys() | STATE_NUMBERS))
    tier = "major" if bears and meaning.target not in measured else "minor"
    message = f"'{heading}' isn't used: {meaning.why}. It may mean: {', '.join(meaning.candidates)}"
    notebook.remark("column_ambiguous", tier, message, NAME_IT, subject=meaning.target or heading, place=place)


def unreadable_state(columns: Sequence[Column]) -> Column | None:
    """Return a column that states the operating point but can't be read: without it no row may be used."""
    for column in columns:
        meaning = column.meaning
        targets = {meaning.target, *meaning.targets} if meaning.role in (REFUSED, AMBIGUOUS) else set()
        if targets & STATE_NUMBERS and any(has_value(cell) for cell in column.cells):
            return column
    return None
