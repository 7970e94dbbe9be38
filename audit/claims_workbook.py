"""The claims workbook that a person fills in: headings, a row of explanation, drop-downs, and two sheets to read.

Only the sheet `claims` has the headings in its first row, so only that one is ever read. The row of explanation
is a remark (`audit.claims.REMARK`) and claims nothing.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from audit.claims import REMARK
from audit.model import POINT_FIELDS, RELATIONS, STATISTICS, TEST_OBJECTS, Quantity
from audit.units import offered

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

LAST_ROW = 1000  # as far as the drop-downs reach
# Column of a claims sheet -> its width in characters, and what to write in it (at most 255 characters: a limit of
# the input messages, ECMA-376 part 1, 18.3.1.32).
COLUMNS: Mapping[str, tuple[int, str]] = {
    "claim_id": (
        12,
        "A name of your own for the claim, such as C1; every row has another. "
        f"A row with {REMARK} alone here, as in row 2, is a remark and no claim.",
    ),
    "product": (22, "Name of the product, as the reports give it. Blank where there is only one."),
    "test_object": (18, "What was measured. Blank: whatever isn't a package or a module."),
    "quantity": (26, "What is claimed: choose from the list. The sheet 'quantities' says what each is."),
    "relation": (18, "at_least, at_most: one number. between: value to value_to. within: value ± value_to."),
    "value": (16, "The limit, a number: 90 or 0.003. Blank where the claim gives none."),
    "value_to": (16, "The second number, for between and within only."),
    "unit": (16, "Unit of the numbers. Blank: the usual one, on the sheet 'quantities'."),
    "statistic": (
        20,
        "Does it hold for each unit, or for their mean? Blank: the usual one, on the sheet 'quantities'.",
    ),
    "definition": (18, "Which meaning, where a number can mean several: the list has them, if any."),
    "used_in": (18, "The luminaire that holds this package or module."),
    "serial": (16, "Serial number, if the claim is about one unit only."),
    "hours": (17, "Hours of operation: a number, or a range such as 0 to 6000."),
    "level_percent": (17, "Level that is set, in per cent: 100, or 10 to 100."),
    "cct_setting_K": (18, "White that is set, in kelvin: 3000, or 2700 to 6500."),
    "hue_setting_deg": (18, "Hue that is set, in degrees: 120, or 0 to 360."),
    "saturation_setting_percent": (27, "Saturation that is set, in per cent: 100, or 50 to 100."),
    "scene": (16, "Name of the scene that is set."),
    "zone": (18, "Part of the luminaire, where zones are set apart."),
    "channel": (16, "One channel alone, such as red. Blank: all of them."),
    "control_value": (17, "What the control gives: 8.5, or 1 to 10."),
    "control_kind": (17, "What the control is, such as 0-10 V."),
    "ambient_C": (17, "Temperature of the room in °C: 25, or -10 to 40."),
    "case_C": (17, "Temperature at the measurement point in °C."),
    "drive_mA": (16, "Current through the LEDs in mA."),
    "repeat": (18, "Which of several measurements of one thing."),
    "population_percent": (
        24,
        "Share of production that has to meet it, in per cent: 95. Blank: the units tested are meant.",
    ),
    "source": (24, "Who says so, and where: data sheet, page 2."),
    "note": (44, "The claim in its own words."),
}
NEEDED = ("claim_id", "quantity", "relation", "value")
# One claim of every relation, and of what is most often left out.
EXAMPLES: Sequence[Mapping[str, str | float]] = (
    {"claim_id": "C1", "quantity": "ra", "relation": "at_least", "value": 90, "note": "CRI 90+"},
    {
        "claim_id": "C2",
        "quantity": "luminous_flux",
        "relation": "at_least",
        "value": 1100,
        "unit": "lm",
        "cct_setting_K": 3000,
        "note": "1,100 lm at 3000 K",
    },
    {
        "claim_id": "C3",
        "quantity": "duv",
        "relation": "within",
        "value": 0,
        "value_to": 0.003,
        "cct_setting_K": "2700 to 6500",
        "note": "on the black-body locus over its whole range",
    },
    {
        "claim_id": "C4",
        "quantity": "nominal_cct",
        "relation": "is",
        "value": 3000,
        "definition": "2015",
        "note": "nominal CCT 3000 K: its quadrangle of ANSI C78.377",
    },
    {
        "claim_id": "C5",
        "quantity": "cct",
        "relation": "between",
        "value": 2900,
        "value_to": 3100,
        "unit": "K",
        "cct_setting_K": 3000,
        "population_percent": 95,
        "note": "3000 K ± 100 K for 95 % of all units",
    },
    {
        "claim_id": "C6",
        "quantity": "dimmed_light_minimum",
        "relation": "at_most",
        "value": 1,
        "unit": "%",
        "definition": "measured",
        "note": "dims to 1 % of its light, as measured",
    },
    {
        "claim_id": "C7",
        "quantity": "flux_ratio",
        "relation": "at_least",
        "value": 90,
        "unit": "%",
        "hours": 6000,
        "note": "keeps 90 % of its light over 6,000 h",
    },
)
QUANTITY_HEADINGS: Mapping[str, int] = {
    "quantity": 26,
    "symbol": 11,
    "title": 46,
    "unit": 8,
    "better": 9,
    "statistic": 16,
    "blank conditions mean": 38,
    "units to choose": 9,
    "meanings to choose": 11,
}
FIRST_QUANTITY = 3  # row, below a title and the headings
LISTS = "quantities"
BLANK_CONDITIONS = {
    "rated": "full output, 25 °C, new, whole product",
    "any": "every state that was measured",
}
# Fills by what a column is about: the claim, where it holds, who says so. Dark below white letters, and their tints.
CLAIM, STATE, SOURCE = ("1F4E5F", "E3EEF1"), ("5B5A3C", "EFEEE2"), ("5A4560", "EEE8F0")
LINE_POINTS = 13.0  # height of a line of text
FONT = "Calibri"


def claims_workbook(known: Mapping[str, Quantity]) -> bytes:
    """Return an XLSX file with a claims sheet to fill in, examples, and the quantities that it can name."""
    from openpyxl import Workbook

    book = Workbook()
    sheet: Any = book.active
    sheet.title = "claims"
    widest = _lists(book, known)
    _claims(sheet, len(known), widest)
    _examples(book)
    book.move_sheet("examples", -1)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _claims(sheet: Worksheet, quantities: int, widest: Mapping[str, int]) -> None:
    from openpyxl.styles import Alignment

    explained = [REMARK, *(words for _, words in list(COLUMNS.values())[1:])]
    for at, (name, explanation) in enumerate(zip(COLUMNS, explained, strict=True), start=1):
        dark, tint = _fills(name)
        _heading(sheet.cell(1, at, name), dark)
        _explanation(sheet.cell(2, at, explanation), tint)
    _widths(sheet, [width for width, _ in COLUMNS.values()])
    for column in sheet.column_dimensions.values():
        column.alignment = Alignment(horizontal="left", indent=1)  # a number never touches the unit beside it
    lines = max(_lines(words, width) for words, (width, _) in zip(explained, COLUMNS.values(), strict=True))
    sheet.row_dimensions[1].height = 1.6 * LINE_POINTS
    sheet.row_dimensions[2].height = (lines + 0.6) * LINE_POINTS
    sheet.freeze_panes = "C3"
    _page(sheet, "$1:$2", "$A:$B", wide=3)
    for at, name in enumerate(COLUMNS, start=1):
        _input(sheet, at, name, quantities, widest)


def _fills(column: str) -> tuple[str, str]:
    """Return the dark fill and the tint of a column."""
    if column in POINT_FIELDS and column not in ("product", "test_object"):
        return STATE
    return SOURCE if column in ("population_percent", "source", "note") else CLAIM


def _input(sheet: Worksheet, at: int, name: str, quantities: int, widest: Mapping[str, int]) -> None:
    """Give the cells of a column their input message and, where there is one, their list."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    letter = get_column_letter(at)
    choice = _choice(name, quantities, widest)
    cells = DataValidation(
        type="list" if choice else None,
        formula1=choice,
        allow_blank=True,
        promptTitle=name + (" (needed)" if name in NEEDED[:3] else ""),
        prompt=COLUMNS[name][1],
        showInputMessage=True,
        # A unit may be spelled otherwise, and a plugin may know a quantity that wasn't there when this was made.
        showErrorMessage=bool(choice) and name not in ("unit", "definition"),
        errorStyle="warning" if name == "quantity" else "stop",
        errorTitle=name,
        error="Choose from the list: what isn't on it can't be judged.",
    )
    cells.add(f"{letter}3:{letter}{LAST_ROW}")
    sheet.add_data_validation(cells)


