"""Tables and spectra in CSV, tab-separated text and workbooks: each sheet is read by what it looks like.

Layouts: a row per measurement (table), spectra in rows (wide) or columns (long), and keys with values, as
spectroradiometers export them. What a sheet is shows in its headings, never in the file's name.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from audit.hooks import hookimpl
from audit.model import Document, Reader, Refusal, Tables
from audit.numbers import parse_number
from audit.sheets import Sheet, is_workbook, read_sheets, split, text_of
from plugins.ingest.cells import has_value
from plugins.ingest.columns import understand
from plugins.ingest.headings import UNKNOWN, WAVELENGTH
from plugins.ingest.keyvalue import is_keyvalue, key_rows, read_keyvalue
from plugins.ingest.long import read_long
from plugins.ingest.notebook import Notebook, where
from plugins.ingest.spectra import wavelength_run
from plugins.ingest.table import read_table

HEADER_WITHIN = 60  # rows: how far down a table's headings may stand
CLAIMS = {"claim_id", "quantity", "relation"}
WORKBOOK_ENDINGS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt", ".xls", ".dat", ".asc")


def recognise(document: Document, head: bytes) -> float:
    """Return how sure this reader is: by the headings of text, by the kind of file for workbooks."""
    path = document.path.casefold()
    if is_workbook(head):
        return 0.8 if path.endswith(WORKBOOK_ENDINGS) or b"xl/" in head else 0.1
    weak = 0.3 if path.endswith(TEXT_ENDINGS) else 0.0
    try:
        sheet = Sheet("", split(head.rpartition(b"\n")[0] if document.size > len(head) else head))
    except Refusal:
        return weak
    return 0.9 if find_header(sheet) is not None or is_keyvalue(sheet) else weak


def read(document: Document) -> Tables:
    """Read every sheet; raises Refusal where the file can't be opened."""
    notebook = Notebook(document)
    for sheet in read_sheets(document):
        _read_sheet(notebook, sheet)
    notebook.close()
    return notebook.recorder.tables()


def _read_sheet(notebook: Notebook, sheet: Sheet) -> None:
    if not any(has_value(cell) for row in sheet.rows for cell in row):
        return
    if any({text_of(cell) for cell in row} >= CLAIMS for row in sheet.rows[:1]):
        notebook.remark("claims_sheet", "note", "a claims sheet: no evidence", "nothing", place=where(sheet, 0))
        return
    header = find_header(sheet)
    if header is None:
        _read_keys_alone(notebook, sheet)
        return
    long = any(meaning.role == WAVELENGTH for meaning in understand(sheet.rows[header]))
    defaults = read_keyvalue(notebook, sheet, list(key_rows(sheet, header)), export=long) if header else {}
    if defaults is not None:
        (read_long if long else read_table)(notebook, sheet, header, defaults)


def _read_keys_alone(notebook: Notebook, sheet: Sheet) -> None:
    if is_keyvalue(sheet):
        read_keyvalue(notebook, sheet, range(len(sheet.rows)), export=False)
        return
    first = next(row for row, cells in enumerate(sheet.rows) if any(has_value(cell) for cell in cells))
    shown = ", ".join(text_of(cell) for cell in sheet.rows[first][:5])
    notebook.remark(
        "sheet_not_read",
        "major",
        f"it has no row of headings that are known here (it begins: {shown[:120]})",
        "put headings on top: quantities with their units, states such as 'level (%)', or wavelengths in nm",
        subject=sheet.name,
        place=where(sheet, first),
    )


def find_header(sheet: Sheet) -> int | None:
    """Return the index of the row of headings: two that are known, a run of wavelengths, or a wavelength column."""
    for row, cells in enumerate(sheet.rows[:HEADER_WITHIN]):
        if sum(1 for cell in cells if text_of(cell)) >= 2 and _is_header(sheet, row, cells):
            return row
    return None


def _is_header(sheet: Sheet, row: int, cells: Sequence[Any]) -> bool:
    texts = [text_of(cell) for cell in cells]
    if wavelength_run(texts):
        return True
    if all(parse_number(text) for text in texts if text):
        return False
    meanings = understand(texts)
    below = sheet.rows[row + 1 : row + 4]  # a row of units or a blank one may follow
    for index, meaning in enumerate(meanings):
        if meaning.role == WAVELENGTH and any(parse_number(cells[index]) for cells in below if index < len(cells)):
            return True
    return _known(texts) >= 2 and not any(parse_number(text) for text in texts) and not _keys_follow(sheet, row)


def _known(texts: Sequence[str]) -> int:
    return sum(1 for text, meaning in zip(texts, understand(texts), strict=True) if text and meaning.role != UNKNOWN)


def _keys_follow(sheet: Sheet, row: int) -> bool:
    """Whether the lines below begin with keys, as in an export: then this line is a key and its value."""
    return _known([text_of(cells[0]) for cells in sheet.rows[row + 1 : row + 6] if cells]) >= 2


@hookimpl
def register_readers() -> list[Reader]:
    """Tables, spectra and key-value exports are one reader, because one workbook may hold them all."""
    return [Reader("tabular", "tables, spectra and exports (CSV, TSV, XLSX)", recognise, read)]
