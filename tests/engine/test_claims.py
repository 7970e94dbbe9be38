"""Claims sheets: the exact columns, units, ranges, and every fault named with its cell and remedy."""

import math
from pathlib import Path

import openpyxl
import pytest

from audit.claims import product_key, read_claims, sheets_with_claims
from audit.model import Document, Refusal
from audit.numbers import Span
from audit.recorder import Recorder
from audit.register import quantity_register

HEAD = "claim_id,product,quantity,relation,value,value_to,unit"


def read(tmp_path: Path, text: str, name: str = "claims.csv"):
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    return read_file(file)


def read_file(file: Path):
    document = Document(file.name, file, file.stat().st_size, "0" * 64)
    notes = Recorder(document)
    found = sheets_with_claims(document, file.read_bytes()[:65536])
    claims = list(read_claims(document, found, quantity_register(), notes))
    return claims, notes.observations


def test_relations_become_limits(tmp_path):
    claims, notes = read(
        tmp_path,
        f"{HEAD}\nA,P,ra,at_least,90,,\nB,P,thd_current,at_most,15,,%\nC,P,cct,between,2900,3100,K\n"
        "D,P,duv,within,0,0.003,1\nE,P,nominal_cct,is,3000,,K\n",
    )
    assert [(claim.lower, claim.upper) for claim in claims] == [
        (90, math.inf),
        (-math.inf, 15),
        (2900, 3100),
        (-0.003, 0.003),
        (3000, 3000),
    ]
    assert notes == []


def test_units_are_converted_and_a_half_width_takes_no_offset(tmp_path):
    claims, _ = read(
        tmp_path,
        f"{HEAD}\nA,P,luminous_flux,at_least,1.2,,klm\nB,P,case_temperature,within,176,9,°F\n"
        "C,P,power_factor,at_least,95,,%\n",
    )
    assert claims[0].lower == pytest.approx(1200)
    assert (claims[1].lower, claims[1].upper) == pytest.approx((75, 85))
    assert claims[2].lower == pytest.approx(0.95)


def test_conditions_are_values_ranges_and_text(tmp_path):
    claims, _ = read(
        tmp_path,
        "claim_id,quantity,relation,value,serial,hours,cct_setting_K,scene,population_percent\n"
        "A,ra,at_least,90,07,6000,6500 to 2700,late opening,95\n",
    )
    assert claims[0].conditions == {
        "serial": "07",
        "hours": Span(6000, 6000),
        "cct_setting_K": Span(2700, 6500),
        "scene": "late opening",
    }
    assert claims[0].population_percent == 95


@pytest.mark.parametrize(
    ("row", "cell", "told", "remedy"),
    [
        ("A,P,r_9,at_least,50,,", "C2", "no quantity 'r_9'", "did you mean 'r9'"),
        ("A,P,colour rendering index,at_least,50,,", "C2", "no quantity", "did you mean 'ra'"),
        ("A,P,ra,more_than,50,,", "D2", "relation is 'more_than'", "at_least, at_most"),
        ("A,P,ra,is,90,,", "D2", "'is' doesn't fit the general colour rendering index", "at_least, at_most, between"),
        ("A,P,nominal_cct,at_least,3000,,K", "D2", "nominal CCT, which is a class", "write is"),
        ("A,P,nominal_cct,is,30000,,K", "E2", "is never 30000", "from 2200 to 6500"),
        ("A,P,nominal_cct,is,3000,3500,K", "F2", "takes one number", "clear value_to"),
        ("A,P,ra,at_least,ninety,,", "E2", "value is 'ninety'", "plain number"),
        ("A,P,cct,between,3000,,K", "F2", "needs a second number", "value_to"),
        ("A,P,cct,between,3100,2900,K", "F2", "below the lower", "lower limit in value"),
        ("A,P,cct,within,3000,-50,K", "F2", "below the lower", "± is positive"),
        ("A,P,ra,at_least,90,95,", "F2", "takes one number", "clear value_to"),
        ("A,P,cct,between,,3100,K", "E2", "needs a first number", "fill in value"),
        ("A,P,ra,at_least,180,,", "E2", "is never 180", "from -1000 to 100"),
        ("A,P,luminous_flux,at_least,-5,,lm", "E2", "is never -5", "correct the limit"),
        ("A,P,cct,at_least,3000,,lm", "G2", "'lm' is not a unit", "never guessed"),
        ("A,P,ra,at_least,90,,%", "G2", "'%' is not a unit", "never guessed"),
        (",P,ra,at_least,90,,", "A2", "claim_id is ''", "of its own"),
    ],
)
def test_a_fault_costs_its_row_and_is_told_with_cell_and_remedy(tmp_path, row, cell, told, remedy):
    claims, notes = read(tmp_path, f"{HEAD}\n{row}\nZ,P,ra,at_least,80,,\n")
    assert [claim.claim_id for claim in claims] == ["Z"]
    assert len(notes) == 1
    assert notes[0]["tier"] == "major"
    assert notes[0]["place"] == f"row 2, cell {cell}"
    assert told in notes[0]["message"]
    assert remedy in notes[0]["ask"]


