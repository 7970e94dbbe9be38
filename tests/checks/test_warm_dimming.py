"""Warm dimming through a whole audit: the path of colour and light, and what is too dark.

Planckian radiator of 3,000 K dimmed (COMPUTED, tests/reference/dimming/incandescent_dimming.csv): 2,772 K at 50 %,
2,354 K at 10 %, 1,933 K at 1 %; power law 2,754 K at 50 % (exponents: Wikipedia, "Lamp rerating").
"""

import pytest

import audit

CLAIMS = """claim_id,product,quantity,relation,value,value_to
C1,Lamp,incandescent_distance,at_most,0.005,
"""
HEAD = "Report number,LR-8\nStanding,accredited report\n\nSerial,Level (%),Luminous flux (lm),CCT (K),Duv\n"
LIKE_A_LAMP = [(100, 1000, 3000, 0.0), (50, 500, 2772, -0.0031), (10, 100, 2354, 0.0), (1, 10, 1933, 0.0)]


def run(folder, rows, head=HEAD, claims=CLAIMS):
    (folder / "claims.csv").write_text(claims, encoding="utf-8")
    lines = "".join(",".join(map(str, ("1", *row))) + "\n" for row in rows)
    (folder / "LR-8 colour.csv").write_text(head + lines, encoding="utf-8")
    return audit.run(folder)


def told(report):
    return {row["rule"]: row["message"] for row in report.observations if row["made_by"] == "warm_dimming"}


def test_the_path_of_a_lamp_like_light(tmp_path):
    report = run(tmp_path, LIKE_A_LAMP)
    path = told(report)["colour_when_dimmed"]
    assert "dimmed to 1 % of its light the CCT goes from 3000 K to 1933 K" in path
    assert "farthest from the locus at 50 %: -0.0031" in path
    assert "by the power law it has 2754 K at 50 % (Planckian 2772 K)" in path


def test_the_lamp_is_the_planckian_radiator_at_every_level(tmp_path):
    early = [(100, 1000, 3000, 0.0), (50, 500, 2772, 0.0), (10, 100, 2000, 0.0)]
    path = told(run(tmp_path, early))["colour_when_dimmed"]
    assert "at most, at 10 %, where it has 2354 K" in path


def test_a_light_that_keeps_its_colour_is_put_beside_no_lamp(tmp_path):
    assert told(run(tmp_path, [(100, 1000, 3000, 0.0), (10, 100, 2990, 0.001)])) == {}
    # A hotter one when dimmed is no lamp's way either, and is told.
    assert (
        "from 3000 K to 3300 K"
        in told(run(tmp_path, [(100, 1000, 3000, 0.0), (10, 100, 3300, 0.001)]))["colour_when_dimmed"]
    )


def test_order_of_levels_changes_nothing(tmp_path):
    first = run(tmp_path, LIKE_A_LAMP)
    again = run(tmp_path, LIKE_A_LAMP[::-1])
    assert told(first) == told(again)
    assert first.findings[0]["value"] == again.findings[0]["value"]


def test_light_of_another_row_of_the_same_test_counts(tmp_path):
    rows = [(level, flux, "-", "-") for level, flux, *_ in LIKE_A_LAMP]
    rows += [(level, "-", cct, duv) for level, _, cct, duv in LIKE_A_LAMP]
    assert told(run(tmp_path, rows)) == told(run(tmp_path, LIKE_A_LAMP))


def test_without_the_light_no_lamp_is_assumed(tmp_path):
    head = HEAD.replace("Luminous flux (lm),", "")
    report = run(tmp_path, [(level, cct, duv) for level, _, cct, duv in LIKE_A_LAMP], head)
    assert report.findings[0]["verdict"] == "unevidenced"
    assert "how much light it gives there isn't stated" in told(report)["light_not_known"]


def test_chromaticity_printed_as_x_and_y_carries_its_uncertainty(tmp_path):
    head = HEAD.replace("CCT (K),Duv", "x,y,U(x),U(y)")
    # Planckian radiators of 3,000 K and 1,933 K (CIE 15:2018)
    rows = [(100, 1000, 0.4369, 0.4041, 0.0015, 0.0015), (1, 10, 0.5341, 0.4120, 0.010, 0.010)]
    (finding,) = run(tmp_path, rows, head).findings
    assert (finding["verdict"], "too dark to judge" in finding["reasons"]) == ("inconclusive", True)
    assert finding["expanded_uncertainty"] == pytest.approx(0.0067, abs=2e-4)
    assert "more light on the instrument" in finding["ask"]
    assert "more than a third of the limit's width" in finding["ask"]
