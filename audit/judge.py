"""From one claim to its finding: match, select, decide, and say why. A check's own judge may add to it."""

from __future__ import annotations

import math
from typing import Any

from audit import wording
from audit.assess import Assessor, assess
from audit.case import Case
from audit.claims import Claim
from audit.evidence_list import evidence_rows, stated_point
from audit.outcome import limit_of
from audit.sentences import ask, message, method
from audit.strongest import strongest
from audit.verdict import judge_meanings
from audit.wording import COVERAGE_FACTOR


def judge_claim(case: Case, claim: Claim) -> dict[str, Any]:
    """Return the finding on one claim, with the keys of schemas/findings.py in their order."""
    assessor: Assessor = case.assessors.get(claim.quantity.name, assess)
    assessment = assessor(case, claim, 1.0)
    found, outcome = assessment.found, judge_meanings(case, claim, assessment)
    information = ""
    if outcome.assumed and case.rule.name == "guarded":
        half, twice = (judge_meanings(case, claim, assessor(case, claim, scale)).verdict for scale in (0.5, 2.0))
        information = f"at half the assumed uncertainty {half}, at twice {twice} (for information)"
    known_u = not math.isnan(outcome.u)
    return {
        "product": claim.product,
        "claim_id": claim.claim_id,
        "quantity": claim.quantity.name,
        "operating_point": stated_point(case.book, outcome.rows),
        "verdict": outcome.verdict,
        "side": outcome.side,
        "reasons": outcome.reasons,
        "value": _or_none(outcome.value),
        "unit": outcome.unit or claim.quantity.unit,
        "limit": limit_of(claim.lower, claim.upper) if outcome.limit is None else outcome.limit,
        "relation": "at_least" if math.isfinite(claim.population_percent) else claim.relation,
        "expanded_uncertainty": COVERAGE_FACTOR * outcome.u if known_u else None,
        "probability": _or_none(outcome.probability),
        "margin": _or_none(outcome.margin),
        "margin_u": _or_none(outcome.margin / outcome.u) if known_u and outcome.u > 0 else None,
        "margin_to": outcome.margin_to,
        "statistic": _statistic(claim),
        "definition": outcome.meaning.definition or claim.definition,
        "method": method(case, claim, found, outcome, information),
        "evidence": evidence_rows(case.book, outcome.rows, outcome.selection, outcome.rival, found),
        "points": outcome.points,
        "units": outcome.units,
        "message": message(case, claim, found, outcome),
        "ask": assessment.question or ask(case, claim, found, outcome),
        "strongest": strongest(case, claim, assessment, outcome),
        "claim": wording.claim_sentence(claim),
    }


def _statistic(claim: Claim) -> str:
    if math.isfinite(claim.population_percent):
        return "share of production"
    return claim.statistic or claim.quantity.statistic


def _or_none(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
