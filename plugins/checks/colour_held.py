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
    smallest limit nothing is judged. The result may contradict, never support. A part tested at other case temperatures
    ages by TM-21 between them (Arrhenius), a sheet without readings by its printed constants. Of a claim on a share of
    production the simulated share is judged. `closed loop` as the definition of a
    claim: the flux when new, or that of a claim on luminous flux maintenance at those hours, is held as well;
    `closed loop, flux may fall`: the colour alone. Units differ in rate of loss (25 %) and in the light of a channel
    when new (3 %), lognormal, 10,000 draws: both chosen (MEMORY).
What it can't know
    Shift of a channel's own spectrum, driver, sensor and its drift, temperature in use, output that isn't proportional
    to drive. Channels that no document names, unless the light of the whole was measured in that setting when new: a
    sum more than 0.01 in u'v' from it contradicts nothing. Whether a red channel is
    AlInGaP, if its name doesn't say so: the fit of TM-21 may then foretell too much loss.
Sources
    ANSI/IES TM-21-11; CIE 15:2018 (additivity, CIE 1976 UCS); JCGM 101:2008 (Monte Carlo). Logarithmic loss of AlInGaP
    to 60,000 h: an abstract. Closed loop and head-room: arithmetic of proportional channels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Tables, hookimpl, wording
from audit.claims import Claim, product_key
from audit.decide import meets, verdicts
from audit.definitions import Meaning
from audit.numbers import Span
from audit.quantities import ageing
from audit.tables import frame
from plugins.checks.channel_laws import Followed, grouped, laws
from plugins.checks.channels_aged import CHANNEL_SPREAD, DRAWS, RATE_SPREAD, Aged, age, is_closed

if TYPE_CHECKING:
    from audit.assess import Assessment, Candidate
    from audit.case import Case
    from audit.channels import Mix

NAME = "colour_held"


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
    if covered or not claim.has_limit or not isinstance(wanted, Span) or wanted.high <= INITIAL_H:
        return usual
    settings = mixes(case.book, claim)
    try:
        outputs, lacking = laws(case, claim, settings)
        if lacking:
            asked = settings or is_closed(claim)
            return replace(usual, question=_question(claim, lacking)) if asked else usual
        aged = [age(case, claim, mix, outputs, wanted.high, scale) for mix in settings]
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
    no_drive = is_closed(claim) and any(np.isnan(mix.drive).any() for mix in settings)
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
    value = np.array([one.value for one in aged])
    deviation, share, error = (
        np.array([getattr(one, name)[-1] for one in aged]) for name in ("deviation", "share", "standard_error")
    )
    inside = meets(value, *limits)
    sure = np.array([not one.doubts for one in aged])
    contradicted = (verdicts(share, inside, case.rule) == "contradicted") & ~inside & sure
    of_share = math.isfinite(claim.population_percent)
    if of_share:
        most = share + NormalDist().inv_cdf(case.rule.confidence) * error
        contradicted = (100 * most < claim.population_percent) & sure
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
        simulated=np.stack([share, error], -1) if of_share else None,
    )
    doubts = list(dict.fromkeys(text for one in aged for text in one.doubts))
    aged_by = grouped(outputs)
    model = (
        f"not measured: sum of the channels of the product, each aged ({aged_by}); units differ by "
        f"{100 * RATE_SPREAD:.0f} % in rate of loss and {100 * CHANNEL_SPREAD:.0f} % in the light of a channel "
        f"when new, MEMORY (chosen), {DRAWS:,} draws; ± is twice their standard deviation"
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


def _question(claim: Claim, lacking: Sequence[str]) -> str:
    return (
        f"Please send of every channel, to judge whether {claim.product or 'the product'} can hold its colour: "
        f"{wording.listing(list(lacking))}."
    )


@hookimpl
def register_checks() -> list[Check]:
    return [Check(NAME, "colour held for life: its channels aged", judge=judge,
                  sources=("ANSI/IES TM-21-11", "CIE 15:2018", "JCGM 101:2008"))]  # fmt: skip
