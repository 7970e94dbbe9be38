"""What a claimed number may mean, and what each admissible meaning makes of its limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from audit.claims import Claim


class Meaning(NamedTuple):
    """One reading of a claim: the definition and the limits on the measured value, in the register's unit."""

    definition: str
    lower: float
    upper: float


def _square_law(percent: float) -> float:
    """The measured light that is perceived as `percent`, both in per cent of full.

    perceived = 100 sqrt(measured / 100): the square law of the IES Lighting Handbook (MEMORY).
    """
    return percent * abs(percent) / 100


# Definitions that only move the limit; of all others a reading must state its own.
TRANSFORMS: Mapping[str, Callable[[float], float]] = {"measured": float, "perceived": _square_law}


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
