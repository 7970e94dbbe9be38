"""Numbers, operating points and claims in words: the one way in which findings and reports say them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from audit.claims import Claim
from audit.model import POINT_FIELDS, Quantity
from audit.numbers import Span

COVERAGE_FACTOR = 2.0  # of expanded uncertainties, JCGM 100:2008, 6.2
MOST_DECIMALS = 9
NO_UNIT = ("", "1", "index")
POINT_WORDS: Mapping[str, str] = {
    "product": "{}",
    "used_in": "used in {}",
    "test_object": "{}",
    "serial": "unit {}",
    "hours": "{} h",
    "level_percent": "{} % level",
    "cct_setting_K": "{} K setting",
    "hue_setting_deg": "hue {}°",
    "saturation_setting_percent": "saturation {} %",
    "scene": "scene {}",
    "zone": "zone {}",
    "channel": "channel {}",
    "control_value": "control {}",
    "control_kind": "({})",
    "ambient_C": "{} °C ambient",
    "case_C": "{} °C case",
    "drive_mA": "{} mA",
    "repeat": "repeat {}",
}
FIELD_WORDS: Mapping[str, str] = {
    "used_in": "the product it is used in",
    "test_object": "the test object",
    "serial": "the serial number",
    "hours": "hours of operation",
    "level_percent": "level",
    "cct_setting_K": "CCT setting",
    "hue_setting_deg": "hue setting",
    "saturation_setting_percent": "saturation setting",
    "scene": "scene",
    "zone": "zone",
    "channel": "channel",
    "control_value": "control value",
    "control_kind": "kind of control",
    "ambient_C": "ambient temperature",
    "case_C": "case temperature",
    "drive_mA": "drive current",
    "repeat": "repeat",
}
RELATION_WORDS = {
    "at_least": "at least {}",
    "at_most": "at most {}",
    "between": "from {} to {}",
    "within": "from {} to {}",
    "is": "{}",
}


def decimals_for(value: float, expanded: float | None, resolution: int, limits: Iterable[float] = ()) -> int:
    """Return the decimals to print a value with.

    Two significant digits of the expanded uncertainty (JCGM 100:2008, 7.2.6), else the trade's `resolution`; more
    where rounding would carry the value onto a limit or across it.
    """
    decimals = resolution
    if expanded and math.isfinite(expanded):
        exponent = int(f"{expanded:.1e}".partition("e")[2])  # of the rounded figure: 0.0996 is 0.10
        decimals = max(0, min(1 - exponent, MOST_DECIMALS))
    sides = {limit: _side(value, limit) for limit in limits}
    while decimals < MOST_DECIMALS and any(_side(round(value, decimals), each) != side for each, side in sides.items()):
        decimals += 1
    return decimals


def _side(value: float, limit: float) -> int:
    return int(value > limit) - int(value < limit)


def fixed(value: float, decimals: int) -> str:
    """Return a value with so many decimals, without a minus sign before a zero."""
    return f"{round(value, decimals) or 0.0:.{decimals}f}"


def with_unit(text: str, unit: str) -> str:
    """Return a printed number followed by its unit, if it has one that is written."""
    return text if unit in NO_UNIT else f"{text} {unit}"


def measured(value: float, quantity: Quantity, u: float = math.nan, limits: Iterable[float] = ()) -> str:
    """Return a value as a report prints it: 2987 ± 30 K; without a known standard uncertainty u, 2987 K.

    Where there is no value (no class, no centre to count from) it is "none".
    """
    if math.isnan(value):
        return "none"
    expanded = COVERAGE_FACTOR * u
    decimals = decimals_for(value, expanded, quantity.decimals, limits)
    text = fixed(value, decimals)
    if expanded > 0 and math.isfinite(expanded):
        text += f" ± {fixed(expanded, decimals)}"
    return with_unit(text, quantity.unit)


def counted(count: int, noun: str, plural: str = "") -> str:
    """Return `1 point`, `2 points`."""
    return f"{count} {noun if count == 1 else plural or noun + 's'}"


def plain(value: float) -> str:
    """Return a stated number as short as it can be written: 3000, 0.003."""
    return f"{value:.10g}"


def operating_point(point: Mapping[str, Any], leave_out: tuple[str, ...] = ("product",)) -> str:
    """Return the stated fields of an operating point: unit 3, 3000 K setting, 50 % level."""
    words = []
    for name in POINT_FIELDS:
        if name in point and name not in leave_out:
            value = point[name]
            if name == "hours" and 0 < value < 1:
                words.append(f"{3600 * value:.4g} s")
            else:
                words.append(POINT_WORDS[name].format(plain(value) if isinstance(value, int | float) else value))
    return ", ".join(words).replace(", (", " (")  # the kind of a control stands behind its value


def condition(name: str, wanted: str | Span) -> str:
    """Return one stated field of a claim: 2700 to 6500 K setting."""
    if isinstance(wanted, str):
        return POINT_WORDS[name].format(wanted)
    low, high = plain(wanted.low), plain(wanted.high)
    return POINT_WORDS[name].format(low if low == high else f"{low} to {high}")


def limits(claim: Claim, lower: float, upper: float) -> str:
    """Return the limits in words: at least 90, from -0.003 to 0.003."""
    ends = [with_unit(plain(end), claim.quantity.unit) for end in (lower, upper) if math.isfinite(end)]
    if not ends:
        formula = claim.criterion.formula if claim.criterion else ""
        return f"a limit from what is declared, {formula}" if formula else "no testable limit"
    return RELATION_WORDS[claim.relation].format(*ends)


def claim_sentence(claim: Claim) -> str:
    """Return the whole claim in words."""
    quantity = claim.quantity
    name = (
        quantity.title
        if not quantity.symbol or quantity.symbol in quantity.title
        else f"{quantity.title} {quantity.symbol}"
    )
    parts = [f"{name}: {limits(claim, claim.lower, claim.upper)}"]
    parts += [condition(field, wanted) for field, wanted in claim.conditions.items()]
    if claim.test_object:
        parts.append(f"on the {claim.test_object}")
    if claim.definition:
        parts.append(claim.definition)
    if claim.statistic:
        parts.append(claim.statistic)
    if math.isfinite(claim.population_percent):
        parts.append(f"for {plain(claim.population_percent)} % of production")
    return ", ".join(parts)


def listing(words: list[str], most: int = 6) -> str:
    """Return words joined for a sentence, cut after `most` with the count of the rest."""
    shown = words[:most]
    rest = len(words) - len(shown)
    return ", ".join(shown) + (f" and {rest} more" if rest else "")
