"""Can the colour be held for the hours claimed, if the channels age as their own tests say?

What it answers
    For a claim on the shift of colour past the hours measured on the product: open loop, where the sum of its channels
    goes and when it passes the limit; closed loop, what drive each channel needs, what flux is left, until which hour
    the target is reached, and the head-room that it takes. For the share of units that stay inside, a simulation.
Why it matters
    A product may keep L70 for a long life and leave its colour in a few years: its channels age apart. Control can
    hold the colour only while the weakest channel has head-room left.
Evidence needed
    Per channel, of the product or of parts used in it: x, y and luminous flux when new, in the setting, with the level
    at which the channel is driven there; flux maintenance over hours of units, the column `channel` naming it.
Method
    Measured shifts come first; only they support. Past them each channel ages by its TM-21 fit inside the limit of
    that, else by straight lines between its readings, named AlInGaP by the logarithmic law inside its test; past the
    smallest limit nothing is judged. The result may contradict, never support. `closed loop` as the definition of a
    claim: the flux when new, or that of a claim on luminous flux maintenance at those hours, is held as well;
    `closed loop, flux may fall`: the colour alone. Units differ in rate of loss (25 %) and in the light of a channel
    when new (3 %), lognormal, 10,000 draws: both chosen (MEMORY).
What it can't know
    Shift of a channel's own spectrum, driver, sensor and its drift, temperature in use, output that isn't proportional
    to drive. Channels that no document names, unless the light of the whole was measured in that setting when new: a
    sum more than 0.01 in u'v' from it contradicts nothing. Whether a red channel is
    AlInGaP, if its name doesn't say so: the fit of TM-21 may then foretell too much loss. Between tested case
    temperatures nothing is worked out here.
Sources
    ANSI/IES TM-21-11; CIE 15:2018 (additivity, CIE 1976 UCS); JCGM 101:2008 (Monte Carlo). Logarithmic loss of AlInGaP
    to 60,000 h: an abstract. Closed loop and head-room: arithmetic of proportional channels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Tables, hookimpl, wording
from audit.claims import Claim, product_key
from audit.decide import meets, verdicts
from audit.definitions import Meaning
from audit.numbers import Span
from audit.quantities import ageing
from audit.quantities.chromaticity import xy_to_uv_prime
from audit.tables import frame
from plugins.checks.channel_laws import Followed, grouped, in_hours, laws

if TYPE_CHECKING:
    from audit.assess import Assessment, Candidate
    from audit.case import Case
    from audit.channels import Mix

NAME = "colour_held"
RATE_SPREAD, CHANNEL_SPREAD = 0.25, 0.03  # MEMORY (chosen): relative standard deviations between units
APART = 0.01  # MEMORY (chosen): in u'v'; farther from the measured light the channels aren't all of it
STEPS, EVERY = 60, 5  # hours of the nominal model; of the simulation every fifth
MOST_OF_UNITS = 0.95
CLOSED, MAY_FALL = "closed loop", "may fall"


@dataclass(frozen=True)
class Aged:
    """One setting at the claimed hour, or at the last one known: value, deviation and share of units inside."""

    value: float
    deviation: float
    share: float
    doubts: tuple[str, ...]
    told: str


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Put a claim on a shift to the measured ones; where they don't reach its hours, to its channels aged.

    `scale` multiplies the assumed uncertainties and the assumed spread of units.
    """
    from audit.assess import Assessment
    from audit.assess import assess as by_readings
    from audit.channels import INITIAL_H, mixes

    usual = by_readings(case, claim, scale)
    wanted, found = claim.conditions.get("hours"), usual.found
    covered = len(found.rows) > 0 and not found.gaps
    testable = claim.has_limit and not math.isfinite(claim.population_percent)
    if covered or not testable or not isinstance(wanted, Span) or wanted.high <= INITIAL_H:
        return usual
    settings = mixes(case.book, claim)
    try:
        outputs, lacking = laws(case, claim, settings)
        if lacking:
            asked = settings or _closed(claim)
            return replace(usual, question=_question(claim, lacking)) if asked else usual
        aged = [_aged(case, claim, mix, outputs, wanted.high, scale) for mix in settings]
    except ValueError as fault:
        return replace(usual, question=f"Which readings of the channels are right? They can't be aged: {fault}.")
    candidate = _candidate(case, claim, settings, outputs, aged)
    judged = candidate.judged
    assert judged is not None, "the channels were aged"
    if len(found.rows) and not (judged.verdicts == "contradicted").any():
        told = (*(f"channels aged, not measured: {one.told}" for one in aged), ageing.LEFT_OUT)
        return replace(usual, candidates=[replace(each, notes=(*each.notes, *told)) for each in usual.candidates])
    rows = np.concatenate([mix.rows for mix in settings])
    seen = replace(found, rows=rows, pool=np.union1d(found.pool, rows), gaps={}, blocking={})
    no_drive = _closed(claim) and any(np.isnan(mix.drive).any() for mix in settings)
    question = _question(claim, ["its share of full drive in the setting, when new"]) if no_drive else ""
    if not question and not (judged.verdicts == "contradicted").any():
        question = (
            f"Please send the {claim.quantity.title} measured on the product at {wording.plain(wanted.high)} h: "
            "ageing its channels is no evidence that supports."
        )
    return Assessment(seen, [candidate], question=question)


