"""Claims on steps and white points in whole audits: what is observed, and what spectra and coordinates give."""

import pytest

import audit


def test_claims_on_steps_are_asked_for_centre_and_life(tmp_path):
    (tmp_path / "claims.csv").write_text(
        "claim_id,product,quantity,relation,value,definition,hours\n"
        "A,Sedge,chromaticity_steps,at_most,3,IEC ellipse,\n"
        "B,Sedge,chromaticity_steps,at_most,3,u'v' circle about the IEC 60081 3000 K centre,0\n",
        encoding="utf-8",
    )
    (tmp_path / "r.csv").write_text(
        "serial,hours,x,y,Ra,standing\n1,0,0.4339,0.4033,93,accredited report\n", encoding="utf-8"
    )
    run = audit.run(tmp_path)
    asked = {(row["rule"], row["subject"]): row for row in run.observations if row["made_by"] == "colour_consistency"}
    assert set(asked) == {("steps_without_centre", "A"), ("steps_without_life", "A")}
    assert {row["tier"] for row in asked.values()} == {"minor"}
    assert asked["steps_without_centre", "A"]["place"] == "row 2"
    assert "which centre" in asked["steps_without_centre", "A"]["ask"]


def test_a_spectrum_gives_purity_and_wavelengths(tmp_path):
    (tmp_path / "s.csv").write_text(
        "wavelength (nm),1\n" + "".join(f"{nm},{1.0 if 585 <= nm <= 595 else 0.0}\n" for nm in range(380, 781)),
        encoding="utf-8",
    )
    readings = audit.run(tmp_path).evidence.readings
    found = dict(zip(readings["quantity"].astype(str), readings["value"], strict=True))
    # A band of 11 nm about 590 nm; on the straight part of the CIE 1931 locus a mixture stays on it.
    assert abs(found["dominant_wavelength"] - 590) < 0.5
    assert found["excitation_purity"] > 99.8
    assert 485 < found["complementary_wavelength"] < 490


def test_coordinates_are_worked_out_only_where_their_document_is_silent(tmp_path):
    (tmp_path / "r.csv").write_text(
        "serial,x,y,CCT (K),standing\n1,0.4339,0.4033,3050,accredited report\n", encoding="utf-8"
    )
    (tmp_path / "q.csv").write_text("serial,u',v',standing\n2,0.2614,0.5268,accredited report\n", encoding="utf-8")
    readings = audit.run(tmp_path).evidence.readings
    computed = readings[readings["origin"] == "computed"]
    assert sorted(computed["quantity"].astype(str)) == ["cct", "duv", "duv", "u_prime", "v_prime", "x", "y"]
    assert (computed["spectrum_id"] == -1).all()


@pytest.mark.parametrize(
    ("definition", "hours", "rules"),
    [
        ("", "", {"steps_without_centre", "steps_without_life"}),
        ("IEC ellipse", "0", {"steps_without_centre"}),
        ("u'v' circle about the ANSI C78.377 centre", "0", {"steps_without_centre"}),  # its editions differ
        ("dunes", "0", {"steps_without_centre"}),
        ("IEC ellipse about the IEC 60081 3000 K centre", "", {"steps_without_life"}),
        ("IEC ellipse about the IEC 60081 3000 K centre", "0 to 25000", set()),
        ("u'v' circle, worst pair", "0", set()),
    ],
)
def test_steps_without_a_centre_or_a_state_of_life(tmp_path, definition, hours, rules):
    head = "claim_id,product,quantity,relation,value,definition,hours\n"
    (tmp_path / "claims.csv").write_text(f"{head}C7,Lamp,chromaticity_steps,at_most,3,{definition},{hours}\n", "utf-8")
    (tmp_path / "LR-2 results.csv").write_text("Serial,x,y\n1,0.4339,0.4033\n", "utf-8")
    found = [row for row in audit.run(tmp_path).observations if row["rule"].startswith("steps_without")]
    assert {row["rule"] for row in found} == rules
    assert all(row["subject"] == "C7" and row["ask"] and row["tier"] == "minor" for row in found)
