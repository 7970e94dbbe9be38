"""What channels can do, through a whole audit: how many there are is asked, and what they reach alone is told."""

import pytest

import audit

CLAIMS = """claim_id,product,quantity,relation,value,value_to,cct_setting_K
C1,Lamp,duv,within,0,0.003,2700 to 6500
"""
# Planckian ends: 2,700 K and 6,500 K (CIE 15:2018); between them two channels run to Duv -0.0064 at 3,918 K (COMPUTED).
ENDS = "Serial,CCT setting (K),x,y\n1,2700,0.4598,0.4106\n1,6500,0.3135,0.3237\n"
CHANNELS = """Serial,Channel,x,y,Luminous flux (lm)
1,red,0.690,0.305,200
1,green,0.200,0.700,450
1,blue,0.145,0.045,60
1,white,0.4339,0.4033,900
"""


def observed(folder, paper, claims=CLAIMS):
    (folder / "claims.csv").write_text(claims, encoding="utf-8")
    (folder / "LR-3 colour.csv").write_text(paper, encoding="utf-8")
    return {row["rule"]: row for row in audit.run(folder).observations if row["made_by"] == "mixing"}


def test_ends_ask_how_many_channels_there_are(tmp_path):
    told = observed(tmp_path, ENDS)["channels_not_stated"]
    assert told["tier"] == "minor"
    assert "Duv -0.0064" in told["message"]
    assert "outside the limits of C1" in told["message"]
    assert "measured at 3900 K" in told["ask"]


def test_a_stated_number_of_channels_is_not_asked_for(tmp_path):
    stated = "Number of channels,4\n\n" + ENDS
    assert "channels_not_stated" not in observed(tmp_path, stated)


def test_two_channels_stated_in_the_document_contradict(tmp_path):
    (tmp_path / "claims.csv").write_text(CLAIMS, encoding="utf-8")
    paper = "Number of channels,2\n\nSerial,CCT setting (K),x,y,Duv\n1,2700,0.4598,0.4106,0\n1,6500,0.3135,0.3237,0\n"
    (tmp_path / "LR-3 colour.csv").write_text(paper, encoding="utf-8")
    (finding,) = audit.run(tmp_path).findings
    assert finding["verdict"] == "contradicted"
    assert finding["value"] == pytest.approx(-0.0064, abs=1e-4)
    assert "never support" in finding["method"]
    assert {row["place"] for row in finding["evidence"] if row["role"] == "deciding"}


def test_channels_alone_tell_what_they_reach(tmp_path):
    told = observed(tmp_path, CHANNELS)["channels_reach"]
    assert "4 channels" in told["message"]
    assert "whites on the Planckian locus" in told["message"]
    assert "lm at 3000 K" in told["message"]


def test_together_they_add_up_or_it_is_told(tmp_path):
    # The sum of the four by hand: X, Y, Z from x, y and flux (Grassmann)
    rows = [(0.690, 0.305, 200), (0.200, 0.700, 450), (0.145, 0.045, 60), (0.4339, 0.4033, 900)]
    X, Y, Z = (sum(f * part for part in parts) for f, parts in ((1, [x / y * f for x, y, f in rows]),
               (1, [f for _, _, f in rows]), (1, [(1 - x - y) / y * f for x, y, f in rows])))  # fmt: skip
    x, y = X / (X + Y + Z), Y / (X + Y + Z)
    good = observed(tmp_path, CHANNELS + f"1,all,{x:.4f},{y:.4f},{Y:.0f}\n")["channels_reach"]
    assert "100.0 % of it" in good["message"]
    bad = observed(tmp_path, CHANNELS + f"1,all,{x + 0.01:.4f},{y:.4f},{0.9 * Y:.0f}\n")["channels_reach"]
    assert "their spectra change when they burn together" in bad["message"]


def test_two_channels_span_no_area(tmp_path):
    paper = "\n".join(CHANNELS.splitlines()[:3]) + "\n"
    assert "channels_reach" not in observed(tmp_path, paper)
