"""Tables of any shape laid out as one: headings on top, a row per measurement, every cell knowing where it stood.

A table on its side is laid down; one value per row (quantity, value, unit) becomes a column per quantity; hours,
settings and units in headings become columns of their own; so do those in the first cells of the rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audit.answers import used_by
from audit.sheets import Sheet, text_of, texts_of
from audit.units import is_unit
from plugins.ingest.blocks import Block, Region
from plugins.ingest.headings import (
    AMBIGUOUS,
    FIELD_UNITS,
    READING,
    SPECTRAL,
    STATE,
    UNCERTAINTY,
    UNKNOWN,
    resolve,
)
from plugins.ingest.heads import is_unit_row, with_unit
from plugins.ingest.kinds import numeric, tidy_columns
from plugins.ingest.labels import (
    CORNERS,
    MEASURED,
    START,
    UNIT_HEADINGS,
    claims,
    identifies,
    is_summary,
    label_of,
)
from plugins.ingest.notebook import Notebook, clip, where
from plugins.ingest.parts import EXPANDED, EXPANDED_RELATIVE, FACTOR, STANDARD, VALUE, Part, part

# A measured case temperature is also the state in which the rest of its row was measured.
ALSO_STATE = {"case_temperature": "case_C"}
At = tuple[int, int]


@dataclass
class Grid:
    """Cells of a block under construction, each with its place in the sheet."""

    name: str
    heads: list[tuple[str, At]] = field(default_factory=list)
    rows: list[list[tuple[Any, At]]] = field(default_factory=list)
    named: frozenset[str] = frozenset()

    def block(self) -> Block:
        places = np.array([[at for _, at in self.heads], *([at for _, at in row] for row in self.rows)])
        cells: list[list[Any]] = [[text for text, _ in self.heads], *([cell for cell, _ in row] for row in self.rows)]
        return Block(self.name, cells, (), lambda rows, columns: tuple(places[rows, columns].T), self.named)


def lay_down(notebook: Notebook, sheet: Sheet, region: Region) -> Block:
    """Turn a table with its quantities down the first column; a column of units goes into the headings."""
    rows = [row for row in (region.header, *region.body) if text_of(sheet.cell(row, 0))]
    blank = not text_of(sheet.cell(region.header, 0))
    rows = [region.header, *rows] if blank else rows
    columns = list(range(1, region.right))
    units = next((at for at in columns[:3] if _are_units(sheet, rows, at)), None)
    names = [text_of(sheet.cell(row, 0)) for row in rows]
    if units is not None:
        given = [text_of(sheet.cell(row, units)).strip("[](){} ") for row in rows]
        names = [names[0], *(with_unit(name, unit) for name, unit in zip(names[1:], given[1:], strict=True))]
        if resolve(text_of(sheet.cell(region.header, 0))).role == READING:
            names[0] = with_unit(names[0], given[0])
    measured = [row for row in rows if resolve(text_of(sheet.cell(row, 0))).role in (READING, SPECTRAL, UNKNOWN)]
    values = []
    for at in columns:
        cells = [cell for cell in sheet.column(at, measured) if text_of(cell)]
        if at != units and any(map(numeric, cells)):
            values.append(at)
        elif at != units and cells:
            notebook.listed(text_of(sheet.cell(region.header, at)), cells[0], where(sheet, region.header, at))
    cells = [names, *([sheet.cell(row, at) for row in rows] for at in values)]
    rows_at, columns_at = np.array(rows), np.array([0, *values])
    return Block(sheet.name, cells, (), lambda rows, columns: (rows_at[columns], columns_at[rows]))


def _are_units(sheet: Sheet, rows: Sequence[int], at: int) -> bool:
    texts = [text_of(cell) for cell in sheet.column(at, rows)]
    headed = texts[0].casefold() in UNIT_HEADINGS
    return is_unit_row(["", *(texts[1:] if headed or not is_unit(texts[0].strip("[]() ")) else texts)])


def labels_down(notebook: Notebook, block: Block, free: bool) -> Block:
    """Turn the labels in the first column (3000K 50%, unit 3) into columns of what they state.

    `free`: the labels head the columns of a table on its side, where a bare number or serial names the unit.
    """
    heading = text_of(block.rows[0][0]) if block.rows[0] else ""
    meaning, texts = resolve(heading), texts_of(block.column(0, range(1, len(block.rows))))
    filled = [label_of(text) for text in dict.fromkeys(texts) if text and not is_summary(text)]
    whole = bool(filled) and all(label.whole for label in filled)
    serial = meaning.target == "serial" and whole and not all(set(label.fields) == {"serial"} for label in filled)
    time = whole and meaning.role == AMBIGUOUS and all(set(label.fields) <= set(meaning.targets) for label in filled)
    corner = _is_corner(heading) or (free and meaning.role not in (STATE, READING, UNCERTAINTY, SPECTRAL))
    if not (serial or time or (corner and (free or whole))):
        return block
    grid, chosen = Grid(block.name, named=block.named), []
    for row, text in enumerate(texts, 1):
        fields = _label(notebook, block, row, text)
        if fields is not None:
            chosen.append((row, fields))
    names = list(dict.fromkeys(name for _, fields in chosen for name in fields))
    width = len(block.rows[0])
    grid.heads = [(field_heading(name), block.at(0, 0)) for name in names]
    grid.heads += [(block.rows[0][at], block.at(0, at)) for at in range(1, width)]
    for row, fields in chosen:
        line = [(fields.get(name, ""), block.at(row, 0)) for name in names]
        grid.rows.append(line + [(block.cell(row, at), block.at(row, at)) for at in range(1, width)])
    if not free:
        _taken(notebook, block, 0, 0, names, "the first cells of its rows")
    return grid.block()


def _is_corner(text: str) -> bool:
    return text.casefold() in CORNERS


def _label(notebook: Notebook, block: Block, row: int, text: str) -> dict[str, Any] | None:
    """Return what one label states, None where it marks no measurement (said) or can't be understood (asked)."""
    place = where(block, row, 0)
    if is_summary(text):
        remark_summary(notebook, text, place)
        return None
    label = label_of(text)
    if not text or text.casefold() in MEASURED:
        return {}
    if label.whole:
        return dict(label.fields)
    if claims(text):
        remark_claimed(notebook, text, place)
        return None
    if identifies(text):
        return {"serial": text}
    message = f"what '{text[:60]}' says of the values under it isn't known: they aren't used"
    ask = "head them with the unit's serial ('unit 3') or with the settings ('3000 K 50 %')"
    notebook.remark("label_unknown", "major", message, ask, subject=text[:60], place=place)
    return None


