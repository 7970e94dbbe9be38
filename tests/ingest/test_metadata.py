"""What documents say about themselves: facts under keys and in free text, and nothing concluded from a word alone.

Designations of the methods: the titles of the standards themselves (ANSI/IES LM-79-19, CIE S 025/E:2015,
EN 13032-4:2015+A1:2019, CIE 13.3-1995).
"""

from __future__ import annotations

import pytest

from audit.model import Document
from plugins.ingest import dates, phrases, tabular
from plugins.ingest.metadata import DENIAL, HINT, Fact, facts_of_pair, facts_of_text

TABLE = "\nSerial,Ra\n1,90\n2,91\n"


def said(tables) -> dict[str, list[str]]:
    """Return key -> values of the metadata."""
    rows = tables["metadata"]
    return {key: rows.loc[rows["key"] == key, "value"].tolist() for key in dict.fromkeys(rows["key"])}


@pytest.mark.parametrize(
    ("text", "methods"),
    [
        ("LM-79-19", ["ANSI/IES LM-79-19"]),
        ("ANSI/IES LM-79-24", ["ANSI/IES LM-79-24"]),
        ("IESNA LM-79-2008", ["ANSI/IES LM-79-08"]),
        ("IES LM79:2008", ["ANSI/IES LM-79-08"]),
        ("LM-79 2019", ["ANSI/IES LM-79-19"]),
        ("LM–79–19", ["ANSI/IES LM-79-19"]),
        ("LM-79", ["ANSI/IES LM-79"]),
        ("LM-80-20, TM-21-21 and TM-30-18", ["ANSI/IES LM-80-20", "ANSI/IES TM-21-21", "ANSI/IES TM-30-18"]),
        ("LM-80 at 85 °C", ["ANSI/IES LM-80"]),
        ("CIE S 025/E:2015", ["CIE S 025/E:2015"]),
        ("cie s025", ["CIE S 025"]),
        ("CIE 13.3:1995", ["CIE 13.3-1995"]),
        ("CIE 224:2017", ["CIE 224:2017"]),
        ("DIN EN 13032-4:2015+A1:2019", ["EN 13032-4:2015+A1:2019"]),
        ("EN 13032-4", ["EN 13032-4"]),
        ("IEC TR 63158:2018", ["IEC TR 63158:2018"]),
        ("IEC 62717, EN IEC 62722-2-1", ["IEC 62717", "EN IEC 62722-2-1"]),
        ("CIE 1931", []),
        ("ISO/IEC 17025:2017", []),
        ("ELM-79-19", []),
        ("LM-790", []),
        ("60 000 h", []),
    ],
)
def test_methods_are_written_in_one_way(text, methods):
    assert phrases.methods(text) == methods


@pytest.mark.parametrize(
    ("text", "used"),
    [
        ("LM-79-19", True), ("LM-79-19 / CIE 13.3-1995", True), ("LM-79-19 test report", True),
        ("Tested in accordance with LM-79-19", True), ("Method: LM-79-19", True),
        ("not in accordance with LM-79-19", False), ("see the LM-79-19 report", False),
        ("deviations from LM-79-19: none", False), ("Rf (TM-30-18)", False), ("Rg, TM-30-18 bins", False),
    ],
)  # fmt: skip
def test_a_mention_is_no_statement_of_the_method(text, used):
    assert bool(phrases.methods_used(text)) is used


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Accredited to ISO/IEC 17025:2017", phrases.CLAIMED),
        ("This laboratory is accredited, certificate no. T-0815", phrases.CLAIMED),
        ("Accreditation No. 0815", phrases.CLAIMED),
        ("ISO/IEC 17025", phrases.HINTED),
        ("Measured in accordance with ISO/IEC 17025", phrases.HINTED),
        ("an accredited laboratory", phrases.HINTED),
        ("not accredited to ISO/IEC 17025", phrases.DENIED),
        ("Results marked * are outside the accreditation to ISO/IEC 17025", phrases.DENIED),
        ("accreditation to ISO/IEC 17025 pending", phrases.DENIED),
        ("Photometric test", ""),
    ],
)
def test_accreditation(text, said):
    assert phrases.accreditation(text) == said


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("Ambient temperature 25 degrees C.", 25), ("Ambient: 25.2 °C ± 0.5 °C", 25.2), ("ambient (25 ± 1) °C", 25),
        ("Room temperature 77 °F", 25), ("Ta = 24,8 °C", 24.8), ("Tamb 25 ℃", 25),
        ("tested at an ambient of 25 °C", 25),
        ("ta = 40 °C", None), ("rated ambient 40 °C", None), ("max. ambient temperature 45 °C", None),
        ("ambient -20 to 40 °C", None), ("ambient temperature: -20…+40 °C", None), ("ambient temperature 25", None),
        ("for ambient 35 °C and case 85 °C", None), ("ambient light 25 lx", None), ("Ta 25 Cd", None),
    ],
)  # fmt: skip
def test_the_ambient_of_a_test_is_no_rating(text, celsius):
    assert phrases.ambient(text) == celsius


