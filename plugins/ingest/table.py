"""A table with its headings on top: a row per measurement, a column per quantity, state or wavelength."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from itertools import pairwise
from typing import Any

from audit.model import NUMBER, POINT_FIELDS
from audit.sheets import Sheet, text_of
from audit.units import is_unit
from plugins.ingest.cells import NOTHING, has_value
from plugins.ingest.columns import At, Column, make_columns, remark_unused, settle_doubles, understand, unreadable_state
from plugins.ingest.headings import DOCUMENT, READING, STATE, UNCERTAINTY, UNKNOWN, Meaning, resolve
from plugins.ingest.notebook import Notebook, plain, where
from plugins.ingest.spectra import Spectra, misorder, refuse_order, wavelength_run

# Rows that sum up others are no unit's measurement.
SUMMARIES = frozenset({"average", "avg", "mean", "median", "min", "minimum", "max", "maximum", "sd", "s.d.", "std",
                       "std dev", "std. dev.", "stdev", "standard deviation", "sum", "total", "spread",
                       "range"})  # fmt: skip
# A measured case temperature is also the state in which the rest of its row was measured.
ALSO_STATE = {"case_temperature": "case_C"}
CORRECT = "correct the cell, or leave it blank if there is no value"


class Unreadable(Exception):
    """A row whose operating point can't be read: column and reason."""

    def __init__(self, column: Column, why: str):
        super().__init__(why)
        self.column, self.why = column, why


def read_table(notebook: Notebook, sheet: Sheet, header: int, defaults: Mapping[str, Any]) -> None:
    """Read one sheet; `header` is the index of its heading row, `defaults` the state stated above it."""
    headings = sheet.rows[header]
    meanings = understand(headings)
    unknown = [found.role == UNKNOWN for found in meanings]
    run = wavelength_run([text if free else "" for text, free in zip(headings, unknown, strict=True)])
    meanings, first = with_unit_row(sheet, header, meanings)
    rows = list(_data_rows(notebook, sheet, first, len(headings)))
    heads = [(index, text_of(headings[index]), meaning) for index, meaning in enumerate(meanings) if index not in run]
    columns = make_columns(
        heads,
        lambda index: sheet.column(index, rows),
        lambda index, item: notebook.shown_as_per_cent(sheet, rows[item], index),
    )
    settle_doubles(columns, notebook, sheet, lambda column: (header, column.index))
    remark_unused(columns, notebook, sheet, lambda column: (header, column.index))
    read_document(columns, notebook, sheet, rows)
    if blocked := unreadable_state(columns):
        notebook.remark(
            "rows_not_read",
            "major",
            f"no row of this sheet is used, because the column '{blocked.heading}' says in which state they were"
            " measured and can't be read",
            "mend that column's heading or its cells",
            subject=blocked.heading,
            place=where(sheet, header, blocked.index),
        )
        return
    points = _read_rows(notebook, sheet, rows, columns, defaults, bool(run))
    if run:
        _read_spectra(notebook, sheet, header, run, points)


def with_unit_row(sheet: Sheet, header: int, meanings: list[Meaning]) -> tuple[list[Meaning], int]:
    """Return the meanings with the units of a row of units below the headings, if any, and where the data begin."""
    below = [text_of(cell) for cell in sheet.rows[header + 1]] if header + 1 < len(sheet.rows) else []
    units = [text.strip("[]() ") for text in below]
    stated = [unit for unit in units if unit not in ("", "1", "-", "–")]
    if not stated or not all(is_unit(unit) for unit in stated):
        return meanings, header + 1
    headings = [text_of(cell) for cell in sheet.rows[header]]
    units += [""] * (len(headings) - len(units))
    return [
        resolve(f"{heading} [{unit}]")
        if unit and not meaning.spelled_unit and (meaning.number or meaning.targets)
        else meaning
        for heading, unit, meaning in zip(headings, units, meanings, strict=False)
    ], header + 2


