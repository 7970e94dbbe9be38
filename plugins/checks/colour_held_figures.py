"""Where does the colour of a product go over the hours claimed, if its channels age as their tests say?

What it answers
    Nothing by a verdict: it shows the shift over hours with the drives unchanged and, where a closed loop is claimed,
    as the loop holds it, with the band of simulated units, the shifts measured and the limits claimed.
Why it matters
    Most claims on colour for life lie beyond the last reading; where channels must part from the limit is seen here.
Evidence needed
    What the check `colour_held` needs, and a claim on a shift of colour over hours.
Method
    The setting with the fewest simulated units inside; the band is the mean of the units ± twice their standard
    deviation. It ends at the smallest limit of the channels.
What it can't know
    What the model leaves out: shift of a channel's own spectrum, driver, sensor, temperature.
Sources
    ANSI/IES TM-21-11; CIE 15:2018; JCGM 101:2008.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from audit import Axis, Check, Figure, Mark, Tables, hookimpl, wording
from audit.numbers import Span
from plugins.checks.channel_laws import in_hours, laws
from plugins.checks.channels_aged import Aged, age, is_closed

if TYPE_CHECKING:
    from audit.case import Case
    from audit.claims import Claim

NAME = "colour_held_figures"
SHIFTS = ("chromaticity_shift", "cct_shift", "duv_shift")
MOST_POINTS = 60  # measured


def judge(case: Case) -> Tables:
    """Return a figure per product and kind of shift that is claimed over hours, and whose channels can be aged."""
    groups: dict[tuple[str, str], list[Claim]] = {}
    for claim in case.claims:
        wanted = claim.conditions.get("hours")
        if claim.quantity.name in SHIFTS and claim.has_limit and isinstance(wanted, Span) and wanted.high > 0:
            groups.setdefault((claim.product, claim.quantity.name), []).append(claim)
    return Tables(figures=[figure for claims in groups.values() for figure in _figures(case, claims)])


def _hours(claim: Claim) -> float:
    wanted = claim.conditions["hours"]
    assert isinstance(wanted, Span), "claims without hours are left out"
    return wanted.high


def _figures(case: Case, claims: Sequence[Claim]) -> Iterator[Figure]:
    """Yield the figure of one kind of shift, by the claim that goes furthest; a closed loop before an open one."""
    from audit.channels import INITIAL_H, mixes

    claim = max(claims, key=lambda each: (is_closed(each), _hours(each)))
    settings = mixes(case.book, claim) if _hours(claim) > INITIAL_H else []
    if not settings:
        return
    try:
        outputs, lacking = laws(case, claim, settings)
        aged = [] if lacking else [age(case, claim, mix, outputs, _hours(claim), 1.0) for mix in settings]
    except ValueError:
        return  # the finding says which readings can't be aged
    if aged:
        yield _figure(case, claims, claim, min(aged, key=lambda one: float(one.share[-1])))


def _figure(case: Case, claims: Sequence[Claim], claim: Claim, one: Aged) -> Figure:
    quantity, last = claim.quantity, float(one.hours[-1])
    held = not np.isnan(one.held).any()
    low, high = one.mean - 2 * one.deviation, one.mean + 2 * one.deviation
    low = np.maximum(low, 0.0) if quantity.distribution == "distance" else low
    marks = [
        Mark("band", "simulated units, mean ± 2 standard deviations", one.some, low, "projection", to_y=high),
        Mark("line", "open loop: drives unchanged", one.hours, one.open_loop, "computed"),
    ]
    if held:
        marks.append(Mark("line", "closed loop, as claimed", one.hours, one.held, "projection"))
    for each in claims:
        for limit in (each.lower, each.upper):
            if np.isfinite(limit):
                words = f"{each.claim_id}: {wording.limits(each, each.lower, each.upper)}"
                tags = ((0.0, limit, words),)
                marks.append(Mark("line", words, (0.0, _hours(each)), (limit, limit), "limit", tags=tags))
    marks += _measured(case, claim)
    value = wording.measured(one.value, quantity, float(one.deviation[-1]), [])
    told = [
        f"{claim.product}: its channels aged, not measured, in the {one.setting or 'full setting'}",
        f"at {in_hours(last)} the {quantity.title} is {value}, {'held by the loop' if held else 'drives unchanged'}",
        f"with the drives unchanged {wording.fixed(float(one.open_loop[-1]), quantity.decimals)}" if held else "",
        f"{100 * one.share[-1]:.1f} % of the simulated units are inside then",
    ]
    return Figure(
        f"{quantity.name}-held".replace("_", "-"),
        f"{quantity.title[0].upper()}{quantity.title[1:]} over hours, channels aged",
        Axis("operation", "h", 0.0, 1.04 * max(last, *map(_hours, claims))),
        Axis(quantity.title, quantity.unit),
        marks,
        "; ".join(filter(None, told)) + ".",
        claim.product,
        [each.claim_id for each in claims],
    )


def _measured(case: Case, claim: Claim) -> Iterator[Mark]:
    """Yield the shifts that were measured on the product itself, of many the latest."""
    book = case.book
    rows, _ = book.rows(claim.product, claim.quantity.name)
    hours = book.field("hours", rows).astype(float)
    kept = book.bears[rows] & (book.effective("channel", rows) == "") & ~np.isnan(hours)
    rows, hours = rows[kept], hours[kept]
    order = np.argsort(hours, kind="stable")[-MOST_POINTS:]
    if len(order):
        printed = [wording.fixed(float(value), claim.quantity.decimals) for value in book.value[rows[order]]]
        labels = [
            f"unit {unit}, {in_hours(hour)}: {wording.with_unit(value, claim.quantity.unit)}"
            for unit, hour, value in zip(book.unit[rows[order]], hours[order], printed, strict=True)
        ]
        yield Mark("points", "measured", hours[order], book.value[rows[order]], "measured", labels=labels)


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "colour over hours by channels aged, as figures",
            judge=judge,
            sources=("ANSI/IES TM-21-11", "CIE 15:2018", "JCGM 101:2008"),
        )
    ]
