"""Make the measured documents of the sample folders; `led_model` holds the luminaires' physics.

Run `python sample_reports/make_samples.py` in the installed environment. The same script writes the same
bytes: the random numbers are seeded and drawn in a fixed order, and the workbook carries no clock. What the
laboratory sees carries its noise, and is rounded and given expanded uncertainties (k = 2) as a laboratory
prints them; their sizes are chosen to be plausible. Claims, READMEs and expected verdicts are written by hand.
"""

from __future__ import annotations

import csv
import io
import math
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
from led_model import K_M, NM, V_LAMBDA, Driver, Led, Luminaire, Spectrum, spread
from numpy.random import Generator

from audit.quantities.chromaticity import chromaticity
from audit.quantities.rendition import rendition

Row = dict[str, "str | float"]
Columns = Sequence[tuple[str, str, "int | None"]]

SEED = 417
STORE_ROOM = Luminaire(
    product="Withyline 12",
    warm=Led(pump_nm=452.8, green_nm=534, green=0.653, red_nm=612, red=0.622, efficiency=0.53),
    cool=None,
    driver=Driver(efficiency=0.91, idle_W=0.3, reactive_var=5.5, harmonics_W=2.6),
    strings_W=26.0,
)
GALLERY = Luminaire(
    product="Plovermark T",
    warm=Led(pump_nm=452.8, green_nm=530, green=1.386, red_nm=622, red=2.654, efficiency=0.415),
    cool=Led(pump_nm=452.8, green_nm=522, green=0.483, red_nm=622, red=0.312, efficiency=0.475),
    driver=Driver(efficiency=0.86, idle_W=0.4, reactive_var=2.3, harmonics_W=1.1),
    strings_W=10.6,
)
SETTINGS_K = (2700, 3000, 3500, 4000, 5000, 6500)
DIMMED_K, DIMMED = (2700, 4000, 6500), (0.5, 0.2)
ENDURANCE_HOURS = range(0, 6001, 1000)

# Heading, the row's key, printed decimals (None: text).
SAMPLE_COLUMNS = (
    ("Product", "product", None),
    ("Test object", "test_object", None),
    ("Serial", "serial", None),
)
SETTING_COLUMNS = (("CCT setting (K)", "setting", 0), ("Level (%)", "level", 0))
AMBIENT_COLUMN = (("Ambient (°C)", "ambient", 1),)
ORIGIN_COLUMNS = (
    ("Standing", "standing", None),
    ("Laboratory", "laboratory", None),
    ("Report number", "report", None),
    ("Sample origin", "origin", None),
)
PHOTOMETRY_COLUMNS = (
    ("Luminous flux (lm)", "flux", 1),
    ("U(Luminous flux) (lm)", "U_flux", 1),
    ("Input power (W)", "power", 2),
    ("U(Input power) (W)", "U_power", 2),
    ("Luminous efficacy (lm/W)", "efficacy", 1),
    ("U(Luminous efficacy) (lm/W)", "U_efficacy", 1),
    ("Power factor", "pf", 3),
    ("THD of current (%)", "thd", 1),
    ("x", "x", 4),
    ("U(x)", "U_x", 4),
    ("y", "y", 4),
    ("U(y)", "U_y", 4),
    ("CCT (K)", "cct", 0),
    ("Ra", "ra", 1),
)


def write(folder: Path) -> list[Path]:
    """Write the documents of both samples below `folder`; return their paths."""
    rng = np.random.default_rng(SEED)
    return [*_write_store_room(folder / "store_room", rng), *_write_gallery(folder / "gallery", rng)]


def _write_store_room(folder: Path, rng: Generator) -> list[Path]:
    origin = {
        "product": STORE_ROOM.product,
        "test_object": "luminaire",
        "standing": "accredited report",
        "laboratory": "Quernstow Photometric Laboratory",
        "report": "LR-0417",
        "origin": "four of a delivery of sixty, drawn by lot",
    }
    nm = NM[::5]
    rows, spectra = [], []
    for number in (12, 27, 31, 58):
        unit = STORE_ROOM.unit(rng)
        seen, power_mW = _measure(unit, 0.0, 1.0, nm, rng)
        rows.append({**origin, "serial": f"WL12-{number:04d}", **seen})
        spectra.append(power_mW)
    columns = (*SAMPLE_COLUMNS, *AMBIENT_COLUMN)
    return [
        _csv(folder / "LR-0417 photometry.csv", (*columns, *PHOTOMETRY_COLUMNS, *ORIGIN_COLUMNS), rows),
        _csv_spectra(folder / "LR-0417 spectra.csv", (*columns, *ORIGIN_COLUMNS), rows, nm, spectra),
    ]


