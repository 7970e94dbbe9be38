"""Lumen maintenance projected from a test of many hours: ANSI/IES TM-21-11 with Addendum B.

The means of all units (``lumen_readings``) are fitted by ordinary least squares of ln(flux) on the exact elapsed
time: flux(t) = B exp(-alpha t). Which readings take part is decided by the 1,000 h points they belong to, within
48 h. The calculated life Lp = ln(100 B / p) / alpha may be reported up to 6 times (20 units and more) or 5.5 times
(10 to 19 units) the last hour of the test. Rules, sources and statuses: ``tm21_rules``; the multipliers of later
editions were not read. All this concerns the mean flux of LED packages, arrays or modules as tested; it says
nothing of single units, of abrupt failures or of a whole luminaire.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tm21_rules as rules
from .lumen_readings import Means, append, in_hours, means
from .projection import Projection, check_percent
from .spectra import Mask, add
from .tables import Array

#: Hours of the endurance test, and the largest factor that it can be asked to show, in percent (MEMORY: a setting).


@dataclass(frozen=True)
class Tm21(Projection):
    """Projections of sets of shape (...), one case temperature and one drive current each.

    ``hours`` (..., times) in h and ``mean`` (..., times), the ratio to 0 h, NaN at a time without a reading; ``used``
    (..., times): the readings of the fit; ``units`` (..., times) behind each mean; ``n`` (...): the fewest units
    behind a mean of the fit; ``multiplier`` (...): 6, 5.5 or NaN; ``lost`` (..., units) and ``missing`` (..., units,
    times) as in ``lumen_readings``.
    """

    hours: Array
    mean: Array
    units: NDArray[np.intp]
    used: Mask
    n: NDArray[np.intp]
    multiplier: Array
    lost: Mask
    missing: Mask

    @property
    def window_h(self) -> tuple[Array, Array]:
        """First and last hour (...) that the fit used, NaN where there is no fit."""
        first = _first(self.hours, self.used)
        return first, np.where(np.isnan(first), np.nan, self.duration_h)

    def measured(self, p: float) -> Array:
        """First hour (...) at which the mean falls to ``p`` percent, on a line between readings (R22, MEMORY).

        The line starts from 1 at 0 h. NaN where the level wasn't reached. A refused set may have it all the same:
        a level that was reached needs no projection.
        """
        check_percent(p)
        level = p / 100
        there = self.mean <= level
        reached = there.any(axis=-1)
        if not reached.any():
            return np.full(reached.shape, np.nan)
        start = np.zeros((*reached.shape, 1))
        hours, mean = np.concatenate([start, self.hours], axis=-1), np.concatenate([start + 1, self.mean], axis=-1)
        after = np.where(reached, np.argmax(there, axis=-1) + 1, 1)[..., None]
        columns = np.arange(mean.shape[-1])
        before = np.where(~np.isnan(mean) & (columns < after), columns, 0).max(axis=-1, keepdims=True)
        t0, t1 = (np.take_along_axis(hours, at, axis=-1)[..., 0] for at in (before, after))
        m0, m1 = (np.take_along_axis(mean, at, axis=-1)[..., 0] for at in (before, after))
        with np.errstate(invalid="ignore", divide="ignore"):
            crossing: Array = np.where(reached, t0 + (m0 - level) / (m0 - m1) * (t1 - t0), np.nan)
        return crossing


def tm21(hours: ArrayLike, flux_ratio: ArrayLike, *, preceding: bool = True) -> Tm21:
    """Project the sets ``flux_ratio`` (..., units, times), read at the elapsed ``hours`` (times,) in h.

    NaN: a unit not read at a time. Values are ratios to 0 h, or in any unit where 0 h was read. ``preceding``: a test
    of more than 10,000 h without a reading at half of it takes the one before (R05, MEMORY). Raises ValueError for
    shapes that don't fit; a faulty set is refused on its own.
    """
    at = np.asarray(hours, dtype=np.float64)
    flux = np.asarray(flux_ratio, dtype=np.float64)
    if at.ndim != 1 or flux.ndim < 2 or flux.shape[-1] != at.size:
        raise ValueError(
            f"flux_ratio has shape {flux.shape} for hours of shape {at.shape}; "
            "give a row for each unit and a column for each time"
        )
    shape = flux.shape[:-2]
    found = means(at, flux.reshape(int(np.prod(shape)), *flux.shape[-2:]))
    used = window(found.hours, preceding=preceding)
    alpha, B = fit(found.hours, found.mean, used)
    alpha, B = (np.where(found.refused == "", x, np.nan) for x in (alpha, B))
    duration_h = np.broadcast_to(_last(found.hours), alpha.shape)
    n = _fewest(found.units, np.where(used.any(axis=-1, keepdims=True), used, found.units > 0))
    multiplier = np.select([n >= least for least, _ in rules.MULTIPLIERS], [x for _, x in rules.MULTIPLIERS], np.nan)
    _refuse(found, used, duration_h, np.broadcast_to(n, alpha.shape))
    _note(found, used, alpha)
    limit_h = np.where(found.refused == "", multiplier * duration_h, np.nan)

    def out(values: NDArray[Any], *more: int) -> NDArray[Any]:
        return np.broadcast_to(values, (alpha.size, *more)).reshape((*shape, *more))

    times, units = at.size, flux.shape[-2]
    return Tm21(
        alpha=out(alpha),
        B=out(B),
        duration_h=out(duration_h),
        limit_h=out(limit_h),
        known_h=out(duration_h),
        refused=out(found.refused),
        notes=out(found.notes),
        hours=out(found.hours, times),
        mean=out(found.mean, times),
        units=out(found.units, times),
        used=out(used, times),
        n=out(n),
        multiplier=out(multiplier),
        lost=out(found.lost, units),
        missing=out(found.missing, units, times),
    )


def window(hours: Array, *, preceding: bool = True) -> Mask:
    """Which readings at ``hours`` (..., times) in h, NaN where none, the fit takes, (..., times) (R04 to R06).

    A reading within 48 h of a 1,000 h point counts as standing there: for the window, not for the fit.
    """
    at = _at_points(hours)
    end = _last(at)
    start = np.maximum(end - rules.WINDOW_H, rules.FIRST_H)
    if (end > rules.LONG_H).any():
        half = end / 2
        before = np.where(at <= half[..., None], at, -np.inf).max(axis=-1) if preceding else half
        long = np.where(before >= rules.FIRST_H, before, half)
        start = np.where(end > rules.LONG_H, long, start)
    return np.asarray((at >= start[..., None]) & (end >= rules.SHORTEST_H)[..., None])


def fit(hours: Array, mean: Array, used: Mask) -> tuple[Array, Array]:
    """alpha in 1/h and B (...) by least squares of ln ``mean`` on ``hours``, (..., times) each, where ``used`` (R03).

    NaN where fewer than two different times are used.
    """
    count = used.sum(axis=-1, keepdims=True)
    with np.errstate(all="ignore"):
        t = np.where(used, hours, 0.0)
        centre = t.sum(axis=-1, keepdims=True) / count
        away = np.where(used, hours - centre, 0.0)
        slope = away / (away**2).sum(axis=-1, keepdims=True)
        y = np.where(used, np.log(mean), 0.0)
        alpha: Array = -(slope * y).sum(axis=-1)
        B: Array = np.exp(y.sum(axis=-1) / count[..., 0] + alpha * centre[..., 0])
    return alpha, B


def scatter_h(found: Tm21, p: float) -> Array:
    """Standard error (...) in h of the calculated life to ``p`` percent, from the residuals of the fit.

    Calibration from a straight line: s / alpha sqrt(1 / m + (Lp - mean t)^2 / sum (t - mean t)^2), s with m - 2 degrees
    of freedom (N. R. Draper and H. Smith, Applied Regression Analysis, inverse regression; chapter MEMORY). It says how
    well the means of this sample lie on the curve, nothing of other units. NaN without a decay or below three readings.
    """
    hours, used = np.broadcast_arrays(np.where(found.used, found.hours, 0.0), found.used)
    count = used.sum(axis=-1)
    alpha, log_b = found.alpha[..., None], np.log(found.B)[..., None]
    with np.errstate(all="ignore"):
        away = np.where(used, np.log(found.mean) - log_b + alpha * hours, 0.0)
        centre = hours.sum(axis=-1) / count
        spread = (np.where(used, hours - centre[..., None], 0.0) ** 2).sum(axis=-1)
        s = np.sqrt((away**2).sum(axis=-1) / (count - 2))
        error: Array = s / found.alpha * np.sqrt(1 / count + (found.lp(p) - centre) ** 2 / spread)
        return np.where((found.alpha > 0) & (count > 2), error, np.nan)


def _at_points(hours: Array) -> Array:
    """Hours moved to the 1,000 h point that they lie within 48 h of (R06), any shape."""
    nearest = rules.POINT_H * np.round(hours / rules.POINT_H)
    at: Array = np.where(np.abs(hours - nearest) <= rules.TOLERANCE_H, nearest, hours)
    return at


def _last(hours: Array) -> Array:
    """The last hour (...) with a reading, NaN where there is none."""
    last = np.where(np.isnan(hours), -np.inf, hours).max(axis=-1, initial=-np.inf)
    return np.where(np.isfinite(last), last, np.nan)


def _first(hours: Array, used: Mask) -> Array:
    """The first hour (...) used, NaN where there is none."""
    first = np.where(used, hours, np.inf).min(axis=-1, initial=np.inf)
    return np.where(np.isfinite(first), first, np.nan)


def _fewest(units: NDArray[np.intp], where: Mask) -> NDArray[np.intp]:
    most = np.iinfo(np.intp).max
    fewest = np.where(where, units, most).min(axis=-1, initial=most)
    return np.where(fewest == most, 0, fewest)


def _refuse(found: Means, used: Mask, duration_h: Array, n: NDArray[np.intp]) -> None:
    """Add to ``found.refused`` why a set can't be projected."""
    good = found.refused == ""
    used = np.broadcast_to(used, found.mean.shape)
    points = used.sum(axis=-1)
    short = good & (points == 0)
    for i in np.flatnonzero(short):
        found.refused[i] = f"the last reading is at {in_hours(duration_h[i])}; a projection needs 6,000 h"
    few_points = good & ~short & (points < rules.FEWEST_POINTS)
    text = f"fewer than {rules.FEWEST_POINTS} readings in the time of the fit; ask for the readings every 1,000 h"
    add(found.refused, few_points, text)
    units, hours = (np.broadcast_to(x, found.mean.shape) for x in (found.units, found.hours))
    for i in np.flatnonzero(good & (n < rules.FEWEST_UNITS)):
        who = f"{n[i]} unit{'s' if n[i] != 1 else ''}"
        thin = f"only {who} read at {in_hours(hours[i, np.argmax(units[i] == n[i])])}"
        text = f"the set has {who}" if n[i] == units[i].max() else thin
        append(
            found.refused, i, f"{text}; a projection needs {rules.FEWEST_UNITS}: ask for more or for the missing ones"
        )


