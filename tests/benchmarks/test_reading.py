"""What the readers make of the corpus, in shares, and what reading costs beside parsing the files alone.

The shares count the lines of tests/ingest/files/expected.csv. The speed is one run over two hundred files, forty of
each kind: tables of results, of endurance and of spectra in the sizes that arrive (tests/support/papers.py), exports
of instruments with spectra in XML (those that come with colour-science), and small files of the corpus. Reading ends
with the validated tables of all of them; parsing alone ends with Python values.

The aim isn't reached: the libraries split cells in compiled code. Here readings, operating points and places are kept
as columns and plain cells become numbers at once, but finding and laying out tables still looks at cells one by one in
Python, small files cost the same however little they hold, and exports are sorted line by line, more than once; frames
and schemas are a seventh.
"""

from __future__ import annotations

import csv
import io
import itertools
import time
from collections import Counter
from collections.abc import Callable, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import papers
import pytest
from corpus import FOLDER, TABLE, compare, document, expected, found, plugins

from audit.gather import Part, gather
from audit.model import Document, Evidence
from audit.reading import read
from audit.recorder import Recorder
from audit.sheets import decode, is_workbook

pytestmark = pytest.mark.benchmark

RESOURCES = Path(find_spec("colour").submodule_search_locations[0]) / "io" / "tests" / "resources"
FILES, EACH = 200, 40
RUNS = 3  # of parsing alone; the least counts
AIM = 2.0
GUARD = 12.0  # what must not be lost again; 9 to 10 were measured


def test_shares():
    """None wrong, none silent; of what a person would read, 95 % is read."""
    counts: Counter[str] = Counter()
    for name, lines in expected().items():
        counts += compare(lines, found(FOLDER / name)).counts
    lines = counts.total()
    for kind in ("right", "asked", "listed", "held_back", "wrong", "silent"):
        print(f"share {kind.replace('_', ' ')}: {counts[kind] / lines:.1%} ({counts[kind]} of {lines})")
    assert counts["wrong"] == counts["silent"] == 0
    assert counts["right"] >= 0.95 * (counts["right"] + counts["held_back"])


def test_speed(tmp_path):
    for documents in _mixed(tmp_path / "others", first=EACH).values():  # imports and caches
        _parse(documents), _gather(_read(documents))
    mixed = _mixed(tmp_path / "measured", first=0)
    alone: Counter[str] = Counter()
    reading: Counter[str] = Counter()
    parts = []
    for kind, documents in mixed.items():
        alone[kind] = min(_seconds(_parse, documents)[0] for _ in range(RUNS))
        reading[kind], found = _seconds(_read, documents)
        parts += found
        print(f"ratio reading / parsing alone, {len(documents)} {kind}: {reading[kind] / alone[kind]:.1f}")
    gathering, evidence = _seconds(_gather, parts)
    ratio = (reading.total() + gathering) / alone.total()
    size = sum(each.size for documents in mixed.values() for each in documents) / 1e6
    print(f"ratio gathering and validating / parsing alone: {gathering / alone.total():.1f}")
    print(f"ratio in all, {FILES} files ({size:.1f} MB): {ratio:.1f} (aim {AIM})")
    assert sum(map(len, mixed.values())) == FILES
    assert len(evidence.readings) > 80_000, "the written tables are read"
    assert len(evidence.spectra) > 1_000
    assert ratio <= GUARD


def _mixed(folder: Path, first: int) -> dict[str, list[Document]]:
    """Return two hundred documents, as many of each kind that arrives; `first` numbers those that are written."""
    folder.mkdir()
    numbers = range(first, first + EACH)
    exports = [*RESOURCES.glob("*.xls"), *RESOURCES.glob("*_3262K.csv"), *RESOURCES.glob("F*.spdx")]
    small = [path for path in sorted(FOLDER.iterdir()) if path != TABLE and path.stat().st_size and not is_cut(path)]
    return {
        "tables of results": [document(papers.results(folder, number)) for number in numbers],
        "tables of endurance": [document(papers.endurance(folder, number)) for number in numbers],
        "tables of spectra": [document(papers.spectra(folder, number)) for number in numbers],
        "instrument exports and spectra in XML": _copies(folder, "export", sorted(exports)),
        "small files of the corpus": _copies(folder, "small", small[:: len(small) // EACH]),
    }


def _copies(folder: Path, kind: str, sources: Sequence[Path]) -> list[Document]:
    assert sources
    documents = []
    for number, source in enumerate(itertools.islice(itertools.cycle(sources), EACH)):
        path = folder / f"{kind} {number:03} {source.name}"
        path.write_bytes(source.read_bytes())
        documents.append(document(path))
    return documents


def is_cut(path: Path) -> bool:
    """Whether a file of the corpus can't be parsed by the library either."""
    try:
        _parse_one(path.read_bytes())
    except Exception:
        return True
    return False


def _parse(documents: Sequence[Document]) -> None:
    for each in documents:
        _parse_one(each.read_bytes())


def _parse_one(raw: bytes) -> None:
    """Parse a file with the library that its kind asks for, to Python values, and nothing else."""
    from defusedxml.ElementTree import fromstring
    from python_calamine import CalamineWorkbook

    if is_workbook(raw):
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        for name in book.sheet_names:
            book.get_sheet_by_name(name).to_python(skip_empty_area=False)
    elif raw.lstrip().startswith(b"<?xml"):
        fromstring(raw)
    else:
        text = decode(raw)
        first = text[:2000]
        list(csv.reader(io.StringIO(text, newline=""), delimiter=max("\t;,", key=first.count)))


def _read(documents: Sequence[Document]) -> list[Part]:
    return read(documents, plugins().readers, plugins().quantities(), Recorder(Document.nowhere()))


def _gather(parts: Sequence[Part]) -> Evidence:
    return gather(parts, {}, plugins().quantities(), Recorder(Document.nowhere()))


def _seconds(work: Callable[[Sequence[Any]], Any], items: Sequence[Any]) -> tuple[float, Any]:
    """Return the processor's time that some work takes, which other programs don't change, and what it returns."""
    start = time.process_time()
    result = work(items)
    return time.process_time() - start, result
