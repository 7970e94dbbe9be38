"""Text files and workbooks as sheets of cells: the raw grid, with every cell's address, nothing interpreted.

Documents are untrusted: sizes are bounded before anything is unpacked, formulas are never evaluated,
and what can't be opened is a Refusal with a remedy.
"""

from __future__ import annotations

import csv
import functools
import html
import io
import re
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from audit.blanks import blank_separated
from audit.model import Document, Refusal

if TYPE_CHECKING:
    import numpy as np

MAX_BYTES = 200_000_000  # of a text file, and of a workbook unpacked
MAX_UNPACK_RATIO = 200  # a workbook that unpacks to more than this many times its size is a bomb
MAX_CELL_TEXT = 1_000_000
MAX_CELLS = 20_000_000  # of a sheet, blank ones included
# Cells beyond column ZZ, beyond row 99,999, or in two-letter columns beyond row 9,999: only they can break MAX_CELLS.
FAR_CELL = re.compile(rb'<c[^>]*? r="([A-Z]{3}|[A-Z]+(?=\d{6})|[A-Z]{2}(?=\d{5}))(\d+)"')
# The quick look before it, as a sheet may have millions of cells.
FAR = re.compile(rb'r="(?:[A-Z]{3}|[A-Z]+\d{6}|[A-Z]{2}\d{5})')
ERROR_CELL = re.compile(rb'<c(?=[^>]* t="e")[^>]*? r="([A-Z]+\d+)"[^>]*>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)?<v>([^<]+)</v>')
FORMULA_WITHOUT_RESULT = "(formula without a result)"  # stands where a workbook has no result stored
UNCOMPUTED = re.compile(rb'<c(?![^>]* t="str")[^>]*>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)(?:<v ?/>|<v></v>)?</c>')
UTF_16_HEAD, UTF_16_ZEROS = 4096, 0.7  # bytes looked at, and how many of each second one are zero at least
DELIMITERS = "\t;,"
NUMBER = re.compile(r"-?\d+(\.\d+)?", re.ASCII)
ARCHIVES = (b"PK\x05\x06", b"7z\xbc\xaf\x27\x1c", b"Rar!\x1a\x07", b"\x1f\x8b", b"BZh", b"\xfd7zXZ")
UNPACK = "unpack it and hand in the files"
SHEET_ENTRY = re.compile(r"<(?:\w+:)?sheet\b[^>]*>")
RELATION = re.compile(r"<(?:\w+:)?Relationship\b[^>]*>")
ATTRIBUTE = re.compile(r"""([\w:]+)\s*=\s*(?:"([^"]*)"|'([^']*)')""")
QUOTED = re.compile(r'"[^"]*"')  # separators inside quotes separate nothing


class Span(NamedTuple):
    """Cells merged into one: first and last row and column, counted from 0."""

    top: int
    left: int
    bottom: int
    right: int


