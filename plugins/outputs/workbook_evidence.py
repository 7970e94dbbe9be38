"""The sheets of findings.xlsx that hold what the findings rest on: readings, spectra and documents."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from audit import Report, wording
from audit.habit import beside
from audit.model import FIELD_UNITS
from plugins.outputs import text
from plugins.outputs.cells import (
    MOST_COLUMNS,
    Book,
    Cell,
    Column,
    Figure,
    Link,
    Sheet,
    dated,
    decimal,
    file_link,
    shortest,
)

MOST_SPECTRAL_VALUES = 500_000  # a workbook with more of them opens slowly

Row = Mapping[str, Any]


def titled(name: str) -> str:
    """Return a quantity's title and its symbol, where the title doesn't hold it."""
    title, symbol = text.quantity_title(name), text.quantity_symbol(name)
    return title if not symbol or symbol in title else f"{title} {symbol}"


def decimals_of(item: Row, limits: Sequence[float] = ()) -> int:
    """Return the decimals that a finding or a reading is shown with."""
    value = item["value"]
    return 0 if value is None else text.decimals_for(value, item["expanded_uncertainty"], item["quantity"], limits)


def in_other_units(report: Report, item: Row) -> str:
    """Return the value in the unit that the reader's habit sets beside ours, "" where there is none."""
    value = item["value"]
    other = None if value is None else beside(report.habit, value, item["unit"])
    return f"{wording.fixed(other[0], decimals_of(item) + 1)} {other[1]}" if other else ""


def readings_sheet(book: Book, report: Report) -> Sheet:
    """Add the sheet of readings."""
    points = _Points(report, report.readings)
    elsewhere = any(each["unit"] in report.habit.beside for each in report.readings)
    defined = any(each["definition"] for each in report.readings)
    library = report.second_opinion["library"] if report.second_opinion else ""
    columns = [
        Column("product", 22),
        Column("quantity", 40),
        Column("value", 14),
        Column("± (k = 2)", 10),
        Column("unit", 10),
        *([Column(library, 14), Column("difference", 14)] if library else []),
        *([Column("in other units", 16)] if elsewhere else []),
        *([Column("definition", 16)] if defined else []),
        Column("origin", 10),
        *points.columns,
        Column("document", 34),
        Column("place", 30),
        Column("text there", 26),
        Column("bears on", 40),
    ]
    titles = {each["quantity"]: titled(each["quantity"]) for each in report.readings}
    claims = _claims_by_reading(report)
    sheet = book.sheet("readings", columns, frozen=2)
    sheet.add(
        [
            each["product"],
            titles[each["quantity"]],
            decimal(each["value"], decimals_of(each)),
            decimal(each["expanded_uncertainty"], decimals_of(each)),
            wording.with_unit("", each["unit"]).strip(),
            *(_second(each) if library else []),
            *([in_other_units(report, each)] if elsewhere else []),
            *([each["definition"]] if defined else []),
            each["origin"],
            *points.cells(each["operating_point"]),
            Link(each["document"], file_link(report.way, each["document"], each["sheet"], each["cell"])),
            each["place"],
            each["raw"],
            ", ".join(claims.get(text.reading_key(each), ())),
        ]
        for each in report.readings
    )
    sheet.finish()
    return sheet


def _second(reading: Row) -> list[Cell]:
    """What another library gives for a reading, and how far that is from ours."""
    return [
        decimal(reading["library_value"], decimals_of(reading) + 1),
        Figure(reading["library_difference"], "+0.0E+00;-0.0E+00;0"),
    ]


def _claims_by_reading(report: Report) -> Mapping[tuple[Any, ...], list[str]]:
    """Return what tells a reading -> the claims that it bears on, with its role in each."""
    found: dict[tuple[Any, ...], list[str]] = defaultdict(list)
    for finding in text.in_order(report.findings):
        for each in finding["evidence"]:
            found[text.reading_key(each)].append(f"{finding['claim_id']} ({each['role']})")
    return found


