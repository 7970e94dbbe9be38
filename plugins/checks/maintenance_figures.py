"""How does the light of the tested LEDs fall, where does the fit rest, and how far may it be projected?

What it answers
    Nothing by a verdict: it shows the sets behind a claimed life, the fit of the one that is nearest above what the
    luminaire gives its LEDs, its window, its projection and where that has to end.
Why it matters
    Most claimed lives lie beyond the last reading; how far beyond is seen at a glance.
Evidence needed
    Flux maintenance over hours of LEDs used in the product, or of the product itself, and a claim on its life.
Method
    Means of the units of each set; fit, window and limit as TM-21 has them and as the finding judges them.
What it can't know
    What happens past the limit of extrapolation, and what else in the luminaire fails.
Sources
    ANSI/IES TM-21-11 with Addendum B; ANSI/IES LM-80.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from audit import Axis, Check, Figure, Mark, Tables, hookimpl, over_hours, wording
from audit.quantities.maintenance import Tm21
from plugins.checks.lumen_maintenance import LIFE, criteria, gather
from plugins.checks.maintenance_sets import Tested, at_current

if TYPE_CHECKING:
    from audit.case import Case
    from audit.claims import Claim

NAME = "maintenance_figures"
CURVE = 40  # points of the fit and of the projection


def judge(case: Case) -> Tables:
    """Return a figure per LED, or product itself, that was tested over hours and whose life is claimed."""
    by_product: dict[str, list[Claim]] = {}
    for claim in case.claims:
        if claim.quantity.name == LIFE and claim.has_limit:
            by_product.setdefault(claim.product, []).append(claim)
    return Tables(figures=[figure for claims in by_product.values() for figure in _figures(case, claims)])


def _figures(case: Case, claims: Sequence[Claim]) -> Iterator[Figure]:
    evidence = gather(case, claims[0])
    groups = [list(source.sets) for source in at_current(evidence.parts, evidence.inside.drive_mA)] + [evidence.own]
    for number, group in enumerate(groups, start=1):
        sets = [each for each in group if isinstance(each.projection, Tm21)]
        if sets:
            yield _figure(claims, sets, evidence.inside.case_C, f"flux-over-hours-{number}")


def _figure(claims: Sequence[Claim], sets: Sequence[Tested], inside_C: float, name: str) -> Figure:
    """The means of all sets of one LED, and the fit of that nearest above the temperature inside, else the hottest."""
    measured = []
    for each in sets:
        hours, mean = _means(each)
        words = _set_words(each)
        labels = [f"{words}, {hour:,.0f} h: {100 * value:.2f} %" for hour, value in zip(hours, mean, strict=True)]
        tags = ((float(hours[-1]), float(100 * mean[-1]), words),)
        title = f"mean of the units, {words}"
        measured.append(Mark("points", title, hours, 100 * mean, "measured", labels=labels, tags=tags))
    shown = next((each for each in sets if each.case_C >= inside_C), sets[-1])
    projection = _projection(shown)
    limits = sorted({round(each.p, 3) for claim in claims for each in criteria(claim)[0]}, reverse=True)
    tested = wording.listing(list(dict.fromkeys(_set_words(each) for each in sets)))
    told = f"{sets[0].product}: flux maintenance over hours of {wording.counted(len(sets), 'set')} ({tested})."
    alpha, b, end = (float(getattr(projection, field)) for field in ("alpha", "B", "limit_h"))
    fits = not str(projection.refused) and np.isfinite([alpha, b, end]).all()
    window, fit, beyond = None, None, None
    if fits:
        first, last = (float(each) for each in projection.window_h)
        window = (first, last)
        fit, beyond = (_curve(alpha, b, *ends) for ends in ((first, last), (last, end)))
        told += (
            f" The fit, of {_set_words(shown)}, rests on {first:,.0f} h to {last:,.0f} h: alpha {alpha:.3e} per hour, "
            f"B {b:.4f}; it may be projected to {end:,.0f} h, where {100 * b * np.exp(-alpha * end):.1f} % "
            "would be left."
        )
    else:
        told += f" Nothing is projected: {projection.refused or 'the light did not fall'}."
    return over_hours(
        name,
        f"Luminous flux maintenance over hours, {sets[0].product}",
        Axis("luminous flux maintenance", "%"),
        measured,
        limits=[(p, f"{p:g} %") for p in limits],
        window=window,
        fit=fit,
        projection=beyond,
        extrapolation_limit_h=end if fits else None,
        alternative=told,
        product=claims[0].product,
        claims=[claim.claim_id for claim in claims],
    )


def _means(each: Tested) -> tuple[np.ndarray, np.ndarray]:
    projection = _projection(each)
    read = ~np.isnan(projection.mean)
    return projection.hours[read], projection.mean[read]


def _projection(each: Tested) -> Tm21:
    assert isinstance(each.projection, Tm21), "a printed sheet has no readings to show"
    return each.projection


def _curve(alpha: float, b: float, first: float, last: float) -> tuple[np.ndarray, np.ndarray]:
    hours = np.linspace(first, last, CURVE)
    return hours, 100 * b * np.exp(-alpha * hours)


def _set_words(each: Tested) -> str:
    known = [
        f"{wording.plain(value)} {unit}"
        for value, unit in ((each.case_C, "°C"), (each.drive_mA, "mA"))
        if value == value
    ]
    return " and ".join(known) or "temperature not stated"


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "flux over hours behind a claimed life, as figures",
            needs=("flux_ratio",),
            judge=judge,
            sources=("ANSI/IES TM-21-11", "ANSI/IES LM-80"),
        )
    ]
