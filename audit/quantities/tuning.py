"""What tunable light does as it is set: white against the target line, order along the settings, hue about a white.

Whether a light is white: its Duv is put beside the target line Duv(T) of ANSI C78.377 (``white_point``), whose
tolerance of 0.006 is that of all its quadrangles. Hue is the CIE 1976 u, v hue-angle of a light about a stated white
point, counted from +u' towards +v' (CIE 15:2018), and saturation here a distance in u', v' from that point. No standard
relates the hue that a colour wheel sets (0 to 360) to an angle in a chromaticity diagram: whoever compares them says
about which white.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .tables import Array
from .white_point import target_duv

#: The equal-energy stimulus in u', v' (x = y = 1/3), by definition.
EQUAL_ENERGY = (4 / 19, 9 / 19)
#: Tolerance of Duv about the target line, alike in all quadrangles of ANSI C78.377.
DUV_TOLERANCE = 0.006
#: In u', v': a light nearer to the white point has no hue to speak of. Chosen; the yellow of the spectrum locus lies
#: 0.08 from equal-energy white.
LEAST_RADIUS = 0.04
LEAST_RADIUS_SAID = f"no hue within {LEAST_RADIUS:g} of the white in u'v' (chosen: 0.0015 there is two degrees)"
#: Hues make a full turn if no gap exceeds this. Chosen.
LARGEST_GAP_DEG = 60.0
LARGEST_GAP_SAID = f"a full turn has no gap above {LARGEST_GAP_DEG:g} degrees (chosen: six corners of a wheel)"


@dataclass(frozen=True)
class Turn:
    """Hues measured at n set hues of a turn, in the order set; the last step leads back to the first.

    ``step_deg`` (n,): change of the measured hue, -180 to 180, positive in the direction in which the turn as a whole
    runs; ``gap_deg`` (n,): change of the set hue; ``reversed``: the turn as a whole runs against the set one;
    ``uneven_deg``: the largest difference, either way, between a step and what was set.
    """

    step_deg: Array
    gap_deg: Array
    reversed: bool
    uneven_deg: float


def duv_limits(cct_K: ArrayLike, tolerance: float, about_target: bool = True) -> tuple[Array, Array]:
    """Lowest and highest Duv of a white at ``cct_K``, any shape: within ``tolerance`` of the target line, or of 0."""
    middle = target_duv(cct_K) if about_target else np.zeros_like(np.asarray(cct_K, dtype=np.float64))
    return middle - tolerance, middle + tolerance


def falls_back(value: ArrayLike, expanded: ArrayLike) -> tuple[int, int]:
    """Where ``value`` (n,), in the order of its setting, falls furthest below an earlier one: both indices, or -1, -1.

    Only beyond the expanded uncertainty of the difference, from ``expanded`` (n,) of each. NaN is passed over.
    """
    value, expanded = np.asarray(value, dtype=np.float64), np.asarray(expanded, dtype=np.float64)
    known = np.flatnonzero(~np.isnan(value + expanded))
    if known.size < 2:
        return -1, -1
    value, expanded = value[known], expanded[known]
    highest = np.maximum.accumulate(value)
    earlier = np.maximum.accumulate(np.where(value == highest, np.arange(value.size), 0))
    beyond = highest - value - np.hypot(expanded, expanded[earlier])
    later = int(beyond.argmax())
    return (int(known[earlier[later]]), int(known[later])) if beyond[later] > 0 else (-1, -1)


def polar(u_prime: ArrayLike, v_prime: ArrayLike, white: ArrayLike = EQUAL_ENERGY) -> tuple[Array, Array]:
    """Hue-angle in degrees, 0 to 360, and distance in u', v' of lights (n,) about ``white``, (2,) or (n, 2).

    The angle is NaN nearer than ``LEAST_RADIUS``. NaN in, NaN out.
    """
    middle = np.asarray(white, dtype=np.float64)
    du = np.asarray(u_prime, dtype=np.float64) - middle[..., 0]
    dv = np.asarray(v_prime, dtype=np.float64) - middle[..., 1]
    radius = np.hypot(du, dv)
    angle = np.degrees(np.arctan2(dv, du)) % 360
    return np.where(radius >= LEAST_RADIUS, angle, np.nan), radius


def angle_between(angle_deg: ArrayLike, from_deg: ArrayLike) -> Array:
    """Difference of two angles in degrees, any shape, the short way round: above -180, at most 180."""
    difference = np.asarray(angle_deg, dtype=np.float64) - np.asarray(from_deg, dtype=np.float64)
    return np.asarray(180 - (180 - difference) % 360)


def is_full_turn(set_deg: ArrayLike) -> bool:
    """Whether set hues (n,) go all the way round without a gap above ``LARGEST_GAP_DEG`` (2 degrees of tolerance)."""
    hues = np.unique(np.asarray(set_deg, dtype=np.float64) % 360)
    if hues.size < 3:
        return False
    return bool(np.diff(np.append(hues, hues[0] + 360)).max() <= LARGEST_GAP_DEG + 2)


def turn(set_deg: ArrayLike, hue_deg: ArrayLike) -> Turn:
    """Order and evenness of the hues measured at ``set_deg`` (n,), rising within 0 to 360 and each but once.

    ValueError where the set hues don't rise, or a measured one is NaN.
    """
    set_deg, hue = np.asarray(set_deg, dtype=np.float64), np.asarray(hue_deg, dtype=np.float64)
    gap = np.diff(np.append(set_deg, set_deg[:1] + 360))
    if set_deg.size < 3 or not (gap > 0).all():
        raise ValueError("a turn needs three set hues or more, rising within 0 to 360 degrees and each but once")
    if np.isnan(hue).any():
        raise ValueError("a turn needs a measured hue at every set one; leave out the settings that have none")
    step = angle_between(np.roll(hue, -1), hue)
    backwards = bool(step.sum() < -180)
    step = -step if backwards else step
    return Turn(step, gap, backwards, float(np.abs(step - gap).max()))
