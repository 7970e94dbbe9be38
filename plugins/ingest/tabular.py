"""Tables and spectra in CSV, text and workbooks: each sheet is read by what it looks like, in whatever layout.

Every table of a sheet is found and laid out with its headings on top and a row per measurement (blocks, reshape);
what stands in headings, titles and names becomes states (labels, titles); then it is read as a table or as spectra.
What a sheet is shows in its headings, never in the file's name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from audit.collect import head_of
from audit.hooks import hookimpl
from audit.model import Document, Reader, Refusal
from audit.sheets import Sheet, indices, is_workbook, read_sheets, split, text_of
from audit.tables import Tables
from plugins.ingest import titles
from plugins.ingest.blocks import Block, Region, find_regions
from plugins.ingest.cells import CALCULATE, has_value
from plugins.ingest.headings import READING, resolve
from plugins.ingest.headless import headless_region, headless_rows
from plugins.ingest.keyvalue import is_keyvalue, read_keyvalue
from plugins.ingest.kinds import HEADER_WITHIN, LONG, kind_at, numeric
from plugins.ingest.layouts import canonical
from plugins.ingest.long import read_long
from plugins.ingest.notebook import MAX_EXAMPLES, MAX_PLACES, Notebook, clip, some, where
from plugins.ingest.sections import read_sections
from plugins.ingest.spectra import wavelength_run
from plugins.ingest.table import read_table

MAX_COLUMNS = 16_384  # as many as a workbook's sheet can have
CLAIMS = {"claim_id", "quantity", "relation"}
WORKBOOK_ENDINGS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt", ".xls", ".dat", ".asc")
EMPTY, READ, UNREAD, OTHER = "empty", "read", "unread", "other"  # what became of a sheet
# What keys above the first table of a sheet, or alone on a sheet, state of all tables that follow.
INHERITED = ("product", "used_in", "test_object")


def recognise(document: Document, head: bytes) -> float:
    """Return how sure this reader is: by the headings of text, by the kind of file for workbooks."""
    path = document.path.casefold()
    if is_workbook(head):
        return 0.8 if path.endswith(WORKBOOK_ENDINGS) or b"xl/" in head else 0.1
    weak = 0.3 if path.endswith((*TEXT_ENDINGS, *WORKBOOK_ENDINGS)) else 0.0
    try:
        whole = document.size <= len(head)  # then reading it takes the same sheet once more
        sheet = next(read_sheets(document)) if whole else Sheet("", split(head.rpartition(b"\n")[0]))
    except Refusal:
        return weak
    if max(map(len, sheet.rows), default=0) > MAX_COLUMNS:
        return weak
    begins = (kind_at(sheet, row) for row in range(min(len(sheet.rows), HEADER_WITHIN)))
    return 0.9 if any(begins) or is_keyvalue(sheet) else weak


def read(document: Document) -> Tables:
    """Read every sheet; raises Refusal where the file can't be opened."""
    notebook, shared = Notebook(document), dict[str, Any]()
    outcomes: dict[str, list[Sheet]] = {EMPTY: [], READ: [], UNREAD: [], OTHER: []}
    for sheet in read_sheets(document):
        outcomes[_read_sheet(notebook, sheet, shared)].append(sheet)
    _remark_uncomputed(notebook, [sheet for sheets in outcomes.values() for sheet in sheets])
    _remark_hidden(notebook, [sheet for kind, sheets in outcomes.items() if kind != EMPTY for sheet in sheets])
    _remark_unread(notebook, outcomes[UNREAD], beside=bool(outcomes[READ]))
    _remark_kind(notebook, empty=not any(sheets for kind, sheets in outcomes.items() if kind != EMPTY))
    notebook.close()
    return notebook.recorder.tables()


def _remark_kind(notebook: Notebook, empty: bool) -> None:
    """Say that a document is empty, or text under the name of a workbook."""
    document = notebook.recorder.document
    alike = "named like a workbook, but " if document.path.casefold().endswith(WORKBOOK_ENDINGS) else ""
    if empty:
        what = "has no cell with anything in it" if document.size else "has no bytes"
        message = f"'{document.path}' is {alike if not document.size else ''}empty: it {what}"
        notebook.remark("document_empty", "major", message, "ask for the file again", subject=document.path)
    elif alike and not document.path.casefold().endswith(TEXT_ENDINGS) and not is_workbook(head_of(document)):
        message = f"'{document.path}' is {alike}is text, and is taken as a table in text"
        ask = "ask for the workbook, if columns or sheets are missing here"
        notebook.remark("workbook_is_text", "minor", message, ask, subject=document.path)


def _remark_uncomputed(notebook: Notebook, sheets: Sequence[Sheet]) -> None:
    """Say that formulas have no results stored: their cells are unread, wherever they stand."""
    if places := [where(sheet, *indices(cell)) for sheet in sheets for cell in sheet.uncomputed]:
        message = f"the workbook has formulas whose results aren't stored, in {len(places):,} cell(s): they aren't read"
        notebook.remark("formula_without_result", "major", message, CALCULATE, place=some(places, MAX_PLACES))


