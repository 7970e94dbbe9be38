"""Chromaticity, CCT, Duv and their uncertainty against published and independently computed values."""

from __future__ import annotations

import numpy as np
import pytest

from audit.quantities import planckian
from audit.quantities.chromaticity import cct_duv, chromaticity, propagate, xy_to_uv_prime
from audit.quantities.tables import WAVELENGTH_NM, observer_2deg

VISIBLE_NM = np.arange(380.0, 781.0)
FIELDS = ("x", "y", "u_prime", "v_prime", "cct_K", "duv")


def white(centre=580.0, width=100.0):
    return np.exp(-0.5 * ((VISIBLE_NM - centre) / width) ** 2)


def test_published_chromaticities_of_the_cie_illuminants(published, spectrum):
    """Source: CIE 15 values of x and y (VERIFIED); tolerance half a printed digit and the 5 nm grid."""
    for row in published("cct_duv_illuminants"):
        result = chromaticity(*spectrum(row["illuminant"]))
        assert result.x[0] == pytest.approx(float(row["x_published"]), abs=6e-5), row["illuminant"]
        assert result.y[0] == pytest.approx(float(row["y_published"]), abs=6e-5), row["illuminant"]


def test_cct_and_duv_of_the_cie_illuminants(published, spectrum):
    """Source: three codes that agree to 0.1 K on 5 nm sums (COMPUTED). 2 K: sums at 1 nm, not 5 nm."""
    for row in published("cct_duv_illuminants"):
        result = chromaticity(*spectrum(row["illuminant"]))
        assert result.cct_K[0] == pytest.approx(float(row["CCT_own_K"]), abs=2), row["illuminant"]
        assert result.duv[0] == pytest.approx(float(row["Duv_own"]), abs=3e-5), row["illuminant"]


def test_nominal_cct_of_led_b3(spectrum):
    """Source: CIE 251, nominal 4 103 K of LED-B3 (VERIFIED); the printed value is rounded to 1 K."""
    assert round(float(chromaticity(*spectrum("LED-B3")).cct_K[0])) == 4103


def test_cct_and_duv_of_given_chromaticities(published):
    """Source: exact minimisation on the 1 nm locus and Ohno 2013 (both COMPUTED), one printed digit."""
    rows = published("cct_duv_spot_checks")
    cct_K, duv = cct_duv([float(r["x"]) for r in rows], [float(r["y"]) for r in rows])
    np.testing.assert_allclose(cct_K, [float(r["CCT_own_K"]) for r in rows], atol=0.06)
    np.testing.assert_allclose(duv, [float(r["Duv_own"]) for r in rows], atol=6e-6)
    np.testing.assert_allclose(cct_K, [float(r["CCT_Ohno2013_K"]) for r in rows], atol=0.2)
    np.testing.assert_allclose(duv, [float(r["Duv_Ohno2013"]) for r in rows], atol=1e-5)


def test_cct_and_duv_of_published_illuminant_chromaticities(published):
    """Source: exact minimisation on the 1 nm locus from published x and y (COMPUTED), one printed digit."""
    rows = published("cct_duv_illuminants")
    cct_K, duv = cct_duv([float(r["x_published"]) for r in rows], [float(r["y_published"]) for r in rows])
    np.testing.assert_allclose(cct_K, [float(r["CCT_own_from_published_xy_K"]) for r in rows], atol=0.06)
    np.testing.assert_allclose(duv, [float(r["Duv_own_from_published_xy"]) for r in rows], atol=6e-6)


def brute_force_locus(mired):
    """u and v of the Planckian locus by its definition: CIE 15, 360 nm to 830 nm at 1 nm, c2 = 1.4388e-2."""
    metres = WAVELENGTH_NM * 1e-9
    radiance = metres**-5 / np.expm1(1.4388e-2 * mired[:, None] * 1e-6 / metres)
    x, y, z = (radiance @ observer_2deg()).T
    return 4 * x / (x + 15 * y + 3 * z), 6 * y / (x + 15 * y + 3 * z)


