"""The strongest honest claim carries itself, one step further doesn't, and nothing unsettled gives one."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from audit.strongest import round_down
from audit.testing import run_case

UNITS = ({"serial": "1", "ra": 93.0, "U(ra)": 1.0}, {"serial": "2", "ra": 92.4, "U(ra)": 1.0})


def strongest(claim, evidence, **more):
    return run_case({"claim": claim, "evidence": list(evidence), **more})["strongest"]


def test_at_least_is_the_worst_point_less_its_guard_rounded_down():
    (found,) = strongest({"quantity": "ra", "relation": "at_least", "value": 95}, UNITS)
    # JCGM 106:2012, 8.3.2: 92.4 - 1.645 x 0.5 = 91.58
    assert (found["lower"], found["upper"], found["units"]) == (91.0, None, 2)
    assert "each of 2 units" in found["sentence"]
    assert "accredited report" in found["sentence"]


@settings(max_examples=20)
@given(values=st.lists(st.floats(60, 95).map(lambda v: round(v, 1)), min_size=1, max_size=5))
def test_it_carries_itself_and_no_more(values):
    evidence = [{"serial": str(i), "ra": v, "U(ra)": 1.0} for i, v in enumerate(values)]
    (found,) = strongest({"quantity": "ra", "relation": "at_least", "value": 90}, evidence)
    for limit, expected in ((found["lower"], True), (found["lower"] + 1, False)):
        verdict = run_case({"claim": {"quantity": "ra", "relation": "at_least", "value": limit}, "evidence": evidence})
        assert (verdict["verdict"] == "supported") is expected


def test_between_both_sides_keep_half_of_what_may_be_missed():
    evidence = [{"serial": "1", "cct": 3000.0, "U(cct)": 40.0}]
    (found,) = strongest({"quantity": "cct", "relation": "within", "value": 3000, "value_to": 100}, evidence)
    guard = stats.norm.ppf(0.975) * 20  # scipy as oracle
    assert (found["lower"], found["upper"]) == (math.floor(3000 - guard), math.ceil(3000 + guard))


def test_a_distance_is_no_normal_variable():
    claim = {"quantity": "chromaticity_shift", "relation": "at_most", "value": 0.004, "hours": 6000}
    evidence = [{"serial": "1", "hours": 6000, "chromaticity_shift": 0.002, "U(chromaticity_shift)": 0.001}]
    finding = run_case({"claim": claim, "evidence": evidence})
    # The length of a bivariate normal vector: Rice distribution, scipy as oracle.
    rice = stats.rice(0.002 / 0.0005, scale=0.0005)
    assert finding["probability"] == pytest.approx(rice.cdf(0.004), abs=1e-9)
    assert finding["margin"] == pytest.approx(0.004 - rice.ppf(0.95), abs=1e-9)
    (found,) = finding["strongest"]
    assert found["upper"] == math.ceil(rice.ppf(0.95) * 1e4) / 1e4


def test_of_a_share_it_is_the_share():
    evidence = [{"serial": str(i), "ra": 95.0} for i in range(20)]
    claim = {"quantity": "ra", "relation": "at_least", "value": 90, "population_percent": 95}
    (found,) = strongest(claim, evidence)
    assert found["lower"] == 86.0  # 0.05^(1/20) = 0.8609, Clopper and Pearson 1934


@pytest.mark.parametrize(
    ("claim", "evidence"),
    [
        ({"quantity": "ra", "relation": "at_least", "value": 90}, ()),
        ({"quantity": "ra", "relation": "at_least", "value": 90, "hours": 5000}, UNITS),
        ({"quantity": "ra", "relation": "at_least", "value": 90, "limit_status": "MEMORY"}, UNITS),
        (
            {"quantity": "ra", "relation": "at_least", "value": 90},
            ({"ra": 95.0, "U(ra)": 1.0}, {"ra": 80.0, "U(ra)": 1.0, "document": "other"}),
        ),
    ],
    ids=["nothing measured", "other conditions", "limit unconfirmed", "sources disagree"],
)
def test_there_is_none_where_nothing_is_settled(claim, evidence):
    assert strongest(claim, evidence) == []


@given(value=st.floats(-1e6, 1e6), decimals=st.integers(0, 5))
def test_rounding_is_never_favourable(value, decimals):
    down = round_down(value, decimals)
    assert value - 10**-decimals * 1.000001 <= down <= value + 1e-9 * max(1.0, abs(value))


def test_perceived_light_is_carried_as_perceived():
    """4 % measured is 20 % perceived (square law, IES Lighting Handbook, MEMORY)."""
    light = [{"serial": "1", "level_percent": 100, "luminous_flux": 1000}]
    light += [{"serial": "1", "level_percent": 1, "luminous_flux": 40}]
    claim = {"quantity": "dimmed_light_minimum", "relation": "at_most", "value": 25}
    (measured,) = strongest(claim | {"definition": "measured"}, light)
    (perceived,) = strongest(claim | {"definition": "perceived"}, light)
    assert 4 < measured["upper"] < 4.2
    assert perceived["upper"] == pytest.approx(10 * measured["upper"] ** 0.5, abs=0.03)
    assert "perceived" in perceived["sentence"]
