"""What the readers make of the corpus, in shares, and what reading costs beside parsing the files alone.

The shares count the lines of tests/ingest/files/expected.csv. The speed is one run over two hundred files: the
samples, the files that come with colour-science, and the corpus, forty of each kind.
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

import pytest
from corpus import FOLDER, TABLE, compare, document, expected, found, plugins

from audit.model import Document
from audit.reading import read
from audit.recorder import Recorder
from audit.sheets import decode, is_workbook

pytestmark = pytest.mark.benchmark

SAMPLES = Path(__file__).parents[2] / "sample_reports"
RESOURCES = Path(find_spec("colour").submodule_search_locations[0]) / "io" / "tests" / "resources"
FILES, EACH = 200, 40
RUNS = 3
AIM = 2.0  # times the libraries alone; not reached: small files cost what their tables cost to build
GUARD = 60.0  # what must not be lost again


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
    mixed = _mixed(tmp_path)
    everything = [each for documents in mixed.values() for each in documents]
    _parse(everything), _read(everything)  # imports and caches
    for kind, documents in mixed.items():
        print(f"ratio reading / parsing alone, {len(documents)} {kind}: {_ratio(documents):.1f}")
    ratio = _ratio(everything)
    size = sum(each.size for each in everything) / 1e6
    print(f"ratio reading / parsing alone, all {len(everything)} files ({size:.1f} MB): {ratio:.1f} (aim {AIM})")
    assert len(everything) == FILES
    assert ratio <= GUARD


def _ratio(documents: Sequence[Document]) -> float:
    """Return the time of reading over the time of parsing alone, each the least of a few runs."""
    alone = min(_seconds(_parse, documents) for _ in range(RUNS))
    return min(_seconds(_read, documents) for _ in range(RUNS)) / alone


def _mixed(folder: Path) -> dict[str, list[Document]]:
    """Return two hundred documents, as many of each kind that arrives; the corpus gives one of each layout."""
    small = [path for path in sorted(FOLDER.iterdir()) if path != TABLE and path.stat().st_size and not is_cut(path)]
    sources = {
        "tables of spectra": sorted(SAMPLES.glob("*/*spectra*")),
        "workbooks and tables of results": sorted([*SAMPLES.glob("*/*photometry*"), *SAMPLES.glob("*/*endurance*")]),
        "instrument exports": sorted([*RESOURCES.glob("*.xls"), *RESOURCES.glob("*_3262K.csv")]),
        "spectra in XML": sorted(RESOURCES.glob("F*.spdx")),
        "small files of the corpus": small[:: len(small) // EACH],
    }
    assert all(sources.values())
    return {kind: _copies(folder, kind, paths) for kind, paths in sources.items()}


def _copies(folder: Path, kind: str, sources: Sequence[Path]) -> list[Document]:
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


def _read(documents: Sequence[Document]) -> None:
    read(documents, plugins().readers, plugins().quantities(), Recorder(Document.nowhere()))


def _seconds(work: Callable[[Sequence[Document]], None], documents: Sequence[Document]) -> float:
    start = time.perf_counter()
    work(documents)
    return time.perf_counter() - start
