"""Do the figures of a printed TM-21 sheet follow from one another?

What it answers
    Whether the calculated life of a sheet follows from its alpha and B, and its reported life from the calculated one,
    the duration of the test and the number of units.
Why it matters
    A sheet without the readings of the units can't be recomputed; that its figures belong together can be checked.
Evidence needed
    At one operating point of one document: decay constant, initial constant, calculated or reported life with its Lp,
    the number of units, and the hours of the test.
Method
    Each printed figure stands for the interval of its last digit, a life also for its three figures; a figure follows
    if its interval meets the one that the others give. A reported life printed with ">" is one past the limit.
What it can't know
    Whether the unit data behind a printed sheet are sound: it isn't handed in.
Sources
    ANSI/IES TM-21-11 with Addendum B; the status of each rule is in audit/quantities/data/tm21_rules.csv.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Tables, hookimpl, quantity_register
from audit.quantities.printed_life import Figure, Followed, check_arithmetic

if TYPE_CHECKING:
    from audit.book import Book
    from audit.case import Case

NAME = "printed_life"
GIVES = ("decay_constant", "initial_constant", "sample_size", "calculated_life")
LIVES = ("calculated_life", "lumen_maintenance_life")
ASK = "which of the figures is right, and by which edition of TM-21 were they worked out?"


def judge(case: Case) -> Tables:
    """Return an observation for each printed life that doesn't follow from the other figures of its sheet."""
    from audit.select import split
    from audit.tables import frame
    from plugins.checks.lumen_maintenance import CRITERION

    book, rows = case.book, []
    names = case.evidence.readings["quantity"].astype(str).to_numpy(object)
    own = np.flatnonzero(np.isin(names, (*GIVES, *LIVES)) & ~book.computed)
    for members in split(own, book.document[own], book.groups(own, ("serial", "repeat"))):
        figures = {names[row]: int(row) for row in members.tolist() if names[row] not in LIVES}
        for definition in sorted({str(book.definition[row]) for row in members.tolist() if names[row] in LIVES}):
            criterion = CRITERION.fullmatch(definition)
            if criterion is None:
                continue
            lives = {names[row]: int(row) for row in members.tolist() if book.definition[row] == definition}
            for followed in _followed(book, float(criterion["p"]), figures | lives, int(members[0])):
                if not followed.follows:
                    at = lives.get("lumen_maintenance_life", next(iter(lives.values())))
                    document, place, _ = book.where(at)
                    told = (
                        "printed_life_doesnt_follow",
                        "major",
                        definition,
                        document,
                        place,
                        followed.text,
                        ASK,
                        NAME,
                    )
                    rows.append(told)
    return Tables({"observations": frame("observations", rows)})


def _followed(book: Book, p: float, at: dict[str, int], any_row: int) -> tuple[Followed, ...]:
    """Check the figures of one operating point, given as rows by quantity; the test's duration is its hours."""
    from audit.numbers import BOUND, parse_value

    def figure(name: str) -> Figure | None:
        return Figure(float(book.value[at[name]]), float(book.resolution[at[name]])) if name in at else None

    hours = float(book.stated(any_row).get("hours", math.nan))
    units = figure("sample_size")
    printed = parse_value(book.where(at["lumen_maintenance_life"])[2]) if "lumen_maintenance_life" in at else None
    return check_arithmetic(
        p,
        alpha=figure("decay_constant"),
        B=figure("initial_constant"),
        lp=figure("calculated_life"),
        reported=figure("lumen_maintenance_life"),
        beyond=printed is not None and printed.kind == BOUND,
        duration=None if math.isnan(hours) else Figure(hours, 0.0),
        units=int(units.value) if units else None,
    )


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "figures of printed TM-21 sheets against one another",
            needs=("readings",),
            gives=tuple(quantity_register()[name] for name in GIVES),
            judge=judge,
            sources=("ANSI/IES TM-21-11 with Addendum B",),
        )
    ]
