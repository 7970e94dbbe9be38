"""Statistical tolerance limits of a normal population from the mean and standard deviation of a sample."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .tables import Array


def k_factor(n: ArrayLike, coverage: ArrayLike, confidence: ArrayLike) -> Array:
    """One-sided tolerance factor k for ``n`` units: mean - k s lies below ``coverage`` of them with ``confidence``.

    Exact, by the noncentral t distribution: k = t(confidence; n - 1, z(coverage) sqrt(n)) / sqrt(n) (ISO 16269-6,
    one-sided, mean and variance unknown; clause MEMORY). All broadcast; shares between 0 and 1. NaN for n below 2 and
    shares outside. Agrees with published tables to 1e-5; approximate formulas differ by up to 1 in 1,000.
    """
    from scipy import special

    n, coverage, confidence = (np.asarray(x, dtype=np.float64) for x in (n, coverage, confidence))
    good = (n >= 2) & (coverage > 0) & (coverage < 1) & (confidence > 0) & (confidence < 1)
    units, share = np.where(good, n, 2.0), np.where(good, coverage, 0.5)
    t = special.nctdtrit(units - 1, special.ndtri(share) * np.sqrt(units), np.where(good, confidence, 0.5))
    return np.where(good, t / np.sqrt(units), np.nan)
