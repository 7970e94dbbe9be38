"""Reading a workbook's bytes without a spreadsheet library: what stands in its XML is what is checked."""

from __future__ import annotations

import io
import re
import zipfile
from xml.etree import ElementTree

NAMES = {
    "m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
    "r": "http://schemas.openxmlformats.org/package/2006/relationships",
}
ESCAPED = re.compile("_x([0-9A-F]{4})_")  # ST_Xstring, ECMA-376 part 1, 22.9.2.19
OWN_ID = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


class Parts:
    """The parts of a workbook: `sheets` name -> XML of it, in their order; `links` name -> cell -> target#location."""

    def __init__(self, data: bytes):
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            assert package.testzip() is None
            self.files = {name: package.read(name) for name in package.namelist()}
        root = self.xml("xl/workbook.xml")
        names = [each.attrib["name"] for each in root.iterfind("m:sheets/m:sheet", NAMES)]
        self.sheets = {name: self.xml(f"xl/worksheets/sheet{at}.xml") for at, name in enumerate(names, start=1)}
        self.links = {name: self._links(name, at) for at, name in enumerate(names, start=1)}

    def xml(self, name: str) -> ElementTree.Element:
        return ElementTree.fromstring(self.files[name])

    def cells(self, sheet: str) -> dict[str, tuple[str, str]]:
        """Return address -> (type, text) of the cells that hold something; numbers have the type "n"."""
        found = {}
        for cell in self.sheets[sheet].iterfind(".//m:c", NAMES):
            kind = cell.attrib.get("t", "n")
            path = ".//m:t" if kind == "inlineStr" else "m:v"
            words = "".join(part.text or "" for part in cell.iterfind(path, NAMES))
            if len(cell):
                found[cell.attrib["r"]] = (kind, ESCAPED.sub(lambda code: chr(int(code[1], 16)), words))
        return found

    def rows(self, sheet: str) -> list[dict[str, str]]:
        """Return a mapping of heading -> text per row below the headings; blank cells are ""."""
        table: dict[int, dict[str, str]] = {}
        for address, (_, words) in self.cells(sheet).items():
            column, row = re.fullmatch(r"([A-Z]+)(\d+)", address).groups()
            table.setdefault(int(row), {})[column] = words
        headings = table.pop(1)
        return [{name: row.get(column, "") for column, name in headings.items()} for row in table.values()]

    def column(self, sheet: str, heading: str) -> str:
        """Return the letters of the column with this heading."""
        headings = {words: at for at, (_, words) in self.cells(sheet).items() if re.fullmatch(r"[A-Z]+1", at)}
        return headings[heading].removesuffix("1")

    def _links(self, sheet: str, at: int) -> dict[str, str]:
        rels = f"xl/worksheets/_rels/sheet{at}.xml.rels"
        targets = (
            {each.attrib["Id"]: each.attrib["Target"] for each in self.xml(rels).iterfind("r:Relationship", NAMES)}
            if rels in self.files
            else {}
        )
        return {
            each.attrib["ref"]: f"{targets.get(each.attrib.get(OWN_ID, ''), '')}#{each.attrib.get('location', '')}"
            for each in self.sheets[sheet].iterfind(".//m:hyperlink", NAMES)
        }
