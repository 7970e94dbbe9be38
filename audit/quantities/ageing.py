"""Several channels that age apart: where their colour goes, and what a colour held by control costs.

The light of a setting is the sum of its channels, each with its tristimulus values X, Y, Z when new, at its drive in
that setting; ageing multiplies them by the output that is left (``channel_output``). Past the smallest limit of the
channels everything is NaN: nothing is judged there.

Open loop: the drives stay, the sum moves. Closed loop: each drive is raised as its channel weakens, so that the recipe
of the setting (its channels' light) holds; at full drive the weakest channel sets the pace for all.

Left out, here as in most models of its kind: shift of a channel's own spectrum (phosphor, binder, lens), driver,
sensor and its drift, temperature and its change with drive, output that isn't proportional to drive.

Tristimulus values add (Grassmann's laws; CIE 15:2018, clause 7). Monte Carlo: JCGM 101:2008.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .channel_output import Output
from .shift import Shift, shift
from .tables import Array

LEFT_OUT = (
    "not modelled: shift of a channel's own spectrum, driver, sensor, temperature, output not proportional to drive"
)
Of = Literal["chromaticity_shift", "cct_shift", "duv_shift"]
#: Weights of draws, channels and hours worked on at a time: bounds the memory (8 bytes each) and stays in the cache.
CHUNK = 50_000
#: X, Y, Z to the numerators of u' and v' and their denominator (CIE 15:2018, CIE 1976 UCS).
_UCS: Array = np.array([[4.0, 0.0, 1.0], [0.0, 9.0, 15.0], [0.0, 0.0, 3.0]])


def tristimulus(x: ArrayLike, y: ArrayLike, flux: ArrayLike) -> Array:
    """X, Y, Z (c, 3), Y in the unit of ``flux`` (c,), from CIE 1931 ``x`` and ``y`` (c,).

    ValueError where they aren't possible or no channel has light.
    """
    x, y, flux = (np.asarray(item, dtype=np.float64) for item in (x, y, flux))
    if not ((y > 0) & (x >= 0) & (x + y <= 1) & (flux >= 0)).all() or not (flux > 0).any():
        raise ValueError(
            "a channel has no chromaticity, a flux below 0, or none has light: look for an exchanged column"
        )
    return (flux / y)[:, None] * np.stack([x, y, 1 - x - y], axis=-1)


def outputs(channels: Sequence[Output], hours: ArrayLike) -> Array:
    """Output left of each channel, (c, times), at ``hours`` (times,); NaN for all past the smallest limit."""
    hours = np.asarray(hours, dtype=np.float64)
    left = np.stack([channel.at(hours) for channel in channels])
    left[:, np.isnan(left).any(axis=0)] = np.nan
    return left


@dataclass(frozen=True)
class OpenLoop:
    """``flux_ratio`` (times,) to 0 h, and ``shift``, with arrays (1, times): distance, cct_K, duv and the others."""

    flux_ratio: Array
    shift: Shift

    def value(self, of: Of) -> Array:
        """The quantity (times,) that a claim names."""
        moved = self.shift
        named = {"chromaticity_shift": moved.distance, "cct_shift": moved.cct_K, "duv_shift": moved.duv}
        value: Array = named[of][0]
        return value


def open_loop(xyz: ArrayLike, left: ArrayLike, hours: ArrayLike) -> OpenLoop:
    """Drift of the sum of ``xyz`` (c, 3) as ``left`` (c, times) of them remains; ``hours`` (times,) start at 0."""
    xyz, left = _checked(xyz, left)
    total = np.einsum("ct,ck->tk", left, xyz)
    u_prime, v_prime = _uv_prime(total)
    return OpenLoop(total[:, 1] / xyz[:, 1].sum(), shift(hours, u_prime, v_prime))


@dataclass(frozen=True)
class ClosedLoop:
    """What holding the recipe takes. Channels that are off in the setting have drive 0 and set no pace.

    ``drive`` (c, times): share of full drive needed for the target flux, above 1 where it can't be given.
    ``ratio`` (c, times): drives relative to the highest. ``possible`` (times,): the most flux, to 0 h, at which the
    recipe can be held, when the channel ``weakest`` (times,) runs at full drive; -1 where nothing is known.
    ``head_room`` (c, times): the highest share of full drive that a channel may have had when new for the target to be
    reached now.
    """

    drive: Array
    ratio: Array
    possible: Array
    weakest: NDArray[np.intp]
    head_room: Array


def held(left: ArrayLike, cap: ArrayLike) -> Array:
    """Light (c, times) of each channel, as a share of the target, in a loop that holds the flux before the colour.

    ``left`` (c, times); ``cap`` (c,): drive when new times the target, both shares. 1 until full drive no longer
    carries the channel, then what full drive gives; a channel that is off stays 1.
    """
    left, cap = np.asarray(left, dtype=np.float64), np.asarray(cap, dtype=np.float64)[:, None]
    with np.errstate(divide="ignore"):
        return np.minimum(np.where(cap > 0, left / cap, np.where(np.isnan(left), np.nan, 1.0)), 1.0)


def closed_loop(drive: ArrayLike, left: ArrayLike, target: float = 1.0) -> ClosedLoop:
    """Hold the recipe of ``drive`` (c,), shares of full drive when new, as ``left`` (c, times) remains.

    ``target``: the flux to hold, as a share of that when new. ValueError for drives outside 0 to 1, all zero, or a
    target that isn't positive.
    """
    drive, left = np.asarray(drive, dtype=np.float64), np.asarray(left, dtype=np.float64)
    if drive.shape != left.shape[:1] or not ((drive >= 0) & (drive <= 1)).all() or not (drive > 0).any():
        raise ValueError("give each channel's drive as a share of its full drive, 0 to 1, not all of them 0")
    if not target > 0:
        raise ValueError(f"the target is {target:g}; give the flux to hold as a share of that when new, above 0")
    needed = target * drive[:, None] / left
    with np.errstate(divide="ignore"):
        possible = np.where(drive[:, None] > 0, left / drive[:, None], np.where(np.isnan(left), np.nan, np.inf))
    unknown = np.isnan(possible).any(axis=0)
    weakest = np.where(unknown, -1, np.where(np.isnan(possible), np.inf, possible).argmin(axis=0))
    return ClosedLoop(needed, needed / needed.max(axis=0), possible.min(axis=0), weakest, left / target)


def passing(hours: ArrayLike, value: ArrayLike, lower: float, upper: float) -> float:
    """First hour at which ``value`` (times,) leaves the limits, on a line between ``hours`` (times,).

    NaN where it doesn't leave them in the hours that are known; the first hour where it never was inside.
    """
    hours, value = np.asarray(hours, dtype=np.float64), np.asarray(value, dtype=np.float64)
    outside = np.flatnonzero((value < lower) | (value > upper))
    if not outside.size:
        return float("nan")
    at = int(outside[0])
    if at == 0:
        return float(hours[0])
    limit = upper if value[at] > upper else lower
    share = (limit - value[at - 1]) / (value[at] - value[at - 1])
    return float(hours[at - 1] + share * (hours[at] - hours[at - 1]))


@dataclass(frozen=True)
class Spread:
    """How units differ: standard deviations of ln(rate of loss) and of ln(light when new), per channel and unit.

    Lognormal, so that no rate and no light is negative; the nominal model is the median. Relative: 0.2 for 20 %.
    """

    rate: float
    channel: float

    def __post_init__(self) -> None:
        if not (0 <= self.rate < 3 and 0 <= self.channel < 3):
            raise ValueError("spreads are relative standard deviations, from 0 to below 3: write 0.2 for 20 %")


@dataclass(frozen=True)
class Units:
    """Arrays (times,), NaN where nothing is known: ``share`` of units inside the limits, ``standard_error`` of that
    share from the finite number of draws, ``mean`` and ``deviation`` of the quantity over units."""

    share: Array
    standard_error: Array
    mean: Array
    deviation: Array


def units(
    xyz: ArrayLike,
    left: ArrayLike,
    limits: tuple[float, float],
    spread: Spread,
    of: Of = "chromaticity_shift",
    draws: int = 10_000,
    seed: int = 1,
    cap: ArrayLike | None = None,
) -> Units:
    """Drift of ``draws`` units, each against its own light when new: share inside ``limits`` against hours.

    ``xyz`` (c, 3) and ``left`` (c, times) as for ``open_loop``. A unit's loss in ln(output) is the nominal one times
    its own factor of rate. ``cap`` (c,): drives when new times the flux to hold, for a loop that holds it: what is left
    of a channel counts as far as full drive carries it (see ``held``). The same seed gives the same result (PCG64).
    """
    xyz, left = _checked(xyz, left)
    known = ~np.isnan(left).any(axis=0)
    if (left[:, known] <= 0).any():
        raise ValueError("a channel has no light left: end the hours before that")
    sums = np.zeros((3, left.shape[1]))
    capped = None if cap is None else np.asarray(cap, dtype=np.float64)
    for value in _drawn(xyz, np.log(left[:, known]), spread, of, draws, seed, capped):
        inside = (value >= limits[0]) & (value <= limits[1])
        sums[:, known] += [inside.sum(axis=0), value.sum(axis=0), np.einsum("nt,nt->t", value, value)]
    share, mean, square = np.where(known, sums / draws, np.nan)
    return Units(share, np.sqrt(share * (1 - share) / draws), mean, np.sqrt(np.maximum(square - mean**2, 0.0)))


def _drawn(
    xyz: Array, log_left: Array, spread: Spread, of: Of, draws: int, seed: int, cap: Array | None
) -> Iterator[Array]:
    """Yield the quantity (n, times) of all draws, some at a time."""
    channels, times = log_left.shape
    normal = np.random.default_rng(seed).standard_normal((2, channels, draws))
    rates, lights = np.exp(spread.rate * normal[0]), np.exp(spread.channel * normal[1])
    step = max(1, CHUNK // (channels * max(times, 1)))
    forms = (xyz @ _UCS).T
    for start in range(0, draws, step):
        rate, light = rates[:, start : start + step], lights[:, start : start + step]
        n = light.shape[1]
        weight = rate[:, :, None] * log_left[:, None, :]
        np.exp(weight, out=weight)
        if cap is not None:
            weight = held(weight.reshape(channels, -1), cap).reshape(weight.shape)
        weight *= light[:, :, None]
        u, v, denominator = (forms @ weight.reshape(channels, -1)).reshape(3, n, times)
        u /= denominator
        v /= denominator
        new = forms @ light
        u0, v0 = (new[:2] / new[2])[:, :, None]
        if of == "chromaticity_shift":
            u -= u0
            v -= v0
            u *= u
            v *= v
            u += v
            yield np.sqrt(u, out=u)
        else:
            each = shift(np.arange(times + 1.0), np.hstack([u0, u]), np.hstack([v0, v]))
            yield (each.cct_K if of == "cct_shift" else each.duv)[:, 1:]


def _uv_prime(xyz: Array) -> tuple[Array, Array]:
    u, v, denominator = (xyz @ _UCS).T
    return u / denominator, v / denominator


def _checked(xyz: ArrayLike, left: ArrayLike) -> tuple[Array, Array]:
    xyz, left = np.asarray(xyz, dtype=np.float64), np.asarray(left, dtype=np.float64)
    if xyz.ndim != 2 or xyz.shape[1] != 3 or left.ndim != 2 or left.shape[0] != xyz.shape[0]:
        raise ValueError(
            f"outputs {left.shape} don't fit the channels {xyz.shape}; give a row for each channel in both"
        )
    if not np.isfinite(xyz).all() or (xyz < 0).any() or not xyz[:, 1].sum() > 0:
        raise ValueError("tristimulus values must be numbers, none negative, with light in at least one channel")
    return xyz, left
