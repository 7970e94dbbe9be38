"""Dominant and complementary wavelength and excitation purity (CIE 15:2018, 9.1; IEV 845-23).

The line from the white point through the chromaticity is followed to the boundary of the CIE 1931 diagram. Where
it meets the spectral locus, that is the dominant wavelength; where it meets the purple line the colour has none,
only a complementary one, on the locus in the opposite direction. Excitation purity is
pe = (x - xn) / (xd - xn) = (y - yn) / (yd - yn), by the formula with the larger numerator, xd, yd being the
point on the boundary, for purples that on the purple line.

The locus runs from 380 nm to 699 nm (our cut): below, it scarcely moves; from 699 nm the 1 nm table of the
observer stands still to 1e-7, so that its end is also that of 780 nm. The purple line joins these ends; cut at
360 nm instead it would move the purity of a magenta by 0.001. Between the 1 nm entries x and y follow the cubic
through the four nearest, tabulated at 0.05 nm: from 420 nm to 680 nm this agrees to 0.001 nm with Sprague's
interpolation of the observer, from which straight lines between the entries depart by 0.012 nm. Towards the ends
the locus moves by less than 0.0003 per nm: a wavelength there is as uncertain as the last digit of x and y.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from .spectra import Mask, Texts, add, texts
from .tables import WAVELENGTH_NM, Array, observer_2deg

#: White points in CIE 1931 x, y: the equal-energy stimulus (by definition), CIE D65 as rounded in CIE 15, and that
#: of the EU's ecodesign regulation on light sources.
WHITE_POINTS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"E": (1 / 3, 1 / 3), "D65": (0.3127, 0.3290), "EU 2019/2020": (0.333, 0.333)}
)
#: Ends of the spectral locus in nm, and the step at which it is tabulated.
CUT_NM = (380.0, 699.0)
STEP_NM = 0.05
#: Distance in x, y within which a colour has no direction from the white point, or still lies on the boundary: a
#: digit of the fourth decimal, as chromaticities are printed (our setting).
RESOLUTION = 1e-4
#: Step in x and y of the central differences.
DIFFERENCE = 1e-5


@dataclass(frozen=True)
class Purity:
    """Wavelengths and purity of n chromaticities; every array has shape (n,).

    ``dominant_nm`` in nm, NaN for purples; ``complementary_nm`` in nm, NaN where the opposite direction meets the
    purple line; ``excitation_purity`` as a fraction, 0 to 1; ``boundary_x``, ``boundary_y``: the point of the
    boundary behind it. ``refused``: (n,) texts why a colour has neither, "" where it has.
    """

    dominant_nm: Array
    complementary_nm: Array
    excitation_purity: Array
    boundary_x: Array
    boundary_y: Array
    refused: Texts


def purity(x: ArrayLike, y: ArrayLike, white: tuple[float, float] = WHITE_POINTS["E"]) -> Purity:
    """Wavelengths and purity of CIE 1931 ``x``, ``y`` (n,) about the point ``white`` (x, y).

    Refused within 1e-4 of the white point, and outside the spectral locus and purple line by more than that.
    NaN in, NaN out, without a reason. ValueError where the white point itself lies outside.
    """
    if not in_gamut(*white).all():
        raise ValueError(f"the white point x = {white[0]:g}, y = {white[1]:g} is no colour of light; state another")
    x, y = np.broadcast_arrays(*(np.atleast_1d(np.asarray(item, dtype=np.float64)) for item in (x, y)))
    dx, dy = x - white[0], y - white[1]
    distance = np.hypot(dx, dy)
    forward_nm, end_x, end_y = _boundary(dx, dy, white)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_x = np.abs(dx) >= np.abs(dy)
        pe = np.where(by_x, dx, dy) / np.where(by_x, end_x - white[0], end_y - white[1])
    beyond = distance - np.hypot(end_x - white[0], end_y - white[1])
    refused = texts(x.size)
    add(refused, distance <= RESOLUTION, "it is the white point itself, which has no dominant wavelength")
    add(refused, beyond > RESOLUTION, "it lies outside the spectral locus: no light has this x and y; ask for both")
    kept = (refused == "") & ~np.isnan(distance)
    opposite_nm = _boundary(-dx, -dy, white)[0]
    values = (forward_nm, opposite_nm, np.minimum(pe, 1.0), end_x, end_y)
    nm, complementary_nm, pe, end_x, end_y = (np.where(kept, value, np.nan) for value in values)
    return Purity(nm, complementary_nm, pe, end_x, end_y, refused)


def propagate(
    x: ArrayLike,
    y: ArrayLike,
    u_x: ArrayLike,
    u_y: ArrayLike,
    correlation: ArrayLike = 0.0,
    white: tuple[float, float] = WHITE_POINTS["E"],
) -> dict[str, Array]:
    """Standard uncertainties of dominant_wavelength and complementary_wavelength in nm and of excitation_purity.

    First order from those of ``x`` and ``y`` (n,), by central differences (JCGM 100:2008, 5.1.3 note 2). The nearer
    the white point, the larger they are: its neighbours have every direction. NaN where ``purity`` gives nothing.
    """
    x, y, u_x, u_y, r = (np.atleast_1d(np.asarray(item, float)) for item in (x, y, u_x, u_y, correlation))
    by = []
    for dx, dy in ((DIFFERENCE, 0.0), (0.0, DIFFERENCE)):
        above, below = purity(x + dx, y + dy, white), purity(x - dx, y - dy, white)
        fields = ("dominant_nm", "complementary_nm", "excitation_purity")
        by.append([(getattr(above, name) - getattr(below, name)) / (2 * DIFFERENCE) for name in fields])
    names = ("dominant_wavelength", "complementary_wavelength", "excitation_purity")
    return {
        name: np.sqrt((by_x * u_x) ** 2 + (by_y * u_y) ** 2 + 2 * r * by_x * u_x * by_y * u_y)
        for name, by_x, by_y in zip(names, *by, strict=True)
    }


def in_gamut(x: ArrayLike, y: ArrayLike) -> Mask:
    """Whether ``x``, ``y`` (any one shape) lie within the spectral locus and the purple line, to 1e-4.

    False for NaN, and so for all that no light can have, such as x + y > 1.
    """
    white = WHITE_POINTS["E"]
    dx, dy = np.asarray(x, dtype=np.float64) - white[0], np.asarray(y, dtype=np.float64) - white[1]
    _, end_x, end_y = _boundary(dx, dy, white)
    inside = np.hypot(dx, dy) <= np.hypot(end_x - white[0], end_y - white[1]) + RESOLUTION
    return np.asarray(inside | ((dx == 0) & (dy == 0)))


@cache
def _locus() -> tuple[Array, Array]:
    """Wavelengths in nm (m,) from end to end of the cut, and the locus in x, y (m, 2)."""
    observer = observer_2deg()
    xy = observer[:, :2] / observer.sum(axis=1, keepdims=True)
    steps = round((CUT_NM[1] - CUT_NM[0]) / STEP_NM)
    nm = np.linspace(*CUT_NM, steps + 1)
    cell = np.floor(nm - WAVELENGTH_NM[0] + 1e-9).astype(np.intp)
    t = nm - WAVELENGTH_NM[cell]
    # Lagrange's cubic through the entries before, at, after and two after
    weights = (-t * (t - 1) * (t - 2) / 6, (t * t - 1) * (t - 2) / 2, -t * (t + 1) * (t - 2) / 2, t * (t * t - 1) / 6)
    fine = sum(weight[:, None] * xy[cell + at] for at, weight in zip((-1, 0, 1, 2), weights, strict=True))
    return nm, np.asarray(fine)


def _boundary(dx: Array, dy: Array, white: tuple[float, float]) -> tuple[Array, Array, Array]:
    """Wavelength, x and y where rays from ``white`` along dx, dy leave the diagram; on the purple line NaN nm."""
    nm, locus = _locus()
    spoke = locus - np.asarray(white)
    # seen from inside, the locus turns clockwise from violet to red
    turned = -np.unwrap(np.arctan2(spoke[:, 1], spoke[:, 0]))
    sought = (-np.arctan2(dy, dx) - turned[0]) % (2 * np.pi)
    ahead = np.searchsorted(turned - turned[0], np.where(np.isnan(sought), 0.0, sought))
    on_purple = ahead == nm.size
    after = np.where(on_purple, 0, np.maximum(ahead, 1))
    before = np.where(on_purple, nm.size - 1, np.maximum(ahead, 1) - 1)
    start, edge = spoke[before], spoke[after] - spoke[before]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (start[..., 1] * dx - start[..., 0] * dy) / (edge[..., 0] * dy - edge[..., 1] * dx)
    end = np.asarray(white) + start + share[..., None] * edge
    wavelength = np.where(on_purple, np.nan, nm[before] + share * (nm[after] - nm[before]))
    return wavelength, end[..., 0], end[..., 1]
