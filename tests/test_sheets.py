"""Text and workbooks as cells: encodings, separators, addresses, and what is refused with a remedy."""

import gzip
import hashlib
import io
import subprocess
import sys
import zipfile

import openpyxl
import pytest

from audit import sheets
from audit.model import Document, Refusal
from audit.sheets import FORMULA_WITHOUT_RESULT, address, decode, delimiter_of, read_sheets, shown_as_per_cent


@pytest.fixture
def document(tmp_path):
    def make(content: bytes, name: str = "file.csv") -> Document:
        path = tmp_path / name
        path.write_bytes(content)
        return Document(name, path, len(content), hashlib.sha256(content).hexdigest())

    return make


def workbook(cells: dict[str, object], formats: dict[str, str] | None = None) -> bytes:
    book = openpyxl.Workbook()
    for cell, value in cells.items():
        book.active[cell] = value
    for cell, number_format in (formats or {}).items():
        book.active[cell].number_format = number_format
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize(("row", "column", "cell"), [(0, 0, "A1"), (1, 27, "AB2"), (0, 701, "ZZ1"), (4, 702, "AAA5")])
def test_address(row, column, cell):
    assert address(row, column) == cell


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_decode_reads_what_offices_write(encoding):
    assert decode("Größe °C".encode(encoding)) == "Größe °C"


@pytest.mark.parametrize("raw", [b"", b"\0", b"\0\0\0\0", b"a\0b", b"a\0\0b", bytes(range(256))])
def test_zeros_elsewhere_are_no_utf_16(raw):
    """As Windows-1252, which reads any bytes, each byte stays a character of its own."""
    assert len(decode(raw)) == len(raw)


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("a,b,c\n1,2,3\n", ","),
        ("a;b;c\n1,5;2,5;3,5\n", ";"),  # decimal commas separate nothing
        ("a\tb\n1,0\t2\n", "\t"),
        ('a,b\n"x; y; z",1\n"p; q; r",2\n', ","),  # inside quotes neither
        ("single\nlines\n", "\t"),
    ],
)
def test_delimiter(text, mark):
    assert delimiter_of(text) == mark


def test_cells_keep_their_place_when_a_sheet_starts_late(document):
    (sheet,) = read_sheets(document(workbook({"C3": "here", "D4": 2.5}), "late.xlsx"))
    assert sheet.cell(2, 2) == "here"
    assert sheet.cell(3, 3) == 2.5
    assert sheet.cell(0, 9) == ""


def refusal(document: Document) -> Refusal:
    with pytest.raises(Refusal) as caught:
        list(read_sheets(document))
    assert caught.value.ask, "a refusal says what to do"
    return caught.value


