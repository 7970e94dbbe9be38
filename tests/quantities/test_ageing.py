"""Channels that age apart, against computed drift vectors and colour-science, by hand and with faulty input."""

from __future__ import annotations

import numpy as np
import pytest

from audit.quantities import ageing
from audit.quantities.channel_output import Exponential, Logarithmic, Table, fit_logarithmic
from audit.quantities.maintenance import tm21
from audit.quantities.tables import WAVELENGTH_NM, observer_2deg

RED_FAST = np.array([6e-6, 3e-6, 3e-6])


@pytest.fixture(scope="module")
def spectra(published):
    """The three Gaussian channels of the drift vectors (COMPUTED), (3, 471) on the 1 nm scale."""
    rows = published("../maintenance/colour_drift_channels")

    def column(name):
        return np.array([[float(row[name])] for row in rows])

    away = (WAVELENGTH_NM - column("peak_nm")) / column("fwhm_nm")
    return column("relative_radiant_amplitude_at_peak") * np.exp(-4 * np.log(2) * away**2)


@pytest.fixture(scope="module")
def xyz(spectra):
    return spectra @ observer_2deg()


def test_drift_vectors_and_equal_rates_move_nothing(published, xyz):
    """Source: colour_drift_vectors.csv, decay of Gaussian channels (COMPUTED, five decimals); rates illustrative."""
    rows = published("../maintenance/colour_drift_vectors")
    for case in dict.fromkeys(row["case"] for row in rows):
        own = [row for row in rows if row["case"] == case]
        hours = np.array([float(row["time_h"]) for row in own])
        rates = [float(own[0][f"alpha_{name}_per_h"]) for name in "RGB"]
        drift = ageing.open_loop(xyz, ageing.outputs([Exponential(rate, 1e5) for rate in rates], hours), hours)
        for name, value, atol in (
            ("flux_ratio", drift.flux_ratio, 1.6e-5),
            ("du", drift.shift.du_prime[0], 1.6e-5),
            ("dv", drift.shift.dv_prime[0], 1.6e-5),
            ("delta_uv", drift.shift.distance[0], 2e-5),
        ):
            np.testing.assert_allclose(value, [float(row[name]) for row in own], atol=atol, err_msg=f"{case} {name}")
        if case == "equal":
            assert drift.shift.distance.max() < 1e-15


def test_mixing_against_colour_science(colour, spectra):
    """The sum of aged spectra through colour.sd_to_XYZ and xy_to_CCT (Ohno 2013) against the sum of aged channels."""
    hours = np.array([0.0, 20_000.0])
    left = np.exp(-RED_FAST[:, None] * hours)
    light = spectra @ observer_2deg()
    x, y = (light / light.sum(axis=1, keepdims=True))[:, :2].T
    drift = ageing.open_loop(ageing.tristimulus(x, y, light[:, 1]), left, hours)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    found = []
    for column in (left.T[:, :, None] * spectra).sum(axis=1):
        distribution = colour.SpectralDistribution(dict(zip(WAVELENGTH_NM.tolist(), column.tolist(), strict=True)))
        sums = colour.sd_to_XYZ(distribution, cmfs, k=1)
        found.append([*colour.xy_to_Luv_uv(colour.XYZ_to_xy(sums)), sums[1]])
    (u0, v0, flux0), (u1, v1, flux1) = found
    assert drift.shift.du_prime[0, 1] == pytest.approx(u1 - u0, abs=1e-6)
    assert drift.shift.dv_prime[0, 1] == pytest.approx(v1 - v0, abs=1e-6)
    assert drift.flux_ratio[1] == pytest.approx(flux1 / flux0, rel=1e-5)


def test_a_limit_is_passed_where_it_stands(xyz):
    """The shift at the hour of passing, worked out there, is the limit."""
    hours = np.linspace(0, 25_000, 251)
    laws = [Exponential(rate, 25_000) for rate in RED_FAST]
    value = ageing.open_loop(xyz, ageing.outputs(laws, hours), hours).value("chromaticity_shift")
    passed = ageing.passing(hours, value, 0, 0.004)
    there = np.array([0, passed])
    moved = ageing.open_loop(xyz, ageing.outputs(laws, there), there).value("chromaticity_shift")
    assert 10_000 < passed < 20_000
    assert moved[1] == pytest.approx(0.004, abs=1e-7)


@pytest.mark.parametrize(
    ("value", "hour"),
    [
        ([0, 1, 2, 4], 25.0),
        ([0, -2, 0, 0], 7.5),
        ([0, 1, 1, 1], np.nan),
        ([9, 0, 0, 0], 0.0),
    ],
)
def test_passing_by_hand(value, hour):
    """By hand: lines between 0, 10, 20 and 30 h, limits -1.5 and 3."""
    assert ageing.passing([0, 10, 20, 30], value, -1.5, 3) == pytest.approx(hour, nan_ok=True)