def _choice(name: str, quantities: int, widest: Mapping[str, int]) -> str | None:
    """Return what a column's cells can be, as a formula for row 3; None where anything can stand there."""
    fixed = {"relation": RELATIONS, "statistic": STATISTICS, "test_object": TEST_OBJECTS}
    if name in fixed:
        return f'"{",".join(fixed[name])}"'
    names = f"{LISTS}!$A${FIRST_QUANTITY}:$A${FIRST_QUANTITY + quantities - 1}"
    if name == "quantity":
        return names
    return _dependent_choice(name, names, widest) if name in widest else None


def _dependent_choice(name: str, names: str, widest: Mapping[str, int]) -> str:
    """Return the cells of the sheet of quantities with the units or meanings that the row's quantity can have."""
    from openpyxl.utils import get_column_letter

    quantity = get_column_letter(1 + list(COLUMNS).index("quantity"))
    first = 1 + list(QUANTITY_HEADINGS).index("units to choose") + (widest["unit"] if name == "definition" else 0)
    start = f"{LISTS}!${get_column_letter(first)}${FIRST_QUANTITY - 1},MATCH(${quantity}3,{names},0),0,1"
    return f"OFFSET({start},MAX(1,COUNTA(OFFSET({start},{widest[name]}))))"


def _lists(book: Workbook, known: Mapping[str, Quantity]) -> dict[str, int]:
    """Add the sheet of quantities; return how many cells the units and the meanings of one take."""
    from openpyxl.styles import Alignment, Border, Side

    sheet = book.create_sheet(LISTS)
    units = {name: offered(quantity.unit) for name, quantity in known.items()}
    widest = {
        "unit": max(map(len, units.values())),
        "definition": max(1, *(len(quantity.definitions) for quantity in known.values())),
    }
    _title(sheet, "What a claim can be about. The drop-downs of the sheet 'claims' use these lists.")
    *fixed, unit_heading, meaning_heading = QUANTITY_HEADINGS
    headings = [*fixed, unit_heading, *[""] * (widest["unit"] - 1), meaning_heading, *[""] * (widest["definition"] - 1)]
    for at, words in enumerate(headings, start=1):
        _heading(sheet.cell(FIRST_QUANTITY - 1, at, words), STATE[0] if at > len(fixed) else CLAIM[0])
    for row, (name, quantity) in enumerate(known.items(), start=FIRST_QUANTITY):
        cells = [
            name,
            quantity.symbol,
            quantity.title,
            quantity.unit,
            quantity.direction,
            quantity.statistic,
            BLANK_CONDITIONS.get(quantity.conditions, quantity.conditions),
            *_padded(units[name], widest["unit"]),
            *_padded(quantity.definitions, widest["definition"]),
        ]
        for at, text in enumerate(cells, start=1):
            cell = sheet.cell(row, at, text or None)
            cell.data_type = "s" if text else "n"  # a title of a plugin's that begins with = is no formula
            cell.alignment = Alignment(horizontal="left", indent=1)
            cell.border = Border(bottom=Side("hair", color="808080"))
    widths = list(QUANTITY_HEADINGS.values())
    _widths(sheet, [*widths[:-2], *[widths[-2]] * widest["unit"], *[widths[-1]] * widest["definition"]])
    sheet.freeze_panes = f"B{FIRST_QUANTITY}"
    _page(sheet, f"${FIRST_QUANTITY - 1}:${FIRST_QUANTITY - 1}", "$A:$A", wide=1)
    return widest


