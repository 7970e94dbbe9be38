"""Values that a quantity can't have by its definition: a sign of another unit or of a misread mark, never of a fault.

A lamp may be bad, but its power factor isn't 95. The bounds are the register's; what is merely unusual is for the
checks to judge.
"""

from __future__ import annotations

import functools
import math

from audit.model import POINT_BOUNDS
from audit.register import possible_range, quantity_register
from audit.units import spellings


@functools.cache
def bounds(target: str) -> tuple[float, float]:
    """Return the least and the largest possible value of a quantity or field in its house unit, slack included."""
    quantity = quantity_register().get(target)
    return possible_range(quantity) if quantity else POINT_BOUNDS.get(target, (-math.inf, math.inf))


def possible(target: str, value: float) -> bool:
    """Whether a value in the house unit can be one of this quantity; NaN, no value, can."""
    low, high = bounds(target)
    return not (value < low or value > high)


def units_that_fit(target: str, unit: str, values: list[float]) -> list[str]:
    """Return a unit of each size in which these printed values would all be possible, the common spelling first."""
    fitting: dict[tuple[float, float], str] = {}
    for (spelling, house), convert in spellings().items():
        if house == unit and all(possible(target, convert.apply(value)) for value in values):
            fitting.setdefault((convert.factor, convert.offset), spelling)
    return list(fitting.values())