def judge(case: Case) -> Tables:
    """Observe, per product with channels followed over hours, the channels that weren't."""
    from audit.channels import mixes, with_series

    rows = []
    for product in sorted({claim.product for claim in case.claims}):
        claim = next(each for each in case.claims if each.product == product)
        followed = with_series(case.book, claim)
        names = {
            product_key(name): name for mix in mixes(case.book, replace(claim, conditions={})) for name in mix.names
        }
        missing = [name for key, name in sorted(names.items()) if key not in set(map(product_key, followed))]
        if followed and missing:
            message = (
                f"flux over hours is there of channel {wording.listing(followed)}, not of {wording.listing(missing)}: "
                "how the colour ages can't be worked out"
            )
            ask = f"ask for the flux maintenance of channel {wording.listing(missing)}"
            rows.append(("channel_not_followed", "minor", product, "", "", message, ask, NAME))
    return Tables({"observations": frame("observations", rows)})


def _closed(claim: Claim) -> bool:
    return CLOSED in " ".join(claim.definition.casefold().replace("-", " ").split())


def _aged(case: Case, claim: Claim, mix: Mix, outputs: dict[str, Followed], hour: float, scale: float) -> Aged:
    """Age the channels of one setting to the claimed hour, or to the smallest limit of its channels before that."""
    from audit.channels import SETTING

    each = [outputs[name].law for name in mix.names]
    weakest_law = min(range(len(each)), key=lambda i: each[i].limit_h)
    limit = each[weakest_law].limit_h
    hours = np.linspace(0.0, min(hour, limit), STEPS + 1)
    xyz, left = ageing.tristimulus(mix.x, mix.y, mix.flux), ageing.outputs(each, hours)
    cap, told = (None, "")
    if _closed(claim):
        cap, told = _closed_loop(case, claim, mix, left, hours)
    weights = left if cap is None else ageing.held(left, cap)
    drift = ageing.open_loop(xyz, weights, hours)
    name, limits = _of(claim), (claim.lower, claim.upper)
    value, moved = drift.value(name), drift.shift
    if np.isnan(value).any():
        raise ValueError("the sum of the channels has no colour temperature: one of them isn't there, or is misread")
    passed = ageing.passing(hours, value, *limits)
    spread = ageing.Spread(scale * RATE_SPREAD, scale * CHANNEL_SPREAD)
    some = slice(None, None, EVERY)
    units = ageing.units(xyz, left[:, some], limits, spread, name, cap=cap)
    fewer = ageing.passing(hours[some], units.share, MOST_OF_UNITS, 1.0)
    cct_K = float(moved.cct_K[0, -1])
    way = "drives unchanged" if cap is None else "flux held" if cap.any() else "colour held"
    parts = [
        mix.said or "every channel at full drive",
        f"{way}: at {in_hours(hours[-1])} u'v' has moved by {moved.distance[0, -1]:.4f}",
        "" if math.isnan(cct_K) else f"CCT by {cct_K:+.0f} K, Duv by {moved.duv[0, -1]:+.4f}",
        f"flux is {100 * drift.flux_ratio[-1]:.1f} %" if cap is None else "",
        f"the limit is passed at {in_hours(passed)}" if math.isfinite(passed) else "the limit isn't passed before",
        f"{100 * units.share[-1]:.1f} ± {200 * units.standard_error[-1]:.1f} % of simulated units are inside then",
        f"fewer than {100 * MOST_OF_UNITS:.0f} % from {in_hours(fewer)}" if math.isfinite(fewer) else "",
        told,
    ]
    doubts = [f"channel {name}: {outputs[name].doubt}" for name in mix.names if outputs[name].doubt]
    apart = _apart(mix, xyz)
    if apart > APART:
        doubts.append(f"their sum lies {apart:.4f} in u'v' from the light measured in that setting: one is missing?")
    if limit < hour:
        doubts.append(f"channel {mix.names[weakest_law]} is known to {in_hours(limit)} only: later hours aren't judged")
    if not mix.said and set(SETTING) & set(claim.conditions):
        doubts.append("the drives of the channels in the claimed setting aren't stated")
    return Aged(
        float(value[-1]), float(units.deviation[-1]), float(units.share[-1]), tuple(doubts),
        ", ".join(part for part in parts if part),
    )  # fmt: skip