def remark_claimed(notebook: Notebook, text: str, place: str) -> None:
    """Say that rated values, limits and uncertainties are no unit's measurements."""
    why = f"'{clip(text)}' heads values that aren't measured ones: they aren't used"
    ask = "nothing, if they are rated values, limits or uncertainties"
    notebook.remark("values_not_measured", "minor", why, ask, subject=text, place=place)


def remark_summary(notebook: Notebook, text: str, place: str) -> None:
    """Say that a statistic of units is no unit."""
    message = f"'{clip(text)}' sums up others and isn't read as a unit"
    notebook.remark("summary_row", "note", message, "nothing, if it's no unit's name", subject=text, place=place)


def field_heading(name: str) -> str:
    """Return the heading of a column for an operating-point field, with its unit."""
    return f"{name} [{FIELD_UNITS[name]}]" if name in FIELD_UNITS else name


def _taken(notebook: Notebook, block: Block, row: int, column: int, names: Sequence[str], source: str) -> None:
    message = f"{', '.join(names)} of the values of a table are taken from {source}"
    place = where(block, row, column)
    notebook.remark("state_from_labels", "note", message, "nothing, if that is right", place=place)


def spread(notebook: Notebook, block: Block) -> Iterator[Block]:
    """Give each quantity of a table with one value per row a column of its own; one block for each choice of units.

    So do the uncertainties and coverage factors beside the values: U(CCT), k(CCT).
    """
    texts = [text_of(cell) for cell in block.rows[0]]
    name_at, value_at = tidy_columns(block, 0, texts) or (0, 0)
    body = range(1, len(block.rows))
    unit_at = next(
        (
            at
            for at, text in enumerate(texts)
            if text.casefold() in UNIT_HEADINGS and is_unit_row(["", *(text_of(block.cell(row, at)) for row in body)])
        ),
        None,
    )
    parts = {at: found for at, text in enumerate(texts) if at != name_at and (found := part(text))}
    parts = {value_at: parts.get(value_at, Part(VALUE))} | {
        at: found for at, found in parts.items() if found.kind in (FACTOR, EXPANDED, EXPANDED_RELATIVE, STANDARD)
    }
    others = [at for at in range(len(texts)) if at not in (name_at, unit_at, *parts)]
    for at in [at for at in others if claims(texts[at])]:
        remark_claimed(notebook, texts[at], where(block, 0, at))
        others.remove(at)
    units: dict[str, list[str]] = {}  # of each quantity, in the order in which they come
    groups: dict[int, list[tuple[int, str, str]]] = {}
    for row in body:
        name = text_of(block.cell(row, name_at))
        unit = text_of(block.cell(row, unit_at)).strip("[](){} ") if unit_at is not None else ""
        known = units.setdefault(name, [])
        known += [unit] if unit not in known else []
        groups.setdefault(known.index(unit), []).append((row, name, unit))
    for rows in groups.values():
        heads: dict[tuple[int, str], str] = {}  # column and quantity -> heading
        first: dict[tuple[int, str], At] = {}
        for row, name, unit in rows:
            for at, found in parts.items() if name else ():
                own = unit if not found.unit and found.kind not in (FACTOR, EXPANDED_RELATIVE) else found.unit
                joint = found.of(name) if resolve(name).role == READING or at == value_at else f"{name} {texts[at]}"
                heads.setdefault((at, name), with_unit(joint, own))
                first.setdefault((at, name), block.at(row, name_at))
        grid = Grid(block.name, [(texts[at], block.at(0, at)) for at in others])
        grid.heads += [(text, first[key]) for key, text in heads.items()]
        for row, own, _ in rows:
            line = [(block.cell(row, at), block.at(row, at)) for at in others]
            grid.rows.append(
                line + [(block.cell(row, at) if name == own else "", block.at(row, at)) for at, name in heads]
            )
        yield grid.block()


