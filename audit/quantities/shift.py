"""Colour over life: how far, and which way, each unit's chromaticity has moved from its first reading.

The shift is the distance in CIE 1976 u', v' between a unit's reading and its own at 0 h, as in reports of IES
LM-80 and LM-84 tests; its direction is the angle in the u', v' diagram, counted from +u' towards +v': near
90 degrees towards yellow, near 270 towards blue. Nothing is projected beyond the last reading.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .chromaticity import cct_duv, uv_prime_to_xy
from .tables import Array


@dataclass(frozen=True)
class Shift:
    """Shifts of units over hours; NaN where a unit has no reading at that time or none at 0 h.

    Per unit and time, shape (units, times): ``du_prime``, ``dv_prime``, ``distance`` in u', v',
    ``direction_deg`` 0 to 360 (NaN where nothing has moved), ``cct_K`` and ``duv``: change of CCT in K and of Duv.
    Per time, shape (times,): ``worst``, the largest distance, and ``worst_unit``, its index (-1 where none was
    read); ``mean``, the mean of the units' distances; ``mean_direction_deg``, direction of the mean shift; ``n``,
    the units read.
    """

    du_prime: Array
    dv_prime: Array
    distance: Array
    direction_deg: Array
    cct_K: Array
    duv: Array
    worst: Array
    worst_unit: NDArray[np.intp]
    mean: Array
    mean_direction_deg: Array
    n: NDArray[np.intp]


def shift(hours: ArrayLike, u_prime: ArrayLike, v_prime: ArrayLike) -> Shift:
    """Shifts of ``u_prime``, ``v_prime`` (units, times), or (times,) for one unit, read at ``hours`` (times,).

    NaN in, NaN out. ValueError where the hours don't start at 0 or don't rise, or the shapes don't agree.
    """
    u_prime, v_prime = (np.atleast_2d(np.asarray(item, dtype=np.float64)) for item in (u_prime, v_prime))
    _check(np.asarray(hours, dtype=np.float64), u_prime, v_prime)
    du, dv = u_prime - u_prime[:, :1], v_prime - v_prime[:, :1]
    cct_K, duv = cct_duv(*uv_prime_to_xy(u_prime, v_prime))
    distance = np.hypot(du, dv)
    read = ~np.isnan(distance)
    n = read.sum(axis=0)
    worst_unit = np.where(n > 0, np.where(read, distance, -1.0).argmax(axis=0), -1)
    worst = np.where(n > 0, np.take_along_axis(distance, worst_unit[None], axis=0)[0], np.nan)
    mean_du, mean_dv, mean = (_mean(item, read, n) for item in (du, dv, distance))
    return Shift(
        du,
        dv,
        distance,
        _direction(du, dv),
        cct_K - cct_K[:, :1],
        duv - duv[:, :1],
        worst,
        worst_unit,
        mean,
        _direction(mean_du, mean_dv),
        n,
    )


def _check(hours: Array, u_prime: Array, v_prime: Array) -> None:
    if hours.ndim != 1 or u_prime.shape != v_prime.shape or u_prime.shape[1:] != hours.shape:
        raise ValueError(f"{hours.size} times don't fit u' {u_prime.shape} and v' {v_prime.shape}, a row for each unit")
    if not hours.size or hours[0] != 0:
        raise ValueError("the first reading isn't at 0 h: a shift is counted from there; ask for the initial values")
    if not (np.diff(hours) > 0).all():
        raise ValueError("the hours must rise from reading to reading; look for doubled or exchanged columns")


def _direction(du: Array, dv: Array) -> Array:
    moved = np.hypot(du, dv) > 0
    return np.where(moved, np.degrees(np.arctan2(dv, du)) % 360, np.nan)


def _mean(values: Array, read: NDArray[np.bool_], n: NDArray[np.intp]) -> Array:
    total = np.where(read, values, 0.0).sum(axis=0)
    return np.where(n > 0, total / np.maximum(n, 1), np.nan)
