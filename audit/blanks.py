"""Text whose columns are kept apart by blanks alone: single ones, or padding to a fixed width.

Only paragraphs whose lines agree in their columns are split. A line that doesn't fit stays one cell: a number under
the wrong heading would be read wrong in silence.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

PADDING = re.compile(r" {2,}|\t+")
TOKENS = re.compile(r'"[^"]*"|\S+')
DECIMAL_COMMA = re.compile(r"[+\-−]?\d+,\d+(?:[eE][+\-]?\d+)?")
RULE = re.compile(r"[\s\-=_+|*]*[\-=_]{3}[\s\-=_+|*]*")  # a line drawn under headings
KEY = re.compile(r"[^:]{1,60}:\s")
NUMBER = re.compile(r"[+\-−]?\d[\d.,]*(?:[eE][+\-]?\d+)?%?")
SAMPLE = 400  # lines that are looked at before the text is split
FEWEST_LINES = 3  # headings and two rows: fewer lines that agree do so by chance


def blank_separated(text: str) -> list[list[str]] | None:
    """Return the rows of a text whose columns are separated by blanks, None for a text with marks between its cells.

    A comma between digits separates nothing here: it is the decimal mark of a text that has blanks between cells.
    """
    lines = text.expandtabs(8).splitlines() if "\t" in text and _indented(text) else text.splitlines()
    sample = [line for line in lines[:SAMPLE] if line.strip() and not RULE.fullmatch(line)]
    if any(mark in line for line in sample for mark in "\t;"):
        return None
    if _commas_separate(sample):
        return None
    columns, agreeing = _agreement([line for line in sample if not KEY.match(line)])
    if columns < 2 or agreeing < FEWEST_LINES or agreeing < len(sample) / 4:
        return None
    rows: list[list[str]] = []
    for paragraph in _paragraphs(lines):
        rows += _split(paragraph)
    return rows


def _commas_separate(lines: Sequence[str]) -> bool:
    """Whether lines that follow each other have equally many commas, of which some are no decimal marks."""
    for count, run in groupby(lines, key=lambda line: line.count(",")):
        block = list(run)
        if not count or len(block) < 2:
            continue
        tokens = (token for line in block for token in TOKENS.findall(line) if "," in token)
        if not all(map(DECIMAL_COMMA.fullmatch, tokens)):
            return True
    return False


def _indented(text: str) -> bool:
    """Whether tabs only pad the beginnings of lines."""
    return all("\t" not in line.lstrip() for line in text.splitlines()[:SAMPLE])


def _agreement(lines: Sequence[str]) -> tuple[int, int]:
    """Return the commonest number of columns above one, and how many lines have it, padded or tokenised.

    Prose may agree in its numbers of words by chance: lines of a table hold numbers.
    """
    best = (0, 0)
    for cells_of in (lambda line: PADDING.split(line.strip()), TOKENS.findall):
        rows = [cells for cells in map(cells_of, lines) if len(cells) > 1]
        usual = Counter(map(len, rows)).most_common(1)
        if not usual:
            continue
        columns, length = usual[0]
        agreeing = [cells for cells in rows if len(cells) == columns]
        numeric = sum(1 for cells in agreeing if 2 * sum(map(bool, map(NUMBER.fullmatch, cells))) >= columns)
        if numeric * 2 >= length and length > best[1]:
            best = (columns, length)
    return best


def _paragraphs(lines: Sequence[str]) -> Iterator[list[str]]:
    for blank, group in groupby(lines, key=lambda line: not line.strip()):
        paragraph = list(group)
        yield from ([line] for line in paragraph) if blank else [paragraph]


def _split(lines: Sequence[str]) -> list[list[str]]:
    """Split one paragraph: by the gaps that run through all its lines, by padding, or by single blanks."""
    if not lines[0].strip():
        return [[] for _ in lines]
    if ruled := [place for place, line in enumerate(lines) if RULE.fullmatch(line)]:
        rows = iter(_split([line for place, line in enumerate(lines) if place not in ruled] or [""]))
        return [[] if place in ruled else next(rows) for place in range(len(lines))]
    start = _first_of_table(lines)
    head, table = list(lines[:start]), list(lines[start:])
    split = [[line.strip()] if KEY.match(line) else PADDING.split(line.strip()) for line in head]
    padded = [len(PADDING.split(line.strip())) for line in table]
    tokens = [len(TOKENS.findall(line)) for line in table]
    if max(padded, default=0) > 1 and len(set(padded)) > 1 and (gaps := _gaps(table)):
        split += [_cut(line, gaps) for line in table]
    elif len(set(padded)) == 1 and padded[0] > 1:
        split += [PADDING.split(line.strip()) for line in table]
    else:
        usual = _usual(tokens)
        split += [_tokens(line) if len(TOKENS.findall(line)) == usual > 1 else [line.strip()] for line in table]
    return split


def _first_of_table(lines: Sequence[str]) -> int:
    """Return where the lines with columns begin; titles and keys stand before them."""
    for counts in ([len(PADDING.split(line.strip())) for line in lines], [len(TOKENS.findall(line)) for line in lines]):
        usual = counts[-1] if len(counts) < FEWEST_LINES else _usual(counts)
        if usual > 1 and counts.count(usual) >= min(FEWEST_LINES, len(counts)):
            return counts.index(usual)
    return 0 if len(lines) > 1 else len(lines)


def _usual(counts: Sequence[int]) -> int:
    """Return the commonest number of columns above one, 1 where there is none."""
    return Counter(count for count in counts if count > 1).most_common(1)[0][0] if max(counts, default=0) > 1 else 1


def _tokens(line: str) -> list[str]:
    return [token.strip('"') for token in TOKENS.findall(line)]


def _gaps(lines: Sequence[str]) -> list[int]:
    """Return where columns begin: after two or more characters that are blank in every line."""
    width = max(map(len, lines))
    filled = [any(len(line) > place and line[place] != " " for line in lines) for place in range(width)]
    starts, blank = [], 2
    for place, here in enumerate(filled):
        if here and blank >= 2:
            starts.append(place)
        blank = 0 if here else blank + 1
    return starts if len(starts) > 1 else []


def _cut(line: str, starts: Sequence[int]) -> list[str]:
    ends = [*starts[1:], len(line)]
    return [line[start:end].strip() for start, end in zip(starts, ends, strict=True)]
