"""findings.xlsx: its sheets, numbers, links and limits, and no text that a spreadsheet could run."""

from __future__ import annotations

import dataclasses
import io
import re
import time
from pathlib import Path

import openpyxl
import pytest
from workbook_parts import NAMES, Parts

import audit
from audit.habit import HABITS
from audit.model import VERDICTS, Report
from plugins.outputs import cells, glossary, text, workbook, workbook_evidence

HOME = Path(__file__).parents[2]
ORDER = ["findings", "questions", "observations", "readings", "spectra", "documents", "about"]
FORMULAS = [
    "=1+1",
    "+1",
    "-1+cmd|' /C calc'!A0",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    '=HYPERLINK("http://x.example")',
    "＝1",
]
TEXTS = ("claim_id", "product", "quantity", "unit", "claim", "message", "ask", "method", "identity")


def parts(report: Report) -> Parts:
    return Parts(workbook.write(report))


@pytest.fixture(scope="module")
def gallery() -> Report:
    return dataclasses.replace(audit.run(HOME / "sample_reports" / "gallery").report, way="../gallery")


@pytest.fixture(scope="module")
def gallery_parts(gallery) -> Parts:
    return parts(gallery)


def test_the_sheets_stand_in_the_order_of_need(report):
    book = parts(report)
    assert list(book.sheets) == ORDER
    for name, sheet in book.sheets.items():
        pane = sheet.find(".//m:pane", NAMES).attrib
        assert (pane["state"], pane["ySplit"]) == ("frozen", "1")
        count = len(book.rows(name))
        assert sheet.find("m:autoFilter", NAMES).attrib["ref"].startswith("A1:")
        assert sheet.find("m:autoFilter", NAMES).attrib["ref"].endswith(str(count + 1))
        setup = sheet.find("m:pageSetup", NAMES).attrib
        assert (setup["orientation"], setup["paperSize"], setup["fitToHeight"]) == ("landscape", "9", "0")
    titles = [each.text for each in book.xml("xl/workbook.xml").iterfind(".//m:definedName", NAMES)]
    assert {f"{name}!$1:$1" for name in ORDER} <= set(titles)  # the headings on every printed page


def test_a_row_per_claim_says_what_the_report_says(report):
    rows = parts(report).rows("findings")
    assert [row["claim"] for row in rows] == ["G01", "G02", "G03", "G04", "G05"]
    for row, finding in zip(rows, report.findings, strict=True):
        assert row["verdict"] == finding["verdict"]
        assert row["finding"] == finding["message"]
        assert row["question"] == finding["ask"]
        assert row["reasons"] == ", ".join(finding["reasons"])
        assert row["method"] == finding["method"]
        assert row["identity"] == finding["identity"]
        for heading, key in (("value", "value"), ("± (k = 2)", "expanded_uncertainty"), ("margin", "margin")):
            assert (float(row[heading]) if row[heading] else None) == finding[key]
    assert [(row["at least"], row["at most"]) for row in rows[:3]] == [("90", ""), ("-0.003", "0.003"), ("89", "")]


def test_numbers_are_numbers_shown_with_the_digits_that_count(report):
    book = openpyxl.load_workbook(io.BytesIO(workbook.write(report)))
    sheet = book["findings"]
    heading = {cell.value: cell.column for cell in sheet[1]}
    duv = sheet.cell(3, heading["value"])
    # Two significant digits of U = 0.00060 (JCGM 100:2008, 7.2.6).
    assert (duv.value, duv.data_type, duv.number_format) == (-0.004712, "n", "0.00000")
    assert sheet.cell(3, heading["margin"]).number_format == "+0.00000;-0.00000;0.00000"
    probability = sheet.cell(2, heading["conformance probability"])
    assert probability.value == pytest.approx(0.99999931)
    assert "above 99.9 %" in probability.number_format


def test_a_verdict_is_a_word_on_a_fill(report):
    book = openpyxl.load_workbook(io.BytesIO(workbook.write(report)))
    fills = {cell.value: cell.fill.fgColor.rgb for cell in book["findings"]["C"][1:]}
    assert set(fills) == set(VERDICTS)
    assert len(set(fills.values())) == 5
    assert {cell.value for cell in book["about"]["A"]} >= {*VERDICTS, *glossary.REASONS}


def test_every_piece_of_evidence_leads_to_its_reading(gallery, gallery_parts):
    rows = gallery_parts.rows("readings")
    assert len(rows) == len(gallery.readings)
    at = gallery_parts.column("findings", "rests on")
    for number, finding in enumerate(text.in_order(gallery.findings), start=2):
        if not finding["evidence"]:
            continue
        sheet, row = re.fullmatch(r"#'(\w+)'!A(\d+)", gallery_parts.links["findings"][f"{at}{number}"]).groups()
        reading = rows[int(row) - 2]
        first = min(finding["evidence"], key=lambda each: each["role"] != "deciding")
        assert sheet == "readings"
        assert (reading["document"], reading["place"], reading["text there"]) == (
            first["document"],
            first["place"],
            first["raw"],
        )
        assert float(reading["value"]) == pytest.approx(first["value"], rel=1e-14)
        assert f"{finding['claim_id']} ({first['role']})" in reading["bears on"]
    roles = sum(len(row["bears on"].split("GA-")) - 1 for row in rows)
    assert roles == sum(len(finding["evidence"]) for finding in gallery.findings)


