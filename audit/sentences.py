"""What a finding says to a person: the sentence, the method line and the question to send back."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from audit import wording
from audit.assess import wants_mean
from audit.claims import Claim
from audit.definitions import PERCEIVED, both
from audit.evidence_list import stated_point
from audit.matching import BLANK, Match
from audit.model import NUMBER, POINT_FIELDS
from audit.products import ONLY_PRODUCT

if TYPE_CHECKING:
    from audit.case import Case
    from audit.outcome import Outcome

CORRECT = "Will the claim be corrected, or is there other evidence?"
LOWER = ", or the claim be lowered?"


MOST_DEFINITIONS = 8


def message(case: Case, claim: Claim, found: Match, outcome: Outcome) -> str:
    """Return the finding in one or two sentences."""
    quantity = claim.quantity
    if outcome.verdict == "unevidenced":
        whose = "of this product" if claim.product else "(the claim names no product)"
        text = f"Nothing handed in gives the {quantity.title} {whose}"
        if len(found.silent):
            text += "; a simulation or data sheet names it, which is no evidence"
        return text + "."
    if not claim.has_limit:
        return f"The claim on the {quantity.title} has no limit that can be tested."
    if not len(outcome.rows) or (math.isnan(outcome.value) and outcome.verdict == "overreaching"):
        return _sentence(outcome.detail) if outcome.detail else _nothing_there(case, claim, found)
    if math.isfinite(claim.population_percent):
        return _sentence(outcome.detail)
    limit = [end for end in (outcome.meaning.lower, outcome.meaning.upper) if math.isfinite(end)]
    value = wording.measured(outcome.value, quantity, outcome.u, limit) + both(quantity, outcome.value)
    limits = wording.limits(claim, outcome.meaning.lower, outcome.meaning.upper)
    if outcome.meaning.definition == PERCEIVED:
        limits += f" measured ({wording.limits(claim, claim.lower, claim.upper)} perceived)"
    kind = claim.statistic or quantity.statistic
    where = _where(case, outcome)
    among = f", the worst of {outcome.points} points" if outcome.points > 1 else ""
    text = value + (f" at {where}" if where else "") + f" ({kind}{among}; {wording.counted(outcome.units, 'unit')})"
    text += f"; {_said(claim)} {limits}"
    if outcome.verdict == "contradicted":
        missed = "missed" if claim.criterion else "contradicted"
        text += f": {missed} by {outcome.failing} of {wording.counted(outcome.points, 'point')}"
    text += _disagreement(case, claim, outcome)
    if outcome.detail:
        text = _sentence(text) + f" {_sentence(outcome.detail)}".rstrip(".")
    if found.gaps:
        text += f". Not covered: {_gaps(found)}"
    if outcome.verdict != "contradicted":
        text += ". Said of the units tested, not of production"
    return _sentence(text)


def ask(case: Case, claim: Claim, found: Match, outcome: Outcome) -> str:
    """Return the question to send back to the maker or laboratory, "" where nothing is open."""
    quantity = claim.quantity
    name = f"the {quantity.title}"
    if outcome.verdict == "unevidenced":
        wanted = wording.listing([wording.condition(field, span) for field, span in claim.conditions.items()])
        return (
            f"Please send a test report that gives {name}"
            + (f" at {wanted}" if wanted else "")
            + ", with laboratory, method, expanded uncertainty and the serial numbers tested."
        )
    if not claim.has_limit:
        return f"Which limit of {name} is claimed, by which definition and at which operating point?"
    if "limit unconfirmed" in outcome.reasons:
        return (
            f"Which limit of {name} does its source lay down ({claim.source or 'not stated'})? It is unconfirmed here."
        )
    if "definition not stated" in outcome.reasons:
        definitions = list(outcome.admissible or quantity.definitions)
        choices = f": {wording.listing(definitions, MOST_DEFINITIONS)}?" if definitions else "?"
        return f"Which definition does the claim on {name} use{choices}"
    if "too dark to judge" in outcome.reasons:
        return (
            f"{_measured_against(case, claim, outcome)} Its uncertainty there is more than a third of the limit's "
            "width: can it be measured with more light on the instrument?"
        )
    if "sources disagree" in outcome.reasons:
        return (
            f"Two sources give {name} on different sides of the limit (see the evidence): which one is right, and why?"
        )
    if outcome.ask and outcome.verdict in ("overreaching", "inconclusive"):
        return outcome.ask
    if not len(outcome.rows) and "too few units" in outcome.reasons:
        return f"Please send {name} of more units, told apart by serial numbers, measured at one setting."
    if not len(outcome.rows):
        return f"Please send {name} measured at the {_said(claim)} conditions: {_missing(found)}."
    if found.gaps and outcome.verdict != "contradicted":
        return f"Please send {name} also at {_gaps(found)}."
    if "record inadequate" in outcome.reasons:
        return f"What is the expanded uncertainty (k = 2) of {name}?"
    if "too few units" in outcome.reasons and math.isfinite(claim.population_percent):
        return f"Can more units, drawn at random from production, be tested for {name}?"
    if outcome.verdict == "contradicted":
        open_question = "Is there other evidence?" if claim.criterion else CORRECT
        return f"{_measured_against(case, claim, outcome)} {open_question}"
    if outcome.verdict == "inconclusive":
        open_question = "Can it be measured with a smaller uncertainty" + ("?" if claim.criterion else LOWER)
        return f"{_measured_against(case, claim, outcome)} {open_question}"
    return ""


def method(case: Case, claim: Claim, found: Match, outcome: Outcome, information: str) -> str:
    """Return how the value and the verdict came about, and what they rest on."""
    if not len(outcome.rows):
        return ""
    book = case.book
    parts = [*outcome.method] or _usual_method(case, claim, outcome)
    named = book.evidence.documents.set_index("document_id")["product"].reindex(book.document[outcome.rows])
    how = sorted({text for text in named if text})
    if how:
        parts.append(
            f"document names no product: taken as {wording.listing(how)}"
            if how == [ONLY_PRODUCT]
            else f"product {how[0]}"
        )
    parts += [*outcome.notes, *found.said] + ([information] if information else [])
    return "; ".join(part for part in parts if part)


def _usual_method(case: Case, claim: Claim, outcome: Outcome) -> list[str]:
    """How readings come to a verdict by their uncertainty."""
    book, rule = case.book, case.rule
    computed = book.computed[outcome.rows] | (book.quantity[outcome.rows] != claim.quantity.name)
    parts = [case.methods.get(claim.quantity.name, "") if computed.all() else "as reported by the document"]
    if math.isfinite(claim.population_percent):
        parts.append(
            "share of production: exact binomial limits (Clopper and Pearson 1934), one-sided at "
            f"{100 * rule.confidence:g} %; assumes units drawn at random"
        )
    elif rule.name == "simple":
        parts.append("decided by the measured side alone (simple acceptance, JCGM 106:2012, 8.2)")
    else:
        parts.append(
            f"conformance probability (JCGM 106:2012, 7), normal, against {rule.confidence:g} one-sided; points of one "
            "document share the common part of u, so the worst point stands for all (an approximation)"
        )
    if len(outcome.rows) > 1 and wants_mean(claim):
        spread = wording.measured(float(np.std(book.value[outcome.rows], ddof=1)), claim.quantity)
        parts.append(
            "u of the mean: the common part, and the repeatability of the register "
            f"({claim.quantity.uncertainty_status or 'none'}) over n; scatter of readings {spread}, shown, not included"
        )
    bases = sorted(set(book.u.basis[outcome.rows]))
    parts.append(f"uncertainty: {wording.listing(bases)}, and half a printed digit")
    if outcome.assumed:
        parts.append(f"defaults of the register are {claim.quantity.uncertainty_status or 'MEMORY (chosen)'}")
    if outcome.meaning.definition == "perceived":
        parts.append("perceived light by the square law, IES Lighting Handbook (MEMORY)")
    return parts


def _said(claim: Claim) -> str:
    return "required" if claim.criterion else "claimed"


def _where(case: Case, outcome: Outcome) -> str:
    point = stated_point(case.book, outcome.rows)
    return wording.operating_point(point, leave_out=("product", "used_in", "test_object"))


def _measured_against(case: Case, claim: Claim, outcome: Outcome) -> str:
    """What is claimed and what was found, in one sentence that can be sent on."""
    if math.isfinite(claim.population_percent):
        return _sentence(outcome.detail)
    value = wording.measured(outcome.value, claim.quantity, outcome.u, [outcome.meaning.lower, outcome.meaning.upper])
    value += both(claim.quantity, outcome.value)
    where = _where(case, outcome)
    source = "working it out" if outcome.method else f"'{case.book.where(int(outcome.rows[0]))[0]}'"
    limits = wording.limits(claim, outcome.meaning.lower, outcome.meaning.upper)
    return (
        f"The {claim.quantity.title} of {claim.product or 'this product'} is {_said(claim)} as {limits}; "
        f"{source} gives {value}" + (f" at {where}." if where else ".")
    )


def _nothing_there(case: Case, claim: Claim, found: Match) -> str:
    quantity = claim.quantity
    if not len(found.pool):
        return (
            f"The {quantity.title} was measured only on another test object: evidence on a part does not cover "
            "optics, driver and temperature of the whole product."
        )
    return (
        f"The {quantity.title} was measured ({wording.counted(len(found.pool), 'reading')}), but not at the "
        f"{_said(claim)} conditions: {_missing(found, case)}."
    )


def _missing(found: Match, case: Case | None = None) -> str:
    """What keeps the readings out, field by field: what is wanted, and what was tested."""
    words = []
    for name, kind in found.blocking.items():
        wanted = found.stated[name]
        text = wording.condition(name, wanted) if wanted else f"the whole product (no single {name})"
        if case is not None:
            text += " (not stated by the documents)" if kind == BLANK else f" (tested: {_tested(case, name, found)})"
        words.append(text)
    return wording.listing(words) or "the claimed definition"


def _tested(case: Case, name: str, found: Match) -> str:
    values = case.book.field(name, found.pool)
    if POINT_FIELDS[name] == NUMBER:
        numbers = np.unique(values.astype(float))
        numbers = numbers[~np.isnan(numbers)]
        if len(numbers) > 4:
            return f"{wording.plain(numbers[0])} to {wording.plain(numbers[-1])}"
        return wording.listing([wording.plain(number) for number in numbers]) or "not stated"
    return wording.listing(sorted({value for value in values if value}), 4) or "not stated"


def _gaps(found: Match) -> str:
    return wording.listing(
        [
            wording.POINT_WORDS[name].format(wording.listing([wording.plain(v) for v in values]))
            for name, values in found.gaps.items()
        ]
    )


def _disagreement(case: Case, claim: Claim, outcome: Outcome) -> str:
    """What disagrees with the deciding value: the document's own print, or another report."""
    if outcome.rival < 0:
        return ""
    book, own = case.book, int(outcome.rows[0])
    other = wording.measured(outcome.rival_value, claim.quantity, limits=[outcome.value])
    document = book.where(outcome.rival)[0]
    if book.test[own] != book.test[outcome.rival]:
        return f"; '{document}' gives {other}"
    source = "recomputed from the spectrum" if book.spectral[own] else "worked out from other readings"
    return f"; {source}, while '{document}' prints {other}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."
