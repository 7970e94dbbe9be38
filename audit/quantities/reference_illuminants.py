"""Reference illuminants: Planckian radiators, CIE daylight phases, and how the two methods choose.

Every metric needs only weighted sums of a reference, and sums are linear: a daylight phase is summed once
for S0, S1, S2, a mixture is the mixture of two sums. So references are returned as sums, never as spectra.
"""

from __future__ import annotations

import numpy as np

from .planckian import spectral_radiance
from .tables import VISIBLE, WAVELENGTH_NM, Array, daylight_components

#: CIE 13.3-1995, clause 5.2: Planckian below this temperature, daylight at and above it, in K.
CIE13_3_SWITCH_K = 5000.0
#: CIE 224:2017: Planckian up to the first, daylight from the second temperature, mixed between, in K.
CIE224_MIXED_K = (4000.0, 5000.0)


def planckian_sums(temperature_K: Array, weights: Array) -> Array:
    """Sums (n, k) of Planckian radiators at ``temperature_K`` (n,) over ``weights`` (401, k) from 380 nm."""
    return spectral_radiance(temperature_K, WAVELENGTH_NM[VISIBLE]) @ weights


def daylight_sums(temperature_K: Array, weights: Array) -> Array:
    """Sums (n, k) of CIE daylight phases at ``temperature_K`` (n,) over ``weights`` (401, k), 380 to 780 nm.

    CIE 15:2018, the formulae of the daylight locus x_D, y_D and of M1, M2 (not rounded to three decimals).
    """
    x, y = daylight_xy(temperature_K)
    m = 0.0241 + 0.2562 * x - 0.7341 * y
    m1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / m
    m2 = (0.0300 - 31.4424 * x + 30.0717 * y) / m
    return np.stack([np.ones_like(m1), m1, m2], axis=1) @ (daylight_components().T @ weights)


def daylight_xy(temperature_K: Array) -> tuple[Array, Array]:
    """x and y of the CIE daylight locus at ``temperature_K``, 4,000 K to 25,000 K (CIE 15:2018)."""
    k = 1e3 / temperature_K
    low = ((-4.6070 * k + 2.9678) * k + 0.09911) * k + 0.244063
    high = ((-2.0064 * k + 1.9018) * k + 0.24748) * k + 0.237040
    x = np.where(temperature_K <= 7000, low, high)
    return x, (-3.000 * x + 2.870) * x - 0.275


def switched_sums(temperature_K: Array, weights: Array) -> Array:
    """Sums (n, k) of the references of CIE 13.3-1995 over ``weights`` (401, k)."""
    daylight = temperature_K >= CIE13_3_SWITCH_K
    sums = np.empty((temperature_K.size, weights.shape[1]))
    sums[daylight] = daylight_sums(temperature_K[daylight], weights)
    sums[~daylight] = planckian_sums(temperature_K[~daylight], weights)
    return sums


def mixed_sums(temperature_K: Array, weights: Array, luminance: Array) -> Array:
    """Sums (n, k) of the references of CIE 224:2017 over ``weights`` (401, k).

    Between 4,000 K and 5,000 K the two references are scaled to equal sums over ``luminance`` (401,), the
    10-degree y function, and mixed in proportion to the temperature.
    """
    first, last = CIE224_MIXED_K
    share = np.clip((temperature_K - first) / (last - first), 0.0, 1.0)[:, None]
    weights = np.concatenate([weights, luminance[:, None]], axis=1)
    sums = np.zeros((temperature_K.size, weights.shape[1]))
    for part, reference in ((1.0 - share, planckian_sums), (share, daylight_sums)):
        has = part[:, 0] > 0
        one = reference(temperature_K[has], weights)
        sums[has] += part[has] * one / one[:, -1:]
    return sums[:, :-1]
