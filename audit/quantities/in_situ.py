"""Lumen maintenance at the temperature and current found inside a luminaire, from sets tested at others.

Between two case temperatures at one drive current the decay rate follows Arrhenius in kelvin (ANSI/IES TM-21-11,
clause 6, as recalled; rules R19 to R21 of ``tm21_rules``, MEMORY). Nothing is projected above the highest tested
temperature (R14) nor above the tested current; at or below the lowest the lowest set stands as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tm21_rules as rules
from .lumen_readings import append
from .projection import Projection
from .spectra import Mask, Texts, add, texts
from .tables import Array

ZERO_C_IN_K = 273.15
#: Boltzmann constant in eV/K, exact since the SI of 2019 (CODATA).
BOLTZMANN_EV = 8.617333262e-5
#: Relative difference below which two stated currents are one: the noise of binary fractions.
SAME = 1e-9


class Arrhenius(NamedTuple):
    """Decay at a temperature between two: ``alpha`` and ``A`` in 1/h, ``B``, and activation energy over k in K."""

    alpha: Array
    B: Array
    ea_over_k_K: Array
    A: Array


@dataclass(frozen=True)
class InSitu(Projection):
    """Projections of shape (...) for the conditions inside luminaires.

    ``case_C`` in °C; ``lower`` and ``upper``: index of the tested sets that carry it, the same where one set stands
    alone, -1 where none does; ``alone``: the set whose alpha and B stand, -1 for an interpolation; ``ea_over_k_K``:
    activation energy over k in K, NaN without interpolation. ``sets`` are the tested ones.
    """

    case_C: Array
    lower: NDArray[np.intp]
    upper: NDArray[np.intp]
    alone: NDArray[np.intp]
    ea_over_k_K: Array
    sets: tuple[Projection, ...]

    def measured(self, p: float) -> Array:
        """Life (...) in h to ``p`` percent as the one set that stands reached it during its test, else NaN."""
        stacked = _stack([found.measured(p) for found in self.sets], self.alpha.shape)
        return np.where(self.alone >= 0, _pick(stacked, self.alone), super().measured(p))

    @property
    def ea_eV(self) -> Array:
        """Activation energy (...) in eV, NaN without interpolation."""
        return self.ea_over_k_K * BOLTZMANN_EV


@dataclass(frozen=True)
class Current:
    """Drive current in the luminaire against the tested one, shape (...).

    ``inside``: not above it; ``programme``: above it by at most the 5 % that one programme allowed (R23), TM-21
    itself doesn't; ``texts``: what to say where it isn't inside, "" where it is.
    """

    inside: Mask
    programme: Mask
    texts: Texts


def arrhenius(
    case_C: ArrayLike,
    case1_C: ArrayLike,
    alpha1: ArrayLike,
    B1: ArrayLike,
    case2_C: ArrayLike,
    alpha2: ArrayLike,
    B2: ArrayLike,
) -> Arrhenius:
    """Decay at ``case_C`` from that at two case temperatures in °C; rates in 1/h; all broadcast (R19, MEMORY).

    NaN for equal temperatures and for rates that aren't positive. At a tested temperature B is still the mean of both.
    """
    x, x1, x2 = (1 / (np.asarray(t, dtype=np.float64) + ZERO_C_IN_K) for t in (case_C, case1_C, case2_C))
    a1, a2, b1, b2 = (np.asarray(v, dtype=np.float64) for v in (alpha1, alpha2, B1, B2))
    good = (a1 > 0) & (a2 > 0) & (x1 != x2)
    with np.errstate(all="ignore"):
        ea_over_k_K = np.where(good, np.log(a1 / a2) / np.where(good, x2 - x1, 1.0), np.nan)
        return Arrhenius(
            alpha=a1 * np.exp(ea_over_k_K * (x1 - x)),
            B=np.where(good, np.sqrt(b1 * b2), np.nan),
            ea_over_k_K=ea_over_k_K,
            A=a1 * np.exp(ea_over_k_K * x1),
        )


def interpolate(
    case_C: ArrayLike, tested_C: Sequence[ArrayLike], sets: Sequence[Projection], tested_mA: Sequence[ArrayLike] = ()
) -> InSitu:
    """Project what the ``sets``, of shape (...) each, say for the case temperature ``case_C`` (...) in °C.

    ``tested_C`` and ``tested_mA``: for each set its case temperature in °C and its current in mA, single or (...);
    NaN for a temperature that isn't there. The smaller limit of the pair holds. Raises ValueError where counts or
    shapes differ.
    """
    if len(tested_C) != len(sets) or (len(tested_mA) and len(tested_mA) != len(sets)):
        raise ValueError(
            f"{len(sets)} sets with {len(tested_C)} temperatures and {len(tested_mA)} currents; "
            "give one of each for every set, or no currents"
        )
    shape = np.broadcast_shapes(np.shape(case_C), *(found.alpha.shape for found in sets))
    case = np.broadcast_to(np.asarray(case_C, dtype=np.float64), shape)
    tested = _stack(tested_C, shape)
    lower, upper = _bracket(case, tested)
    alpha, B, limit, duration, known = (
        _stack([getattr(found, name) for found in sets], shape)
        for name in ("alpha", "B", "limit_h", "duration_h", "known_h")
    )
    a1, a2 = _pick(alpha, lower), _pick(alpha, upper)
    between = arrhenius(case, _pick(tested, lower), a1, _pick(B, lower), _pick(tested, upper), a2, _pick(B, upper))
    poorer = np.where(a1 >= a2, lower, upper)
    alone = np.where((lower == upper) | (a1 <= 0) | (a2 <= 0), poorer, -1)
    tighter = np.where(_pick(limit, lower) <= _pick(limit, upper), lower, upper)
    currents = _stack(tested_mA, shape) if len(tested_mA) else np.full(tested.shape, np.nan)
    pair = _Pair(case, tested, currents, lower, upper, alone, between.ea_over_k_K)
    refused = _refusals(pair, sets)
    return InSitu(
        alpha=np.where(alone >= 0, _pick(alpha, alone), between.alpha),
        B=np.where(alone >= 0, _pick(B, alone), between.B),
        duration_h=_pick(duration, tighter),
        limit_h=np.where(refused == "", _pick(limit, tighter), np.nan),
        # between two temperatures nothing was read: no hour at which the level is known not to be reached
        known_h=np.where(alone >= 0, _pick(known, alone), -np.inf),
        refused=refused,
        notes=_notes(pair, refused, sets),
        case_C=case,
        lower=lower,
        upper=upper,
        alone=alone,
        ea_over_k_K=np.where(alone >= 0, np.nan, between.ea_over_k_K),
        sets=tuple(sets),
    )


def same_current(in_situ_mA: ArrayLike, tested_mA: ArrayLike) -> Current:
    """Compare the current in the luminaire with the tested one, both in mA and broadcast to (...). NaN: not stated."""
    inside_mA, limit_mA = np.broadcast_arrays(np.asarray(in_situ_mA, np.float64), np.asarray(tested_mA, np.float64))
    inside = np.asarray(inside_mA <= limit_mA * (1 + SAME))
    programme = np.asarray(~inside & (inside_mA <= limit_mA * (1 + rules.PROGRAMME_EXCESS) * (1 + SAME)))
    said = texts(inside.size)
    for i in np.flatnonzero(~inside):
        own, tested = inside_mA.flat[i], limit_mA.flat[i]
        if np.isnan(own) or np.isnan(tested):
            said[i] = "the current in the luminaire or the tested one isn't stated; ask for both"
            continue
        said[i] = f"{own:g} mA in the luminaire is {100 * (own / tested - 1):.1f} % above the tested {tested:g} mA"
        if programme.flat[i]:
            said[i] += f"; TM-21 allows none; {rules.cite('R23')}"
    return Current(inside, programme, said.reshape(inside.shape))


class _Pair(NamedTuple):
    case_C: Array
    tested_C: Array
    tested_mA: Array
    lower: NDArray[np.intp]
    upper: NDArray[np.intp]
    alone: NDArray[np.intp]
    ea_over_k_K: Array


def _stack(columns: Sequence[ArrayLike], shape: tuple[int, ...]) -> Array:
    """One value of each set in the last axis, (..., sets)."""
    if not len(columns):
        return np.empty((*shape, 0))
    return np.stack([np.broadcast_to(np.asarray(column, np.float64), shape) for column in columns], axis=-1)


def _pick(values: Array, index: NDArray[np.intp]) -> Array:
    """The value of the set ``index`` (...) out of (..., sets), NaN for -1."""
    with_none = np.concatenate([values, np.full((*index.shape, 1), np.nan)], axis=-1)
    return np.take_along_axis(with_none, index[..., None], axis=-1)[..., 0]


def _bracket(case: Array, tested: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The nearest tested temperatures at or below and at or above ``case``; the lowest for both if it is lower."""
    if not tested.shape[-1]:
        return np.full(case.shape, -1), np.full(case.shape, -1)
    below = np.where(tested <= case[..., None], tested, -np.inf)
    above = np.where(tested >= case[..., None], tested, np.inf)
    upper = np.where(np.isfinite(above).any(axis=-1), above.argmin(axis=-1), -1)
    lower = np.where(np.isfinite(below).any(axis=-1) & (upper >= 0), below.argmax(axis=-1), upper)
    return lower, upper


