"""Which reader a file gets, files that are refused, and tables that read back as they were written."""

from __future__ import annotations

import contextlib
import csv
import io
import math
import os
import subprocess
import sys
import time
from collections.abc import Iterator

import numpy as np
import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.model import NUMBER, POINT_FIELDS, TEST_OBJECTS, Refusal
from audit.register import quantity_register
from plugins.ingest.cells import NO_VALUE
from plugins.ingest.kinds import known
from plugins.ingest.labels import SUMMARIES
from plugins.ingest.plausible import bounds

CHARACTERS = st.characters(exclude_categories=("C", "Z"))
# A lone sign is no name: "±" labels a row of uncertainties.
NAMES = st.text(CHARACTERS, min_size=1, max_size=12).filter(
    # "=" begins a formula in a workbook; marks for "no value", names of summary rows and of quantities mean themselves
    lambda text: (
        any(map(str.isalnum, text))
        and text[0] != "="
        and text.casefold() not in NO_VALUE | SUMMARIES
        and not known(text)
    )
)
FIELDS = {
    name: st.sampled_from(TEST_OBJECTS) if name == "test_object" else NAMES if kind != NUMBER else st.integers(2, 99)
    for name, kind in POINT_FIELDS.items()
} | {"cct_setting_K": st.integers(1000, 20_000)}


def possible_values(name: str, places: int) -> st.SearchStrategy[float]:
    """Values that the quantity can have, printed to the trade's digits: others are asked about."""
    low, high = (limit * 10**places for limit in bounds(name))
    digits = st.integers(math.ceil(max(low, -(10**6))), math.floor(min(high, 10**6)))
    return digits.map(lambda number: number / 10**places)


QUANTITIES = {name: possible_values(name, quantity.decimals) for name, quantity in quantity_register().items()}


@pytest.mark.parametrize(
    ("name", "content", "reader"),
    [
        ("README.md", "# A lamp\n", "companion"),
        ("readme", "serial,Ra\n1,90\n", "companion"),
        ("expected.csv", "claim_id,verdict,side,reasons\nC1,supported,,\n", "companion"),
        ("any name.csv", '\ufeff"claim_id";"verdict"\nC1;supported\n', "companion"),
        ("table.csv", "serial,Ra\n1,90\n", "tabular"),
        ("table.odd", "serial,Ra\n1,90\n", "tabular"),
        ("notes.csv", "some words\n", "tabular"),
    ],
)
def test_the_most_confident_reader(read, name, content, reader):
    tables = read(content, name)
    assert tables.reader.name == reader
    others = [sure for name, sure in tables.confidence.items() if name != reader]
    assert tables.confidence[reader] > max(others)


@pytest.mark.parametrize(
    "content",
    [b"\x89PNG\r\n\x1a\n\x00\x00", b"Dear sirs,\nwe enclose, as asked, the lamp.\n", b""],
)
def test_nobody_claims_what_is_no_table(confidence_of, tmp_path, content):
    path = tmp_path / "letter.bin"
    path.write_bytes(content)
    assert set(confidence_of(path).values()) == {0.0}


def test_a_companion_says_that_it_was_not_read(read):
    found = read("# A lamp\n", "README.md").observation("not_evidence")
    assert (found.tier, found.subject) == ("note", "README.md")


def test_a_sheet_without_known_headings_is_said_with_a_remedy(read):
    tables = read("lorem,ipsum\n1,2\n")
    found = tables.observation("sheet_not_read")
    assert (found.tier, found.place) == ("major", "row 1, cell A1")
    assert "headings" in found.ask
    assert tables.confidence["tabular"] == 0.3


def test_a_truncated_workbook_is_refused_with_a_remedy(read_workbook, read, tmp_path):
    read_workbook({"S": [["serial", "Ra"], ["1", 90]]})
    whole = (tmp_path / "book.xlsx").read_bytes()
    with pytest.raises(Refusal, match="cut off") as caught:
        read(whole[:-200], "half.xlsx")
    assert "whole copy" in caught.value.ask


TABLE = [["serial", "Ra"], ["1", 90]]


@pytest.mark.parametrize(
    ("sheets", "tiers"),
    [
        ({"Data": TABLE, "Cover": [["Dear sirs"], ["we enclose the lamp"]]}, {"Cover": "minor"}),
        ({"Cover": [["Dear sirs"], ["we enclose the lamp"]], "Data": TABLE}, {"Cover": "minor"}),
        ({"Cover": [["Dear sirs"], ["we enclose the lamp"]]}, {"Cover": "major"}),
        ({"Data": TABLE, "Odd": [["lorem", "ipsum"], [1, 2]]}, {"Odd": "major"}),  # numbers may be data
    ],
    ids=["beside", "before", "alone", "numbers"],
)
def test_prose_beside_sheets_that_were_read_takes_nothing_away(read_workbook, sheets, tiers):
    found = read_workbook(sheets)["observations"]
    unread = found[found["rule"] == "sheet_not_read"]
    assert dict(zip(unread["subject"], unread["tier"], strict=True)) == tiers


def test_headings_without_rows_are_no_evidence(read):
    found = read("serial,Ra\n").observation("table_without_rows")
    assert (found.tier, found.place) == ("major", "row 1")


