"""The channels of one setting aged together: where the colour goes, what holding it takes, which units stay inside.

Open loop leaves the drives as they are; closed loop raises them. No check of its own: `colour_held` judges by it and
`colour_held_figures` shows it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from audit import wording
from audit.quantities import ageing
from audit.quantities.chromaticity import xy_to_uv_prime
from plugins.checks.channel_laws import Followed, in_hours

if TYPE_CHECKING:
    from audit.case import Case
    from audit.channels import Mix
    from audit.claims import Claim

Floats = NDArray[np.float64]
RATE_SPREAD, CHANNEL_SPREAD = 0.25, 0.03  # MEMORY (chosen): relative standard deviations between units
DRAWS = 10_000
APART = 0.01  # MEMORY (chosen): in u'v'; farther from the measured light the channels aren't all of it
STEPS, EVERY = 60, 5  # hours of the nominal model; of the simulation every fifth
MOST_OF_UNITS = 0.95
CLOSED, MAY_FALL = "closed loop", "may fall"


@dataclass(frozen=True)
class Aged:
    """One setting over `hours` (times,), to the claimed one or to the last one known.

    `open_loop` and `held` (times,): the quantity of the claim with the drives unchanged, and as the loop that the claim
    names holds it (NaN without one). Units at `some` (k,) of the hours: `mean`, `deviation` of that quantity, `share`
    of them inside and its `standard_error`. `doubts`: why it contradicts nothing; `told`: the setting in words.
    """

    setting: str
    hours: Floats
    open_loop: Floats
    held: Floats
    some: Floats
    mean: Floats
    deviation: Floats
    share: Floats
    standard_error: Floats
    limit_h: float
    doubts: tuple[str, ...]
    told: str

    @property
    def value(self) -> float:
        """The quantity at the last hour, as the claim has it."""
        return float(self.open_loop[-1] if np.isnan(self.held[-1]) else self.held[-1])


def is_closed(claim: Claim) -> bool:
    """Whether a claim says that a closed loop holds the colour."""
    return CLOSED in " ".join(claim.definition.casefold().replace("-", " ").split())


def age(case: Case, claim: Claim, mix: Mix, outputs: dict[str, Followed], hour: float, scale: float) -> Aged:
    """Age the channels of one setting to the claimed hour, or to the smallest limit of its channels before that.

    `scale` multiplies the assumed spread of units. Raises ValueError where the sum has no colour temperature.
    """
    from audit.channels import SETTING

    followed = [outputs[name].law for name in mix.names]
    weakest_law = min(range(len(followed)), key=lambda i: followed[i].limit_h)
    limit = followed[weakest_law].limit_h
    hours = np.linspace(0.0, min(hour, limit), STEPS + 1)
    xyz, left = ageing.tristimulus(mix.x, mix.y, mix.flux), ageing.outputs(followed, hours)
    cap, told = _closed_loop(case, claim, mix, left, hours) if is_closed(claim) else (None, "")
    name, limits = _of(claim), (claim.lower, claim.upper)
    free = ageing.open_loop(xyz, left, hours)
    drift = free if cap is None else ageing.open_loop(xyz, ageing.held(left, cap), hours)
    value, moved = drift.value(name), drift.shift
    if np.isnan(value).any():
        raise ValueError("the sum of the channels has no colour temperature: one of them isn't there, or is misread")
    passed = ageing.passing(hours, value, *limits)
    spread = ageing.Spread(scale * RATE_SPREAD, scale * CHANNEL_SPREAD)
    some = slice(None, None, EVERY)
    units = ageing.units(xyz, left[:, some], limits, spread, name, draws=DRAWS, cap=cap)
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
        mix.said,
        hours,
        free.value(name),
        np.full(len(hours), np.nan) if cap is None else value,
        hours[some],
        units.mean,
        units.deviation,
        units.share,
        units.standard_error,
        limit,
        tuple(doubts),
        ", ".join(part for part in parts if part),
    )


def _apart(mix: Mix, xyz: Floats) -> float:
    """Distance in u'v' of the sum of the channels from the light measured in that setting; NaN where none was."""
    total = xyz.sum(axis=0)
    (u, whole_u), (v, whole_v) = xy_to_uv_prime(*np.column_stack([total[:2] / total.sum(), mix.whole]))
    return math.hypot(u - whole_u, v - whole_v)


def _closed_loop(case: Case, claim: Claim, mix: Mix, left: Floats, hours: Floats) -> tuple[Floats, str]:
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


def _of(claim: Claim) -> ageing.Of:
    for name in ("cct_shift", "duv_shift"):
        if claim.quantity.name == name:
            return name
    return "chromaticity_shift"