def _refusals(pair: _Pair, sets: Sequence[Projection]) -> Texts:
    refused = texts(pair.case_C.size)
    case, lower, upper = (x.reshape(-1) for x in (pair.case_C, pair.lower, pair.upper))
    tested, current = (x.reshape(case.size, len(sets)) for x in (pair.tested_C, pair.tested_mA))
    reasons = [np.broadcast_to(found.refused, pair.case_C.shape).reshape(-1) for found in sets]
    for i in range(refused.size):
        if np.isnan(case[i]):
            refused[i] = "the case temperature in the luminaire isn't stated; ask for it (in-situ temperature test)"
        elif np.isnan(tested[i]).all():
            refused[i] = "no set states its case temperature; ask at which temperatures the LEDs were tested"
        elif upper[i] < 0:
            highest = np.nanmax(tested[i])
            refused[i] = f"{case[i]:g} °C is above the highest tested {highest:g} °C: {rules.cite('R14')}"
        else:
            refused[i] = _pair_refusal(tested[i], current[i], lower[i], upper[i])
            for at in sorted({lower[i], upper[i]}):
                if reasons[at][i]:
                    append(refused, i, f"set at {tested[i, at]:g} °C: {reasons[at][i]}")
    return refused.reshape(pair.case_C.shape)


