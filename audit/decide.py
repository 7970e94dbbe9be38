"""Readings against limits: conformance probability, verdict, margin and shares, in this one place.

Sources: JCGM 106:2012 clauses 7 and 8 (conformance probability, decision rules), JCGM 100:2008 (GUM),
C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413 (exact binomial limits).
All functions are vectorised: arrays in, arrays out, broadcasting.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audit.model import Rule

Floats = NDArray[np.float64]
# The standard library's error function and log-gamma, to the last digits and without a tenth of a second of import.
_erfc = np.frompyfunc(math.erfc, 1, 1)
_lgamma = np.frompyfunc(math.lgamma, 1, 1)
BISECTIONS = 80  # halves the bracket to the last bit of a double
NEAR = 1e-12  # of u: as near as a bisection of a slow law has to come
LARGEST_SAMPLE = 1_000_000


def conformance_probability(value: ArrayLike, u: ArrayLike, lower: ArrayLike, upper: ArrayLike) -> Floats:
    """Return the probability that the true value lies inside [lower, upper]; open sides are -inf and inf.

    value and u (standard uncertainty) in the unit of the limits. u = 0 gives 0 or 1. NaN in, NaN out.
    JCGM 106:2012, 7.2 to 7.5, for a normal distribution.
    """
    value, u, lower, upper = np.broadcast_arrays(*(np.asarray(item, float) for item in (value, u, lower, upper)))
    with np.errstate(divide="ignore", invalid="ignore"):
        above, below = (value - lower) / u, (upper - value) / u
        # Differences of probabilities near 1 lose digits; the tails keep them.
        p = 1.0 - normal_tail(above) - normal_tail(below)
    exact = u == 0
    p = np.where(exact, ((value >= lower) & (value <= upper)).astype(float), p)
    return np.where(np.isnan(value) | np.isnan(u), np.nan, np.clip(p, 0.0, 1.0))


def normal_cdf(value: Floats, u: Floats, limit: ArrayLike) -> Floats:
    """Return the probability (n,) that a normal true value is at most `limit`; u = 0 gives 0 or 1, NaN gives NaN."""
    return conformance_probability(value, u, -math.inf, limit)


def distance_cdf(value: Floats, u: Floats, limit: ArrayLike) -> Floats:
    """Return the probability (n,) that a true distance in a plane is at most `limit`.

    value: the measured distances, u: standard uncertainty along each axis of the plane, in the same unit. The true
    point is bivariate normal about the measured one, alike in both directions, so that its bearing doesn't matter.
    JCGM 102:2011 (multivariate output quantities); JCGM 106:2012, 7.1. NaN in, NaN out.
    """
    from audit.quantities.bivariate import covariance, disc_probability

    points = np.stack([value, np.zeros_like(value)], axis=-1)
    radius = np.maximum(np.asarray(limit, float), 0.0)
    return np.where(np.asarray(limit) < 0, 0.0, 1.0) * disc_probability(points, covariance(u, u), radius)


def reach(cdf: Callable[[ArrayLike], Floats], value: Floats, u: Floats, probability: float | Floats) -> Floats:
    """Return the limits (n,) that the true values stay below with this probability, or these, by bisection of `cdf`.

    value, u (n,): where to start and its scale. NaN where `cdf` gives none.
    """
    scale = np.maximum(np.where(np.isnan(u), 0.0, u), 1e-12 * np.maximum(1.0, np.abs(value)))
    low, high = value - 8 * scale, value + 8 * scale
    for _ in range(BISECTIONS):
        short = cdf(high) < probability
        if not short.any():
            break
        high = np.where(short, value + 2 * (high - value), high)
    for _ in range(BISECTIONS):
        if not (high - low > NEAR * scale).any():
            break
        middle = (low + high) / 2
        reached = cdf(middle) >= probability
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return np.where(np.isnan(cdf(value)), np.nan, high)


def normal_tail(z: ArrayLike) -> Floats:
    """Return the probability that a standard normal variable exceeds z, any shape; NaN in, NaN out."""
    return np.asarray(0.5 * np.asarray(_erfc(np.asarray(z, float) / math.sqrt(2.0)), float))


def meets(value: ArrayLike, lower: ArrayLike, upper: ArrayLike) -> NDArray[np.bool_]:
    """Return whether the values as measured lie inside the limits."""
    value = np.asarray(value, float)
    return np.asarray((value >= np.asarray(lower)) & (value <= np.asarray(upper)))


def signed_distance(value: ArrayLike, lower: ArrayLike, upper: ArrayLike) -> Floats:
    """Return how far inside the nearer limit the values lie, negative outside, in their unit."""
    value = np.asarray(value, float)
    return np.asarray(np.minimum(value - np.asarray(lower, float), np.asarray(upper, float) - value))


def verdicts(probability: ArrayLike, inside: ArrayLike, rule: Rule) -> NDArray[np.str_]:
    """Return the verdict at each point: supported, contradicted or inconclusive.

    Guarded rule: supported if p >= c, contradicted if p <= 1 - c (JCGM 106:2012, 8.3.2 and 8.3.3).
    Simple rule: by the measured side alone (JCGM 106:2012, 8.2). Where p is NaN the guarded rule can't decide.
    """
    p, inside = np.asarray(probability, float), np.asarray(inside, bool)
    if rule.name == "simple":
        return np.where(inside, "supported", "contradicted")
    with np.errstate(invalid="ignore"):
        return np.select(
            [p >= rule.confidence, p <= 1 - rule.confidence], ["supported", "contradicted"], "inconclusive"
        )


def margin(value: float, u: float, lower: float, upper: float, rule: Rule) -> tuple[float, str]:
    """Return the distance of a value from the nearest threshold at which its verdict changes, in the unit.

    Positive: on the claim's side of that threshold; negative: beyond it. The text names the verdict on the other
    side. NaN and "" where u is NaN or there is no such threshold.
    """
    inward = float(signed_distance(value, lower, upper))
    if rule.name == "simple":
        return inward, "contradicted" if inward >= 0 else "supported"
    if math.isnan(u):
        return math.nan, ""
    guard = NormalDist().inv_cdf(rule.confidence) * u
    if math.isfinite(lower) and math.isfinite(upper):
        distances = _two_sided_distances(value, u, lower, upper, rule.confidence)
    else:
        distances = {"supported": inward - guard, "contradicted": inward + guard}
    return nearest_threshold(distances) if distances else (math.nan, "")


def nearest_threshold(distances: Mapping[str, float]) -> tuple[float, str]:
    """Return the smallest of the signed distances inside the thresholds of verdicts, and the verdict beyond it."""
    threshold, distance = min(distances.items(), key=lambda item: abs(item[1]))
    here = distance >= 0 if threshold == "supported" else distance < 0
    return distance, "inconclusive" if here else threshold


def _two_sided_distances(value: float, u: float, lower: float, upper: float, confidence: float) -> dict[str, float]:
    """The same between two limits: p falls from the middle outwards, so each threshold is found by bisection."""
    centre, half = (lower + upper) / 2, (upper - lower) / 2
    away = abs(value - centre)
    distances = {}
    for verdict, wanted in (("supported", confidence), ("contradicted", 1 - confidence)):
        if conformance_probability(centre, u, lower, upper) < wanted:
            continue  # the limits are too narrow for this u: no value reaches this probability
        near, far = 0.0, half + 40 * u
        for _ in range(BISECTIONS):
            middle = (near + far) / 2
            if conformance_probability(centre + middle, u, lower, upper) >= wanted:
                near = middle
            else:
                far = middle
        distances[verdict] = near - away
    return distances


class Share(NamedTuple):
    """k of n units inside; one-sided Clopper-Pearson limits of the share, in per cent; n it takes at this k."""

    inside: int
    units: int
    lower: float
    upper: float
    verdict: str
    units_needed: int


def share(inside: int, units: int, population_percent: float, confidence: float) -> Share:
    """Judge a claimed share of production from k of n units drawn at random.

    Supported if the lower limit reaches population_percent, contradicted if the upper one is below it,
    else overreaching, with the sample that would carry the claim if no further unit failed.
    """
    low, high = clopper_pearson(inside, units, confidence)
    claimed = population_percent / 100
    if low >= claimed:
        verdict = "supported"
    elif high < claimed:
        verdict = "contradicted"
    else:
        verdict = "overreaching"
    needed = sample_size(units - inside, claimed, confidence)
    return Share(inside, units, 100 * low, 100 * high, verdict, needed)


def clopper_pearson(inside: int, units: int, confidence: float) -> tuple[float, float]:
    """Return the lower and upper limit of a share, each one-sided at `confidence`; k = n gives (1 - c)^(1/n)."""
    alpha = 1 - confidence
    low = 0.0 if inside == 0 else _share_with_tail(inside, units, alpha)
    # At most k of n at share p is at least n - k outside at share 1 - p.
    high = 1.0 if inside == units else 1.0 - _share_with_tail(units - inside, units, alpha)
    return low, high


def binomial_tail(least: int, units: int, share: float) -> float:
    """Return the probability of at least `least` of n units at this share, from the shorter of the two sums."""
    if not 0 < share < 1:
        return float(share >= 1 or least == 0)
    above = units - least + 1 <= least
    k = np.arange(least, units + 1) if above else np.arange(least)
    ways = math.lgamma(units + 1) - np.asarray(_lgamma(k + 1.0) + _lgamma(units - k + 1.0), float)
    total = math.fsum(np.exp(ways + k * math.log(share) + (units - k) * math.log1p(-share)))
    return min(total, 1.0) if above else max(1.0 - total, 0.0)


def _share_with_tail(least: int, units: int, alpha: float) -> float:
    """Return the share at which at least `least` of n units are as probable as alpha."""
    low, high = 0.0, 1.0
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        if binomial_tail(least, units, middle) < alpha:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def sample_size(failures: int, claimed: float, confidence: float) -> int:
    """Return the smallest n for which n - failures inside carry the claimed share (59 for 95 % and none)."""

    def carries(units: int) -> bool:  # the lower limit reaches the share: so many inside are improbable at it
        return binomial_tail(units - failures, units, claimed) <= 1 - confidence

    low, high = failures, failures + 1
    while not carries(high):
        low, high = high, 2 * high
        if high > LARGEST_SAMPLE:
            return LARGEST_SAMPLE
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if carries(middle) else (middle, high)
    return high


def combine(point_verdicts: NDArray[np.str_], covered: bool) -> str:
    """Return the verdict over points: contradicted > overreaching (not covered) > inconclusive > supported."""
    if (point_verdicts == "contradicted").any():
        return "contradicted"
    if not covered or (point_verdicts == "overreaching").any():
        return "overreaching"
    return "inconclusive" if (point_verdicts == "inconclusive").any() else "supported"


def mean_uncertainty(total: Floats, repeat: Floats) -> float:
    """Return u of a mean of readings of one laboratory: u^2 = u_common^2 + u_repeat^2 / n.

    total (n,) holds both parts, repeat (n,) the one that averages out; the largest common part counts.
    """
    common = np.sqrt(np.maximum(total**2 - repeat**2, 0.0)).max()
    return float(np.hypot(common, np.sqrt(np.mean(repeat**2) / total.size)))
