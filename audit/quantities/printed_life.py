"""Whether the figures of a printed TM-21 sheet follow from one another, for sheets without the readings of the units.

A figure follows if its printed interval meets the one computed from the other printed figures. A life whose digits
beyond the third are all zero may have been rounded to three figures, as the trade prints them (R17 of
``tm21_rules``, MEMORY), so that is allowed for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from . import tm21_rules as rules
from .projection import check_percent, three_figures


class Figure(NamedTuple):
    """A printed number; ``resolution`` is one unit of its last digit, 0.01 for 2.50."""

    value: float
    resolution: float


class Interval(NamedTuple):
    """The values that a rounded number, or a number computed from some, may stand for."""

    low: float
    high: float


@dataclass(frozen=True)
class Followed:
    """One check: the printed figure, the interval in h that the others give, whether they meet, and a sentence."""

    figure: str
    printed: float
    low: float
    high: float
    follows: bool
    text: str


def check_arithmetic(
    p: float,
    *,
    alpha: Figure | None = None,
    B: Figure | None = None,
    lp: Figure | None = None,
    reported: Figure | None = None,
    beyond: bool = False,
    duration: Figure | None = None,
    units: int | None = None,
) -> tuple[Followed, ...]:
    """Check what a sheet prints for ``p`` percent; ``alpha`` in 1/h, lives and ``duration`` in h.

    ``lp`` is the calculated, ``reported`` the limited life, ``beyond`` whether it was printed with ">". A check
    whose figures weren't printed isn't made: an empty result says that nothing could be checked.
    """
    check_percent(p)
    checks = []
    computed = _life(p, alpha, B) if alpha and B else None
    if lp and computed:
        checks.append(_compare("calculated life", p, lp, computed, "alpha and B give"))
    limit = _limit(duration, units) if duration and units is not None else None
    if limit and reported:
        checks.append(_under_limit(p, reported, limit))
    known = _span(lp, True) if lp else computed
    if reported and known and (limit.high > 0 if limit else not beyond):
        checks.append(_limited(p, reported, beyond, known, limit))
    return tuple(checks)


def _span(figure: Figure, life: bool = False) -> Interval:
    """What a printed figure may stand for; a life may have been rounded to three figures."""
    half = abs(figure.resolution) / 2
    if life and figure.value:
        third = 10.0 ** (math.floor(math.log10(abs(figure.value))) - 2)
        if math.isclose(figure.value / third, round(figure.value / third), abs_tol=1e-9):
            half = max(half, third / 2)
    return Interval(figure.value - half, figure.value + half)


def _life(p: float, alpha: Figure, B: Figure) -> Interval:
    """Calculated life from printed alpha and B: extremes at the corners of their intervals (R02, R16)."""
    a, b = _span(alpha), _span(B)
    if b.low <= 0:
        return Interval(math.nan, math.nan)
    if a.high <= 0:
        return Interval(math.inf, math.inf)
    logs = [math.log(100 * x / p) for x in b]
    corners = [log / rate for log in logs for rate in a if rate > 0]
    return Interval(min(corners), math.inf if a.low <= 0 else max(corners))


def _limit(duration: Figure, units: int) -> Interval:
    """The longest life that may be reported; (0, 0) for a set too small for any (R10 to R12)."""
    multiplier = next((times for least, times in rules.MULTIPLIERS if units >= least), 0.0)
    hours = _span(duration)
    return Interval(multiplier * hours.low, multiplier * hours.high)


def _compare(name: str, p: float, printed: Figure, expected: Interval, source: str) -> Followed:
    own = _span(printed, True)
    follows = own.low <= expected.high and expected.low <= own.high
    text = f"L{p:g}: {name} printed as {printed.value:,.10g} h; {source} {_words(expected)}"
    return Followed(name, printed.value, *expected, follows, text)


def _under_limit(p: float, reported: Figure, limit: Interval) -> Followed:
    follows = _span(reported, True).low <= limit.high
    allowed = f"at most {three_figures(limit.high)} h" if limit.high > 0 else f"none: under {rules.FEWEST_UNITS} units"
    text = f"L{p:g}: reported life printed as {reported.value:,.10g} h; duration and number of units allow {allowed}"
    return Followed("limit", reported.value, 0.0, limit.high, follows, text)


def _limited(p: float, reported: Figure, beyond: bool, known: Interval, limit: Interval | None) -> Followed:
    """The reported life is the calculated one, or the limit with ">" where that is smaller (R13)."""
    if not limit or (not beyond and known.low <= limit.high):
        return _compare("reported life", p, reported, known, "the calculated life is")
    found = _compare("reported life", p, reported, limit, "past the limit the trade prints > and")
    if known.high < limit.low:
        text = f'{found.text}; but the calculated life, {_words(known)}, lies inside it, so ">" doesn\'t follow'
        return Followed(found.figure, found.printed, *known, False, text)
    if not beyond:
        text = f'{found.text}; without ">" it is stated as a life that was never reached'
        return Followed(found.figure, found.printed, *limit, False, text)
    return found


def _words(interval: Interval) -> str:
    if math.isnan(interval.low):
        return "no life"
    if math.isinf(interval.low):
        return "no end: alpha isn't positive"
    if math.isinf(interval.high):
        return f"{interval.low:,.0f} h or more"
    return f"{interval.low:,.0f} h to {interval.high:,.0f} h"
