"""Light that is set, coloured, recalled and dimmed, as laboratories would send it.

See `laboratories`: each function is the habit of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from led_model import Spectrum
from paper import Row, figure, printed, write_text
from workbook import Page, write_workbook


def colour_wheel(path: Path, rows: Sequence[Row]) -> Path:
    """A stage light bench: tabs, remarks for keys, a block of lines per unit with its serial above."""
    head = [
        ["# Fernholm Stage Light Laboratory"],
        ["# Report number: FSL 2026-118"],
        ["# Accreditation: ISO/IEC 17025, certificate no. FS-0407"],
        ["# Product: Plovermark T"],
        ["# Test object: luminaire"],
        ["# Sample origin: two of a delivery of forty, drawn by lot"],
        ["# Level: 100 %"],
        ["# Ambient: 25 °C"],
        ["# Number of channels: 5"],
        ["# Date of test: 2026-04-28"],
        ["# Note: U is expanded, k = 2"],
    ]
    columns = ["Serial", "Hue (deg)", "Saturation setting (%)", "u'", "U(u')", "v'", "U(v')", "Flux (lm)"]
    body = [
        [str(row["serial"]), f"{row['hue']:.0f}", f"{row['saturation']:.0f}", printed(row, "u_prime"), "0.0010",
         printed(row, "v_prime"), "0.0010", printed(row, "flux")]
        for row in rows
    ]  # fmt: skip
    return write_text(path, [*head, [], columns, *body], mark="\t", pad=False)


def scenes_by_zone(path: Path, full: Sequence[Row], rows: Sequence[Row]) -> Path:
    """A titled table per scene, a line per zone and recall; what the zones give at full output stands first.

    A scene with a zone in colour has no column of settings of white.
    """
    head = [
        ["Hollinfen Photometric Laboratory, scenes of the gallery"],
        ["Report number", "LR-0475"],
        ["Laboratory", "Hollinfen Photometric Laboratory"],
        ["Accreditation", "ISO/IEC 17025, certificate no. HF-0088"],
        ["Product", "Plovermark T"],
        ["Test object", "luminaire"],
        ["Sample origin", "one luminaire of each zone, chosen by the museum"],
        ["Number of channels", "5"],
        ["Ambient (°C)", "25"],
        ["Date of test", "2026-05-12"],
        ["Remark", "recall 1 from cold, recalls 2 and 3 after an hour at full output"],
    ]
    zone = {"Zone": "zone", "Serial": "serial"}
    setting = {"CCT setting (K)": "setting", "Level (%)": "level"}
    seen = {"Luminous flux (lm)": "flux", "CCT (K)": "cct", "x": "x", "U(x)": "U_x", "y": "y", "U(y)": "U_y"}
    table = [*head, [], ["Full output"], *_lines({**zone, **setting, **seen}, full)]
    for scene in dict.fromkeys(str(row["scene"]) for row in rows):
        own = [row for row in rows if row["scene"] == scene]
        stated = {head: key for head, key in setting.items() if all(row[key] != "" for row in own)}
        table += [[], [f"Scene: {scene}"], *_lines({**zone, **stated, "Recall": "recall", **seen}, own)]
    return write_text(path, table)


def channels_alone(path: Path, rows: Sequence[Row]) -> Path:
    """The maker's own list: a line per channel, alone, at full drive and at its drive in two settings."""
    head = [
        ["Laboratory:", "Eelgarth Lighting, test room"],
        ["Standing:", "maker's laboratory"],
        ["Report number:", "E-81"],
        ["Product:", "Plovermark T"],
        ["Test object:", "luminaire"],
        ["Number of channels:", "5"],
        ["Ambient (°C):", "25.0"],
        ["Hours:", "0"],
        [],
    ]
    columns = {
        "Serial": "serial", "CCT setting (K)": "setting", "Channel": "channel", "Level (%)": "percent",
        "Luminous flux (lm)": "flux", "x": "x", "y": "y",
    }  # fmt: skip
    return write_text(path, [*head, *_lines(columns, rows)], mark=";")