@dataclass(frozen=True)
class Layer:
    """Columns of one operating point that their headings name: heading without it -> column."""

    fields: Mapping[str, Any]
    columns: dict[str, int] = field(default_factory=dict)


def headings_apart(notebook: Notebook, block: Block) -> Block:
    """Turn hours, settings and units in headings (Flux @ 1000 h) into columns of their own."""
    texts = [text_of(cell) for cell in block.rows[0]]
    found = {at: part for at, text in enumerate(texts) if is_free(notebook, text) and (part := qualified(text))}
    words = [word for _, word, _ in found.values()]
    plain = {resolve(text).target for text in texts if text}
    kept = {
        at: (fields, word)
        for at, (fields, word, marked) in found.items()
        if marked or words.count(word) > 1 or (set(fields) == {"hours"} and resolve(word).target in plain)
    }
    if not kept:
        return block
    hours = {resolve(word).target: word for fields, word in kept.values() if "hours" in fields}
    for at, text in enumerate(texts):  # "Initial flux" beside "Flux 1000 h"
        first, _, rest = text.partition(" ")
        if at not in kept and first.casefold() in START and (word := hours.get(resolve(rest).target)):
            kept[at] = ({"hours": 0.0}, word)
    return layered(notebook, block, kept)


def is_free(notebook: Notebook, text: str) -> bool:
    """Whether a heading means nothing known as it stands, and columns.toml says nothing of it either."""
    return bool(text) and resolve(text).role == UNKNOWN and not used_by(notebook.recorder.document.answers, text)


def qualified(text: str) -> tuple[dict[str, Any], str, bool] | None:
    """Return the operating point that a heading names, the quantity beside it, and whether "at" or "@" leads to it."""
    if not text or resolve(text).role != UNKNOWN:
        return None
    label = label_of(text)
    measured = (READING, UNCERTAINTY, SPECTRAL, AMBIGUOUS)
    if label.fields and label.words and resolve(label.words).role in measured:
        return dict(label.fields), label.words, label.marked
    first, _, rest = text.partition(" ")
    if identifies(first) and resolve(rest).role in measured:
        return {"serial": first}, rest, False
    return None