def test_a_row_with_a_hash_alone_is_a_remark_and_never_told(tmp_path):
    remarks = "#,which product,one of the list,,a number\n #,,,,,,,far out\n"
    claims, notes = read(tmp_path, f"{HEAD}\n{remarks}A,P,ra,at_least,90,,\n#,,,,,,\n")
    assert [(claim.claim_id, claim.place) for claim in claims] == [("A", "row 4")]
    assert notes == []


@pytest.mark.parametrize("name", ["#1", "# 1", "##", "C#"])
def test_an_id_with_a_hash_in_it_is_an_id(tmp_path, name):
    claims, _ = read(tmp_path, f"{HEAD}\n{name},P,ra,at_least,90,,\n")
    assert [claim.claim_id for claim in claims] == [name]


def test_a_doubled_claim_id_keeps_the_first(tmp_path):
    claims, notes = read(tmp_path, f"{HEAD}\nA,P,ra,at_least,90,,\nA,P,rf,at_least,80,,\n")
    assert [claim.quantity.name for claim in claims] == ["ra"]
    assert notes[0]["place"] == "row 3, cell A3"
    assert "row 2 has that claim_id already" in notes[0]["message"]


def test_a_bad_condition_names_its_cell(tmp_path):
    claims, notes = read(tmp_path, "claim_id,quantity,relation,value,hours\nA,ra,at_least,90,long\n")
    assert claims == []
    assert notes[0]["place"] == "row 2, cell E2"
    assert "a to b" in notes[0]["ask"]


@pytest.mark.parametrize("share", ["0", "100", "120"])
def test_an_impossible_share_is_refused(tmp_path, share):
    claims, notes = read(tmp_path, f"claim_id,quantity,relation,value,population_percent\nA,ra,at_least,90,{share}\n")
    assert claims == []
    assert "can't be shown" in notes[0]["message"]


def test_a_strange_column_is_observed(tmp_path):
    claims, notes = read(tmp_path, "claim_id,quantity,relation,value,price\nA,ra,at_least,90,12\n")
    assert len(claims) == 1
    assert [(note["subject"], note["tier"]) for note in notes] == [("price", "minor")]


def test_a_misspelt_column_stops_the_claims_that_fill_it(tmp_path):
    claims, notes = read(
        tmp_path, "claim_id,quantity,relation,value,cct_setting\nA,ra,at_least,90,3000\nB,ra,at_least,80,\n"
    )
    assert [claim.claim_id for claim in claims] == ["B"]
    assert [note["tier"] for note in notes] == ["major", "major"]
    assert "cct_setting_K" in notes[0]["ask"]
    assert notes[1]["place"] == "row 2, cell E2"


@pytest.mark.parametrize(
    ("heading", "meant"), [("Limit", "value"), ("CCT", "cct_setting_K"), ("Level", "level_percent"), ("Units", "unit")]
)
def test_what_people_call_a_column_is_told_as_the_column_meant(tmp_path, heading, meant):
    _, notes = read(tmp_path, f"claim_id,product,quantity,relation,{heading}\nA,Sedge,ra,at_least,90\n")
    assert f"rename it '{meant}' if that is meant" in notes[0]["ask"]


