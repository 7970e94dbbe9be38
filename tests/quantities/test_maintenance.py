"""TM-21 arithmetic against formula vectors, unit-level sets, published end values and numpy.polyfit.

No complete published set of readings with its alpha, B and L70 could be read: the sets S1 to S7 are our own. They show
that the arithmetic is consistent with an independent calculation, not that it agrees with the standard.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.quantities import tm21_rules
from audit.quantities.maintenance import fit, scatter_h, tm21, window
from audit.quantities.projection import life, three_figures

REFERENCE = Path(__file__).parents[1] / "reference" / "maintenance"


def published(name):
    """Rows of a table in tests/reference/maintenance; each carries its source and status."""
    with (REFERENCE / f"{name}.csv").open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


UNIT_DATA = published("tm21_synthetic_unit_data")


def readings(name):
    """Hours (times,) and luminous flux in lm (units, times) of one of the sets S1 to S7."""
    rows = [row for row in UNIT_DATA if row["set"] == name]
    hours = sorted({float(row["time_h"]) for row in rows})
    flux = np.full((len({row["unit"] for row in rows}), len(hours)), np.nan)
    for row in rows:
        flux[int(row["unit"]) - 1, hours.index(float(row["time_h"]))] = float(row["flux_lm"])
    return np.array(hours), flux


def decay(hours, alpha=3e-6, B=1.0, units=20):
    """Ratios (units, times) of units that all decay alike."""
    hours = np.asarray(hours, dtype=float)
    return np.tile(np.where(hours == 0, 1.0, B * np.exp(-alpha * hours)), (units, 1))


@pytest.mark.parametrize("row", published("tm21_formula_vectors"), ids=lambda row: f"{row['alpha_per_h']}-{row['B']}")
def test_life_formula(row):
    # TM-21, Lp = ln(100 B / p) / alpha: the formula VERIFIED, values COMPUTED.
    lp = life(float(row["alpha_per_h"]), float(row["B"]), float(row["p_percent"]))
    assert float(lp) == pytest.approx(float(row["Lp_h"]), abs=6e-4)
    assert three_figures(float(lp)).replace(",", "") == row["Lp_3sig_h"]


@pytest.mark.parametrize("name", ["S1", "S2", "S3", "S4", "S5", "S6", "S7"])
def test_means_of_units(name):
    # Own data, means COMPUTED by other code: consistency only.
    hours, flux = readings(name)
    rows = [row for row in published("tm21_synthetic_means") if row["set"] == name]
    np.testing.assert_array_equal(hours, [float(row["time_h"]) for row in rows])
    np.testing.assert_allclose(tm21(hours, flux).mean, [float(row["mean_normalised_flux"]) for row in rows], atol=6e-9)


@pytest.mark.parametrize(
    "row", published("tm21_synthetic_results"), ids=lambda row: f"{row['set']}-L{row['p_percent']}"
)
def test_unit_readings_to_reported_life(row):
    # Own data, results COMPUTED by other code: consistency only.
    result = tm21(*readings(row["set"]))
    p = float(row["p_percent"])
    assert float(result.alpha) == pytest.approx(float(row["alpha_per_h"]), abs=6e-13)
    assert float(result.B) == pytest.approx(float(row["B"]), abs=6e-7)
    assert [float(end) for end in result.window_h] == [float(row["first_fit_h"]), float(row["last_fit_h"])]
    assert (int(result.used.sum()), int(result.n)) == (int(row["n_points"]), int(row["n_units"]))
    assert float(result.duration_h) == float(row["duration_h"])
    if row["Lp_calculated_h"].startswith("n/a"):
        assert float(result.lp(p)) == math.inf
    else:
        assert float(result.lp(p)) == pytest.approx(float(row["Lp_calculated_h"]), abs=0.06)
        assert float(f"{result.lp(p):.3g}") == float(row["Lp_calc_3sig_h"])
    if row["limit_h"]:
        assert float(result.limit_h) == float(row["limit_h"])
        assert result.notation(p).item().replace(",", "") == row["reported"]
    else:
        assert np.isnan(result.reported(p))
        assert result.notation(p).item() == ""
        assert result.refused.item().startswith("the set has 8 units; a projection needs 10")


def test_window_variants():
    # Own data, COMPUTED by other code; the right windows are those that tm21 takes (R04 VERIFIED, R05 MEMORY).
    for row in published("tm21_window_variants"):
        hours, flux = readings(row["set"])
        result = tm21(hours, flux)
        first, last = (float(end) for end in row["window"].split(" ")[0].split("-"))
        used = (hours >= first) & (hours <= last)
        alpha, B = fit(hours, result.mean, used)
        assert used.sum() == int(row["n_points"])
        assert float(alpha) == pytest.approx(float(row["alpha_per_h"]), abs=6e-13)
        assert float(B) == pytest.approx(float(row["B"]), abs=6e-7)
        assert float(life(alpha, B, 70)) == pytest.approx(float(row["L70_h"]), abs=0.06)
        strict = tm21(hours, flux, preceding=False)
        right = "wrong" not in row["window"] and "strict" not in row["window"]
        assert (result.used == used).all() == right
        assert (strict.used == used).all() == ("strict" in row["window"] or row["window"] == "1000-6000 (right)")


@pytest.mark.parametrize("row", [row for row in published("lprize_long_term") if row["published_L70_h"]])
def test_published_lives_of_the_long_tested_lamps(row):
    # L Prize lamps: hours, maintenance and L70 VERIFIED. One exponential through both, read by 31 lamps, is recovered.
    end, share = float(row["time_h"]), float(row["mean_lumen_maintenance_percent"]) / 100
    l70 = float(row["published_L70_h"])
    alpha = math.log(share / 0.7) / (l70 - end)
    B = share * math.exp(alpha * end)
    assert alpha == pytest.approx(float(row["implied_alpha_per_h"]), abs=6e-11)
    assert pytest.approx(float(row["implied_B"]), abs=6e-5) == B
    hours = np.array([0.0, *np.arange(1000.0, end, 1000.0), end])
    lumens = decay(hours, alpha, B, int(row["n_lamps"])) * np.linspace(880, 940, int(row["n_lamps"]))[:, None]
    result = tm21(hours, lumens)
    assert 100 * result.mean[-1] == pytest.approx(100 * share)
    assert float(result.window_h[0]) == 1000.0 * (end // 2000)
    assert float(result.reported(70)) == pytest.approx(l70)
    assert result.basis(70).item() == "calculated"


def test_fit_is_that_of_polyfit():
    rng = np.random.default_rng(21)
    hours = np.array([0, 998, 2004, 3010, 3990, 5001, 6013, 7100.0])
    mean = np.exp(-rng.uniform(1e-6, 2e-5, (40, 1)) * hours + rng.normal(0, 2e-3, (40, 8)))
    used = window(hours)
    alpha, B = fit(hours, mean, used)
    slope, intercept = np.polyfit(hours[used], np.log(mean[:, used]).T, 1)
    np.testing.assert_allclose(alpha, -slope, rtol=1e-10)
    np.testing.assert_allclose(B, np.exp(intercept), rtol=1e-12)


@pytest.mark.parametrize(
    ("hours", "first"),
    [
        ([0, 500, 1000, 2000, 3000, 4000, 5000, 6000], 1000),  # R04: the last 5,000 h, from the 1,000 h reading
        ([0, 500, 952, 2000, 3000, 4000, 5000, 6048], 952),  # R06: 952 h to 1,048 h is the reading of 1,000 h
        ([0, 951, 2000, 3000, 4000, 5000, 6000], 2000),  # and 951 h isn't
        ([0, 1000, 2000, 3000, 4000, 5000, 6000, 7000], 2000),
        ([0, 1000, 2000, 3000, 4000, 5000, 6000, 6500], 2000),  # R04: nothing before 1,500 h
        ([0, 1000, 2000, 3000, 4000, 4970, 6000, 7000, 8000, 9000, 10040], 4970),  # still the test of 10,000 h
        ([0, 1000, 2000, 4000, 6000, 8000, 10000], 6000),  # R04: nothing before, up to 10,000 h
        ([0, 1000, 3000, 5000, 6000, 8000, 10000, 12000], 6000),  # R05: half is read
        ([0, 1000, 3000, 5000, 6000, 7000, 9000, 11000, 13000], 6000),  # R05 (MEMORY): the reading before half
        ([0, 500, 8000, 10000, 12000, 15000], 8000),  # but never one before 1,000 h
        ([0, 1000, 2000, 3000, 4000, 5951], None),  # R06: 5,951 h isn't the reading of 6,000 h
    ],
)
def test_window(hours, first):
    used = window(np.array(hours, dtype=float))
    assert list(np.array(hours)[used]) == ([hour for hour in hours if hour >= first] if first else [])


def test_each_set_of_an_array_has_its_own_window():
    hours = np.array([0, 1000, 2000, 4000, 6000, 8000, 10000, 13000.0])
    used = window(np.stack([hours, np.where(hours > 10000, np.nan, hours)]))
    assert [list(hours[row]) for row in used] == [[6000, 8000, 10000, 13000], [6000, 8000, 10000]]


@pytest.mark.parametrize(("units", "multiplier"), [(10, 5.5), (19, 5.5), (20, 6.0), (31, 6.0)])
def test_limit_by_number_of_units(units, multiplier):  # R10 and R11, VERIFIED (secondary)
    hours = np.array([0, 1000, 2000, 3000, 4000, 5000, 6024.0])
    result = tm21(hours, decay(hours, 1e-7, units=units))
    assert float(result.multiplier) == multiplier
    assert float(result.reported(70)) == pytest.approx(multiplier * 6024)
    assert result.notation(70).item() == f"L70(6k) > {three_figures(multiplier * 6024)} h"


def test_the_limit_is_judged_unrounded():
    hours = np.array([0, 1000, 2000, 3000, 4000, 5000, 6000.0])
    just_past, just_inside = (tm21(hours, decay(hours, math.log(1 / 0.7) / lp)) for lp in (36010, 35990))
    assert just_past.notation(70).item() == "L70(6k) > 36,000 h"
    assert just_inside.notation(70).item() == "L70(6k) = 36,000 h"
    assert float(just_inside.reported(70)) == pytest.approx(35990)


def test_a_level_reached_during_the_test_is_reported_as_measured():  # R22, MEMORY: named in the remarks
    hours = np.array([0, 1000, 2000, 3000, 4000, 5000, 6000.0])
    mean = [1, 0.97, 0.94, 0.91, 0.87, 0.86, 0.85]
    result = tm21(hours, np.tile(mean, (20, 1)))
    assert float(result.reported(90)) == pytest.approx(3250)
    assert result.basis(90).item() == "measured"
    assert result.notation(90).item() == "L90(6k) = 3,250 h, as measured"
    assert "R22, MEMORY" in result.remarks(90).item()
    assert "R22" not in result.remarks(80).item()
    assert float(result.measured(98)) == pytest.approx(2000 / 3)
    assert np.isnan(result.measured(84.9))
    assert float(result.measured(85)) == pytest.approx(6000)
    with_gap = np.tile([*mean[:3], np.nan, *mean[4:]], (20, 1))
    assert float(tm21(hours, with_gap).measured(90)) == pytest.approx(2000 + 2000 * 4 / 7)


def test_a_fit_that_ends_before_the_test_is_reported_as_past_the_test():
    hours = np.array([0, 1000, 2000, 3000, 4000, 5000, 6000.0])
    result = tm21(hours, np.tile([1, 0.97, 0.95, 0.93, 0.91, 0.903, 0.9005], (20, 1)))
    assert float(result.lp(90)) < 6000
    assert result.notation(90).item() == "L90(6k) > 6,000 h"


def test_many_sets_at_once_are_the_same_as_one_by_one():
    hours, flux = readings("S2")
    every = np.stack([flux, flux[::-1] * 1.5, np.full_like(flux, np.nan), flux**2]).reshape(2, 2, *flux.shape)
    every[1, 1, 4, 3] = np.nan
    together = tm21(hours, every)
    assert together.alpha.shape == (2, 2)
    for at in np.ndindex(2, 2):
        alone = tm21(hours, every[at])
        np.testing.assert_allclose(together.alpha[at], alone.alpha, rtol=1e-12)
        np.testing.assert_allclose(together.reported(70)[at], alone.reported(70), rtol=1e-12)
        assert together.notation(90)[at] == alone.notation(90).item()
        assert (together.refused[at], together.notes[at]) == (alone.refused.item(), alone.notes.item())
        np.testing.assert_array_equal(together.missing[at], alone.missing)
    assert together.alpha[0, 0] == pytest.approx(together.alpha[0, 1], rel=1e-12)
    assert together.refused[1, 0] != ""


@given(st.lists(st.floats(0.01, 1e6), min_size=20, max_size=20), st.permutations(range(20)))
def test_scale_and_order_of_units_change_nothing(scales, order):
    hours, flux = readings("S1")
    plain, other = tm21(hours, flux), tm21(hours, (flux * np.array(scales)[:, None])[order])
    np.testing.assert_allclose(other.alpha, plain.alpha, rtol=1e-8)
    np.testing.assert_allclose(other.B, plain.B, rtol=1e-10)


def test_every_rule_has_a_source_and_a_status():
    rules = tm21_rules.rules()
    assert len(rules) == 25
    assert all(rule.text and rule.source for rule in rules.values())
    assert {rule.status.split(" ")[0].strip(",") for rule in rules.values()} == {"VERIFIED", "MEMORY", "part"}
    assert tm21_rules.cite("R12") == "n < 10: method not to be used (rule R12, VERIFIED (secondary))"


def test_scatter_is_that_of_polyfit_and_first_order_propagation():
    """numpy.polyfit's covariance of the line, through the derivatives of Lp (JCGM 100:2008, 5.2.2)."""
    rng = np.random.default_rng(3)
    hours = np.arange(0.0, 10_000, 1000)
    flux = np.exp(-5e-6 * hours) * rng.normal(1, 0.002, (20, hours.size))
    flux[:, 0] = 1.0
    found = tm21(hours, flux)
    used = found.used
    (slope, intercept), spread = np.polyfit(hours[used], np.log(found.mean[used]), 1, cov=True)
    life_h = (np.log(0.8) - intercept) / slope
    by = np.array([-life_h / slope, -1 / slope])
    assert scatter_h(found, 80) == pytest.approx(np.sqrt(by @ spread @ by), rel=1e-9)
    assert np.isnan(scatter_h(tm21(hours[:5], flux[:, :5]), 80))