def _remark_hidden(notebook: Notebook, sheets: Sequence[Sheet]) -> None:
    """Say which sheets the workbook doesn't show: what they hold is read as that of the others."""
    if hidden := [sheet for sheet in sheets if sheet.hidden]:
        names = some([f"'{clip(sheet.name)}'" for sheet in hidden])
        message = f"the workbook hides sheets that are read as the others are: {names}"
        ask = "ask the sender whether they belong to the report; take them out if they don't"
        notebook.remark("sheet_hidden", "minor", message, ask, subject=hidden[0].name, place=where(hidden[0], 0))


def _remark_unread(notebook: Notebook, sheets: Sequence[Sheet], beside: bool) -> None:
    """Say which sheets hold no table that is known here; prose `beside` a sheet that was read takes nothing away."""
    for sheet in sheets[:MAX_EXAMPLES]:
        first = next(row for row, cells in enumerate(sheet.rows) if any(has_value(cell) for cell in cells))
        lines = (", ".join(filter(None, map(clip, cells[:5]))) for cells in sheet.rows[first : first + 3])
        shown = " | ".join(line for line in lines if line)
        notebook.remark(
            "sheet_not_read",
            "minor" if beside and _prose(sheet) else "major",
            f"it has no row of headings that are known here (it begins: {shown[:160]})",
            "put headings on top: quantities with their units, states such as 'level (%)', or wavelengths in nm",
            subject=sheet.name,
            place=where(sheet, first, next(at for at, cell in enumerate(sheet.rows[first]) if has_value(cell))),
        )
    if rest := sheets[MAX_EXAMPLES:]:
        tier = "minor" if beside and all(map(_prose, rest)) else "major"
        message = f"{len(rest):,} more sheets have no row of headings that are known here"
        notebook.remark("sheet_not_read", tier, message, "see the first of them", subject="", place=where(rest[0], 0))


def _prose(sheet: Sheet) -> bool:
    """Whether no row of a sheet has two numbers: a cover, notes, a legend."""
    return all(sum(map(numeric, cells)) < 2 for cells in sheet.rows)


def _read_sheet(notebook: Notebook, sheet: Sheet, shared: dict[str, Any]) -> str:
    """Read one sheet, return one of the outcomes; what it states of the whole document goes into `shared`."""
    if not any(has_value(cell) for row in sheet.rows for cell in row):
        return EMPTY
    if any({text_of(cell) for cell in row} >= CLAIMS for row in sheet.rows[:1]):
        notebook.remark("claims_sheet", "note", "a claims sheet: no evidence", "nothing", place=where(sheet, 0))
        return OTHER
    width = max(map(len, sheet.rows))
    if width > MAX_COLUMNS:
        message = f"it has {width:,} columns, more than the {MAX_COLUMNS:,} that are read"
        ask = "turn it, so that it has a row per spectrum or measurement, or split it"
        notebook.remark("sheet_not_read", "major", message, ask, subject=sheet.name, place=where(sheet, 0))
        return OTHER
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
    return READ if done else _read_without_headings(notebook, sheet, shared)


def _read_block(notebook: Notebook, sheet: Sheet, region: Region, block: Block, keys: Mapping[str, Any]) -> None:
    if not region.body:
        message = f"'{notebook.recorder.document.path}' has headings, but no row of values below them"
        ask = "ask for the values, if any were measured"
        notebook.remark("table_without_rows", "major", message, ask, place=where(sheet, region.header))
        return
    run = wavelength_run(block.rows[0])
    if (region.kind == LONG or run) and titles.no_light(notebook, sheet, region, block):
        beside = [text_of(cell) for at, cell in enumerate(block.rows[0]) if at not in run]
        if region.kind == LONG or not any(resolve(text).role == READING for text in beside):
            return
        rows = [["" if at in run else cell for at, cell in enumerate(cells)] for cells in block.rows]
        block = replace(block, rows=rows)
    stated = titles.stated_by(notebook, sheet, region)
    (read_long if region.kind == LONG else read_table)(notebook, block, keys, stated)


def _read_without_headings(notebook: Notebook, sheet: Sheet, shared: dict[str, Any]) -> str:
    if is_keyvalue(sheet):
        stated = {each.field: each.value for each in titles.stated_by_names(notebook, sheet)}
        fields = read_sections(notebook, sheet, range(len(sheet.rows)), stated)
        shared.update({name: value for name, value in (fields or {}).items() if name in INHERITED})
        return READ
    if rows := headless_rows(sheet):
        if found := headless_region(notebook, sheet, rows):
            _read_block(notebook, sheet, *found, shared)
        return READ
    for row, cells in enumerate(sheet.rows[:200]):
        for column, cell in enumerate(cells[:50]):
            notebook.free(cell, sheet, row, column)
    return UNREAD


@hookimpl
def register_readers() -> list[Reader]:
    """Tables, spectra and key-value exports are one reader, because one workbook may hold them all."""
    return [Reader("tabular", "tables, spectra and exports (CSV, TSV, XLSX)", recognise, read)]
