"""Units of measurement: one spelling table (units.csv), one conversion."""

from __future__ import annotations

import csv
import functools
import unicodedata
from collections.abc import Mapping
from importlib import resources
from typing import NamedTuple


class Conversion(NamedTuple):
    """value in the house unit = value as spelled * factor + offset."""

    factor: float
    offset: float

    def apply(self, value: float) -> float:
        return value * self.factor + self.offset

    def unapply(self, value: float) -> float:
        """Return a value in the house unit as it was spelled."""
        return (value - self.offset) / self.factor


IDENTITY = Conversion(1.0, 0.0)


def fold(spelling: str) -> str:
    """Return a unit's spelling without its blanks at the ends, brackets and look-alike characters."""
    text = spelling.strip().strip("[](){} ").replace("⋅", "·").replace("μ", "µ").replace("⁻¹", "-1")
    return unicodedata.normalize("NFC", " ".join(text.split()))


@functools.cache
def spellings() -> Mapping[tuple[str, str], Conversion]:
    """Return (spelling, house unit) -> Conversion from units.csv."""
    text = resources.files("audit").joinpath("units.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {
        (fold(row["spelling"]), row["unit"]): Conversion(float(row["factor"]), float(row["offset"])) for row in rows
    }


def conversion(spelling: str, unit: str) -> Conversion:
    """Return how a value spelled in `spelling` becomes one in `unit` (a house unit of the register).

    An empty spelling is the house unit. Raises ValueError, naming the spellings that are known, otherwise.
    """
    text = fold(spelling)
    if not text or text == unit:
        return IDENTITY
    found = spellings().get((text, unit)) or spellings().get((_word(text), unit))
    if found is None:
        known = ", ".join(dict.fromkeys(key for key, house in spellings() if house == unit))
        raise ValueError(f"'{spelling}' is not a unit for this quantity; write one of: {known or unit or 'none'}")
    return found


def offered(unit: str) -> tuple[str, ...]:
    """Return the units in which a value of house unit `unit` can be given, a spelling of each, itself first."""
    chosen = {IDENTITY: unit}
    for (spelling, house), how in spellings().items():
        # A per cent figure as a fraction is spelled out: a 1 behind 90 would be chosen by mistake.
        if house == unit and spelling != "1":
            chosen.setdefault(how, spelling)
    return tuple(chosen.values())


def is_unit(spelling: str) -> bool:
    """Whether this text is the spelling of any unit in the table."""
    text = fold(spelling)
    return text in _known() or _word(text) in _known()


@functools.cache
def _known() -> frozenset[str]:
    return frozenset(spelling for spelling, _ in spellings())


def _word(text: str) -> str:
    """Return a unit's name (Hours, LUMEN) in lower case; symbols keep theirs, because mW is no MW."""
    return text.lower() if len(text) > 3 and text.isalpha() else text
