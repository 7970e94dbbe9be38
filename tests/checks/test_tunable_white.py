"""Tunable white through a whole audit: the order of settings, the worst over them, and papers as they come.

CCT and Duv in these papers are arithmetic; the tolerance of 0.006 about Duv(T) is that of ANSI C78.377.
"""

import pytest

import audit

CLAIMS = """claim_id,product,quantity,relation,value,value_to,cct_setting_K,definition
LOW,Lamp,white_range_low,at_most,2700,,,
HIGH,Lamp,white_range_high,at_least,6000,,,
SET,Lamp,cct_setting_error,within,0,300,2700 to 6500,
"""
HEADINGS = "Serial,CCT setting (K),CCT (K),Duv,Ra,R9,Luminous flux (lm),Input power (W)"
GOOD = (
    "1,2700,2640,0.0010,95,70,900,11",
    "1,3350,3370,0.0004,94,66,1000,12.5",
    "1,4400,4440,0.0012,93,62,1100,12",
    "1,6500,6430,0.0050,90,51,1000,10",
)


def audited(folder, *rows, headings=HEADINGS, claims=CLAIMS):
    (folder / "claims.csv").write_text(claims, encoding="utf-8")
    (folder / "LR-7 colour.csv").write_text("\n".join([headings, *rows]) + "\n", encoding="utf-8")
    outcome = audit.run(folder)
    told = {row["rule"]: row for row in outcome.observations if row["made_by"] == "tunable_white"}
    return {finding["claim_id"]: finding for finding in outcome.findings}, told


def test_worst_of_every_quantity_is_named_with_its_setting(tmp_path):
    findings, told = audited(tmp_path, *GOOD)
    message = told["worst_over_settings"]["message"]
    for words in ("Duv 0.0050 at 6500 K (unit 1)", "R9 51 at 6500 K", "900 lm at 2700 K", "12.5 W at 3350 K"):
        assert words in message
    assert "cct_goes_back" not in told
    assert {name: finding["verdict"] for name, finding in findings.items()} == dict.fromkeys(findings, "supported")


def test_the_order_of_rows_doesnt_matter(tmp_path):
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    assert audited(tmp_path / "a", *GOOD)[1] == audited(tmp_path / "b", *GOOD[::-1])[1]


def test_a_setting_that_goes_back_is_major(tmp_path):
    _, told = audited(tmp_path, *GOOD[:2], "1,4400,3250,0.0012,93,62,1100,12", GOOD[3])
    assert told["cct_goes_back"]["tier"] == "major"
    assert "set from 3350 to 4400 K, unit 1 goes back by 120 K" in told["cct_goes_back"]["message"]
    assert told["cct_goes_back"]["place"] == "row 4, cell C4"


def test_a_doubled_setting_counts_by_its_mean(tmp_path):
    # 3350 K read twice, 100 K apart; the mean is below the next setting
    _, told = audited(tmp_path, *GOOD, "1,3350,3270,0.0004,94,66,1000,12.5")
    assert "cct_goes_back" not in told


def test_units_measured_at_different_settings_are_not_compared(tmp_path):
    _, told = audited(tmp_path, *GOOD, "2,3000,3600,0.0004,94,66,1000,12.5", "2,5000,5050,0.001,94,66,1000,12.5")
    assert "cct_goes_back" not in told


def test_level_0_is_no_worst_setting(tmp_path):
    rows = [f"{row},100" for row in GOOD] + ["1,2700,,,0,-200,0,0.3,0"]
    _, told = audited(tmp_path, *rows, headings=HEADINGS + ",Level (%)")
    assert "900 lm at 2700 K" in told["worst_over_settings"]["message"]


def test_an_end_that_is_tinted_is_named_in_the_method(tmp_path):
    findings, _ = audited(tmp_path, *GOOD[:3], "1,6500,6430,0.0150,90,51,1000,10")
    assert findings["HIGH"]["verdict"] == "contradicted"
    assert findings["HIGH"]["value"] == 4440
    assert "no part of the range: 6500 K (unit 1): Duv +0.0150" in findings["HIGH"]["method"]


def test_a_light_that_is_nowhere_white_has_no_range(tmp_path):
    rows = [row.replace(",0.00", ",0.03") for row in GOOD]
    findings, _ = audited(tmp_path, *rows)
    assert {findings[name]["verdict"] for name in ("LOW", "HIGH")} == {"contradicted"}
    assert findings["LOW"]["strongest"] == []


def test_settings_to_test_are_named(tmp_path):
    findings, _ = audited(tmp_path, *GOOD[:3])
    assert findings["HIGH"]["verdict"] == "overreaching"
    assert "6000 K setting" in findings["HIGH"]["ask"]


def test_a_setting_error_has_the_uncertainty_of_the_cct(tmp_path):
    headings = "Serial,CCT setting (K),CCT (K),U(CCT) (K)"
    findings, _ = audited(tmp_path, "1,2700,2760,24", headings=headings)
    # expanded: 24 K and half a printed kelvin, rectangular (JCGM 100:2008, 4.3.7)
    assert findings["SET"]["expanded_uncertainty"] == pytest.approx((24**2 + 4 * 0.25 / 3) ** 0.5)
    assert "that of the cct" in findings["SET"]["method"]


def test_a_data_sheet_shows_no_order(tmp_path):
    rows = ["standing,data sheet", "", HEADINGS, *GOOD[:2], "1,4400,3250,0.0012,93,62,1100,12"]
    findings, told = audited(tmp_path, *rows[1:], headings=rows[0])
    assert not told
    assert findings["LOW"]["verdict"] == "unevidenced"


def test_ambient_as_it_is_from_reading_to_reading_tells_no_units_apart(tmp_path):
    rows = [f"{row},{24.6 + 0.3 * number:.1f}" for number, row in enumerate(GOOD)]
    findings, _ = audited(tmp_path, *rows, headings=f"{HEADINGS},Ambient (°C)")
    assert {name: finding["verdict"] for name, finding in findings.items()} == dict.fromkeys(findings, "supported")
    back = [rows[0], rows[1].replace("3370", "2540"), *rows[2:]]
    assert "cct_goes_back" in audited(tmp_path, *back, headings=f"{HEADINGS},Ambient (°C)")[1]


def test_a_printed_cct_goes_with_the_duv_of_printed_x_and_y(tmp_path):
    """Planckian radiator of 2700 K: x 0.4599, y 0.4106 (CIE 15:2018)."""
    findings, _ = audited(tmp_path, "1,2700,2650,0.4640,0.4121", headings="Serial,CCT setting (K),CCT (K),x,y")
    assert findings["LOW"]["verdict"] == "supported"
    assert findings["LOW"]["value"] == 2650


def test_a_tinted_end_is_said_in_the_finding(tmp_path):
    tinted = "1,2200,2210,-0.0090,85,70,800,11"
    findings, _ = audited(tmp_path, tinted, *GOOD, claims=CLAIMS.replace("at_most,2700", "at_most,2300"))
    assert findings["LOW"]["verdict"] == "contradicted"
    assert "part of the range: 2200 K (unit 1): Duv -0.0090" in findings["LOW"]["message"]
    assert "part of the range" not in findings["HIGH"]["message"]
