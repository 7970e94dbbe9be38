"""Colour over life: shifts per unit against computed vectors, by hand, and the probability of a distance."""

from __future__ import annotations

import numpy as np
import pytest

from audit.quantities.chromaticity import cct_duv, uv_prime_to_xy, xy_to_uv_prime
from audit.quantities.shift import shift

HOURS = [0, 1000, 6000]
U_PRIME = np.array([[0.2500, 0.2503, 0.2530], [0.2510, 0.2510, 0.2470], [0.2490, np.nan, 0.2494]])
V_PRIME = np.array([[0.5200, 0.5204, 0.5240], [0.5210, 0.5205, 0.5180], [0.5190, np.nan, 0.5187]])


def test_computed_drift_of_a_three_channel_light(published):
    """Source: decay of Gaussian channels, spectra summed over the CIE 1931 observer (COMPUTED); five decimals."""
    rows = published("../maintenance/colour_drift_vectors")
    cases = list(dict.fromkeys(row["case"] for row in rows))
    assert len(cases) >= 3

    def column(name):
        return np.array([[float(row[name]) for row in rows if row["case"] == case] for case in cases])

    hours = column("time_h")
    assert (hours == hours[0]).all()
    result = shift(hours[0], column("u_prime"), column("v_prime"))
    np.testing.assert_allclose(result.du_prime, column("du"), atol=1.6e-5)
    np.testing.assert_allclose(result.dv_prime, column("dv"), atol=1.6e-5)
    np.testing.assert_allclose(result.distance, column("delta_uv"), atol=2e-5)
    assert result.distance.max() > 0.004


def test_distance_direction_worst_and_mean_by_hand():
    """By hand: triangles of sides 3, 4, 5."""
    result = shift(HOURS, U_PRIME, V_PRIME)
    np.testing.assert_allclose(result.distance, [[0, 5e-4, 5e-3], [0, 5e-4, 5e-3], [0, np.nan, 5e-4]], atol=1e-12)
    assert np.isnan(result.direction_deg[:, 0]).all()
    steep = np.degrees(np.arctan2(4, 3))
    expected = [[steep, steep], [270, 180 + 90 - steep], [np.nan, 360 - 90 + steep]]
    np.testing.assert_allclose(result.direction_deg[:, 1:], expected, atol=1e-6)
    np.testing.assert_allclose(result.worst, [0, 5e-4, 5e-3], atol=1e-12)
    assert result.worst_unit[1:].tolist() in ([0, 0], [0, 1], [1, 0], [1, 1])
    np.testing.assert_allclose(result.mean, [0, 5e-4, 10.5e-3 / 3], atol=1e-12)
    assert result.n.tolist() == [3, 2, 3]
    mean_move = np.degrees(np.arctan2(0.0040 - 0.0030 - 0.0003, 0.0030 - 0.0040 + 0.0004)) % 360
    assert result.mean_direction_deg[2] == pytest.approx(mean_move, abs=1e-6)


def test_change_of_cct_and_duv():
    result = shift(HOURS, U_PRIME, V_PRIME)
    cct_K, duv = cct_duv(*uv_prime_to_xy(U_PRIME[0], V_PRIME[0]))
    np.testing.assert_allclose(result.cct_K[0], cct_K - cct_K[0])
    np.testing.assert_allclose(result.duv[0], duv - duv[0])
    assert abs(result.cct_K[0, 2]) > 20


def test_there_and_back():
    """The inverse of IEV 845-23-073."""
    x, y = np.array([0.44, 0.3127, 0.64]), np.array([0.403, 0.329, 0.33])
    np.testing.assert_allclose(uv_prime_to_xy(*xy_to_uv_prime(x, y)), [x, y], rtol=1e-12)


def test_a_unit_without_its_first_reading_has_no_shift():
    u_prime = U_PRIME.copy()
    u_prime[1, 0] = np.nan
    result = shift(HOURS, u_prime, V_PRIME)
    assert np.isnan(result.distance[1]).all()
    assert result.n.tolist() == [2, 1, 2]
    assert result.worst_unit.tolist()[1:] == [0, 0]


def test_a_time_at_which_nothing_was_read():
    u_prime = U_PRIME.copy()
    u_prime[:, 1] = np.nan
    result = shift(HOURS, u_prime, V_PRIME)
    assert np.isnan([result.worst[1], result.mean[1], result.mean_direction_deg[1]]).all()
    assert (result.worst_unit[1], result.n[1]) == (-1, 0)


def test_one_unit_may_come_as_a_row():
    result = shift(HOURS, U_PRIME[0], V_PRIME[0])
    assert result.distance.shape == (1, 3)
    assert result.worst[2] == pytest.approx(0.005)


@pytest.mark.parametrize(
    ("hours", "message"),
    [
        ([1000, 2000, 6000], "isn't at 0 h"),
        ([0, 6000, 1000], "must rise"),
        ([0, 1000, 1000], "must rise"),
        ([0, np.nan, 1000], "must rise"),
        ([0, 1000], "2 times don't fit"),
    ],
)
def test_hours_that_cannot_be(hours, message):
    with pytest.raises(ValueError, match=message):
        shift(hours, U_PRIME, V_PRIME)
