"""Steps and white points as findings: probability, strongest claim, who is furthest apart, what is shown and asked."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from audit.testing import run_case

COLOUR = Path(__file__).parents[1] / "reference" / "colour"
CIRCLE_3000 = "u'v' circle about the ANSI C78.377-2015 3000 K centre"
AT_3000 = {"x": 0.4339, "y": 0.4033}


def published(name: str) -> list[dict[str, str]]:
    with (COLOUR / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def steps(definition: str, *rows: dict, at_most: float = 2, U: float = 0.003, **claim) -> dict:
    claim = {
        "quantity": "chromaticity_steps",
        "relation": "at_most",
        "value": at_most,
        "definition": definition,
        **claim,
    }
    evidence = [{"serial": str(i), "U(x)": U, "U(y)": U, **row} for i, row in enumerate(rows)]
    return run_case({"claim": claim, "evidence": evidence})


@pytest.mark.parametrize("example", published("sdcm_examples.csv"), ids=lambda row: row["id"])
def test_the_worked_examples_are_the_findings_values(example):
    """Source: COMPUTED two ways each (quadratic form and rotated axes; u', v' distance over 0.0011)."""
    at = {"x": float(example["x"]), "y": float(example["y"])}
    centre = f"about the IEC 60081 {example['centre'].removeprefix('F ')} K centre"
    for shape, column in (("IEC ellipse", "steps_quadratic_form"), ("u'v' circle", "steps_uv_circle_0.0011")):
        finding = steps(f"{shape} {centre}", at)
        assert finding["value"] == pytest.approx(float(example[column]), abs=1e-4)
        assert finding["definition"] == f"{shape} {centre}"


def test_a_unit_on_the_centre_is_not_certain_to_lie_inside():
    """Source: own integration and simulation (COMPUTED), U = 0.003 in x and y, 2 steps at 3000 K."""
    assert steps(CIRCLE_3000, AT_3000)["probability"] == pytest.approx(0.925, abs=5e-4)
    about_iec = steps("IEC ellipse about the IEC 60081 3000 K centre", {"x": 0.44, "y": 0.403})
    assert about_iec["probability"] == pytest.approx(0.918, abs=5e-4)


def test_about_the_own_mean_the_probability_is_that_of_a_simulation():
    """400,000 seeded draws of three units' x and y by repeatability, each counted from the mean of its own draw."""
    x, y, u = np.array([0.4401, 0.4391, 0.4379]), np.array([0.4051, 0.4046, 0.4051]), 0.00015
    finding = steps(
        "u'v' circle about the sample mean", *({"x": a, "y": b} for a, b in zip(x, y, strict=True)), at_most=0.8
    )
    rng = np.random.default_rng(3)
    true = np.stack([x, y], -1) + u * rng.standard_normal((400_000, 3, 2))
    uv = true * [4, 9] / (-2 * true[..., :1] + 12 * true[..., 1:] + 3)
    apart = uv - uv.mean(axis=1, keepdims=True)
    share = (np.hypot(apart[..., 0], apart[..., 1]) <= 0.8 * 0.0011).mean(axis=0)
    worst = int(finding["operating_point"]["serial"])
    assert 0.02 < share[worst] < 0.98
    assert finding["probability"] == pytest.approx(share[worst], abs=0.004)


def test_the_strongest_claim_in_steps_carries_itself_and_no_less():
    finding = steps(CIRCLE_3000, AT_3000, {"x": 0.4350, "y": 0.4040}, at_most=1, U=0.001)
    (found,) = finding["strongest"]
    assert found["definition"] == finding["definition"]
    for limit, verdict in ((found["upper"], "supported"), (round(found["upper"] - 0.1, 1), "inconclusive")):
        again = steps(CIRCLE_3000, AT_3000, {"x": 0.4350, "y": 0.4040}, at_most=limit, U=0.001)
        assert again["verdict"] == verdict


