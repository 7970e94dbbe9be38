"""A workbook with the same bytes every time: the least parts of XLSX (ECMA-376, part 1).

Written here, stored without compression and undated, because what a library writes changes with its version and its
clock.
"""

from __future__ import annotations

import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple
from xml.sax.saxutils import escape

XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
SHEET_NS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE_NS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_NS = "http://schemas.openxmlformats.org/package/2006"
TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"
FORMATS = ("0", "0.0", "0.00", "0.000", "0.0000")  # styles 1 to 5: numbers with their printed decimals
FONT = '<sz val="10"/><name val="Arial"/>'
TITLE = len(FORMATS) + 1  # style of merged cells: bold, in the middle


class Figure(NamedTuple):
    """A number with the decimals that its cell shows; the cell holds it rounded to them."""

    value: float
    decimals: int


Cell = str | Figure


@dataclass
class Page:
    """One sheet under construction: rows of cells, and the ranges that are merged."""

    name: str
    rows: list[Sequence[Cell]] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)

    def title(self, text: str, width: int) -> None:
        """Add a row with one text over `width` columns."""
        self.merge(len(self.rows), 0, width)
        self.rows.append([text])

    def merge(self, row: int, column: int, width: int) -> None:
        """Merge cells of one row (indices from 0)."""
        self.merged.append(f"{_address(row, column)}:{_address(row, column + width - 1)}")


def write_workbook(path: Path, pages: Sequence[Page]) -> Path:
    """Write a workbook; returns its path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for name, xml in _parts(pages).items():
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), XML + xml)
    return path


def _address(row: int, column: int) -> str:
    return f"{chr(ord('A') + column)}{row + 1}"  # no sample is wider than Z


def _sheet(page: Page) -> str:
    merged = {span.partition(":")[0] for span in page.merged}
    lines = []
    for row, cells in enumerate(page.rows):
        shown = "".join(_cell(_address(row, at), cell, merged) for at, cell in enumerate(cells) if cell != "")
        lines.append(f'<row r="{row + 1}">{shown}</row>')
    spans = "".join(f'<mergeCell ref="{span}"/>' for span in page.merged)
    spans = f'<mergeCells count="{len(page.merged)}">{spans}</mergeCells>' if spans else ""
    return (
        f'<worksheet xmlns="{SHEET_NS}"><sheetPr><pageSetUpPr fitToPage="1"/></sheetPr>'
        f"<cols>{_widths(page, merged)}</cols>"
        f"<sheetData>{''.join(lines)}</sheetData>{spans}"
        '<pageSetup paperSize="9" orientation="landscape" fitToHeight="0"/></worksheet>'
    )


def _widths(page: Page, merged: set[str]) -> str:
    texts: dict[int, list[str]] = {}
    for row, cells in enumerate(page.rows):
        for at, cell in enumerate(cells):
            if _address(row, at) not in merged:
                texts.setdefault(at, []).append(cell if isinstance(cell, str) else f"{cell.value:.{cell.decimals}f}")
    return "".join(
        f'<col min="{at + 1}" max="{at + 1}" width="{max(map(len, found)) + 2}" customWidth="1"/>'
        for at, found in sorted(texts.items())
    )


def _cell(address: str, cell: Cell, merged: set[str]) -> str:
    if isinstance(cell, Figure):
        value = round(cell.value, cell.decimals)
        return f'<c r="{address}" s="{cell.decimals + 1}"><v>{value!r}</v></c>'
    style = f' s="{TITLE}"' if address in merged else ""
    return f'<c r="{address}"{style} t="inlineStr"><is><t>{escape(cell)}</t></is></c>'


def _parts(pages: Sequence[Page]) -> Mapping[str, str]:
    part = '<Override PartName="/xl/{}.xml" ContentType="' + TYPES + '.{}+xml"/>'
    link = '<Relationship Id="rId{}" Type="' + OFFICE_NS + '/{}" Target="{}"/>'
    numbers = range(1, len(pages) + 1)
    formats = "".join(f'<numFmt numFmtId="{170 + i}" formatCode="{code}"/>' for i, code in enumerate(FORMATS))
    style = '<xf numFmtId="{}" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>'
    styles = "".join(style.format(170 + i) for i in range(len(FORMATS)))
    title = (
        '<xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1" applyAlignment="1">'
        '<alignment horizontal="center"/></xf>'
    )
    sheets = "".join(
        f'<sheet name="{escape(page.name)}" sheetId="{number}" r:id="rId{number}"/>'
        for number, page in zip(numbers, pages, strict=True)
    )
    links = "".join(link.format(number, "worksheet", f"sheet{number}.xml") for number in numbers)
    return {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE_NS}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f"{part.format('workbook', 'sheet.main')}{part.format('styles', 'styles')}"
        f"{''.join(part.format(f'sheet{number}', 'worksheet') for number in numbers)}</Types>",
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE_NS}/relationships">'
        f"{link.format(1, 'officeDocument', 'xl/workbook.xml')}</Relationships>",
        "xl/workbook.xml": f'<workbook xmlns="{SHEET_NS}" xmlns:r="{OFFICE_NS}"><sheets>{sheets}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE_NS}/relationships">'
        f"{links}{link.format(len(pages) + 1, 'styles', 'styles.xml')}</Relationships>",
        **{f"xl/sheet{number}.xml": _sheet(page) for number, page in zip(numbers, pages, strict=True)},
        "xl/styles.xml": f'<styleSheet xmlns="{SHEET_NS}"><numFmts count="{len(FORMATS)}">{formats}</numFmts>'
        f'<fonts count="2"><font>{FONT}</font><font><b/>{FONT}</font></fonts>'
        '<fills><fill><patternFill patternType="none"/></fill></fills>'
        "<borders><border/></borders>"
        f'<cellStyleXfs count="1"><xf/></cellStyleXfs><cellXfs><xf xfId="0"/>{styles}{title}</cellXfs>'
        '<cellStyles><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>',
    }
