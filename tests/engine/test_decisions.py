"""decisions.csv: what people decided stands beside the results, fits or is stale, and changes nothing."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

import audit
from audit.cli import main
from audit.decided import READING, Known
from audit.decisions import DECISION_COLUMNS, MOST_BYTES, MOST_TOLD
from audit.identities import clean, reading_identity

HEAD = "claim_id,product,quantity,relation,value,value_to"
CLAIM = "A,Sedge,ra,at_least,90,"
GOOD = "serial,Ra,U(Ra)\n1,93.0,1.0\n2,92.0,1.0\n"
WORST = "report.csv | row 3, cell B3 | 92.0"
BY = ("the laboratory wrote on 12 May", "M. Glasswort", "2026-05-31")


def folder_with(tmp_path: Path, decisions: list[tuple[str, ...]] | str = "", claims: str = CLAIM, **files: str) -> Path:
    """Return a folder with a claims sheet, a report and decisions; a decision is identity, decision, value ..."""
    tmp_path.mkdir(parents=True, exist_ok=True)
    files = {"report__csv": GOOD, "claims__csv": f"{HEAD}\n{claims}\n"} | files
    for name, text in files.items():
        (tmp_path / name.replace("__", ".")).write_text(text, encoding="utf-8")
    text = decisions if isinstance(decisions, str) else table(decisions)
    if text:
        (tmp_path / "decisions.csv").write_text(text, encoding="utf-8")
    return tmp_path


def table(rows: list[tuple[str, ...]]) -> str:
    stream = io.StringIO()
    csv.writer(stream).writerows([DECISION_COLUMNS, *((*row, *BY[len(row) - 3 :]) for row in rows)])
    return stream.getvalue()


def told(run: Any, rule: str) -> list[dict[str, Any]]:
    return [row for row in run.observations if row["rule"] == rule]


def untouched(run: Any) -> list[dict[str, Any]]:
    return [{**row, "decisions": [], "if_corrected": None} for row in run.findings]


def test_a_decision_stands_beside_the_finding_and_changes_nothing(tmp_path):
    before = audit.run(folder_with(tmp_path))
    identity = before.findings[0]["identity"]
    run = audit.run(folder_with(tmp_path, [(identity, "rejected", "")]))
    (beside,) = run.findings[0]["decisions"]
    assert (beside["decision"], beside["reason"], beside["person"], beside["date"]) == ("rejected", *BY)
    assert (beside["about"], beside["document"], beside["place"]) == ("finding", "decisions.csv", "row 2, cell A2")
    assert untouched(run) == before.findings
    assert run.observations == before.observations
    assert run.report.readings == before.report.readings
    assert run.exit_status == before.exit_status == 0


def test_decisions_are_an_input_and_never_evidence(tmp_path):
    text = table([(WORST, "accepted", "")]).replace("date\r\n", "date,Ra,serial\r\n").replace("05-31", "05-31,12.0,3")
    run = audit.run(folder_with(tmp_path, text))
    assert {row["path"]: row["role"] for row in run.report.inputs}["decisions.csv"] == "decisions"
    assert {row["document"] for row in run.report.readings} == {"report.csv"}
    assert "'ra', 'serial'" in told(run, "decision_not_read")[0]["message"]
    assert len(run.report.decisions) == 1


def test_a_folder_is_left_as_it_was(tmp_path):
    folder = folder_with(tmp_path / "papers", [(WORST, "corrected", "88.0"), ("gone | 1", "accepted", "")])
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    CliRunner().invoke(main, ["audit", str(folder), "--out", str(tmp_path / "out")])
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"findings.json", "findings.xlsx", "report.html"}


def test_every_identity_in_the_report_can_be_copied_into_a_decision(tmp_path):
    odd = {"a | b__csv": "serial,Ra,tide\n1,93.0,low\n", "=1+1 <b>  \u202e__csv": GOOD}
    claims = f"{CLAIM}\n=B | 2,Sedge,rf,at_least,1,\n,Sedge,ra,at_least,1,"
    folder = folder_with(tmp_path / "papers", claims=claims, **odd)
    CliRunner().invoke(main, ["audit", str(folder), "--out", str(tmp_path / "out")])
    found = json.loads((tmp_path / "out" / "findings.json").read_text(encoding="utf-8"))
    rows = [
        *found["findings"],
        *found["observations"],
        *(row for each in found["findings"] for row in each["evidence"]),
    ]
    identities = list(dict.fromkeys(row["identity"] for row in rows))
    assert len(identities) >= 8
    run = audit.run(folder_with(folder, [(each, "accepted", "") for each in identities], claims=claims))
    assert {row["about"] for row in run.report.decisions} == {"finding", "observation", "reading"}
    assert [row["identity"] for row in run.report.decisions if row["stale"]] == []
    assert all(row["decisions"] for row in run.observations if row["made_by"] != "decisions")


def test_a_file_of_another_name_is_the_same_evidence(tmp_path):
    identity = audit.run(folder_with(tmp_path)).findings[0]["identity"]
    (tmp_path / "report.csv").rename(tmp_path / "LR-0417.csv")
    (tmp_path / "decisions.csv").write_text(table([(identity, "accepted", "")]), encoding="utf-8")
    assert [len(row["decisions"]) for row in audit.run(tmp_path).findings] == [1]


@pytest.mark.parametrize(
    ("claims", "report", "changed"),
    [
        ("A,Sedge,ra,at_least,91.5,", GOOD, "the claim; the verdict or the value"),
        ("A,Sedge,ra,at_least,90.1,", GOOD, "the claim"),
        (CLAIM, GOOD.replace("92.0", "91.9"), "the verdict or the value; the deciding evidence"),
        (CLAIM, GOOD.replace("93.0", "93.1"), "the deciding evidence"),
        (CLAIM, "serial,Rf\n1,93.0\n", "the verdict or the value; the deciding evidence"),
    ],
)
def test_a_finding_that_changed_makes_its_decision_stale(tmp_path, claims, report, changed):
    identity = audit.run(folder_with(tmp_path)).findings[0]["identity"]
    run = audit.run(folder_with(tmp_path, [(identity, "accepted", "")], claims=claims, report__csv=report))
    (stale,) = told(run, "decision_stale")
    assert f"changed: {changed}; now it is" in stale["message"]
    assert run.findings[0]["identity"] in stale["message"]
    assert (stale["tier"], stale["document"], stale["place"]) == ("minor", "decisions.csv", "row 2, cell A2")
    assert "new identity" in stale["ask"]
    assert run.findings[0]["decisions"] == []


@pytest.mark.parametrize("identity", ["A", "A | 1", "A | 1-2-3-4", "A | -", "A | 3f9a01-01c27b-77aa12 | B"])
def test_a_mangled_identity_of_a_claim_is_stale_and_the_true_one_is_told(tmp_path, identity):
    run = audit.run(folder_with(tmp_path, [(identity, "accepted", "")]))
    assert run.findings[0]["identity"] in told(run, "decision_stale")[0]["message"]


def test_a_reading_that_changed_makes_its_decision_stale(tmp_path):
    rows = [(WORST, "corrected", "92.4")]
    run = audit.run(folder_with(tmp_path, rows, report__csv=GOOD.replace("92.0", "92.40")))
    assert "another text stands there" in told(run, "decision_stale")[0]["message"]
    assert "row 3, cell B3 | 92.40" in told(run, "decision_stale")[0]["message"]
    assert run.findings[0]["if_corrected"] is None


def test_an_observation_that_changed_makes_its_decision_stale(tmp_path):
    first = audit.run(folder_with(tmp_path, report__csv="serial,Ra,tide\n1,93.0,low\n"))
    (before,) = told(first, "column_unknown")
    rows = [(before["identity"], "accepted", "")]
    run = audit.run(folder_with(tmp_path, rows, report__csv="serial,Ra,tide\n1,93.0,high\n"))
    assert "says something else" in told(run, "decision_stale")[0]["message"]
    assert told(run, "column_unknown")[0]["identity"] in told(run, "decision_stale")[0]["message"]


@pytest.mark.parametrize("identity", ["gone", "Z | 1-2-3", "other.csv | row 3, cell B3 | 92.0", "=1+1", " | "])
def test_an_identity_of_nothing_is_stale(tmp_path, identity):
    run = audit.run(folder_with(tmp_path, [(identity, "accepted", "")]))
    (stale,) = told(run, "decision_stale")
    assert "has that identity" in stale["message"]
    assert "copy" in stale["ask"]
    assert [row["stale"] != "" for row in run.report.decisions] == [True]


def test_a_correction_is_tried_out_and_told_beside_the_finding(tmp_path):
    before = audit.run(folder_with(tmp_path))
    run = audit.run(folder_with(tmp_path, [(WORST, "corrected", "88.1")]))
    finding = run.findings[0]
    assert untouched(run) == before.findings
    assert run.exit_status == 0
    assert (finding["if_corrected"]["verdict"], finding["if_corrected"]["value"]) == ("contradicted", 88.1)
    assert finding["if_corrected"]["message"] == (
        "with the correction of report.csv, row 3, cell B3 to 88.1: contradicted, misses as measured, 88.1"
    )
    assert [row["value"] for row in finding["decisions"]] == ["88.1"]
    assert run.report.decisions[0]["bears_on"] == ["A"]


def test_a_correction_that_decides_nothing_says_so_too(tmp_path):
    run = audit.run(folder_with(tmp_path, [("report.csv | row 2, cell B2 | 93.0", "corrected", "93.5")]))
    assert run.findings[0]["if_corrected"]["message"].endswith("supported, meets as measured, 92.0")


def test_corrections_are_tried_out_together(tmp_path):
    rows = [(WORST, "corrected", "95.2"), ("report.csv | row 2, cell B2 | 93.0", "corrected", "94.1")]
    run = audit.run(folder_with(tmp_path, rows))
    assert run.findings[0]["value"] == 92.0
    assert run.findings[0]["if_corrected"]["value"] == 94.1


@pytest.mark.parametrize(
    ("report", "identity", "right", "value"),
    [
        ("serial;Luminous flux (klm)\n1;1.150\n", "row 2, cell B2 | 1.150", "1.250", 1250.0),
        ("serial\tluminous flux [lm]\n1\t1150\n", "row 2, cell B2 | 1150", "1250", 1250.0),
    ],
)
def test_a_correction_is_read_as_the_cell_it_mends(tmp_path, report, identity, right, value):
    claim = "A,Sedge,luminous_flux,at_least,1200,"
    run = audit.run(
        folder_with(tmp_path, [(f"report.csv | {identity}", "corrected", right)], claims=claim, report__csv=report)
    )
    assert run.findings[0]["value"] == 1150.0
    assert run.findings[0]["if_corrected"]["value"] == value


def test_a_number_in_a_workbook_is_corrected(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "Colour"
    for row in (["serial", "Ra"], ["1", 92.0]):
        book.active.append(row)
    folder = folder_with(tmp_path, [("lab.xlsx | sheet 'Colour', row 2, cell B2 | 92", "corrected", "81.5")])
    (folder / "report.csv").unlink()
    book.save(folder / "lab.xlsx")
    run = audit.run(folder)
    assert told(run, "decision_stale") == []
    assert (run.findings[0]["value"], run.findings[0]["if_corrected"]["value"]) == (92.0, 81.5)


def test_what_stands_behind_a_key_is_corrected(tmp_path):
    export = "Report number: LR-0417\nCCT (K): 3010\nRa: 92.0\nR9: 55\n"
    folder = folder_with(tmp_path, [("report.txt | row 3, cell A3 | 92.0", "corrected", "85.0")], report__txt=export)
    (folder / "report.csv").unlink()
    run = audit.run(folder)
    assert [row["message"] for row in told(run, "decision_stale")] == []
    assert (run.findings[0]["value"], run.findings[0]["if_corrected"]["value"]) == (92.0, 85.0)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ([("{finding}", "corrected", "93")], "a finding can't be corrected"),
        ([(WORST, "corrected", "91"), (WORST, "corrected", "92.5")], "other rows correct it differently (91, 92.5)"),
        ([(WORST, "corrected", "ninety-two")], "'ninety-two' isn't read from that cell"),
    ],
)
def test_a_correction_that_cant_be_used_is_told(tmp_path, rows, message):
    finding = audit.run(folder_with(tmp_path)).findings[0]["identity"]
    rows = [(identity.format(finding=finding), *others) for identity, *others in rows]
    run = audit.run(folder_with(tmp_path, rows))
    faults = told(run, "decision_not_read")
    assert len(faults) == len(rows)
    assert all(message in row["message"] and row["ask"] and row["place"] for row in faults)


def test_a_computed_value_cant_be_corrected(tmp_path):
    nm = range(380, 785, 5)
    spectrum = "wavelength (nm),1\n" + "\n".join(f"{each},{1 + (each - 380) / 400:.4f}" for each in nm) + "\n"
    first = audit.run(folder_with(tmp_path, report__csv=spectrum))
    identity = first.findings[0]["evidence"][0]["identity"]
    run = audit.run(folder_with(tmp_path, [(identity, "corrected", "1")], report__csv=spectrum))
    assert "only what is printed in one cell" in told(run, "decision_not_read")[0]["message"]


@pytest.mark.parametrize(
    ("row", "cell", "words"),
    [
        (("", "accepted", ""), "A2", "text of 1 to 1000 characters"),
        (("A" * 1001, "accepted", ""), "A2", "text of 1 to 1000 characters"),
        ((WORST, "approved", ""), "B2", "one of: accepted, corrected, rejected"),
        ((WORST, "corrected", ""), "C2", "the right text of the cell"),
        ((WORST, "accepted", "92.4"), "C2", "leave value blank"),
        ((WORST, "accepted", "", ""), "D2", "text of 1 to 2000 characters"),
        ((WORST, "accepted", "", "seen", ""), "E2", "text of 1 to 200 characters"),
        ((WORST, "accepted", "", "seen", "M. Glasswort", "31/05/2026"), "F2", "a date as 2026-05-31"),
        ((WORST, "accepted", "", "seen", "M. Glasswort", "2026-02-30"), "F2", "a date as 2026-05-31"),
    ],
)
def test_a_row_that_cant_be_read_is_told_with_its_cell_and_the_rest_stand(tmp_path, row, cell, words):
    run = audit.run(folder_with(tmp_path, [row, (WORST, "accepted", "")]))
    (fault,) = told(run, "decision_not_read")
    assert fault["place"] == f"row 2, cell {cell}"
    assert words in fault["ask"]
    assert fault["tier"] == "minor"
    assert [each["place"] for each in run.report.decisions] == ["row 3, cell A3"]
    assert run.exit_status == 0


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"identity,decision\nA,accepted\n",
        b"\xff\xd8\xff\xe0" + bytes(range(256)) * 8,
        b'identity,decision,value,reason,person,date\n"open,accepted,,a,b,2026-05-31\n',
        b"PK\x03\x04 no workbook",
        b"x" * (MOST_BYTES + 1),
    ],
    ids=["empty", "headings missing", "a picture", "open quote", "broken workbook", "huge"],
)
def test_a_file_that_cant_be_read_is_told_and_changes_no_status(tmp_path, raw):
    folder = folder_with(tmp_path)
    (folder / "decisions.csv").write_bytes(raw)
    run = audit.run(folder)
    (fault,) = told(run, "decisions_not_read")
    assert (fault["tier"], fault["document"]) == ("minor", "decisions.csv")
    assert fault["ask"]
    assert (run.exit_status, len(run.report.decisions)) == (0, 0)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_decisions_saved_by_any_spreadsheet_are_read(tmp_path, encoding, mark):
    folder = folder_with(tmp_path)
    rows = list(csv.reader(io.StringIO(table([(WORST, "accepted", "")]))))
    text = "\r\n".join(mark.join(f'"{cell}"' for cell in row) for row in rows)
    (folder / "Decisions.CSV").write_bytes(text.encode(encoding))
    run = audit.run(folder)
    assert [len(row["decisions"]) for row in run.findings] == [1]


def test_hostile_words_are_shown_inert(tmp_path):
    row = (WORST, "accepted", "", "<script>alert(1)</script>", '=HYPERLINK("x")\u202e', "2026-05-31")
    folder = folder_with(tmp_path / "papers", [row, ("<img src=x>", *row[1:])])
    result = CliRunner().invoke(main, ["audit", str(folder), "--out", str(tmp_path / "out")])
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert result.exit_code == 0
    assert "<script>alert" not in page
    assert "<img" not in page
    assert "\u202e" not in page + result.output


def test_many_faults_are_counted_and_not_told_one_by_one(tmp_path):
    rows = [("nothing of ours | 1", "accepted", "")] * 3000 + [(WORST, "approved", "")] * 3000
    run = audit.run(folder_with(tmp_path, rows))
    assert len(told(run, "decision_stale")) == MOST_TOLD + 1
    assert len(told(run, "decision_not_read")) == MOST_TOLD + 1
    assert "2980 more" in " ".join(row["message"] for row in run.observations)


texts = st.text(max_size=200)


@given(texts, texts, texts)
def test_an_identity_is_found_as_it_was_written(document, place, raw):
    identity = reading_identity(document or "a", place, raw)
    known = Known()
    known.kinds[identity.stem][identity.tail] = READING
    assert clean(identity.text) == identity.text
    assert identity.text.isprintable()
    assert known.find(clean(f"  {identity.text} \n")) == identity
