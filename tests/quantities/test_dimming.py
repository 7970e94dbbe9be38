"""Curves of dimmers against the published points of the logarithmic curve, and what travel and noise make of them."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.quantities import dimming

FOLDER = Path(__file__).parents[1] / "reference" / "dimming"


def rows(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", rows("dali_published_points"), ids=lambda row: row["arc_power_level"])
def test_logarithmic_curve_gives_the_published_points(row):
    """Published arc power levels of the logarithmic curve of IEC 62386-102; each row names where it was read."""
    level, printed = int(row["arc_power_level"]), row["light_output_percent"]
    light = float(dimming.arc_light(level))
    if "." in printed:
        assert light == pytest.approx(float(printed), abs=0.5 * 10.0 ** -len(printed.partition(".")[2]))
    else:  # a level for a round light: within a step of 2.77 %
        assert light == pytest.approx(float(printed), rel=0.0277)


@pytest.mark.parametrize("row", rows("dali_log_curve"), ids=lambda row: row["arc_power_level_n"])
def test_logarithmic_curve_gives_the_computed_points(row):
    expected = float(row["light_output_percent"])
    assert dimming.arc_light(int(row["arc_power_level_n"])) == pytest.approx(expected, abs=5e-5)


def test_arc_levels_that_are_no_light():
    assert dimming.arc_light([0.0])[0] == 0
    assert np.isnan(dimming.arc_light([255, -1, np.nan])).all()
    assert np.isnan(dimming.arc_light_linear([255.0, np.nan])).all()
    assert dimming.arc_light_linear([127.0, 254.0]) == pytest.approx([50.0, 100.0])


@pytest.mark.parametrize("row", rows("perceived_dimming"), ids=lambda row: row["measured_light_percent"])
def test_square_law(row):
    """The law itself is from memory (MEMORY); its values are reckoned beside it by hand."""
    seen, light = float(row["perceived_light_percent"]), float(row["measured_light_percent"])
    assert dimming.perceived(light) == pytest.approx(seen, abs=0.005)
    assert dimming.measured(seen) == pytest.approx(light, rel=2e-3)


@given(st.floats(0, 100))
def test_perceived_and_measured_are_inverse(light):
    assert dimming.measured(dimming.perceived(light)) == pytest.approx(light, abs=1e-9)
    assert dimming.measured(-light) == -dimming.measured(light)


LEVELS = np.array([1.0, 5, 10, 25, 50, 75, 100])


@pytest.mark.parametrize("name", list(dimming.CURVES))
def test_each_curve_is_found_with_its_residual(name):
    s = LEVELS / 100
    light = dimming.CURVES[name](s) * np.array([1.01, 0.99, 1.01, 0.99, 1.01, 0.99, 1.0])
    found = dimming.nearest_curve(s, light)
    assert found.curve == name
    assert found.residual[name] < 0.5
    assert min(value for other, value in found.residual.items() if other != name) > 5


def test_a_driver_that_stops_early_still_follows_its_curve():
    s = LEVELS / 100
    found = dimming.nearest_curve(s, np.maximum(dimming.CURVES["logarithmic"](s), 3.0))
    assert found.curve == "logarithmic"
    assert found.residual["logarithmic"] == pytest.approx(0, abs=1e-9)


def test_too_few_settings_tell_no_curve():
    assert dimming.nearest_curve([0.0, 0.5, 1.0], [0.0, 50.0, 100.0]) is None
    assert dimming.nearest_curve([], []) is None


def test_dead_travel_at_both_ends():
    setting = np.array([1.0, 5, 10, 25, 50, 75, 90, 95, 100])
    light = np.array([10.0, 10.02, 10.0, 25, 50, 75, 99.9, 100.1, 100])
    low, high = dimming.dead_travel(setting, light, setting, 0.03 + 0.007 * light)
    assert low == (1, 10)
    assert high == (90, 100)


def test_travel_that_the_noise_hides_is_not_dead():
    setting = np.array([0.1, 0.2, 50, 99.8, 100])
    light = np.array([0.1, 0.1, 50, 100, 100])
    low, high = dimming.dead_travel(setting, light, setting, 0.2 + 0.007 * light)
    assert not low.there
    assert not high.there
    assert not dimming.dead_travel(setting[:1], light[:1], setting[:1], light[:1])[0].there


def test_light_that_falls_as_the_setting_rises():
    light = np.array([1.0, 10, 9.99, 8, 50, 100])
    assert dimming.reversals(light, np.full(6, 0.1)).tolist() == [3]
    assert dimming.reversals(np.array([]), np.array([])).tolist() == []


def test_travel_of_a_control_voltage():
    """IEC 60929, Annex E: at most 1 V is the minimum, at least 10 V full output."""
    assert dimming.travel([0.0, 1.0, 5.5, 10.0, 11.0], dimming.VOLTS) == pytest.approx([0, 0, 0.5, 1, 1])