@pytest.mark.parametrize(
    ("name", "text", "observed"),
    [
        ("t.xlsx", "serial,Ra\n1,90\n", {"workbook_is_text": "minor"}),
        ("t.ods", "serial,Ra\n1,90\n", {"workbook_is_text": "minor"}),
        ("t.xls", "serial\tRa\n1\t90\n", {}),  # a habit of instruments
        ("t.csv", "serial,Ra\n1,90\n", {}),
        ("t.xlsx", "Dear sirs\n", {"sheet_not_read": "major", "workbook_is_text": "minor"}),
        ("t.xlsx", "", {"document_empty": "major"}),
    ],
)
def test_text_under_the_name_of_a_workbook_is_said(read, name, text, observed):
    tables = read(text, name)
    assert tables.reader.name == "tabular"
    assert tables.observed == observed
    said = [row.message for row in tables["observations"].itertuples() if row.rule != "sheet_not_read"]
    assert all("named like a workbook" in message for message in said)


def test_hidden_sheets_are_read_and_named(read, tmp_path):
    book = openpyxl.Workbook()
    for name, state in (("Seen", "visible"), ("Away", "hidden"), ("Deep", "veryHidden"), ("Blank", "hidden")):
        sheet = book.create_sheet(name)
        sheet.sheet_state = state
        for row in TABLE if name != "Blank" else []:
            sheet.append(row)
    book.save(tmp_path / "made.xlsx")
    tables = read((tmp_path / "made.xlsx").read_bytes(), "hidden.xlsx")
    found = tables.observation("sheet_hidden")
    assert (found.tier, found.place) == ("minor", "sheet 'Away', row 1")
    assert "'Away', 'Deep'" in found.message
    assert "Blank" not in found.message
    assert set(tables["places"]["sheet"]) == {"Seen", "Away", "Deep"}
    assert found.ask


@pytest.mark.parametrize("text", ["", "\n\n", ",,,\n,,,\n", "serial,Ra\n"])
def test_nothing_in_it_is_no_error(read, text):
    tables = read(text)
    assert tables.values == {}


def printed(table: str, rows: list[list[object]], read, read_workbook):
    if table == "xlsx":
        return read_workbook({"Sheet": rows})
    stream = io.StringIO()
    csv.writer(stream, delimiter={"csv": ",", "tsv": "\t", "semicolon": ";"}[table]).writerows(rows)
    return read(stream.getvalue())


@pytest.mark.parametrize("table", ["csv", "tsv", "semicolon", "xlsx"])
@given(data=st.data())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=30)
def test_a_table_written_from_the_model_reads_back_the_same(read, read_workbook, table, data):
    fields = data.draw(st.lists(st.sampled_from(list(FIELDS)), min_size=1, max_size=5, unique=True))
    names = data.draw(st.lists(st.sampled_from(list(QUANTITIES)), min_size=1, max_size=5, unique=True))
    if "case_temperature" in names and "case_C" not in fields:
        fields.append("case_C")
    units = {name: quantity_register()[name].unit for name in names}
    headings = [*fields, *(f"{name} [{unit}]" if unit not in ("1", "index") else name for name, unit in units.items())]
    rows = [
        [data.draw(FIELDS[field]) for field in fields] + [data.draw(QUANTITIES[name]) for name in names]
        for _ in range(data.draw(st.integers(1, 3)))
    ]
    tables = printed(table, [headings, *rows], read, read_workbook)
    assert tables.observed == {}, tables["observations"]["message"].tolist()
    points = tables["points"].set_index("point_id")
    readings = tables["readings"]
    assert readings["value"].tolist() == pytest.approx([cell for row in rows for cell in row[len(fields) :]])
    assert readings["quantity"].tolist() == names * len(rows)
    for row, point in zip(rows, readings["point_id"].tolist()[:: len(names)], strict=True):
        stated = points.loc[point]
        for field in POINT_FIELDS:
            if field in fields:
                assert stated[field] == row[fields.index(field)]
            else:
                assert stated[field] == "" or math.isnan(stated[field])


@contextlib.contextmanager
def refusals(into: list[Refusal]) -> Iterator[None]:
    """Take a refusal for an answer, and nothing else."""
    try:
        yield
    except Refusal as refusal:
        into.append(refusal)


@given(raw=st.binary(max_size=300) | st.text(max_size=200).map(str.encode))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
def test_any_bytes_are_read_or_refused_never_more(read, raw):
    refused: list[Refusal] = []
    with refusals(refused):
        assert set(read(raw, "any.csv")["observations"]["tier"]) <= {"major", "minor", "note"}
    assert all(refusal.message and refusal.ask for refusal in refused)


def test_reading_loads_no_library_before_it_is_needed():
    code = (
        "import sys, plugins.ingest.tabular, plugins.ingest.companion;"
        "print(sorted({'pandas', 'pandera', 'scipy', 'openpyxl', 'python_calamine', 'colour'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=dict(os.environ)
    )
    assert done.stdout == "[]\n"


@pytest.mark.benchmark
def test_wide_spectra_cost_little_more_than_their_cells(read_path, tmp_path, capsys):
    """2,000 spectra of 401 values: reading against what splitting the text alone takes, both in this run."""
    path = tmp_path / "wide.csv"
    power = np.random.default_rng(7).random((2_000, 401))
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["serial", "level (%)", *range(380, 781)])
        writer.writerows([f"S{number}", 100, *(f"{value:.6f}" for value in row)] for number, row in enumerate(power))
    read_path(path)  # the first reading pays for imports

    def best(work) -> float:
        times = []
        for _ in range(3):
            os.utime(path, ns=(time.time_ns(), time.time_ns()))  # a changed file is split again
            start = time.perf_counter()
            work()
            times.append(time.perf_counter() - start)
        return min(times)

    alone = best(lambda: list(csv.reader(path.open(newline=""))))
    ratio = best(lambda: read_path(path)) / alone
    with capsys.disabled():
        print(f"\nreading 2,000 wide spectra takes {ratio:.1f} times the splitting of their cells alone")
    assert ratio < 6