@dataclass(frozen=True)
class Sheet:
    """One sheet of cells. Cells are text (as printed) or, from a workbook, numbers, dates and booleans."""

    name: str
    rows: list[list[Any]]
    spans: Sequence[Span] = ()  # of a workbook's merged cells; their value stands in the first
    hidden: bool = field(default=False, kw_only=True)  # the workbook doesn't show this sheet
    uncomputed: Sequence[str] = field(default=(), kw_only=True)  # addresses of formulas whose results aren't stored

    def at(self, row: int, column: int) -> tuple[int, int]:
        """Return where a cell stands in the document; a rearranged table (plugins.ingest.blocks) leads back to it."""
        return row, column

    def places(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the rows and columns in the document where many cells stand, as `at` does for one."""
        return rows, columns

    def cell(self, row: int, column: int) -> Any:
        """Return the cell at these indices (from 0), "" where the row is shorter."""
        cells = self.rows[row]
        return cells[column] if column < len(cells) else ""

    def column(self, column: int, rows: Sequence[int]) -> list[Any]:
        """Return the cells of one column in these rows (indices from 0)."""
        chosen = map(self.rows.__getitem__, rows)
        return [cells[column] if column < len(cells) else "" for cells in chosen]


def address(row: int, column: int) -> str:
    """Return the spreadsheet address of indices that count from 0: (1, 27) is AB2."""
    return f"{_letters(column)}{row + 1}"


def addresses(rows: np.ndarray, columns: np.ndarray) -> list[str]:
    """Return the addresses of many cells: rows and columns (n,)."""
    letters = map(_letters, columns.tolist())
    return [f"{letter}{row}" for letter, row in zip(letters, (rows + 1).tolist(), strict=True)]


@functools.lru_cache(maxsize=16_384)
def _letters(column: int) -> str:
    letters, number = "", column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def indices(cell: str) -> tuple[int, int]:
    """Return row and column, counted from 0, of a spreadsheet address: AB2 is (1, 27)."""
    letters = cell.rstrip("0123456789")
    return int(cell[len(letters) :]) - 1, _column(letters.encode()) - 1


def text_of(cell: Any) -> str:
    """Return a cell as the text a person would read; numbers without the noise of binary fractions."""
    if isinstance(cell, str):
        return cell.strip()
    if type(cell) is float:  # the usual kinds first
        return f"{cell:.12g}"
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, int | float):
        return f"{cell:.12g}"
    return str(cell)


def texts_of(cells: Iterable[Any]) -> list[str]:
    """Return the texts of many cells, as text_of does one."""
    return [
        cell.strip() if type(cell) is str else f"{cell:.12g}" if type(cell) is float else text_of(cell)
        for cell in cells
    ]


def is_workbook(head: bytes) -> bool:
    """Whether the first bytes are those of a zipped (XLSX, ODS) or compound (XLS) workbook."""
    return head.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0"))


def decode(raw: bytes) -> str:
    """Return bytes as text: by their byte-order mark, else UTF-16 by its zeros, UTF-8, or Windows-1252 (any bytes)."""
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if raw.startswith(mark):
            return raw.decode(encoding, errors="replace")
    if encoding := _unmarked(raw):
        return raw.decode(encoding, errors="replace")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def _unmarked(raw: bytes) -> str:
    """Return the encoding of UTF-16 without a byte-order mark, "" for anything else.

    Every second byte of Latin letters, digits and separators is zero there, and never one of the others.
    """
    head = raw[:UTF_16_HEAD]
    first, second = head[::2].count(0), head[1::2].count(0)
    if min(first, second) or max(first, second) < UTF_16_ZEROS * len(head) / 2 or not head:
        return ""
    return "utf-16-le" if second else "utf-16-be"


def delimiter_of(text: str) -> str:
    """Return the mark (tab, semicolon, comma) that splits the first lines into the most even columns."""
    lines = [QUOTED.sub("", line) for line in text[:20_000].splitlines()[:50] if line.strip()]

    def evenness(mark: str) -> tuple[int, int]:
        counts = Counter(line.count(mark) for line in lines if mark in line)
        columns, times = max(counts.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
        return times, columns

    return max(DELIMITERS, key=evenness)


def read_sheets(document: Document) -> Iterator[Sheet]:
    """Yield the sheets of a text table or a workbook. Raises Refusal where it can't be opened."""
    if document.size > MAX_BYTES:
        raise Refusal(
            f"the file has {document.size:,} bytes, more than the {MAX_BYTES:,} that are read",
            ask="split it into smaller files, or hand in only the sheets that bear on the claims",
        )
    for sheet in _sheets(document.file, document.sha256, document.file.stat().st_mtime_ns):
        yield _corrected(sheet, document.corrections) if document.corrections else sheet


def _corrected(sheet: Sheet, corrections: Mapping[tuple[str, str], tuple[str, str]]) -> Sheet:
    """Return a sheet with the right text in its corrected cells; a number stays a number if the text is one."""
    rows = list(sheet.rows)
    for (name, cell), (wrong, right) in corrections.items():
        row, column = indices(cell)
        if name != sheet.name or row >= len(rows) or column >= len(rows[row]):
            continue
        there = rows[row][column]
        # The text read may be only a part of what stands in the cell, such as the value behind a key.
        text = text_of(there)
        text = text.replace(wrong, right, 1) if wrong and wrong in text else right
        corrected: Any = text
        if isinstance(there, int | float) and NUMBER.fullmatch(text):
            corrected = float(text)
        rows[row] = [*rows[row][:column], corrected, *rows[row][column + 1 :]]
    return replace(sheet, rows=rows)


@functools.lru_cache(maxsize=1)  # who looks for claims and who reads evidence follow each other on one file
def _sheets(file: Path, sha256: str, modified: int) -> tuple[Sheet, ...]:
    raw = file.read_bytes()
    return tuple(_workbook(raw)) if is_workbook(raw) else (Sheet("", split(raw)),)


def shown_as_per_cent(document: Document, sheet: str, cell: str) -> bool:
    """Whether an XLSX cell's format prints its number in per cent (0.95 as 95 %)."""
    formats = _formatted(document.file, document.sha256)
    try:
        return formats is not None and "%" in formats[sheet][cell].number_format
    except KeyError:
        return False


@functools.lru_cache(maxsize=1)
def _formatted(file: Path, sha256: str) -> Any:
    """The workbook with its cell formats, or None for other kinds of file."""
    import openpyxl

    try:
        return openpyxl.load_workbook(file) if zipfile.is_zipfile(file) else None
    except (KeyError, ValueError, TypeError, zipfile.BadZipFile):
        return None  # another kind of workbook


def split(raw: bytes) -> list[list[Any]]:
    """Return the rows of cells of a text table. Raises Refusal for what is no text or has broken quotes."""
    if raw.startswith(ARCHIVES):
        raise Refusal("it is an archive, which isn't opened", ask=UNPACK)
    if b"\x00" in raw[:4096] and not raw.startswith((b"\xff\xfe", b"\xfe\xff")) and not _unmarked(raw):
        raise Refusal("the file is neither text nor a workbook", ask="save it as CSV (UTF-8) or XLSX")
    text = decode(raw)
    if rows := blank_separated(text):
        return rows
    delimiter = delimiter_of(text)
    if text.count("\t") == text.count(",\t") > 0:  # instruments that set both between two cells
        text = text.replace(",\t", delimiter := "\t")
    try:
        return list(_cells(text, delimiter))
    except csv.Error as error:
        line, fault = _first_fault(text, delimiter)
        ask = "look for a stray quotation mark, and save the table again as CSV (UTF-8)"
        message = f"the text can't be split into cells: line {line}: {fault}"
        raise Refusal(message, place=f"line {line}", ask=ask) from error


def _cells(text: str, delimiter: str) -> Any:
    csv.field_size_limit(MAX_CELL_TEXT)
    # strict: an open quote would swallow the rest of the file into one cell
    return csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)


