"""What judging a claim comes to, and what the verdict over points and over a share have in common."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from audit import decide
from audit.book import NO_SERIAL, Book, Rows
from audit.definitions import Meaning
from audit.matching import SETTINGS
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


@dataclass(frozen=True)
class Judged:
    """Every entity put to the limits, arrays (n,); what a verdict over points or a share is made from."""

    entities: Entities
    u: NDArray[np.float64]
    probability: NDArray[np.float64]
    inside: NDArray[np.bool_]
    verdicts: NDArray[np.str_]  # at each point, before anything settles it
    undefined: NDArray[np.bool_]


def limit_of(lower: float, upper: float) -> float | list[float] | None:
    """Return the one limit, or both, or None where there is none."""
    ends = [end for end in (lower, upper) if math.isfinite(end)]
    return ends[0] if len(ends) == 1 else ends or None


def gap_reasons(gaps: Mapping[str, Iterable[float]], longest: float) -> list[str]:
    """Return why part of a claimed range isn't covered; `longest`: the last tested hour."""
    words = set()
    for name, values in gaps.items():
        past = name == "hours" and max(values) > longest
        words.add("past test duration" if past else "untested settings" if name in SETTINGS else "other conditions")
    return sorted(words)


def worst_of(
    book: Book,
    entities: Entities,
    u: NDArray[np.float64],
    verdicts: NDArray[np.str_],
    verdict: str,
    limits: tuple[float, float],
) -> int:
    """Return the entity that decides: of those with the overall verdict (all, if none has it) the worst.

    Ranked by the distance inside the nearer limit in standard uncertainties (p, without its saturation at 0 and 1);
    where one of them has none, in the unit. Ties by value, then by document and place.
    """
    candidates = np.flatnonzero(verdicts == verdict) if (verdicts == verdict).any() else np.arange(len(verdicts))
    distance = decide.signed_distance(entities.value, *limits)
    known = (u[candidates] > 0).all()
    ranked = distance[candidates] / u[candidates] if known else distance[candidates]
    ties = candidates[np.isclose(ranked, ranked.min(), rtol=1e-12, atol=0.0)]
    return int(min(ties, key=lambda i: (entities.value[i], *book.where(int(entities.rows[i][0]))[:2])))


def named_units(units: Iterable[str]) -> list[str]:
    """Return the serials of units in order, one without a serial last."""
    return sorted(set(units), key=lambda unit: (unit == NO_SERIAL, unit))
