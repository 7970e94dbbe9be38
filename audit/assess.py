"""A claim's readings put to its limits, under each meaning that the claim leaves open.

This is how a claim on one number is assessed. A check whose limit is a region, a projection or a class brings an
assessor of its own (Check.assess); what follows, from the points to the verdict, is the same for all.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit import decide
from audit.case import Case
from audit.claims import Claim
from audit.definitions import MEASURED, TRANSFORMS, Meaning, meanings
from audit.matching import Match, blocked_reasons, match
from audit.outcome import Judged, Law
from audit.select import Entities, Selection, means, select, single


@dataclass(frozen=True)
class Candidate:
    """A claim under one meaning. `judged` is None where no reading is at the claimed conditions: `reasons` say why.

    `settled`: a reason that leaves this meaning inconclusive whatever the probability; `notes`: for the method line,
    `detail`: for the sentence. `method` says how value and verdict came about, and `ask` what to ask, where the usual
    words don't fit.
    """

    meaning: Meaning
    chosen: Selection
    judged: Judged | None
    reasons: tuple[str, ...] = ()
    settled: str = ""
    notes: tuple[str, ...] = ()
    detail: str = ""
    method: tuple[str, ...] = ()
    ask: str = ""

    def undecided(self, why: str) -> Candidate:
        """Return the same as information only: the claim's definition isn't understood, or isn't to be had."""
        detail = ". ".join(text for text in (why, self.detail) if text)
        return replace(self, settled="definition not stated", detail=detail)


@dataclass(frozen=True)
class Assessment:
    """What bears on a claim, and what each admissible meaning makes of it.

    `admissible`: the definitions to choose from, where they aren't those of the candidates or of the register;
    `question`: what to send back, where the check knows better than the words for any quantity.
    """

    found: Match
    candidates: Sequence[Candidate]
    admissible: tuple[str, ...] = ()
    question: str = ""


Assessor = Callable[[Case, Claim, float], Assessment]


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Put the matching readings, or their means over units, to the limits of the claim.

    `scale` multiplies the assumed uncertainties, to show what they decide.
    """
    found = match(case.book, claim)
    choices, settled = meanings(claim), ""
    if not choices:
        choices, settled = [Meaning(claim.definition, claim.lower, claim.upper)], "definition not stated"
    return Assessment(found, [_candidate(case, claim, found, meaning, settled, scale) for meaning in choices])


def _candidate(case: Case, claim: Claim, found: Match, meaning: Meaning, settled: str, scale: float) -> Candidate:
    book, quantity, rows = case.book, claim.quantity, found.rows
    named = bool(quantity.definitions) and meaning.definition not in TRANSFORMS
    # Where definitions only move the limit, readings stay on the measured basis.
    basis = meaning.definition if named or not quantity.definitions else MEASURED
    if quantity.definitions and basis:
        rows = rows[np.isin(book.definition[rows], ("", basis))]
    limits = (meaning.lower, meaning.upper)
    chosen = select(book, rows, found.fixed, *limits, quantity.recompute_allowance)
    if not len(rows):
        return Candidate(meaning, chosen, None, tuple(blocked_reasons(found)), settled)
    entities = means(book, chosen, found.fixed, *limits) if wants_mean(claim) else single(book, chosen)
    undefined = np.array([named and (book.definition[members] == "").any() for members in entities.rows], bool)
    judged = judge_entities(case, entities, law_of(claim, entities, scale), limits, undefined)
    return Candidate(meaning, chosen, judged, settled=settled)


def wants_mean(claim: Claim) -> bool:
    """Whether the claim is about the mean of units; a share of production is about each of them."""
    of_share = math.isfinite(claim.population_percent)
    return (claim.statistic or claim.quantity.statistic) == "mean of units" and not of_share


def law_of(claim: Claim, entities: Entities, scale: float) -> Law:
    """Return how the true values are distributed about the measured ones: normal, or for a distance in a plane as the
    length of a bivariate normal vector with the same u along both axes."""
    u = np.where(entities.assumed, scale, 1.0) * entities.u
    if claim.quantity.distribution == "class":
        return Law(np.full(len(u), np.nan), None)
    normal = claim.quantity.distribution == "normal"
    kind = decide.normal_cdf if normal else decide.distance_cdf

    def of(value: np.ndarray, u: np.ndarray) -> Law:
        return Law(u, lambda limit: kind(value, u, limit), normal, lambda which: of(value[which], u[which]))

    return of(entities.value, u)


def judge_entities(
    case: Case, entities: Entities, law: Law, limits: tuple[float, float], undefined: np.ndarray | None = None
) -> Judged:
    """Return the verdict at each entity by the probability that its true value lies inside the limits."""
    inside = decide.meets(entities.value, *limits)
    # Differences of probabilities near 1 lose digits; the normal tails keep them.
    probability = decide.conformance_probability(entities.value, law.u, *limits) if law.normal else law.between(*limits)
    if undefined is None:
        undefined = np.zeros(len(entities.value), bool)
    return Judged(entities, law, probability, inside, decide.verdicts(probability, inside, case.rule), undefined)