def test_headings_quantities_and_relations_fold_case_and_blanks(tmp_path):
    claims, notes = read(
        tmp_path,
        "Claim ID,Quantity,Relation,Value,Level percent,CCT setting K\nA,Luminous Flux,At least,900,50 %,3000\n",
    )
    assert notes == []
    assert claims[0].quantity.name == "luminous_flux"
    assert claims[0].conditions == {"level_percent": Span(50, 50), "cct_setting_K": Span(3000, 3000)}


@pytest.mark.parametrize(("column", "text"), [("level_percent", "150"), ("cct_setting_K", "0"), ("hours", "-5")])
def test_an_impossible_condition_is_refused_at_its_cell(tmp_path, column, text):
    claims, notes = read(tmp_path, f"claim_id,quantity,relation,value,{column}\nA,ra,at_least,90,{text}\n")
    assert claims == []
    assert notes[0]["place"] == "row 2, cell E2"


def test_hues_keep_their_order_round_the_circle(tmp_path):
    claims, _ = read(tmp_path, "claim_id,quantity,relation,value,hue_setting_deg\nA,ra,at_least,0,350 to 10\n")
    assert claims[0].conditions["hue_setting_deg"] == Span(350, 370)


def test_per_cent_cells_of_a_workbook_are_what_they_show(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["claim_id", "quantity", "relation", "value", "unit", "level_percent", "population_percent"])
    sheet.append(["A", "thd_current", "at_most", 0.1, None, 1.0, 0.95])
    sheet.append(["B", "power_factor", "at_least", 0.95, None, None, None])
    for cell in ("D2", "F2", "G2", "D3"):
        sheet[cell].number_format = "0%"
    file = tmp_path / "claims.xlsx"
    book.save(file)
    claims, notes = read_file(file)
    assert notes == []
    assert (claims[0].upper, claims[0].conditions["level_percent"], claims[0].population_percent) == (
        10,
        Span(100, 100),
        95,
    )
    assert claims[1].lower == pytest.approx(0.95)


def test_a_share_written_as_a_fraction_is_asked(tmp_path):
    claims, notes = read(tmp_path, "claim_id,quantity,relation,value,population_percent\nA,ra,at_least,90,0.95\n")
    assert claims == []
    assert "write 95" in notes[0]["ask"]


def test_cells_beyond_the_headings_are_named(tmp_path):
    _, notes = read(tmp_path, "claim_id,quantity,relation,value\nA,ra,at_least,90,and,more\n")
    assert (notes[0]["rule"], notes[0]["tier"], notes[0]["place"]) == ("claim_cells_beyond", "major", "row 2")


def test_a_byte_order_mark_and_semicolons(tmp_path):
    claims, notes = read(tmp_path, "\ufeffclaim_id;quantity;relation;value\nA;ra;at_least;90\n")
    assert [claim.claim_id for claim in claims] == ["A"]
    assert notes == []


def test_a_workbook_with_numbers_as_numbers(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["claim_id", "quantity", "relation", "value", "serial", "hours"])
    sheet.append(["A", "ra", "at_least", 90, 7, 6000.0])
    file = tmp_path / "what they say.xlsx"
    book.save(file)
    claims, notes = read_file(file)
    assert claims[0].lower == 90
    assert claims[0].conditions == {"serial": "7", "hours": Span(6000, 6000)}
    assert claims[0].place == "sheet 'Sheet', row 2"
    assert notes == []


def test_a_claims_sheet_without_its_headings_is_refused(tmp_path):
    with pytest.raises(Refusal, match="claim_id, quantity and relation"):
        read(tmp_path, "id;what\n1;ra\n")


def test_a_table_that_is_no_claims_sheet_is_left_to_the_readers(tmp_path):
    assert read(tmp_path, "serial,ra\n1,90\n", "report.csv") == ([], [])


def test_product_names_fold_case_blanks_and_dashes_only():
    assert product_key("Sedge-80 ") == product_key("SEDGE 80") == product_key("sedge–80")
    assert product_key("Sedge 80") != product_key("Sedge 80 B")