def test_closed_loop_by_hand():
    """By hand: 60 % and 100 % of full drive, 75 % and 80 % of the output left, the third channel off."""
    left = np.array([[1.0, 0.75], [1.0, 0.8], [1.0, 0.5]])
    loop = ageing.closed_loop([0.6, 1.0, 0.0], left)
    np.testing.assert_allclose(loop.drive, [[0.6, 0.8], [1.0, 1.25], [0, 0]])
    np.testing.assert_allclose(loop.ratio, [[0.6, 0.64], [1, 1], [0, 0]])
    np.testing.assert_allclose(loop.possible, [1.0, 0.8])
    np.testing.assert_allclose(loop.head_room[:, 1], [0.75, 0.8, 0.5])
    assert loop.weakest.tolist() == [1, 1]
    np.testing.assert_allclose(ageing.closed_loop([0.6, 0.5, 0.0], left).possible, [1 / 0.6, 1.25])
    np.testing.assert_allclose(ageing.closed_loop([0.6, 1.0, 0.0], left, 0.8).head_room[:, 1], [0.9375, 1.0, 0.625])


def test_a_loop_that_holds_the_flux_lets_the_colour_go_where_full_drive_ends(xyz):
    left = np.array([[1.0, 0.9, 0.8], [1.0, 0.95, 0.9], [1.0, 0.95, 0.9]])
    light = ageing.held(left, np.array([0.85, 0.85, 0.85]))
    np.testing.assert_allclose(light, [[1, 1, 0.8 / 0.85], [1, 1, 1], [1, 1, 1]])
    moved = ageing.open_loop(xyz, light, [0, 1, 2]).value("chromaticity_shift")
    assert moved[1] < 1e-12 < moved[2]


def test_target_unreachable_from_the_first_hour():
    """A setting already at full drive has no head-room: nothing holds its flux."""
    hours = np.array([0, 5000.0, 10_000])
    loop = ageing.closed_loop([1.0, 0.2], np.array([[1, 0.99, 0.98], [1, 1, 1]]))
    assert ageing.passing(hours, loop.possible, 1.0, np.inf) == 0.0
    np.testing.assert_allclose(loop.drive[0], [1, 1 / 0.99, 1 / 0.98])


def test_nothing_past_the_smallest_limit(xyz):
    hours = np.array([0, 10_000, 20_000, 40_000.0])
    left = ageing.outputs([Exponential(6e-6, 36_000), Table(np.array([15_000.0]), np.array([0.9])),
                           Logarithmic(0.01, 1000, 60_000)], hours)  # fmt: skip
    assert np.isnan(left).tolist() == [[False, False, True, True]] * 3
    drift = ageing.open_loop(xyz, left, hours)
    loop = ageing.closed_loop([0.5, 0.5, 0.5], left)
    simulated = ageing.units(xyz, left, (0, 0.01), ageing.Spread(0.2, 0.02), draws=100)
    for values in (drift.flux_ratio, drift.shift.distance[0], loop.possible, simulated.share, simulated.deviation):
        assert np.isnan(values).tolist() == [False, False, True, True]
    assert loop.weakest[2:].tolist() == [-1, -1]


def test_hours_of_channels_need_not_match():
    """By hand: lines from 1 at 0 h through each channel's own readings."""
    left = ageing.outputs([Table(np.array([1000.0, 3000.0]), np.array([0.98, 0.94])),
                           Table(np.array([2000.0, 4000.0]), np.array([0.96, 0.90]))], [500, 2000, 3000])  # fmt: skip
    np.testing.assert_allclose(left, [[0.99, 0.96, 0.94], [0.99, 0.96, 0.93]])


def test_the_exponential_is_the_fit_of_tm21_and_1_at_the_start():
    """Source: tm21_synthetic_results.csv, S2 (COMPUTED): alpha 5.010599e-6, B 1.003655 from 1,000 h."""
    law = Exponential(5.010599e-6, 36_000, 1.003655, 1000)
    assert law.at(0.0) == 1.0
    assert law.at(21_755.7) == pytest.approx(0.9, abs=1e-6)  # its L90
    assert law.at(500.0) == pytest.approx((1 + law.at(1000.0)) / 2)
    hours = np.arange(7) * 1000.0
    fit = tm21(hours, np.broadcast_to(np.exp(-4e-6 * hours), (20, 7)))
    assert Exponential(float(fit.alpha), float(fit.limit_h), float(fit.B), 1000).at(30_000.0) == pytest.approx(
        np.exp(-0.12)
    )


def test_logarithmic_fit_finds_its_own_law():
    """AlGaInP: loss logarithmic in time to 60,000 h (abstract, VERIFIED); by hand: a third of ln(1 + t / t0) each."""
    hours = np.array([0.0, 500, 1000, 2000, 4000, 6000])
    law = fit_logarithmic(hours, 1 - 0.02 * np.log1p(hours / 1000))
    assert (law.k, law.t0_h, law.limit_h) == (pytest.approx(0.02), pytest.approx(1000), 6000)
    assert np.isnan(law.at(7000.0))
    assert law.at(6000.0) == pytest.approx(1 - 0.02 * np.log(7))


