"""The Planckian locus, and the correlated colour temperature and Duv nearest to it.

Definition (CIE 15:2018, 9.5): the CCT is the temperature of the Planckian radiator whose chromaticity is
nearest in the (u', 2/3 v') diagram, that is in the CIE 1960 (u, v) diagram; Duv is that distance, positive
above the locus. The locus is summed over 360 nm to 830 nm at 1 nm with c2 = 1.4388e-2 m K (CIE 15:2004).

It is tabulated with its derivatives at every reciprocal megakelvin; between two entries a cubic Hermite
polynomial is exact to 1e-12 in u and v. The foot of the perpendicular is found by bisection over the table
and Newton's method in the cell, for all points at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from .tables import WAVELENGTH_NM, Array, observer_2deg

#: Second radiation constant of ITS-90 as CIE 15:2004 uses it, in m K.
C2 = 1.4388e-2
#: Range of CCT, in K, and largest distance from the locus, for which a CCT is stated. The distance is the
#: limit of CIE 15:2018, 9.5; the range is our setting.
CCT_RANGE_K = (1000.0, 20000.0)
DUV_LIMIT = 0.05

#: Table of reciprocal temperature in 1/MK, one cell wider than the range at both ends.
_MIRED: Array = np.arange(49.0, 1002.0)


@dataclass(frozen=True)
class Foot:
    """The nearest points of the locus: temperature (1/MK), Duv, their derivatives by u and v, (n,) each."""

    mired: Array
    duv: Array
    mired_by_u: Array
    mired_by_v: Array
    duv_by_u: Array
    duv_by_v: Array


def spectral_radiance(temperature_K: Array, wavelength_nm: Array) -> Array:
    """Relative spectral radiance of Planckian radiators, (n, m), from temperatures (n,) and wavelengths (m,).

    Planck's law (CIE 15:2018, eq. for S(lambda, T)) without its constant factor; 1 at 560 nm.
    """
    exponent = np.multiply.outer(1.0 / temperature_K, C2 / (wavelength_nm * 1e-9))
    at_560 = np.expm1(C2 / 560e-9 / temperature_K)
    radiance = np.expm1(exponent, out=exponent)
    np.divide(np.multiply.outer(at_560, (560.0 / wavelength_nm) ** 5), radiance, out=radiance)
    return radiance


@cache
def _locus() -> tuple[Array, Array, Array, Array]:
    """u, v and their derivatives by reciprocal temperature at every entry of the table, (953,) each."""
    slope = C2 * 1e-6 / (WAVELENGTH_NM * 1e-9)
    radiance = spectral_radiance(1e6 / _MIRED, WAVELENGTH_NM)
    growth = slope / -np.expm1(-np.outer(_MIRED, slope))
    # the constant factor of spectral_radiance differs from row to row, but cancels within a row
    xyz, xyz_slope = radiance @ observer_2deg(), -(radiance * growth) @ observer_2deg()
    to_uvd = np.array([[4.0, 0.0, 1.0], [0.0, 6.0, 15.0], [0.0, 0.0, 3.0]])
    u, v, d = (xyz @ to_uvd).T
    u_slope, v_slope, d_slope = (xyz_slope @ to_uvd).T
    return u / d, v / d, (u_slope - u * d_slope / d) / d, (v_slope - v * d_slope / d) / d


def nearest(u: Array, v: Array) -> Foot:
    """The foot on the locus of each point (u, v) of the CIE 1960 diagram, (n,) each. NaN in, NaN out.

    Points nearest to a temperature beyond the table come out beyond ``CCT_RANGE_K``; the caller refuses them.
    """
    cell = _cell(u, v)
    s = np.full(u.shape, 0.5)
    for _ in range(4):
        (cu, cv), (tu, tv), (bu, bv) = _hermite(cell, s)
        advance = ((u - cu) * tu + (v - cv) * tv) / (tu * tu + tv * tv - (u - cu) * bu - (v - cv) * bv)
        s = np.clip(s + advance, -1.0, 2.0)
    (cu, cv), (tu, tv), (bu, bv) = _hermite(cell, s)
    length = np.hypot(tu, tv)
    curvature = length**2 - (u - cu) * bu - (v - cv) * bv
    return Foot(
        mired=_MIRED[cell] + s,
        duv=(tu * (v - cv) - tv * (u - cu)) / length,
        mired_by_u=tu / curvature,
        mired_by_v=tv / curvature,
        duv_by_u=-tv / length,
        duv_by_v=tu / length,
    )


def point(cct_K: Array, duv: Array) -> tuple[Array, Array]:
    """u and v of the CIE 1960 diagram of lights with ``cct_K`` and ``duv``, (n,) each; the inverse of ``nearest``.

    NaN in, NaN out; NaN too outside ``CCT_RANGE_K`` and beyond ``DUV_LIMIT``.
    """
    known = (cct_K >= CCT_RANGE_K[0]) & (cct_K <= CCT_RANGE_K[1]) & (np.abs(duv) <= DUV_LIMIT)
    mired = 1e6 / np.where(known, cct_K, CCT_RANGE_K[0])
    cell = np.minimum((mired - _MIRED[0]).astype(np.intp), _MIRED.size - 2)
    (cu, cv), (tu, tv), _ = _hermite(cell, mired - _MIRED[cell])
    off = np.where(known, duv, np.nan) / np.hypot(tu, tv)
    return cu - off * tv, cv + off * tu


def _cell(u: Array, v: Array) -> NDArray[np.intp]:
    """Index of the table's cell that holds the foot: the projection on the tangent changes sign in it."""
    table_u, table_v, slope_u, slope_v = _locus()
    low = np.zeros(u.shape, dtype=np.intp)
    high = np.full(u.shape, _MIRED.size - 1)
    while (high - low > 1).any():
        middle = (low + high) // 2
        ahead = (u - table_u[middle]) * slope_u[middle] + (v - table_v[middle]) * slope_v[middle] > 0
        low, high = np.where(ahead, middle, low), np.where(ahead, high, middle)
    return low


def _hermite(cell: NDArray[np.intp], s: Array) -> tuple[tuple[Array, Array], ...]:
    """The locus (u, v) at the place ``s`` in a cell, its first and its second derivative by 1/MK."""
    table_u, table_v, slope_u, slope_v = _locus()
    point, first, second = [], [], []
    for table, slope in ((table_u, slope_u), (table_v, slope_v)):
        start, rise = table[cell], table[cell + 1] - table[cell]
        c1 = slope[cell]
        c2 = 3 * rise - 2 * c1 - slope[cell + 1]
        c3 = c1 + slope[cell + 1] - 2 * rise
        point.append(start + s * (c1 + s * (c2 + s * c3)))
        first.append(c1 + s * (2 * c2 + s * 3 * c3))
        second.append(2 * c2 + s * 6 * c3)
    return tuple(point), tuple(first), tuple(second)  # type: ignore[return-value]
