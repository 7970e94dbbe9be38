"""Spectra with a row per wavelength: a column per spectrum, or one column of values with the state beside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from audit.sheets import Sheet, text_of
from plugins.ingest.cells import as_numbers, decimal_comma, first_bad, has_value
from plugins.ingest.columns import Column, make_columns, remark_settled, remark_unused, understand
from plugins.ingest.coverage import apply_coverage
from plugins.ingest.headings import (
    AMBIGUOUS,
    COLUMN,
    DOCUMENT,
    READING,
    REFUSED,
    SPECTRAL,
    STATE,
    UNCERTAINTY,
    UNKNOWN,
    WAVELENGTH,
    Meaning,
    resolve,
)
from plugins.ingest.headless import WITHOUT_HEADING
from plugins.ingest.kinds import numeric, only_cell
from plugins.ingest.labels import is_summary, settings_of
from plugins.ingest.measured import State, Unreadable, fields_at
from plugins.ingest.notebook import MAX_EXAMPLES, MAX_LINES, Notebook, clip, some, where
from plugins.ingest.reshape import remark_summary
from plugins.ingest.spectra import Spectra, misorder, refuse_order, wavelength_of, wavelength_run
from plugins.ingest.spectral_words import doubt_of, is_power, without_counts
from plugins.ingest.table import heading_at, read_document
from plugins.ingest.titles import Stated, settle

NO_VALUES = (WAVELENGTH, STATE, DOCUMENT, READING)  # READING: Melanopic EDI beside a spectrum is no spectrum


def read_long(notebook: Notebook, sheet: Sheet, keys: Mapping[str, Any], stated: Sequence[Stated]) -> None:
    """Read a block with its headings in row 0; `keys` and `stated` give the state as for tables."""
    headings, answers = sheet.rows[0], notebook.recorder.document.answers
    meanings = understand(headings, COLUMN, answers)
    rows = [row for row in range(1, len(sheet.rows)) if any(text_of(cell) for cell in sheet.rows[row])]
    meanings = _axis_first(sheet, meanings, rows)
    rows = _without_footer(notebook, sheet, rows, meanings)
    columns = make_columns(
        [(index, text_of(headings[index]), meaning) for index, meaning in enumerate(meanings)],
        lambda index: sheet.column(index, rows),
        lambda index, item: notebook.shown_as_per_cent(sheet, rows[item], index),
        answers,
    )
    doubted = _without_doubtful(notebook, sheet, columns)
    remark_settled(columns, notebook, sheet, heading_at)
    read_document(columns, notebook, sheet, rows)
    axes = [column for column in columns if column.meaning.role == WAVELENGTH]
    values = _value_columns(columns)
    states = [column for column in columns if column.meaning.role == STATE]
    if doubted and not values:
        return
    if len(axes) > 1 or not values or (states and len(values) > 1):
        notebook.remark(
            "sheet_not_read",
            "major",
            "it has wavelengths, but which columns are the values of one spectrum can't be told",
            "give it one column of wavelengths and one column per spectrum, headed by the unit's serial",
            place=where(sheet, 0),
        )
        return
    used = {*values, *axes}
    rest = [column for column in columns if column not in used]
    for column in rest:
        if column.meaning.role == READING and any(has_value(cell) for cell in column.cells):
            notebook.unknown(column.heading, next(filter(has_value, column.cells)), where(sheet, 0, column.index))
    apply_coverage([column for column in rest if column.meaning.role != UNCERTAINTY], notebook, sheet, heading_at)
    remark_unused(rest, notebook, sheet, heading_at)
    defaults = settle(notebook, sheet, states, keys, _unstated(stated, values) if not states else stated)
    if defaults is None:
        return
    reader = _Long(notebook, sheet, rows, axes[0], defaults)
    if reader.sound():
        reader.read_grouped(values[0], states) if states else reader.read_columns(values)


def _axis_first(sheet: Sheet, meanings: list[Meaning], rows: Sequence[int]) -> list[Meaning]:
    """A heading that may mean wavelengths (λ), or none, does where they stand below and no other column has them."""
    if any(meaning.role == WAVELENGTH for meaning in meanings):
        return meanings
    for index, meaning in enumerate(meanings):
        may = "spd_wavelength" in meaning.targets or (index == 0 and not text_of(sheet.cell(0, 0)))
        if may and wavelength_run([sheet.cell(row, index) for row in rows[:50]]):
            return [*meanings[:index], resolve("wavelength [nm]"), *meanings[index + 1 :]]
    return meanings


def _without_footer(notebook: Notebook, sheet: Sheet, rows: list[int], meanings: Sequence[Meaning]) -> list[int]:
    """Leave out lines of text below the spectra; a row that has values needs its wavelength."""
    axis = next((index for index, meaning in enumerate(meanings) if meaning.role == WAVELENGTH), 0)
    while rows and not numeric(sheet.cell(rows[-1], axis)) and only_cell(sheet.rows[rows[-1]]) is not None:
        alone = only_cell(sheet.rows[rows[-1]]) or 0
        notebook.free(sheet.cell(rows[-1], alone), sheet, rows[-1], alone)
        rows = rows[:-1]
    return rows


def _unstated(stated: Sequence[Stated], values: Sequence[Column]) -> list[Stated]:
    """Leave out what every heading of a spectrum states itself."""
    own = [settings_of(column.heading)[0] for column in values if column.meaning.role == UNKNOWN]
    return [each for each in stated if not own or not all(each.field in fields for fields in own)]


def _value_columns(columns: Sequence[Column]) -> list[Column]:
    """Return the columns of spectral values: by their heading, or those left with a name of their own."""
    filled = [column for column in columns if any(has_value(cell) for cell in column.cells)]
    states = any(column.meaning.role == STATE for column in filled)
    for roles in ((SPECTRAL,) if states else (SPECTRAL, UNKNOWN), (UNKNOWN, READING, AMBIGUOUS)):
        found = [column for column in filled if column.meaning.role in roles]
        light = [each for each in found if each.meaning.role in (SPECTRAL, UNKNOWN) or is_power(each.heading)]
        if light:
            return light
    return []


def _without_doubtful(notebook: Notebook, sheet: Sheet, columns: Sequence[Column]) -> bool:
    """Refuse the columns whose headings say counts, photons or a weighting; return whether there are any.

    Beside a spectrum of light such a column takes nothing away, and the word is a minor one.
    """
    filled = [column for column in columns if column.meaning.role not in NO_VALUES and column.example is not None]
    doubts = {column.index: doubt_of(column.heading) for column in filled if not column.meaning.answer}
    tier = "minor" if any(each.meaning.role == SPECTRAL and not doubts.get(each.index) for each in filled) else "major"
    for doubt in dict.fromkeys(filter(None, doubts.values())):
        doubtful = [column for column in filled if doubts.get(column.index) == doubt]
        shown = some([f"'{clip(column.heading)}'" for column in doubtful])
        message = f"the values under {shown} aren't read: {doubt}"
        ask = doubt.remedy(notebook.recorder.document, [column.heading for column in doubtful[:MAX_LINES]])
        place = "; ".join(where(sheet, 0, column.index) for column in doubtful[:MAX_EXAMPLES])
        notebook.remark(doubt.rule, tier, message, ask, subject="spectrum", place=place)
        for column in doubtful:
            column.meaning = replace(column.meaning, role=REFUSED, why="")
    return any(doubts.values())


def _filled(cells: Sequence[Any]) -> range:
    """Return the run from the first to the last cell with a value: a shorter spectrum leaves the ends blank."""
    first, last = 0, len(cells)
    while not has_value(cells[first]):
        first += 1
    while not has_value(cells[last - 1]):
        last -= 1
    return range(first, last)


class _Long:
    """The rows of one sheet with their wavelengths; spectra on one grid are gathered before they are kept."""

    def __init__(
        self, notebook: Notebook, sheet: Sheet, rows: Sequence[int], axis: Column, defaults: Mapping[str, Any]
    ):
        self.notebook, self.sheet, self.rows, self.axis, self.defaults = notebook, sheet, rows, axis, defaults
        self.wavelengths = np.empty(0)
        self.values: Sequence[Column] = ()
        self.comma = False  # whether the wavelengths have a decimal comma
        self.blocks: dict[tuple[bytes, str], Spectra] = {}

    def sound(self) -> bool:
        """Whether every wavelength is a number; a hole in the wavelengths would be a resampling in silence."""
        values = as_numbers(self.axis.cells)
        if values is None and (run := [wavelength_of(cell) for cell in self.axis.cells]) and None not in run:
            values = np.array(run, dtype=np.float64)  # 380,000 is no thousand: there is no light of that wavelength
        if values is not None:
            self.comma = any(isinstance(cell, str) and "," in cell for cell in self.axis.cells)
            self.wavelengths = self.axis.meaning.conversion.factor * values
            return bool(values.size)
        bad = first_bad(self.axis.cells)
        self.notebook.remark(
            "spectrum_not_read",
            "major",
            f"its spectra aren't read: '{text_of(self.axis.cells[bad])[:40]}' stands where a wavelength should",
            "give each row its wavelength, and put remarks and summaries on another sheet",
            subject="wavelengths",
            place=where(self.sheet, self.rows[bad], self.axis.index),
        )
        return False

    def _proven(self) -> str:
        """Return the decimal mark that the wavelengths or any of the spectra prove, "" where none does."""
        return "," if self.comma or any(decimal_comma(column.cells) for column in self.values) else ""

    def read_columns(self, values: Sequence[Column]) -> None:
        """A column per spectrum, its heading naming the unit or the settings."""
        self.values = values
        if not self._ordered(range(len(self.rows))):
            return
        alone = len(values) == 1 and values[0].meaning.role != UNKNOWN
        for column in values:
            fields, unit = settings_of(column.heading)
            if WITHOUT_HEADING.fullmatch(column.heading):
                # Its number says nothing of the unit: another document's second column is another unit's.
                name = self.notebook.recorder.document.path.rpartition("/")[2]
                fields, unit = {} if len(values) == 1 else {"serial": f"{column.heading} of {name}"}, ""
            elif column.meaning.answer and resolve(column.heading).role == UNKNOWN:
                fields = settings_of(without_counts(column.heading))[0]
            elif column.meaning.role == SPECTRAL or alone:
                fields, unit = {}, column.meaning.spelled_unit or unit
            if is_summary(str(fields.get("serial", ""))):
                remark_summary(self.notebook, column.heading, where(self.sheet, 0, column.index))
                continue
            self._add(column, _filled(column.cells), fields, unit)
        self._keep()

    def read_grouped(self, value: Column, states: Sequence[Column]) -> None:
        """One column of values; rows of one state make a spectrum."""
        self.values = [value]
        stated = [State(self.notebook, column) for column in states]
        for items in self._groups(states):
            try:
                fields = fields_at(stated, items[0])
            except Unreadable as problem:
                self.notebook.remark(
                    "spectrum_not_read",
                    "major",
                    f"a spectrum isn't used, because its state can't be read: {problem.why}",
                    "correct the cell, or leave it blank if nothing is stated",
                    subject=problem.column.heading,
                    place=where(self.sheet, self.rows[items[0]], problem.column.index),
                )
                continue
            if self._ordered(items):
                self._add(value, items, fields, value.meaning.spelled_unit)
        self._keep()

    def _groups(self, states: Sequence[Column]) -> Iterator[list[int]]:
        groups: dict[tuple[Any, ...], list[int]] = {}
        for item, cells in enumerate(zip(*(column.cells for column in states), strict=True)):
            groups.setdefault(cells, []).append(item)
        yield from groups.values()

    def _ordered(self, items: Sequence[int]) -> bool:
        wrong = misorder(self.wavelengths[list(items)])
        if wrong:
            before, at = ((self.rows[items[place]], self.axis.index) for place in (wrong - 1, wrong))
            refuse_order(self.notebook, self.sheet, before, at)
        return not wrong

    def _add(self, column: Column, items: Sequence[int], fields: dict[str, Any], unit: str) -> None:
        grid = self.wavelengths[list(items)]
        named = column.meaning.role != UNKNOWN
        key = (grid.tobytes(), unit)
        if key not in self.blocks:
            self.blocks[key] = Spectra(self.notebook, self.sheet, grid, unit, named, self._proven, self.comma)
        block = self.blocks[key]
        point = self.notebook.recorder.point(**(dict(self.defaults) | fields))
        block.add([column.cells[item] for item in items], lambda item: (self.rows[items[item]], column.index), point)

    def _keep(self) -> None:
        for block in self.blocks.values():
            block.keep()
