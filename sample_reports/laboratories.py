"""The same figures as five laboratories would send them: each function is the habit of one.

Facts about product, samples and laboratory stand where such documents have them: in the block above the table,
on a cover sheet, in titles and headings. A laboratory that took spectra for another one's report names that report
and who issued it. All names are invented.
"""

from __future__ import annotations

import csv
import io
import statistics
from collections.abc import Mapping, Sequence
from pathlib import Path

from led_model import Spectrum
from workbook import Cell, Figure, Page, write_workbook

Row = Mapping[str, "str | float"]
Table = list[list[str]]

DECIMALS = {"ambient": 1, "flux": 1, "U_flux": 1, "power": 2, "U_power": 2, "efficacy": 1, "U_efficacy": 1, "pf": 3,
            "thd": 1, "x": 4, "U_x": 4, "y": 4, "U_y": 4, "cct": 0, "ra": 1}  # fmt: skip
WORKBOOK_GROUPS = {
    "": [("Serial", "serial"), ("Ambient (°C)", "ambient")],
    "Photometric": [
        ("Flux (lm)", "flux"),
        ("U(Flux) (lm)", "U_flux"),
        ("Efficacy (lm/W)", "efficacy"),
        ("U(Efficacy) (lm/W)", "U_efficacy"),
    ],
    "Electrical": [
        ("Power (W)", "power"),
        ("U(Power) (W)", "U_power"),
        ("PF", "pf"),
        ("THDi (%)", "thd"),
    ],
    "Colorimetric": [
        ("x", "x"),
        ("U(x)", "U_x"),
        ("y", "y"),
        ("U(y)", "U_y"),
        ("CCT (K)", "cct"),
        ("Ra", "ra"),
    ],
}
STATISTICS = {"Mean": statistics.mean, "Min": min, "Max": max, "SD": statistics.stdev}


def german_photometry(path: Path, rows: Sequence[Row]) -> Path:
    """Semicolons, decimal commas and Windows' own encoding; keys above the table, notes and a page mark below."""
    columns = {
        "Prüfling": "serial",
        "Umgebungstemperatur [°C]": "ambient",
        "Lichtstrom [lm]": "flux",
        "U(Lichtstrom) [lm]": "U_flux",
        "Systemleistung [W]": "power",
        "U(Systemleistung) [W]": "U_power",
        "Lichtausbeute [lm/W]": "efficacy",
        "U(Lichtausbeute) [lm/W]": "U_efficacy",
        "Leistungsfaktor": "pf",
        "THDi [%]": "thd",
        "x": "x",
        "U(x)": "U_x",
        "y": "y",
        "U(y)": "U_y",
        "ähnliche Farbtemperatur [K]": "cct",
        "Farbwiedergabeindex Ra": "ra",
    }
    head = [
        ["Lichttechnisches Prüflabor Schilfrohr"],
        ["Prüfbericht:", "LR-0417"],
        ["Prüflabor:", "Lichttechnisches Prüflabor Schilfrohr"],
        ["Akkreditierung:", "ISO/IEC 17025, Nr. PL-2290"],
        ["Auftraggeber:", "Merrowmarsh Museum"],
        ["Hersteller:", "Oddmere Lamp Works"],
        ["Modell:", "Withyline 12"],
        ["Test object:", "luminaire (Leuchte)"],
        ["Sample origin:", "four of a delivery of sixty, drawn by lot"],
        ["Versorgung:", "230 V AC, 50 Hz"],
        ["Prüfdatum:", "24.03.2026"],
        ["gemessen nach EN 13032-4"],
        [],
    ]
    foot = [[], ["U: erweiterte Messunsicherheit, k = 2"], ["Seite 1 von 1"]]
    body = [[_printed(row, key).replace(".", ",") for key in columns.values()] for row in rows]
    return _write_text(path, [*head, list(columns), *body, *foot], mark=";", end="\r\n", encoding="cp1252")


def spectra_down_with_units(path: Path, rows: Sequence[Row], nm: Spectrum, spectra: Sequence[Spectrum]) -> Path:
    """Tabs under a workbook's ending: a row per wavelength, a column per unit, units in a row of their own."""
    head = [
        ["Quernstow Spectral Services, spectra taken at the sphere of the issuing laboratory"],
        ["Report number", "LR-0417"],
        ["Laboratory", "Lichttechnisches Prüflabor Schilfrohr"],
        ["Accreditation", "ISO/IEC 17025, certificate no. PL-2290"],
        ["Product", "Withyline 12"],
        ["Test object", "luminaire"],
        ["Sample origin", "four of a delivery of sixty, drawn by lot"],
        ["Measured on", "2026-03-24"],
        [],
        ["Wavelength", *(f"{row['serial']}, Ta {_printed(row, 'ambient')} °C" for row in rows)],
        ["nm", *["mW/nm"] * len(rows)],
    ]
    return _write_text(path, [*head, *_turned(nm, spectra)], mark="\t", end="\r\n", pad=False)


