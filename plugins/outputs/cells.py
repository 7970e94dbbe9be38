"""How a workbook is laid out and its cells are written: headings, filters, widths, links, and text that stays text.

A cell of text is written as text, whatever it begins with: no cell of ours is a formula. Text that a spreadsheet would
take for one when a person edits the cell (= + - @ in front) also carries the quote prefix, the style by which
spreadsheets know text. The text itself is left as the document has it, since a mark put before it would be a
change to evidence; so the workbook is safe, and a CSV file that a person exports from it is as safe as the documents.

What a sheet can't hold is cut with a remark: the limits are those of ECMA-376 spreadsheets as Excel states them.
"""

from __future__ import annotations

import io
import math
import re
import textwrap
from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple

from audit import Report, wording
from audit.clock import stamp
from plugins.outputs import text

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

MOST_CHARACTERS = 32_767  # of a cell, counted in UTF-16
MOST_ROWS = 1_048_576
MOST_COLUMNS = 16_384
MOST_LINKS = 65_530  # of a sheet
LONGEST_LINK = 2_000  # of the 2,080 characters that a link can have
NARROWEST = 7
LINE_HEIGHT, TALLEST = 15, 409  # points, of a line and of a row at most
DAY_ZERO = date(1899, 12, 30)
FORMULA_STARTS = tuple("=+-@＝＋－＠")  # the wide forms as well: a spreadsheet may fold them
PAPERS = {"A4": 9, "letter": 1}  # ST_PaperSize, ECMA-376 part 1, 18.3.1.63
HEADING = (("bold", True), ("font_color", "#FFFFFF"), ("bg_color", "#1D5873"), ("text_wrap", True))
LINK = (("font_color", "#1D5873"), ("underline", 1))
ITALIC = (("italic", True),)
ASIDE = (("align", "right"), ("indent", 1))  # numbers keep away from the text right of them
RULE = (("bottom", 1), ("bottom_color", "#D6D2C1"))

Look = tuple[tuple[str, object], ...]  # properties of a cell, beside those that all cells have

Cell = Any  # text, a whole number, a date, None for nothing, or one of the kinds below


class Figure(NamedTuple):
    """A number and the format in which a spreadsheet shows it; "" for its shortest form."""

    value: float | None
    shown_as: str = ""


class Link(NamedTuple):
    """Words that lead somewhere; `target` "" where they lead nowhere."""

    words: str
    target: str


class Marked(NamedTuple):
    """A word on a fill. The word says it all; the fill only helps."""

    words: str
    fill: str
    ink: str


class Column(NamedTuple):
    """A heading and the most characters that its column is wide; text that needs more wraps, if `wraps`.

    A column to be filled in by a person (`blank`) is as wide from the start.
    """

    heading: str
    width: int
    wraps: bool = False
    blank: bool = False


def decimal(value: float | None, decimals: int, signed: bool = False) -> Figure:
    """Return a number shown with so many decimals."""
    zeros = "0" + ("." + "0" * decimals if decimals else "")
    return Figure(value, f"+{zeros};-{zeros};{zeros}" if signed else zeros)


def shortest(value: float | None) -> Figure:
    """Return a stated number, shown with the decimals that it has."""
    return decimal(value, len(wording.plain(value).partition(".")[2])) if value is not None else Figure(None)


def dated(words: str) -> date | str:
    """Return a date written year-month-day as a date; any other text, and what spreadsheets can't date, as it is."""
    try:
        found = date.fromisoformat(words)
    except ValueError:
        return words
    return found if found.year > 1900 else words


def sheet_link(sheet: str, row: int) -> str:
    """Return the link to a row (counted from 1) of another sheet of ours."""
    return f"internal:'{sheet}'!A{row}"