def test_a_place_leads_to_the_cell_of_its_document(gallery_parts):
    at = gallery_parts.column("readings", "document")
    for number, row in enumerate(gallery_parts.rows("readings"), start=2):
        target = gallery_parts.links["readings"][f"{at}{number}"]
        name = row["document"].replace(" ", "%20")
        found = re.fullmatch(r"sheet '(.*)', row \d+, cell (\w+)", row["place"])
        assert target == f"..\\gallery\\{name}#" + (f"'{found[1]}'!{found[2]}" if found else "")


@pytest.mark.parametrize(
    ("path", "target"),
    [
        ("a b.csv", "external:../x/a%20b.csv"),
        ("50%25 #1.csv", "external:../x/50%2525%20%231.csv"),
        ("javascript:alert(1).csv", "external:../x/javascript%3Aalert(1).csv"),
        ("Prüfbericht.pdf", "external:../x/Prüfbericht.pdf"),
        ("sub/=1+1.csv", "external:../x/sub/=1+1.csv"),
        ("back\\slash.csv", ""),
        ("turned\u202e.csv", ""),
        ("x" * 3000, ""),
    ],
)
def test_a_document_s_name_stays_a_name_in_its_link(path, target):
    assert cells.file_link("../x", path) == target
    assert cells.file_link("", path) == ""


def test_without_a_way_to_the_documents_nothing_leads_outside(report):
    book = parts(report)
    assert not any("External" in data.decode() for name, data in book.files.items() if name.endswith(".rels"))


@pytest.mark.parametrize("words", FORMULAS)
def test_text_that_starts_like_a_formula_is_text(make_report, make_finding, report, words):
    finding = make_finding(**dict.fromkeys(TEXTS, words))
    finding["evidence"] = [{**each, "document": words, "place": words, "raw": words} for each in finding["evidence"]]
    remarks = [{**each, "message": words, "ask": words, "document": words} for each in report.observations]
    readings = [{**each, "product": words, "document": words, "raw": words} for each in report.readings]
    inputs = [{**each, "path": words, "laboratory": words} for each in report.inputs]
    hostile = make_report(findings=[finding], observations=remarks, readings=readings, inputs=inputs, folder=words)
    data = workbook.write(dataclasses.replace(hostile, way="../papers"))
    book = Parts(data)
    shown = words.replace("\t", "\\t").replace("\r", "\\r")
    for name, sheet in book.sheets.items():
        assert sheet.find(".//m:f", NAMES) is None
        assert {kind for kind, _ in book.cells(name).values()} <= {"inlineStr", "n"}
    assert book.rows("findings")[0]["finding"] == shown
    assert book.rows("readings")[0]["text there"] == shown
    cell = openpyxl.load_workbook(io.BytesIO(data))["findings"]["A2"]
    assert cell.data_type == "s"
    assert cell.quotePrefix is (shown[0] in "=+-@＝")  # a person who edits the cell finds text, not a formula


def test_hidden_characters_show_and_lines_stay(make_report, make_finding):
    finding = make_finding(message="a\u202eb\x00c\ufffe", ask='Add this:\n"Tc" = "case_C"', identity="_x0041_ \ud800")
    row = parts(make_report(findings=[finding])).rows("findings")[0]
    assert row["question"] == 'Add this:\n"Tc" = "case_C"'
    assert row["finding"] == "a\\u202eb\\u0000c\ufffe"
    assert row["identity"] == "_x0041_ \\ud800"  # not the A that a reader of the file would make of it


def test_a_cell_s_text_is_cut_with_a_remark(make_report, make_finding):
    long = "𝔄" * 20_000  # two UTF-16 units each
    row = parts(make_report(findings=[make_finding(message=long, ask="x" * 32_767)])).rows("findings")[0]
    assert row["question"] == "x" * 32_767
    kept, cut = re.fullmatch(r"(𝔄+) \.\.\. \(cut: (\d+) more characters\)", row["finding"]).groups()
    assert len(kept) + int(cut) == 20_000
    assert len(row["finding"].encode("utf-16-le")) // 2 <= 32_767


def test_rows_beyond_the_sheet_are_counted_in_its_last_row(report, monkeypatch):
    monkeypatch.setattr(cells, "MOST_ROWS", 12)
    monkeypatch.setattr(workbook, "MOST_ROWS", 12)
    book = parts(report)
    rows = book.rows("readings")
    assert len(rows) == 11
    assert rows[-1]["product"].startswith("30 more rows go beyond this sheet")
    about = {row["word"]: row["meaning"] for row in book.rows("about")}
    assert about["readings"].startswith("10 rows: every value")
    assert about["readings"].endswith("; 30 more rows go beyond this sheet: findings.json and the documents hold them")


