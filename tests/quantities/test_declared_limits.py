"""Limits worked out from what is declared. Source: Regulation (EU) 2019/2020, Annex II."""

import numpy as np
import pytest

from audit.quantities.declared_limits import largest_on_mode_power, least_flux_maintenance, rendition_factor


def test_r_is_rounded_to_two_decimals_half_up_and_has_a_floor():
    """Annex II point 1(a): 0.65 up to Ra 25, else (Ra + 80) / 160 rounded to two decimals."""
    ra = [0.0, 25.0, 25.1, 80.0, 90.0, 100.0, np.nan]
    np.testing.assert_allclose(rendition_factor(ra), [0.65, 0.65, 0.66, 1.0, 1.06, 1.13, np.nan])  # 100: 1.125


def test_shapes_follow_the_arguments_and_nan_stays():
    power = largest_on_mode_power([[806.0, np.nan]], 80.0, 120.0, 1.5, [[1.08], [1.0]])
    assert power.shape == (2, 2)
    assert np.isnan(power[:, 1]).all()
    assert power[0, 0] == pytest.approx(8.874)
    np.testing.assert_array_equal(np.isnan(least_flux_maintenance([0.0, -1.0, np.nan, 1e4])), [1, 1, 1, 0])
