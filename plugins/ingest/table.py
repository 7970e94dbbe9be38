"""A table with its headings on top: a row per measurement, a column per quantity, state or wavelength."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from functools import partial
from itertools import pairwise
from typing import Any

from audit.model import NUMBER, POINT_FIELDS
from audit.sheets import Sheet, text_of
from plugins.ingest.blocks import Block
from plugins.ingest.cells import NO_VALUE, NOTHING, decimal_comma, has_value, no_result
from plugins.ingest.columns import (
    At,
    Column,
    make_columns,
    remark_settled,
    remark_unused,
    settle_doubles,
    understand,
    unreadable_state,
)
from plugins.ingest.coverage import apply_coverage
from plugins.ingest.headings import COLUMN, DOCUMENT, HOUSE_K, READING, STATE, UNCERTAINTY, UNKNOWN, Meaning
from plugins.ingest.kinds import numeric, only_cell
from plugins.ingest.labels import claims, is_summary
from plugins.ingest.notebook import Notebook, clip, where
from plugins.ingest.reshape import ALSO_STATE, remark_claimed, remark_summary
from plugins.ingest.spectra import Spectra, misorder, refuse_order, wavelength_run
from plugins.ingest.titles import Stated, settle

SAME_UNCERTAINTY = 0.1  # of an uncertainty: it is printed to a digit or two
CORRECT = "correct the cell, or leave it blank if there is no value"


class Unreadable(Exception):
    """A row whose operating point can't be read: column and reason."""

    def __init__(self, column: Column, why: str):
        super().__init__(why)
        self.column, self.why = column, why


# A blank cell under one of these, below one that isn't, may or may not mean "as above": settings are never guessed.
GROUPED = ("serial", "hours", "level_percent", "cct_setting_K", "channel")


def read_table(notebook: Notebook, block: Block, keys: Mapping[str, Any], stated: Sequence[Stated]) -> None:
    """Read a table with its headings in row 0.

    `keys`: the state that keys above it give to all rows; `stated`: what titles and names give to rows without.
    """
    headings, answers = block.rows[0], notebook.recorder.document.answers
    meanings = understand(headings, COLUMN, answers)
    unknown = [found.role == UNKNOWN for found in meanings]
    run = wavelength_run([text if free else "" for text, free in zip(headings, unknown, strict=True)])
    rows = list(_data_rows(notebook, block, len(headings)))
    heads = [(index, text_of(headings[index]), meaning) for index, meaning in enumerate(meanings) if index not in run]
    columns = make_columns(
        heads,
        lambda index: block.column(index, rows),
        lambda index, item: notebook.shown_as_per_cent(block, rows[item], index),
        answers,
    )
    settle_doubles(columns, notebook, block, heading_at)
    apply_coverage(columns, notebook, block, heading_at)
    remark_settled(columns, notebook, block, heading_at)
    remark_unused(columns, notebook, block, heading_at)
    read_document(columns, notebook, block, rows)
    if blocked := unreadable_state(columns):
        notebook.remark(
            "rows_not_read",
            "major",
            f"no row of this sheet is used, because the column '{clip(blocked.heading)}' says in which state they were"
            " measured and can't be read",
            "mend that column's heading or its cells",
            subject=blocked.heading,
            place=where(block, 0, blocked.index),
        )
        return
    states = [column for column in columns if column.meaning.role == STATE]
    defaults = settle(notebook, block, states, keys, stated)
    if defaults is None:
        return
    points = _read_rows(notebook, block, rows, columns, defaults, bool(run))
    if run:
        _read_spectra(notebook, block, run, points)


def heading_at(column: Column) -> tuple[int, int]:
    """Return where a column's heading stands in a block."""
    return 0, column.index


