"""Each quantity of the register has a case for each verdict: generated for plain readings, by hand for the others.

The expected verdicts follow from the situation alone: a value ten expanded uncertainties inside the limit supports, one
as far outside contradicts, one on the limit is in doubt, one at another level covers nothing of the claim, and without
a reading nothing is known.
"""

import math
import re
from pathlib import Path

import pytest

from audit.model import VERDICTS
from audit.register import quantity_register
from audit.testing import cases, run_case

BY_HAND = {
    "nominal_cct": "a class, claimed as itself and not as a limit",
    "chromaticity_steps": "the claim must say about which centre, by ellipse or by circle",
    "hue_setting_error": "the claim must say which hue is meant",
    "hue_step_error": "the claim must say which hue is meant",
    "lumen_maintenance_life": "the claim must say Lp",
    "relative_light_output": "the claim must say measured or perceived",
    "dimmed_light_minimum": "the claim must say measured or perceived",
}
SITUATIONS = {  # verdict -> level of the reading, its distance from the limit in expanded uncertainties
    "supported": (100, -10),
    "contradicted": (100, 10),
    "inconclusive": (100, 0),
    "overreaching": (50, -10),
    "unevidenced": None,
}
# Of a family that is one line of the register (rf_h1 to rf_h16) the first stands for all.
FAMILIES = {re.sub(r"\d+$", "", name): name for name in reversed(quantity_register())}
PLAIN = sorted(set(FAMILIES.values()) - set(BY_HAND))


def limit_and_uncertainty(name):
    """A limit inside what the quantity can be, and an expanded uncertainty that leaves room for ten on each side."""
    quantity = quantity_register()[name]
    least, most = max(quantity.least, 0.0), quantity.most
    if math.isfinite(most):
        return (least + most) / 2, (most - least) / 50
    limit = max(50.0, 2 * least)
    return limit, (limit - least) / 50


@pytest.mark.parametrize("name", PLAIN)
@pytest.mark.parametrize("verdict", SITUATIONS)
def test_plain_reading(name, verdict):
    limit, expanded = limit_and_uncertainty(name)
    evidence = []
    if SITUATIONS[verdict]:
        level, away = SITUATIONS[verdict]
        evidence = [{"serial": "1", "level_percent": level, name: limit + away * expanded, f"U({name})": expanded}]
    claim = {"quantity": name, "relation": "at_most", "value": limit, "level_percent": 100}
    finding = run_case({"name": name, "claim": claim, "evidence": evidence})
    assert finding["verdict"] == verdict, finding["message"]


def test_every_situation_is_a_verdict():
    assert set(SITUATIONS) == set(VERDICTS)


@pytest.mark.parametrize("name", BY_HAND)
def test_the_others_have_a_case_by_hand_for_each_verdict(name):
    tables = sorted((Path(__file__).parent / "cases").glob("*.toml"))
    found = {case["verdict"] for path in tables for case in cases(path) if case["claim"]["quantity"] == name}
    assert found == set(VERDICTS), f"{name}: no case for {sorted(set(VERDICTS) - found)}"
