"""Light and colour over hours of operation, and what ageing depends on, as laboratories would send them.

See `laboratories`: each function is the habit of one.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from pathlib import Path

from paper import Row, printed, write_text
from workbook import Figure, Page, write_workbook

STATISTICS = {"Mean": statistics.mean, "Min": min, "Max": max, "SD": statistics.stdev}


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
    return write_text(path, [*head, *([unit, *figures] for unit, figures in body.items()), *foot])


def workbook_by_temperature(path: Path, sets: Mapping[float, Mapping[str, Mapping[int, float]]]) -> Path:
    """A maker of LEDs: a cover, then a sheet per case temperature; units down, hours across."""
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
        ["Sample origin", "20 for each temperature, drawn from three production lots"],
        ["Method", "ANSI/IES LM-80-15"],
        ["Test period", "2024-11-04 to 2025-11-19"],
    ]
    pages = [cover]
    for celsius, units in sets.items():
        hours = list(next(iter(units.values())))
        page = Page(f"Ts {celsius:.0f} °C")
        page.title(f"Reedmace P3, Ts = {celsius:.0f} °C, If = 350 mA", len(hours) + 1)
        page.title("Luminous flux maintenance (%)", len(hours) + 1)
        page.rows.append(["LED no.", *(f"{hour} h" for hour in hours)])
        page.rows += [[unit, *(Figure(kept[hour], 2) for hour in hours)] for unit, kept in units.items()]
        columns = [[round(kept[hour], 2) for kept in units.values()] for hour in hours]
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
    return write_text(path, [*head, *([format(row[key], form) for key, form in keys.items()] for row in rows)])


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
    body = ([str(row["serial"]), f"{row['hours']:.0f}", *(printed(row, key) for key in keys)] for row in rows)
    return write_text(path, [*head, *body])


def channels_by_sheet(path: Path, kept: Mapping[str, Mapping[str, Mapping[int, float]]]) -> Path:
    """The maker's test room: a sheet per channel, units down and hours across, as per cent of the first reading."""
    cover = Page("Report")
    cover.title("Channels over hours of operation", 2)
    cover.rows += [
        ["Laboratory", "Eelgarth Lighting, test room"],
        ["Standing", "maker's laboratory"],
        ["Report number", "E-82"],
        ["Product", "Plovermark T"],
        ["Test object", "luminaire"],
        ["Sample origin", "ten of the pilot run; every channel at full drive, read alone"],
        ["Number of channels", "5"],
        ["Level (%)", "100"],
        ["Ambient (°C)", "25"],
    ]
    pages = [cover]
    for channel, units in kept.items():
        hours = list(next(iter(units.values())))
        page = Page(channel)
        page.title(f"Channel: {channel}", len(hours) + 1)
        page.title("Luminous flux maintenance (%)", len(hours) + 1)
        page.rows.append(["Serial", *(f"{hour} h" for hour in hours)])
        page.rows += [[unit, *(Figure(of[hour], 1) for hour in hours)] for unit, of in units.items()]
        pages.append(page)
    return write_workbook(path, pages)
