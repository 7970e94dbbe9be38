"""Which white is it: does the chromaticity lie in the quadrangle of its nominal CCT?

What it answers
    The nominal CCT of every unit and operating point, by the quadrangles of ANSI C78.377, and whether it is the claimed
    one ("3000 K" as a name, not as a number).
Why it matters
    A nominal CCT stands for an area in x, y with its own centre and Duv; a CCT near 3000 K may lie outside it.
Evidence needed
    x and y of each unit with their uncertainty, or its spectrum.
Method
    Point in polygon in x, y with straight edges; probability that the true chromaticity lies inside, from the bivariate
    normal without correlation of x and y. Editions 2008 and 2015/2017 (which adds 2200 K and 2500 K) have centres and
    corners of their own: where the claim names none, both are judged.
What it can't know
    Whether the maker means the edition that the finding names; how the light lies in the tests of others.
Sources
    ANSI C78.377-2008, -2015, -2017 (secondary; corners of 2200 K and 2500 K computed); JCGM 106:2012, 7.1.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, hookimpl, quantity_register

if TYPE_CHECKING:
    from audit.assess import Assessment, Candidate
    from audit.book import Book
    from audit.case import Case
    from audit.chromaticities import Lights
    from audit.claims import Claim
    from audit.matching import Match
    from audit.outcome import Judged

NAME = "white_point"
NOMINAL = "nominal_cct"
EDITION = re.compile(r"(?:ansi )?(?:c78\.377[a-z]?)?[- ]*(2008|2015/2017|2015|2017)?(?: edition)?")
REGION = "probability that the true chromaticity lies in the quadrangle: bivariate normal, x and y without correlation"


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Put the chromaticities to the quadrangle of the claimed nominal CCT, by every edition that the claim may mean."""
    from audit.assess import Assessment
    from audit.chromaticities import lights
    from audit.darkness import where_light_suffices
    from audit.matching import match, narrowed
    from audit.quantities.white_point import EDITIONS, quadrangles

    found = match(case.book, claim, ("x",))
    own = lights(case.book, claim.product, found.rows, scale)
    stated = EDITION.fullmatch(" ".join(claim.definition.casefold().split()))
    having = [each for each in EDITIONS if claim.lower in quadrangles(each).nominal_K or not claim.has_limit]
    named = [each for each in EDITIONS if stated and stated[1] and stated[1] in (each, *each.split("/"))]
    candidates = [_candidate(case, claim, found, own, edition) for edition in named or having or EDITIONS]
    if len(own.rows):
        found = narrowed(case.book, claim, found, own.rows)
    if not stated:
        candidates = [each.undecided(f"'{claim.definition}' is no edition known here") for each in candidates]
    return where_light_suffices(case, claim, Assessment(found, candidates, tuple(map(_text, EDITIONS))))


def _text(edition: str) -> str:
    return f"ANSI C78.377-{edition}"


def _candidate(case: Case, claim: Claim, found: Match, own: Lights, edition: str) -> Candidate:
    from audit.assess import Candidate
    from audit.chromaticities import UNPAIRED
    from audit.definitions import Meaning
    from audit.matching import blocked_reasons
    from audit.regions import selected

    meaning = Meaning(_text(edition), claim.lower, claim.upper)
    chosen = selected(case.book, found, own, (-np.inf, np.inf), 0.0)
    if not len(chosen.kept):
        reasons = ("record inadequate",) if len(found.rows) else tuple(blocked_reasons(found))
        return Candidate(meaning, chosen, None, reasons, detail=UNPAIRED * bool(len(found.rows)))
    detail, judged = _judged(case, claim, found, own, chosen.kept, edition)
    return Candidate(meaning, chosen, judged, notes=(REGION,), detail=detail)


def _judged(case: Case, claim: Claim, found: Match, own: Lights, kept: np.ndarray, edition: str) -> tuple[str, Judged]:
    """Return the verdict at each light, and what the quadrangle is."""
    from audit import decide
    from audit.outcome import Judged, Law
    from audit.quantities import white_point
    from audit.select import Entities

    at = own.at(kept)
    x, y, nothing = own.x[at], own.y[at], np.full(len(at), np.nan)
    inside, probability, nominal, shares = np.zeros(len(at), bool), nothing, nothing, nothing
    try:
        detail = _described(claim.lower, edition)
    except ValueError as error:
        detail, listed = str(error), False
    else:
        listed = True
        inside = white_point.in_quadrangle(x, y, claim.lower, edition)
        probability = white_point.quadrangle_probability(x, y, own.u_x[at], own.u_y[at], 0.0, claim.lower, edition)
        shares = white_point.quadrangle_shares(own.u_x[at], own.u_y[at], claim.lower, edition)
        nominal = np.where(inside, claim.lower, white_point.nominal_cct(x, y, edition))
    verdicts = decide.verdicts(probability, inside, case.rule)
    rival = _rivals(case.book, found, kept, verdicts)
    entities = Entities(
        nominal,
        nothing,
        own.assumed[at],
        np.where(rival < 0, -1, kept[rival]),
        np.where(rival < 0, np.nan, nominal[rival]),
        [own.both(kept[[i]]) for i in range(len(kept))],
    )
    unlisted = np.full(len(at), not listed)
    return detail, Judged(entities, Law(nothing, None), probability, inside, verdicts, unlisted, shares=shares)


def _described(nominal_K: float, edition: str) -> str:
    """The quadrangle in words. Raises ValueError where the edition has none of this nominal CCT."""
    from audit.quantities import white_point

    name, (x, y) = white_point.label(nominal_K, edition), white_point.centre(nominal_K, edition)
    low, high = (float(limit) for limit in white_point.duv_limits(nominal_K, edition))
    return (
        f"The quadrangle of {name} has its centre at x = {x:g}, y = {y:g}, and Duv from {low:.4f} to {high:.4f} there"
    )


def _rivals(book: Book, found: Match, kept: np.ndarray, verdicts: np.ndarray) -> np.ndarray:
    """For each light (n,) one of another test of its point that is as surely on the other side; -1 where none is."""
    rival = np.full(len(kept), -1)
    point = book.groups(kept, found.fixed)
    for number in np.unique(point):
        here = np.flatnonzero(point == number)
        for i in here:
            other = {"supported": "contradicted", "contradicted": "supported"}.get(str(verdicts[i]), "")
            theirs = here[(verdicts[here] == other) & (book.test[kept[here]] != book.test[kept[i]])]
            rival[i] = theirs[0] if len(theirs) else -1
    return rival


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "nominal CCT from x and y",
            needs=("x", "y"),
            gives=(quantity_register()[NOMINAL],),
            assess=assess,
            sources=("ANSI C78.377-2008", "ANSI C78.377-2015 and -2017"),
        )
    ]
