"""What tm21 does with readings that are wrong, missing or too few: refused or listed, never averaged in silence."""

import numpy as np
import pytest

from audit.quantities.maintenance import tm21
from audit.quantities.projection import life

HOURS = np.array([0, 1000, 2000, 3000, 4000, 5000, 6000.0])


def units(alpha=5e-6, count=20, hours=HOURS):
    return np.tile(np.exp(-alpha * np.asarray(hours, dtype=float)), (count, 1))


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        ([0, 1000, 2000, 2000, 4000, 5000, 6000], "2,000 h stands twice"),
        ([0, 1000, 3000, 2000, 4000, 5000, 6000], "the hours go back from 3,000 h to 2,000 h"),
        ([6000, 5000, 4000, 3000, 2000, 1000, 0], "the hours go back from 6,000 h to 5,000 h"),
        ([-1, 1000, 2000, 3000, 4000, 5000, 6000], "blank or negative"),
        ([0, 1000, np.nan, 3000, 4000, 5000, 6000], "blank or negative"),
        ([0, 1000, 2000, 3000, 4000, 5000, np.inf], "blank or negative"),
    ],
)
def test_faulty_hours_refuse_every_set(hours, text):
    result = tm21(hours, np.stack([units(), units()]))
    assert [text in reason for reason in result.refused] == [True, True]
    for values in (result.alpha, result.lp(70), result.reported(70), result.measured(70), result.limit_h):
        assert np.isnan(values).all()
    assert list(result.notation(70)) == ["", ""]


@pytest.mark.parametrize("shape", [(0, 7), (20, 0), (0, 0), (3, 0, 7), (0, 20, 7)])
def test_empty(shape):
    result = tm21(HOURS[: shape[-1]], np.empty(shape))
    assert result.alpha.shape == shape[:-2]
    assert np.isnan(result.reported(70)).all()
    assert all("there is no reading" in reason for reason in result.refused.flat)


def test_nothing_but_blanks():
    result = tm21(HOURS, np.full((20, 7), np.nan))
    assert "no unit has a reading" in result.refused.item()
    assert (int(result.n), result.notes.item()) == (0, "")


@pytest.mark.parametrize("shape", [(7,), (7, 20), (20, 6)])
def test_shapes_that_do_not_fit(shape):
    with pytest.raises(ValueError, match="a row for each unit and a column for each time"):
        tm21(HOURS, np.ones(shape))


@pytest.mark.parametrize("p", [0, -70, 100, 700, np.nan])
def test_levels_that_are_none(p):
    result = tm21(HOURS, units())
    for call in (result.lp, result.reported, result.measured, result.notation, lambda p: life(1e-6, 1, p)):
        with pytest.raises(ValueError, match="between 0 and 100"):
            call(p)


@pytest.mark.parametrize("value", [0.0, -0.3, np.inf])
def test_impossible_flux_refuses_its_set_alone(value):
    flux = np.stack([units(), units()])
    flux[1, 2, 5] = value
    result = tm21(HOURS, flux)
    assert result.refused[0] == ""
    assert result.refused[1].startswith(f"unit 3 reads {value:g} at 5,000 h")
    assert np.isnan(result.measured(99)[1])  # a failed unit doesn't bring the mean down to the level
    assert result.measured(99)[0] > 0


def test_percentages_need_their_reading_at_0_h():
    with_start = tm21(HOURS, 100 * units())
    assert with_start.refused.item() == ""
    assert "readings at 0 h differ from 1: each unit divided by its own" in with_start.notes.item()
    np.testing.assert_allclose(with_start.alpha, 5e-6)
    without = tm21(HOURS[1:], 100 * units()[:, 1:])
    assert "99.5 times the value at 0 h at 1,000 h" in without.refused.item()
    ratios = tm21(HOURS[1:], units()[:, 1:])
    assert "the ratios are taken as stated" in ratios.notes.item()
    np.testing.assert_allclose(ratios.alpha, 5e-6)
    assert float(ratios.measured(99.75)) == pytest.approx(1000 * 0.0025 / (1 - np.exp(-5e-3)))  # on the line from 0 h


def test_no_decay_and_rising_maintenance():
    rising, level = tm21(HOURS, units(-2e-6)), tm21(HOURS, units(0))
    for result in (rising, level):
        assert float(result.alpha) <= 0
        assert float(result.lp(70)) == np.inf
        assert result.notation(70).item() == "L70(6k) > 36,000 h"
        assert "rule R16, MEMORY" in result.notes.item()
    assert "maintenance is 101.2 % at the end and highest there" in rising.notes.item()
    assert "highest there" not in level.notes.item()
    hump = np.tile([1, 1.01, 1.02, 1.015, 1.01, 1.005, 1.001], (20, 1))
    assert "highest there" not in tm21(HOURS, hump).notes.item()


def test_a_test_too_short_still_shows_what_was_measured():
    result = tm21(HOURS[:6], units(3e-5)[:, :6])
    assert result.refused.item() == "the last reading is at 5,000 h; a projection needs 6,000 h"
    assert np.isnan(result.reported(90))
    assert result.basis(90).item() == ""
    assert float(result.measured(90)) == pytest.approx(np.log(1 / 0.9) / 3e-5, rel=2e-3)


def test_a_last_reading_within_48_h_of_6000_h_is_accepted_with_its_own_hours():
    hours = np.array([0, 1000, 2000, 3000, 4000, 5000, 5960.0])
    result = tm21(hours, units(hours=hours))
    assert result.refused.item() == ""
    assert float(result.limit_h) == 6 * 5960
    assert "the last reading, at 5,960 h, counts as that of 6,000 h (rule R06)" in result.notes.item()


