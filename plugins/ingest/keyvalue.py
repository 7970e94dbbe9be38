"""Keys and values, a pair per line: exports of spectroradiometers, and the lines above a table.

An export states its metrics and, in lines of their own, a value per wavelength. Two blocks of different step
are two spectra of one measurement and are kept apart. Model and serial in an export are the instrument's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from audit.answers import IGNORE, answer_line, question, used_by
from audit.numbers import parse_number
from audit.sheets import Sheet, text_of
from audit.units import is_unit
from plugins.ingest.cells import has_value
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
from plugins.ingest.headings import DOCUMENT, EXPORT, REPORT, STATE, UNKNOWN, resolve
from plugins.ingest.kinds import UNCERTAIN_END, ends_uncertain, known, numeric
from plugins.ingest.labels import PREFIX, SETTING_HEADS, label_of, title_fields
from plugins.ingest.measured import State, Unreadable, fields_at, readings_of, record, remark_faults
from plugins.ingest.metadata import STATE_KEYS
from plugins.ingest.notebook import Notebook, clip, where
from plugins.ingest.phrases import without_designations
from plugins.ingest.reshape import field_heading, qualified
from plugins.ingest.spectra import FEWEST, Spectra, misorder, refuse_order, wavelength_of

FEWEST_KEYS = 3  # different ones, and half of all: prose has colons too
VALUE = 1  # values stand in the second column
NOTHING_STATED: Mapping[str, Any] = {}


class Pair(NamedTuple):
    """A key and its value, with the row and column where the value stands."""

    row: int
    key: str
    value: Any
    column: int = VALUE
    words: str = ""  # the key without the operating point that it names


@dataclass
class Lines:
    """The lines of a sheet by what they are: keys with values, spectral blocks, tables of more columns, texts."""

    pairs: list[Pair] = field(default_factory=list)
    blocks: list[list[tuple[int, float]]] = field(default_factory=list)  # (row, wavelength)
    tables: list[list[int]] = field(default_factory=list)
    free: list[int] = field(default_factory=list)  # one cell without a key: a title, a laboratory's name


def sort_lines(sheet: Sheet, rows: Sequence[int]) -> Lines:
    """Return the lines of these rows by kind. A blank or another line, or a new start, ends a spectral block."""
    lines, last = Lines(), -2
    for row in rows:
        wavelength = wavelength_of(sheet.rows[row][0]) if len(sheet.rows[row]) > VALUE else None
        if wavelength is not None:
            if last != row - 1 or lines.blocks[-1][0][1] == wavelength:
                lines.blocks.append([])
            lines.blocks[-1].append((row, wavelength))
            last = row
            continue
        cells = [text_of(cell) for cell in sheet.rows[row]]
        filled = [index for index, text in enumerate(cells) if text]
        if not filled:
            continue
        if all(titles_state(cells[at]) for at in filled) and not (len(filled) == 1 and _keyed(cells[filled[0]])):
            lines.free.append(row)
        elif len(filled) == 1:
            _lone(lines, row, filled[0], cells)
        elif (
            len(filled) == 2
            and cells[filled[0]].casefold() in SETTING_HEADS
            and (label := label_of(cells[filled[1]])).whole
        ):
            lines.pairs += [Pair(row, field_heading(name), value, filled[1]) for name, value in label.fields.items()]
        elif ends_uncertain([cells[at] for at in filled]):
            lines.pairs += _uncertain(sheet, row, cells, filled)
        elif (len(filled) == 3 and is_unit(cells[filled[2]])) or len(filled) == 2:
            unit = f" [{cells[filled[2]]}]" if len(filled) == 3 else ""
            value = sheet.rows[row][filled[1]]
            lines.pairs.append(Pair(row, cells[filled[0]].rstrip(": ") + unit, value, filled[1]))
        elif pairs := _several(sheet, row, cells, filled):
            lines.pairs += pairs
        else:
            if not lines.tables or lines.tables[-1][-1] != row - 1:
                lines.tables.append([])
            lines.tables[-1].append(row)
    short = [row for block in lines.blocks if len(block) < FEWEST for row, _ in block]
    lines.blocks = [block for block in lines.blocks if len(block) >= FEWEST]
    lines.pairs += [Pair(row, text_of(sheet.rows[row][0]), sheet.rows[row][VALUE]) for row in short]
    return lines


def titles_state(text: str) -> bool:
    """Whether a text states settings and nothing else: it titles a table; the ambient is said of a whole document."""
    label = label_of(text)
    return label.whole and "ambient_C" not in label.fields


def _keyed(text: str) -> bool:
    """Whether a title that states one setting is a key with its value: Level: 100 %."""
    fields = label_of(text).fields
    return len(fields) == 1 and "serial" not in fields and known(text.partition(":")[0].strip()) and ":" in text


def _lone(lines: Lines, row: int, index: int, cells: Sequence[str]) -> None:
    """Sort a line with one cell: key and value in it, a key without a value, or free text."""
    mark = without_designations(cells[index]).find(":")
    key, value = cells[index][: max(mark, 0)], cells[index][mark + 1 :]
    if mark >= 0 and (known(key.strip()) or not (title_fields(cells[index]) or PREFIX.match(cells[index]))):
        lines.pairs.append(Pair(row, key.strip(), value.strip(), index))
        return
    lines.free.append(row)
    if index == 0 and len(cells) > VALUE and resolve(cells[0] if mark < 0 else key).role != UNKNOWN:
        lines.pairs.append(Pair(row, cells[0] if mark < 0 else key, ""))


def _uncertain(sheet: Sheet, row: int, cells: Sequence[str], filled: Sequence[int]) -> list[Pair]:
    """Return a key with its value, and the uncertainty that stands at the line's end (U = 2.1 %)."""
    stated = UNCERTAIN_END.fullmatch(cells[filled[-1]])
    assert stated
    key, unit = cells[filled[0]].rstrip(": "), cells[filled[2]] if len(filled) == 4 else ""
    own = stated["unit"] or unit
    coverage = f" (k={stated['k']})" if stated["k"] else ""
    return [
        Pair(row, f"{key} [{unit}]" if unit else key, sheet.rows[row][filled[1]], filled[1]),
        Pair(row, f"U({key}){coverage}" + (f" [{own}]" if own else ""), stated["value"], filled[-1]),
    ]