def layered(notebook: Notebook, block: Block, kept: Mapping[int, tuple[dict[str, Any], str]]) -> Block:
    """Lay out a block whose columns (index -> fields, quantity) belong to several operating points."""
    texts = [text_of(cell) for cell in block.rows[0]]
    roles = {at: resolve(text) for at, text in enumerate(texts) if at not in kept}
    plain = [at for at, meaning in roles.items() if meaning.role in (READING, UNCERTAINTY)]
    common = [at for at in roles if at not in plain]
    layers: dict[tuple[tuple[str, Any], ...], Layer] = {}
    if plain:
        layers[()] = Layer({}, {texts[at]: at for at in plain})
    for at, (fields, word) in kept.items():
        layer = layers.setdefault(tuple(sorted(fields.items())), Layer(fields))
        twin = f"{word} " if word in layer.columns else word  # settle_doubles compares the two
        layer.columns[twin] = at
    names = list(dict.fromkeys(name for fields, _ in kept.values() for name in fields))
    also = {at: ALSO_STATE[roles[at].target] for at in plain if roles[at].target in ALSO_STATE}
    quantities = list(dict.fromkeys(word for layer in layers.values() for word in layer.columns))
    first = next(iter(kept))
    heads = [texts[at] for at in common] + [f"{name} [{roles[at].spelled_unit or '°C'}]" for at, name in also.items()]
    heads += [*map(field_heading, names), *quantities]
    shared, stack = [*common, *also], list(layers.values())
    first_of = {word: at for layer in reversed(stack) for word, at in layer.columns.items()}
    head_at = np.array([*shared, *[first] * len(names), *(first_of[word] for word in quantities)])
    stated = [[layer.fields.get(name, "") for name in names] for layer in stack]
    values_at = [[layer.columns.get(word) for word in quantities] for layer in stack]
    lines, cells = _lines(block, shared, values_at, stated)
    anchors = [next(iter(layer.columns.values())) for layer in stack]  # their headings name the operating points
    source_at = np.array(
        [
            [*shared, *[anchor] * len(names), *(layer.columns.get(word, anchor) for word in quantities)]
            for layer, anchor in zip(stack, anchors, strict=True)
        ]
    )
    named = np.arange(len(heads)) - len(shared)
    on_top = (named >= 0) & (named < len(names))

    def locate(rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        sources, numbers = lines[:, rows - 1]
        top = rows == 0
        return block.locate(
            np.where(top | on_top[columns], 0, sources), np.where(top, head_at[columns], source_at[numbers, columns])
        )

    _taken(notebook, block, 0, first, names, "its headings")
    return Block(block.name, [heads, *cells], (), locate, frozenset(names))


def _lines(
    block: Block, shared: Sequence[int], values_at: Sequence[Sequence[int | None]], stated: Sequence[Sequence[Any]]
) -> tuple[np.ndarray, list[list[Any]]]:
    """Return the rows of a block taken apart: (row of the block, number of the layer) (2, n), and their cells.

    A layer gives a line where any of its cells has text; a row without any gives one of the first.
    """
    rows = range(1, len(block.rows))
    cells = np.full((len(rows), len(stated), len(shared) + len(stated[0]) + len(values_at[0])), "", object)
    filled = np.zeros(cells.shape[:2], bool)
    for index, beside in enumerate(shared):
        cells[:, :, index] = np.array(block.column(beside, rows), object)[:, np.newaxis]
    cells[:, :, len(shared) : len(shared) + len(stated[0])] = np.array(stated, object)
    for number, own in enumerate(values_at):
        for index, at in enumerate(own, len(shared) + len(stated[0])):
            if at is not None:
                column = block.column(at, rows)
                cells[:, number, index] = column
                filled[:, number] |= list(map(bool, texts_of(column)))
    filled[~filled.any(axis=1), 0] = True
    rows_of, layers_of = np.nonzero(filled)
    return np.array([rows_of + 1, layers_of]), cells[filled].tolist()
