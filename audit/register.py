"""The quantity register: every quantity that a claim may name, computed here or not."""

from __future__ import annotations

import csv
import difflib
import functools
import math
import re
from collections.abc import Mapping
from importlib import resources

from audit.model import Quantity

NUMBERS = (
    "least",
    "most",
    "uncertainty_absolute",
    "uncertainty_relative",
    "repeatability_absolute",
    "repeatability_relative",
    "recompute_allowance",
)


@functools.cache
def quantity_register() -> Mapping[str, Quantity]:
    """Return name -> Quantity, read from audit/quantities/register.csv (a line per quantity or family).

    A name such as `rf_h{1..16}` stands for sixteen quantities; `{}` in its symbol, title and formula takes the number.
    """
    text = resources.files("audit.quantities").joinpath("register.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {quantity.name: quantity for row in rows for quantity in _expand(row)}


def _expand(row: dict[str, str]) -> list[Quantity]:
    family = re.fullmatch(r"(\w*)\{(\d+)\.\.(\d+)\}", row["name"])
    if not family:
        return [_quantity(row)]
    stem, first, last = family[1], int(family[2]), int(family[3])
    return [
        _quantity(
            row
            | {"name": f"{stem}{number}"}
            | {column: row[column].replace("{}", str(number)) for column in ("symbol", "title", "formula")}
        )
        for number in range(first, last + 1)
    ]


def _quantity(row: dict[str, str]) -> Quantity:
    fields: dict[str, object] = {key: value for key, value in row.items() if key not in NUMBERS}
    fields |= {key: float(row[key]) for key in NUMBERS if row[key]}
    fields["decimals"] = int(row["decimals"])
    fields["distribution"] = row["distribution"] or "normal"
    fields["definitions"] = tuple(row["definitions"].split("|")) if row["definitions"] else ()
    return Quantity(**fields)  # type: ignore[arg-type]


SLACK = 0.05  # of the largest possible value, for rounding and noise
EXACT = ("cct", "duv")  # their bounds are wide already, or a rule of their own


def possible_range(quantity: Quantity) -> tuple[float, float]:
    """Return the least and largest value that can be printed for a quantity: its definition's, and some slack.

    A value outside is a sign of another unit or of a misread mark, never of a bad lamp.
    """
    slack = SLACK * quantity.most if math.isfinite(quantity.most) and quantity.name not in EXACT else 0.0
    return quantity.least - slack, quantity.most + slack


# What people write for a quantity; for hints only, a name is never guessed.
TRADE_WORDS = {
    "cri": "ra",
    "flux": "luminous_flux",
    "lumens": "luminous_flux",
    "lumen": "luminous_flux",
    "watts": "input_power",
    "wattage": "input_power",
    "power": "input_power",
    "efficacy": "luminous_efficacy",
    "colour_temperature": "cct",
    "color_temperature": "cct",
    "flicker": "percent_flicker",
    "thd": "thd_current",
    "life": "lumen_maintenance_life",
    "lifetime": "lumen_maintenance_life",
    "sdcm": "chromaticity_steps",
    "macadam": "chromaticity_steps",
}


def nearest(name: str, known: Mapping[str, Quantity]) -> str:
    """Return the known name (or title) most like `name`, as a name of the register, or ""."""
    by_spelling = {quantity.title.casefold(): quantity.name for quantity in known.values()}
    by_spelling |= {quantity.symbol.casefold(): quantity.name for quantity in known.values()}
    by_spelling |= {key: key for key in known}
    folded = name.casefold().strip()
    trade = TRADE_WORDS.get("_".join(folded.replace("-", " ").split()))
    if trade is not None and trade in known:
        return trade
    found = difflib.get_close_matches(folded, by_spelling, n=1, cutoff=0.5) or difflib.get_close_matches(
        folded.replace(" ", "_").replace("-", "_"), by_spelling, n=1, cutoff=0.5
    )
    return by_spelling[found[0]] if found else ""
