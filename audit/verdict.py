"""The verdict on one claim from the readings that match it, under one meaning or several."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np

from audit import decide
from audit.book import Book
from audit.claims import Claim
from audit.definitions import TRANSFORMS, Meaning, meanings
from audit.matching import BLANK, PAST, SETTINGS, Match
from audit.model import Rule
from audit.outcome import MEETS, MISSES, Judged, Outcome, gap_reasons, limit_of, worst_of
from audit.select import Selection, means, select, single
from audit.shares import judge_share

# Words that promise without a limit; a claim in such words goes further than any test.
ABSOLUTE = re.compile(r"\w+-free\b|\bfree of\b|\bfor life\b|\blife-?long\b|\bnever\b|\balways\b|\bforever\b|\bzero\b")


def judge_meanings(book: Book, claim: Claim, found: Match, rule: Rule, scale: float = 1.0) -> Outcome:
    """Return the outcome of a claim. Where admissible meanings give different verdicts, the maker has to say which.

    `scale` multiplies the assumed uncertainties, to show what they decide.
    """
    if not len(found.pool) and not len(found.parts):
        return Outcome("unevidenced", [])
    if not claim.has_limit:
        absolute = ABSOLUTE.search(f"{claim.note} {claim.definition}".casefold())
        return Outcome("overreaching" if absolute else "inconclusive", ["no limit stated"])
    choices = meanings(claim)
    if not choices:
        left_open = Meaning(claim.definition, claim.lower, claim.upper)
        return _settled(_judge(book, claim, found, left_open, rule, scale), "definition not stated")
    outcomes = [_judge(book, claim, found, meaning, rule, scale) for meaning in choices]
    if len({outcome.verdict for outcome in outcomes}) == 1:
        return outcomes[0]
    told = "; ".join(f"as {outcome.meaning.definition}: {outcome.verdict}" for outcome in outcomes)
    return replace(_settled(outcomes[0], "definition not stated"), detail=told)


def _settled(outcome: Outcome, reason: str) -> Outcome:
    """An outcome that the papers can't decide for this reason, whatever the probability."""
    if outcome.verdict == "overreaching" and not len(outcome.rows):
        return outcome
    others = [word for word in outcome.reasons if word not in (reason, "limit within uncertainty")]
    return replace(outcome, verdict="inconclusive", reasons=[reason, *others])


def _judge(book: Book, claim: Claim, found: Match, meaning: Meaning, rule: Rule, scale: float) -> Outcome:
    """Judge under one meaning of the claim."""
    quantity = claim.quantity
    named = bool(quantity.definitions) and meaning.definition not in TRANSFORMS
    rows = found.rows
    if named and meaning.definition:
        rows = rows[np.isin(book.definition[rows], ("", meaning.definition))]
    if not len(rows):
        return Outcome("overreaching", _blocked_reasons(found), meaning=meaning)
    limits = (meaning.lower, meaning.upper)
    chosen = select(book, rows, found.fixed, *limits, quantity.recompute_allowance)
    of_share = math.isfinite(claim.population_percent)
    wants_mean = (claim.statistic or quantity.statistic) == "mean of units" and not of_share
    entities = means(book, chosen, found.fixed, *limits) if wants_mean else single(book, chosen)
    u = np.where(entities.assumed, scale, 1.0) * entities.u
    probability = decide.conformance_probability(entities.value, u, *limits)
    inside = decide.meets(entities.value, *limits)
    undefined = np.array([named and (book.definition[members] == "").any() for members in entities.rows], bool)
    judged = Judged(entities, u, probability, inside, decide.verdicts(probability, inside, rule), undefined)
    if of_share:
        outcome = judge_share(book, claim, found, meaning, rule, chosen, judged)
    else:
        outcome = _over_points(book, claim, found, meaning, rule, chosen, judged)
    return _settled(outcome, "limit unconfirmed") if claim.limit_status.startswith("MEMORY") else outcome


def _over_points(
    book: Book, claim: Claim, found: Match, meaning: Meaning, rule: Rule, chosen: Selection, judged: Judged
) -> Outcome:
    """Combine the verdicts at the points; the worst one stands for the claim and is named."""
    entities, limits = judged.entities, (meaning.lower, meaning.upper)
    disagree = entities.rival >= 0
    verdicts = np.where(disagree | judged.undefined, "inconclusive", judged.verdicts)
    verdict = decide.combine(verdicts, not found.gaps)
    worst = worst_of(book, entities, judged.u, verdicts, verdict, limits)
    value, spread = float(entities.value[worst]), float(judged.u[worst])
    if verdict == "overreaching":
        reasons = gap_reasons(found.gaps, book.longest(chosen.kept))
    elif verdict == "inconclusive":
        reasons = [
            reason
            for reason, holds in (
                ("sources disagree", disagree[worst]),
                ("definition not stated", judged.undefined[worst]),
            )
            if holds
        ] or ["record inadequate" if math.isnan(judged.probability[worst]) else "limit within uncertainty"]
    else:
        reasons = []
    units = len(set(book.unit[chosen.kept]))
    if units == 1 and "serial" not in claim.conditions:
        reasons.append("too few units")
    distance, beyond = decide.margin(value, spread, *limits, rule)
    return Outcome(
        verdict,
        reasons,
        MEETS if judged.inside[worst] else MISSES,
        value,
        spread,
        float(judged.probability[worst]),
        distance,
        beyond,
        claim.quantity.unit,
        limit_of(*limits),
        entities.rows[worst],
        chosen,
        int(entities.rival[worst]),
        float(entities.rival_value[worst]),
        len(entities.value),
        units,
        int((verdicts == "contradicted").sum()),
        bool(entities.assumed.any()),
        meaning,
    )


def _blocked_reasons(found: Match) -> list[str]:
    """Why no reading is at the claimed conditions."""
    if not len(found.pool):
        return ["other test object"]
    reasons = set()
    for name, kind in found.blocking.items():
        if kind == BLANK:
            reasons.add("record inadequate")
        elif kind == PAST:
            reasons.add("past test duration")
        elif name == "test_object":
            reasons.add("other test object")
        else:
            reasons.add("untested settings" if name in SETTINGS else "other conditions")
    return sorted(reasons) or ["definition not stated"]
