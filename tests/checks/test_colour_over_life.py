"""Shifts through a whole audit: worst, mean, direction, and what can't be counted is said.

The shift vectors are arithmetic: distances in CIE 1976 u', v' (CIE 15:2018); 7 steps of about 0.001 are 0.007 (common
practice).
"""

import pytest

import audit

HEADINGS = "Serial,Hours (h),u',v'"


def audited(folder, *rows, headings=HEADINGS):
    (folder / "LR-9 colour.csv").write_text("\n".join([headings, *rows]) + "\n", encoding="utf-8")
    return audit.run(folder)


def shifts(outcome, quantity="chromaticity_shift"):
    rows = [row for row in outcome.report.readings if row["quantity"] == quantity]
    return {(row["operating_point"]["serial"], row["operating_point"]["hours"]): row["value"] for row in rows}


def test_every_unit_against_its_own_first_reading(tmp_path):
    rows = ("1,0,0.2500,0.5200", "1,6000,0.2530,0.5240", "2,0,0.2510,0.5210", "2,6000,0.2510,0.5222")
    outcome = audited(tmp_path, *rows)
    found = shifts(outcome)
    assert found[("1", 6000)] == pytest.approx(0.005)  # 3-4-5 triangle
    assert found[("2", 6000)] == pytest.approx(0.0012)
    (told,) = [row for row in outcome.observations if row["rule"] == "colour_moved"]
    assert "after 6000 h" in told["message"]
    assert "0.0031 from where they began on average" in told["message"]
    assert "at most 0.0050 (unit 1)" in told["message"]
    assert "towards yellow" in told["message"]


@pytest.mark.parametrize(
    ("later", "way"), [("0.2530,0.5200", "red"), ("0.2500,0.5230", "yellow"), ("0.2470,0.52", "green"),
                       ("0.2500,0.5170", "blue")]
)  # fmt: skip
def test_direction_in_words(tmp_path, later, way):
    outcome = audited(tmp_path, "1,0,0.2500,0.5200", f"1,6000,{later}")
    (told,) = [row for row in outcome.observations if row["rule"] == "colour_moved"]
    assert f"towards {way}" in told["message"]


def test_order_of_rows_and_doubled_hours(tmp_path):
    rows = ("1,6000,0.2530,0.5240", "1,0,0.2500,0.5200", "1,6000,0.2532,0.5240")
    assert shifts(audited(tmp_path, *rows)) == {("1", 6000): pytest.approx(((0.0031) ** 2 + 0.004**2) ** 0.5)}


def test_a_unit_missing_at_an_hour_gives_none_there(tmp_path):
    rows = ("1,0,0.25,0.52", "1,3000,0.251,0.52", "1,6000,0.252,0.52", "2,0,0.25,0.52", "2,6000,0.253,0.52")
    assert set(shifts(audited(tmp_path, *rows))) == {("1", 3000), ("1", 6000), ("2", 6000)}


def test_without_an_initial_reading_it_is_asked_for(tmp_path):
    outcome = audited(tmp_path, "1,1000,0.2500,0.5200", "1,6000,0.2510,0.5200")
    assert not shifts(outcome)
    (told,) = [row for row in outcome.observations if row["rule"] == "shift_not_known"]
    assert told["ask"]


def test_colour_temperature_and_duv_move_with_it(tmp_path):
    # a Planckian 3000 K (0.43693, 0.40407) and 2856 K (illuminant A: 0.44757, 0.40745), CIE 15:2018
    outcome = audited(tmp_path, "1,0,0.43693,0.40407", "1,6000,0.44757,0.40745", headings="Serial,Hours (h),x,y")
    assert shifts(outcome, "cct_shift")[("1", 6000)] == pytest.approx(2856 - 3000, abs=2)
    assert shifts(outcome, "duv_shift")[("1", 6000)] == pytest.approx(0, abs=2e-5)


def test_coordinates_that_cant_be_give_no_shift(tmp_path):
    outcome = audited(tmp_path, "1,0,0.60,0.55", "1,6000,0.61,0.55", headings="Serial,Hours (h),x,y")
    assert not shifts(outcome)
