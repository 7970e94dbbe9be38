"""The tables of a sheet: where each begins and ends, its headings in one row, and the way back to the sheet's cells.

A sheet may hold several tables, one below the other or side by side, with titles and keys above them, headings in two
rows, units below, page marks and the headings again in between. Each becomes a `Region`, and from that a `Block`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from audit.numbers import parse_number
from audit.sheets import Sheet, text_of
from plugins.ingest import kinds
from plugins.ingest.columns import NO_ANSWERS, understand
from plugins.ingest.headings import COLUMN, STATE, UNKNOWN, WAVELENGTH, Meaning, resolve
from plugins.ingest.heads import head_rows, join_heads
from plugins.ingest.kinds import ACROSS, numeric, only_cell, texts_of
from plugins.ingest.labels import is_summary, label_of, quantities, title_fields

PAGE_MARK = re.compile(
    r"\W*(?:page|seite|sheet|blatt|pagina|página|pág\.?|p\.)\s*\d+(?:\s*(?:of|/|von|de|di|van|sur)\s*\d+)?\W*|"
    r"\d+\s*/\s*\d+|end of (?:report|table|data|page)\W*|continued\W*|.{0,40}\bcontinued (?:on|from)\b.{0,40}|"
    r"(?:begin|end)_data(?:_format)?|number_of_(?:sets|fields)\W+\d+|第\s*\d+\s*页.*",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Block(Sheet):
    """A table with its headings in row 0 and a measurement in each row.

    `locate` leads to the sheet's own cells: rows and columns (n,) to rows and columns.
    """

    locate: Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]] = lambda rows, columns: (rows, columns)
    named: frozenset[str] = frozenset()  # fields that some of its headings named, blank where the others didn't

    def at(self, row: int, column: int) -> tuple[int, int]:
        rows, columns = self.locate(np.array([row]), np.array([column]))
        return int(rows[0]), int(columns[0])

    def places(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return self.locate(rows, columns)


@dataclass
class Region:
    """Where one table stands: rows of headings, rows of its body, columns, and the rows above with titles and keys."""

    kind: str
    header: int  # the row whose headings made it a table
    heads: list[int]  # all rows of headings, units included
    body: list[int]
    left: int
    right: int  # exclusive
    above: list[int] = field(default_factory=list)
    titles: list[tuple[int, int]] = field(default_factory=list)  # cells inside the body that title the rows below
    states: dict[int, Meaning] = field(default_factory=dict)  # rows above spectra, and what they state of each column
    grouped: list[int] = field(default_factory=list)  # those whose cells reach over blank ones at their right


def find_regions(sheet: Sheet, answers: Mapping[str, str] = NO_ANSWERS) -> Iterator[Region]:
    """Yield the tables of a sheet from top to bottom, and from left to right where they stand side by side.

    `answers`: headings that columns.toml explains are known ones.
    """
    row, end = 0, 0
    while row < len(sheet.rows):
        kind = kinds.kind_at(sheet, row, answers)
        if not kind:
            row += 1
            if row - end > kinds.HEADER_WITHIN:
                return
            continue
        region = _region(sheet, row, kind, end, answers)
        for part in _parts(sheet, region):
            yield from _segments(sheet, part)
        row = end = (region.body or region.heads)[-1] + 1


def _region(sheet: Sheet, row: int, kind: str, floor: int, answers: Mapping[str, str]) -> Region:
    heads = [row] if kind == ACROSS else head_rows(sheet, row, floor, spectral=kind == kinds.LONG)
    states = _states_above(sheet, row, floor, answers) if kind == kinds.LONG else {}
    grouped = [number for number in heads if number in states]  # a state over several columns, not a part of a heading
    heads = [number for number in heads if number not in states]
    above = [row for row in range(floor, min([*heads, *states])) if not only_blank(sheet.rows[row])]
    width = max(len(sheet.rows[number]) for number in [*heads, *states])
    region = Region(kind, row, heads, [], 0, width, above, states=states, grouped=grouped)
    region.body = _body(sheet, region, answers)
    if kind == ACROSS:
        region.right = max(len(sheet.rows[number]) for number in [row, *region.body])
    return region


def _states_above(sheet: Sheet, row: int, floor: int, answers: Mapping[str, str]) -> dict[int, Meaning]:
    """Return the rows above the headings of spectra that give each column its serial, level or setting."""
    rows: dict[int, Meaning] = {}
    for above in range(row - 1, floor - 1, -1):
        texts = texts_of(sheet, above)
        if sum(map(bool, texts)) < 3 or not kinds.tells_spectra(texts[0], answers):
            break
        rows[above] = understand(texts[:1], COLUMN, answers)[0]
    return dict(sorted(rows.items()))


def only_blank(cells: Sequence[Any]) -> bool:
    """Whether a row has no cell with text."""
    return not any(text_of(cell) for cell in cells)


def _body(sheet: Sheet, region: Region, answers: Mapping[str, str]) -> list[int]:
    """Return the rows that belong to a table, up to the titles of the next one; page marks and repeats left out."""
    heads = {tuple(texts_of(sheet, row)) for row in region.heads}
    body: list[int] = []
    fresh = False  # whether a new table may begin here
    for row in range(region.heads[-1] + 1, len(sheet.rows)):
        cells = sheet.rows[row]
        alone = only_cell(cells)
        if alone is None:
            fresh = fresh or only_blank(cells)
            if only_blank(cells):
                continue
        if alone is not None:
            fresh = True
            if not PAGE_MARK.fullmatch(text_of(cells[alone])):
                body.append(row)
            continue
        if fresh or not numeric(cells[-1]):
            if tuple(texts_of(sheet, row)) in heads:
                if _titled(sheet, region, body):
                    return _before_titles(sheet, body, row)
                body = _without_running_title(sheet, body)
                fresh = False
                continue
            if (region.kind not in (ACROSS, kinds.TIDY) or fresh) and kinds.kind_at(sheet, row, answers):
                return _before_titles(sheet, body, row)
        fresh = False
        body.append(row)
    return body


def _last_lines(sheet: Sheet, body: Sequence[int]) -> Iterator[str]:
    """Yield the lines of text at the end of a body, the last first."""
    for row in reversed(body):
        alone = only_cell(sheet.rows[row])
        if alone is None:
            return
        yield text_of(sheet.rows[row][alone])


def _titled(sheet: Sheet, region: Region, body: Sequence[int]) -> bool:
    """Whether the lines above repeated headings say that another table begins there.

    Where headings name no quantity (hours, units) every line does that didn't stand above the first of them: read on,
    the values of one quantity would be taken for another.
    """
    lines = list(_last_lines(sheet, body))
    if region.kind == kinds.MATRIX:
        return not {text_of(cell) for row in region.above for cell in sheet.rows[row]}.issuperset(lines)
    return any(title_fields(text) or any(quantities(text)) or _names_state(text) for text in lines)


def _names_state(text: str) -> bool:
    """Whether a line is the name of a state and what it is there ("Scene: Evening")."""
    name, colon, value = text.partition(":")
    return bool(colon and value.strip()) and resolve(name.strip()).role == STATE


def _without_running_title(sheet: Sheet, body: list[int]) -> list[int]:
    """Leave out the lines of text just above headings that are repeated on the next page."""
    return body[: len(body) - sum(1 for _ in _last_lines(sheet, body))]


def _before_titles(sheet: Sheet, body: list[int], header: int) -> list[int]:
    """Return the body without the lines that belong to the table whose headings stand at `header`."""
    row = header - 1
    while body and body[-1] >= row - 1 and (only_cell(sheet.rows[body[-1]]) is not None or _key(sheet.rows[body[-1]])):
        row = body[-1]
        body = body[:-1]
    return body


def _key(cells: Sequence[Any]) -> bool:
    texts = [text_of(cell) for cell in cells]
    return sum(map(bool, texts)) == 2 and bool(texts[0]) and (texts[0].endswith(":") or kinds.known(texts[0]))


def _parts(sheet: Sheet, region: Region) -> list[Region]:
    """Return the tables that stand side by side, kept apart by columns that are blank from top to bottom."""
    texts = texts_of(sheet, region.header)
    axes = [at for at, text in enumerate(texts) if resolve(text).role == WAVELENGTH]
    if region.kind == kinds.LONG and len(axes) > 1 and axes[0] == 0:  # each spectrum beside its own wavelengths
        return [replace(region, left=left, right=right) for left, right in pairwise([*axes, region.right])]
    rows = [*region.heads, *region.body]
    gaps = [
        at
        for at, text in enumerate(texts)
        if not text and 0 < at < len(texts) - 1 and not any(map(text_of, sheet.column(at, rows)))
    ]
    if not gaps or region.kind == ACROSS:
        return [region]
    edges = [-1, *gaps, len(texts)]
    pieces = [(left + 1, right) for left, right in pairwise(edges) if right - left > 1]
    if len(pieces) < 2 or not all(_stands_alone(sheet, region.header, *piece) for piece in pieces):
        return [region]
    return [
        replace(
            region,
            kind=kinds.kind_at(_crop(sheet, left, right), region.header) or region.kind,
            body=[row for row in region.body if any(map(text_of, sheet.rows[row][left:right]))],
            left=left,
            right=right,
        )
        for left, right in pieces
    ]


def _crop(sheet: Sheet, left: int, right: int) -> Sheet:
    return Sheet(sheet.name, [cells[left:right] for cells in sheet.rows])


def _stands_alone(sheet: Sheet, header: int, left: int, right: int) -> bool:
    """Whether columns are a table of their own: they begin with what was measured, and measure something."""
    meanings = [resolve(text) for text in texts_of(sheet, header)[left:right]]
    others = [meaning.role for meaning in meanings[1:]]
    return meanings[0].role in (STATE, WAVELENGTH) and any(role not in (STATE, UNKNOWN) for role in others)


def _segments(sheet: Sheet, region: Region) -> Iterator[Region]:
    """Yield the region, once for each line inside its body that states an operating point for the rows below."""
    segment = replace(region, body=[])
    for row in region.body:
        alone = only_cell(sheet.rows[row])
        if alone is not None and parse_number(sheet.rows[row][alone]) is None:
            text = text_of(sheet.rows[row][alone])
            if not is_summary(text) and region.right - region.left > 1 and label_of(text).whole:
                if segment.body:
                    yield segment
                segment = replace(region, body=[], titles=[(row, alone)])
                continue
        segment.body.append(row)
    if segment.body or not segment.titles:
        yield segment


def make_block(sheet: Sheet, region: Region) -> Block:
    """Return a region as a block: headings of several rows joined, units after them, cells as they are."""
    own_rows, left = np.array([region.header, *region.body]), region.left
    whole = left == 0 and region.right >= max(map(len, (sheet.rows[row] for row in region.heads)))
    heads = list(join_heads(sheet, region))
    cells = [sheet.rows[row] if whole else sheet.rows[row][left : region.right] for row in region.body]
    cells = _carry_merged(sheet, region, cells)
    return Block(sheet.name, [heads, *cells], (), lambda rows, columns: (own_rows[rows], columns + left))


def _carry_merged(sheet: Sheet, region: Region, cells: list[list[Any]]) -> list[list[Any]]:
    """Fill the cells that the workbook merged downwards with the value that stands in the first of them."""
    place = {row: item for item, row in enumerate(region.body)}
    for span in sheet.spans:
        if span.bottom > span.top and span.left == span.right and span.top in place and span.left >= region.left:
            value = sheet.cell(span.top, span.left)
            for row in range(span.top + 1, span.bottom + 1):
                if row in place and span.left - region.left < len(cells[place[row]]):
                    line = list(cells[place[row]])
                    line[span.left - region.left] = value
                    cells[place[row]] = line
    return cells
