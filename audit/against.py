"""Requirements put to products: which apply by the answers of applies.toml, and what their findings say.

A requirement that doesn't apply isn't judged, and that is noted; one whose questions are open is unevidenced and
asks them. All others are claims, judged by the same code.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from audit import applies, wording
from audit.claims import Claim, Criterion, product_key
from audit.model import FINDING_COLUMNS, Evidence, LimitRule, Question
from audit.outcome import limit_of
from audit.recorder import Recorder
from audit.requirements import Requirement


class Answer(NamedTuple):
    """What is known of a question, in the words of its choices, and where that stands."""

    words: tuple[str, ...]
    place: str


# What a verdict says of a requirement.
OUTCOMES: Mapping[str, str] = {
    "contradicted": "misses this clause on this evidence",
    "overreaching": "this evidence doesn't cover this clause",
    "inconclusive": "this evidence leaves this clause open",
    "unevidenced": "no evidence on this clause",
    "supported": "meets this clause on this evidence",
}
# And what the worst verdict in a group says of all of it.
GROUP_OUTCOMES: Mapping[str, str] = {
    "contradicted": "missed on this evidence",
    "overreaching": "not covered by this evidence",
    "inconclusive": "left open by this evidence",
    "unevidenced": "no evidence on some or all of it",
    "supported": "met on this evidence",
}
OPEN = "not known whether this clause applies"
UNCONFIRMED = "nothing is decided: the limit of this clause is unconfirmed"
WORST_FIRST = tuple(OUTCOMES)
BLANK: Mapping[str, Any] = dict.fromkeys(FINDING_COLUMNS, "") | {
    "operating_point": {},
    "value": None,
    "limit": None,
    "expanded_uncertainty": None,
    "probability": None,
    "margin": None,
    "margin_u": None,
    "evidence": [],
    "points": 0,
    "units": 0,
}


def products_of(claims: Sequence[Claim], evidence: Evidence) -> list[str]:
    """Return the products of the claims and of the documents, parts of others left out; [""] where none is named."""
    points = evidence.points
    own = points.loc[points["used_in"] == "", "product"]
    named = [*(claim.product for claim in claims), *sorted(set(own))]
    first: dict[str, str] = {}
    for name in filter(None, named):
        first.setdefault(product_key(name), name)
    return list(first.values()) or [""]


def put(
    requirements: Sequence[Requirement],
    products: Sequence[str],
    named: Sequence[Claim],
    answers: applies.Answers,
    notes: Recorder,
) -> list[Claim]:
    """Return the requirements that apply, or may, as claims on the products; those that don't are noted.

    `named`: the maker's claims, whose ids are taken and which declare what limits are worked out from. Where there
    are several products, each id names its own.
    """
    claims: list[Claim] = []
    ids = {claim.claim_id for claim in named}
    for product in products:
        for name in dict.fromkeys(row.of.name for row in requirements):
            rows = [row for row in requirements if row.of.name == name and _is_about(row, product)]
            declared = [each for each in named if product_key(each.product) == product_key(product)]
            for claim in _of_one_set(rows, product, answers, declared, notes):
                claim_id = claim.claim_id + (f" ({product})" if len(products) > 1 else "")
                if claim_id in ids:
                    _not_unique(claim_id, claim, notes)
                    continue
                ids.add(claim_id)
                claims.append(replace(claim, claim_id=claim_id))
    return claims


def _is_about(row: Requirement, product: str) -> bool:
    return not row.claim.product or product_key(row.claim.product) == product_key(product)


def _of_one_set(
    rows: Sequence[Requirement], product: str, answers: applies.Answers, declared: Sequence[Claim], notes: Recorder
) -> list[Claim]:
    """Return the rows of one set as claims on one product; all that are open ask all that is open, at once."""
    left_out: dict[tuple[str, tuple[str, ...], int], list[str]] = {}  # key, answer and line -> ids
    kept: list[tuple[Requirement, list[Question], dict[str, Answer]]] = []
    for row in rows:
        questions = {question.key: question for question in row.of.questions}
        found = {key: answers.to(questions[key], product) for key in row.needs}
        misses = [(each.key, *got) for each in row.conditions if (got := found[each.key]) and not each.holds(got[0])]
        if misses:
            left_out.setdefault(misses[0], []).append(row.requirement_id)
        else:
            stated = {key: Answer(got[0], f"{applies.FILE}, line {got[1]}") for key, got in found.items() if got}
            claimed = {key: each for key in found if (each := _declared(questions[key], declared))}
            known = claimed | stated
            kept.append((row, [questions[key] for key in found if key not in known], known))
    for (key, answer, line), names in left_out.items():
        notes.observe(
            "requirement_not_applicable",
            "note",
            f"{rows[0].of.name} is for another answer than {key} = {', '.join(answer)}, and isn't put to "
            f"{product or 'the product'}: {', '.join(names)}",
            subject=product,
            document=answers.document.path,
            place=f"line {line}",
            by="against",
        )
    asked = {question.key for _, still_open, _ in kept for question in still_open}
    order = [question for question in rows[0].of.questions if question.key in asked] if rows else []
    text = applies.ask(product, order) if order else ""
    claims = []
    for row, still_open, given in kept:
        try:
            claims.append(_as_claim(row, product, still_open, given, text))
        except Exception as error:  # a rule is its set's code, and one that fails stops nothing else
            notes.observe(
                "requirement_not_read",
                "major",
                f"requirement {row.requirement_id} of {row.of.name} isn't judged: its limit can't be worked out "
                f"({type(error).__name__}: {error})",
                ask="check the answers that it needs, else update or remove what brings the set",
                subject=row.requirement_id,
                document=row.claim.document,
                place=row.claim.place,
                by="against",
            )
    return claims


def _declared(question: Question, declared: Sequence[Claim]) -> Answer | None:
    """Return what the maker's own claims say to a question for a number; None where they say nothing or several.

    Only a claim on the product as a whole counts: one at a setting or after hours declares something else.
    """
    found = {
        claim.lower if math.isfinite(claim.lower) else claim.upper: claim
        for claim in declared
        if question.claimed
        and claim.quantity.name == question.claimed
        and claim.has_limit
        and not claim.conditions
        and (not question.definitions or claim.definition in question.definitions)
    }
    if len(found) != 1:
        return None
    ((value, claim),) = found.items()
    return Answer((f"{value:.12g}",), f"claim {claim.claim_id}") if value > 0 else None


def _as_claim(
    row: Requirement, product: str, still_open: Sequence[Question], given: Mapping[str, Answer], text: str
) -> Claim:
    texts = tuple(question.text for question in still_open)
    claim, read_in = row.claim, row.claim.source
    if row.limit_from and not texts:
        claim, read_in = _with_limit(row, row.limit_from, given)
    formula = row.limit_from.formula if row.limit_from else ""
    criterion = Criterion(
        row.of, row.requirement_id, row.clause, row.group, read_in, texts, text if texts else "", formula
    )
    where = ", ".join(filter(None, (row.of.publication, row.of.edition, row.clause)))
    return replace(claim, product=product, source=where, criterion=criterion)


def _with_limit(row: Requirement, rule: LimitRule, given: Mapping[str, Answer]) -> tuple[Claim, str]:
    """Return a requirement's claim with the limit that its rule gives, and how it came about, in words."""
    questions = {question.key: question for question in row.of.questions}
    values = {
        key: ", ".join(given[key].words) if questions[key].unit is None else float(given[key].words[0])
        for key in rule.needs
    }
    limit = float(rule.limit(values))
    claim = replace(row.claim, lower=limit) if row.claim.relation == "at_least" else replace(row.claim, upper=limit)
    inputs = "; ".join(
        f"{key} = {wording.with_unit(', '.join(given[key].words), questions[key].unit or '')} ({given[key].place})"
        for key in rule.needs
    )
    told = f"the limit is {rule.formula}, from {inputs}"
    return claim, "; ".join(filter(None, (row.claim.source, told)))


