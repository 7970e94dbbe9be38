"""Tables and spectra in CSV, text and workbooks: each sheet is read by what it looks like, in whatever layout.

Every table of a sheet is found and laid out with its headings on top and a row per measurement (blocks, reshape);
what stands in headings, titles and names becomes states (labels, titles); then it is read as a table or as spectra.
What a sheet is shows in its headings, never in the file's name.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from audit.hooks import hookimpl
from audit.model import Document, Reader, Refusal, Tables
from audit.sheets import Sheet, is_workbook, read_sheets, split, text_of
from plugins.ingest import titles
from plugins.ingest.blocks import Block, Region, find_regions
from plugins.ingest.cells import has_value
from plugins.ingest.headless import headless_region, headless_rows
from plugins.ingest.keyvalue import is_keyvalue, read_keyvalue
from plugins.ingest.kinds import HEADER_WITHIN, LONG, kind_at
from plugins.ingest.layouts import canonical
from plugins.ingest.long import read_long
from plugins.ingest.notebook import Notebook, where
from plugins.ingest.spectra import wavelength_run
from plugins.ingest.table import read_table

MAX_COLUMNS = 16_384  # as many as a workbook's sheet can have
CLAIMS = {"claim_id", "quantity", "relation"}
WORKBOOK_ENDINGS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt", ".xls", ".dat", ".asc")
# What keys above the first table of a sheet, or alone on a sheet, state of all tables that follow.
INHERITED = ("product", "used_in", "test_object")


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
    if max(map(len, sheet.rows), default=0) > MAX_COLUMNS:
        return weak
    begins = (kind_at(sheet, row) for row in range(min(len(sheet.rows), HEADER_WITHIN)))
    return 0.9 if any(begins) or is_keyvalue(sheet) else weak


def read(document: Document) -> Tables:
    """Read every sheet; raises Refusal where the file can't be opened."""
    notebook, shared = Notebook(document), dict[str, Any]()
    filled = False
    for sheet in read_sheets(document):
        filled = _read_sheet(notebook, sheet, shared) or filled
    if not filled:
        message = f"'{document.path}' is empty: it has no cell with anything in it"
        notebook.remark("document_empty", "major", message, "ask for the file again", subject=document.path)
    notebook.close()
    return notebook.recorder.tables()


def _read_sheet(notebook: Notebook, sheet: Sheet, shared: dict[str, Any]) -> bool:
    """Read one sheet, return whether anything stands in it; what it states of the whole document goes into `shared`."""
    if not any(has_value(cell) for row in sheet.rows for cell in row):
        return False
    if any({text_of(cell) for cell in row} >= CLAIMS for row in sheet.rows[:1]):
        notebook.remark("claims_sheet", "note", "a claims sheet: no evidence", "nothing", place=where(sheet, 0))
        return True
    width = max(map(len, sheet.rows))
    if width > MAX_COLUMNS:
        message = f"it has {width:,} columns, more than the {MAX_COLUMNS:,} that are read"
        ask = "turn it, so that it has a row per spectrum or measurement, or split it"
        notebook.remark("sheet_not_read", "major", message, ask, subject=sheet.name, place=where(sheet, 0))
        return True
    done: dict[tuple[int, ...], dict[str, Any] | None] = {}
    for region in find_regions(sheet, notebook.recorder.document.answers):
        above = tuple(region.above)
        if above not in done:
            done[above] = read_keyvalue(notebook, sheet, above, export=region.kind == LONG) if above else {}
        keys = done[above]
        if keys is None:
            continue
        shared.update({name: value for name, value in keys.items() if name in INHERITED})
        for block in canonical(notebook, sheet, region, partial(titles.quantity_of, notebook, sheet, region)):
            _read_block(notebook, sheet, region, block, shared | keys)
    if not done:
        _read_without_headings(notebook, sheet, shared)
    return True


def _read_block(notebook: Notebook, sheet: Sheet, region: Region, block: Block, keys: Mapping[str, Any]) -> None:
    if not region.body:
        message = f"'{notebook.recorder.document.path}' has headings, but no row of values below them"
        ask = "ask for the values, if any were measured"
        notebook.remark("table_without_rows", "minor", message, ask, place=where(sheet, region.header))
        return
    if (region.kind == LONG or wavelength_run(block.rows[0])) and titles.no_light(notebook, sheet, region, block):
        return
    stated = titles.stated_by(notebook, sheet, region)
    (read_long if region.kind == LONG else read_table)(notebook, block, keys, stated)


def _read_without_headings(notebook: Notebook, sheet: Sheet, shared: dict[str, Any]) -> None:
    if is_keyvalue(sheet):
        stated = {each.field: each.value for each in titles.stated_by_names(notebook, sheet)}
        fields = read_keyvalue(notebook, sheet, range(len(sheet.rows)), export=False, stated=stated)
        shared.update({name: value for name, value in (fields or {}).items() if name in INHERITED})
        return
    if rows := headless_rows(sheet):
        if found := headless_region(notebook, sheet, rows):
            _read_block(notebook, sheet, *found, shared)
        return
    first = next(row for row, cells in enumerate(sheet.rows) if any(has_value(cell) for cell in cells))
    for row, cells in enumerate(sheet.rows[:200]):
        for column, cell in enumerate(cells[:50]):
            notebook.free(cell, sheet, row, column)
    lines = (", ".join(filter(None, map(text_of, cells[:5]))) for cells in sheet.rows[first : first + 3])
    shown = " | ".join(line for line in lines if line)
    notebook.remark(
        "sheet_not_read",
        "major",
        f"it has no row of headings that are known here (it begins: {shown[:160]})",
        "put headings on top: quantities with their units, states such as 'level (%)', or wavelengths in nm",
        subject=sheet.name,
        place=where(sheet, first, next(at for at, cell in enumerate(sheet.rows[first]) if has_value(cell))),
    )


@hookimpl
def register_readers() -> list[Reader]:
    """Tables, spectra and key-value exports are one reader, because one workbook may hold them all."""
    return [Reader("tabular", "tables, spectra and exports (CSV, TSV, XLSX)", recognise, read)]