def dimming_by_unit(path: Path, rows: Sequence[Row]) -> Path:
    """A cover sheet, then a sheet per pendant with a line per level set, from full output downwards."""
    cover = Page("Cover")
    cover.title("Light, power and colour of a dimmed pendant", 2)
    cover.rows += [
        ["Report number", "SD-26-031"],
        ["Laboratory", "Saltcote Dimming Bench"],
        ["Accreditation", "ISO/IEC 17025, certificate no. SC-0152"],
        ["Client", "Merrowmarsh Museum"],
        ["Manufacturer", "Sallowfield Lamps"],
        ["Product", "Tealwick 9"],
        ["Test object", "luminaire"],
        ["Sample origin", "three of a delivery of twelve, drawn by lot"],
        ["Driver", "Sallowfield SF-12 D"],
        ["Dimmer", "Gannet 4 wall dial"],
        ["Number of channels", "2"],
        ["Supply", "230 V AC, 50 Hz"],
        ["Date of test", "2026-05-05"],
    ]
    columns = {
        "Level set (%)": "level", "Ta (°C)": "ambient", "Flux (lm)": "flux", "U(Flux) (lm)": "U_flux",
        "Power (W)": "power", "x": "x", "U(x)": "U_x", "y": "y", "U(y)": "U_y", "CCT (K)": "cct", "Duv": "duv",
    }  # fmt: skip
    pages = [cover]
    for serial in dict.fromkeys(str(row["serial"]) for row in rows):
        page = Page(serial)
        page.title(f"Serial: {serial}", len(columns))
        page.rows.append(list(columns))
        page.rows += [[figure(row, key) for key in columns.values()] for row in rows if row["serial"] == serial]
        pages.append(page)
    return write_workbook(path, pages)


def spectra_across(path: Path, rows: Sequence[Row], nm: Spectrum, spectra: Sequence[Spectrum]) -> Path:
    """A line per spectrum, what it is of in front, the wavelengths as headings."""
    head = [
        ["Curlew Spectroradiometry, spectra taken at the bench of the issuing laboratory"],
        ["Report number", "SD-26-031"],
        ["Laboratory", "Saltcote Dimming Bench"],
        ["Accreditation", "ISO/IEC 17025, certificate no. SC-0152"],
        ["Product", "Tealwick 9"],
        ["Test object", "luminaire"],
        ["Sample origin", "three of a delivery of twelve, drawn by lot"],
        ["Unit", "mW/nm"],
        ["Measured on", "2026-05-05"],
        [],
        ["Serial", "Level (%)", "Ta (°C)", *(f"{wavelength:g} nm" for wavelength in nm)],
    ]
    body = [
        [str(row["serial"]), printed(row, "level"), printed(row, "ambient"), *(f"{power:.4f}" for power in powers)]
        for row, powers in zip(rows, spectra, strict=True)
    ]
    return write_text(path, [*head, *body])


def record_in_time(path: Path, rows: Sequence[Row]) -> Path:
    """One pendant at its lowest, read every ten seconds."""
    head = [
        ["Saltcote Dimming Bench, record in time"],
        ["Report number", "SD-26-032"],
        ["Laboratory", "Saltcote Dimming Bench"],
        ["Accreditation", "ISO/IEC 17025, certificate no. SC-0152"],
        ["Product", "Tealwick 9"],
        ["Test object", "luminaire"],
        ["Sample origin", "three of a delivery of twelve, drawn by lot"],
        ["Driver", "Sallowfield SF-12 D"],
        ["Dimmer", "Gannet 4 wall dial"],
        ["Date of test", "2026-05-06"],
        [],
    ]
    columns = {"Serial": "serial", "Level (%)": "level", "Elapsed time (s)": "second", "Illuminance (lx)": "lux"}
    return write_text(path, [*head, *_lines(columns, rows)])


def arc_levels(path: Path, rows: Sequence[Row]) -> Path:
    """The maker's own curve: arc levels as sent on the bus, and the light that they give."""
    head = [
        ["Laboratory:", "Sallowfield Lamps, works bench"],
        ["Standing:", "maker's laboratory"],
        ["Report number:", "WB-9"],
        ["Product:", "Tealwick 9"],
        ["Test object:", "luminaire"],
        ["Driver:", "Sallowfield SF-12 D"],
        ["Dimmer:", "bus master of the works bench"],
        ["Dimming curve:", "logarithmic (IEC 62386-102)"],
        ["Physical minimum level:", "136"],
        [],
    ]
    columns = {"Serial": "serial", "Arc level": "arc", "Luminous flux (lm)": "flux"}
    return write_text(path, [*head, *_lines(columns, rows)], mark=";", end="\r\n")


def _lines(columns: dict[str, str], rows: Sequence[Row]) -> list[list[str]]:
    return [list(columns), *([printed(row, key) for key in columns.values()] for row in rows)]
