"""The strongest claim that the evidence carries: what a maker could honestly print instead.

For the same statistic and points, the limit at which the conformance probability reaches the confidence asked for,
rounded to the unfavourable side at the trade's resolution. None where sources disagree, where the limit is
unconfirmed, or where nothing was measured.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit import decide, wording
from audit.assess import Assessment, Candidate, wants_mean
from audit.case import Case
from audit.claims import Claim
from audit.definitions import as_stated
from audit.evidence_list import stated_point
from audit.outcome import Judged, Law, Outcome, named_units

Floats = NDArray[np.float64]
NONE_WHERE = {"sources disagree", "limit unconfirmed"}


def strongest(case: Case, claim: Claim, assessment: Assessment, outcome: Outcome) -> list[dict[str, Any]]:
    """Return the strongest claims, one per meaning that was judged: definition, lower, upper, units and a sentence."""
    if NONE_WHERE & set(outcome.reasons):
        return []
    if math.isfinite(claim.population_percent):
        return _share(case, claim, outcome)
    found = []
    for candidate in assessment.candidates:
        judged = candidate.judged
        if judged is None or candidate.settled or (judged.entities.rival >= 0).any() or judged.undefined.any():
            continue
        if judged.strongest is None and "record inadequate" in outcome.reasons:
            continue
        lower, upper = judged.strongest or _limits(case, claim, judged, candidate.meaning.definition)
        if math.isfinite(lower) or math.isfinite(upper):
            found.append(_told(case, claim, candidate, judged, lower, upper))
    return found


def _share(case: Case, claim: Claim, outcome: Outcome) -> list[dict[str, Any]]:
    """Return the largest share of production that the units tested carry, in tenths of a per cent."""
    if not outcome.units:
        return []
    inside = outcome.units - outcome.failing
    share = round_down(100 * decide.clopper_pearson(inside, outcome.units, case.rule.confidence)[0], 1)
    limits = wording.limits(claim, outcome.meaning.lower, outcome.meaning.upper)
    return [
        {
            "definition": outcome.meaning.definition,
            "lower": share,
            "upper": None,
            "units": outcome.units,
            "sentence": f"{claim.quantity.title} {limits} for at least {share:.1f} % of production "
            f"({inside} of {wording.counted(outcome.units, 'unit')} inside, drawn at random)",
        }
    ]


def _sides(claim: Claim) -> tuple[bool, bool]:
    """Whether a lower and an upper limit are looked for: those of the claim, else the direction that is better."""
    if claim.has_limit:
        return math.isfinite(claim.lower), math.isfinite(claim.upper)
    return claim.quantity.direction != "lower", claim.quantity.direction != "higher"


def _limits(case: Case, claim: Claim, judged: Judged, definition: str) -> tuple[float, float]:
    """Return the limits that every point keeps with the confidence asked for; open sides are -inf and inf.

    They are on the basis of the definition (light as it is perceived), as the claim states its own.
    """
    value, law = judged.entities.value, judged.law
    below, above = _sides(claim)
    of_class = claim.quantity.distribution == "class"
    if not len(value) or of_class or (law.cdf is None and case.rule.name != "simple"):
        return -math.inf, math.inf
    # Between two limits each side may be missed, so each takes half of what may be.
    confidence = (1 + case.rule.confidence) / 2 if below and above else case.rule.confidence
    if case.rule.name == "simple":
        low, high = value, value
    elif law.normal:
        guard = NormalDist().inv_cdf(confidence) * law.u
        low, high = value - guard, value + guard
    else:
        assert law.cdf is not None
        low = _outermost(law, value, 1 - confidence, -1.0) if below else value
        high = _outermost(law, value, confidence, 1.0) if above else value
    decimals = claim.quantity.decimals
    lower = round_down(as_stated(definition, float(np.min(low))), decimals) if below else -math.inf
    upper = -round_down(-as_stated(definition, float(np.max(high))), decimals) if above else math.inf
    least, most = claim.quantity.least, claim.quantity.most
    if math.isnan(lower) or math.isnan(upper) or lower > most or upper < least:
        return -math.inf, math.inf
    return max(lower, least) if below else lower, min(upper, most) if above else upper


def _outermost(law: Law, value: Floats, probability: float, sign: float) -> Floats:
    """Return the outermost (1,) of the limits that each true value stays below with this probability: the largest for
    a `sign` of 1, the smallest for -1. Looked for at the outermost value, then at those alone that it leaves out."""
    assert law.cdf is not None
    if law.of is None:
        return np.atleast_1d(sign * np.max(sign * decide.reach(law.cdf, value, law.u, probability)))
    found, which = np.array([np.nan]), np.array([np.argmax(sign * value)])
    while len(which):
        some = law.of(which)
        assert some.cdf is not None
        found = np.atleast_1d(sign * np.max(sign * decide.reach(some.cdf, value[which], some.u, probability)))
        reached = law.cdf(found[0])
        if np.isnan(reached).any():
            return np.array([np.nan])
        beyond = np.flatnonzero(sign * (probability - reached) > 0)
        which = beyond if len(beyond) and not np.array_equal(beyond, which) else which[:0]
    return found


def round_down(value: float, decimals: int) -> float:
    """Return the largest number of so many decimals that isn't above the value; noise of the last bit doesn't count."""
    if not math.isfinite(value):
        return value
    scaled = value * 10**decimals
    nearest = round(scaled)
    down = nearest if abs(scaled - nearest) <= 1e-9 * max(1.0, abs(scaled)) else math.floor(scaled)
    return float(down / 10**decimals) or 0.0


def _told(case: Case, claim: Claim, candidate: Candidate, judged: Judged, lower: float, upper: float) -> dict[str, Any]:
    book, rows = case.book, np.concatenate(judged.entities.rows)
    units = judged.units or len(named_units(book.unit[rows]))
    points = len(judged.entities.value)
    relation = "between" if math.isfinite(lower) and math.isfinite(upper) else "at_least"
    relation = relation if math.isfinite(lower) else "at_most"
    ends = [wording.with_unit(wording.plain(end), claim.quantity.unit) for end in (lower, upper) if math.isfinite(end)]
    point = wording.operating_point(stated_point(book, rows, mean=True), leave_out=("product", "used_in"))
    standings = sorted({book.standing(row) for row in rows.tolist()})
    statistic = "mean of" if wants_mean(claim) else "each of" if units > 1 else ""
    definition = judged.strongest_definition or candidate.meaning.definition
    parts = [
        f"{statistic} {wording.counted(units, 'unit')}".strip(),
        f"the worst of {points} points" if points > 1 else "",
        point,
        definition,
        wording.listing(standings),
    ]
    return {
        "definition": definition,
        "lower": lower if math.isfinite(lower) else None,
        "upper": upper if math.isfinite(upper) else None,
        "units": units,
        "sentence": f"{claim.quantity.title}: {wording.RELATION_WORDS[relation].format(*ends)} "
        f"({', '.join(part for part in parts if part)})",
    }
