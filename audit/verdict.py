"""The verdict on one claim from the readings that match it, under one meaning or several."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np

from audit import decide, wording
from audit.assess import Assessment, Candidate
from audit.case import Case
from audit.claims import Claim
from audit.matching import Match
from audit.outcome import MEETS, MISSES, Judged, Outcome, gap_reasons, limit_of, margin, worst_of
from audit.shares import judge_share

# Words that promise without a limit; a claim in such words goes further than any test.
ABSOLUTE = re.compile(r"\w+-free\b|\bfree of\b|\bfor life\b|\blife-?long\b|\bnever\b|\balways\b|\bforever\b|\bzero\b")


def judge_meanings(case: Case, claim: Claim, assessment: Assessment) -> Outcome:
    """Return the outcome of a claim. Where admissible meanings give different verdicts, the maker has to say which."""
    found = assessment.found
    if not len(found.pool) and not len(found.parts):
        return Outcome("unevidenced", [])
    if not claim.has_limit:
        absolute = ABSOLUTE.search(f"{claim.note} {claim.definition}".casefold())
        return Outcome("overreaching" if absolute else "inconclusive", ["no limit stated"])
    outcomes = [_judge(case, claim, found, candidate) for candidate in assessment.candidates]
    own = tuple(candidate.meaning.definition for candidate in assessment.candidates)
    outcomes[0] = replace(outcomes[0], admissible=own if len(own) > 1 else assessment.admissible)
    if len({outcome.verdict for outcome in outcomes}) == 1:
        said = f"the definition is left open, every admissible one gives this verdict: {wording.listing(list(own))}"
        return replace(outcomes[0], notes=(*outcomes[0].notes, *([said] if len(own) > 1 else [])))
    told = "; ".join(f"as {outcome.meaning.definition}: {outcome.verdict}" for outcome in outcomes)
    return replace(_settled(outcomes[0], "definition not stated"), detail=told)


def _settled(outcome: Outcome, reason: str) -> Outcome:
    """An outcome that the papers can't decide for this reason, whatever the probability."""
    if outcome.verdict == "overreaching" and not len(outcome.rows):
        return outcome
    others = [word for word in outcome.reasons if word not in (reason, "limit within uncertainty")]
    return replace(outcome, verdict="inconclusive", reasons=[reason, *others])


def _judge(case: Case, claim: Claim, found: Match, candidate: Candidate) -> Outcome:
    """Judge under one meaning of the claim."""
    if candidate.judged is None:
        outcome = Outcome("overreaching", list(candidate.reasons), meaning=candidate.meaning)
        outcome = replace(outcome, detail=candidate.detail, ask=candidate.ask)
    elif math.isfinite(claim.population_percent):
        outcome = judge_share(case.book, claim, found, candidate, case.rule)
    else:
        outcome = _over_points(case, claim, found, candidate, candidate.judged)
    if candidate.settled:
        outcome = _settled(outcome, candidate.settled)
    unconfirmed = claim.limit_status.startswith("MEMORY") and len(outcome.rows) > 0
    return _settled(outcome, "limit unconfirmed") if unconfirmed else outcome


def _over_points(case: Case, claim: Claim, found: Match, candidate: Candidate, judged: Judged) -> Outcome:
    """Combine the verdicts at the points; the worst one stands for the claim and is named."""
    book, meaning, chosen = case.book, candidate.meaning, candidate.chosen
    entities, limits = judged.entities, (meaning.lower, meaning.upper)
    disagree = entities.rival >= 0
    verdicts = np.where(disagree | judged.undefined, "inconclusive", judged.verdicts)
    verdict = decide.combine(verdicts, not found.gaps)
    worst = worst_of(book, judged, verdicts, verdict, limits)
    value, spread = float(entities.value[worst]), float(judged.u[worst])
    if verdict == "overreaching":
        reasons = sorted({*gap_reasons(found.gaps, book.longest(chosen.kept)), *judged.reasons.get(worst, ())})
    elif verdict == "inconclusive":
        unsure = "record inadequate" if math.isnan(judged.probability[worst]) else "limit within uncertainty"
        settled = (("sources disagree", disagree[worst]), ("definition not stated", judged.undefined[worst]))
        reasons = [reason for reason, holds in settled if holds] or list(judged.reasons.get(worst, (unsure,)))
    else:
        reasons = list(judged.reasons.get(worst, ()))
    units = judged.units or len(set(book.unit[chosen.kept]))
    if units == 1 and "serial" not in claim.conditions:
        reasons.append("too few units")
    distance, beyond = margin(judged, worst, limits, case.rule)
    return Outcome(
        verdict,
        reasons,
        _side(judged, worst),
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
        candidate.detail,
        candidate.notes,
        method=candidate.method,
        ask=candidate.ask,
    )


def _side(judged: Judged, at: int) -> str:
    """On which side of the limit an entity lies as measured; "" where nothing could be put to it, and for a projection
    that says neither."""
    nothing = math.isnan(judged.entities.value[at]) and judged.undefined[at]
    if nothing or judged.verdicts[at] == "overreaching":
        return ""
    return MEETS if judged.inside[at] else MISSES
