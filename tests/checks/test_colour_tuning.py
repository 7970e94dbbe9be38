"""Colour tuning through a whole audit: hues as measured, and what is out of order in a turn.

The lights lie on a circle about equal-energy white in CIE 1976 u', v', so that their hue-angles are known (geometry).
"""

import math

import pytest

import audit

HEADINGS = "Serial,Hue setting (deg),Saturation setting (%),u',v'"


def light(hue, measured=None, radius=0.1, saturation=100, serial="1"):
    angle = math.radians(hue if measured is None else measured)
    u, v = 4 / 19 + radius * math.cos(angle), 9 / 19 + radius * math.sin(angle)
    return f"{serial},{hue},{saturation},{u:.5f},{v:.5f}"


def audited(folder, *rows, headings=HEADINGS):
    (folder / "LR-8 hues.csv").write_text("\n".join([headings, *rows]) + "\n", encoding="utf-8")
    outcome = audit.run(folder)
    return outcome.report.readings, {
        row["rule"]: row for row in outcome.observations if row["made_by"] == "colour_tuning"
    }


def values(readings, quantity):
    return [row["value"] for row in readings if row["quantity"] == quantity]


def test_an_even_turn(tmp_path):
    readings, told = audited(tmp_path, *(light(hue) for hue in range(0, 360, 45)))
    assert values(readings, "hue_step_error") == pytest.approx([0], abs=0.01)
    # area of a regular octagon: 2 sqrt(2) r^2
    assert values(readings, "gamut_area") == pytest.approx([8**0.5 * 0.01], abs=1e-5)
    assert set(told) == {"hues_measured"}
    assert told["hues_measured"]["tier"] == "note"


def test_hues_are_named_by_dominant_wavelength(tmp_path):
    # 0.69, 0.305 (x, y) lies on the line from E to about 622 nm (CIE 15:2018; colour-science)
    _, told = audited(tmp_path, "1,0,100,0.69,0.305", "1,120,100,0.2,0.7", "1,240,100,0.145,0.045",
                      headings="Serial,Hue setting (deg),Saturation setting (%),x,y")  # fmt: skip
    assert "0° is 622 nm" in told["hues_measured"]["message"]
    assert "no further apart than 60 degrees" in told["no_full_turn"]["ask"]


def test_hues_out_of_order_in_the_paper_are_put_in_order(tmp_path):
    hues = [180, 0, 300, 60, 240, 120]
    readings, told = audited(tmp_path, *(light(hue) for hue in hues))
    assert values(readings, "hue_step_error") == pytest.approx([0], abs=0.01)
    assert set(told) == {"hues_measured"}


def test_a_hue_that_runs_back_is_major(tmp_path):
    _, told = audited(tmp_path, *(light(hue, {120: 50}.get(hue)) for hue in range(0, 360, 60)))
    assert told["hue_runs_back"]["tier"] == "major"
    assert "set from 60 to 120 degrees, unit 1 runs back by 10.0 degrees" in told["hue_runs_back"]["message"]


def test_a_turn_the_other_way_round_is_asked_about(tmp_path):
    readings, told = audited(tmp_path, *(light(hue, -hue) for hue in range(0, 360, 60)))
    assert told["hue_turns_the_other_way"]["tier"] == "minor"
    assert "hue_runs_back" not in told
    assert values(readings, "hue_step_error") == pytest.approx([0], abs=0.01)


def test_a_doubled_hue_counts_by_its_mean(tmp_path):
    rows = [light(hue) for hue in range(0, 360, 60)] + [light(60, 80), light(360)]
    readings, _ = audited(tmp_path, *rows)
    assert values(readings, "hue_step_error") == pytest.approx([10], abs=0.2)


def test_a_missing_hue_is_no_full_turn(tmp_path):
    readings, told = audited(tmp_path, *(light(hue) for hue in (0, 60, 120, 180, 240)))
    assert not values(readings, "hue_step_error")
    assert not values(readings, "gamut_area")
    assert "no_full_turn" in told


def test_units_with_different_hues_make_no_turn_together(tmp_path):
    rows = [light(hue, serial="1") for hue in (0, 120, 240)] + [light(hue, serial="2") for hue in (60, 180, 300)]
    readings, _ = audited(tmp_path, *rows)
    assert not values(readings, "hue_step_error")


def test_each_saturation_is_a_turn_of_its_own(tmp_path):
    rows = [light(hue) for hue in range(0, 360, 60)]
    rows += [light(hue, radius=0.05, saturation=50) for hue in range(0, 360, 60)] + [light(0, radius=0, saturation=0)]
    readings, _ = audited(tmp_path, *rows)
    # two saturations by two definitions: about equal-energy white, and about the unit's own, which is the same here
    assert values(readings, "hue_step_error") == pytest.approx([0] * 4, abs=0.02)
    assert values(readings, "saturation_setting_error") == pytest.approx([0] * 6, abs=0.02)
    assert len(values(readings, "gamut_area")) == 1


def test_nearly_white_light_has_no_hue_error(tmp_path):
    readings, _ = audited(tmp_path, light(0, radius=0.01, saturation=10), light(120, 130))
    assert values(readings, "hue_setting_error") == pytest.approx([10], abs=0.01)


def test_the_definition_stands_beside_the_value(tmp_path):
    claims = "claim_id,product,quantity,relation,value,value_to,definition\n"
    claims += "H,Lamp,hue_setting_error,within,0,15,about equal-energy white\n"
    (tmp_path / "claims.csv").write_text(claims, encoding="utf-8")
    (tmp_path / "LR-8 hues.csv").write_text(f"{HEADINGS}\n{light(120, 130)}\n", encoding="utf-8")
    (finding,) = audit.run(tmp_path).findings
    assert (finding["verdict"], finding["definition"]) == ("supported", "about equal-energy white")


@pytest.mark.parametrize(
    ("quantity", "definition", "words"),
    [
        ("hue_setting_error", "about equal-energy white", ["no hue within 0.04 of the white"]),
        ("hue_step_error", "about equal-energy white", ["no hue within 0.04 of the white", "no gap above 60 degrees"]),
        ("gamut_area", "", ["no gap above 60 degrees"]),
    ],
)
def test_what_was_chosen_stands_in_the_method(tmp_path, quantity, definition, words):
    claim = f"C1,Lamp,{quantity},between,0,0.2,{definition}"
    (tmp_path / "claims.csv").write_text(
        f"claim_id,product,quantity,relation,value,value_to,definition\n{claim}\n", encoding="utf-8"
    )
    rows = [light(hue) for hue in range(0, 360, 60)]
    (tmp_path / "LR-8 hues.csv").write_text("\n".join([HEADINGS, *rows]) + "\n", encoding="utf-8")
    (finding,) = audit.run(tmp_path).findings
    assert all(text in finding["method"] for text in (*words, "(chosen: "))


@pytest.mark.parametrize(("white", "tier"), [((0.2105, 0.4750), "note"), ((0.2305, 0.4750), "minor")])
def test_the_white_of_a_turn_is_told_with_its_distance_from_the_locus(tmp_path, white, tier):
    rows = [light(hue) for hue in range(0, 360, 60)]
    _, told = audited(tmp_path, *rows, f"1,0,0,{white[0]},{white[1]}")
    assert told["white_of_the_turn"]["tier"] == tier
    assert ("meant to give" in told["white_of_the_turn"]["ask"]) == (tier == "minor")
