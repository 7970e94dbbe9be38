"""What a claimed number may mean, and what each admissible meaning makes of its limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from audit.claims import Claim
from audit.model import Quantity
from audit.quantities import dimming


class Meaning(NamedTuple):
    """One reading of a claim: the definition and the limits on the measured value, in the register's unit."""

    definition: str
    lower: float
    upper: float


MEASURED, PERCEIVED = "measured", "perceived"
# Definitions that only move the limit; of all others a reading must state its own.
TRANSFORMS: Mapping[str, Callable[[float], float]] = {
    MEASURED: float,
    PERCEIVED: lambda percent: float(dimming.measured(percent)),
}


def meanings(claim: Claim) -> list[Meaning]:
    """Return the meanings to judge by: the stated one, or every admissible one that the claim leaves open.

    Empty where the claim must state a definition and doesn't, or states one that isn't admissible.
    """
    admissible = claim.quantity.definitions
    if not admissible:
        return [Meaning(claim.definition, claim.lower, claim.upper)]
    stated = [name for name in admissible if name.casefold() == claim.definition.casefold()]
    if not claim.definition and all(name in TRANSFORMS for name in admissible):
        stated = list(admissible)
    return [
        Meaning(name, transform(claim.lower), transform(claim.upper))
        for name in stated
        for transform in (TRANSFORMS.get(name, float),)
    ]


def as_stated(definition: str, limit: float) -> float:
    """Return a limit on measured light on the basis of the definition, by which the claim states it."""
    return float(dimming.perceived(max(limit, 0.0))) if definition == PERCEIVED else limit


def both(quantity: Quantity, value: float) -> str:
    """Return what to say behind a measured value that has a perceived one: ` measured, 20 % perceived`; else ""."""
    if PERCEIVED not in quantity.definitions or not value >= 0:
        return ""
    return f" {MEASURED}, {float(dimming.perceived(value)):.3g} {quantity.unit} {PERCEIVED}"