def _data_rows(notebook: Notebook, block: Sheet, width: int) -> Iterator[int]:
    for row in range(1, len(block.rows)):
        cells = block.rows[row]
        if len(cells) > width and any(has_value(cell) for cell in cells[width:]):
            notebook.remark(
                "row_not_read",
                "major",
                "a row has more cells than the table has headings, so its cells may stand under wrong headings",
                "put quotes around text with the separating mark in it, or give every column a heading",
                place=where(block, row),
            )
        elif any(map(text_of, cells)):
            yield row


def read_document(columns: Sequence[Column], notebook: Notebook, sheet: Sheet, rows: Sequence[int]) -> None:
    """Keep what columns say about the document as a whole (standing, report number), cell by cell."""
    for column in columns:
        if column.meaning.role == DOCUMENT:
            for row, cell in zip(rows, column.cells, strict=True):
                if has_value(cell):
                    notebook.document(column.meaning.target, cell, sheet, row, column.index)


def _read_rows(
    notebook: Notebook,
    sheet: Block,
    rows: Sequence[int],
    columns: Sequence[Column],
    defaults: Mapping[str, Any],
    spectral: bool,
) -> list[tuple[int, int]]:
    """Record the readings of every row that states its point; return (row, point) of those rows."""
    states = [column for column in columns if column.meaning.role == STATE]
    readings = [column for column in columns if column.meaning.role == READING]
    uncertainties = {column.meaning.target: column for column in columns if column.meaning.role == UNCERTAINTY}
    telling = states + _also_states(states, readings)
    gaps = [column for column in _gaps(states) if column.meaning.target not in {*defaults, *sheet.named}]
    measured = {item for column in readings for item, found in enumerate(column.numbers) if found is not NOTHING}
    nobodys = _nobodys(sheet, rows, states)
    several = len(columns) > 1 and not spectral
    defaults = {**implied(states), **defaults}
    points = []
    for item, row in enumerate(rows):
        alone = only_cell(sheet.rows[row]) if several else None
        value = alone is not None and any(
            column.index == alone and not math.isnan(column.numbers[item].value) for column in readings
        )
        if alone is not None and not value:
            _line_of_text(notebook, sheet, row, alone, last=not _rows_follow(sheet, rows[item + 1 :]))
            continue
        if item in nobodys:
            remark, name = nobodys[item]
            remark(notebook, name, where(sheet, row))
            continue
        if not spectral and item not in measured:
            _no_value(notebook, sheet, row)
            continue
        try:
            fields = state(notebook, telling, item)
        except Unreadable as problem:
            message = f"a row isn't used, because its state can't be read: {problem.why}"
            place = where(sheet, row, problem.column.index)
            notebook.remark("row_not_read", "major", message, CORRECT, subject=problem.column.heading, place=place)
            continue
        if blank := _blank_in_group(gaps, fields, item):
            _remark_blank(notebook, sheet, row, blank)
            continue
        point = notebook.recorder.point(**{**defaults, **fields})
        points.append((row, point))
        record(notebook, sheet, readings, uncertainties, item, point, partial(_in_row, row))
    return points


Remark = Callable[[Notebook, str, str], None]


def _nobodys(sheet: Sheet, rows: Sequence[int], states: Sequence[Column]) -> dict[int, tuple[Remark, str]]:
    """Return the items that say they are no unit's, in their first cell or where a number or serial should stand.

    With each comes what to remark of it, and its word.
    """
    telling = [column for column in states if column.meaning.number or column.meaning.target == "serial"]
    found: dict[int, tuple[Remark, str]] = {}
    for says, remark in ((claims, remark_claimed), (is_summary, remark_summary)):  # of two, the later counts
        for cells in (*(column.cells for column in reversed(telling)), sheet.column(0, rows)):
            words = {cell for cell in cells if isinstance(cell, str) and says(cell.strip())}
            found |= {item: (remark, cell.strip()) for item, cell in enumerate(cells) if words and cell in words}
    return found


def _gaps(states: Sequence[Column]) -> list[Column]:
    """Return the columns in which a blank cell may stand for the one above."""
    return [each for each in states if each.meaning.target in GROUPED and not all(map(has_value, set(each.cells)))]