def _first_fault(text: str, delimiter: str) -> tuple[int, str]:
    """Return the line in which the cells that can't be told apart begin, counted from 1, and what is wrong there."""
    rows, line = _cells(text, delimiter), 1
    try:
        for _ in rows:
            line = rows.line_num + 1
    except csv.Error as error:
        reason = str(error)
    if "field limit" in reason:
        return line, f"a cell has more than {MAX_CELL_TEXT:,} characters"
    if "end of data" in reason:
        return line, "a quotation mark is never closed"
    return line, f"a quotation mark stands where none belongs (found at line {rows.line_num})"


def _workbook(raw: bytes) -> Iterator[Sheet]:
    from python_calamine import CalamineWorkbook, SheetVisibleEnum

    unseen = _examine(raw) if raw.startswith(b"PK") else {}
    try:
        workbook = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        hidden = {each.name for each in workbook.sheets_metadata if each.visible != SheetVisibleEnum.Visible}
        for name in workbook.sheet_names:
            # skip_empty_area=False keeps addresses true when a sheet doesn't start at A1.
            sheet = workbook.get_sheet_by_name(name)
            spans = [Span(*first, *last) for first, last in sheet.merged_cell_ranges or ()]
            rows, texts = sheet.to_python(skip_empty_area=False), unseen.get(name, {})
            for cell, text in texts.items():
                _put(rows, *indices(cell), text)
            uncomputed = [cell for cell, text in texts.items() if text == FORMULA_WITHOUT_RESULT]
            yield Sheet(name, rows, spans, hidden=name in hidden, uncomputed=uncomputed)
    except Exception as error:  # the library raises many kinds; each means that the workbook is damaged
        reason = re.sub(r"\s+", " ", str(error))[:200]
        raise Refusal(
            f"the workbook can't be opened ({reason})",
            ask="open it in a spreadsheet program and save it again as XLSX, or ask the sender for a whole copy",
        ) from error


def _put(rows: list[list[Any]], row: int, column: int, text: str) -> None:
    """Set one cell, where the rows end before it too."""
    rows += [[] for _ in range(row + 1 - len(rows))]
    rows[row] += [""] * (column + 1 - len(rows[row]))
    rows[row][column] = text


