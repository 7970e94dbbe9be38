"""Values as laboratories print them: marks, blanks, fractions, bounds, ranges, lists, units in the cell, remarks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.numbers import (
    BETWEEN,
    BOUND,
    INEXACT,
    PLAIN,
    SEVERAL,
    grouped,
    mark_evidence,
    parse_number,
    parse_value,
    plain_text,
)
from plugins.ingest.cells import as_numbers, first_bad, has_value, number
from plugins.ingest.headings import resolve
from plugins.ingest.marks import decide_marks

THIN, NARROW, NO_BREAK, FIGURE = "\u2009", "\u202f", "\u00a0", "\u2007"


@pytest.mark.parametrize(
    ("cell", "decimal", "value", "resolution"),
    [
        ("1,234.5", ".", 1234.5, 0.1),
        ("1.234,5", ",", 1234.5, 0.1),
        ("1 234,5", ",", 1234.5, 0.1),
        (f"1{THIN}234,5", ",", 1234.5, 0.1),
        (f"1{NARROW}234{NARROW}567", ".", 1234567, 1),
        (f"1{NO_BREAK}234.50", ".", 1234.5, 0.01),
        (f"12{FIGURE}345", ".", 12345, 1),
        ("1'234.5", ".", 1234.5, 0.1),
        ("1’234,5", ",", 1234.5, 0.1),
        ("60.000", ".", 60, 0.001),
        ("60.000", ",", 60000, 1),
        ("41,8", ",", 41.8, 0.1),
        ("−0,0029", ",", -0.0029, 0.0001),
        ("–3.1", ".", -3.1, 0.1),
        ("5 1/8", ".", 5.125, 0.125),
        ("5-1/8", ".", 5.125, 0.125),
        ("22 ½", ".", 22.5, 0.5),
        ("-1¾", ".", -1.75, 0.25),
        ("１２，５", ",", 12.5, 0.1),
        ("1,5e-3", ",", 0.0015, 0.0001),
        ("'2998", ".", 2998, 1),
        ("1.234.567,8", ",", 1234567.8, 0.1),
    ],
)
def test_one_number_in_every_habit(cell, decimal, value, resolution):
    found = parse_value(cell, decimal)
    assert found is not None
    assert (found.kind, found.unit) == (PLAIN, "")
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.resolution == pytest.approx(resolution, rel=1e-9)


@pytest.mark.parametrize(
    ("cell", "kind"),
    [
        (">80 Ra", BOUND),
        ("<6", BOUND),
        ("≥ 0.9", BOUND),
        (">= 90", BOUND),
        ("90+", BOUND),
        ("min. 90", BOUND),
        ("≈ 3000 K", BOUND),
        ("up to 1300", BOUND),
        ("220…240 V", BETWEEN),
        ("220...240 V", BETWEEN),
        ("220-240", BETWEEN),
        ("220 V – 240 V", BETWEEN),
        ("2700 to 6500", BETWEEN),
        ("27/30/35/40/50K", SEVERAL),
        ("120/277 V", SEVERAL),
        ("3/4", SEVERAL),
        ("3000 ± 30 K", INEXACT),
    ],
)
def test_what_is_no_single_value_is_told_apart(cell, kind):
    found = parse_value(cell)
    assert found is not None
    assert found.kind == kind
    assert number(cell, resolve("Ra")).problem


@pytest.mark.parametrize("cell", ["12,34,567", "0,123", "1 23", "1,5", "--5", "1.2.3", "x5", "0 123", "1'23"])
def test_digits_that_no_habit_explains_are_no_number(cell):
    assert parse_value(cell, ".") is None


@pytest.mark.parametrize(
    ("cell", "heading", "value"),
    [
        ("3000 K", "CCT", 3000),
        ("1.3klm", "Luminous flux", 1300),
        ("77 °F", "Ambient", 25),
        ("25 ℃", "Ambient", 25),
        ("97 %", "Power factor", 0.97),
        ("6 kh", "hours", 6000),
        ("350 mA", "Drive current", 350),
        ("12 400 mW", "Input power", 12.4),
        ("91 Ra", "Ra", 91),
    ],
)
def test_a_unit_in_the_cell_is_converted_once(cell, heading, value):
    found = number(cell, resolve(heading))
    assert (found.problem, found.value) == ("", pytest.approx(value))


@pytest.mark.parametrize("cell", ["1020 at 50 °C", "91.5*", "91.5 (1)", "3000 rated", "1300 typ.", "5 lumen-ish"])
def test_words_behind_a_number_that_may_change_it_are_a_problem(cell):
    assert cell in number(cell, resolve("Luminous flux (lm)")).problem


@pytest.mark.parametrize("cell", ["988 in Wide cone (120 deg)", "988 in Wide cone (120°)", "988 in sphere (360 °)"])
def test_the_cone_of_a_useful_flux_is_a_remark(cell):
    """Regulation (EU) 2019/2015, Annex V, table 3: the flux is given in a sphere, a wide or a narrow cone."""
    found = number(cell, resolve("Useful luminous flux (lm)"))
    assert (found.value, found.problem) == (988, "")
    assert found.remark in cell


@pytest.mark.parametrize("cell", ["---", "–", "N/A", "n.a.", "Unknown", " ", None, "not measured", "…"])
def test_fillers_are_no_value(cell):
    assert not has_value(cell)


@pytest.mark.parametrize(
    ("cell", "decimal", "opened"),
    [
        ("41,8", ",", ""),
        ("0,434", ",", ""),
        ("1.234,5", ",", ""),
        ("1,234.5", ".", ""),
        ("1,234,567", ".", ""),
        ("1.234.567", ",", ""),
        ("1234,567", ",", ""),
        ("1 234,567", ",", ""),
        ("1,234", "", ","),
        ("60.000h", "", "."),
        ("≥ 1,234 lm", "", ","),
        ("2700", "", ""),
        ("12,34,567", "", ""),
        (1234.5, "", ""),
    ],
)
def test_what_a_cell_proves_about_its_marks(cell, decimal, opened):
    assert mark_evidence(cell) == (decimal, opened)


# A column's heading and cells, beside other columns of the table; the mark decided, "?" where it's asked.
DECISIONS = [
    ("own cells", "Flux (lm)", ["1,301", "988.5"], {}, "."),
    ("own cells, comma", "Flux (lm)", ["1.301", "988,5"], {}, ","),
    ("other column", "Flux (lm)", ["1,301"], {"x": ["0.4373"]}, "."),
    ("other column, comma", "Flux (lm)", ["1.301"], {"x": ["0,4373"]}, ","),
    ("lone comma", "Flux (lm)", ["1,301", "988"], {"Unit": ["1"]}, "?"),
    ("lone point, whole lumens", "Flux (lm)", ["1.301"], {}, "?"),
    ("lone point, kilolumens", "Flux (klm)", ["1.301"], {}, "."),
    ("lone point, printed with decimals", "Input power (W)", ["12.345"], {}, "."),
    ("only possible: CCT", "CCT (K)", ["2,987"], {}, "."),
    ("only possible: CCT, point", "CCT (K)", ["2.987"], {}, ","),
    ("only possible: Ra", "Ra", ["91,234"], {}, ","),
    ("only possible: efficacy", "Efficacy (lm/W)", ["104,918"], {}, ","),
    ("hours", "Life (h)", ["60.000h"], {}, ","),
    ("hours with a comma", "hours", ["0", "1,000", "6,000"], {}, "."),
    ("hours beside decimal points", "hours", ["1.000", "6.000"], {"x": ["0.4373"]}, "?"),
    ("kilohours", "Life", ["60.000 kh"], {}, "?"),
    ("hours with other decimals", "hours", ["1.000", "0.5"], {}, "."),
    ("table of both marks", "Flux (lm)", ["1,301"], {"x": ["0.4373"], "y": ["0,4046"]}, "?"),
    ("column of both marks", "Input power (W)", ["12,345", "12.3", "12,4"], {}, "?"),
]


@pytest.mark.parametrize(
    ("heading", "cells", "others", "mark"), [row[1:] for row in DECISIONS], ids=[r[0] for r in DECISIONS]
)
def test_the_decimal_mark_is_decided_by_the_column_then_physics_then_the_table(heading, cells, others, mark):
    columns = [(resolve(heading), cells), *((resolve(name), texts) for name, texts in others.items())]
    decided = decide_marks(columns)[0]
    assert ("?" if decided.example else decided.decimal) == mark
    answered = decide_marks(columns, ",")[0]
    assert answered.decimal == ("," if mark == "?" or answered.answered else mark)


def test_a_mark_left_open_is_asked_with_both_lines(read):
    tables = read('serial,Flux (lm),Ra\n1,"1,301",90\n2,"1,288",91\n')
    assert tables.values == {"ra": [90, 91]}
    found = tables.observation("column_ambiguous")
    assert (found.tier, found.place) == ("major", "row 1, cell B1")
    assert "1.301 or 1301" in found.message or "1301 or 1.301" in found.message
    assert '["table.csv"]' in found.ask
    assert 'decimal = ","\ndecimal = "."' in found.ask


def test_marks_are_said_with_their_evidence_and_raw_cells_are_kept(read):
    tables = read("serial;Flux (lm);Input power (W)\n1;1.301,4;12,4\n2;988,5;9,8\n")
    assert tables.values == {"luminous_flux": [1301.4, 988.5], "input_power": [12.4, 9.8]}
    assert tables["readings"]["resolution"].tolist() == pytest.approx([0.1] * 4)
    assert set(tables["places"]["raw"]) == {"1.301,4", "988,5", "12,4", "9,8"}
    assert tables.observed == {"decimal_mark": "note"}
    assert "'1.301,4' can only be read with a decimal comma" in tables.observation("decimal_mark").message


def test_hours_with_dots_for_thousands_are_said(read):
    tables = read("serial;hours;Flux ratio (%)\n1;500h;99,6\n1;1.000h;99,1\n")
    assert tables["points"]["hours"].tolist() == [500, 1000]
    assert "decimal_mark" in tables.observed


@pytest.mark.parametrize("cell", [">80 Ra", "<6", "90+"])
def test_an_open_bound_is_never_a_reading(read, cell):
    tables = read(f"serial,Ra,R9\n1,{cell},55\n2,91,50\n")
    assert tables.values == {"ra": [91], "r9": [55, 50]}
    assert "bound" in tables.observation("cell_not_a_number").message


def test_a_colour_code_is_a_class_and_no_measurement(read):
    tables = read("serial,Colour code,R9\n1,927,55\n2,840,50\n")
    assert tables.values == {"r9": [55, 50]}
    assert "Colour code (927" in tables.observation("metrics_listed").message
    assert read("serial,CCT (K),R9\n1,27,55\n", "b.csv").values == {"r9": [55]}


def test_spectra_with_decimal_commas_and_what_they_may_not_be():
    assert as_numbers(["0,12", "0,5", "1"]).tolist() == [0.12, 0.5, 1]
    assert as_numbers(["1,234", "2,345"]) is None  # thousands or decimals: never guessed
    assert as_numbers(["0,12", "0.5"]) is None
    assert first_bad(["0,12", "x", "0,5"]) == 1


BLANK_MARKS = (" ", THIN, NARROW, NO_BREAK, "'", "’")


@given(
    st.integers(0, 10**9),
    st.integers(0, 6),
    st.sampled_from(".,"),
    st.sampled_from(("other", "", *BLANK_MARKS)),
    st.booleans(),
)
def test_any_number_in_any_habit_reads_back_with_its_last_digit(digits, decimals, decimal, thousands, negative):
    plain = f"{digits / 10**decimals:.{decimals}f}"
    mark = {"other": ",."[decimal == ","]}.get(thousands, thousands)
    whole, _, part = plain.partition(".")
    cell = ("−" if negative else "") + f"{int(whole):,}".replace(",", mark) + (decimal + part if part else "")
    found = parse_value(cell, decimal)
    assert found is not None
    assert found.kind == PLAIN
    assert found.value == pytest.approx(float(plain) * (-1 if negative else 1), rel=1e-12)
    assert found.resolution == pytest.approx(10.0**-decimals)
    assert mark_evidence(cell).decimal in ("", decimal)  # a cell never proves the wrong mark


@given(st.text(alphabet="0123456789.,' -+e/±>½\u2009−KhVlm%…", max_size=20))
def test_no_text_crashes_or_gives_what_is_no_finite_number(text):
    for decimal in ".,":
        found = parse_value(text, decimal)
        assert found is None or found.kind != PLAIN or abs(found.value) < float("inf")
        assert grouped(text, decimal) is None or parse_value(plain_text(text), decimal) is not None
    mark_evidence(text)


def test_plain_numbers_stay_what_programs_write():
    assert parse_number("41,8") is None
    assert parse_number("41,8", ",") == (41.8, pytest.approx(0.1))
    assert parse_number("41.8", ",") is None