def test_the_pair_furthest_apart_is_named_and_may_lie_twice_as_far():
    rows = [{"x": 0.4339 + d, "y": 0.4033 + d / 3} for d in (0.0, 0.004, -0.004, 0.002)]
    finding = steps("u'v' circle, worst pair", *rows)
    each = steps(CIRCLE_3000, *rows)
    assert "Furthest apart of 4: units 1 and 2" in finding["message"]
    assert "chosen for its distance" in finding["method"]
    assert "chosen for its distance" not in steps("u'v' circle, worst pair", *rows[:2])["method"]
    assert finding["value"] == pytest.approx(2 * each["value"], rel=0.02)
    assert [row["quantity"] for row in finding["evidence"] if row["role"] == "deciding"] == ["x", "y", "x", "y"]


def test_units_of_one_document_are_compared_by_repeatability():
    own = steps("u'v' circle about the sample mean", AT_3000, AT_3000, U=0.01)
    assert own["expanded_uncertainty"] < 0.1 * steps(CIRCLE_3000, AT_3000, AT_3000, U=0.01)["expanded_uncertainty"]


def test_an_ellipse_that_was_moved_says_so():
    finding = steps("IEC ellipse about the ANSI C78.377-2015 3000 K centre", AT_3000)
    assert "ellipse of IEC 60081 F 3000 moved to this centre" in finding["method"]
    assert "radius is MEMORY" not in finding["method"]
    assert "radius is MEMORY" in steps(CIRCLE_3000, AT_3000)["method"]


def test_the_nominal_cct_is_taken_from_the_light_only_where_nobody_states_it():
    finding = steps("u'v' circle about the IEC 60081 centre", {"x": 0.3818, "y": 0.3797})
    assert finding["definition"] == "u'v' circle about the IEC 60081 4000 K centre"
    assert "holds the mean of the chromaticities" in finding["method"]
    stated = steps("u'v' circle about the IEC 60081 centre", {"x": 0.3818, "y": 0.3797, "cct_setting_K": 4000})
    assert "holds the mean of the chromaticities" not in stated["method"]


def test_every_meaning_is_shown_and_the_maker_asked():
    finding = steps("", AT_3000, AT_3000, at_most=3, U=0.0005, cct_setting_K="3000", hours="0")
    assert finding["verdict"] == "overreaching"  # no reading states the setting
    rows = [{**AT_3000, "cct_setting_K": 3000}] * 2
    finding = steps("", *rows, at_most=3, U=0.0005, cct_setting_K="3000")
    assert "IEC ellipse about the IEC 60081 3000 K centre: contradicted" in finding["message"]
    assert "u'v' circle about the sample mean: supported" in finding["message"]
    assert "u'v' circle about the ANSI C78.377-2015/2017 3000 K centre" in finding["ask"]


def test_a_way_of_counting_that_is_not_understood_lists_the_admissible_ones():
    finding = steps("house rule", AT_3000, AT_3000)
    assert "'house rule' isn't understood" in finding["message"]
    assert "IEC ellipse about the IEC 60081" in finding["ask"]


@pytest.mark.parametrize(
    ("centre", "told"), [("x = 0.7, y = 0.6", "no light has this"), ("x = 0.05, y = 0.1", "no light has this")]
)
def test_a_centre_that_no_light_has_is_told(centre, told):
    finding = steps(f"u'v' circle about {centre}", AT_3000, AT_3000)
    assert (finding["value"], finding["side"], finding["margin"]) == (None, "", None)
    assert told in finding["message"]


def test_an_x_without_its_y_is_shown_with_the_reason():
    finding = steps(CIRCLE_3000, AT_3000, {"x": 0.5})
    assert "x without the y of the same light: shown, not used" in [row["role"] for row in finding["evidence"]]
    assert finding["points"] == 1


def test_the_probability_of_the_quadrangle_is_that_of_the_normal_across_its_edge():
    """Source: scipy.stats.norm. Midway along an edge, with an uncertainty small against its length."""
    corners = [row for row in published("ansi_c78377_quadrangles.csv") if row["edition"] == "2008"]
    (a, b) = [row for row in corners if row["nominal_CCT_K"] == "4000" and row["corner"].startswith("low")]
    ends = np.array([[float(row["x_published"]), float(row["y_published"])] for row in (a, b)])
    along = ends[1] - ends[0]
    inward = np.array([-along[1], along[0]]) / np.hypot(*along)
    inward *= np.sign(inward @ (np.array([0.3818, 0.3797]) - ends[0]))
    for distance in (-0.0004, 0.0, 0.0003):
        x, y = ends.mean(axis=0) + distance * inward
        claim = {"quantity": "nominal_cct", "relation": "is", "value": 4000, "definition": "2008"}
        row = {"serial": "1", "x": x, "y": y, "U(x)": 0.0006, "U(y)": 0.0006}
        finding = run_case({"claim": claim, "evidence": [row]})
        assert finding["probability"] == pytest.approx(stats.norm.cdf(distance / 0.0003), abs=1e-6)
        assert (finding["margin"], finding["strongest"]) == (None, [])