def _note(found: Means, used: Mask, alpha: Array) -> None:
    """Add to ``found.notes`` what a reader of the projection should know."""
    good = ~np.isnan(alpha)
    end = _last(found.hours)
    add(found.notes, good & (alpha <= 0), f"no decay in the readings: {rules.cite('R16')}")
    first = _first(found.hours, used)
    long = _at_points(end) > rules.LONG_H
    early = long & (_at_points(first) < _at_points(end) / 2)
    add(found.notes, good & early, f"the reading before half of the test takes part: {rules.cite('R05')}")
    _note_rising(found, good)
    _note_points(found, good, first, end)
    end = np.broadcast_to(end, good.shape)
    for i in np.flatnonzero(good & (end < rules.SHORTEST_H)):
        append(found.notes, i, f"the last reading, at {in_hours(end[i])}, counts as that of 6,000 h (rule R06)")


def _note_rising(found: Means, good: Mask) -> None:
    """Say where the mean is above 100 % and highest at the end."""
    if not good.any():
        return
    final = found.hours.shape[-1] - 1 - np.argmax(~np.isnan(found.hours)[:, ::-1], axis=-1)
    last = found.mean[np.arange(len(good)), final]
    # fmax passes over times without a reading
    highest = last >= np.fmax.reduce(found.mean, axis=-1)
    for i in np.flatnonzero(good & (last > 1) & highest):
        text = f"maintenance is {100 * last[i]:.1f} % at the end and highest there: the decay hasn't begun"
        append(found.notes, i, text)


def _note_points(found: Means, good: Mask, first: Array, end: Array) -> None:
    """Name the 1,000 h points inside the fit that no reading stands within 48 h of (R06)."""
    if not good.any():
        return
    points = np.arange(1, np.nanmax(end) // rules.POINT_H + 1) * rules.POINT_H
    away = np.abs(found.hours[:, None, :] - points[:, None])
    nearest = np.where(np.isnan(away), np.inf, away).min(axis=-1)
    inside = (points >= first[:, None]) & (points <= end[:, None])
    empty = np.broadcast_to(inside & (nearest > rules.TOLERANCE_H), (len(good), points.size))
    for i in np.flatnonzero(good & empty.any(axis=1)):
        append(found.notes, i, f"no reading within 48 h of {', '.join(map(in_hours, points[empty[i]]))} (rule R06)")
