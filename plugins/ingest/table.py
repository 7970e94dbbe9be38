"""A table with its headings on top: a row per measurement, a column per quantity, state or wavelength."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np

from audit.sheets import Sheet, text_of
from plugins.ingest.blocks import Block
from plugins.ingest.cells import decimal_comma, has_value
from plugins.ingest.columns import (
    Column,
    make_columns,
    remark_settled,
    remark_unused,
    settle_doubles,
    understand,
    unreadable_state,
)
from plugins.ingest.coverage import apply_coverage
from plugins.ingest.headings import COLUMN, DOCUMENT, STATE, UNKNOWN, Meaning
from plugins.ingest.kinds import numeric, only_cell
from plugins.ingest.labels import claims, is_summary
from plugins.ingest.measured import CORRECT, Reading, State, fields_of, readings_of, record, remark_faults
from plugins.ingest.notebook import Notebook, clip, where
from plugins.ingest.reshape import ALSO_STATE, remark_claimed, remark_summary
from plugins.ingest.spectra import Spectra, misorder, refuse_order, wavelength_run
from plugins.ingest.titles import Stated, settle

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
    """Record the readings of every row that states its point; return (row, point) of those rows.

    The rows of which something has to be said are gone through one by one, all others are taken as they are.
    """
    states = [column for column in columns if column.meaning.role == STATE]
    readings = readings_of(columns)
    telling = [State(notebook, column) for column in states + _also_states(states, readings)]
    gaps = [each for each in _gaps(telling) if each.field not in {*defaults, *sheet.named}]
    nobodys = _nobodys(sheet, rows, states)
    alone = _alone(sheet, rows, readings, telling) if len(columns) > 1 and not spectral else {}
    measured = np.logical_or.reduce([np.full(len(rows), spectral), *(found.given for found in readings)])
    blank = _blank_in_group(gaps)
    unreadable = {item: found for found in reversed(telling) for item in found.problems}
    faulty = {item for found in readings for item in found.faults}
    kept = np.ones(len(rows), bool)
    for item in sorted({*alone, *nobodys, *np.flatnonzero(~measured).tolist(), *unreadable, *blank, *faulty}):
        row, kept[item] = rows[item], False
        if item in alone:
            _line_of_text(notebook, sheet, row, alone[item], last=not _rows_follow(sheet, rows[item + 1 :]))
        elif item in nobodys:
            remark, name = nobodys[item]
            remark(notebook, name, where(sheet, row))
        elif not measured[item]:
            _no_value(notebook, sheet, row)
        elif item in unreadable:
            _remark_unreadable(notebook, sheet, row, unreadable[item].column, unreadable[item].problems[item])
        elif item in blank:
            _remark_blank(notebook, sheet, row, blank[item].column)
        else:
            kept[item] = True
            remark_faults(notebook, sheet, readings, item, partial(_in_row, row))
    items = np.flatnonzero(kept)
    chosen = np.array(rows, np.int64)[items]
    points = notebook.recorder.points(len(items), fields_of(telling, items, defaults))
    record(notebook, sheet, readings, items, points, partial(_in_row, chosen))
    return list(zip(chosen.tolist(), points.tolist(), strict=True))


def _alone(sheet: Sheet, rows: Sequence[int], readings: Sequence[Reading], telling: Sequence[State]) -> dict[int, int]:
    """Return the items that have one cell with text only, which is no value, and its column."""
    filled: dict[int, np.ndarray] = {}
    for at, own in [(each.column.index, each.given) for each in readings] + [
        (each.column.index, each.stated) for each in telling
    ]:
        filled[at] = filled.get(at, False) | own
    few = np.flatnonzero(sum(each.astype(int) for each in filled.values()) < 2).tolist() if filled else range(len(rows))
    lone = {item: at for item in few if (at := only_cell(sheet.rows[rows[item]])) is not None}
    values = [(each.column.index, each.value) for each in readings]
    return {
        item: at
        for item, at in lone.items()
        if not any(index == at and not math.isnan(value[item]) for index, value in values)
    }


def _remark_unreadable(notebook: Notebook, sheet: Sheet, row: int, column: Column, why: str) -> None:
    message = f"a row isn't used, because its state can't be read: {why}"
    place = where(sheet, row, column.index)
    notebook.remark("row_not_read", "major", message, CORRECT, subject=column.heading, place=place)


Remark = Callable[[Notebook, str, str], None]


def _nobodys(sheet: Sheet, rows: Sequence[int], states: Sequence[Column]) -> dict[int, tuple[Remark, str]]:
    """Return the items that say they are no unit's, in their first cell or where a number or serial should stand.

    With each comes what to remark of it, and its word.
    """
    telling = [column for column in states if column.meaning.number or column.meaning.target == "serial"]
    found: dict[int, tuple[Remark, str]] = {}
    for says, remark in ((claims, remark_claimed), (is_summary, remark_summary)):  # of two, the later counts
        for cells in (*(column.cells for column in reversed(telling)), sheet.column(0, rows)):
            words = {cell for cell in set(cells) if isinstance(cell, str) and says(cell.strip())}
            found |= {item: (remark, cell.strip()) for item, cell in enumerate(cells) if words and cell in words}
    return found


def _gaps(states: Sequence[State]) -> list[State]:
    """Return the columns in which a blank cell may stand for the one above."""
    return [each for each in states if each.field in GROUPED and not all(map(has_value, set(each.column.cells)))]


def _blank_in_group(gaps: Sequence[State]) -> dict[int, State]:
    """Return the items with a blank cell below one that isn't: whether that one holds here too isn't said."""
    found: dict[int, State] = {}
    for each in reversed(gaps):
        first = next((item for item, cell in enumerate(each.column.cells) if has_value(cell)), len(each.stated))
        found |= dict.fromkeys((first + 1 + np.flatnonzero(~each.stated[first + 1 :])).tolist(), each)
    return found


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


def _in_row(row: Any, column: Column) -> tuple[Any, int]:
    return row, column.index


def _also_states(states: Sequence[Column], readings: Sequence[Reading]) -> list[Column]:
    """Return measured columns as states, where no column states it; a bad cell there is said as a reading."""
    stated = {column.meaning.target for column in states}
    extra = []
    for column in (each.column for each in readings):
        target = ALSO_STATE.get(column.meaning.target)
        if target and target not in stated:
            meaning = Meaning(STATE, target, column.meaning.unit)
            extra.append(Column(column.index, column.heading, meaning, column.cells, column.texts, column.value))
    return extra


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
