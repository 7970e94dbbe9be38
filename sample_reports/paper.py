"""Paper for the laboratories: figures with their printed decimals, tables turned, text as programs export it."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from led_model import Spectrum
from workbook import Cell, Figure

Row = Mapping[str, "str | float"]
Table = list[list[str]]

DECIMALS = {"ambient": 1, "flux": 1, "U_flux": 1, "power": 2, "U_power": 2, "efficacy": 1, "U_efficacy": 1, "pf": 3,
            "thd": 1, "x": 4, "U_x": 4, "y": 4, "U_y": 4, "u_prime": 4, "v_prime": 4, "cct": 0, "duv": 4, "ra": 1,
            "level": 0, "percent": 1, "setting": 0, "second": 0, "arc": 0, "lux": 2}  # fmt: skip


def printed(row: Row, key: str) -> str:
    """A value as text with its decimals."""
    value = row[key]
    return value if isinstance(value, str) else f"{value:.{DECIMALS[key]}f}"


def figure(row: Row, key: str) -> Cell:
    """A value for a cell of a workbook."""
    value = row[key]
    return value if isinstance(value, str) else Figure(value, DECIMALS[key])


def turned(nm: Spectrum, spectra: Sequence[Spectrum]) -> Table:
    """Return a row per wavelength (nm) with a column per spectrum (mW/nm)."""
    return [
        [f"{wavelength:g}", *(f"{power:.4f}" for power in powers)]
        for wavelength, powers in zip(nm, zip(*spectra, strict=True), strict=True)
    ]


def write_text(
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