def test_nearest_point_is_the_nearest_over_the_whole_range():
    """The minimum over a locus in steps of 0.05 /MK, for points up to |Duv| 0.05 and 1,000 K to 20,000 K."""
    mired = np.arange(50.0, 1000.01, 0.05)
    u, v = brute_force_locus(mired)
    rng = np.random.default_rng(3)
    at = rng.integers(40, mired.size - 40, 400)
    duv = rng.uniform(-0.0499, 0.0499, at.size)
    along_u, along_v = u[at + 1] - u[at - 1], v[at + 1] - v[at - 1]
    length = np.hypot(along_u, along_v)
    point_u, point_v = u[at] - duv * along_v / length, v[at] + duv * along_u / length
    distance = np.hypot(point_u[:, None] - u, point_v[:, None] - v)
    nearest = distance.argmin(axis=1)
    x, y = (n / (2 * point_u - 8 * point_v + 4) for n in (3 * point_u, 2 * point_v))
    cct_K, found = cct_duv(x, y)
    np.testing.assert_allclose(1e6 / cct_K, mired[nearest], atol=0.03)
    np.testing.assert_allclose(found, duv, atol=1e-8)
    np.testing.assert_allclose(np.abs(found), distance.min(axis=1), atol=1e-6)


@pytest.mark.parametrize("temperature_K", [1000.0, 1800.0, 2856.0, 5000.0, 9999.0, 20000.0])
def test_a_planckian_radiator_has_its_temperature_and_no_duv(temperature_K):
    """By the definition of CCT; 0.2 K below 10,000 K and 1e-5 are the accuracy that is promised."""
    u, v = brute_force_locus(np.array([1e6 / temperature_K]))
    cct_K, duv = cct_duv(3 * u / (2 * u - 8 * v + 4), 2 * v / (2 * u - 8 * v + 4))
    assert cct_K[0] == pytest.approx(temperature_K, abs=0.001)
    assert duv[0] == pytest.approx(0, abs=1e-9)


def test_cct_needs_the_neighbourhood_of_the_locus_and_the_range():
    x, y = np.array([0.31, 0.31, 0.7, 0.23, np.nan]), np.array([0.33, 0.60, 0.29, 0.23, 0.3])
    cct_K, duv = cct_duv(x, y)
    np.testing.assert_array_equal(np.isnan(cct_K), [False, True, True, True, True])
    np.testing.assert_array_equal(np.isnan(duv), np.isnan(cct_K))
    assert cct_duv(0.31, 0.33)[0].shape == ()


def test_u_prime_v_prime_are_the_cie_1976_ones():
    """Source: ANSI C78.377 nominal centre of 2700 K, (0.4578, 0.4101) is (0.2614, 0.5268) (VERIFIED)."""
    u_prime, v_prime = xy_to_uv_prime(0.4578, 0.4101)
    assert (round(float(u_prime), 4), round(float(v_prime), 4)) == (0.2614, 0.5268)


def test_propagation_has_the_published_sensitivities(published):
    """Source: numerical derivatives (COMPUTED), good to 0.15 %; those of Duv to one printed digit."""
    rows = published("cct_duv_sensitivities")
    x, y = (np.array([float(r[k]) for r in rows]) for k in ("x", "y"))
    by_x, by_y = propagate(x, y, 1.0, 0.0), propagate(x, y, 0.0, 1.0)
    for got, key, tolerance in (
        (by_x["cct"], "dCCT_dx_K", {"rtol": 1.5e-3}),
        (by_y["cct"], "dCCT_dy_K", {"rtol": 1.5e-3}),
        (by_x["duv"], "dDuv_dx", {"atol": 6e-4}),
        (by_y["duv"], "dDuv_dy", {"atol": 6e-4}),
    ):
        np.testing.assert_allclose(got, [abs(float(r[key])) for r in rows], **tolerance)
    expanded = propagate(x, y, 0.00075, 0.00075)
    np.testing.assert_allclose(2 * expanded["cct"], [float(r["U_CCT_K_for_Uxy_0.0015"]) for r in rows], atol=0.6)
    np.testing.assert_allclose(2 * expanded["duv"], [float(r["U_Duv_for_Uxy_0.0015"]) for r in rows], atol=6e-6)