def test_links_beyond_what_a_sheet_can_hold_are_words(report, monkeypatch):
    monkeypatch.setattr(cells, "MOST_LINKS", 5)
    book = parts(dataclasses.replace(report, way=".."))
    assert len(book.links["readings"]) == 5
    assert all(row["document"] for row in book.rows("readings")[:-1])
    assert "35 more links go beyond" in {row["word"]: row["meaning"] for row in book.rows("about")}["readings"]


def test_spectra_stand_on_their_own_wavelengths(report):
    rows = parts(report).rows("spectra")
    assert [row["400"] for row in rows] == ["0.25"] * 4
    assert [row["405"] for row in rows] == ["0.25", "", "0.25", ""]  # nothing is resampled
    assert [(row["from (nm)"], row["to (nm)"]) for row in rows] == [("400", "420")] * 4
    assert [row["values"] for row in rows] == ["5", "3", "5", "3"]


def test_spectra_left_out_are_counted(report, monkeypatch):
    monkeypatch.setattr(workbook_evidence, "MOST_SPECTRAL_VALUES", 10)
    book = parts(report)
    assert [row["product"] for row in book.rows("spectra")][2:] == ["2 more spectra are in the documents"]
    assert "2 more spectra" in {row["word"]: row["meaning"] for row in book.rows("about")}["spectra"]


def test_questions_are_asked_once_and_name_who_raised_them(make_report, make_finding, report):
    asks = [make_finding(claim_id=name, ask="Which edition?", verdict="inconclusive") for name in ("B1", "A1")]
    book = parts(make_report(findings=[*asks, make_finding(claim_id="C1")], missing=["a waveform"]))
    rows = book.rows("questions")
    assert rows[0]["question"] == "Which edition?"
    assert rows[0]["about"].startswith("A1, ")
    assert "B1, " in rows[0]["about"]
    assert rows[0]["raised by"] == "inconclusive"
    assert book.links["questions"]["C2"] == "#'findings'!A2"
    asked = [each["ask"] for each in text.by_tier(report.observations) if each["ask"] and each["tier"] != "note"]
    assert [row["question"] for row in rows[1:]] == [*asked, "Please add a waveform."]
    assert {row["answer"] for row in rows} == {""}


def test_decisions_stand_beside(decided):
    book = parts(decided)
    row = book.rows("findings")[1]
    assert row["decisions"].startswith("rejected by R. Glasswort, 2026-05-31: the maker withdrew")
    assert "emergency" not in row["decisions"]
    assert any("accepted by" in each["decisions"] for each in book.rows("observations"))


def test_dates_are_dates_where_they_can_be(report):
    documents = {row["document"]: row for row in parts(report).rows("documents")}
    row = documents["LR-0417 photometry.xlsx"]
    # 14 April 2026 is day 46126 of the 1900 date system (ECMA-376 part 1, 18.17.4.1).
    assert (row["tested on"], row["issued on"]) == ("46126", "in spring")
    book = openpyxl.load_workbook(io.BytesIO(workbook.write(report)))
    assert f"{book['documents']['H3'].value:%Y-%m-%d}" == "2026-04-14"


@pytest.mark.parametrize(("habit", "paper", "shown"), [("eu", "9", "d mmmm yyyy"), ("us", "1", "mmmm d, yyyy")])
def test_paper_dates_and_units_follow_the_habit(report, habit, paper, shown):
    said = dataclasses.replace(report, habit=HABITS[habit])
    data = workbook.write(said)
    book = Parts(data)
    assert book.sheets["findings"].find("m:pageSetup", NAMES).attrib.get("paperSize", "1") == paper
    assert openpyxl.load_workbook(io.BytesIO(data))["documents"]["H3"].number_format == shown
    fahrenheit = [row.get("ambient temperature (°F)") for row in book.rows("spectra")]
    assert fahrenheit == (["77"] * 4 if habit == "us" else [None] * 4)
    point = "," if habit == "eu" else "."
    assert (
        f"0{point}04 below the limit, with an expanded uncertainty of 1{point}0" in book.rows("findings")[2]["finding"]
    )


def test_without_claims_it_says_what_is_missing(without_claims):
    book = parts(without_claims)
    assert book.rows("findings") == []
    asked = [row["question"] for row in book.rows("questions")]
    assert asked[-2:] == [f"Please add {each}." for each in without_claims.missing]


def test_same_report_same_bytes_at_any_time(report, monkeypatch):
    first = workbook.write(report)
    monkeypatch.setattr(time, "time", lambda: 2e9)
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")
    time.tzset()
    try:
        assert workbook.write(report) == first
    finally:
        monkeypatch.undo()
        time.tzset()
    assert b"1980-01-01T00:00:00Z" in Parts(first).files["docProps/core.xml"]


def test_the_date_in_it_can_be_set(report, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772323200")
    assert b"2026-03-01T00:00:00Z" in parts(report).files["docProps/core.xml"]