def _apart(mix: Mix, xyz: np.ndarray) -> float:
    """Distance in u'v' of the sum of the channels from the light measured in that setting; NaN where none was."""
    total = xyz.sum(axis=0)
    (u, whole_u), (v, whole_v) = xy_to_uv_prime(*np.column_stack([total[:2] / total.sum(), mix.whole]))
    return math.hypot(u - whole_u, v - whole_v)


def _closed_loop(case: Case, claim: Claim, mix: Mix, left: np.ndarray, hours: np.ndarray) -> tuple[np.ndarray, str]:
    """The drives when new times the flux to hold, zeros where it may fall or they aren't stated; and what is told."""
    target, said = _target(case, claim)
    stated = not np.isnan(mix.drive).any()
    loop = ageing.closed_loop(np.where(mix.flux > 0, mix.drive, 0.0) if stated else np.ones(len(left)), left, target)
    highest = min(1.0, float(loop.head_room[:, -1].min()))
    at = int(loop.head_room[:, -1].argmin())
    room = f"to reach {said} channel {mix.names[at]} may have had at most {100 * highest:.0f} % of full drive when new"
    if not stated:
        return np.zeros(len(left)), f"{room}; what drive it had isn't stated"
    reached = ageing.passing(hours, loop.possible, target, math.inf)
    weakest = mix.names[int(loop.weakest[-1])]
    needed = wording.listing(
        [f"{name} {100 * drive:.0f} %" for name, drive in zip(mix.names, loop.drive[:, -1], strict=True)]
    )
    told = (
        f"drives needed {needed}; {said} can be held "
        + (f"until {in_hours(reached)}" if math.isfinite(reached) else f"to {in_hours(hours[-1])}")
        + f"; with the colour kept {100 * min(target, loop.possible[-1]):.1f} % is left ({weakest} sets the pace); "
        + room
    )
    if MAY_FALL in claim.definition.casefold():
        return np.zeros(len(left)), told
    return np.where(mix.flux > 0, target * mix.drive, 0.0), told