def _pair_refusal(tested: Array, current: Array, lower: np.intp, upper: np.intp) -> str:
    for at in (lower, upper):
        if (tested == tested[at]).sum() > 1:
            return f"two sets stand at {tested[at]:g} °C; say which one, or at which currents"
    if abs(current[lower] - current[upper]) > SAME * abs(current[upper]):
        return f"sets at {current[lower]:g} mA and {current[upper]:g} mA: temperatures are joined at one current only"
    return ""


def _notes(pair: _Pair, refused: Texts, sets: Sequence[Projection]) -> Texts:
    size = pair.case_C.size
    notes, good = texts(size), refused.reshape(-1) == ""
    lower, upper, alone = (index.reshape(-1) for index in (pair.lower, pair.upper, pair.alone))
    tested, case = pair.tested_C.reshape(size, len(sets)), pair.case_C.reshape(-1)
    joined = good & (alone < 0)
    below = good & (lower == upper) & (_pick(tested, lower) > case)
    add(notes, joined, rules.cite("R19"))
    add(notes, joined & (pair.ea_over_k_K.reshape(-1) < 0), "the hotter set decays more slowly: check both sets")
    unstated = np.isnan(_pick(pair.tested_mA, pair.lower) + _pick(pair.tested_mA, pair.upper)).reshape(-1)
    add(notes, joined & unstated, "currents of the sets not stated; taken as one")
    add(notes, below, rules.cite("R20"))
    add(notes, good & (lower != upper) & (alone >= 0), rules.cite("R21"))
    for k, found in enumerate(sets):
        own = np.broadcast_to(found.notes, pair.case_C.shape).reshape(-1)
        for i in np.flatnonzero(good & ((lower == k) | (upper == k)) & (own != "")):
            append(notes, i, f"set at {tested[i, k]:g} °C: {own[i]}")
    return notes.reshape(pair.case_C.shape)
