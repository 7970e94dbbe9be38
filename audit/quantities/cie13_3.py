"""Colour rendering indices of CIE 13.3-1995: Ra, R1 to R14, and the index of the 15th sample.

Everything here works on tristimulus sums of the 15 test colour samples and of the source itself, first axis
the spectra; ``rendition`` makes the sums. The 15th sample, East Asian complexion, is outside CIE 13.3 and
never enters Ra.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from .grid import check, resampling_matrix
from .tables import VISIBLE, Array, load, observer_2deg

SAMPLES = 15

#: Distance of test and reference in CIE 1960 (u, v) above which CIE 13.3 calls the result less accurate
#: (clause 5.3). MEMORY: recalled, not read; a remark only, it decides nothing.
CHROMATICITY_TOLERANCE = 5.4e-3


@cache
def weights() -> Array:
    """Spectrum at 380 to 780 nm to the X, Y, Z of 15 samples, then of the source: (401, 48), X first."""
    wavelength_nm, samples = load("cie13_3_test_colour_samples")
    at_1_nm = samples.T @ resampling_matrix(check(wavelength_nm)).T[:, VISIBLE]
    surfaces = np.concatenate([at_1_nm, np.ones((1, at_1_nm.shape[1]))])
    products: Array = np.einsum("sw,wc->wcs", surfaces, observer_2deg()[VISIBLE])
    return products.reshape(-1, 3 * (SAMPLES + 1))


def indices(test: Array, reference: Array) -> tuple[Array, Array, Array]:
    """Ra (n,), R1 to R15 (n, 15) and the chromaticity distance test to reference (n,) in CIE 1960 (u, v).

    ``test`` and ``reference`` are sums over ``weights()``, (n, 48). CIE 13.3-1995, clause 5: CIE 1964
    U*V*W*, adaptation by the von Kries transformation of clause 5.7, Ri = 100 - 4.6 dEi, Ra = mean R1..R8.
    """
    u_k, v_k, lightness_k = _uvw(test)
    u_r, v_r, lightness_r = _uvw(reference)
    distance = np.hypot(u_k[:, -1] - u_r[:, -1], v_k[:, -1] - v_r[:, -1])
    c_k, d_k = _cd(u_k, v_k)
    c_r, d_r = _cd(u_r[:, -1:], v_r[:, -1:])
    c, d = c_k * (c_r / c_k[:, -1:]), d_k * (d_r / d_k[:, -1:])
    denominator = 16.518 + 1.481 * c - d
    u_k, v_k = (10.872 + 0.404 * c - 4 * d) / denominator, 5.520 / denominator
    d_u = 13 * (lightness_r * (u_r - u_r[:, -1:]) - lightness_k * (u_k - u_r[:, -1:]))
    d_v = 13 * (lightness_r * (v_r - v_r[:, -1:]) - lightness_k * (v_k - v_r[:, -1:]))
    shift = np.sqrt(d_u**2 + d_v**2 + (lightness_r - lightness_k) ** 2)[:, :SAMPLES]
    ri = 100 - 4.6 * shift
    return ri[:, :8].mean(axis=1), ri, distance


def _uvw(sums: Array) -> tuple[Array, Array, Array]:
    """CIE 1960 u, v and CIE 1964 W* of the samples and of the source, (n, 16) each; source Y = 100."""
    x, y, z = sums.reshape(-1, 3, SAMPLES + 1).transpose(1, 0, 2)
    d = x + 15 * y + 3 * z
    return 4 * x / d, 6 * y / d, 25 * np.cbrt(100 * y / y[:, -1:]) - 17


def _cd(u: Array, v: Array) -> tuple[Array, Array]:
    """The cone-response quotients c and d of CIE 13.3-1995, clause 5.7."""
    return (4 - u - 10 * v) / v, (1.708 * v + 0.404 - 1.481 * u) / v
