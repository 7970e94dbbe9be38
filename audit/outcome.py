"""The verdict on one claim from the readings that match it, under one meaning or several."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit import decide, wording
from audit.book import Book, Rows
from audit.claims import Claim
from audit.definitions import TRANSFORMS, Meaning, meanings
from audit.matching import SETTINGS, Match
from audit.model import Rule
from audit.select import Entities, Selection, means, select, single

MEETS, MISSES = "meets as measured", "misses as measured"
UNLIMITED = Meaning("", -math.inf, math.inf)
# Words that promise without a limit; a claim in such words goes further than any test.
ABSOLUTE_WORDS = (
    "free",
    "never",
    "always",
    "for life",
    "forever",
    "lifetime",
    "no ",
    "zero",
    "all ",
    "every",
    "any ",
)


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
    unit: str = ""
    limit: float | list[float] | None = None
    rows: Rows = field(default_factory=lambda: np.array([], np.int64))
    selection: Selection | None = None
    points: int = 0
    units: int = 0
    failing: int = 0
    assumed: bool = False
    meaning: Meaning = UNLIMITED
    detail: str = ""


def judge_meanings(book: Book, claim: Claim, found: Match, rule: Rule, scale: float = 1.0) -> Outcome:
    """Return the outcome of a claim. Where admissible meanings give different verdicts, the maker has to say which.

    `scale` multiplies the assumed uncertainties, to show what they decide.
    """
    if not len(found.pool) and not len(found.parts):
        return Outcome("unevidenced", [])
    if not claim.has_limit:
        return _without_limit(claim)
    choices = meanings(claim)
    if not choices:
        left_open = Meaning(claim.definition, claim.lower, claim.upper)
        return _settled(_judge(book, claim, found, left_open, rule, scale), "definition not stated")
    outcomes = [_judge(book, claim, found, meaning, rule, scale) for meaning in choices]
    if len({outcome.verdict for outcome in outcomes}) == 1:
        return outcomes[0]
    told = "; ".join(f"as {outcome.meaning.definition}: {outcome.verdict}" for outcome in outcomes)
    return replace(_settled(outcomes[0], "definition not stated"), detail=told)


def limit_of(lower: float, upper: float) -> float | list[float] | None:
    """Return the one limit, or both, or None where there is none."""
    ends = [end for end in (lower, upper) if math.isfinite(end)]
    return ends[0] if len(ends) == 1 else ends or None


def _without_limit(claim: Claim) -> Outcome:
    text = f" {claim.note} {claim.definition} ".casefold()
    absolute = any(word in text for word in ABSOLUTE_WORDS)
    return Outcome("overreaching" if absolute else "inconclusive", ["no limit stated"])


def _settled(outcome: Outcome, reason: str) -> Outcome:
    """An outcome that the papers can't decide for this reason, whatever the probability."""
    if outcome.verdict == "overreaching" and not len(outcome.rows):
        return outcome
    reasons = [
        reason,
        *(word for word in outcome.reasons if word not in (reason, "limit within uncertainty")),
    ]
    return replace(outcome, verdict="inconclusive", reasons=reasons)


def _judge(book: Book, claim: Claim, found: Match, meaning: Meaning, rule: Rule, scale: float) -> Outcome:
    """Judge under one meaning of the claim."""
    quantity = claim.quantity
    named = bool(quantity.definitions) and meaning.definition not in TRANSFORMS
    rows = found.rows
    if named and meaning.definition:
        rows = rows[np.isin(book.definition[rows], ("", meaning.definition))]
    if not len(rows):
        return Outcome("overreaching", _blocked_reasons(found), meaning=meaning)
    chosen = select(book, rows, meaning.lower, meaning.upper, quantity.recompute_allowance)
    of_share = math.isfinite(claim.population_percent)
    wants_mean = (claim.statistic or quantity.statistic) == "mean of units" and not of_share
    entities = means(book, chosen) if wants_mean else single(book, chosen)
    u = np.where(entities.assumed, scale, 1.0) * entities.u
    undefined = np.array([named and (book.definition[members] == "").any() for members in entities.rows], bool)
    probability = decide.conformance_probability(entities.value, u, meaning.lower, meaning.upper)
    inside = decide.meets(entities.value, meaning.lower, meaning.upper)
    verdicts = decide.verdicts(probability, inside, rule)
    if of_share:
        return judge_share(book, claim, found, meaning, rule, chosen, entities, probability, verdicts)
    unconfirmed = claim.limit_status.startswith("MEMORY")
    verdicts = np.where(entities.disagree | undefined | unconfirmed, "inconclusive", verdicts)
    verdict = decide.combine(verdicts, not found.gaps)
    worst = _worst(probability, verdicts, verdict)
    reasons = _reasons(found, verdict, unconfirmed, entities.disagree[worst], undefined[worst], probability[worst])
    units = len(set(book.unit[chosen.kept]))
    if units == 1 and "serial" not in claim.conditions:
        reasons.append("too few units")
    value, spread = float(entities.value[worst]), float(u[worst])
    return Outcome(
        verdict,
        reasons,
        MEETS if inside[worst] else MISSES,
        value,
        spread,
        float(probability[worst]),
        decide.margin(value, spread, meaning.lower, meaning.upper, rule),
        quantity.unit,
        limit_of(meaning.lower, meaning.upper),
        entities.rows[worst],
        chosen,
        len(entities.value),
        units,
        int((verdicts == "contradicted").sum()),
        bool(entities.assumed.any()),
        meaning,
    )


