"""What judging a claim comes to, and what the verdict over points and over a share have in common."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audit import decide
from audit.book import NO_SERIAL, Book, Rows
from audit.definitions import Meaning
from audit.matching import SETTINGS
from audit.model import Rule
from audit.select import Entities, Selection

MEETS, MISSES = "meets as measured", "misses as measured"
UNLIMITED = Meaning("", -math.inf, math.inf)


@dataclass
class Outcome:
    """The verdict under one meaning of the claim, and the entity that decides it."""

    verdict: str
    reasons: list[str]
    side: str = ""
    value: float = math.nan
    u: float = math.nan
    probability: float = math.nan
    margin: float = math.nan
    margin_to: str = ""  # the verdict beyond the threshold that the margin is counted from
    unit: str = ""
    limit: float | list[float] | None = None
    rows: Rows = field(default_factory=lambda: np.array([], np.int64))
    selection: Selection | None = None
    rival: int = -1  # a row of what disagrees with the deciding entity
    rival_value: float = math.nan
    points: int = 0
    units: int = 0
    failing: int = 0
    assumed: bool = False
    meaning: Meaning = UNLIMITED
    detail: str = ""
    notes: tuple[str, ...] = ()  # what the method line has to say
    admissible: tuple[str, ...] = ()  # the definitions between which the claim has to choose
    method: tuple[str, ...] = ()  # how value and verdict came about, where the usual words don't fit
    ask: str = ""


@dataclass(frozen=True)
class Law:
    """How the true values are distributed about the measured ones.

    `u` (n,): standard uncertainties in the unit of the value. `cdf`: limit, or limits (n,) -> (n,) the probability that
    the true value is at most that; None where the limit is no number on a scale (a class) or no probability is had.
    `of`: numbers of entities -> the law of these alone.
    """

    u: NDArray[np.float64]
    cdf: Callable[[ArrayLike], NDArray[np.float64]] | None
    normal: bool = False
    of: Callable[[NDArray[np.intp]], Law] | None = None

    def between(self, lower: float, upper: float) -> NDArray[np.float64]:
        """Return the probability (n,) that the true value lies inside the limits; NaN where there is none."""
        if self.cdf is None:
            return np.full(len(self.u), np.nan)
        below = self.cdf(upper) if math.isfinite(upper) else np.where(np.isnan(self.cdf(0.0)), np.nan, 1.0)
        return np.asarray(np.clip(below - (self.cdf(lower) if math.isfinite(lower) else 0.0), 0.0, 1.0))


@dataclass(frozen=True)
class Judged:
    """Every entity put to the limits, arrays (n,); what a verdict over points or a share is made from.

    A verdict at a point may be "overreaching" where the point itself is a projection; `reasons` then says why, by
    the number of the entity. `strongest`: the limits that could be claimed, where the law doesn't give them, and
    `strongest_definition` what they hold for, where it isn't the claim's own. `rule`: one that the method itself lays
    down in place of the audit's. `units`: how many stand behind it, where the rows don't tell. `shares` (n,): standard
    uncertainties as shares of the width of a region that is no interval. `simulated` (n, 2): shares of units inside by
    a model, each with its standard error, for a claim on a share of production.
    """

    entities: Entities
    law: Law
    probability: NDArray[np.float64]
    inside: NDArray[np.bool_]
    verdicts: NDArray[np.str_]  # at each point, before anything settles it
    undefined: NDArray[np.bool_]
    reasons: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    strongest: tuple[float, float] | None = None
    strongest_definition: str = ""
    rule: Rule | None = None
    units: int = 0
    shares: NDArray[np.float64] | None = None
    simulated: NDArray[np.float64] | None = None

    @property
    def u(self) -> NDArray[np.float64]:
        return self.law.u


def limit_of(lower: float, upper: float) -> float | list[float] | None:
    """Return the one limit, or both, or None where there is none."""
    ends = [end for end in dict.fromkeys((lower, upper)) if math.isfinite(end)]
    return ends[0] if len(ends) == 1 else ends or None


def gap_reasons(gaps: Mapping[str, Iterable[float]], longest: float) -> list[str]:
    """Return why part of a claimed range isn't covered; `longest`: the last tested hour."""
    words = set()
    for name, values in gaps.items():
        past = name == "hours" and max(values) > longest
        words.add("past test duration" if past else "untested settings" if name in SETTINGS else "other conditions")
    return sorted(words)


def worst_of(book: Book, judged: Judged, verdicts: NDArray[np.str_], verdict: str, limits: tuple[float, float]) -> int:
    """Return the entity that decides: of those with the overall verdict (all, if none has it) the worst.

    Ranked by the distance inside the nearer limit in standard uncertainties (p, without its saturation at 0 and 1);
    where one of them has none, in the unit; classes by p. One without a value comes first. Ties by value, then by
    document and place.
    """
    entities, u = judged.entities, judged.u
    candidates = np.flatnonzero(verdicts == verdict) if (verdicts == verdict).any() else np.arange(len(verdicts))
    distance = judged.probability if limits[0] == limits[1] else decide.signed_distance(entities.value, *limits)
    known = (u[candidates] > 0).all()
    ranked = distance[candidates] / u[candidates] if known else distance[candidates]
    ranked = np.where(np.isnan(ranked), -np.inf, ranked)
    ties = candidates[(ranked == ranked.min()) | np.isclose(ranked, ranked.min(), rtol=1e-12, atol=0.0)]
    return int(min(ties, key=lambda i: (entities.value[i], *book.where(int(entities.rows[i][0]))[:2])))


def named_units(units: Iterable[str]) -> list[str]:
    """Return the serials of units in order, one without a serial last."""
    return sorted(set(units), key=lambda unit: (unit == NO_SERIAL, unit))


def margin(judged: Judged, at: int, limits: tuple[float, float], rule: Rule) -> tuple[float, str]:
    """Return how far an entity is from the nearest threshold of its verdict, as decide.margin does.

    Where the law isn't normal, it is the distance of the limit from the one at which the verdict would change; NaN
    where the law knows no such limit, or there are two.
    """
    law, value, rule = judged.law, float(judged.entities.value[at]), judged.rule or rule
    if math.isnan(value) or limits[0] == limits[1]:
        return math.nan, ""  # a class is met or missed
    if law.normal or rule.name == "simple":
        return decide.margin(value, float(law.u[at]), *limits, rule)
    lower, upper = limits
    if law.cdf is None or math.isfinite(lower) == math.isfinite(upper):
        return math.nan, ""
    sure, unsure = _reached(law, judged.entities.value, at, (rule.confidence, 1 - rule.confidence))
    if math.isfinite(upper):
        return decide.nearest_threshold({"supported": upper - sure, "contradicted": upper - unsure})
    return decide.nearest_threshold({"supported": unsure - lower, "contradicted": sure - lower})


def _reached(law: Law, values: NDArray[np.float64], at: int, probabilities: tuple[float, float]) -> list[float]:
    """Return the limits that the true value of one entity stays below with these probabilities."""
    assert law.cdf is not None
    if law.of is None:
        return [float(decide.reach(law.cdf, values, law.u, each)[at]) for each in probabilities]
    twice = np.array([at, at])
    pair = law.of(twice)
    assert pair.cdf is not None
    return [float(end) for end in decide.reach(pair.cdf, values[twice], pair.u, np.array(probabilities))]