def workbook_by_setting(path: Path, rows: Sequence[Row]) -> Path:
    """A cover sheet, then a sheet per CCT setting with a titled table per level and statistics below the units."""
    cover = Page("Report")
    cover.title("Photometric and electrical test of a tunable downlight", 2)
    cover.rows += [
        ["Report number", "LR-0431"],
        ["Laboratory", "Hollinfen Photometric Laboratory"],
        ["Accreditation", "ISO/IEC 17025, certificate no. HF-0088"],
        ["Client", "Merrowmarsh Museum"],
        ["Manufacturer", "Eelgarth Lighting"],
        ["Product", "Plovermark T"],
        ["Test object", "luminaire"],
        ["Sample origin", "five of a delivery of forty, drawn by lot"],
        ["Method", "ANSI/IES LM-79-19"],
        ["Supply", "230 V AC, 50 Hz"],
        ["Date of test", "2026-04-14"],
    ]
    settings = dict.fromkeys(float(row["setting"]) for row in rows)
    pages = [_setting_page(setting, [row for row in rows if row["setting"] == setting]) for setting in settings]
    return write_workbook(path, [cover, *pages])


def _setting_page(setting: float, rows: Sequence[Row]) -> Page:
    keys = [key for members in WORKBOOK_GROUPS.values() for _, key in members]
    headings = [heading for members in WORKBOOK_GROUPS.values() for heading, _ in members]
    groups = [group if at == 0 else "" for group, members in WORKBOOK_GROUPS.items() for at in range(len(members))]
    page = Page(f"{setting:.0f} K")
    page.title("Plovermark T, photometric and electrical results", len(keys))
    for level in dict.fromkeys(float(row["level"]) for row in rows):
        units = [row for row in rows if row["level"] == level]
        page.rows.append([])
        page.title(f"{setting:.0f} K, {level:.0f} %", len(keys))
        for group, members in WORKBOOK_GROUPS.items():
            if group:
                page.merge(len(page.rows), groups.index(group), len(members))
        page.rows += [groups, headings]
        page.rows += [[_figure(row, key) for key in keys] for row in units]
        page.rows += [[name, *(_statistic(units, key, name) for key in keys[1:])] for name in STATISTICS]
    return page


def _figure(row: Row, key: str) -> Cell:
    value = row[key]
    return value if isinstance(value, str) else Figure(value, DECIMALS[key])


def _statistic(units: Sequence[Row], key: str, name: str) -> Cell:
    if key.startswith("U_"):
        return ""
    return Figure(STATISTICS[name]([float(_printed(row, key)) for row in units]), DECIMALS[key])


def spectra_down_by_setting(path: Path, rows: Sequence[Row], nm: Spectrum, spectra: Sequence[Spectrum]) -> Path:
    """A matrix of spectra with a row per wavelength: the unit over its states, the states over their spectra."""
    serials = [str(row["serial"]) for row in rows]
    head = [
        ["Tarnside Colour Bench, spectra taken at the sphere of the issuing laboratory"],
        ["Report number", "LR-0431"],
        ["Laboratory", "Hollinfen Photometric Laboratory"],
        ["Accreditation", "ISO/IEC 17025, certificate no. HF-0088"],
        ["Product", "Plovermark T"],
        ["Test object", "luminaire"],
        ["Sample origin", "five of a delivery of forty, drawn by lot"],
        ["Measured on", "2026-04-14"],
        [],
        ["", *(serial if at == 0 or serials[at - 1] != serial else "" for at, serial in enumerate(serials))],
        ["Wavelength", *map(_state, rows)],
        ["nm", *["mW/nm"] * len(rows)],
    ]
    return _write_text(path, [*head, *_turned(nm, spectra)], pad=False)


def _state(row: Row) -> str:
    return f"{row['setting']:.0f} K {row['level']:.0f} % Ta {_printed(row, 'ambient')} °C"


def endurance_across(path: Path, kept: Mapping[str, Mapping[int, float]]) -> Path:
    """Hours as headings, a row per unit, average and extremes below; what was measured stands in the title."""
    hours = list(next(iter(kept.values())))
    body = {unit: [f"{values[hour]:.1f}" for hour in hours] for unit, values in kept.items()}
    columns = [[float(figures[at]) for figures in body.values()] for at in range(len(hours))]
    head = [
        ["Laboratory:", "Eelgarth Lighting, test room"],
        ["Standing:", "maker's laboratory"],
        ["Report number:", "E-77"],
        ["Product:", "Plovermark T"],
        ["Test object:", "luminaire"],
        ["Sample origin:", "pilot run"],
        ["CCT setting (K):", "4000"],
        ["Level (%):", "100"],
        ["Ambient (°C):", "25.0"],
        [],
        ["Luminous flux maintenance (%)"],
        ["Unit", *(f"{hour} h" for hour in hours)],
    ]
    summaries = {"Avg": statistics.mean, "Min": min, "Max": max}
    foot = [[name, *(f"{of(column):.1f}" for column in columns)] for name, of in summaries.items()]
    return _write_text(path, [*head, *([unit, *figures] for unit, figures in body.items()), *foot])