@pytest.mark.parametrize(
    ("text", "supply"),
    [
        ("Supply: 230 V, 50 Hz", "230 V, 50 Hz"), ("Supply 120V AC 60Hz", "120 V AC, 60 Hz"),
        ("Tested at 230,0 V~ / 50 Hz", "230.0 V AC, 50 Hz"), ("powered with 24 V DC", "24 V DC"),
        ("Supply 220-240 V 50 Hz", ""), ("mains 120/277 V", ""), ("rated supply 230 V", ""), ("230 V", ""),
    ],
)  # fmt: skip
def test_supply(text, supply):
    assert phrases.supply_used(text) == supply


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Fenside Photometric Laboratory", True), ("Saltmarsh Light Lab Ltd", True), ("Prüflabor Quernstow", True),
        ("Test laboratory", False), ("Laboratory temperature", False), ("Our laboratory", False),
        ("Measured by Fenside Laboratory", False), ("Laboratory 3", False), ("fenside laboratory", False),
        ("Photometric report of Fenside", False), ("Label of the lamp", False),
    ],
)  # fmt: skip
def test_a_name_of_a_laboratory(text, name):
    assert phrases.laboratory_name(text) == (text if name else "")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("Report No. LR-0431", "LR-0431"), ("Test report no.: LR-0431/2", "LR-0431/2"), ("REPORT #77", "77"),
        ("Report number LR 0431", "LR 0431"), ("Report no. LR-0431 dated 4 March 2025", "LR-0431"),
        ("see report no. LR-0430", ""), ("Report no. of pages", ""), ("Report 2", ""), ("Test report", ""),
    ],
)  # fmt: skip
def test_a_report_number(text, number):
    assert phrases.report_number(text) == number


@pytest.mark.parametrize(
    ("text", "standing"),
    [
        ("Accredited test report", "accredited report"), ("SIMULATION REPORT", "simulation"),
        ("Simulated values, not measured.", "simulation"), ("Product data sheet", "data sheet"),
        ("Cut sheet", "data sheet"), ("Data sheet", ""), ("see product data sheet", ""),
        ("compared with a simulation", ""), ("test data sheet 3 of 5", ""),
    ],
)  # fmt: skip
def test_a_standing_is_read_from_a_whole_title_only(text, standing):
    assert phrases.standing_title(text) == standing


@pytest.mark.parametrize(
    ("key", "cell", "facts"),
    [
        ("report_number", "N/A", []),
        ("laboratory", "Unknown", []),
        ("report_number", "LR-0431", [Fact("report_number", "LR-0431")]),
        ("report_number", "LM-79-19 test report", [Fact("title", "LM-79-19 test report")]),
        ("report_number", "photometric test", [Fact("title", "photometric test")]),
        ("method", "LM-79-19; CIE 13.3-1995", [Fact("method", "ANSI/IES LM-79-19"), Fact("method", "CIE 13.3-1995")]),
        ("method", "integrating sphere", [Fact("method", "integrating sphere")]),
        ("supply", "230V 50Hz", [Fact("supply", "230 V, 50 Hz")]),
        ("supply", "220-240 V", [Fact("supply", "220-240 V")]),
        ("accreditation", "none", [Fact("accreditation", "none"), Fact(DENIAL, "none")]),
        ("accreditation", "Fen Accreditation Service", [Fact("accreditation", "Fen Accreditation Service"),
                                                         Fact(HINT, "Fen Accreditation Service")]),
    ],
)  # fmt: skip
def test_facts_under_a_key(key, cell, facts):
    assert facts_of_pair(key, cell) == facts


def test_an_accreditation_number_makes_the_report_an_accredited_one():
    assert Fact("standing", "accredited report", keyed=False) in facts_of_pair(
        "accreditation", "ISO/IEC 17025, no. 0815"
    )


