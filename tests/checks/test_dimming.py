"""Dimming through a whole audit: light and its lowest from readings in any order, curves, dead travel, stability."""

import pytest

import audit

HEAD = "Report number,LR-7\nStanding,accredited report\n"
CLAIMS = """claim_id,product,quantity,relation,value,unit,definition
C1,Lamp,dimmed_light_minimum,at_most,1,%,measured
"""
SQUARE = [(100, 1000), (75, 562), (50, 250), (25, 62.5), (10, 10.0), (1, 5.0)]


def run(folder, paper, claims=CLAIMS):
    (folder / "claims.csv").write_text(claims, encoding="utf-8")
    (folder / "LR-7 dimming.csv").write_text(paper, encoding="utf-8")
    return audit.run(folder)


def table(rows, head="Serial,Level (%),Luminous flux (lm)", above=HEAD):
    return "\n".join([above, head, *(",".join(map(str, ("1", *row))) for row in rows)]) + "\n"


def told(report, by="dimming_curve"):
    return {row["rule"]: row for row in report.observations if row["made_by"] == by}


def test_a_finding_names_the_measured_and_the_perceived_figure(tmp_path):
    (finding,) = run(tmp_path, table([(100, 1000), (1, 40)])).findings
    assert "4.00 ± 0.10 % measured, 20 % perceived" in finding["message"]
    assert finding["verdict"] == "contradicted"
    assert "4.00 ± 0.10 % measured, 20 % perceived" in finding["ask"]


def test_a_limit_on_perceived_light_is_shown_on_both_bases(tmp_path):
    claims = CLAIMS.replace("1,%,measured", "10,%,perceived")
    (finding,) = run(tmp_path, table([(100, 1000), (1, 5)]), claims).findings
    assert finding["verdict"] == "supported"
    assert "at most 1 % measured (at most 10 % perceived)" in finding["message"]
    assert "square law, IES Lighting Handbook (MEMORY)" in finding["method"]


def test_without_a_record_in_time_it_is_the_lowest_level_measured(tmp_path):
    (finding,) = run(tmp_path, table([(100, 1000), (1, 5)])).findings
    assert "lowest level measured: no record in time of 60 s" in finding["method"]


# 0.0334 h are 120 s, 0.0084 h are 30 s.
@pytest.mark.parametrize(
    ("hours", "last", "stable"), [("0.0334", 5.01, True), ("0.0084", 5.01, False), ("0.0334", 7.0, False)]
)
def test_stable_takes_a_minute_without_moving(tmp_path, hours, last, stable):
    rows = [(100, 0, 1000), (1, 0, 5.0), (1, hours, last)]
    (finding,) = run(tmp_path, table(rows, "Serial,Level (%),Hours,Luminous flux (lm)")).findings
    assert ("stable: read over 120 s" in finding["method"]) is stable
    assert ("lowest level measured" in finding["method"]) is not stable


def readings(report, quantity="relative_light_output"):
    return sorted(round(row["value"], 3) for row in report.readings if row["quantity"] == quantity)


@pytest.mark.parametrize("order", [SQUARE, SQUARE[::-1], [SQUARE[i] for i in (3, 0, 5, 1, 4, 2)]])
def test_order_of_settings_changes_nothing(tmp_path, order):
    report = run(tmp_path, table(order))
    assert report.findings[0]["value"] == pytest.approx(0.5)
    assert "the square curve is nearest" in told(report)["dimming_curve"]["message"]


def test_a_setting_that_stands_twice_counts_by_its_mean(tmp_path):
    (finding,) = run(tmp_path, table([(100, 990), (100, 1010), (1, 5.2), (1, 4.8)])).findings
    assert finding["value"] == pytest.approx(0.5)


def test_a_missing_reading_and_level_0_are_left_out(tmp_path):
    (finding,) = run(tmp_path, table([(100, 1000), (50, "-"), (1, 5), (0, 0)])).findings
    assert (finding["value"], finding["verdict"]) == (pytest.approx(0.5), "supported")


def test_units_without_serial_are_not_mixed(tmp_path):
    paper = HEAD + "\nLevel (%),Luminous flux (lm)\n100,1000\n100,1600\n1,5\n1,8\n"
    report = run(tmp_path, paper)
    assert report.findings[0]["verdict"] == "unevidenced"
    assert "units without serial are mixed" in told(report, "dimming")["full_output_not_known"]["message"]


