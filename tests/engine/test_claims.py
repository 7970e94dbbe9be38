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
        "D,P,duv,within,0,0.003,1\n",
    )
    assert [(claim.lower, claim.upper) for claim in claims] == [
        (90, math.inf),
        (-math.inf, 15),
        (2900, 3100),
        (-0.003, 0.003),
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
        ("A,P,ra,at_least,ninety,,", "E2", "value is 'ninety'", "plain number"),
        ("A,P,cct,between,3000,,K", "F2", "needs a second number", "value_to"),
        ("A,P,cct,between,3100,2900,K", "F2", "below the lower", "lower limit in value"),
        ("A,P,cct,within,3000,-50,K", "F2", "below the lower", "± is positive"),
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


def test_a_doubled_claim_id_keeps_the_first(tmp_path):
    claims, notes = read(tmp_path, f"{HEAD}\nA,P,ra,at_least,90,,\nA,P,rf,at_least,80,,\n")
    assert [claim.quantity.name for claim in claims] == ["ra"]
    assert notes[0]["place"] == "row 3, cell A3"


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


def test_unknown_columns_are_observed_with_the_nearest_name(tmp_path):
    claims, notes = read(tmp_path, "claim_id,quantity,relation,value,cct_setting,price\nA,ra,at_least,90,3000,12\n")
    assert len(claims) == 1
    assert [note["subject"] for note in notes] == ["cct_setting", "price"]
    assert "cct_setting_K" in notes[0]["ask"]


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