def test_free_text_is_read_in_parts():
    facts = facts_of_text("Report No: LR-0431   Test date: 2025-03-04; Tested to LM-79-19 | Ambient: 25 °C\nS/N: PT-3")
    assert facts == [
        Fact("report_number", "LR-0431"),
        Fact("date_tested", "2025-03-04"),
        Fact("method", "ANSI/IES LM-79-19", keyed=False),
        Fact("ambient", "25 °C"),
        Fact("serial", "PT-3"),
    ]


@pytest.mark.parametrize("text", ["", "Photometric results", "x" * 5000, "Flux: 900 lm", "Note 3: see page 2"])
def test_other_texts_say_nothing(text):
    assert [fact for fact in facts_of_text(text) if fact.key != "remark"] == []


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("2025-03-04", "2025-03-04"), ("2025/3/4", "2025-03-04"), ("2021/01/04_23:14:46", "2021-01-04 23:14:46"),
        ("2025-03-04T00:00:00", "2025-03-04"), ("20250304", "2025-03-04"), ("04.03.2025", "2025-03-04"),
        ("23/04/2025", "2025-04-23"), ("04/23/2025", "2025-04-23"), ("05/05/2025", "2025-05-05"),
        ("4 March 2025", "2025-03-04"), ("Mar 4, 2025", "2025-03-04"), ("4. März 2025", "2025-03-04"),
        ("4 août 2025", "2025-08-04"), ("2025年3月4日", "2025-03-04"), ("March 2025", "2025-03"),
        ("4-Mar-2025", "2025-03-04"), ("2025-03-04 to 2025-03-06", "2025-03-04 to 2025-03-06"),
        ("03/04/2025", ""), ("03/04/25", ""), ("1 jui 2025", ""), ("31.02.2025", ""), ("Marsh 2025", ""), ("soon", ""),
    ],
)  # fmt: skip
def test_dates(text, iso):
    assert dates.settled(text) == iso


def test_both_readings_of_an_open_date():
    assert dates.open_readings("03/04/2025") == ("2025-04-03", "2025-03-04")
    assert dates.settled("03/04/2025", dates.DAY_FIRST) == "2025-04-03"
    assert dates.settled("03/04/2025", dates.MONTH_FIRST) == "2025-03-04"


def test_another_date_of_the_document_settles_the_order(read):
    tables = read("Date received,03/04/2025\nTest date,23/04/2025\n" + TABLE)
    assert said(tables) == {"date_received": ["2025-04-03"], "date_tested": ["2025-04-23"]}
    assert "date_ambiguous" not in tables.observed


def test_an_open_date_is_kept_as_it_stands_and_asked_about(read):
    tables = read("Test date,03/04/2025\n" + TABLE)
    assert said(tables) == {"date_tested": ["03/04/2025"]}
    found = tables.observation("date_ambiguous")
    assert found.tier == "minor"
    assert "2025-04-03 or 2025-03-04" in found.message
    assert 'dates = "day first"' in found.ask
    assert 'dates = "month first"' in found.ask


def test_dates_that_contradict_each_other_settle_nothing(read):
    tables = read("Date received,03/04/2025\nTest date,23/04/2025\nIssue date,04/25/2025\n" + TABLE)
    assert said(tables)["date_received"] == ["03/04/2025"]
    assert "date_ambiguous" in tables.observed


@pytest.mark.parametrize(("answer", "iso"), [("day first", "2025-04-03"), ("month first", "2025-03-04")])
def test_an_answer_settles_the_date(tmp_path, answer, iso):
    path = tmp_path / "table.csv"
    path.write_text("Test date,03/04/2025\n" + TABLE)
    rows = tabular.read(Document(path.name, path, path.stat().st_size, "", answers={"dates": answer}))["metadata"]
    found = dict(zip(rows["key"], rows["value"], strict=True))
    assert found["date_tested"] == iso
    assert found["answer"] == f'dates = "{answer}"'


HEADER = """\
Fenside Photometric Laboratory,
Test report no. LR-0431,
"Tested according to LM-79-19, supply 230 V, 50 Hz",
Accreditation,"ISO/IEC 17025:2017, no. 0815"
Date of issue,14.03.2025
Client,County museum
"""


