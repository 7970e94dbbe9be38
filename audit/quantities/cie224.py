"""Colour fidelity of CIE 224:2017 and the hue bins of ANSI/IES TM-30: Rf, Rg, Rf,hj, Rcs,hj, Rhs,hj.

Everything here works on sums of the 99 colour evaluation samples and of the source itself, first axis the
spectra; ``rendition`` makes the sums. TM-30-18, -20 and -24 give the same Rf and Rg; TM-30-15 used the
factor 7.54 in place of 6.73 and mixed its references between 4,500 K and 5,500 K.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from .tables import VISIBLE, Array, colour_evaluation_samples, observer_10deg

SAMPLES = 99
BINS = 16

#: Scaling factor of Rf, CIE 224:2017 eq. for R'f = 100 - 6.73 dE.
FIDELITY_FACTOR = 6.73

# CIECAM02 (CIE 159:2004): the transformation to sharpened cone responses and on to Hunt-Pointer-Estevez.
_CAT02 = np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]])
_HPE = np.array([[0.38971, 0.68898, -0.07868], [-0.22981, 1.18340, 0.04641], [0.0, 0.0, 1.0]])
_TO_HPE = _HPE @ np.linalg.inv(_CAT02)

# Viewing of CIE 224:2017: La = 100 cd/m2, Yb = 20, average surround (c, Nc), full adaptation D = 1.
_LA, _YB, _C, _NC = 100.0, 20.0, 0.69, 1.0
_K = 1 / (5 * _LA + 1)
_FL = 0.2 * _K**4 * 5 * _LA + 0.1 * (1 - _K**4) ** 2 * (5 * _LA) ** (1 / 3)
_N = _YB / 100
_NBB = 0.725 * _N**-0.2
_Z = 1.48 + np.sqrt(_N)


@dataclass(frozen=True)
class Fidelity:
    """``rf``, ``rg`` (n,); ``rf_h``, ``rcs_h`` in percent, ``rhs_h`` (n, 16)."""

    rf: Array
    rg: Array
    rf_h: Array
    rcs_h: Array
    rhs_h: Array


@cache
def weights() -> Array:
    """Spectrum at 380 to 780 nm to CAT02 R, G, B of 99 samples, then of the source: (401, 300), R first.

    CAT02 is linear in X10, Y10, Z10, so that its matrix is part of the weights.
    """
    responses = observer_10deg()[VISIBLE] @ _CAT02.T
    surfaces = np.concatenate([colour_evaluation_samples(), np.ones((responses.shape[0], 1))], axis=1)
    products: Array = np.einsum("ws,wc->wcs", surfaces, responses)
    return products.reshape(-1, 3 * (SAMPLES + 1))


def luminance() -> Array:
    """The 10-degree y function at 380 to 780 nm, (401,), by which references are scaled before mixing."""
    return observer_10deg()[VISIBLE, 1]


def fidelity(test: Array, reference: Array) -> Fidelity:
    """All indices from the sums over ``weights()`` of test and reference sources, (n, 300) each.

    CIE 224:2017 (shifts in CAM02-UCS, Rf = 10 ln(1 + exp(R'f / 10))); ANSI/IES TM-30-20 (bins by the hue
    of the samples under the reference, Rg of the polygons of bin means, local shifts).
    """
    j_t, a_t, b_t = cam02_ucs(test)
    j_r, a_r, b_r = cam02_ucs(reference)
    shift = np.sqrt((j_t - j_r) ** 2 + (a_t - a_r) ** 2 + (b_t - b_r) ** 2)
    a_test, b_test, a_ref, b_ref, shift_h = _bin_means(a_r, b_r, (a_t, b_t, a_r, b_r, shift))
    middle = np.deg2rad(22.5 * np.arange(BINS) + 11.25)
    d_a, d_b, chroma = a_test - a_ref, b_test - b_ref, np.hypot(a_ref, b_ref)
    return Fidelity(
        rf=_scale(shift.mean(axis=1)),
        rg=100 * _area(a_test, b_test) / _area(a_ref, b_ref),
        rf_h=_scale(shift_h),
        rcs_h=100 * (d_a * np.cos(middle) + d_b * np.sin(middle)) / chroma,
        rhs_h=(-d_a * np.sin(middle) + d_b * np.cos(middle)) / chroma,
    )


def cam02_ucs(sums: Array) -> tuple[Array, Array, Array]:
    """J', a', b' of CAM02-UCS of the 99 samples, (n, 99) each, from sums over ``weights()`` (n, 300).

    CIE 159:2004 and the uniform space of Luo, Cui and Li (2006), both as CIE 224:2017 uses them.
    """
    cat = sums.reshape(-1, 3, SAMPLES + 1)
    # with D = 1 every source becomes the equal-energy white: R = G = B = 100
    adapted = cat[:, :, :SAMPLES] / cat[:, :, SAMPLES:]
    r, g, b = (_compress(p) for p in np.einsum("dc,ncs->dns", _TO_HPE, adapted, optimize=True))
    white = float(_compress(np.ones(1))[0])
    red_green = r - 12 * g / 11 + b / 11
    yellow_blue = (r + g - 2 * b) / 9
    saturation = np.hypot(red_green, yellow_blue)
    cos_h, sin_h = red_green / saturation, yellow_blue / saturation
    eccentricity = (cos_h * np.cos(2) - sin_h * np.sin(2) + 3.8) / 4
    brightness = (2 * r + g + b / 20 - 0.305) / (3.05 * white - 0.305)
    root_j = brightness ** (_C * _Z / 2)
    t = 50000 / 13 * _NC * _NBB * eccentricity * saturation / (r + g + 1.05 * b)
    colourfulness = t**0.9 * root_j * ((1.64 - 0.29**_N) ** 0.73 * _FL**0.25)
    lightness = 100 * root_j**2
    m = np.log1p(0.0228 * colourfulness) / 0.0228
    return 1.7 * lightness / (1 + 0.007 * lightness), m * cos_h, m * sin_h


def _compress(response: Array) -> Array:
    """The post-adaptation response of CIECAM02 to a response on a scale of 1, odd about zero."""
    power = np.abs(_FL * response) ** 0.42
    compressed: Array = np.copysign(400 * power / (27.13 + power), response) + 0.1
    return compressed


def _scale(shift: Array) -> Array:
    with np.errstate(invalid="ignore"):
        return 10 * np.logaddexp(0.0, (100 - FIDELITY_FACTOR * shift) / 10)


def _bin_means(a: Array, b: Array, values: tuple[Array, ...]) -> list[Array]:
    """Means (n, 16) of each of ``values`` (n, 99) over the 22.5-degree bins of the hue of (a, b).

    NaN where a bin is empty, which happens under references below about 1,140 K.
    """
    n = len(a)
    hue = np.arctan2(b, a) % (2 * np.pi)
    bins = np.minimum((hue * (BINS / (2 * np.pi))).astype(np.intp), BINS - 1)
    places = (bins + BINS * np.arange(n)[:, None]).ravel()
    count = np.bincount(places, minlength=n * BINS)
    sums = [np.bincount(places, weights=v.ravel(), minlength=n * BINS) for v in values]
    with np.errstate(invalid="ignore"):
        return [(s / count).reshape(n, BINS) for s in sums]


def _area(a: Array, b: Array) -> Array:
    """Area of the polygons with the corners (a, b), (n, 16) each."""
    doubled: Array = (a * np.roll(b, -1, axis=1) - b * np.roll(a, -1, axis=1)).sum(axis=1)
    return doubled / 2