@pytest.mark.parametrize(
    "row", published("ansi_c78377_nominal.csv"), ids=lambda row: f"{row['edition']} {row['nominal_CCT_K']}"
)
def test_a_published_centre_lies_in_its_own_quadrangle(row):
    """Source: ANSI C78.377 nominal chromaticities by edition (secondary)."""
    nominal, edition = float(row["nominal_CCT_K"]), row["edition"]
    claim = {"quantity": "nominal_cct", "relation": "is", "value": nominal, "definition": edition}
    evidence = [{"serial": str(i), "x": float(row["centre_x"]), "y": float(row["centre_y"])} for i in range(2)]
    finding = run_case({"claim": claim, "evidence": evidence})
    assert (finding["verdict"], finding["value"]) == ("supported", nominal)
    assert finding["definition"] == f"ANSI C78.377-{edition}"


def test_coordinates_alone_give_cct_and_duv_with_their_uncertainty():
    """Source: ANSI C78.377 centre of 3000 K; U(CCT) 29 K for U = 0.0015 (computed table of sensitivities)."""
    claim = {"quantity": "cct", "relation": "within", "value": 3045, "value_to": 60}
    row = {"serial": "1", "U(x)": 0.0015, "U(y)": 0.0015, **AT_3000}
    finding = run_case({"claim": claim, "evidence": [row]})
    assert finding["value"] == pytest.approx(3045, abs=3)
    assert finding["expanded_uncertainty"] == pytest.approx(29, abs=0.5)
    assert finding["evidence"][0]["origin"] == "computed"


def test_u_prime_and_v_prime_alone_serve_as_well():
    """Source: own 400,000 seeded draws in u', v' through numpy; CIE 1976 UCS, inverse of IEV 845-23-073."""
    claim = {"quantity": "duv", "relation": "within", "value": 0, "value_to": 0.003}
    row = {"serial": "1", "u_prime": 0.2614, "v_prime": 0.5268, "U(u_prime)": 0.002, "U(v_prime)": 0.001}
    finding = run_case({"claim": claim, "evidence": [row]})
    from audit.quantities.chromaticity import cct_duv, uv_prime_to_xy

    draws = np.random.default_rng(2).standard_normal((2, 20_000))
    duv = cct_duv(*uv_prime_to_xy(0.2614 + 0.001 * draws[0], 0.5268 + 0.0005 * draws[1]))[1]
    assert finding["expanded_uncertainty"] == pytest.approx(2 * duv.std(), rel=0.03)


def test_a_printed_cct_stands_before_one_worked_out():
    claim = {"quantity": "cct", "relation": "within", "value": 3045, "value_to": 60}
    row = {"serial": "1", "U(x)": 0.0015, "U(y)": 0.0015, **AT_3000, "cct": 3050.0}
    finding = run_case({"claim": claim, "evidence": [row]})
    assert (finding["value"], len(finding["evidence"])) == (3050.0, 1)


def test_coordinates_that_cannot_be_give_nothing():
    claim = {"quantity": "cct", "relation": "within", "value": 3045, "value_to": 60}
    finding = run_case({"claim": claim, "evidence": [{"serial": "1", "x": 0.7, "y": 0.6}]})
    assert finding["verdict"] == "unevidenced"
    assert steps(CIRCLE_3000, {"x": 0.7, "y": 0.6})["value"] is None


def test_no_value_is_no_number():
    claim = {"quantity": "nominal_cct", "relation": "is", "value": 3000, "definition": "2015"}
    rows = [{"serial": "1", "x": 0.45, "y": 0.45}]
    finding = run_case({"claim": claim, "evidence": rows})
    assert finding["value"] is None
    assert finding["message"].startswith("None at unit 1")
    assert not math.isnan(finding["probability"])