def _padded(texts: Sequence[str], width: int) -> list[str]:
    return [*texts, *[""] * (width - len(texts))]


def _examples(book: Workbook) -> None:
    from openpyxl.styles import Alignment

    sheet = book.create_sheet("examples")
    _title(sheet, "Examples: this sheet is never read. Write your own claims on the sheet 'claims', like these.")
    used = [name for name in COLUMNS if any(name in example for example in EXAMPLES)]
    for at, name in enumerate(used, start=1):
        _heading(sheet.cell(2, at, name), _fills(name)[0])
        for row, example in enumerate(EXAMPLES, start=3):
            if name in example:
                sheet.cell(row, at, example[name]).alignment = Alignment(horizontal="left", indent=1)
    _widths(sheet, [46 if name == "note" else COLUMNS[name][0] for name in used])
    sheet.freeze_panes = "A3"
    _page(sheet, "$2:$2", "$A:$A", wide=1)


def _title(sheet: Worksheet, words: str) -> None:
    from openpyxl.styles import Font

    sheet["A1"] = words
    sheet["A1"].font = Font(name=FONT, bold=True, size=12)
    sheet.row_dimensions[1].height = 2 * LINE_POINTS


def _heading(cell: Any, fill: str) -> None:
    from openpyxl.styles import Alignment, Font, PatternFill

    cell.font = Font(name=FONT, bold=True, color="FFFFFF")
    cell.fill = PatternFill("solid", fgColor=fill)
    cell.alignment = Alignment(horizontal="left", vertical="center", indent=1)


def _explanation(cell: Any, fill: str) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    cell.font = Font(name=FONT, size=9, color="333333")
    cell.fill = PatternFill("solid", fgColor=fill)
    cell.alignment = Alignment(wrap_text=True, horizontal="left", vertical="top", indent=1)
    cell.border = Border(bottom=Side("thin", color="808080"))


def _widths(sheet: Worksheet, widths: Iterable[int]) -> None:
    from openpyxl.utils import get_column_letter

    for at, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(at)].width = width


def _lines(words: str, width: int) -> int:
    """Return how many lines a text takes in a column, at the small size of the explanations."""
    import textwrap

    return len(textwrap.wrap(words, round(1.15 * width)))


def _page(sheet: Worksheet, rows: str, columns: str, wide: int) -> None:
    """Lay a sheet out for paper: landscape A4, so many pages wide, headings on each."""
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = wide, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.page_margins.left = sheet.page_margins.right = sheet.page_margins.top = sheet.page_margins.bottom = 0.4
    sheet.print_title_rows, sheet.print_title_cols = rows, columns
