"""Order, hue and white of tunable light, against published tolerances, colour-science and geometry."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.quantities import tuning
from audit.quantities.mixing import gamut
from audit.quantities.white_point import quadrangles


def test_the_tolerance_is_that_of_every_quadrangle():
    # ANSI C78.377-2015/2017, the published table of quadrangles
    assert set(quadrangles("2015/2017").duv_tolerance) == {tuning.DUV_TOLERANCE}


def test_white_lies_about_the_published_targets():
    table = quadrangles("2015/2017")
    low, high = tuning.duv_limits(table.target_cct_K, tuning.DUV_TOLERANCE)
    assert (low + high) / 2 == pytest.approx(table.target_duv, abs=1e-5)
    assert high - low == pytest.approx(0.012)


def test_white_about_the_locus_itself():
    low, high = tuning.duv_limits([2700.0, 6500.0], 0.003, about_target=False)
    assert (low.tolist(), high.tolist()) == ([-0.003, -0.003], [0.003, 0.003])


def test_equal_energy_is_that_of_colour_science():
    x, y = colour.UCS_uv_to_xy(np.array([tuning.EQUAL_ENERGY[0], tuning.EQUAL_ENERGY[1] * 2 / 3]))
    assert (x, y) == (pytest.approx(1 / 3), pytest.approx(1 / 3))


def test_hue_angle_is_that_of_cie_1976_luv():
    # colour-science, CIE L*u*v* to L*C*h: the hue-angle h_uv of CIE 15
    white = np.array([1 / 3, 1 / 3])
    for xy in ((0.69, 0.305), (0.2, 0.7), (0.145, 0.045), (0.45, 0.48)):
        lch = colour.Luv_to_LCHuv(colour.XYZ_to_Luv(colour.xyY_to_XYZ([*xy, 0.5]), white))
        u, v = colour.xy_to_Luv_uv(xy)
        angle, radius = tuning.polar(u, v)
        assert angle == pytest.approx(lch[2], abs=1e-6)
        assert radius == pytest.approx(lch[1] / (13 * lch[0]), abs=1e-6)


def test_near_the_white_there_is_no_hue():
    angle, radius = tuning.polar([tuning.EQUAL_ENERGY[0] + 0.02, np.nan], [tuning.EQUAL_ENERGY[1], 0.5])
    assert np.isnan(angle).all()
    assert radius[0] == pytest.approx(0.02)
    assert np.isnan(radius[1])


@pytest.mark.parametrize(
    ("angle", "other", "between"), [(10, 350, 20), (350, 10, -20), (180, 0, 180), (0, 180, 180), (359, -1, 0)]
)
def test_differences_go_the_short_way(angle, other, between):
    assert tuning.angle_between(angle, other) == pytest.approx(between)


@given(st.floats(-720, 720), st.floats(-720, 720))
def test_a_difference_leads_from_one_angle_to_the_other(angle, other):
    between = float(tuning.angle_between(angle, other))
    assert -180 <= between <= 180
    assert np.cos(np.radians(other + between)) == pytest.approx(np.cos(np.radians(angle)), abs=1e-9)


def test_a_value_that_goes_back_is_found_beyond_its_uncertainty():
    assert tuning.falls_back([2700, 3000, 2950, 4000], [10, 10, 10, 10]) == (1, 2)
    assert tuning.falls_back([2700, 3000, 2990, 4000], [10, 10, 10, 10]) == (-1, -1)
    assert tuning.falls_back([2700, 3000, np.nan, 2900], [5, 5, 5, 5]) == (1, 3)
    assert tuning.falls_back([2700], [5]) == (-1, -1)


@given(st.lists(st.floats(1000, 10000), min_size=2, max_size=30))
def test_the_furthest_fall_is_that_of_all_pairs(values):
    first, later = tuning.falls_back(values, np.zeros(len(values)))
    deepest = max(values[i] - values[j] for j in range(len(values)) for i in range(j + 1))
    assert (values[first] - values[later] if first >= 0 else 0.0) == pytest.approx(deepest)


HUES = np.arange(0.0, 360, 60)


def test_an_even_turn_has_no_error():
    found = tuning.turn(HUES, (HUES + 25) % 360)
    assert found.uneven_deg == pytest.approx(0, abs=1e-9)
    assert not found.reversed


def test_uneven_and_running_back():
    found = tuning.turn(HUES, [0, 90, 120, 180, 240, 300])
    assert found.uneven_deg == pytest.approx(30)
    back = tuning.turn(HUES, [0, 120, 60, 180, 240, 300])
    assert back.step_deg[1] == pytest.approx(-60)
    assert back.uneven_deg == pytest.approx(120)


def test_a_turn_the_other_way_round_is_told_and_judged_in_its_own_direction():
    found = tuning.turn(HUES, -HUES % 360)
    assert found.reversed
    assert found.uneven_deg == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("hues", [[0, 60, 60, 120, 180, 240, 300], [60, 0, 120, 180, 240, 300], [0, 180]])
def test_hues_out_of_order_doubled_or_few_are_refused(hues):
    with pytest.raises(ValueError, match="three set hues"):
        tuning.turn(hues, hues)


def test_a_missing_hue_is_refused():
    with pytest.raises(ValueError, match="measured hue at every set one"):
        tuning.turn(HUES, [0, np.nan, 120, 180, 240, 300])


@pytest.mark.parametrize(
    ("hues", "full"),
    [(HUES, True), (HUES[::-1], True), ([*HUES, 360], True), (HUES[:5], False), ([0, 120, 240], False), ([], False)],
)
def test_what_a_full_turn_is(hues, full):
    assert tuning.is_full_turn(hues) is full


def test_area_of_a_hexagon():
    # a regular hexagon of circumradius r: 3/2 sqrt(3) r^2
    radians = np.radians(HUES)
    assert gamut(0.21 + 0.1 * np.cos(radians), 0.47 + 0.1 * np.sin(radians))[1] == pytest.approx(1.5 * 3**0.5 * 0.01)