@pytest.mark.parametrize("correlation", [-1.0, 0.0, 0.6, 1.0])
def test_propagation_agrees_with_differences_of_the_exact_map(correlation):
    """JCGM 100:2008, 5.2.2, eq. (16), with derivatives taken by central differences."""
    x, y, u_x, u_y, h = 0.38, 0.365, 0.001, 0.0007, 1e-6

    def everything(x, y):
        return np.array([*xy_to_uv_prime(x, y), *cct_duv(x, y)])

    by_x = (everything(x + h, y) - everything(x - h, y)) / (2 * h) * u_x
    by_y = (everything(x, y + h) - everything(x, y - h)) / (2 * h) * u_y
    expected = np.sqrt(np.maximum(by_x**2 + by_y**2 + 2 * correlation * by_x * by_y, 0))
    got = propagate(x, y, u_x, u_y, correlation)
    np.testing.assert_allclose([got[k] for k in ("u_prime", "v_prime", "cct", "duv")], expected, rtol=1e-4)


def test_propagation_is_refused_with_the_cct():
    got = propagate([0.31, 0.31], [0.33, 0.60], 0.001, 0.001)
    assert np.isnan(got["cct"]).tolist() == np.isnan(got["duv"]).tolist() == [False, True]
    assert np.isfinite(got["u_prime"]).all()


def test_a_bad_spectrum_is_refused_and_the_others_go_on():
    good = white()
    rows = np.stack([good, good, good, 0 * good, good, -good, good])
    rows[1, 7], rows[2, 9], rows[4, 0] = np.nan, np.inf, -0.02 * good.max()
    result = chromaticity(rows, VISIBLE_NM)
    alone = chromaticity(good, VISIBLE_NM)
    for field in FIELDS:
        value = getattr(result, field)
        np.testing.assert_array_equal(np.isnan(value), [False, True, True, True, True, True, False])
        # The order of a sum inside a matrix product differs with the place in it: the last digit may.
        assert value[[0, 6]] == pytest.approx(getattr(alone, field)[0], rel=1e-12)
    reasons = result.refused["x"]
    assert [reasons[0], reasons[6]] == ["", ""]
    assert "NaN or infinite" in reasons[1]
    assert "NaN or infinite" in reasons[2]
    assert "zero at every wavelength" in reasons[3]
    assert "-2.0 % of the peak" in reasons[4]
    assert "nowhere positive" in reasons[5]


def test_small_negative_power_is_kept_and_remarked():
    power = white()
    power[0] = -0.009 * power.max()
    result = chromaticity(power, VISIBLE_NM)
    assert not result.refused
    assert "negative power" in result.notes["cct_K"][0]
    assert result.x[0] != chromaticity(white(), VISIBLE_NM).x[0]


def test_far_from_the_locus_only_cct_and_duv_are_refused():
    green = np.exp(-0.5 * ((VISIBLE_NM - 530) / 12) ** 2)
    result = chromaticity(np.stack([green, white()]), VISIBLE_NM)
    assert set(result.refused) == {"cct_K", "duv"}
    assert "|Duv| 0.05" in result.refused["duv"][0]
    assert result.refused["cct_K"][1] == ""
    assert np.isfinite(result.x).all()
    assert np.isnan(result.cct_K).tolist() == np.isnan(result.duv).tolist() == [True, False]


def test_a_radiator_colder_than_the_range_has_no_cct():
    cold = planckian.spectral_radiance(np.array([900.0]), VISIBLE_NM)
    result = chromaticity(cold, VISIBLE_NM)
    assert "outside 1,000 K to 20,000 K" in result.refused["cct_K"][0]


