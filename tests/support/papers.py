"""Documents of the sizes that arrive in practice, written for the benchmark: every one with numbers of its own.

A table of results has 10 to 100 rows, one of endurance (ANSI/IES LM-80) some thousand cells, one of spectra 5 to 60
spectra of 401 wavelengths: common practice, not a rule of any standard. Every second one is a workbook.
"""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

KEYS = (
    ("Report number", "LR-{number}"),
    ("Laboratory", "Hollinfen Photometric Laboratory"),
    ("Product", "Plovermark T"),
    ("Method", "ANSI/IES LM-79-19"),
    ("Date of test", "2026-04-14"),
)
RESULTS = {
    "Ambient (°C)": (25.0, 0.3, 1),
    "Luminous flux (lm)": (1210.0, 12.0, 1),
    "U(Luminous flux) (lm)": (22.0, 0.3, 1),
    "Input power (W)": (12.7, 0.05, 2),
    "Efficacy (lm/W)": (95.6, 0.8, 1),
    "PF": (0.98, 0.002, 3),
    "THDi (%)": (8.6, 0.2, 1),
    "x": (0.38, 0.002, 4),
    "y": (0.377, 0.002, 4),
    "CCT (K)": (4010.0, 20.0, 0),
    "Duv": (0.0012, 0.0003, 4),
    "Ra": (93.5, 0.4, 1),
    "R9": (60.0, 2.0, 1),
}
MAINTENANCE = (("Luminous flux maintenance (%)", 100.0, -0.4, 2), ("Chromaticity shift Δu'v'", 0.0, 0.0002, 4))
SETTINGS_K = (2700, 3000, 3500, 4000, 5000, 6500)
HOURS = (0, 500, *range(1000, 10_001, 1000))
FIRST_NM, LAST_NM = 380, 780


def results(folder: Path, number: int) -> Path:
    """Write a table of 10 to 100 units and settings under thirteen headings, below a report's keys."""
    made = random.Random(f"results {number}")
    heads = ["Serial", "CCT setting (K)", "Level (%)", *RESULTS]
    rows = []
    for row in range(made.randrange(10, 101)):
        measured = [round(made.gauss(value, spread), digits) for value, spread, digits in RESULTS.values()]
        rows.append([f"U{number:03}-{row // len(SETTINGS_K):02}", SETTINGS_K[row % len(SETTINGS_K)], 100, *measured])
    return _write(folder / f"LR-{number} photometry", number, [*_keys(number), [], heads, *rows])


def endurance(folder: Path, number: int) -> Path:
    """Write twelve inspections of 20 to 40 packages at three temperatures, in six tables of some thousand cells."""
    made = random.Random(f"endurance {number}")
    rows: list[list[Any]] = [*_keys(number), ["Test object", "LED package"], []]
    for temperature in (55, 85, 105):
        units = made.randrange(20, 41)
        for title, start, drift, digits in MAINTENANCE:
            rows += [[title], [f"Tc = {temperature} °C"], ["Unit", *(f"{hours} h" for hours in HOURS)]]
            for unit in range(units):
                drifts = [start + step * drift * abs(made.gauss(1, 0.2)) for step in range(len(HOURS))]
                rows.append([f"{temperature}-{unit + 1}", *(round(value, digits) for value in drifts)])
            rows.append([])
    return _write(folder / f"LR-{number} endurance", number, rows)


def spectra(folder: Path, number: int) -> Path:
    """Write 5 to 60 spectra of 401 wavelengths: a row or a column each."""
    made = random.Random(f"spectra {number}")
    axis = range(FIRST_NM, LAST_NM + 1)
    rows: list[list[Any]] = [["Serial", "CCT setting (K)", *(f"{wavelength} nm" for wavelength in axis)]]
    for unit in range(made.randrange(5, 61)):
        peak = made.gauss(600.0, 5.0)
        light = [
            1e-3 * math.exp(-(((nm - peak) / 80) ** 2)) + 5e-4 * math.exp(-(((nm - 452) / 12) ** 2)) for nm in axis
        ]
        serial = f"U{number:03}-{unit // len(SETTINGS_K):02}"
        rows.append([serial, SETTINGS_K[unit % len(SETTINGS_K)], *(float(f"{value:.4e}") for value in light)])
    if number % 4 > 1:
        heads = ["Wavelength (nm)", *(f"{serial} {setting} K" for serial, setting, *_ in rows[1:])]
        rows = [heads, *map(list, zip(axis, *(row[2:] for row in rows[1:]), strict=True))]
    return _write(folder / f"LR-{number} spectra", number, rows)


def _keys(number: int) -> list[list[Any]]:
    return [[key, value.format(number=number)] for key, value in KEYS]


def _write(path: Path, number: int, rows: Sequence[Sequence[Any]]) -> Path:
    """Write a table as a workbook or, where the number is odd, as CSV."""
    if number % 2:
        path = path.with_suffix(".csv")
        with path.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(rows)
        return path
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet("Results")
    for row in rows:
        sheet.append(list(row))
    path = path.with_suffix(".xlsx")
    book.save(path)
    return path