def workbook_by_temperature(path: Path, sets: Mapping[float, Mapping[str, Mapping[int, float]]]) -> Path:
    """A maker of LEDs: a cover, then a sheet per case temperature; units down, hours across, as flux."""
    cover = Page("Report")
    cover.title("Lumen maintenance test of LED packages", 2)
    cover.rows += [
        ["Report number", "SR-80-0116"],
        ["Laboratory", "Saltreach LED Reliability Laboratory"],
        ["Accreditation", "ISO/IEC 17025, certificate no. SR-0031"],
        ["Manufacturer", "Saltreach LED"],
        ["Product", "Reedmace P3"],
        ["Used in", "Plovermark T"],
        ["Test object", "LED package"],
        ["Sample origin", "25 for each temperature, drawn from three production lots"],
        ["Method", "ANSI/IES LM-80-15"],
        ["Test period", "2024-11-04 to 2025-11-19"],
    ]
    pages = [cover]
    for celsius, units in sets.items():
        hours = list(next(iter(units.values())))
        page = Page(f"Ts {celsius:.0f} °C")
        page.title(f"Reedmace P3, Ts = {celsius:.0f} °C, If = 350 mA", len(hours) + 1)
        page.title("Luminous flux (lm)", len(hours) + 1)
        page.rows.append(["LED no.", *(f"{hour} h" for hour in hours)])
        page.rows += [[unit, *(Figure(flux[hour], 2) for hour in hours)] for unit, flux in units.items()]
        columns = [[round(flux[hour], 2) for flux in units.values()] for hour in hours]
        page.rows += [[name, *(Figure(of(column), 2) for column in columns)] for name, of in STATISTICS.items()]
        pages.append(page)
    return write_workbook(path, pages)


def in_situ(path: Path, rows: Sequence[Row]) -> Path:
    """One line per luminaire: what its LEDs meet inside it."""
    head = [
        ["Hollinfen Photometric Laboratory, in-situ temperature measurement"],
        ["Report number", "LR-0440"],
        ["Laboratory", "Hollinfen Photometric Laboratory"],
        ["Accreditation", "ISO/IEC 17025, certificate no. HF-0088"],
        ["Product", "Plovermark T"],
        ["Test object", "luminaire"],
        ["Sample origin", "five of a delivery of forty, drawn by lot"],
        ["Date of test", "2026-04-21"],
        [],
        ["Serial", "Ambient (°C)", "Level (%)", "LED drive current (mA)", "LED case temperature (°C)"],
    ]
    keys = {"serial": "", "ambient": ".1f", "level": ".0f", "drive": ".0f", "case": ".1f"}
    return _write_text(path, [*head, *([format(row[key], form) for key, form in keys.items()] for row in rows)])


def hours_down(path: Path, rows: Sequence[Row]) -> Path:
    """A line per unit and reading: flux and chromaticity over the hours."""
    head = [
        ["Hollinfen Photometric Laboratory, flux and colour over hours of operation"],
        ["Report number", "LR-0466"],
        ["Laboratory", "Hollinfen Photometric Laboratory"],
        ["Accreditation", "ISO/IEC 17025, certificate no. HF-0088"],
        ["Product", "Plovermark T"],
        ["Test object", "luminaire"],
        ["Sample origin", "five of the pilot run, chosen by the maker"],
        ["Method", "ANSI/IES LM-84-20"],
        ["CCT setting (K)", "4000"],
        ["Level (%)", "100"],
        ["Ambient (°C)", "25"],
        ["Date of issue", "2026-05-08"],
        [],
        ["Serial", "Hours (h)", "Flux (lm)", "x", "y"],
    ]
    keys = ("flux", "x", "y")
    body = ([str(row["serial"]), f"{row['hours']:.0f}", *(_printed(row, key) for key in keys)] for row in rows)
    return _write_text(path, [*head, *body])


def _printed(row: Row, key: str) -> str:
    value = row[key]
    return value if isinstance(value, str) else f"{value:.{DECIMALS[key]}f}"


def _turned(nm: Spectrum, spectra: Sequence[Spectrum]) -> Table:
    """Return a row per wavelength (nm) with a column per spectrum (mW/nm)."""
    return [
        [f"{wavelength:g}", *(f"{power:.4f}" for power in powers)]
        for wavelength, powers in zip(nm, zip(*spectra, strict=True), strict=True)
    ]


def _write_text(
    path: Path, table: Table, mark: str = ",", end: str = "\n", encoding: str = "utf-8", pad: bool = True
) -> Path:
    """Write a table as text; `pad`: every line as long as the longest, as spreadsheets export it."""
    width = max(map(len, table))
    text = io.StringIO()
    lines = ([*line, *[""] * (width - len(line))] if pad else line for line in table)
    csv.writer(text, delimiter=mark, lineterminator=end).writerows(lines)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.getvalue().encode(encoding))
    return path