def _several(sheet: Sheet, row: int, cells: Sequence[str], filled: Sequence[int]) -> list[Pair]:
    """Return the pairs of a line with several: key, value, key, value, the keys known or ending in a colon."""
    keys, values = filled[::2], filled[1::2]
    if len(keys) != len(values) or not all(known(cells[at].rstrip(": ")) or cells[at].endswith(":") for at in keys):
        return []
    if any(known(cells[at]) and not is_unit(cells[at]) for at in values):
        return []
    return [Pair(row, cells[at].rstrip(": "), sheet.rows[row][to], to) for at, to in zip(keys, values, strict=True)]


def is_keyvalue(sheet: Sheet) -> bool:
    """Whether the first column holds keys that are known here, or a spectrum's wavelengths after some keys."""
    lines = sort_lines(sheet, range(min(len(sheet.rows), 1000)))
    meanings = understand([found[1] if (found := qualified(pair.key)) else pair.key for pair in lines.pairs], EXPORT)
    known = [
        (meaning.role, meaning.target, meaning.candidates, str(label_of(pair.key).fields))
        for pair, meaning in zip(lines.pairs, meanings, strict=True)
        if meaning.role != UNKNOWN
    ]
    enough = len(set(known)) >= FEWEST_KEYS and len(known) >= len(meanings) / 2
    return enough or (bool(known) and bool(lines.blocks))


def read_keyvalue(
    notebook: Notebook, sheet: Sheet, rows: Sequence[int], export: bool, stated: Mapping[str, Any] = NOTHING_STATED
) -> dict[str, Any] | None:
    """Read pairs and spectra of these rows; return the state they give, None if it's stated but can't be read.

    `export`: an instrument wrote the lines. Otherwise they stand above a table, whose rows share their state.
    """
    lines = sort_lines(sheet, rows)
    layout = EXPORT if export or lines.blocks else REPORT
    groups: dict[tuple[tuple[str, Any], ...], list[Pair]] = {(): []}
    for pair in lines.pairs:
        found = qualified(pair.key)  # Lumen maintenance at 2,000 h
        point = tuple(found[0].items()) if found else ()
        groups.setdefault(point, []).append(pair._replace(words=found[1]) if found else pair)
    columns, at = _columns(notebook, sheet, groups.pop(()), layout)
    for column in columns:
        target = column.meaning.target
        key = target if column.meaning.role == DOCUMENT else STATE_KEYS.get(target, "")
        if key and column.meaning.role in (DOCUMENT, STATE) and has_value(column.cells[0]):
            notebook.document(key, _with_unit(column), sheet, *at(column))
    for row in lines.free:
        for index, cell in enumerate(sheet.rows[row]):
            notebook.free(cell, sheet, row, index)
    for table in lines.tables:
        first = text_of(next(filter(has_value, sheet.rows[table[0]]), ""))
        notebook.listed(f"'{first}'", f"a table of {len(table)} lines", where(sheet, table[0]))
    fields = _state(notebook, sheet, columns, at)
    if fields is not None:
        _record(notebook, sheet, columns, at, dict(stated) | fields, lines.blocks)
        for point, pairs in groups.items():
            _record(notebook, sheet, *_columns(notebook, sheet, pairs, layout), dict(stated) | fields | dict(point), [])
    return fields


