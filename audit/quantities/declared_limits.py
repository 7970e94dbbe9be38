"""Limits that a regulation works out from what the maker declares. Arrays in, arrays out; NaN in, NaN out.

Source: Commission Regulation (EU) 2019/2020, Annex II: point 1(a) with Tables 1 and 2, and Table 4. The formula of
point 1(a), F, R, the first row of Table 1 and the 96.0 % of Table 4 were read in a published copy, the formula of flux
maintenance in a text that quotes it; the constants of other rows and Table 2 are MEMORY, so that limits made with them
decide nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
DIRECTIONAL = 0.85  # F of directional light sources, 1.00 of others
LEAST_R, LARGEST_RA_OF_IT = 0.65, 25.0
ENDURANCE_H = 3000.0
LARGEST_MAINTENANCE = 96.0


def largest_on_mode_power(
    useful_flux: ArrayLike, ra: ArrayLike, efficacy: ArrayLike, end_loss: ArrayLike, c: ArrayLike, f: ArrayLike = 1.0
) -> Floats:
    """Return P_on,max = C (L + Φuse / (F η)) R in W, not rounded.

    useful_flux in lm, efficacy η in lm/W and end_loss L in W of Table 1, correction factor c of Table 2; R of `ra`:
    see `rendition_factor`. Source: Annex II point 1(a).
    """
    eta = np.asarray(f, float) * np.asarray(efficacy, float)
    power = np.asarray(end_loss, float) + np.asarray(useful_flux, float) / eta
    return np.asarray(np.asarray(c, float) * power * rendition_factor(ra), float)


def rendition_factor(ra: ArrayLike) -> Floats:
    """Return R: 0.65 up to Ra 25, else (Ra + 80) / 160 rounded to two decimals. Source: Annex II point 1(a)."""
    ra = np.asarray(ra, float)
    # Half up as in print; np.round would take 1.125 to 1.12, and binary fractions just below a half need the nudge.
    rounded = np.floor(100 * (ra + 80) / 160 + 0.5 + 1e-9) / 100
    return np.where(ra <= LARGEST_RA_OF_IT, LEAST_R, rounded)


def least_flux_maintenance(l70_h: ArrayLike, at_most: float = LARGEST_MAINTENANCE) -> Floats:
    """Return X_LMF,MIN in % after the endurance test, for a declared L70B50 life in h, at most 96.0 %.

    X = 100 exp(3000 ln 0.7 / L70): the exponential that passes through 70 % at the declared life. Lives must be above
    0, others give NaN. Source: Annex II, Table 4.
    """
    life = np.asarray(l70_h, float)
    life = np.where(life > 0, life, np.nan)
    return np.asarray(np.minimum(100 * np.exp(ENDURANCE_H * np.log(0.7) / life), at_most), float)