def _blank_in_group(gaps: Sequence[Column], stated: Container[str], item: int) -> Column | None:
    """Return a column whose cell is blank below one that isn't: whether that one holds here too isn't said."""
    for column in gaps:
        if column.meaning.target not in stated and any(map(has_value, column.cells[:item])):
            return column
    return None


def _remark_blank(notebook: Notebook, sheet: Sheet, row: int, column: Column) -> None:
    name = clip(column.heading)
    message = f"a row isn't used: its cell under '{name}' is blank, and whether it is as above isn't said"
    ask = f"write the value of '{name}' into every row"
    notebook.remark("state_blank", "major", message, ask, subject=column.heading, place=where(sheet, row, column.index))


def _rows_follow(sheet: Sheet, rows: Sequence[int]) -> bool:
    """Whether any of these rows has more than one cell."""
    return any(only_cell(sheet.rows[row]) is None for row in rows)


def _line_of_text(notebook: Notebook, sheet: Sheet, row: int, column: int, last: bool) -> None:
    """A row with one cell only: a footnote, or a line between rows that may say something of those below."""
    text = sheet.cell(row, column)
    notebook.free(text, sheet, row, column)
    if sum(map(numeric, text_of(text).split())) > 1:
        message = (
            f"a row isn't used: which of its numbers stand under which headings can't be told ('{text_of(text)[:60]}')"
        )
        ask = "separate its cells as those of the other rows, and mark a missing value with '-'"
        notebook.remark("row_not_read", "major", message, ask, place=where(sheet, row))
        return
    if last:
        _no_value(notebook, sheet, row)
        return
    message = f"'{text_of(text)[:60]}' stands alone between the rows of a table; what it says of those below isn't used"
    ask = "if it states their setting or their unit, give the table a column for it"
    notebook.remark("line_in_table", "minor", message, ask, place=where(sheet, row))


def _no_value(notebook: Notebook, sheet: Sheet, row: int) -> None:
    message = "a row has no value under any quantity and no spectrum"
    notebook.remark("row_without_values", "note", message, "nothing, if none belongs there", place=where(sheet, row))


def _in_row(row: int, column: Column) -> tuple[int, int]:
    return row, column.index


def _also_states(states: Sequence[Column], readings: Sequence[Column]) -> list[Column]:
    """Return measured columns as states, where no column states it; a bad cell there is said as a reading."""
    stated = {column.meaning.target for column in states}
    extra = []
    for column in readings:
        target = ALSO_STATE.get(column.meaning.target)
        if target and target not in stated:
            numbers = [NOTHING if found.problem else found for found in column.numbers]
            meaning = Meaning(STATE, target, column.meaning.unit)
            extra.append(Column(column.index, column.heading, meaning, column.cells, numbers))
    return extra


def implied(states: Sequence[Column]) -> dict[str, Any]:
    """Return what headings say of the state by themselves: the kind of control, unless something states it."""
    return next(({"control_kind": column.meaning.kind} for column in states if column.meaning.kind), {})


def state(notebook: Notebook, columns: Sequence[Column], item: int) -> dict[str, Any]:
    """Return the operating-point fields that one row states. Raises Unreadable where a cell can't be read."""
    fields: dict[str, Any] = {}
    for column in columns:
        target, cell = column.meaning.target, column.cells[item]
        if POINT_FIELDS[target] == NUMBER:
            found = column.numbers[item]
            if found.problem:
                raise Unreadable(column, found.problem)
            if not math.isnan(found.value):
                fields[target] = found.value
        elif failed := no_result(cell):
            raise Unreadable(column, f"under '{clip(column.heading)}' {failed}")
        elif (text := text_of(cell)).casefold() not in NO_VALUE:
            try:
                fields[target] = notebook.test_object(text) if target == "test_object" else text
            except ValueError as error:
                raise Unreadable(column, str(error)) from error
    return fields


