"""Settings of a dimmer and the light that they give: curves, travel without effect, what is perceived.

Light is in per cent of full output as measured, settings as fractions of the control's travel (0 to 1) unless a
function says otherwise. NaN in, NaN out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .tables import Array

#: Arc power levels of IEC 62386-102 that are light: 0 is off, 255 no level at all.
ARC_LEVELS = (1, 254)
#: Control voltages of IEC 60929, Annex E: at and below the first the minimum, at and above the second full output.
VOLTS = (1.0, 10.0)
#: Settings below full output that it takes to tell curves apart (our setting).
FEWEST = 3


def perceived(measured_percent: ArrayLike) -> Array:
    """Light as it is perceived, in per cent, from light measured: 100 sqrt(m / 100), any shape; below 0 NaN.

    Square law of the IES Lighting Handbook (MEMORY).
    """
    measured = np.asarray(measured_percent, dtype=np.float64)
    return 100 * np.sqrt(np.where(measured < 0, np.nan, measured) / 100)


def measured(perceived_percent: ArrayLike) -> Array:
    """The inverse of ``perceived``, odd in its argument so that open and negative limits keep their side."""
    percent = np.asarray(perceived_percent, dtype=np.float64)
    return percent * np.abs(percent) / 100


def arc_light(level: ArrayLike) -> Array:
    """Light in per cent at arc power levels by the logarithmic curve: 10^((n - 1) / (253 / 3) - 1); 0 is 0.

    IEC 62386-102, from memory, and in agreement with every published point (tests/reference/dimming). NaN outside 0
    to 254.
    """
    n = np.asarray(level, dtype=np.float64)
    light = 10 ** ((n - 1) / (253 / 3) - 1)
    return np.where(n == 0, 0.0, np.where((n >= ARC_LEVELS[0]) & (n <= ARC_LEVELS[1]), light, np.nan))


def arc_light_linear(level: ArrayLike) -> Array:
    """Light in per cent at arc power levels by the linear curve n / 254 (IEC 62386-207). NaN outside 0 to 254."""
    n = np.asarray(level, dtype=np.float64)
    return np.where((n >= 0) & (n <= ARC_LEVELS[1]), 100 * n / ARC_LEVELS[1], np.nan)


def travel(setting: ArrayLike, ends: tuple[float, float]) -> Array:
    """Settings as fractions of the way between the two ends, held at 0 and 1 beyond them."""
    low, high = ends
    return np.clip((np.asarray(setting, dtype=np.float64) - low) / (high - low), 0.0, 1.0)


def _linear(s: Array) -> Array:
    return 100 * s


def _square(s: Array) -> Array:
    return 100 * s**2


def _logarithmic(s: Array) -> Array:
    return np.where(s > 0, 10 ** (3 * s - 1), 0.0)


#: Light in per cent at a fraction of the travel. Logarithmic: 0.1 % to 100 % as IEC 62386-102.
CURVES: Mapping[str, Callable[[Array], Array]] = {"linear": _linear, "square": _square, "logarithmic": _logarithmic}


class Fit(NamedTuple):
    """The nearest curve, and the rms distance of the light from each curve, in per cent of full output."""

    curve: str
    residual: dict[str, float]


def nearest_curve(fraction: ArrayLike, light: ArrayLike) -> Fit | None:
    """The curve of ``CURVES`` that is nearest to ``light`` (n,) at ``fraction`` (n,); None for too few settings.

    No curve goes below the least light measured, where a driver stops. Settings at the ends say nothing of the curve.
    """
    s, y = np.asarray(fraction, dtype=np.float64), np.asarray(light, dtype=np.float64)
    inner = (s > 0) & (s < 1) & (y > 0)
    if np.count_nonzero(inner) < FEWEST:
        return None
    floor = y[inner].min()
    residual = {
        name: float(np.sqrt(np.mean((np.maximum(curve(s[inner]), floor) - y[inner]) ** 2)))
        for name, curve in CURVES.items()
    }
    return Fit(min(residual, key=residual.__getitem__), residual)


class Travel(NamedTuple):
    """Settings between which the light stands still, from and to; NaN where it moves."""

    start: float
    end: float

    @property
    def there(self) -> bool:
        """Whether there is any."""
        return not np.isnan(self.start)


NO_TRAVEL = Travel(np.nan, np.nan)


def dead_travel(setting: Array, light: Array, expected: Array, noise: Array) -> tuple[Travel, Travel]:
    """The travel without effect at the low and at the high end of ``setting`` (n,), increasing.

    ``expected`` (n,): light by the curve that the product follows otherwise; ``noise`` (n,): change of light that
    repeating a measurement gives. Light stands still where it stays within the noise of the end's, and only where the
    curve would have moved it by more than twice that: what the noise hides is not reported.
    """
    if len(setting) < 2:
        return NO_TRAVEL, NO_TRAVEL
    found = []
    for end, towards in ((0, 1), (len(setting) - 1, -1)):
        last = end
        for i in range(end + towards, len(setting) if towards > 0 else -1, towards):
            if not abs(light[i] - light[end]) <= max(noise[i], noise[end]):
                break
            last = i
        low, high = sorted((end, last))
        moved = abs(expected[high] - expected[low])
        still = last != end and moved > 2 * max(noise[low], noise[high])
        found.append(Travel(float(setting[low]), float(setting[high])) if still else NO_TRAVEL)
    return found[0], found[1]


def reversals(light: Array, noise: Array) -> NDArray[np.intp]:
    """Indices (k,) of settings, in increasing order, at which the light is less than at one below, beyond noise."""
    if not len(light):
        return np.array([], dtype=np.intp)
    before = np.maximum.accumulate(light)
    return np.flatnonzero(before - light > noise)
