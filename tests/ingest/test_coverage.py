"""A coverage factor in a column or line of its own: uncertainties become those of k = 2, and it is said."""

from __future__ import annotations

import math

import pytest


@pytest.mark.parametrize("heading", ["k", "coverage factor", "Coverage Factor (k)", "k-factor"])
@pytest.mark.parametrize(("factor", "expanded"), [(2, 40), (2.5, 32), (1.65, 40 * 2 / 1.65), ("", 40)])
def test_expanded_uncertainties_are_scaled_to_two(read, heading, factor, expanded):
    tables = read(f"serial,CCT (K),U(CCT),{heading}\n1,3012,40,{factor}\n2,3012,40,2\n")
    assert tables["readings"]["expanded_uncertainty"].tolist() == pytest.approx([expanded, 40])
    found = tables.observation("coverage_factor")
    assert (found.tier, found.place) == ("note", "row 1, cell D1")
    assert ("scaled to k = 2" in found.message) == (factor not in (2, ""))
    assert set(tables.observed) == {"coverage_factor"}


def test_relative_uncertainties_are_scaled_too(read):
    tables = read("serial,CCT (K),U(CCT) [%],k\n1,3000,1.5,3\n")
    assert tables["readings"]["expanded_uncertainty"].tolist() == pytest.approx([30])


@pytest.mark.parametrize(
    ("heading", "expanded"), [("u(CCT)", 40), ("U(CCT) k=3", 40 / 3)], ids=["standard", "its own factor"]
)
def test_an_uncertainty_that_says_its_own_factor_isnt_touched(read, heading, expanded):
    tables = read(f"serial,CCT (K),{heading},k\n1,3000,20,2\n")
    assert tables["readings"]["expanded_uncertainty"].tolist() == pytest.approx([expanded])
    assert tables.observed == {"metrics_listed": "note"}


@pytest.mark.parametrize("factor", ["x", "0.5", "95"])
def test_a_factor_that_cant_be_one_costs_the_uncertainty_alone(read, factor):
    tables = read(f"serial,CCT (K),U(CCT),coverage factor\n1,3000,40,{factor}\n2,3010,40,2\n")
    assert tables.values == {"cct": [3000, 3010]}
    assert [math.isnan(value) for value in tables["readings"]["expanded_uncertainty"]] == [True, False]
    assert tables.observation("cell_not_a_number").place == "row 2, cell C2"


def test_a_letter_over_other_numbers_is_no_factor(read):
    tables = read("serial,Ra,U(Ra),K\n1,90,0.5,3000\n")
    assert tables["readings"]["expanded_uncertainty"].tolist() == [0.5]
    assert tables.observed == {"column_unknown": "minor"}


def test_without_an_uncertainty_it_is_listed(read):
    assert read("serial,Ra,k\n1,90,2\n").observed == {"metrics_listed": "note"}
    spectrum = "wavelength,SPD,k\n" + "".join(f"{nm},1,2\n" for nm in range(400, 425, 5))
    assert read(spectrum, "b.csv").observed == {"metrics_listed": "note"}


@pytest.mark.parametrize(
    "text",
    [
        "CCT (K),3000\nU(CCT),50\nk,2.5\nRa,90\nDuv,0.001\n",
        "Quantity,A,B\nRa,90,91\nCCT (K),3000,3000\nU(CCT),50,50\nk,2.5,2.5\n",
    ],
    ids=["keys", "on its side"],
)
def test_in_lines_as_in_columns(read, text):
    readings = read(text)["readings"]
    assert set(readings.loc[readings["quantity"] == "cct", "expanded_uncertainty"]) == {40}


def test_a_factor_beside_the_values_is_that_of_the_uncertainties_behind_them(read):
    """A cell's own k comes first."""
    tables = read("serial;CCT (K);k\n1;3000 ± 29,4;1,96\n2;3000 ± 30 (k=2);1,96\n3;3000;1,96\n")
    assert tables.values == {"cct": [3000, 3000, 3000]}
    assert tables["readings"]["expanded_uncertainty"].tolist() == pytest.approx([30, 30, math.nan], nan_ok=True)


def test_two_uncertainties_of_one_value_that_differ_are_not_used(read):
    tables = read("serial,CCT (K),U(CCT) (K)\n1,3000 ± 30,30\n2,3000 ± 30,60\n3,3000,60\n4,3000 ± 30,-\n")
    found = tables["readings"]["expanded_uncertainty"].tolist()
    assert found == pytest.approx([30, math.nan, 60, 30], nan_ok=True)
    assert "states another uncertainty than '3000 ± 30'" in tables.observation("cell_not_a_number").message