def _target(case: Case, claim: Claim) -> tuple[float, str]:
    """The flux to hold as a share of that when new: of a claim on flux maintenance at those hours, else all of it."""
    wanted = claim.conditions["hours"]
    for other in case.claims:
        same = other.product == claim.product and other.conditions.get("hours") == wanted
        if same and other.quantity.name == "flux_ratio" and 0 < other.lower < math.inf:
            return other.lower / 100, f"{wording.plain(other.lower)} % of the flux when new (claim {other.claim_id})"
    return 1.0, "the flux when new"


def _candidate(
    case: Case,
    claim: Claim,
    settings: Sequence[Mix],
    outputs: dict[str, Followed],
    aged: Sequence[Aged],
) -> Candidate:
    """What the aged channels make of the claim: contradicted where nothing is in doubt, else overreaching."""
    from audit.assess import Candidate
    from audit.outcome import Judged, Law
    from audit.select import Entities, Selection

    limits = (claim.lower, claim.upper)
    value, deviation, share = (
        np.array(column) for column in zip(*((a.value, a.deviation, a.share) for a in aged), strict=True)
    )
    inside = meets(value, *limits)
    sure = np.array([not one.doubts for one in aged])
    contradicted = (verdicts(share, inside, case.rule) == "contradicted") & ~inside & sure
    rows = np.unique(np.concatenate([*(mix.rows for mix in settings), *(each.rows for each in outputs.values())]))
    chosen = Selection(rows, {}, {}, dict.fromkeys(rows.tolist(), 0))
    nothing = np.full(len(value), -1)
    members = [_deciding(case, mix, outputs) for mix in settings]
    entities = Entities(value, deviation, np.ones(len(value), bool), nothing, np.full(len(value), np.nan), members)
    judged = Judged(
        entities,
        Law(deviation, None),
        share,
        inside,
        np.where(contradicted, "contradicted", "overreaching"),
        np.zeros(len(value), bool),
        {i: () if contradicted[i] else ("past test duration",) for i in range(len(value))},
        strongest=(-math.inf, math.inf),
    )
    doubts = list(dict.fromkeys(text for one in aged for text in one.doubts))
    aged_by = grouped(outputs)
    model = (
        f"not measured: sum of the channels of the product, each aged ({aged_by}); units differ by "
        f"{100 * RATE_SPREAD:.0f} % in rate of loss and {100 * CHANNEL_SPREAD:.0f} % in the light of a channel "
        "when new, MEMORY (chosen), 10,000 draws; ± is twice their standard deviation"
    )
    return Candidate(
        Meaning(claim.definition, *limits),
        chosen,
        judged,
        notes=(ageing.LEFT_OUT, *doubts),
        detail="Not measured, but from its channels aged: " + "; ".join([one.told for one in aged] + doubts),
        method=(model,),
    )


def _deciding(case: Case, mix: Mix, outputs: dict[str, Followed]) -> np.ndarray:
    """The readings of the channels when new, and the last ones of each over hours."""
    hours = {name: case.book.field("hours", outputs[name].rows).astype(float) for name in mix.names}
    last = [outputs[name].rows[hours[name] == hours[name].max()] for name in mix.names]
    return np.unique(np.concatenate([mix.rows, *last]))


def _of(claim: Claim) -> ageing.Of:
    for name in ("cct_shift", "duv_shift"):
        if claim.quantity.name == name:
            return name
    return "chromaticity_shift"


def _question(claim: Claim, lacking: Sequence[str]) -> str:
    return (
        f"Please send of every channel, to judge whether {claim.product or 'the product'} can hold its colour: "
        f"{wording.listing(list(lacking))}."
    )


@hookimpl
def register_checks() -> list[Check]:
    return [Check(NAME, "colour held for life: its channels aged", judge=judge,
                  sources=("ANSI/IES TM-21-11", "CIE 15:2018", "JCGM 101:2008"))]  # fmt: skip