SPREAD = ageing.Spread(0.25, 0.03)


def test_simulation_against_one_unit_at_a_time(xyz):
    hours = np.array([0, 5000, 25_000.0])
    left = np.exp(-RED_FAST[:, None] * hours)
    fast = ageing.units(xyz, left, (0, 0.006), SPREAD, draws=2000, seed=5)
    normal = np.random.default_rng(5).standard_normal((2, 3, 2000))
    slow = []
    for draw in range(2000):
        rate, light = np.exp(0.25 * normal[0, :, draw]), np.exp(0.03 * normal[1, :, draw])
        own = np.exp(-(RED_FAST * rate)[:, None] * hours)
        slow.append(ageing.open_loop(xyz * light[:, None], own, hours).value("chromaticity_shift"))
    np.testing.assert_allclose(fast.share, (np.array(slow) <= 0.006).mean(axis=0))
    np.testing.assert_allclose(fast.mean, np.mean(slow, axis=0), atol=1e-12)
    np.testing.assert_allclose(fast.deviation, np.std(slow, axis=0), atol=1e-9)
    np.testing.assert_allclose(fast.standard_error[2], np.std(np.array(slow)[:, 2] <= 0.006) / np.sqrt(2000))


@pytest.mark.parametrize("of", ["cct_shift", "duv_shift", "chromaticity_shift"])
def test_simulation_without_spread_is_the_nominal_model(xyz, of):
    hours = np.array([0, 25_000.0])
    left = np.exp(-RED_FAST[:, None] * hours)
    value = ageing.open_loop(xyz, left, hours).value(of)
    for cap in (None, np.array([0.9, 0.5, 0.0])):
        nominal = value if cap is None else ageing.open_loop(xyz, ageing.held(left, cap), hours).value(of)
        same = ageing.units(xyz, left, (-1e-9, 1e9), ageing.Spread(0, 0), of, draws=3, cap=cap)
        np.testing.assert_allclose(same.mean, nominal, atol=1e-9 * max(1, abs(nominal[1])))


def test_seed_and_chunks_change_nothing(xyz, monkeypatch):
    left = np.exp(-RED_FAST[:, None] * np.linspace(0, 25_000, 7))
    whole = ageing.units(xyz, left, (0, 0.006), SPREAD, draws=3000)
    monkeypatch.setattr(ageing, "CHUNK", 100)
    parts = ageing.units(xyz, left, (0, 0.006), SPREAD, draws=3000)
    np.testing.assert_array_equal(whole.share, parts.share)
    other = ageing.units(xyz, left, (0, 0.006), SPREAD, draws=3000, seed=2)
    assert (other.share != whole.share).any()
    assert abs(other.share - whole.share).max() < 5 * whole.standard_error.max()


@pytest.mark.parametrize(
    ("make", "word"),
    [
        (lambda: Exponential(-1e-6, 36_000), "rising"),
        (lambda: Exponential(np.nan, 36_000), "alpha"),
        (lambda: Exponential(1e-6, 0), "limit"),
        (lambda: Exponential(1e-6, 36_000, 1.01), "first hour"),
        (lambda: Table(np.array([1000.0, 1000.0]), np.array([0.9, 0.9])), "rise"),
        (lambda: Table(np.array([1000.0]), np.array([0.9, 0.8])), "don't fit"),
        (lambda: Table(np.array([1000.0]), np.array([0.0])), "above 0"),
        (lambda: fit_logarithmic([1000, 2000], [1.01, 1.03]), "rising"),
        (lambda: Logarithmic(0.5, 1, 60_000), "nothing is left"),
        (lambda: ageing.tristimulus([0.3], [0.0], [10]), "chromaticity"),
        (lambda: ageing.tristimulus([0.3], [0.3], [0]), "none has light"),
        (lambda: ageing.open_loop(np.ones((2, 3)), np.ones((3, 2)), [0, 1]), "don't fit"),
        (lambda: ageing.closed_loop([0.0, 0.0], np.ones((2, 1))), "not all of them 0"),
        (lambda: ageing.closed_loop([1.2, 0.5], np.ones((2, 1))), "0 to 1"),
        (lambda: ageing.closed_loop([0.5, 0.5], np.ones((2, 1)), 0.0), "target"),
        (lambda: ageing.Spread(25, 0.03), "0.2 for 20 %"),
        (lambda: ageing.units(np.ones((1, 3)), np.zeros((1, 1)), (0, 1), SPREAD), "no light left"),
    ],
)  # fmt: skip
def test_faulty_input_is_named(make, word):
    with pytest.raises(ValueError, match=word):
        make()
