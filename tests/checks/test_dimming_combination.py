"""Which driver and dimmer dimming was tested with: asked where the papers are silent, told where they differ."""

import audit

CLAIMS = """claim_id,product,quantity,relation,value,value_to,level_percent
D1,Lamp,dimmed_light_minimum,at_most,2,,
D2,Lamp,duv,within,0,0.006,10
F1,Lamp,luminous_flux,at_least,1000,,
"""
TABLE = "Serial,Level (%),Dimmed light minimum (%),Duv\n1,10,1.5,0.001\n"


def audited(folder, *papers, claims=CLAIMS):
    (folder / "claims.csv").write_text(claims, encoding="utf-8")
    for number, keys in enumerate(papers):
        (folder / f"LR-{number}.csv").write_text(f"Report number,LR-{number}\n{keys}\n{TABLE}", encoding="utf-8")
    rows = [row for row in audit.run(folder).observations if row["made_by"] == "dimming_combination"]
    return {row["rule"]: row for row in rows}


def test_silence_is_asked_about_with_the_claims(tmp_path):
    told = audited(tmp_path, "")
    assert set(told) == {"combination_not_stated"}
    asked = told["combination_not_stated"]
    assert asked["message"] == "D1, D2 are about dimming, but LR-0.csv names no driver and no dimmer"
    assert (asked["tier"], asked["ask"]) == (
        "minor",
        "which driver and dimmer was it tested with, and will the same be supplied?",
    )


def test_what_is_named_is_not_asked_for(tmp_path):
    asked = audited(tmp_path, "Driver,Saltreed D40\n")["combination_not_stated"]
    assert asked["message"].endswith("names no dimmer")


def test_a_named_pair_is_enough(tmp_path):
    assert not audited(tmp_path, "Driver,Saltreed D40\nDimmer,Saltreed wall dimmer 2\n")


def test_one_spelling_or_another_is_the_same_driver(tmp_path):
    keys = ("Driver,Saltreed D40\nDimmer,X1\n", "Driver,saltreed-d40\nDimmer,X1\n")
    assert not audited(tmp_path, *keys)


def test_different_drivers_are_told(tmp_path):
    told = audited(tmp_path, "Driver,Saltreed D40\nDimmer,X1\n", "Driver,Saltreed D60\nDimmer,X1\n")
    assert set(told) == {"drivers_differ"}
    for words in ("Saltreed D40 (LR-0.csv)", "Saltreed D60 (LR-1.csv)"):
        assert words in told["drivers_differ"]["message"]


def test_without_a_claim_on_dimming_nobody_is_asked(tmp_path):
    only = "\n".join(line for line in CLAIMS.splitlines() if not line.startswith("D")) + "\n"
    assert not audited(tmp_path, "", claims=only)