def test_a_truncated_workbook_is_refused(document):
    whole = workbook({"A1": 1})
    assert "cut off" in refusal(document(whole[: len(whole) // 2], "half.xlsx")).message


def test_a_workbook_with_broken_insides_is_refused(document):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook>")
    assert "can't be opened" in refusal(document(stream.getvalue(), "odd.xlsx")).message


def test_a_zip_bomb_is_refused_before_it_unpacks(document):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 20_000_000)
    assert "unsafe" in refusal(document(stream.getvalue(), "bomb.xlsx")).message


@pytest.mark.parametrize("corner", ["XFD1048576", "A1048576", "ZZ99999"])
def test_a_stray_cell_far_out(document, corner):
    """The workbook library fills all cells up to the furthest: at the corner that aborts the process."""
    file = document(workbook({"A1": 1, corner: 1}), "far.xlsx")
    if corner == "A1048576":
        assert len(next(read_sheets(file)).rows) == 1_048_576
    else:
        assert "stray cell" in refusal(file).ask


def test_formulas_without_stored_results_are_marked_because_they_would_read_as_blank(document):
    """Sheets are numbered by their file, named in the workbook, and the two orders differ."""
    book = openpyxl.Workbook()
    book.active.append(["serial", 1])
    late = book.create_sheet("Tide & 'ebb'", 0)
    late["B1"], late["C2"], late["D7"] = "x", "=1+1", "=2+2"
    stream = io.BytesIO()
    book.save(stream)
    first, second = read_sheets(document(stream.getvalue(), "two.xlsx"))
    assert (first.name, sorted(first.uncomputed), second.uncomputed) == ("Tide & 'ebb'", ["C2", "D7"], [])
    assert first.cell(1, 2) == first.cell(6, 3) == FORMULA_WITHOUT_RESULT
    assert (first.cell(0, 1), second.rows) == ("x", [["serial", 1.0]])


def test_errors_without_their_sheets_name_are_refused(document):
    """Without the relations of its parts nothing says on which sheet the cell stands."""
    whole = zipfile.ZipFile(io.BytesIO(workbook({"A1": "x", "B1": "=1+1"})))
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name in whole.namelist():
            text = whole.read(name)
            archive.writestr(name, text.replace(b"<sheet ", b"<other ") if name == "xl/workbook.xml" else text)
    found = refusal(document(stream.getvalue(), "nameless.xlsx"))
    assert "formulas without results" in found.message
    assert found.place == "xl/worksheets/sheet1.xml, cell B1"


def test_hidden_sheets_are_marked(document):
    book = openpyxl.Workbook()
    for name, state in (("seen", "visible"), ("away", "hidden"), ("deep", "veryHidden")):
        book.create_sheet(name).sheet_state = state
    stream = io.BytesIO()
    book.save(stream)
    found = {sheet.name: sheet.hidden for sheet in read_sheets(document(stream.getvalue(), "hidden.xlsx"))}
    assert found == {"Sheet": False, "seen": False, "away": True, "deep": True}


def zipped(*names: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name in names:
            archive.writestr(name, "serial,Ra\n1,90\n")
    return stream.getvalue()


@pytest.mark.parametrize(
    ("content", "ask"),
    [
        (zipped("report.csv"), "unpack it"),
        (zipped(), "unpack it"),
        (gzip.compress(b"serial,Ra\n1,90\n"), "unpack it"),
        (zipped("[Content_Types].xml", "word/document.xml"), "save its tables"),
        (zipped("mimetype", "META-INF/manifest.xml"), "save its tables"),
    ],
    ids=["zip", "empty zip", "gzip", "text document", "open document"],
)
def test_an_archive_is_named_as_one(document, content, ask):
    assert ask in refusal(document(content, "report.xlsx")).ask


def test_an_open_quote_is_refused_because_it_would_swallow_the_rest(document):
    assert "cells" in refusal(document(b'a,b\n"1,2\n3,4\n')).message


@pytest.mark.parametrize(
    ("text", "place", "why"),
    [
        ('a,b\n1,2\n3,"4\n5,6\n', "line 3", "a quotation mark is never closed"),
        ('a,b\n"1\n1",2\n3,"4\n', "line 4", "a quotation mark is never closed"),  # a cell of two lines before it
        ('a,b\n1,"2"0\n', "line 2", "a quotation mark stands where none belongs"),
        ("a,b\n1,2\n3," + "4" * 1_000_001 + "\n", "line 3", "a cell has more than 1,000,000 characters"),
    ],
    ids=["open", "open after a long cell", "stray", "long"],
)
def test_text_that_cant_be_split_is_refused_with_its_line_in_our_words(document, text, place, why):
    found = refusal(document(text.encode()))
    assert found.place == place
    assert f"{place}: {why}" in found.message


def test_neither_text_nor_workbook(document):
    assert "neither text nor a workbook" in refusal(document(b"\x00\x01\x02\x03")).message


def test_a_huge_file_is_refused_by_its_size_alone(document):
    small = document(b"a,b\n")
    assert "bytes" in refusal(Document("big.csv", small.file, sheets.MAX_BYTES + 1, "0")).message


def test_per_cent_format(document):
    file = document(workbook({"A1": 0.95, "A2": 0.95, "A3": "x"}, {"A1": "0%", "A2": "0.00"}), "percent.xlsx")
    assert [shown_as_per_cent(file, "Sheet", cell) for cell in ("A1", "A2", "A3")] == [True, False, False]
    assert not shown_as_per_cent(document(b"0.95\n"), "", "A1")


def test_a_file_that_changed_is_read_again(document):
    assert [sheet.rows for sheet in read_sheets(document(b"a,b\n"))] == [[["a", "b"]]]
    assert [sheet.rows for sheet in read_sheets(document(b"c,d\n"))] == [[["c", "d"]]]


def test_sheets_load_neither_pandas_nor_openpyxl():
    code = "import sys, audit.sheets; print(sorted({'pandas', 'openpyxl', 'python_calamine'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
