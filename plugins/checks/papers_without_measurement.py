"""Do data sheets and simulations say what the claims say?

What it answers
    Where a data sheet or a simulation gives a value outside a claim's limits.
Why it matters
    Such papers prove nothing either way, but one that contradicts the maker's own claim is worth a question.
Evidence needed
    Documents whose standing is data sheet or simulation.
Method
    The printed value against the claim's limits, by its side alone; conditions aren't compared.
What it can't know
    Whether the paper is about the same version of the product, and at the same conditions. One that agrees with
    the claims proves nothing.
Sources
    Common practice of submittal review.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit import Check, Tables, hookimpl, wording
from audit.tables import frame

if TYPE_CHECKING:
    from audit.case import Case

NAME = "papers_without_measurement"


def judge(case: Case) -> Tables:
    """Return an observation per claim and document whose value lies outside the claim's limits."""
    from audit.decide import meets
    from audit.matching import match

    book, rows = case.book, []
    for claim in case.claims:
        if claim.criterion:  # what a law or standard asks for is no word of the maker's
            continue
        silent = match(book, claim).silent
        outside = silent[~meets(book.value[silent], claim.lower, claim.upper)]
        for row in outside.tolist():
            document, place, _ = book.where(row)
            value = wording.measured(book.value[row], claim.quantity)
            limits = wording.limits(claim, claim.lower, claim.upper)
            rows.append(
                (
                    "paper_conflicts",
                    "minor",
                    claim.claim_id,
                    document,
                    place,
                    f"'{document}' ({book.standing(row)}) gives {value} for the {claim.quantity.title}, "
                    f"claimed {limits}; it decides nothing",
                    "which of the two does the maker stand by?",
                    NAME,
                )
            )
    return Tables({"observations": frame("observations", rows)})


@hookimpl
def register_checks() -> list[Check]:
    return [Check(NAME, "data sheets and simulations against the claims", judge=judge, sources=("common practice",))]
