"""What an audit says of the documents: laboratory, report number, method, and those that don't say what they are."""

from __future__ import annotations

from pathlib import Path

import pytest

import audit
from audit.gather import Part, gather
from audit.model import Document
from audit.recorder import Recorder
from audit.register import quantity_register
from audit.sheets import MAX_BYTES
from audit.tables import Tables, frame

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


def part(name, value=95.0):
    notes = Recorder(Document(f"{name}.csv", Path(name), 1, "0" * 64))
    notes.reading(notes.point(serial=name), "ra", value, notes.place(row=2, cell="B2", raw=str(value)))
    return Part(notes.document, "a reader", notes.tables())


def gathered(*parts):
    notes = Recorder(Document.nowhere())
    return gather(parts, {}, quantity_register(), notes), notes.observations


def units_of(evidence):
    """Return serial, document and value of every reading: its ids lead to them."""
    rows = evidence.readings.merge(evidence.points, on="point_id").merge(evidence.places, on="place_id")
    return list(rows[["serial", "document_id", "value"]].itertuples(index=False, name=None))


def test_frames_of_a_reader_stand_in_the_order_of_the_documents():
    frames = part("two", 92.0)
    tables = Tables({name: frames.tables[name] for name in frames.tables})
    evidence, seen = gathered(part("one", 91.0), Part(frames.document, "another", tables), part("three", 93.0))
    assert units_of(evidence) == [("one", 0, 91.0), ("two", 1, 92.0), ("three", 2, 93.0)]
    assert [each["rule"] for each in seen] == ["standing_not_stated"]


@pytest.mark.parametrize(
    "readings",
    [
        [(0, "ra", "ninety", float("nan"), float("nan"), "reported", "", -1, 0)],  # no number
        [(0, "ra", 90.0)],
        frame("readings", ()).drop(columns="origin"),
        frame("readings", ()).astype({"value": "str"}),
    ],
)
def test_rows_that_fit_no_table_cost_their_document_alone(readings):
    bad = part("two")
    bad.tables["readings"] = readings
    evidence, seen = gathered(part("one"), bad, part("three"))
    assert units_of(evidence) == [("one", 0, 95.0), ("three", 1, 95.0)]
    (told,) = [each for each in seen if each["rule"] == "reader_failed"]
    assert (told["document"], told["tier"]) == ("two.csv", "major")


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