def _write_gallery(folder: Path, rng: Generator) -> list[Path]:
    origin = {
        "product": GALLERY.product,
        "test_object": "luminaire",
        "standing": "accredited report",
        "laboratory": "Quernstow Photometric Laboratory",
        "report": "LR-0431",
        "origin": "five of a delivery of forty, drawn by lot",
    }
    shares = {setting: _cool_share(GALLERY, setting) for setting in SETTINGS_K}
    states = [(setting, 1.0) for setting in SETTINGS_K]
    states += [(setting, level) for level in DIMMED for setting in DIMMED_K]
    rows, spectra = [], []
    for number in (3, 9, 14, 22, 37):
        unit = GALLERY.unit(rng)
        for setting, level in states:
            seen, power_mW = _measure(unit, shares[setting], level, NM, rng)
            serial = f"PT-{number:04d}"
            rows.append({**origin, "serial": serial, "setting": setting, "level": 100 * level, **seen})
            spectra.append(power_mW)
    columns = (*SAMPLE_COLUMNS, *SETTING_COLUMNS, *AMBIENT_COLUMN)
    return [
        _xlsx(folder / "LR-0431 photometry.xlsx", (*columns, *PHOTOMETRY_COLUMNS, *ORIGIN_COLUMNS), rows),
        _csv_spectra(folder / "LR-0431 spectra.csv", (*columns, *ORIGIN_COLUMNS), rows, NM, spectra),
        _write_endurance(folder / "Eelgarth endurance 6000 h.csv", rng),
    ]


def _write_endurance(path: Path, rng: Generator) -> Path:
    """The maker's endurance test: a small rise at first, then exponential decay (the form of IES TM-21)."""
    rows: list[Row] = []
    for number in (101, 102, 103):
        decay_per_h, rise = spread(2.4e-6, 0.1, rng), spread(0.008, 0.2, rng)
        for hours in ENDURANCE_HOURS:
            kept = 100 * (1 + rise * (1 - math.exp(-hours / 600))) * math.exp(-decay_per_h * hours)
            noise = 0.05 * rng.standard_normal() if hours else 0.0
            rows.append(
                {
                    "product": GALLERY.product,
                    "test_object": "luminaire",
                    "serial": f"E{number}",
                    "setting": 4000,
                    "level": 100,
                    "ambient": 25.0,
                    "hours": hours,
                    "kept": kept + noise,
                    "standing": "maker's laboratory",
                    "laboratory": "Eelgarth Lighting, test room",
                    "report": "E-77",
                    "origin": "pilot run",
                }
            )
    kept_columns = (("Hours (h)", "hours", 0), ("Luminous flux maintenance (%)", "kept", 1))
    columns = (*SAMPLE_COLUMNS, *SETTING_COLUMNS, *AMBIENT_COLUMN, *kept_columns, *ORIGIN_COLUMNS)
    return _csv(path, columns, rows)


def _cool_share(luminaire: Luminaire, setting_K: float) -> float:
    """The share of current that the driver gives the cool string: found on the design, kept for all units."""
    low, high = 0.0, 1.0
    for _ in range(40):
        share = (low + high) / 2
        cct_K = chromaticity(luminaire.spectrum(share, 1.0, 25.0), NM).cct_K[0]
        low, high = (share, high) if cct_K < setting_K else (low, share)
    return round((low + high) / 2, 3)


def _measure(unit: Luminaire, cool_share: float, level: float, nm: Spectrum, rng: Generator) -> tuple[Row, Spectrum]:
    """What the laboratory reports of a unit in one state, and its spectrum on `nm` in mW/nm as printed."""
    ambient = round(25 + 0.2 * rng.standard_normal(), 1)
    light = unit.spectrum(cool_share, level, ambient) * (1 + 0.001 * rng.standard_normal())
    noise = 0.0015 * light * rng.standard_normal(NM.size) + 2e-5 * light.max() * rng.standard_normal(NM.size)
    power_mW = np.round(1e3 * np.interp(nm, NM, light + noise), 4)
    flux = K_M * float(light @ V_LAMBDA)
    power = unit.driver.power(unit.strings_W * level) * (1 + 0.0004 * rng.standard_normal())
    colour, rendered = chromaticity(power_mW, nm), rendition(power_mW, nm)
    row: Row = {
        "ambient": ambient,
        "flux": flux,
        "U_flux": 0.018 * flux,
        "power": power,
        "U_power": 0.003 * power,
        "efficacy": flux / power,
        "U_efficacy": 0.0183 * flux / power,
        "pf": unit.driver.power_factor(power),
        "thd": unit.driver.thd_percent(power),
        "x": float(colour.x[0]),
        "U_x": 0.0013,
        "y": float(colour.y[0]),
        "U_y": 0.0013,
        "cct": float(colour.cct_K[0]),
        "ra": float(rendered.ra[0]),
    }
    return row, power_mW


