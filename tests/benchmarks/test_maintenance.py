"""Speed of TM-21 over 1,000 products with three case temperatures, 25 units and 20 times, as ratios of one run."""

from __future__ import annotations

import numpy as np
import pytest
from timing import fastest

from audit.quantities.maintenance import fit, tm21, window
from audit.quantities.projection import life

pytestmark = pytest.mark.benchmark

HOURS = np.arange(20) * 1000.0


def readings() -> np.ndarray:
    rng = np.random.default_rng(21)
    flux = np.exp(-rng.uniform(1e-6, 8e-6, (1000, 3, 1, 1)) * HOURS) * rng.normal(1, 0.003, (1000, 3, 25, 20))
    return flux / flux[..., :1]


def test_projection_of_means_against_one_polyfit():
    mean = readings().mean(axis=-2).reshape(-1, 20)
    used = window(HOURS)

    def ours() -> np.ndarray:
        taken = window(HOURS)
        return life(*fit(HOURS[None], mean, taken), 70)

    def theirs() -> np.ndarray:
        return np.polyfit(HOURS[used], np.log(mean[:, used]).T, 1)

    slope, intercept = theirs()
    np.testing.assert_allclose(ours(), (np.log(0.7) - intercept) / slope, rtol=1e-9)
    ratio = fastest(ours, 15) / fastest(theirs, 15)
    print(f"\nratio window, fit and life of 3,000 sets of means / one numpy.polyfit: {ratio:.2f} (limit 3)")
    assert ratio <= 3


def test_units_to_reported_lives_against_means_and_one_polyfit():
    flux = readings()
    used = window(HOURS)

    def ours() -> np.ndarray:
        return tm21(HOURS, flux).reported(70)

    def theirs() -> np.ndarray:
        return np.polyfit(HOURS[used], np.log(flux.mean(axis=-2)[..., used].reshape(-1, used.sum())).T, 1)

    assert ours().shape == (1000, 3)
    ratio = fastest(ours, 15) / fastest(theirs, 15)
    print(f"\nratio units to reported life of 3,000 sets / numpy mean and one numpy.polyfit: {ratio:.2f} (limit 3)")
    assert ratio <= 3