def test_a_header_block_above_a_table(read):
    tables = read(HEADER + TABLE)
    assert tables.values == {"ra": [90, 91]}
    assert said(tables) == {
        "laboratory": ["Fenside Photometric Laboratory"],
        "report_number": ["LR-0431"],
        "method": ["ANSI/IES LM-79-19"],
        "accreditation": ["ISO/IEC 17025:2017, no. 0815"],
        "date_issued": ["2025-03-14"],
        "client": ["County museum"],
        "standing": ["accredited report"],
        "supply": ["230 V, 50 Hz"],
    }
    places = dict(zip(tables["metadata"]["key"], tables.cells("metadata"), strict=True))
    assert (places["laboratory"], places["report_number"], places["accreditation"]) == ("A1", "A2", "B4")
    assert tables.observation("standing_from_wording").tier == "note"


def test_a_stated_standing_outranks_the_wording(read):
    tables = read("Standing,simulation\nAccreditation,no. 0815\n" + TABLE)
    assert said(tables)["standing"] == ["simulation"]
    assert "accredited report" in tables.observation("standing_unclear").message


@pytest.mark.parametrize("line", ["ISO/IEC 17025,", "Accreditation,none", "an accredited laboratory,"])
def test_a_word_of_accreditation_is_asked_about(read, line):
    tables = read(line + "\n" + TABLE)
    assert "standing" not in said(tables)
    found = tables.observation("standing_unclear")
    assert found.tier == "minor"
    assert "accredited report" in found.ask


def test_a_denial_outweighs_the_number(read):
    tables = read("Accreditation,no. 0815\nResults marked * are not accredited,\n" + TABLE)
    assert "standing" not in said(tables)
    assert "not accredited" in tables.observation("standing_unclear").message


def test_a_fact_under_a_key_outranks_free_text(read):
    tables = read("Fenside Photometric Laboratory,\nLaboratory,Quernstow\n" + TABLE)
    assert said(tables) == {"laboratory": ["Quernstow"]}


def test_two_numbers_in_free_text_settle_nothing(read):
    tables = read("Report no. LR-0431,\nReport no. LR-0432,\n" + TABLE)
    assert said(tables) == {}
    found = tables.observation("document_not_one")
    assert (found.tier, found.place) == ("minor", "row 1, cell A1; row 2, cell A2")


def test_a_method_without_its_edition_is_the_one_that_has_it(read):
    tables = read('LM-79 test report,\nMethod,"LM-79-19, CIE 13.3"\n' + TABLE)
    assert said(tables) == {"method": ["ANSI/IES LM-79-19", "CIE 13.3"]}


def test_the_ambient_of_the_header_serves_rows_that_state_none(read_workbook):
    cover = [["Ambient temperature", "77 °F"], ["Report no.", "LR-0431"], ["Laboratory", "Fenside"]]
    data = [["Serial", "Ambient (°C)", "Ra"], ["1", "", 90], ["2", 35, 91]]
    tables = read_workbook({"cover": cover, "data": data})
    assert dict(zip(tables["points"]["serial"], tables["points"]["ambient_C"], strict=True)) == {"1": 25, "2": 35}
    found = tables.observation("ambient_from_header")
    assert (found.tier, found.place) == ("note", "sheet 'cover', row 1, cell B1")
    assert "1 operating point" in found.message
    assert said(tables)["ambient"] == ["25 °C"]


def test_two_ambients_serve_no_row(read_workbook):
    lines = [["Ambient temperature", "25 °C"], ["Report no.", "LR-0431"], ["Laboratory", "Fenside"]]
    other = [["Ambient temperature", "40 °C"], ["Report no.", "LR-0431"], ["Laboratory", "Fenside"]]
    tables = read_workbook({"a": lines, "b": other, "data": [["Serial", "Ra"], ["1", 90]]})
    assert tables["points"]["ambient_C"].isna().all()
    assert "ambient" not in said(tables)
    found = tables.observation("ambient_unclear")
    assert found.place == "sheet 'a', row 1, cell B1; sheet 'b', row 1, cell B1"


def test_tables_with_an_ambient_of_their_own_need_no_word(read_workbook):
    def sheet(ambient):
        return [["Ambient temperature", ambient], [], ["Serial", "Ra"], ["1", 90]]

    tables = read_workbook({"a": sheet("25 °C"), "b": sheet("40 °C")})
    assert tables["points"]["ambient_C"].tolist() == [25, 40]
    assert not {"ambient_unclear", "ambient_from_header"} & tables.observed.keys()
