"""What mixing can do: the chord of two channels, and the gamut, white range and greatest flux of several.

Light of several channels adds (Grassmann's laws, CIE 15:2018, 3): tristimulus values are sums, so mixtures of two
lie on the straight line between them in any linear chromaticity diagram, here CIE 1976 u', v', and those of several
in the polygon about them. The Planckian locus is curved, so that a line between two whites on it lies below it.
Additivity is broken where a channel's spectrum changes with its drive; ``additivity`` measures that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from . import planckian
from .chromaticity import cct_duv, xy_to_uv_prime
from .tables import WAVELENGTH_NM, Array, observer_2deg

#: Points along a chord; the worst one is refined by a parabola through its neighbours.
POINTS = 513
#: Step of the differences by which the uncertainty of the ends is carried, in x and y.
STEP = 1e-5
#: Area in u', v' below which channels lie on one line: that of a triangle of rounding errors, and far below a step.
FLAT_AREA = 1e-9


@dataclass(frozen=True)
class Chord:
    """Mixtures of two lights, from the first to the second: arrays (POINTS,) in CIE 1976 u', v'; CCT in K; Duv.

    ``worst_duv``, ``worst_cct_K``: the mixture furthest from the Planckian locus between the ends; NaN where an end
    has no CCT. ``u_worst_duv``: standard uncertainty that the ends carry into it.
    """

    u_prime: Array
    v_prime: Array
    cct_K: Array
    duv: Array
    worst_duv: float
    worst_cct_K: float
    u_worst_duv: float


class Whites(NamedTuple):
    """A range of CCT in K, low to high, whose Planckian radiators several channels can mix."""

    low_K: float
    high_K: float


def chord(x: ArrayLike, y: ArrayLike, u_xy: ArrayLike = (0.0, 0.0)) -> Chord:
    """The mixtures of two lights of CIE 1931 ``x`` (2,), ``y`` (2,); ``u_xy`` (2,) standard uncertainties of x and y.

    The uncertainty is first order (JCGM 100:2008, 5.1.2), for ends that err alike (one instrument) and for ends that
    err apart; the larger counts.
    """
    ends = np.stack([np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)], axis=-1)
    # The line itself, and those with one coordinate of one end moved up and down.
    moves = np.zeros((4, 2, 2))
    moves.reshape(4, 4)[np.arange(4), np.arange(4)] = STEP
    u_prime, v_prime, cct_K, duv = _lines(np.concatenate([ends[None], ends + moves, ends - moves]))
    worst_duv, worst_cct_K = _worst(cct_K[0], duv[0])
    moved = np.array([_worst(*each)[0] for each in zip(cct_K[1:], duv[1:], strict=True)])
    slope = ((moved[:4] - moved[4:]) / (2 * STEP)).reshape(2, 2)
    carried = slope * np.asarray(u_xy, dtype=np.float64)
    alike, apart = np.hypot(*carried.sum(axis=0)), np.sqrt((carried**2).sum())
    return Chord(u_prime[0], v_prime[0], cct_K[0], duv[0], worst_duv, worst_cct_K, float(max(alike, apart)))


def _lines(ends: Array) -> tuple[Array, Array, Array, Array]:
    """u', v', CCT and Duv (n, POINTS) along lines between two points of x, y, ``ends`` (n, 2, 2)."""
    # A line is straight in x, y as in u', v'; equal steps in either do.
    share = np.linspace(0.0, 1.0, POINTS)[:, None]
    x, y = np.moveaxis((1 - share) * ends[:, None, 0] + share * ends[:, None, 1], -1, 0)
    cct_K, duv = cct_duv(x.ravel(), y.ravel())
    return *xy_to_uv_prime(x, y), cct_K.reshape(x.shape), duv.reshape(x.shape)


def _worst(cct_K: Array, duv: Array) -> tuple[float, float]:
    """The largest distance from the locus, with its sign, and the CCT there."""
    if np.isnan(duv[[0, -1]]).any():
        return float("nan"), float("nan")
    k = int(np.nanargmax(np.abs(duv)))
    if k in (0, POINTS - 1):
        return float(duv[k]), float(cct_K[k])
    before, here, after = duv[k - 1 : k + 2]
    bend = before - 2 * here + after
    s = 0.0 if bend == 0 else 0.5 * (before - after) / bend
    s = min(max(s, -0.5), 0.5)
    towards = k + int(np.sign(s)) if s else k
    cct = cct_K[k] + abs(s) * (cct_K[towards] - cct_K[k])
    return float(here - 0.25 * (before - after) * s), float(cct)


def gamut(u_prime: ArrayLike, v_prime: ArrayLike) -> tuple[Array, float]:
    """Corners (k, 2) of the smallest polygon about channels at CIE 1976 ``u_prime``, ``v_prime`` (n,), and its area.

    Corners run counter-clockwise. Fewer than three channels, or all on one line: no corners, area 0.
    """
    points = np.stack([np.asarray(u_prime, dtype=np.float64), np.asarray(v_prime, dtype=np.float64)], axis=-1)
    points = np.unique(points[~np.isnan(points).any(axis=1)], axis=0)  # from left to right
    ordered = points.tolist()
    corners = np.array([*_lower_side(ordered), *_lower_side(ordered[::-1])])
    if len(corners) < 3:
        return np.empty((0, 2)), 0.0
    u, v = corners.T - corners[:1].T
    area = float((u * np.roll(v, -1) - v * np.roll(u, -1)).sum() / 2)
    return (corners, area) if area > FLAT_AREA else (np.empty((0, 2)), 0.0)


def _lower_side(points: list[list[float]]) -> list[list[float]]:
    """Corners of the lower side of the smallest polygon about ``points`` from left to right, without the last one; of
    the upper side for points from right to left (monotone chain; scipy.spatial takes a third of a second to import)."""
    side: list[list[float]] = []
    for u, v in points:
        while len(side) > 1 and (side[-1][0] - side[-2][0]) * (v - side[-2][1]) <= (side[-1][1] - side[-2][1]) * (
            u - side[-2][0]
        ):
            side.pop()
        side.append([u, v])
    return side[:-1]


def whites(corners: Array) -> list[Whites]:
    """The ranges of CCT whose Planckian radiators lie inside the polygon of ``corners`` (k, 2), counter-clockwise.

    Within the range of CCT that is stated at all (1,000 K to 20,000 K), to 0.1 mired.
    """
    if not len(corners):
        return []
    mired = np.arange(50.0, 1000.05, 0.1)
    u_prime, v_prime = locus(1e6 / mired)
    along = np.roll(corners, -1, axis=0) - corners
    offset = np.stack([u_prime, v_prime], axis=-1)[:, None] - corners
    inside = (along[:, 0] * offset[..., 1] - along[:, 1] * offset[..., 0] >= 0).all(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return [Whites(1e6 / mired[end - 1], 1e6 / mired[start]) for start, end in edges.reshape(-1, 2)][::-1]


def locus(cct_K: ArrayLike) -> tuple[Array, Array]:
    """u', v' of Planckian radiators of ``cct_K`` (n,), summed at 1 nm (CIE 15:2018, 9.5)."""
    radiance = planckian.spectral_radiance(np.asarray(cct_K, dtype=np.float64), WAVELENGTH_NM)
    xyz = radiance @ observer_2deg()
    d = xyz @ np.array([1.0, 15.0, 3.0])
    return 4 * xyz[:, 0] / d, 9 * xyz[:, 1] / d


def greatest_flux(xyz: ArrayLike, x: float, y: float) -> tuple[float, Array]:
    """The most light that channels ``xyz`` (n, 3) at full drive give at CIE 1931 ``x``, ``y``, and their drives (n,).

    In the unit of Y. A linear programme: most Y, with X and Z in the ratios of the target and drives from 0 to 1. NaN
    where the target lies outside the gamut.
    """
    from scipy.optimize import linprog

    values = np.asarray(xyz, dtype=np.float64)
    scale = np.abs(values).max()
    values = values / scale
    balance = np.stack([y * values[:, 0] - x * values[:, 1], y * values[:, 2] - (1 - x - y) * values[:, 1]])
    found = linprog(-values[:, 1], A_eq=balance, b_eq=np.zeros(2), bounds=(0.0, 1.0), method="highs")
    if found.status != 0 or -found.fun <= 1e-9:
        return float("nan"), np.full(len(values), np.nan)
    return float(-found.fun * scale), np.asarray(found.x)


def additivity(parts_xyz: ArrayLike, whole_xyz: ArrayLike) -> tuple[float, float]:
    """How far the sum of channels measured alone ``parts_xyz`` (n, 3) is from their light together ``whole_xyz`` (3,).

    Distance in u', v', and the flux of the sum as a share of the whole.
    """
    total, whole = np.asarray(parts_xyz, dtype=np.float64).sum(axis=0), np.asarray(whole_xyz, dtype=np.float64)
    to_uvd = np.array([[4.0, 0.0, 1.0], [0.0, 9.0, 15.0], [0.0, 0.0, 3.0]])
    (u1, v1, d1), (u2, v2, d2) = total @ to_uvd, whole @ to_uvd
    return float(np.hypot(u1 / d1 - u2 / d2, v1 / d1 - v2 / d2)), float(total[1] / whole[1])
