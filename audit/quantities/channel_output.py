"""What is left of one channel's light after hours of operation: three laws, each with its own limit.

* ``Exponential``: B exp(-alpha t), the fit of ANSI/IES TM-21 (``maintenance``), inside the limit of that fit. B is
  kept as fitted: the fit says nothing of the hours before its first reading, and there a straight line joins 1 at 0 h.
* ``Table``: straight lines between readings, from 1 at 0 h to the last one and no further.
* ``Logarithmic``: 1 - k ln(1 + t / t0). The loss of AlInGaP (AlGaInP) emitters was found linear in current density and
  logarithmic in time up to 60,000 h (abstract, VERIFIED); an exponential through its first hours foretells too much
  loss. No standard projects it, so that whoever fits it sets the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from .tables import Array

#: Time constants tried for the logarithmic law, in h.
T0_H: Array = np.geomspace(1.0, 1e5, 101)


class Output(Protocol):
    """The remaining output of a channel; ``limit_h``: the hour past which it isn't known."""

    @property
    def limit_h(self) -> float:
        """Hour past which nothing is said."""

    def at(self, hours: ArrayLike) -> Array:
        """Remaining output at ``hours`` (any shape), 1 at 0 h; NaN past the limit and before 0 h."""


@dataclass(frozen=True)
class Exponential:
    """B exp(-alpha t): ``alpha`` in 1/h, ``from_h``: first hour of the fit. ValueError where the fit rises."""

    alpha: float
    limit_h: float
    B: float = 1.0
    from_h: float = 0.0

    def __post_init__(self) -> None:
        _check(self.limit_h, alpha=self.alpha, B=self.B)
        if self.alpha < 0:
            raise ValueError(f"alpha is {self.alpha:g}: a rising output isn't projected; use its readings as a table")
        if self.B <= 0 or (self.from_h <= 0 and self.B != 1):
            raise ValueError(
                f"B is {self.B:g} from {self.from_h:g} h: the output at 0 h is 1; give the fit's first hour"
            )

    def at(self, hours: ArrayLike) -> Array:
        hours = np.asarray(hours, dtype=np.float64)
        fitted = self.B * np.exp(-self.alpha * np.maximum(hours, self.from_h))
        share = np.clip(hours / self.from_h, 0.0, 1.0) if self.from_h > 0 else 1.0
        return _inside(hours, self.limit_h, 1 + (fitted - 1) * share)


@dataclass(frozen=True)
class Table:
    """Readings of the remaining output: ``hours`` (k,) rising, ``ratio`` (k,) to 0 h, both positive."""

    hours: Array
    ratio: Array

    def __post_init__(self) -> None:
        _readings(self.hours, self.ratio)

    @property
    def limit_h(self) -> float:
        """The last hour read."""
        return float(self.hours[-1])

    def at(self, hours: ArrayLike) -> Array:
        hours = np.asarray(hours, dtype=np.float64)
        known, ratio = _from_new(self.hours, self.ratio)
        return _inside(hours, self.limit_h, np.interp(hours, known, ratio))


@dataclass(frozen=True)
class Logarithmic:
    """1 - k ln(1 + t / t0), ``k`` not negative, ``t0_h`` in h."""

    k: float
    t0_h: float
    limit_h: float

    def __post_init__(self) -> None:
        _check(self.limit_h, k=self.k, t0_h=self.t0_h)
        if self.k < 0 or self.t0_h <= 0:
            raise ValueError(
                f"k is {self.k:g} and t0 {self.t0_h:g} h: a loss has both positive; look for a rising output"
            )
        if self.at(self.limit_h) <= 0:
            raise ValueError(f"nothing is left before the limit of {self.limit_h:g} h; lower the limit")

    def at(self, hours: ArrayLike) -> Array:
        hours = np.asarray(hours, dtype=np.float64)
        return _inside(hours, self.limit_h, 1 - self.k * np.log1p(np.maximum(hours, 0.0) / self.t0_h))


def fit_logarithmic(hours: ArrayLike, ratio: ArrayLike, limit_h: float | None = None) -> Logarithmic:
    """Fit 1 - k ln(1 + t / t0) to ``ratio`` (k,) at ``hours`` (k,) by least squares of the loss.

    t0 is the best of ``T0_H``. ``limit_h``: the last reading unless given. ValueError as for a table, and where the
    output rises.
    """
    hours, ratio = np.asarray(hours, dtype=np.float64), np.asarray(ratio, dtype=np.float64)
    _readings(hours, ratio)
    loss = 1 - ratio
    steps = np.log1p(hours / T0_H[:, None])
    k = (steps * loss).sum(axis=1) / (steps**2).sum(axis=1)
    best = int(((loss - k[:, None] * steps) ** 2).sum(axis=1).argmin())
    return Logarithmic(float(k[best]), float(T0_H[best]), float(hours[-1]) if limit_h is None else limit_h)


def _inside(hours: Array, limit_h: float, output: Array) -> Array:
    return np.where((hours >= 0) & (hours <= limit_h), output, np.nan)


def _from_new(hours: Array, ratio: Array) -> tuple[Array, Array]:
    """The readings with that of the new channel, 1 at 0 h, before them."""
    later = hours > 0
    return np.concatenate([[0.0], hours[later]]), np.concatenate([[1.0], ratio[later]])


def _readings(hours: Array, ratio: Array) -> None:
    if hours.ndim != 1 or hours.shape != ratio.shape or not hours.size:
        raise ValueError(f"{ratio.size} outputs don't fit {hours.size} hours; give one for each")
    if not (np.isfinite(hours).all() and np.isfinite(ratio).all() and (ratio > 0).all()):
        raise ValueError("outputs and hours must be numbers, outputs above 0; leave out what wasn't read")
    if hours[0] < 0 or (np.diff(hours) <= 0).any() or hours[-1] <= 0:
        raise ValueError("the hours must rise from reading to reading and go beyond 0 h")


def _check(limit_h: float, **numbers: float) -> None:
    for name, value in (numbers | {"limit_h": limit_h}).items():
        if not np.isfinite(value):
            raise ValueError(f"{name} must be a number, not {value}")
    if limit_h <= 0:
        raise ValueError(
            f"the limit is {limit_h:g} h: nothing can be judged; give the hours that the output is known for"
        )
