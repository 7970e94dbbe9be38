"""What a finding says: the worst point, what was taken for granted, what its uncertainty rests on; order of rows."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.testing import run_case

AT_LEAST = {"quantity": "luminous_flux", "relation": "at_least", "value": 500}


def flux(*values: float) -> list[dict[str, object]]:
    rows = enumerate(values)
    return [
        {"serial": "1", "cct_setting_K": 2700 + 500 * i, "luminous_flux": v, "U(luminous_flux)": 25.0} for i, v in rows
    ]


def test_the_worst_is_the_worst_also_where_the_probability_is_1():
    finding = run_case({"claim": AT_LEAST, "evidence": flux(1000, 700, 900)})
    assert finding["value"] == 700
    assert finding["points"] == 3


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_order_of_rows_changes_no_finding(order):
    rows = flux(1000, 700, 700)
    found = run_case({"claim": AT_LEAST, "evidence": [rows[i] for i in order]})
    first = run_case({"claim": AT_LEAST, "evidence": rows})
    keys = found.keys() - {"evidence"}
    assert {key: found[key] for key in keys} == {key: first[key] for key in keys}


@given(values=st.lists(st.floats(300, 1500).map(lambda v: round(v, 1)), min_size=2, max_size=6), data=st.data())
def test_order_of_units_changes_no_verdict(values, data):
    rows = [{"serial": str(i), "luminous_flux": v, "U(luminous_flux)": 25.0} for i, v in enumerate(values)]
    claim = AT_LEAST | {"statistic": "each unit"}
    shuffled = data.draw(st.permutations(rows))
    one, two = (run_case({"claim": claim, "evidence": each}) for each in (rows, shuffled))
    assert (one["verdict"], one["value"], one["margin"]) == (two["verdict"], two["value"], two["margin"])


def test_without_an_uncertainty_the_worst_side_is_told():
    claim = {"quantity": "unified_glare_rating", "relation": "at_most", "value": 19}
    rows = [{"serial": "1", "unified_glare_rating": 10.0}, {"serial": "2", "unified_glare_rating": 40.0}]
    for evidence in (rows, rows[::-1]):
        finding = run_case({"claim": claim, "evidence": evidence})
        assert (finding["value"], finding["side"]) == (40.0, "misses as measured")


def test_what_was_taken_for_granted_is_said():
    finding = run_case({"claim": AT_LEAST, "evidence": [{"serial": "1", "luminous_flux": 1000.0}]})
    assert "taken at full output, 25 °C, initial" in finding["method"]
    assert "1 of 1 readings state no level: taken as 100 %" in finding["method"]


def test_every_piece_of_evidence_says_where_its_uncertainty_comes_from():
    claim = {"quantity": "cct", "relation": "within", "value": 3000, "value_to": 100}
    row = {"serial": "1", "x": 0.4339, "U(x)": 0.0015, "y": 0.4033, "U(y)": 0.0015, "cct": 3045.0}
    evidence = run_case({"claim": claim, "evidence": [row]})["evidence"][0]
    assert evidence["uncertainty_from"] == "propagated, x stated, y stated"
    assert evidence["expanded_uncertainty"] == pytest.approx(29, abs=0.5)
    assert evidence["standing"] == "accredited report"


def test_an_assumed_uncertainty_adds_the_verdicts_at_half_and_twice_of_it():
    claim = {"quantity": "ra", "relation": "at_least", "value": 90}
    rows = [{"serial": "1", "ra": 90.6}, {"serial": "2", "ra": 90.6}]
    finding = run_case({"claim": claim, "evidence": rows, "standing": "accredited report"})
    assert finding["verdict"] == "inconclusive"
    assert "at half the assumed uncertainty supported, at twice inconclusive" in finding["method"]
    assert "MEMORY (chosen)" in finding["method"]


def test_a_disagreement_names_the_other_document():
    claim = {"quantity": "ra", "relation": "at_least", "value": 90}
    rows = [
        {"document": "north", "serial": "1", "ra": 93.0, "U(ra)": 1.0},
        {"document": "south", "serial": "1", "ra": 87.0, "U(ra)": 1.0},
    ]
    finding = run_case({"claim": claim, "evidence": rows})
    assert "'north.csv' gives 93" in finding["message"] or "'south.csv' gives 87" in finding["message"]
    assert {row["role"] for row in finding["evidence"]} == {"deciding", "disagrees"}
