"""Files made to break a reader: each is read or refused in bounds, said where, and stops nothing else.

Entities, cuts and depths of XML are in test_spectral_xml.py; stray cells and bytes that are no text in test_sheets.py.
"""

from __future__ import annotations

import io
import os
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from corpus import document, plugins

from audit.gather import Part
from audit.model import Document
from audit.reading import read
from audit.recorder import Recorder

GOOD = "serial,Ra\n1,90\n"
MOST_SAID = 20_000  # characters: what a person is told of one file fits on a few pages
CELL = "x" * 1_000_000
WIDE = 50_000
FROBS = ",".join(f"Frob {number}" for number in range(10_000))


def outcome(paper: Document, tmp_path: Path) -> tuple[list[Part], list[dict[str, str]]]:
    """Read a document before a good one; return what was read and what was observed of the document itself."""
    good = tmp_path / "zz good.csv"
    good.write_text(GOOD, encoding="utf-8")
    notes = Recorder(Document.nowhere())
    parts = read([paper, document(good)], plugins().readers, plugins().quantities(), notes)
    for part in parts:
        if "observations" in part.tables:
            notes.adopt(part.tables["observations"].to_dict("records"))
    last = parts[-1]
    assert last.document.path == good.name
    assert last.tables["readings"]["value"].tolist() == [90], "the good document is read all the same"
    said = [row for row in notes.observations if row["document"] == paper.path]
    assert not [row for row in said if row["rule"] == "reader_failed"]
    assert sum(len(row["message"]) + len(row["ask"]) + len(row["place"]) for row in said) < MOST_SAID
    return parts[:-1], said


def workbook(*sheets: list[list[object]]) -> bytes:
    book = openpyxl.Workbook(write_only=True)
    for number, rows in enumerate(sheets):
        sheet = book.create_sheet(f"S{number}")
        for row in rows:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def packed(name: str, content: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return stream.getvalue()


def with_entities() -> bytes:
    """Return a workbook whose sheet is an XML document of nested entities that would grow to 10^9 characters."""
    entities = "".join(f'<!ENTITY b{n} "{f"&b{n - 1};" * 10}">' for n in range(1, 10))
    bomb = f'<?xml version="1.0"?><!DOCTYPE w [<!ENTITY b0 "x">{entities}]>'
    stream = io.BytesIO()
    whole = zipfile.ZipFile(io.BytesIO(workbook([["serial", "Ra"], ["&b9;", 90]])))
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in whole.namelist():
            text = whole.read(name).decode()
            if name == "xl/worksheets/sheet1.xml":
                assert "&amp;b9;" in text
                text = bomb + text.rpartition("?>")[2].replace("&amp;b9;", "&b9;")
            archive.writestr(name, text)
    return stream.getvalue()


REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "bomb.xlsx": (lambda: packed("xl/worksheets/sheet1.xml", b"0" * 30_000_000), "refused as unsafe"),
    "nested.zip": (lambda: packed("inner.zip", packed("report.csv", GOOD.encode())), "is an archive"),
    "zip in a zip.xlsx": (lambda: packed("inner.xlsx", workbook([["serial"]])), "is an archive"),
    "wide.csv": (lambda: f"serial,{','.join(map(str, range(WIDE)))}\n1{',7' * WIDE}\n".encode(), "50,001 columns"),
    "long cell.csv": (lambda: f"serial,Ra\n1,{CELL}x\n".encode(), "line 2: a cell has more than"),
    "long title.csv": (lambda: f"{CELL}\n{GOOD}".encode(), "no row of headings"),
    "bytes.xlsx": (lambda: bytes(range(256)) * 40, "neither text nor a workbook"),
    "nothing.xlsx": (lambda: b"", "named like a workbook, but empty"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_a_reason_and_a_remedy(tmp_path, name):
    make, why = REFUSED[name]
    path = tmp_path / name
    path.write_bytes(make())
    _, (said,) = outcome(document(path), tmp_path)
    assert said["tier"] == "major"
    assert why in said["message"]
    assert said["ask"]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("utf-16.csv", GOOD.encode("utf-16")),
        ("utf-16 without mark.csv", GOOD.encode("utf-16-le")),
        ("utf-16 big without mark.csv", GOOD.encode("utf-16-be")),
        ("utf-16 big.csv", b"\xfe\xff" + GOOD.encode("utf-16-be")),
        ("latin-1.csv", "Prüfling,serial,Ra\nä,1,90\n".encode("latin-1")),
        ("long remark.csv", f"serial,Ra,Remark\n1,90,{CELL}\n".encode()),
        ("long heading.csv", f"serial,Ra,{CELL}\n1,90,{CELL}\n".encode()),
        ("ten thousand headings.csv", f"serial,Ra,{FROBS}\n1,90{',7' * 10_000}\n".encode()),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)  # fmt: skip
def test_odd_but_readable(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    (part,), _ = outcome(document(path), tmp_path)
    assert part.tables["readings"]["value"].tolist() == [90]


def test_entities_in_a_workbook_never_grow(tmp_path):
    path = tmp_path / "entities.xlsx"
    path.write_bytes(with_entities())
    tracemalloc.start()
    parts, (said,) = outcome(document(path), tmp_path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert parts == []
    assert (said["rule"], said["tier"]) == ("document_not_read", "major")
    assert "can't be opened" in said["message"]
    assert peak < 100_000_000


def test_a_workbook_of_two_thousand_sheets(tmp_path):
    prose = [["seen by the night watch"], ["nothing else"]]
    path = tmp_path / "many.xlsx"
    path.write_bytes(workbook([["serial", "Ra"], ["1", 90]], *([*prose, [f"sheet {n}"]] for n in range(2_000))))
    (part,), said = outcome(document(path), tmp_path)
    assert part.tables["readings"]["value"].tolist() == [90]
    unread = [row for row in said if row["rule"] == "sheet_not_read"]
    assert len(unread) == 6
    assert "1,995 more sheets" in unread[-1]["message"]
    assert {row["tier"] for row in unread} == {"minor"}


def test_two_gigabytes_are_refused_by_their_size_alone(tmp_path):
    path = tmp_path / "huge.csv"
    path.write_text(GOOD, encoding="utf-8")
    os.truncate(path, 2 * 1024**3)  # a hole in the file: it takes no room on the disk
    tracemalloc.start()
    parts, (said,) = outcome(Document(path.name, path, path.stat().st_size, "0"), tmp_path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert parts == []
    assert (said["rule"], said["tier"]) == ("document_not_read", "major")
    assert "2,147,483,648 bytes" in said["message"]
    assert said["ask"]
    assert peak < 50_000_000


def test_an_observation_shows_the_beginning_of_what_is_long(read):
    tables = read(f"serial,Ra,{'Q' * 5_000}\n1,90,{'e' * 5_000}\n")
    found = tables.observation("column_unknown")
    assert "'" + "Q" * 57 + "...'" in found.message
    assert "e" * 57 + "..." in found.message
    assert len(found.message) + len(found.ask) < 600


def test_five_unknown_headings_are_named_and_the_rest_counted(read):
    found = read(f"serial,Ra,{','.join(f'Frob {n}' for n in range(12))}\n1,90{',7' * 12}\n").observation(
        "column_unknown"
    )
    assert "'Frob 4'" in found.message
    assert "'Frob 5'" not in found.message
    assert found.message.endswith(" and 7 more")
