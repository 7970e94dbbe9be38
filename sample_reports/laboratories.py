"""The same figures as laboratories would send them: each function is the habit of one.

Facts about product, samples and laboratory stand where such documents have them: in the block above the table,
on a cover sheet, in titles and headings. A laboratory that took spectra for another one's report names that report
and who issued it. All names are invented.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from pathlib import Path

from led_model import Spectrum
from paper import DECIMALS, Row, figure, printed, turned, write_text
from workbook import Cell, Figure, Page, write_workbook

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
    body = [[printed(row, key).replace(".", ",") for key in columns.values()] for row in rows]
    return write_text(path, [*head, list(columns), *body, *foot], mark=";", end="\r\n", encoding="cp1252")


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
        ["Wavelength", *(f"{row['serial']}, Ta {printed(row, 'ambient')} °C" for row in rows)],
        ["nm", *["mW/nm"] * len(rows)],
    ]
    return write_text(path, [*head, *turned(nm, spectra)], mark="\t", end="\r\n", pad=False)


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
        page.rows += [[figure(row, key) for key in keys] for row in units]
        page.rows += [[name, *(_statistic(units, key, name) for key in keys[1:])] for name in STATISTICS]
    return page


def _statistic(units: Sequence[Row], key: str, name: str) -> Cell:
    if key.startswith("U_"):
        return ""
    return Figure(STATISTICS[name]([float(printed(row, key)) for row in units]), DECIMALS[key])


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
    return write_text(path, [*head, *turned(nm, spectra)], pad=False)


def _state(row: Row) -> str:
    return f"{row['setting']:.0f} K {row['level']:.0f} % Ta {printed(row, 'ambient')} °C"