def test_too_few_readings_for_a_fit():
    hours = [0, 1000, 6000]
    result = tm21(hours, units(hours=hours))
    assert "fewer than 3 readings" in result.refused.item()
    assert np.isnan(result.reported(70))


def test_a_1000_h_point_without_a_reading_is_named():
    hours = np.array([0, 1000, 2000, 3049, 4000, 5000, 6000.0])
    result = tm21(hours, units(hours=hours))
    assert "no reading within 48 h of 3,000 h (rule R06)" in result.notes.item()
    near = hours.copy()
    near[3] = 3048
    assert "no reading within" not in tm21(near, units(hours=near)).notes.item()
    extra = np.array([0, 500, 1000, 1500, 2000, 3000, 4000, 5000, 6000.0])  # R08: shorter intervals are welcome
    assert tm21(extra, units(hours=extra)).notes.item() == ""


def test_the_reading_before_half_is_named():
    hours = np.array([0.0, *range(1000, 16000, 1000)])
    assert "rule R05, MEMORY" in tm21(hours, units(hours=hours)).notes.item()
    assert tm21(hours, units(hours=hours), preceding=False).notes.item() == ""
    even = hours[:-1]
    assert tm21(even, units(hours=even)).notes.item() == ""


def test_lost_units_are_listed_and_not_counted():
    flux = units(count=22)
    flux[[4, 8], 4:] = np.nan
    flux[1, 6] = np.nan
    result = tm21(HOURS, flux)
    assert "units 5, 9 not read after 3,000 h: ask whether failed or taken out" in result.notes.item()
    assert "unit 2 not read after 5,000 h" in result.notes.item()
    assert list(np.flatnonzero(result.lost)) == [1, 4, 8]
    assert not result.missing.any()
    assert (int(result.n), float(result.multiplier)) == (19, 5.5)
    assert list(result.units) == [22, 22, 22, 22, 20, 20, 19]


def test_missing_readings_are_listed():
    flux = units()
    flux[2, 3], flux[6, 3], flux[0, 1] = np.nan, np.nan, np.nan
    result = tm21(HOURS, flux)
    assert "units 3, 7 not read at 3,000 h" in result.notes.item()
    assert "unit 1 not read at 1,000 h" in result.notes.item()
    assert [tuple(at) for at in np.argwhere(result.missing)] == [(0, 1), (2, 3), (6, 3)]
    assert not result.lost.any()
    assert int(result.n) == 18
    np.testing.assert_allclose(result.alpha, 5e-6)


def test_a_unit_without_its_start_is_left_out_and_listed():
    flux = units() * np.linspace(90, 110, 20)[:, None]
    flux[3, 0] = np.nan
    result = tm21(HOURS, flux)
    assert "unit 4 left out: no reading at 0 h to divide by" in result.notes.item()
    assert int(result.n) == 19
    np.testing.assert_allclose(result.alpha, 5e-6)


def test_too_few_units_at_one_time_name_the_time():
    flux = units()
    flux[3:, 4] = np.nan
    result = tm21(HOURS, flux)
    assert result.refused.item().startswith("only 3 units read at 4,000 h; a projection needs 10")


def test_one_unit_with_hours_of_its_own_near_the_others():
    hours = np.array([0, 990, 1000, 2000, 3000, 4000, 5000, 6000, 6010.0])
    flux = units(hours=hours)
    flux[:19, [1, 8]] = np.nan
    flux[19, [2, 7]] = np.nan
    result = tm21(hours, flux)
    assert "units read at 990 h, 1,000 h are taken together at 999.5 h" in result.notes.item()
    assert "units read at 6,000 h, 6,010 h are taken together at 6,000.5 h" in result.notes.item()
    assert (result.refused.item(), int(result.n), int(result.used.sum())) == ("", 20, 6)
    assert result.lost.sum() + result.missing.sum() == 0
    assert float(result.duration_h) == pytest.approx(6000.5)
    np.testing.assert_allclose(result.alpha, 5e-6, rtol=1e-6)


def test_units_read_twice_near_a_point_are_not_pooled():
    hours = np.array([0, 990, 1010, 2000, 3000, 4000, 5000, 6000.0])
    flux = units(hours=hours)
    flux[0, 3] = np.nan
    result = tm21(hours, flux)
    assert "taken together" not in result.notes.item()
    assert int(result.used.sum()) == 7


def test_one_unit_with_hours_of_its_own_far_from_the_others():
    hours = np.array([0, 1000, 1100, 2000, 3000, 4000, 5000, 6000.0])
    flux = units(hours=hours)
    flux[:19, 2] = np.nan
    flux[19, 1] = np.nan
    result = tm21(hours, flux)
    assert result.refused.item().startswith("only 1 unit read at 1,100 h")
    assert "unit 20 not read at 1,000 h" in result.notes.item()


def test_sets_of_different_size_and_length_share_one_array():
    hours = np.array([0.0, *range(1000, 11000, 1000)])
    flux = np.tile(units(hours=hours, count=25), (2, 1, 1))
    flux[1, 15:] = np.nan  # a set of 15 units
    flux[1, :, 7:] = np.nan  # read for 6,000 h
    result = tm21(hours, flux)
    assert list(result.n) == [25, 15]
    assert list(result.limit_h) == [60000, 33000]
    assert list(result.notes) == ["", ""]
    assert result.lost.sum() + result.missing.sum() == 0
    assert [list(end) for end in result.window_h] == [[5000, 1000], [10000, 6000]]