def _columns(notebook: Notebook, sheet: Sheet, pairs: Sequence[Pair], layout: str) -> tuple[list[Column], At]:
    """Return pairs of keys and values as columns of one cell, and what leads to the value's place."""
    answers = notebook.recorder.document.answers
    texts = [pair.key if used_by(answers, pair.key) else pair.words or pair.key for pair in pairs]
    meanings = understand(texts, layout, answers)
    columns = make_columns(
        [(index, pair.key, meaning) for index, (pair, meaning) in enumerate(zip(pairs, meanings, strict=True))],
        lambda index: [pairs[index].value],
        lambda index, _: notebook.shown_as_per_cent(sheet, pairs[index].row, pairs[index].column),
        answers,
    )

    def at(column: Column) -> tuple[int, int]:
        return pairs[column.index].row, pairs[column.index].column

    settle_doubles(columns, notebook, sheet, at)
    apply_coverage(columns, notebook, sheet, at)
    remark_settled(columns, notebook, sheet, at)
    remark_unused(columns, notebook, sheet, at)
    return columns, at


def _record(
    notebook: Notebook,
    sheet: Sheet,
    columns: Sequence[Column],
    at: At,
    fields: Mapping[str, Any],
    blocks: Sequence[Sequence[tuple[int, float]]],
) -> None:
    """Record the readings and spectra of one operating point."""
    readings = readings_of(columns)
    if not readings and not blocks:
        return
    point = notebook.recorder.point(**fields)
    remark_faults(notebook, sheet, readings, 0, at)
    record(notebook, sheet, readings, np.array([0]), np.array([point]), at)
    for block in blocks:
        if beside := _beside(sheet, block):
            row = block[0][0]
            message = f"its spectra aren't read: nothing heads the {1 + len(beside)} columns beside the wavelengths"
            ask = "head each column with its unit's serial or its settings, and that of the wavelengths with 'nm'"
            place = where(sheet, row, beside[0])
            notebook.remark("spectrum_not_read", "major", message, ask, subject="spectrum", place=place)
        else:
            _read_block(notebook, sheet, block, point)


def _beside(sheet: Sheet, block: Sequence[tuple[int, float]]) -> list[int]:
    """Return the columns right of the values that hold numbers too: which of them is the spectrum nothing says."""
    width = max(len(sheet.rows[row]) for row, _ in block)
    return [at for at in range(VALUE + 1, width) if any(numeric(sheet.cell(row, at)) for row, _ in block)]


def _with_unit(column: Column) -> Any:
    """Return a value as the document prints it, with the unit that stands in its key."""
    bare = column.meaning.role == STATE and column.meaning.number and parse_number(column.cells[0])
    unit = column.meaning.spelled_unit or column.meaning.unit
    return f"{text_of(column.cells[0])} {unit}" if bare else column.cells[0]


def _state(notebook: Notebook, sheet: Sheet, columns: Sequence[Column], at: At) -> dict[str, Any] | None:
    blocked = unreadable_state(columns)
    why = blocked.meaning.why if blocked else ""
    if not blocked:
        try:
            return fields_at([State(notebook, column) for column in columns if column.meaning.role == STATE], 0)
        except Unreadable as problem:
            blocked, why = problem.column, problem.why
    choices = ("product", IGNORE) if blocked.meaning.target == "test_object" else (IGNORE,)
    lines = blocked.lines or [answer_line(blocked.heading, choice) for choice in choices]
    notebook.remark(
        "rows_not_read",
        "major",
        f"nothing measured here is used, because '{clip(blocked.heading)}' says in which state it was measured"
        f" and can't be read: {why}",
        f"mend that key or its value, or {question(notebook.recorder.document, lines)}",
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