def test_light_without_full_output_is_asked_for(tmp_path):
    report = run(tmp_path, table([(50, 500), (1, 5)]))
    row = told(report, "dimming")["full_output_not_known"]
    assert row["tier"] == "minor"
    assert "no reading at full output" in row["message"]


def test_light_that_is_nothing_at_full_output_is_no_full_output(tmp_path):
    report = run(tmp_path, table([(100, 0), (1, 5)]))
    assert report.findings[0]["verdict"] == "unevidenced"


def test_dead_travel_at_both_ends_and_light_that_falls(tmp_path):
    rows = [(100, 1000), (95, 999), (90, 1001), (75, 750), (50, 500), (40, 520), (25, 250), (10, 100), (5, 100)]
    report = run(tmp_path, table([*rows, (1, 100)]))
    found = told(report)
    assert "the linear curve is nearest" in found["dimming_curve"]["message"]
    still = [row["message"] for row in report.observations if row["rule"] == "dead_travel"]
    assert sorted("from 1 to 10 % level" in text for text in still) == [False, True]
    assert sorted("from 90 to 100 % level" in text for text in still) == [False, True]
    assert "52 % of full output at 40 % level, 50 % at 50 % level" in found["light_falls"]["message"]
    assert found["light_falls"]["tier"] == "minor"


def test_travel_below_1_V_and_a_physical_minimum_is_meant(tmp_path):
    """IEC 60929, Annex E: at and below 1 V the minimum."""
    head = "Serial,0-10 V,Luminous flux (lm)"
    rows = [(10, 1000), (7, 670), (5, 440), (3, 220), (1, 100), (0.5, 100), (0, 100)]
    assert "dead_travel" not in told(run(tmp_path, table(rows, head)))
    still = [*rows[:4], (2.5, 150), (1, 150), (0, 150)]
    assert "from 1 to 2.5 V" in told(run(tmp_path, table(still, head)))["dead_travel"]["message"]
    levels = [(100, 1000), (75, 750), (50, 500), (25, 250), (10, 100), (5, 100), (1, 100)]
    assert "dead_travel" in told(run(tmp_path, table(levels)))
    stated = HEAD + "Physical minimum level,10 %\n"
    assert "dead_travel" not in told(run(tmp_path, table(levels, above=stated)))


def test_arc_levels_are_light_by_a_stated_curve_alone(tmp_path):
    """Light at arc levels by the logarithmic curve (IEC 62386-102, published points): 229 -> 50.5 %, 170 -> 10.1 %."""
    head = "Serial,DALI arc level,Luminous flux (lm)"
    rows = [(254, 1000), (229, 505), (195, 200), (170, 161), (85, 10)]
    unsaid = told(run(tmp_path, table(rows, head)))["dimming_curve"]["message"]
    assert "which curve its arc levels follow isn't stated" in unsaid
    stated = table(rows, head, HEAD + "Dimming curve,logarithmic\n")
    said = told(run(tmp_path, stated))["dimming_curve"]["message"]
    assert "farthest off at arc level 170: 16.1 % instead of 10.1 %" in said
    linear = told(run(tmp_path, stated.replace("logarithmic", "linear (IEC 62386-207)")))["dimming_curve"]["message"]
    assert "beside the linear curve that is stated" in linear


def test_efficacy_along_the_way(tmp_path):
    rows = [(100, 1000, 10), (75, 750, 8), (50, 500, 6), (10, 100, 2)]
    found = told(run(tmp_path, table(rows, "Serial,Level (%),Luminous flux (lm),Input power (W)")))
    assert "94 % at 75 % level, 83 % at 50 % level, 50 % at 10 % level" in found["dimming_curve"]["message"]


def test_units_are_told_as_their_mean(tmp_path):
    paper = table(SQUARE) + "\n".join(f"2,{level},{1.1 * flux}" for level, flux in SQUARE) + "\n"
    assert "(mean of 2 units)" in told(run(tmp_path, paper))["dimming_curve"]["message"]


def test_three_settings_tell_no_curve(tmp_path):
    assert "dimming_curve" not in told(run(tmp_path, table([(100, 1000), (50, 500), (1, 5)])))