def _examine(raw: bytes) -> dict[str, dict[str, str]]:
    """Return what the library gives as blank, sheet -> cell -> text; refuse what isn't safe or no workbook."""
    unseen: dict[str, dict[str, str]] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
            _refuse_other(archive.namelist())
            if unpacked <= MAX_BYTES:
                for entry in archive.infolist():
                    if entry.filename.startswith("xl/worksheets/") and entry.filename.endswith(".xml"):
                        name, texts = _sheet_name(archive, entry.filename), _unseen(archive, entry)
                        if texts and not name:
                            _refuse_unseen(entry, texts)
                        unseen[name] = texts
    except (zipfile.BadZipFile, zlib.error, EOFError) as error:
        raise Refusal(
            "the workbook is cut off or damaged", ask="ask the sender for a whole copy of the file"
        ) from error
    except (
        NotImplementedError,
        RuntimeError,
    ) as error:  # how zipfile says: packed in a way it doesn't know; a password
        raise Refusal(
            "the workbook is locked with a password or packed in a way that can't be read",
            ask="open it in a spreadsheet program and save it anew, without a password",
        ) from error
    if unpacked > MAX_BYTES or unpacked > MAX_UNPACK_RATIO * max(len(raw), 10_000):
        raise Refusal(
            f"the workbook would unpack to {unpacked:,} bytes from {len(raw):,}: refused as unsafe",
            ask="ask the sender for the data as CSV",
        )
    return unseen


def _refuse_unseen(entry: zipfile.ZipInfo, texts: Mapping[str, str]) -> None:
    cell, text = next(iter(texts.items()))
    raise Refusal(
        f"the workbook has errors or formulas without results ({text}) on a sheet whose name can't be told",
        place=f"{entry.filename}, cell {cell}",
        ask="open it in a spreadsheet program, let it calculate, and save it again",
    )


def _refuse_other(names: Sequence[str]) -> None:
    """Refuse a zip file that is no workbook: an archive of files, or an office document of another kind."""
    if any(name.startswith("xl/") or name == "content.xml" for name in names):
        return
    if {"[Content_Types].xml", "mimetype"} & set(names):
        raise Refusal("it is an office document, but no workbook", ask="save its tables as CSV (UTF-8) or XLSX")
    raise Refusal("it is an archive, which isn't opened", ask=UNPACK)


def _sheet_name(archive: zipfile.ZipFile, part: str) -> str:
    """Return the name under which a workbook shows one of its parts (xl/worksheets/sheet1.xml), "" if it isn't said."""

    def entries(name: str, pattern: re.Pattern[str]) -> list[dict[str, str]]:
        text = archive.read(name).decode("utf-8", errors="replace") if name in archive.namelist() else ""
        attributes = (ATTRIBUTE.findall(found) for found in pattern.findall(text))
        return [{key.rpartition(":")[2]: html.unescape(one or two) for key, one, two in found} for found in attributes]

    relations = entries("xl/_rels/workbook.xml.rels", RELATION)
    ids = {each.get("Id") for each in relations if part.endswith("/" + each.get("Target", "").lstrip("/"))}
    ids |= {each.get("Id") for each in relations if each.get("Target") == "/" + part}
    return next((each["name"] for each in entries("xl/workbook.xml", SHEET_ENTRY) if each.get("id") in ids), "")


def _unseen(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> dict[str, str]:
    """Return a sheet's cells that the workbook library gives as blank: errors, and formulas without a result.

    Raises Refusal for what it can't survive: it fills all cells up to the furthest.
    """
    xml = archive.read(entry)
    far = [(_column(letters), int(row)) for letters, row in FAR_CELL.findall(xml)] if FAR.search(xml) else []
    if far and max(column for column, _ in far) * max(row for _, row in far) > MAX_CELLS:
        name = _sheet_name(archive, entry.filename)
        raise Refusal(
            "a cell far out makes a sheet larger than is read",
            place=f"sheet '{name}'" if name else "",
            ask="delete the stray cell, or save only the filled part as a new workbook",
        )
    found = {cell.decode(): html.unescape(text.decode("utf-8", "replace")) for cell, text in ERROR_CELL.findall(xml)}
    for formula in UNCOMPUTED.finditer(xml):
        if cell := re.search(rb' r="([A-Z]{1,3}\d{1,7})"', formula[0]):
            found[cell[1].decode()] = FORMULA_WITHOUT_RESULT
    return found


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number