def file_link(way: str, path: str, sheet: str = "", cell: str = "") -> str:
    """Return the link to a document, and to the cell in it if it is a workbook; "" where it can't be linked.

    `way` leads from the report to the folder of the documents. What has a meaning in links is escaped, so that a
    document's name stays a name. A backslash would be taken for a folder's end, so such a document has no link.
    """
    target = re.sub(r"""[\x00-\x20"#%:<>?\[\]^`{|}]""", lambda found: f"%{ord(found[0]):02X}", f"{way}/{path}")
    if sheet and cell and path.lower().endswith((".xlsx", ".xlsm", ".xls", ".ods")):
        quoted = sheet.replace("'", "''")
        target += f"#'{quoted}'!{cell}"
    usable = way and "\\" not in target and text.visible(target) == target and len(target) <= LONGEST_LINK
    return f"external:{target}" if usable else ""


def fitting(words: str) -> str:
    """Return text that a cell can hold: hidden characters made visible line by line, and cut with a remark."""
    if len(words) < MOST_CHARACTERS // 2 and not text.UNSAFE.search(words):
        return words
    whole = "\n".join(text.visible(line) for line in words.split("\n"))
    if len(whole.encode("utf-16-le")) // 2 <= MOST_CHARACTERS:
        return whole
    room = MOST_CHARACTERS - 60
    kept = whole.encode("utf-16-le")[: 2 * room].decode("utf-16-le", "ignore")
    return f"{kept} ... (cut: {len(whole) - len(kept)} more characters)"


class Book:
    """A workbook in memory; the same sheets give the same bytes."""

    def __init__(self, report: Report, title: str):
        from xlsxwriter.workbook import Workbook

        self._bytes = io.BytesIO()
        # Rows go to a file as they come, so that a line of products takes no more memory than one.
        self._workbook: Workbook = Workbook(self._bytes, {"constant_memory": True})
        self._workbook.set_properties({"title": fitting(title)[:250], "created": stamp().replace(tzinfo=None)})
        self._formats: dict[Look, Format] = {}
        self.date_format = report.habit.number_date
        self.paper = PAPERS[report.habit.paper]
        self.footer = f"&L{text.visible(report.folder)[:80].replace('&', '&&')}&C&A&R&P / &N"

    def sheet(self, name: str, columns: Sequence[Column], frozen: int = 1, printed: int = 0) -> Sheet:
        """Add a sheet. The heading row and `frozen` columns stay in sight; `printed`: first columns put on paper."""
        return Sheet(self, self._workbook.add_worksheet(name), columns, frozen, printed or len(columns))

    def style(self, look: Look) -> Format:
        """Return the one format that looks so."""
        if look not in self._formats:
            self._formats[look] = self._workbook.add_format({"valign": "top", **dict(look)})
        return self._formats[look]

    def close(self) -> bytes:
        """Return the finished file."""
        self._workbook.close()
        return self._bytes.getvalue()


