"""Printed figures that belong together, and those that don't: each rule, both ways, through a whole audit.

electrical_rounding_vectors.csv: intervals of half a last digit, COMPUTED; power = voltage x current x power factor.
The efficacy 34 565 lm / 235.58 W = 146.72 lm/W is a worked example of public submittal reviews (VERIFIED there).
"""

import csv
from pathlib import Path

import pytest

import audit

VECTORS = Path(__file__).parents[1] / "reference" / "maintenance" / "electrical_rounding_vectors.csv"
ROUNDING = list(csv.DictReader(line for line in VECTORS.read_text().splitlines() if not line.startswith("#")))


def observed(folder, headings, *rows):
    lines = [",".join(headings), *(",".join(row) for row in rows)]
    (folder / "LR-7 results.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return {row["rule"]: row for row in audit.run(folder).observations if row["made_by"] == "output"}


@pytest.mark.parametrize("row", ROUNDING)
def test_printed_power_follows_within_what_its_digits_hide(tmp_path, row):
    found = observed(
        tmp_path,
        ("Serial", "Voltage (V)", "Current (A)", "Power factor", "Input power (W)"),
        ("1", row["V_V"], row["I_A"], row["PF"], row["P_reported_W"]),
    )
    assert ("power_doesnt_follow" in found) is (row["verdict"] == "INCONSISTENT")


@pytest.mark.parametrize(("efficacy", "wrong"), [("146.72", False), ("146.7", False), ("148.1", True)])
def test_printed_efficacy_is_flux_over_power(tmp_path, efficacy, wrong):
    headings = ("Serial", "Luminous flux (lm)", "Input power (W)", "Luminous efficacy (lm/W)")
    found = observed(tmp_path, headings, ("1", "34565", "235.58", efficacy))
    assert ("efficacy_doesnt_follow" in found) is wrong
    if wrong:
        told = found["efficacy_doesnt_follow"]
        assert told["tier"] == "major"
        assert "34565 lm" in told["message"]
        assert "D2" in told["place"]


@pytest.mark.parametrize(("factor", "wrong"), [("0.95", False), ("0.90", False), ("0.99", True)])
def test_power_factor_is_at_most_what_distortion_leaves(tmp_path, factor, wrong):
    # IEEE Std 1459-2010: 0.97 / sqrt(1 + 0.20^2) = 0.951
    headings = ("Serial", "Power factor", "Displacement factor", "THDi (%)")
    found = observed(tmp_path, headings, ("1", factor, "0.97", "20"))
    assert ("power_factor_doesnt_follow" in found) is wrong


def test_figures_of_two_rows_are_never_mixed(tmp_path):
    headings = ("Serial", "Luminous flux (lm)", "Input power (W)", "Luminous efficacy (lm/W)")
    found = observed(tmp_path, headings, ("1", "1000", "10", "100"), ("1", "1100", "10", "110"))
    assert not found


def test_no_efficacy_without_power(tmp_path):
    headings = ("Serial", "Luminous flux (lm)", "Input power (W)")
    observed(tmp_path, headings, ("1", "1000", "0"))
    assert not [row for row in audit.run(tmp_path).report.readings if row["quantity"] == "luminous_efficacy"]