def _not_unique(claim_id: str, claim: Claim, notes: Recorder) -> None:
    notes.observe(
        "requirement_not_read",
        "major",
        f"requirement {claim_id} isn't judged: a claim has that name",
        ask="give the claim another id",
        subject=claim_id,
        document=claim.document,
        place=claim.place,
        by="against",
    )


def is_open(claim: Claim) -> bool:
    """Whether it isn't known if a claim is a requirement on its product at all."""
    return claim.criterion is not None and bool(claim.criterion.ask)


def open_finding(claim: Claim) -> dict[str, Any]:
    """Return the finding on a requirement of which isn't known whether it applies. Its claim has a criterion."""
    assert claim.criterion is not None
    return {
        **BLANK,
        "product": claim.product,
        "claim_id": claim.claim_id,
        "quantity": claim.quantity.name,
        "verdict": "unevidenced",
        "reasons": ["applicability not stated"],
        "unit": claim.quantity.unit,
        "limit": limit_of(claim.lower, claim.upper),
        "relation": claim.relation,
        "statistic": claim.statistic or claim.quantity.statistic,
        "definition": claim.definition,
        "message": f"Not known whether this applies: {' '.join(claim.criterion.open_questions)}",
        "ask": claim.criterion.ask,
        "claim": wording.claim_sentence(claim),
    }


def with_criteria(findings: Sequence[Mapping[str, Any]], claims: Sequence[Claim]) -> list[dict[str, Any]]:
    """Return findings with `criterion`: None on a claim, else what is laid down where and what the verdict says of it.

    A group's outcome is that of its worst requirement: it is met only if all of them are.
    """
    by_id = {claim.claim_id: claim for claim in claims}
    groups: dict[tuple[str, ...], list[str]] = {}
    for finding in findings:
        groups.setdefault(_group(finding, by_id), []).append(finding["verdict"])
    worst = {key: min(verdicts, key=WORST_FIRST.index) for key, verdicts in groups.items()}
    return [
        {**finding, "criterion": _criterion(by_id[finding["claim_id"]], finding, worst[_group(finding, by_id)])}
        for finding in findings
    ]


def _outcome(finding: Mapping[str, Any]) -> str:
    if "applicability not stated" in finding["reasons"]:
        return OPEN
    return UNCONFIRMED if "limit unconfirmed" in finding["reasons"] else OUTCOMES[finding["verdict"]]


def _group(finding: Mapping[str, Any], claims: Mapping[str, Claim]) -> tuple[str, ...]:
    criterion = claims[finding["claim_id"]].criterion
    return (finding["product"], criterion.of.name, criterion.group) if criterion and criterion.group else ()


def _criterion(claim: Claim, finding: Mapping[str, Any], worst: str) -> dict[str, Any] | None:
    criterion = claim.criterion
    if criterion is None:
        return None
    return {
        "set": criterion.of.name,
        "title": criterion.of.title,
        "publication": criterion.of.publication,
        "edition": criterion.of.edition,
        "clause": criterion.clause,
        "requirement": criterion.requirement_id,
        "status": claim.limit_status,
        "read_in": criterion.read_in,
        "outcome": _outcome(finding),
        "group": criterion.group,
        "group_outcome": GROUP_OUTCOMES[worst] if criterion.group else "",
        "cautions": list(criterion.of.cautions),
    }
