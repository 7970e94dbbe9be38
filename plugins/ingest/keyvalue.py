"""Keys and values, a pair per line: exports of spectroradiometers, and the lines above a table.

An export states its metrics and, in lines of their own, a value per wavelength. Two blocks of different step
are two spectra of one measurement and are kept apart. Model and serial in an export are the instrument's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from audit.sheets import Sheet, text_of
from audit.units import is_unit
from plugins.ingest.cells import has_value
from plugins.ingest.columns import At, Column, make_columns, remark_unused, settle_doubles, understand, unreadable_state
from plugins.ingest.headings import DOCUMENT, EXPORT, READING, REPORT, STATE, UNCERTAINTY, UNKNOWN
from plugins.ingest.notebook import Notebook, where
from plugins.ingest.spectra import FEWEST, Spectra, misorder, refuse_order, wavelength_of
from plugins.ingest.table import Unreadable, record, state

FEWEST_KEYS = 3  # different ones, and half of all: prose has colons too
VALUE = 1  # values stand in the second column


class Pair(NamedTuple):
    """A key and its value, with the row and column where the value stands."""

    row: int
    key: str
    value: Any
    column: int = VALUE


@dataclass
class Lines:
    """The lines of a sheet by what they are: keys with values, spectral blocks, tables of more columns."""

    pairs: list[Pair] = field(default_factory=list)
    blocks: list[list[tuple[int, float]]] = field(default_factory=list)  # (row, wavelength)
    tables: list[list[int]] = field(default_factory=list)


def sort_lines(sheet: Sheet, rows: Sequence[int]) -> Lines:
    """Return the lines of these rows by kind. A blank or another line, or a new start, ends a spectral block."""
    lines, last = Lines(), -2
    for row in rows:
        cells = [text_of(cell) for cell in sheet.rows[row]]
        filled = sum(1 for cell in cells if cell)
        if not filled:
            continue
        key, wavelength = cells[0], wavelength_of(cells[0])
        if wavelength is not None and len(cells) > VALUE:
            if last != row - 1 or lines.blocks[-1][0][1] == wavelength:
                lines.blocks.append([])
            lines.blocks[-1].append((row, wavelength))
            last = row
        elif filled > 2 and not (filled == 3 and len(cells) > 2 and is_unit(cells[2])):
            if not lines.tables or lines.tables[-1][-1] != row - 1:
                lines.tables.append([])
            lines.tables[-1].append(row)
        elif len(cells) > VALUE and filled > 1:
            unit = f" [{cells[2]}]" if filled == 3 else ""
            lines.pairs.append(Pair(row, key + unit, sheet.rows[row][VALUE]))
        elif ":" in key:  # both in one cell
            key, _, value = key.partition(":")
            lines.pairs.append(Pair(row, key.strip(), value.strip(), 0))
        elif len(cells) > VALUE:
            lines.pairs.append(Pair(row, key, ""))
    short = [row for block in lines.blocks if len(block) < FEWEST for row, _ in block]
    lines.blocks = [block for block in lines.blocks if len(block) >= FEWEST]
    lines.pairs += [Pair(row, text_of(sheet.rows[row][0]), sheet.rows[row][VALUE]) for row in short]
    return lines


def is_keyvalue(sheet: Sheet) -> bool:
    """Whether the first column holds keys that are known here, or a spectrum's wavelengths after some keys."""
    lines = sort_lines(sheet, range(min(len(sheet.rows), 1000)))
    meanings = understand([pair.key for pair in lines.pairs], EXPORT)
    known = [(meaning.role, meaning.target, meaning.candidates) for meaning in meanings if meaning.role != UNKNOWN]
    enough = len(set(known)) >= FEWEST_KEYS and len(known) >= len(meanings) / 2
    return enough or (bool(known) and bool(lines.blocks))


def read_keyvalue(notebook: Notebook, sheet: Sheet, rows: Sequence[int], export: bool) -> dict[str, Any] | None:
    """Read pairs and spectra of these rows; return the state they give, None if it's stated but can't be read.

    `export`: an instrument wrote the lines. Otherwise they stand above a table, whose rows share their state.
    """
    lines = sort_lines(sheet, rows)
    layout = EXPORT if export or lines.blocks else REPORT
    pairs = {pair.row: pair for pair in lines.pairs}
    meanings = understand([pair.key for pair in pairs.values()], layout)
    columns = make_columns(
        [(pair.row, pair.key, meaning) for pair, meaning in zip(pairs.values(), meanings, strict=True)],
        lambda row: [pairs[row].value],
        lambda row, _: notebook.shown_as_per_cent(sheet, row, pairs[row].column),
    )

    def at(column: Column) -> tuple[int, int]:
        return column.index, pairs[column.index].column

    settle_doubles(columns, notebook, sheet, at)
    remark_unused(columns, notebook, sheet, at)
    for column in columns:
        if column.meaning.role == DOCUMENT and has_value(column.cells[0]):
            notebook.document(column.meaning.target, column.cells[0], sheet, *at(column))
    for table in lines.tables:
        first = text_of(next(filter(has_value, sheet.rows[table[0]]), ""))
        notebook.listed(f"'{first}'", f"a table of {len(table)} lines", where(sheet, table[0]))
    fields = _state(notebook, sheet, columns, at)
    if fields is not None and (lines.blocks or any(column.meaning.role == READING for column in columns)):
        point = notebook.recorder.point(**fields)
        readings = [column for column in columns if column.meaning.role == READING]
        uncertainties = {column.meaning.target: column for column in columns if column.meaning.role == UNCERTAINTY}
        record(notebook, sheet, readings, uncertainties, 0, point, at)
        for block in lines.blocks:
            _read_block(notebook, sheet, block, point)
    return fields


def _state(notebook: Notebook, sheet: Sheet, columns: Sequence[Column], at: At) -> dict[str, Any] | None:
    blocked = unreadable_state(columns)
    why = blocked.meaning.why if blocked else ""
    if not blocked:
        try:
            return state(notebook, [column for column in columns if column.meaning.role == STATE], 0)
        except Unreadable as problem:
            blocked, why = problem.column, problem.why
    notebook.remark(
        "rows_not_read",
        "major",
        f"nothing measured here is used, because '{blocked.heading}' says in which state it was measured and can't"
        f" be read: {why}",
        "mend that key or its value",
        subject=blocked.heading,
        place=where(sheet, *at(blocked)),
    )
    return None


def _read_block(notebook: Notebook, sheet: Sheet, block: Sequence[tuple[int, float]], point: int) -> None:
    wavelengths = [wavelength for _, wavelength in block]
    if wrong := misorder(wavelengths):
        refuse_order(notebook, sheet, (block[wrong - 1][0], 0), (block[wrong][0], 0))
        return
    spectra = Spectra(notebook, sheet, wavelengths)
    spectra.add([sheet.cell(row, VALUE) for row, _ in block], lambda item: (block[item][0], VALUE), point)
    spectra.keep()


def key_rows(sheet: Sheet, stop: int) -> Iterator[int]:
    """Yield the rows above a table that aren't blank."""
    yield from (row for row in range(stop) if any(has_value(cell) for cell in sheet.rows[row]))
