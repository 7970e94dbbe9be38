"""Keys and values several times over: a block of lines for each unit or setting, one below the other."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from audit.sheets import Sheet, text_of
from plugins.ingest.columns import understand
from plugins.ingest.headings import READING, REPORT, STATE
from plugins.ingest.keyvalue import NOTHING_STATED, read_keyvalue, sort_lines, titles_state
from plugins.ingest.kinds import only_cell
from plugins.ingest.labels import label_of
from plugins.ingest.notebook import Notebook


class _Start(NamedTuple):
    """A line that a block may begin with: a title (Sample 1) or a key (Level: 50 %) of the operating point."""

    row: int
    names: tuple[str, ...]
    values: tuple[Any, ...]
    whole: bool  # the line is read here, nothing else is in it; else it's read with the lines of its block


def read_sections(
    notebook: Notebook, sheet: Sheet, rows: Sequence[int], stated: Mapping[str, Any] = NOTHING_STATED
) -> dict[str, Any] | None:
    """Read rows of keys and values; return the state that those before the first block give, None as read_keyvalue.

    A block begins where a state that was stated already is stated anew, and lasts until the next; blocks may hold
    blocks. What stands before the first is said of them all.
    """
    starts = _starts(sheet, rows)
    if not starts:
        return read_keyvalue(notebook, sheet, rows, export=False, stated=stated)
    head = [row for row in rows if row < starts[0].row]
    fields = read_keyvalue(notebook, sheet, head, export=False, stated=stated) if head else {}
    if fields is None:
        return None
    ends = [start.row for start in starts[1:]] + [rows[-1] + 1]
    for start, end in zip(starts, ends, strict=True):
        own = dict(zip(start.names, start.values, strict=True)) if start.whole else {}
        block = rows[bisect_left(rows, start.row + start.whole) : bisect_left(rows, end)]
        read_sections(notebook, sheet, block, dict(stated) | fields | own)
    return fields


def _starts(sheet: Sheet, rows: Sequence[int]) -> list[_Start]:
    """Return the lines that begin a block, those of the outermost blocks; none where the rows are one block."""
    pairs = sort_lines(sheet, rows).pairs
    meanings = understand([pair.words or pair.key for pair in pairs], REPORT)
    read = sorted(pair.row for pair, meaning in zip(pairs, meanings, strict=True) if meaning.role == READING)
    in_row = Counter(pair.row for pair in pairs)
    found = [_titled(sheet, row) for row in rows] + [
        # A serial in each block is the unit's; an instrument's would stand once.
        _Start(pair.row, (meaning.target or "serial",), (text_of(pair.value),), meaning.role != STATE)
        for pair, meaning in zip(pairs, meanings, strict=True)
        if text_of(pair.value) and (meaning.role == STATE or ("serial" in meaning.candidates and in_row[pair.row] == 1))
    ]
    alike: dict[tuple[tuple[str, ...], bool], list[_Start]] = {}
    for start in sorted((start for start in found if start), key=lambda start: start.row):
        alike.setdefault((start.names, start.whole), []).append(start)
    for group in alike.values():
        # Readings up to each start, and to the end: a block with readings has more at its end than at its start.
        counts = [bisect_left(read, start.row) for start in group] + [len(read)]
        filled = sum(after > before for before, after in pairwise(counts))
        if filled > 1 and len({start.values for start in group}) > 1:
            return group
    return []


def _titled(sheet: Sheet, row: int) -> _Start | None:
    at = only_cell(sheet.rows[row])
    if at is None or not titles_state(text := text_of(sheet.rows[row][at])):
        return None
    fields = label_of(text).fields
    return _Start(row, tuple(fields), tuple(fields.values()), True)
