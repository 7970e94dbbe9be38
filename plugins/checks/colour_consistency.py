"""Are the units alike in colour: how many steps from a centre, from their own mean, from one another?

What it answers
    Steps of every unit at every operating point by the ellipse of IEC 60081 or the circle in u', v', about the nominal
    centre (which), a stated one, or the units' own mean; and how far the two units furthest apart are.
Why it matters
    "3 SDCM" says nothing without its centre: those of IEC and ANSI are 3.9 to 5.5 steps apart at some colours, and of
    two units inside n steps one may lie 2n from the other.
Evidence needed
    x and y of each unit with their uncertainty (or its spectrum); printed steps only where what they count is stated.
Method
    Ellipse coefficients at the listed centres, moved to another centre of the same nominal CCT where that is said;
    one step of the circle is 0.0011 in u', v' (MEMORY). Judged by the probability that the true chromaticity lies in
    the region, from the bivariate normal without correlation of x and y. Units are compared at one setting of one
    test, by repeatability. What a claim leaves open is judged under every admissible definition.
What it can't know
    How the units were drawn from production; which centre the maker had in mind, where the claim names none; colour
    seen from other directions than the instrument's.
Sources
    IEC 60081 Annex D (secondary); CIE TN 001:2014; ANSI C78.377; JCGM 106:2012, 7.1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit import Check, Tables, hookimpl, quantity_register
from audit.tables import frame

if TYPE_CHECKING:
    from audit.assess import Assessment
    from audit.case import Case
    from audit.claims import Claim

NAME = "colour_consistency"
STEPS = "chromaticity_steps"


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Put the chromaticities, or printed steps, to the claim under every admissible way of counting."""
    from audit.consistency import assess_steps
    from audit.darkness import where_light_suffices

    return where_light_suffices(case, claim, assess_steps(case, claim, scale))


def judge(case: Case) -> Tables:
    """Observe claims on steps that don't say from which centre, or over which life."""
    from audit.step_definitions import ANSI, StepDefinition, parse

    rows = []
    for claim in (each for each in case.claims if each.criterion is None):
        open_ = []
        centre = (parse(claim.definition) or StepDefinition()).centre
        if not centre or centre == ANSI:  # the editions differ
            open_.append(
                ("steps_without_centre", "from which centre they are counted", "which centre, and in which edition?")
            )
        if "hours" not in claim.conditions:
            open_.append(
                ("steps_without_life", "whether they hold when new or over life", "up to how many hours does it hold?")
            )
        for rule, lacking, question in open_:
            text = f"the claim on {claim.quantity.title} doesn't say {lacking}"
            rows.append((rule, "minor", claim.claim_id, claim.document, claim.place, text, question, NAME))
    return Tables({"observations": frame("observations", rows)})


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "steps worked out from x and y",
            needs=("x", "y"),
            gives=(quantity_register()[STEPS],),
            assess=assess,
            judge=judge,
            sources=("IEC 60081 Annex D", "CIE TN 001:2014", "ANSI C78.377"),
        )
    ]
