"""What an audit says of the documents: laboratory, report number, method, and those that don't say what they are."""

from __future__ import annotations

import audit
from audit.sheets import MAX_BYTES

CLAIMS = "claim_id,quantity,relation,value\nC1,ra,at_least,90\n"
HEADER = 'Report no.,LR-0431\nLaboratory,Fenside\nMethod,"LM-79-19, CIE 13.3-1995"\n'


def run(folder, **files):
    for name, text in {"claims": CLAIMS, **files}.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return audit.run(folder)


def test_the_report_shows_what_documents_say_of_their_test(tmp_path):
    done = run(tmp_path, photometry=HEADER + "Standing,accredited report\n\nserial,Ra\n1,95.0\n")
    told = {each["path"]: (each["report_number"], each["laboratory"], each["method"]) for each in done.report.inputs}
    assert told == {
        "claims.csv": ("", "", ""),
        "photometry.csv": ("LR-0431", "Fenside", "ANSI/IES LM-79-19, CIE 13.3-1995"),
    }
    assert "standing_not_stated" not in {each["rule"] for each in done.observations}


def test_documents_without_a_standing_are_named_with_what_to_add(tmp_path):
    done = run(tmp_path, one="serial,Ra\n1,95.0\n", two="serial,Ra\n2,95.0\n")
    (found,) = [each for each in done.observations if each["rule"] == "standing_not_stated"]
    assert found["tier"] == "note"
    assert "one.csv, two.csv" in found["message"]
    assert "accredited report" in found["ask"]


def test_a_standing_in_the_wording_counts(tmp_path):
    done = run(tmp_path, sheet="Product data sheet,\n\nserial,Ra\n1,95.0\n")
    standing = {each["path"]: each["standing"] for each in done.report.inputs}
    assert standing["sheet.csv"] == "data sheet"
    assert done.findings[0]["verdict"] == "unevidenced"  # a data sheet neither supports nor contradicts


def test_documents_with_one_report_number_are_one_test(tmp_path):
    done = run(tmp_path, one=HEADER + "\nserial,Ra\n1,95.0\n", two=HEADER + "\nserial,Rf\n1,90\n")
    assert set(done.evidence.documents["test"]) == {"LR-0431"}


def test_files_that_are_too_large_are_neither_read_nor_hashed_and_no_copies_of_each_other(tmp_path):
    for name in ("tide.csv", "ebb.csv"):
        with (tmp_path / name).open("wb") as stream:
            stream.truncate(MAX_BYTES + 1)  # sparse: no such bytes are written
    done = run(tmp_path, one="serial,Ra\n1,95.0\n")
    assert {each["path"]: bool(each["sha256"]) for each in done.report.inputs} == {
        "claims.csv": True, "ebb.csv": False, "one.csv": True, "tide.csv": False,
    }  # fmt: skip
    refused = [each for each in done.observations if each["rule"] == "document_not_read"]
    assert [each["document"] for each in refused] == ["ebb.csv", "tide.csv"]
    assert all("200,000,001 bytes, more than the 200,000,000" in each["message"] for each in refused)
    assert "document_copied" not in {each["rule"] for each in done.observations}
