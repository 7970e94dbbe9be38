"""Interpolation between two case temperatures and the current rule against vectors computed by other code."""

import csv
from pathlib import Path

import numpy as np
import pytest

from audit.quantities.in_situ import arrhenius, interpolate, same_current
from audit.quantities.maintenance import tm21
from audit.quantities.projection import life

REFERENCE = Path(__file__).parents[1] / "reference" / "maintenance"
with (REFERENCE / "tm21_arrhenius_vectors.csv").open(encoding="utf-8") as lines:
    VECTORS = list(csv.DictReader(lines))
HOURS = np.array([0, 1000, 2000, 3000, 4000, 5000, 6000.0])


def set_of(alpha, B=1.0, units=20, hours=HOURS):
    """A set whose means decay as told, after 1 at 0 h."""
    mean = np.where(hours == 0, 1.0, B * np.exp(-alpha * hours))
    return tm21(hours, np.tile(mean, (units, 1)))


@pytest.mark.parametrize("row", VECTORS, ids=lambda row: f"{row['set']}-{row['Ti_degC']}")
def test_arrhenius_vectors(row):
    # TM-21 clause 6 as recalled (MEMORY); the vectors COMPUTED by other code: arithmetic only.
    columns = ("Ti_degC", "Ts1_degC", "alpha1_per_h", "B1", "Ts2_degC", "alpha2_per_h", "B2")
    found = arrhenius(*(float(row[column]) for column in columns))
    assert float(found.ea_over_k_K) == pytest.approx(float(row["Ea_over_kB_K"]), abs=1e-3)
    assert float(found.A) == pytest.approx(float(row["A_per_h"]), rel=2e-6)
    assert float(found.B) == pytest.approx(float(row["B0"]), abs=6e-7)
    assert float(found.alpha) == pytest.approx(float(row["alpha_i_per_h"]), abs=6e-13)
    assert float(life(found.alpha, found.B, 70)) == pytest.approx(float(row["L70_i_h"]), abs=0.2)


@pytest.mark.parametrize("row", [row for row in VECTORS if row["Ti_degC"] not in ("55", "85")])
def test_interpolation_of_whole_sets_gives_the_vectors(row):
    pair = [set_of(float(row[f"alpha{k}_per_h"]), float(row[f"B{k}"])) for k in (1, 2)]
    found = interpolate(float(row["Ti_degC"]), [float(row["Ts1_degC"]), float(row["Ts2_degC"])], pair, [350, 350])
    assert found.refused.item() == ""
    assert float(found.lp(70)) == pytest.approx(float(row["L70_i_h"]), abs=0.2)
    assert float(found.ea_eV) == pytest.approx(float(row["Ea_eV"]), abs=1e-6)
    assert float(found.reported(70)) == 36000
    assert found.notation(70).item() == "L70(6k) > 36,000 h"
    assert "rule R19, MEMORY" in found.notes.item()


def test_the_smaller_limit_of_the_pair_holds():
    longer = np.array([0.0, *range(1000, 10001, 1000)])
    cool, hot = set_of(2e-6, hours=longer), set_of(4e-6, units=12)
    found = interpolate(70, [85, 55], [hot, cool], [350, 350])
    assert float(found.limit_h) == 5.5 * 6000
    assert found.notation(70).item() == "L70(6k) > 33,000 h"
    assert float(found.lp(70)) == pytest.approx(124207.6, abs=0.1)  # the vector of the same rates


def test_above_the_highest_tested_temperature_is_refused():  # R14, VERIFIED (secondary)
    found = interpolate(85.1, [55, 85], [set_of(2e-6), set_of(4e-6)])
    assert found.refused.item().startswith("85.1 °C is above the highest tested 85 °C")
    assert np.isnan(found.reported(70))
    assert np.isnan(found.lp(70))
    assert found.notation(70).item() == ""


@pytest.mark.parametrize(("case_C", "rate"), [(40, 2e-6), (55, 2e-6), (85, 4e-6)])
def test_a_tested_temperature_and_one_below_all_take_the_set_as_it_is(case_C, rate):  # R20, MEMORY
    found = interpolate(case_C, [55, 85], [set_of(2e-6, 1.01), set_of(4e-6, 0.99)])
    assert float(found.alpha) == pytest.approx(rate)
    assert float(found.B) == pytest.approx(1.01 if rate == 2e-6 else 0.99)
    assert np.isnan(found.ea_over_k_K)
    assert ("rule R20, MEMORY" in found.notes.item()) == (case_C == 40)


@pytest.mark.parametrize("rates", [(-1e-6, 4e-6), (4e-6, 0.0)])
def test_one_set_without_decay_leaves_the_poorer(rates):  # R21, MEMORY
    found = interpolate(70, [55, 85], [set_of(rate) for rate in rates], [350, 350])
    assert float(found.alpha) == pytest.approx(4e-6)
    assert float(found.lp(90)) == pytest.approx(np.log(1 / 0.9) / 4e-6)
    assert "rule R21, MEMORY" in found.notes.item()
    assert "rule R16, MEMORY" in found.notes.item()