def _data_rows(notebook: Notebook, sheet: Sheet, first: int, width: int) -> Iterator[int]:
    for row in range(first, len(sheet.rows)):
        cells = sheet.rows[row]
        if len(cells) > width and any(has_value(cell) for cell in cells[width:]):
            notebook.remark(
                "row_not_read",
                "major",
                "a row has more cells than the table has headings, so its cells may stand under wrong headings",
                "put quotes around text with the separating mark in it, or give every column a heading",
                place=where(sheet, row),
            )
        elif any(text_of(cell) for cell in cells[:3]) or any(text_of(cell) for cell in cells):
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
    sheet: Sheet,
    rows: Sequence[int],
    columns: Sequence[Column],
    defaults: Mapping[str, Any],
    spectral: bool,
) -> list[tuple[int, int]]:
    """Record the readings of every row that states its point; return (row, point) of those rows."""
    states = [column for column in columns if column.meaning.role == STATE]
    readings = [column for column in columns if column.meaning.role == READING]
    uncertainties = {column.meaning.target: column for column in columns if column.meaning.role == UNCERTAINTY}
    extra = _also_states(states, readings)
    points = []
    for item, row in enumerate(rows):
        try:
            fields = state(notebook, states + extra, item)
        except Unreadable as problem:
            message = f"a row isn't used, because its state can't be read: {problem.why}"
            place = where(sheet, row, problem.column.index)
            notebook.remark("row_not_read", "major", message, CORRECT, subject=problem.column.heading, place=place)
            continue
        if plain(str(fields.get("serial", ""))) in SUMMARIES:
            message = f"a row named '{fields['serial']}' sums up others and isn't read as a unit"
            notebook.remark("summary_row", "note", message, "nothing, if it's no unit's name", place=where(sheet, row))
            continue
        if not spectral and all(column.numbers[item] is NOTHING for column in readings):
            _no_value(notebook, sheet, row)
            continue
        point = notebook.recorder.point(**{**defaults, **fields})
        points.append((row, point))
        record(notebook, sheet, readings, uncertainties, item, point, partial(_in_row, row))
    return points


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
        elif has_value(cell):
            try:
                fields[target] = notebook.test_object(text_of(cell)) if target == "test_object" else text_of(cell)
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
        found, (row, index) = column.numbers[item], at(column)
        if found.problem:
            _not_a_number(notebook, column, found.problem, where(sheet, row, index))
        elif not math.isnan(found.value):
            notebook.recorder.reading(
                point,
                column.meaning.target,
                found.value,
                notebook.place(sheet, row, index, text_of(column.cells[item])),
                expanded_uncertainty=_expanded(notebook, sheet, uncertainties, column, item, at),
                resolution=column.resolution,
                definition=column.meaning.definition,
            )


def _not_a_number(notebook: Notebook, column: Column, problem: str, place: str) -> None:
    message = f"under '{column.heading}' {problem}"
    notebook.remark("cell_not_a_number", "major", message, CORRECT, subject=column.meaning.target, place=place)


def _expanded(
    notebook: Notebook, sheet: Sheet, uncertainties: Mapping[str, Column], reading: Column, item: int, at: At
) -> float:
    """Return the expanded uncertainty (k = 2) stated for a reading, NaN where none is."""
    column = uncertainties.get(reading.meaning.target)
    if column is None:
        return math.nan
    found = column.numbers[item]
    if found.problem or found.value <= 0:
        problem = found.problem or f"the uncertainty '{text_of(column.cells[item])}' isn't above zero"
        _not_a_number(notebook, column, problem, where(sheet, *at(column)))
        return math.nan
    scale = abs(reading.numbers[item].value) / 100 if column.meaning.relative else 1.0
    return found.value * scale * 2.0 / column.meaning.coverage


def _read_spectra(
    notebook: Notebook, sheet: Sheet, header: int, run: Mapping[int, float], points: Sequence[tuple[int, int]]
) -> None:
    indices = list(run)
    if wrong := misorder(list(run.values())):
        refuse_order(notebook, sheet, (header, indices[wrong - 1]), (header, indices[wrong]))
        return
    spectra = Spectra(notebook, sheet, list(run.values()))
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


def _cell_of(row: int, indices: Sequence[int], item: int) -> tuple[int, int]:
    return row, indices[item]