class Sheet:
    """A table on a sheet of its own, written row by row from the top."""

    def __init__(self, book: Book, sheet: Worksheet, columns: Sequence[Column], frozen: int, printed: int):
        self._book, self._sheet, self._columns = book, sheet, columns
        self._widths = [
            column.width if column.blank else max(NARROWEST, *map(len, column.heading.split())) for column in columns
        ]
        self.rows = self._links = self._left_out = 0
        self.remark = ""  # what isn't on the sheet, told when it is finished
        sheet.freeze_panes(1, frozen)
        sheet.set_landscape()
        sheet.set_paper(book.paper)
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(0)
        sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
        sheet.set_footer(book.footer)
        self._printed = printed
        self._rule = RULE if any(column.wraps for column in columns) else ()  # rows of several lines need one between
        heading = book.style(HEADING)
        lines = (textwrap.wrap(column.heading, width) for column, width in zip(columns, self._widths, strict=True))
        sheet.set_row(0, LINE_HEIGHT * max(map(len, lines)))
        for at, column in enumerate(columns):
            sheet.write_string(0, at, column.heading, heading)

    def add(self, rows: Iterable[Sequence[Cell]]) -> None:
        """Write rows below those there are; what goes beyond the end of the sheet is counted for the remark."""
        for cells in rows:
            if self.rows >= MOST_ROWS - 2:  # the headings, and the last row for the remark
                self._left_out += 1
                continue
            self.rows += 1
            lines = max(map(self._lines, self._columns, cells), default=1) if self._rule else 1
            if lines > 1:  # not every spreadsheet program finds the height of a row by itself
                self._sheet.set_row(self.rows, min(LINE_HEIGHT * lines, TALLEST))
            for at, cell in enumerate(cells):
                if cell is not None and cell != "":
                    self._write(self.rows, at, cell)
                elif self._rule:
                    self._sheet.write_blank(self.rows, at, None, self._book.style(self._rule))

    def finish(self, remark: str = "") -> None:
        """Set widths, filters and what is printed; say in the last row what is left out: rows, links, `remark`."""
        counts = (
            (self._left_out, "more rows go beyond this sheet: findings.json and the documents hold them"),
            (self._links - MOST_LINKS, "more links go beyond what a sheet can hold: those cells are words alone"),
        )
        self.remark = "; ".join([f"{count} {words}" for count, words in counts if count > 0] + [remark] * bool(remark))
        self._sheet.autofilter(0, 0, self.rows, len(self._columns) - 1)
        if self.remark:
            self._sheet.write_string(self.rows + 1, 0, fitting(self.remark), self._book.style(ITALIC))
        self._sheet.print_area(0, 0, self.rows + bool(self.remark), self._printed - 1)
        for at, (column, width) in enumerate(zip(self._columns, self._widths, strict=True)):
            self._sheet.set_column(at, at, min(width + 2, column.width))

    def _lines(self, column: Column, cell: Cell) -> int:
        """Return the lines that a cell takes, by its characters: most are narrower than the digits widths count."""
        words = cell.words if isinstance(cell, Link | Marked) else cell
        if not column.wraps or not isinstance(words, str) or len(words) <= column.width - 2:
            return 1
        return sum(max(math.ceil(len(line) / column.width), 1) for line in words.split("\n"))

    def _write(self, row: int, at: int, cell: Cell) -> None:
        if isinstance(cell, str):
            self._write_text(row, at, cell)
        elif isinstance(cell, Figure):
            self._write_number(row, at, cell.value, cell.shown_as)
        elif isinstance(cell, int):
            self._write_number(row, at, cell, "0")
        elif isinstance(cell, date):
            # Spreadsheets count days, and show them as dates (ECMA-376 part 1, 18.17.4.1).
            self._widen(at, "30 September 2026")
            self._write_number(row, at, (cell - DAY_ZERO).days, self._book.date_format)
        elif isinstance(cell, Link):
            self._write_link(row, at, cell)
        else:
            look = (("bold", True), ("bg_color", cell.fill), ("font_color", cell.ink))
            self._write_text(row, at, cell.words, look)

    def _write_number(self, row: int, at: int, value: float | None, shown_as: str) -> None:
        look = (*ASIDE, *self._rule, *([("num_format", shown_as)] if shown_as else []))
        if value is not None and math.isfinite(value):
            self._sheet.write_number(row, at, value, self._book.style(look))
        elif self._rule:
            self._sheet.write_blank(row, at, None, self._book.style(self._rule))

    def _write_link(self, row: int, at: int, cell: Link) -> None:
        self._links += bool(cell.target)
        if not cell.target or self._links > MOST_LINKS:
            self._write_text(row, at, cell.words)
            return
        words = fitting(cell.words)
        self._widen(at, words)
        self._sheet.write_url(row, at, cell.target, self._text_style(at, words, LINK), words)

    def _write_text(self, row: int, at: int, words: str, look: Look = ()) -> None:
        words = fitting(words)
        self._widen(at, words)
        self._sheet.write_string(row, at, words, self._text_style(at, words, look))

    def _text_style(self, at: int, words: str, look: Look) -> Format:
        if self._columns[at].wraps:
            look = (*look, ("text_wrap", True))
        if words.startswith(FORMULA_STARTS):
            look = (*look, ("quote_prefix", True))
        return self._book.style((*look, *self._rule))

    def _widen(self, at: int, words: str) -> None:
        if len(words) > self._widths[at]:
            self._widths[at] = max(self._widths[at], *map(len, words.split("\n")))