def test_a_short_range_is_judged_by_what_it_may_hide():
    dark_ends = np.exp(-0.5 * ((VISIBLE_NM - 560) / 30) ** 2)
    bright_ends = np.ones_like(VISIBLE_NM)
    inside = (VISIBLE_NM >= 420) & (VISIBLE_NM <= 690)
    result = chromaticity(np.stack([dark_ends, bright_ends])[:, inside], VISIBLE_NM[inside])
    assert result.x[0] == pytest.approx(chromaticity(dark_ends, VISIBLE_NM).x[0], abs=5e-4)
    assert "extended with zero" in result.notes["x"][0]
    assert np.isnan(result.x[1])
    assert "may move x or y by more than 0.0005" in result.refused["x"][1]
    assert result.notes["x"][1] == ""


def test_infrared_and_ultraviolet_data_are_ignored():
    nm = np.arange(250.0, 1101.0)
    power = np.where((nm >= 360) & (nm <= 830), np.exp(-0.5 * ((nm - 580) / 60) ** 2), np.nan)
    power[nm > 830], power[nm < 360] = 1e9, np.nan
    inside = (nm >= 360) & (nm <= 830)
    assert chromaticity(power, nm).x[0] == chromaticity(power[inside], nm[inside]).x[0]
    nothing = chromaticity(np.ones(100), np.arange(900, 1000))
    assert "fewer than four wavelengths" in nothing.refused["x"][0]


def test_wide_steps_are_remarked_and_then_refused():
    ten, twelve = np.arange(380, 781, 10.0), np.arange(380, 790, 12.0)
    coarse = chromaticity(np.exp(-0.5 * ((ten - 580) / 60) ** 2), ten)
    assert "coarse" in coarse.notes["x"][0]
    assert np.isfinite(coarse.x[0])
    assert "wider than 10 nm" in chromaticity(np.ones(35), twelve).refused["x"][0]


def test_a_line_spectrum_on_a_10_nm_grid_is_refused(spectrum):
    """FL11 moves by 0.014 in u'v' on a 10 nm grid, the LED illuminants by less than 0.0002 (COMPUTED)."""
    power, nm = spectrum("FL11")
    assert "narrow bands" in chromaticity(power[::2], nm[::2]).refused["x"][0]
    for name in ("LED-B1", "LED-B3", "LED-B5", "LED-BH1", "LED-RGB1", "LED-V1", "LED-V2"):
        power, nm = spectrum(name)
        thinned, full = chromaticity(power[::2], nm[::2]), chromaticity(power, nm)
        np.testing.assert_allclose(thinned.u_prime, full.u_prime, atol=2e-4, err_msg=name)
        np.testing.assert_allclose(thinned.v_prime, full.v_prime, atol=2e-4, err_msg=name)


def test_shapes_and_types():
    empty = chromaticity(np.empty((0, 401)), VISIBLE_NM)
    assert all(getattr(empty, field).shape == (0,) for field in FIELDS)
    assert empty.refused == {}
    counts = np.round(1000 * white()).astype(int)
    assert chromaticity(counts, np.arange(380, 781)).x[0] == chromaticity(counts.astype(float), VISIBLE_NM).x[0]
    with pytest.raises(ValueError, match=r"power has shape \(2, 400\) for 401 wavelengths; give a row"):
        chromaticity(np.ones((2, 400)), VISIBLE_NM)


def test_a_point_with_cct_and_duv_has_them():
    """The inverse of the nearest point on the locus (CIE 15:2018, 9.5), over the whole range of both."""
    cct, duv = (grid.ravel() for grid in np.meshgrid([1000.0, 1800, 2700.5, 4000, 6500, 20000], [-0.03, 0.0, 0.02]))
    foot = planckian.nearest(*planckian.point(cct, duv))
    assert 1e6 / foot.mired == pytest.approx(cct, rel=1e-6)
    assert foot.duv == pytest.approx(duv, abs=1e-9)
    refused = planckian.point(np.array([999.0, 20001.0, 3000.0, np.nan]), np.array([0.0, 0.0, 0.06, 0.0]))
    assert np.isnan(refused).all()
