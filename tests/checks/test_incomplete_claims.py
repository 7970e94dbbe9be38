"""What claims leave out: Ra alone, and one setting that stands for a range."""

import pytest

import audit

CLAIMS = "claim_id,product,quantity,relation,value,value_to,cct_setting_K,level_percent"
PAPER = "Serial,CCT setting (K),Level (%),Ra,R9,CCT (K)"


def observed(folder, claims, *rows):
    (folder / "claims.csv").write_text("\n".join([CLAIMS, *claims]) + "\n", encoding="utf-8")
    (folder / "LR-2 results.csv").write_text("\n".join([PAPER, *rows]) + "\n", encoding="utf-8")
    return {row["rule"]: row for row in audit.run(folder).observations if row["made_by"] == "incomplete_claims"}


def test_ra_without_r9_or_tm30(tmp_path):
    found = observed(tmp_path, ["C1,Lamp,ra,at_least,90,,,"], "1,3000,100,93,52,3010")
    assert "R9 52" in found["ra_alone"]["message"]
    assert found["ra_alone"]["tier"] == "minor"


@pytest.mark.parametrize("other", ["r9", "rf", "rg"])
def test_any_of_the_others_is_enough(tmp_path, other):
    claims = ["C1,Lamp,ra,at_least,90,,,", f"C2,Lamp,{other},at_least,50,,,"]
    assert "ra_alone" not in observed(tmp_path, claims, "1,3000,100,93,52,3010")


def test_requirements_are_nobodys_claims(tmp_path):
    text = "requirement_id,quantity,relation,value\nR1,ra,at_least,80\nR2,chromaticity_steps,at_most,3\n"
    (tmp_path / "brief.csv").write_text(text, "utf-8")
    (tmp_path / "LR-2 results.csv").write_text(f"Product,{PAPER}\nLamp,1,3000,100,93,52,3010\n", "utf-8")
    seen = audit.run(tmp_path, against=("brief.csv",)).observations
    assert [row for row in seen if row["made_by"] in ("incomplete_claims", "colour_consistency")] == []


def test_one_setting_for_a_claimed_range(tmp_path):
    claims = ["C1,Lamp,cct,between,2700,6500,2700 to 6500,", "C2,Lamp,r9,at_least,50,,,"]
    found = observed(tmp_path, claims, "1,3000,100,93,52,3010")
    told = found["one_setting_for_a_range"]
    assert "R9" in told["message"]
    assert "2700, 3820, 6500" in told["ask"]  # the middle in mired: 2 / (1/2700 + 1/6500) = 3815


def test_several_settings_are_enough(tmp_path):
    claims = ["C1,Lamp,cct,between,2700,6500,2700 to 6500,", "C2,Lamp,r9,at_least,50,,,"]
    found = observed(tmp_path, claims, "1,2700,100,93,52,2710", "1,6500,100,93,52,6510")
    assert "one_setting_for_a_range" not in found


def test_white_has_no_hue_and_colour_no_setting_of_white(tmp_path):
    head = "claim_id,product,quantity,relation,value,value_to,cct_setting_K,hue_setting_deg,definition\n"
    claims = [
        "C1,Lamp,cct,between,2700,6500,2700 to 6500,,",
        "C2,Lamp,hue_setting_error,within,0,9,,0 to 360,about equal-energy white",
        "C3,Lamp,hue_setting_error,within,0,9,,,about equal-energy white",
        "C4,Lamp,r9,at_least,50,,,,",
    ]
    (tmp_path / "claims.csv").write_text(head + "\n".join(claims) + "\n", encoding="utf-8")
    white = "Serial,CCT setting (K),CCT (K),R9\n1,2700,2710,60\n1,4000,4010,60\n1,6500,6510,60\n"
    colours = "Serial,Hue setting (deg),u',v'\n1,0,0.3105,0.4737\n1,120,0.1605,0.5603\n1,240,0.1605,0.3871\n"
    (tmp_path / "LR-2 white.csv").write_text(white, encoding="utf-8")
    (tmp_path / "LR-3 colours.csv").write_text(colours, encoding="utf-8")
    assert "one_setting_for_a_range" not in {row["rule"] for row in audit.run(tmp_path).observations}
