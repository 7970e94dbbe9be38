"""The published tables of colorimetry, one CSV each in ``data/``.

Every file starts with ``#`` lines naming its standard, edition and status, then one heading row whose
first column is the wavelength in nm. The tables are read on first use and kept; callers must not write
into them, so the arrays are read-only.

Formulae and constants of this package were checked against two independent libraries; the clause numbers of
standards quoted in its docstrings are MEMORY: recalled, not re-read.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DATA = Path(__file__).with_name("data")

#: The 1 nm scale on which every sum of chromaticity runs (CIE 15:2018, 360 nm to 830 nm).
WAVELENGTH_NM: Array = np.arange(360.0, 831.0)
WAVELENGTH_NM.flags.writeable = False

#: The part of it that the rendition methods use (CIE 13.3-1995 and CIE 224:2017, 380 nm to 780 nm).
VISIBLE = slice(20, 421)


@cache
def load(name: str) -> tuple[Array, Array]:
    """Read ``data/<name>.csv``.

    Returns wavelengths in nm, shape (m,), and the columns of the table, shape (m, k), in the file's unit.
    """
    heading = 0
    with (DATA / f"{name}.csv").open(encoding="utf-8") as lines:
        while next(lines).startswith("#"):
            heading += 1
    table = np.loadtxt(DATA / f"{name}.csv", delimiter=",", skiprows=heading + 1, encoding="utf-8")
    table.flags.writeable = False
    return table[:, 0], table[:, 1:]


@cache
def observer_2deg() -> Array:
    """Colour-matching functions of the CIE 1931 2-degree observer on ``WAVELENGTH_NM``, shape (471, 3)."""
    return load("cie1931_2deg_cmf")[1]


@cache
def observer_10deg() -> Array:
    """Colour-matching functions of the CIE 1964 10-degree observer on ``WAVELENGTH_NM``, shape (471, 3)."""
    return load("cie1964_10deg_cmf")[1]


@cache
def daylight_components() -> Array:
    """S0, S1, S2 of the CIE daylight phases from 380 to 780 nm in steps of 1 nm, shape (401, 3).

    Interpolated linearly, as CIE 15:2018 lays down for these three functions.
    """
    wavelength_nm, components = load("cie_daylight_components")
    visible_nm = WAVELENGTH_NM[VISIBLE]
    return np.stack([np.interp(visible_nm, wavelength_nm, column) for column in components.T], axis=1)


@cache
def colour_evaluation_samples() -> Array:
    """Spectral radiance factors of the 99 CES of CIE 224:2017, 380 to 780 nm in steps of 1 nm, (401, 99)."""
    return load("cie224_colour_evaluation_samples")[1]
