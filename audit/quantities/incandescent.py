"""An incandescent lamp when dimmed: the Planckian radiator that gives so much of its light.

A tungsten lamp is taken for a Planckian radiator of constant emissivity, whose light is its radiance weighted with
V(lambda): cooler, it gives less. The power law of lamps near their rated voltage is given for comparison; far below
that it is hundreds of kelvin too low, so that it is refused below half of the light.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from . import planckian
from .mixing import locus
from .tables import WAVELENGTH_NM, Array, observer_2deg

#: Exponents of colour temperature and of light as powers of the voltage (Wikipedia, "Lamp rerating": 0.42; 3.4 to 3.5).
POWER_LAW = 0.42 / 3.4
#: Share of the light below which the power law isn't stated: it holds near rated voltage only.
POWER_LAW_LEAST = 0.5
#: Reciprocal temperatures of the table, in 1/MK: 20,000 K to 800 K, the Draper point.
_MIRED: Array = np.arange(50.0, 1250.1, 0.25)


@cache
def _log_light() -> Array:
    """Natural logarithm of the light of a Planckian radiator at every entry of the table, to a constant."""
    temperature = 1e6 / _MIRED
    # spectral_radiance is 1 at 560 nm; Planck's law there gives back the amount.
    at_560 = np.log(np.expm1(planckian.C2 / 560e-9 / temperature))
    return np.asarray(np.log(planckian.spectral_radiance(temperature, WAVELENGTH_NM) @ observer_2deg()[:, 1]) - at_560)


def light(cct_K: ArrayLike, full_cct_K: ArrayLike) -> Array:
    """Light of a Planckian radiator of ``cct_K`` as a share of its light at ``full_cct_K``, broadcasting.

    Planck's law (CIE 15:2018, 9.5) times V(lambda), 360 nm to 830 nm at 1 nm. NaN outside 800 K to 20,000 K.
    """
    return np.asarray(np.exp(_at(cct_K) - _at(full_cct_K)))


def _at(cct_K: ArrayLike) -> Array:
    with np.errstate(divide="ignore"):
        mired = 1e6 / np.asarray(cct_K, dtype=np.float64)
    return np.asarray(np.interp(mired, _MIRED, _log_light(), left=np.nan, right=np.nan))


def dimmed_cct(full_cct_K: ArrayLike, share: ArrayLike) -> Array:
    """CCT in K of the Planckian radiator that gives ``share`` (0 to 1) of its light at ``full_cct_K``, broadcasting.

    The inverse of ``light``. NaN for no light, and outside 800 K to 20,000 K.
    """
    share = np.asarray(share, dtype=np.float64)
    wanted = _at(full_cct_K) + np.log(np.where(share > 0, share, np.nan))
    # The light falls as the reciprocal temperature rises: interp wants it rising.
    return 1e6 / np.interp(wanted, _log_light()[::-1], _MIRED[::-1], left=np.nan, right=np.nan)


def power_law_cct(full_cct_K: ArrayLike, share: ArrayLike) -> Array:
    """CCT in K by the power law of lamps near rated voltage, T ~ light^0.1235; NaN below half of the light."""
    share = np.asarray(share, dtype=np.float64)
    valid = np.where((share >= POWER_LAW_LEAST) & (share <= 1), share, np.nan)
    return np.asarray(np.asarray(full_cct_K, dtype=np.float64) * valid**POWER_LAW)


def distance(u_prime: ArrayLike, v_prime: ArrayLike, full_cct_K: ArrayLike, share: ArrayLike) -> Array:
    """Distance (n,) in CIE 1976 u', v' from the incandescent lamp of ``full_cct_K`` (n,) dimmed to ``share`` (n,).

    NaN where the lamp has no temperature (see ``dimmed_cct``).
    """
    cct_K = np.atleast_1d(dimmed_cct(full_cct_K, share))
    known = ~np.isnan(cct_K)
    u, v = np.full(cct_K.shape, np.nan), np.full(cct_K.shape, np.nan)
    if known.any():
        u[known], v[known] = locus(cct_K[known])
    return np.asarray(np.hypot(np.asarray(u_prime, dtype=np.float64) - u, np.asarray(v_prime, dtype=np.float64) - v))
