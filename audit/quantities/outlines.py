"""Curves of the chromaticity diagram in CIE 1976 u', v': loci, quadrangles, steps and uncertainties, to be drawn.

Every function returns u', v' as an array (..., 2). Nothing is judged with them; the probabilities of ``steps`` and
``white_point`` are exact.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from . import steps, white_point
from .chromaticity import xy_to_uv_prime
from .planckian import spectral_radiance
from .reference_illuminants import daylight_xy
from .tables import WAVELENGTH_NM, Array, observer_2deg


def planckian_locus(temperature_K: ArrayLike) -> Array:
    """Planckian radiators at ``temperature_K`` (n,) in K, summed as in ``planckian``."""
    radiance = spectral_radiance(np.asarray(temperature_K, dtype=np.float64), WAVELENGTH_NM)
    xyz = radiance @ observer_2deg()
    return _uv(xyz[:, 0] / xyz.sum(axis=1), xyz[:, 1] / xyz.sum(axis=1))


def daylight_locus(temperature_K: ArrayLike) -> Array:
    """CIE daylight phases at ``temperature_K`` (n,), 4,000 K to 25,000 K (CIE 15:2018)."""
    return _uv(*daylight_xy(np.asarray(temperature_K, dtype=np.float64)))


def quadrangle(nominal_K: float, edition: str) -> Array:
    """Corners (4, 2) of the ANSI C78.377 quadrangle. Its straight edges in x, y stay straight in u', v'.

    ValueError where the edition has no such nominal CCT.
    """
    table = white_point.quadrangles(edition)
    row = np.flatnonzero(table.nominal_K == nominal_K)
    if not row.size:
        raise ValueError(f"ANSI C78.377-{table.edition} has no nominal CCT of {nominal_K:g} K")
    return _uv(*table.corners[row[0]].T)


def ellipse(centre: steps.Centre, count: float, corners: int = 48) -> Array | None:
    """The ``count``-step ellipse about ``centre``, (corners, 2); None where there is no ellipse."""
    if centre.form is None:
        return None
    a, b, theta_deg = steps.axes(centre.form)
    along, across = count * a * np.cos(_turn(corners)), count * b * np.sin(_turn(corners))
    c, s = np.cos(np.radians(theta_deg)), np.sin(np.radians(theta_deg))
    return _uv(centre.x + along * c - across * s, centre.y + along * s + across * c)


def circle(centre: steps.Centre, count: float, corners: int = 48) -> Array:
    """The ``count``-step circle about ``centre``, (corners, 2)."""
    middle = _uv(centre.x, centre.y)
    turn = _turn(corners)
    return middle + count * steps.CIRCLE_STEP * np.stack([np.cos(turn), np.sin(turn)], -1)


def uncertainty(x: ArrayLike, y: ArrayLike, U_x: ArrayLike, U_y: ArrayLike, corners: int = 16) -> Array:
    """What the expanded uncertainties of x and y (n,), uncorrelated, span about them: (n, corners, 2)."""
    x, y, U_x, U_y = (np.asarray(item, dtype=np.float64)[:, None] for item in (x, y, U_x, U_y))
    turn = _turn(corners)
    return _uv(x + U_x * np.cos(turn), y + U_y * np.sin(turn))


def _turn(corners: int) -> Array:
    return np.linspace(0, 2 * np.pi, corners, endpoint=False)


def _uv(x: ArrayLike, y: ArrayLike) -> Array:
    return np.stack(xy_to_uv_prime(x, y), -1)