class _Points:
    """The columns of operating points: the fields that any row states, and other units beside them."""

    def __init__(self, report: Report, rows: Sequence[Row]):
        stated = {name for each in rows for name in each["operating_point"]}
        self._habit = report.habit
        self._names = [name for name in wording.FIELD_WORDS if name in stated]

    @property
    def columns(self) -> list[Column]:
        columns = []
        for name in self._names:
            unit = FIELD_UNITS.get(name, "")
            words = wording.FIELD_WORDS[name].removeprefix("the ")
            units = [unit, *([self._habit.beside[unit]] if unit in self._habit.beside else [])]
            columns += [Column(f"{words} ({each})" if each else words, 16) for each in units]
        return columns

    def cells(self, point: Row) -> list[Cell]:
        cells: list[Cell] = []
        for name in self._names:
            value, unit = point.get(name), FIELD_UNITS.get(name, "")
            cells.append(shortest(value) if isinstance(value, float) else value)
            if unit in self._habit.beside:
                other = beside(self._habit, value, unit) if isinstance(value, float) else None
                cells.append(decimal(other[0], 1) if other else None)
        return cells


def spectra_sheet(book: Book, report: Report) -> Sheet:
    """Add the sheet of spectra: a row each, a column per wavelength that any of them has."""
    points = _Points(report, report.spectra)
    columns = [
        Column("product", 22),
        *points.columns,
        Column("kind", 14),
        Column("unit", 12),
        Column("from (nm)", 9),
        Column("to (nm)", 9),
        Column("values", 8),
        Column("document", 34),
        Column("place", 30),
    ]
    described = len(columns)
    axes = {id(each["grid"]): each["grid"].wavelength_nm.tolist() for each in report.spectra}
    wavelengths = sorted({wavelength for axis in axes.values() for wavelength in axis})[: MOST_COLUMNS - described]
    column_of = {wavelength: at for at, wavelength in enumerate(wavelengths)}
    most = max(MOST_SPECTRAL_VALUES // max(len(wavelengths), 1), 1)
    shown = report.spectra[:most]
    sheet = book.sheet("spectra", columns + [Column(f"{each:.10g}", 11) for each in wavelengths], 1, described)
    for each in shown:
        axis = axes[id(each["grid"])]
        numbers: list[Cell] = [None] * len(wavelengths)
        for wavelength, power in zip(axis, each["grid"].power[each["row"]].tolist(), strict=True):
            if wavelength in column_of:
                numbers[column_of[wavelength]] = Figure(power)
        link = Link(each["document"], file_link(report.way, each["document"], each["sheet"], each["cell"]))
        ends = (shortest(axis[0]), shortest(axis[-1]), len(axis))
        described_cells = [each["product"], *points.cells(each["operating_point"]), each["kind"], each["unit"], *ends]
        sheet.add([[*described_cells, link, each["place"], *numbers]])
    sheet.finish(_left_out(len(report.spectra) - len(shown), axes, len(wavelengths)))
    return sheet


def _left_out(spectra: int, axes: Mapping[int, Sequence[float]], wavelengths: int) -> str:
    missing = len({wavelength for axis in axes.values() for wavelength in axis}) - wavelengths
    parts = [
        f"{wording.counted(spectra, 'more spectrum is', 'more spectra are')} in the documents" if spectra else "",
        f"{wording.counted(missing, 'more wavelength is', 'more wavelengths are')} in the documents" if missing else "",
    ]
    return "; ".join(part for part in parts if part)


def documents_sheet(book: Book, report: Report) -> Sheet:
    """Add the sheet of documents."""
    columns = [
        Column("document", 38, True),
        Column("used as", 12),
        Column("standing", 20, True),
        Column("report number", 16),
        Column("laboratory", 30, True),
        Column("accreditation", 30, True),
        Column("method", 24, True),
        Column("tested on", 20),
        Column("issued on", 20),
        Column("product", 22, True),
        Column("read by", 30, True),
        Column("values", 8),
        Column("spectra", 8),
        Column("SHA-256", 68),
    ]
    values = Counter(each["document"] for each in report.readings)
    spectra = Counter(each["document"] for each in report.spectra)
    sheet = book.sheet("documents", columns)
    sheet.add(
        [
            Link(each["path"], file_link(report.way, each["path"])),
            each["role"],
            each["standing"],
            each["report_number"],
            each["laboratory"],
            each["accreditation"],
            each["method"],
            dated(each["date_tested"]),
            dated(each["date_issued"]),
            each["product"],
            each["reader"] if each["role"] != "not read" else "",
            values[each["path"]],
            spectra[each["path"]],
            each["sha256"],
        ]
        for each in sorted(report.inputs, key=lambda each: text.natural(each["path"]))
    )
    sheet.finish()
    return sheet
