"""The cells of one claim: limits in the register's unit, conditions, share. What can't be read names its column."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from audit.model import NUMBER, POINT_BOUNDS, POINT_FIELDS, Quantity
from audit.numbers import Span, parse_number, parse_span
from audit.units import IDENTITY, Conversion, conversion

CONDITION_FIELDS = tuple(name for name in POINT_FIELDS if name not in ("product", "test_object"))


class CellError(Exception):
    """A cell that can't be read: its column, what is wrong, and what to do."""

    def __init__(self, column: str, message: str, ask: str):
        super().__init__(message)
        self.column, self.message, self.ask = column, message, ask


def limits_of_cells(texts: Mapping[str, Any], quantity: Quantity) -> tuple[float, float]:
    """Return the lower and upper limit, open sides as -inf and inf. Raises CellError."""
    relation, unit = texts["relation"], _unit(texts["unit"], quantity)
    of_class = quantity.distribution == "class"
    if of_class != (relation == "is"):
        message = f"'{relation}' doesn't fit the {quantity.title}, which is a {'class' if of_class else 'number'}"
        raise CellError("relation", message, "write is" if of_class else "write at_least, at_most, between or within")
    value = _number("value", texts["value"], unit)
    two = relation in ("between", "within")
    if texts["value_to"] and not two:
        raise CellError("value_to", f"'{relation}' takes one number", "clear value_to, or use between or within")
    if value is None:
        if texts["value_to"]:
            raise CellError("value", f"'{relation}' needs a first number", "fill in value")
        return -math.inf, math.inf
    _refuse_impossible("value", value, quantity)
    if not two:
        return (-math.inf if relation == "at_most" else value), (math.inf if relation == "at_least" else value)
    # A half-width takes the factor of a unit, not its offset: ± 9 °F is ± 5 °C.
    second = unit if relation == "between" else Conversion(unit.factor, 0.0)
    value_to = _number("value_to", texts["value_to"], second)
    if value_to is None:
        raise CellError("value_to", f"'{relation}' needs a second number", "fill in value_to")
    low, high = (value, value_to) if relation == "between" else (value - value_to, value + value_to)
    if low > high:
        message = "the upper limit is below the lower one"
        raise CellError("value_to", message, "put the lower limit in value; a ± is positive")
    if relation == "between":
        _refuse_impossible("value_to", value_to, quantity)
    return low, high


def conditions_of_cells(texts: Mapping[str, Any]) -> dict[str, str | Span]:
    """Return the operating-point fields that the claim states, numbers as Span. Raises CellError."""
    conditions: dict[str, str | Span] = {}
    for name in CONDITION_FIELDS:
        text = texts[name]
        if not text:
            continue
        if POINT_FIELDS[name] != NUMBER:
            conditions[name] = text
            continue
        is_hue = name == "hue_setting_deg"
        span = parse_span(text.removesuffix("%") if name.endswith("_percent") else text, 360.0 if is_hue else 0.0)
        if span is None:
            raise CellError(name, f"{name} is '{text}'", "write a number, or a range as `a to b`")
        low, high = POINT_BOUNDS.get(name, (-math.inf, math.inf))
        if not is_hue and not low <= span.low <= span.high <= high:
            raise CellError(name, f"{name} is '{text}'", f"it can be from {low:g} to {high:g}: correct it")
        conditions[name] = span
    return conditions


def population_of_cell(text: str) -> float:
    """Return the claimed share of production in per cent, NaN where none is claimed. Raises CellError."""
    number = _number("population_percent", text.removesuffix("%").strip(), IDENTITY)
    if number is None:
        return math.nan
    if 0 < number <= 1:
        raise CellError("population_percent", f"the share is '{text}' %", "write 95 for 95 %, not 0.95")
    if not 0 < number < 100:
        raise CellError(
            "population_percent",
            f"a share of {number:g} % can't be shown by testing samples",
            "write a share above 0 and below 100, or leave it blank to claim it of the units tested",
        )
    return number


def _unit(text: str, quantity: Quantity) -> Conversion:
    try:
        return conversion(text, quantity.unit)
    except ValueError as error:
        raise CellError("unit", str(error), "correct the unit; limits are never guessed") from error


def _number(column: str, text: str, unit: Conversion) -> float | None:
    if not text:
        return None
    number = parse_number(text)
    if number is None:
        raise CellError(column, f"{column} is '{text}'", "write a plain number such as 90 or 0.003")
    return unit.apply(number.value)


def _refuse_impossible(column: str, value: float, quantity: Quantity) -> None:
    if not quantity.least <= value <= quantity.most:
        raise CellError(
            column,
            f"the {quantity.title} is never {value:g}",
            f"it lies from {quantity.least:g} to {quantity.most:g}: correct the limit or its unit",
        )