def test_two_sets_without_decay_are_reported_at_the_limit():
    found = interpolate(70, [55, 85], [set_of(-1e-6), set_of(-2e-6)], [350, 350])
    assert found.notation(70).item() == "L70(6k) > 36,000 h"


def test_a_set_that_stands_alone_brings_what_it_measured():
    fast = set_of(3e-5)
    found = interpolate([40, 70], [55, 85], [fast, set_of(4e-5)], [350, 350])
    np.testing.assert_allclose(found.measured(90), [fast.measured(90), np.nan])
    assert list(found.basis(90)) == ["measured", "calculated"]
    assert found.reported(90)[1] < found.reported(90)[0]


@pytest.mark.parametrize(
    ("case_C", "tested_C", "currents", "text"),
    [
        (70, [85, 85], [350, 350], "two sets stand at 85 °C"),
        (60, [55, 55], [350, 700], "above the highest tested 55 °C"),
        (55, [55, 55], [350, 700], "two sets stand at 55 °C"),
        (70, [55, 85], [350, 700], "sets at 350 mA and 700 mA: temperatures are joined at one current only"),
        (np.nan, [55, 85], [350, 350], "the case temperature in the luminaire isn't stated"),
        (70, [np.nan, np.nan], [350, 350], "no set states its case temperature"),
    ],
)
def test_refused(case_C, tested_C, currents, text):
    found = interpolate(case_C, tested_C, [set_of(2e-6), set_of(4e-6)], currents)
    assert text in found.refused.item()
    assert np.isnan(found.reported(70))


def test_a_refused_set_refuses_what_rests_on_it():
    sets = [set_of(2e-6), set_of(4e-6, units=8)]
    found = interpolate([50, 70], [55, 85], sets, [350, 350])
    assert found.refused[0] == ""
    assert found.refused[1].startswith("set at 85 °C: the set has 8 units")


def test_currents_that_are_not_stated_are_noted():
    sets = [set_of(2e-6), set_of(4e-6)]
    for currents in ([], [350, np.nan]):
        assert "currents of the sets not stated" in interpolate(70, [55, 85], sets, currents).notes.item()
    assert "not stated" not in interpolate(70, [55, 85], sets, [350, 350.0]).notes.item()


def test_a_hotter_set_that_decays_more_slowly_is_noted():
    found = interpolate(70, [55, 85], [set_of(4e-6), set_of(2e-6)], [350, 350])
    assert "the hotter set decays more slowly" in found.notes.item()
    assert 2e-6 < float(found.alpha) < 4e-6


def test_no_sets_and_counts_that_differ():
    assert "no set states its case temperature" in interpolate(70, [], []).refused.item()
    with pytest.raises(ValueError, match="1 sets with 2 temperatures"):
        interpolate(70, [55, 85], [set_of(2e-6)])
    with pytest.raises(ValueError, match="2 temperatures and 1 currents"):
        interpolate(70, [55, 85], [set_of(2e-6), set_of(3e-6)], [350])


def test_many_luminaires_at_once():
    flux = np.exp(-np.array([[1e-6], [2e-6], [3e-6]]) * HOURS)[:, None, :].repeat(20, axis=1)
    cool, hot = tm21(HOURS, flux), tm21(HOURS, flux**2)
    found = interpolate([60, 70, 90], [55, 85], [cool, hot], [350, 350])
    for i, case_C in enumerate((60, 70)):
        alone = interpolate(case_C, [55, 85], [tm21(HOURS, flux[i]), tm21(HOURS, flux[i] ** 2)], [350, 350])
        np.testing.assert_allclose(found.lp(70)[i], alone.lp(70), rtol=1e-12)
    assert [text == "" for text in found.refused] == [True, True, False]


def test_equal_temperatures_have_no_activation_energy():
    found = arrhenius(55, 55, 2e-6, 1, 55, 3e-6, 1)
    assert np.isnan([found.alpha, found.B, found.ea_over_k_K, found.A]).all()


@pytest.mark.parametrize(
    ("in_situ_mA", "inside", "programme"),
    [(340, True, False), (350, True, False), (351, False, True), (367.5, False, True), (367.6, False, False)],
)
def test_current_in_the_luminaire(in_situ_mA, inside, programme):
    # The 5 % are one programme's text (electricalindustry.ca/latest-articles/5506, VERIFIED), not TM-21's.
    found = same_current(in_situ_mA, 350)
    assert (bool(found.inside), bool(found.programme)) == (inside, programme)
    assert (found.texts.item() == "") == inside
    assert ("programme rule" in found.texts.item()) == programme


def test_currents_not_stated():
    found = same_current([np.nan, 300], [350, np.nan])
    assert not found.inside.any()
    assert not found.programme.any()
    assert all("ask for both" in text for text in found.texts)