def _printed(row: Row, columns: Columns) -> list[str]:
    return [str(row[key]) if decimals is None else f"{row[key]:.{decimals}f}" for _, key, decimals in columns]


def _headings(columns: Columns) -> list[str]:
    return [heading for heading, _, _ in columns]


def _csv(path: Path, columns: Columns, rows: Sequence[Row]) -> Path:
    return _write_csv(path, [_headings(columns), *(_printed(row, columns) for row in rows)])


def _csv_spectra(path: Path, columns: Columns, rows: Sequence[Row], nm: Spectrum, spectra: Sequence[Spectrum]) -> Path:
    """A row per spectrum, a column per wavelength; spectral radiant power in mW/nm."""
    table = [_headings(columns) + [f"{value:g} nm" for value in nm]]
    for row, spectrum in zip(rows, spectra, strict=True):
        table.append(_printed(row, columns) + [f"{value:.4f}" for value in spectrum])
    return _write_csv(path, table)


def _write_csv(path: Path, table: Sequence[Sequence[str]]) -> Path:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(table)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.getvalue().encode())
    return path


# The least parts of a workbook (ECMA-376, part 1): written here, stored without compression and undated,
# because what a library writes changes with its version and its clock.
XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
SHEET_NS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE_NS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_NS = "http://schemas.openxmlformats.org/package/2006"
TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"
FORMATS = ("0", "0.0", "0.00", "0.000", "0.0000")


def _xlsx(path: Path, columns: Columns, rows: Sequence[Row]) -> Path:
    """A workbook of one sheet: texts, and numbers with the format that shows their printed decimals."""
    body = [[_text(heading) for heading in _headings(columns)]]
    for row in rows:
        cells = zip(_printed(row, columns), columns, strict=True)
        body.append(
            [
                _text(text) if decimals is None else f'<c s="{decimals + 1}"><v>{float(text)!r}</v></c>'
                for text, (_, _, decimals) in cells
            ]
        )
    lines = "".join(f"<row>{''.join(cells)}</row>" for cells in body)
    path.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for name, xml in _workbook_parts("Photometry", lines).items():
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), XML + xml)
    return path


def _text(text: str) -> str:
    return f'<c t="inlineStr"><is><t>{escape(text)}</t></is></c>'


def _workbook_parts(sheet: str, lines: str) -> Mapping[str, str]:
    part = '<Override PartName="/xl/{}.xml" ContentType="' + TYPES + '.{}+xml"/>'
    link = '<Relationship Id="rId{}" Type="' + OFFICE_NS + '/{}" Target="{}"/>'
    formats = "".join(f'<numFmt numFmtId="{170 + i}" formatCode="{code}"/>' for i, code in enumerate(FORMATS))
    style = '<xf numFmtId="{}" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>'
    styles = "".join(style.format(170 + i) for i in range(len(FORMATS)))
    return {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE_NS}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f"{part.format('workbook', 'sheet.main')}{part.format('sheet1', 'worksheet')}"
        f"{part.format('styles', 'styles')}</Types>",
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE_NS}/relationships">'
        f"{link.format(1, 'officeDocument', 'xl/workbook.xml')}</Relationships>",
        "xl/workbook.xml": f'<workbook xmlns="{SHEET_NS}" xmlns:r="{OFFICE_NS}"><sheets>'
        f'<sheet name="{escape(sheet)}" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE_NS}/relationships">'
        f"{link.format(1, 'worksheet', 'sheet1.xml')}{link.format(2, 'styles', 'styles.xml')}"
        "</Relationships>",
        "xl/sheet1.xml": f'<worksheet xmlns="{SHEET_NS}"><sheetData>{lines}</sheetData></worksheet>',
        "xl/styles.xml": f'<styleSheet xmlns="{SHEET_NS}"><numFmts count="{len(FORMATS)}">{formats}</numFmts>'
        '<fonts><font/></fonts><fills><fill><patternFill patternType="none"/></fill></fills>'
        "<borders><border/></borders>"
        f'<cellStyleXfs count="1"><xf/></cellStyleXfs><cellXfs><xf xfId="0"/>{styles}</cellXfs>'
        '<cellStyles><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>',
    }


if __name__ == "__main__":
    for written in write(Path(__file__).parent):
        print(f"{written.stat().st_size:>9,} bytes  {written}")