def _worst(probability: NDArray[np.float64], verdicts: NDArray[np.str_], verdict: str) -> int:
    """The entity that decides: of those with the overall verdict (all, if none has it) the least probable."""
    candidates = np.flatnonzero(verdicts == verdict) if (verdicts == verdict).any() else np.arange(len(verdicts))
    ranked = np.nan_to_num(probability[candidates], nan=-1.0)
    return int(candidates[np.argmin(ranked)])


def _reasons(found: Match, verdict: str, unconfirmed: bool, disagree: bool, undefined: bool, p: float) -> list[str]:
    if verdict == "overreaching":
        return _gap_reasons(found.gaps)
    if verdict != "inconclusive":
        return []
    reasons = [
        reason
        for reason, holds in (
            ("sources disagree", disagree),
            ("limit unconfirmed", unconfirmed),
            ("definition not stated", undefined),
        )
        if holds
    ]
    return reasons or ["record inadequate" if math.isnan(p) else "limit within uncertainty"]


def _gap_reasons(gaps: Mapping[str, Any]) -> list[str]:
    words = {
        "past test duration" if name == "hours" else "untested settings" if name in SETTINGS else "other conditions"
        for name in gaps
    }
    return sorted(words)


def _blocked_reasons(found: Match) -> list[str]:
    """Why no reading is at the claimed conditions."""
    if not len(found.pool):
        return ["other test object"]
    blank = {name for name, kind in found.blocking.items() if kind == "blank"}
    reasons = _gap_reasons(dict.fromkeys(found.blocking.keys() - blank - {"test_object"}))
    if "test_object" in found.blocking and "test_object" not in blank:
        reasons.append("other test object")
    return reasons + (["record inadequate"] if blank else []) or ["definition not stated"]


def judge_share(
    book: Book,
    claim: Claim,
    found: Match,
    meaning: Meaning,
    rule: Rule,
    chosen: Selection,
    entities: Entities,
    probability: NDArray[np.float64],
    verdicts: NDArray[np.str_],
) -> Outcome:
    """Judge a claim about a share of production: a unit counts by its worst point, inside if p >= 0.5."""
    inside = decide.meets(entities.value, meaning.lower, meaning.upper)
    likely = np.where(np.isnan(probability), inside, probability >= 0.5)
    unit_of = book.unit[chosen.kept]
    units = sorted(set(unit_of))
    good = {unit: bool(likely[unit_of == unit].all()) for unit in units}
    settled = {unit: set(verdicts[unit_of == unit]) for unit in units}
    doubt = [unit for unit, words in settled.items() if words != {"supported"} and "contradicted" not in words]
    disputed = set(unit_of[entities.disagree])

    def judged(count: int) -> decide.Share:
        return decide.share(count, len(units), claim.population_percent, rule.confidence)

    result = judged(sum(good.values()))
    least, most = (sum(ok if unit not in disputed else swing for unit, ok in good.items()) for swing in (False, True))
    verdict, reasons = result.verdict, ["too few units"] if result.verdict == "overreaching" else []
    if judged(least).verdict != judged(most).verdict:
        verdict, reasons = "inconclusive", ["sources disagree"]
    if found.gaps and verdict != "contradicted":
        verdict, reasons = "overreaching", sorted({*reasons, *_gap_reasons(found.gaps)})
    if (book.sample_origin[chosen.kept] == "").any():
        reasons.append("sample not stated")
    observed = 100 * result.inside / result.units
    reached = observed >= claim.population_percent
    detail = (
        f"{result.inside} of {result.units} units are inside ({wording.limits(claim, meaning.lower, meaning.upper)}); "
        f"with {100 * rule.confidence:g} % confidence the share is at least {result.lower:.1f} % and at most "
        f"{result.upper:.1f} %"
    )
    if result.verdict == "overreaching":
        detail += f"; {result.units_needed} units with no further failure would carry the claim"
    if doubt:
        detail += f"; in doubt: {wording.listing([str(unit) for unit in doubt])}"
    worst = int(np.argmin(np.nan_to_num(probability, nan=-1.0)))
    return Outcome(
        verdict,
        reasons,
        MEETS if reached else MISSES,
        value=observed,
        margin=(result.lower if reached else result.upper) - claim.population_percent,
        unit="% of units",
        limit=claim.population_percent,
        rows=entities.rows[worst],
        selection=chosen,
        points=len(entities.value),
        units=len(units),
        failing=len(units) - result.inside,
        assumed=bool(entities.assumed.any()),
        meaning=meaning,
        detail=detail,
    )