def record(
    notebook: Notebook,
    sheet: Sheet,
    readings: Sequence[Column],
    uncertainties: Mapping[str, Column],
    item: int,
    point: int,
    at: At,
) -> None:
    """Record the readings of one item: a row, or a whole export."""
    for column in readings:
        found, meaning = column.numbers[item], column.meaning
        if found.problem:
            _not_a_number(notebook, column, found.problem, where(sheet, *at(column)))
        elif not math.isnan(found.value):
            notebook.recorder.reading(
                point,
                meaning.target,
                found.value,
                notebook.place(sheet, *at(column), text_of(column.cells[item])),
                expanded_uncertainty=_expanded(notebook, sheet, uncertainties, column, item, at),
                resolution=column.resolution,
                definition=meaning.definition,
            )


def _not_a_number(notebook: Notebook, column: Column, problem: str, place: str) -> None:
    message = f"under '{clip(column.heading)}' {problem}"
    notebook.remark("cell_not_a_number", "major", message, CORRECT, subject=column.meaning.target, place=place)


def _expanded(
    notebook: Notebook, sheet: Sheet, uncertainties: Mapping[str, Column], reading: Column, item: int, at: At
) -> float:
    """Return the expanded uncertainty (k = 2) stated for a reading, in its cell or a column, NaN where none is."""
    column, own = uncertainties.get(reading.meaning.target), reading.numbers[item]
    if own.doubt:
        _not_a_number(notebook, reading, own.doubt, where(sheet, *at(reading)))
    if column is None or column.numbers[item] is NOTHING:
        return own.uncertainty
    found = column.numbers[item]
    if found.problem or found.value <= 0:
        problem = found.problem or f"the uncertainty '{clip(column.cells[item])}' isn't above zero"
        _not_a_number(notebook, column, problem, where(sheet, *at(column)))
        return math.nan
    scale = abs(own.value) / 100 if column.meaning.relative else 1.0
    expanded = found.value * scale * HOUSE_K / column.meaning.coverage
    if not math.isnan(own.uncertainty) and not math.isclose(expanded, own.uncertainty, rel_tol=SAME_UNCERTAINTY):
        why = f"states another uncertainty than '{clip(reading.cells[item])}' does: neither is used"
        _not_a_number(notebook, column, f"'{clip(column.cells[item])}' {why}", where(sheet, *at(column)))
        return math.nan
    return expanded


def _read_spectra(
    notebook: Notebook, sheet: Sheet, run: Mapping[int, float], points: Sequence[tuple[int, int]]
) -> None:
    indices = list(run)
    if wrong := misorder(list(run.values())):
        refuse_order(notebook, sheet, (0, indices[wrong - 1]), (0, indices[wrong]))
        return
    proven = partial(_proven, [[sheet.rows[0][at] for at in indices], *(sheet.rows[row] for row, _ in points)])
    spectra = Spectra(notebook, sheet, list(run.values()), named=_named(sheet, run), proven=proven)
    first, last = indices[0], indices[-1] + 1
    solid = all(b - a == 1 for a, b in pairwise(indices))
    for row, point in points:
        cells = sheet.rows[row]
        values = cells[first:last] if solid else [sheet.cell(row, index) for index in indices]
        values = values + [""] * (len(indices) - len(values))
        if any(has_value(cell) for cell in values[:8]) or any(has_value(cell) for cell in values):
            spectra.add(values, partial(_cell_of, row, indices), point)
        else:
            _no_value(notebook, sheet, row)
    spectra.keep()


def _proven(rows: Sequence[Sequence[Any]]) -> str:
    """Return the decimal mark that any row of a table proves, "" where none does."""
    return "," if any(map(decimal_comma, rows)) else ""


def _named(sheet: Sheet, run: Mapping[int, float]) -> bool:
    """Whether the headings say more than wavelengths: Spectral Data 380[nm], Intensity 380 nm."""
    return bool(re.search(r"[^\W\d]{4,}", text_of(sheet.rows[0][next(iter(run))])))


def _cell_of(row: int, indices: Sequence[int], item: int) -> tuple[int, int]:
    return row, indices[item]
