"""Printed numbers: their value and the last digit they were printed to."""

from __future__ import annotations

import math
import re
from typing import Any, NamedTuple

from audit.sheets import text_of

MOST_DIGITS = 300  # beyond them a float overflows
NUMBER = re.compile(r"[+\-−]?(\d+\.?\d*|\.\d+)([eE][+\-]?\d{1,3})?", re.ASCII)
RANGE = re.compile(r"(.+?)\s+to\s+(.+)", re.IGNORECASE)


class Printed(NamedTuple):
    """A number as printed; `resolution` is one unit of its last digit (0.01 for 2.50)."""

    value: float
    resolution: float


class Span(NamedTuple):
    """A stated value or range of an operating-point field; low == high for a single value."""

    low: float
    high: float


def parse_number(cell: Any) -> Printed | None:
    """Return the number that stands in a cell, or None where the cell holds anything else."""
    text = text_of(cell)
    if not NUMBER.fullmatch(text):
        return None
    text = text.replace("−", "-").lower()
    mantissa, _, exponent = text.partition("e")
    decimals = len(mantissa.partition(".")[2]) - int(exponent or 0)
    value = float(text)
    return Printed(value, 10.0**-decimals) if math.isfinite(value) and decimals > -MOST_DIGITS else None


def parse_span(cell: Any, turn: float = 0.0) -> Span | None:
    """Return `a` or `a to b` as a Span, or None where the cell holds neither.

    The lower end comes first; where values go round (`turn` 360 for a hue) the order is kept: 350 to 10 is 350 to 370.
    """
    single = parse_number(cell)
    if single:
        return Span(single.value, single.value)
    match = RANGE.fullmatch(text_of(cell))
    if not match:
        return None
    ends = [parse_number(part.strip()) for part in match.groups()]
    if ends[0] is None or ends[1] is None:
        return None
    first, last = ends[0].value, ends[1].value
    if turn:
        return Span(first, last if last >= first else last + turn)
    return Span(min(first, last), max(first, last))
