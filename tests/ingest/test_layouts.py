"""One set of measurements in every layout that laboratories use reads back the same, each value from its own cell.

The layouts are those met in published files (long, wide, hours in labels, matrices of spectra and their transpose,
no header) and those of the trade's habit (header blocks, unit rows, summaries, titles); the traps are ours.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.sheets import address, split
from plugins.ingest.labels import label_of, title_fields

CHECKS = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
UNITS = {"Luminous flux": "lm", "Input power": "W", "CCT": "K"}
NAMES = {"Luminous flux": "luminous_flux", "Input power": "input_power", "CCT": "cct"}
Rows = list[list[str]]
Data = dict[tuple[str, int], dict[str, str]]  # (serial, CCT setting) -> quantity -> value as printed


def headed(name: str) -> str:
    return f"{name} ({UNITS[name]})"


def serials_of(data: Data) -> list[str]:
    return list(dict.fromkeys(serial for serial, _ in data))


def settings_in(data: Data) -> list[int]:
    return list(dict.fromkeys(setting for _, setting in data))


def wide(data: Data) -> Rows:
    heads = ["Serial", "CCT setting (K)", *map(headed, UNITS)]
    return [heads, *([serial, str(at), *values.values()] for (serial, at), values in data.items())]


def unit_row(data: Data) -> Rows:
    rows = wide(data)
    return [["Serial", "CCT setting", *UNITS], ["", "K", *UNITS.values()], *rows[1:]]


def header_block(data: Data) -> Rows:
    above = [["Test report"], [], ["Report no.", "LR-0431"], ["Test line 4"], [], [], ["Laboratory:", "Quernstow"], []]
    return [*above, *wide(data), [], ["* stabilised before each reading"], ["Page 1 of 1"]]


def pages(data: Data) -> Rows:
    head, *rows = wide(data)
    broken = [line for row in rows for line in (row, ["Page 1 of 9"], ["Report LR-0431"], [], head)]
    return [head, *broken[:-1], ["Page 9 of 9"]]


def transposed(data: Data) -> Rows:
    rows = wide(data)
    return [list(row) for row in zip(*rows, strict=True)]


def transposed_with_units(data: Data) -> Rows:
    columns = [["Serial", "CCT setting", *UNITS], ["", "K", *UNITS.values()], *wide(data)[1:]]
    return [["Parameter", "Unit", *[""] * len(data)], *(list(row) for row in zip(*columns, strict=True))]


def transposed_with_labels(data: Data) -> Rows:
    columns = [["Parameter", *map(headed, UNITS)]]
    columns += [[f"unit {serial}, {at} K", *values.values()] for (serial, at), values in data.items()]
    return [list(row) for row in zip(*columns, strict=True)]


def tidy(data: Data) -> Rows:
    rows = [["Sample", "CCT setting (K)", "Parameter", "Value", "Unit"]]
    for (serial, at), values in data.items():
        rows += [[serial, str(at), name, value, UNITS[name]] for name, value in values.items()]
    return rows


def settings_in_headings(data: Data) -> Rows:
    rows = [["Serial", *(f"{headed(name)} at {at} K" for at in settings_in(data) for name in UNITS)]]
    return rows + _by_serial(data)


def two_row_headings(data: Data) -> Rows:
    chosen = settings_in(data)
    upper = [cell for at in chosen for cell in (f"{at} K", "", "")]
    return [["Serial", *upper], ["", *map(headed, list(UNITS) * len(chosen))], *_by_serial(data)]


def three_row_headings(data: Data) -> Rows:
    upper, _, *body = two_row_headings(data)
    times = len(settings_in(data))
    return [upper, ["", *list(UNITS) * times], ["", *list(UNITS.values()) * times], *body]


def _by_serial(data: Data) -> Rows:
    chosen = settings_in(data)
    return [[serial, *(value for at in chosen for value in data[serial, at].values())] for serial in serials_of(data)]


def titled_blocks(data: Data) -> Rows:
    rows: Rows = []
    for at in settings_in(data):
        rows += [[f"{at}K"], ["Serial", *map(headed, UNITS)]]
        rows += [[serial, *data[serial, at].values()] for serial in serials_of(data)] + [[]]
    return rows


def lines_in_the_table(data: Data) -> Rows:
    rows = [["Serial", *map(headed, UNITS)]]
    for at in settings_in(data):
        rows += [[f"CCT setting {at} K"], *([serial, *data[serial, at].values()] for serial in serials_of(data))]
    return rows


def side_by_side(data: Data) -> Rows:
    chosen = settings_in(data)
    rows = [[cell for at in chosen for cell in (f"{at} K", *[""] * 4)]]
    rows.append([cell for _ in chosen for cell in ("Serial", *map(headed, UNITS), "")])
    for serial in serials_of(data):
        rows += [[cell for at in chosen for cell in (serial, *data[serial, at].values(), "")]]
    return rows


def matrices(data: Data) -> Rows:
    rows: Rows = []
    for name in UNITS:
        rows += [[headed(name)], ["Serial", *(f"{at} K" for at in settings_in(data))]]
        rows += [[serial, *(data[serial, at][name] for at in settings_in(data))] for serial in serials_of(data)]
        rows += [["Average", *["1"] * len(settings_in(data))], []]
    return rows


def matrices_turned(data: Data) -> Rows:
    rows: Rows = []
    for name in UNITS:
        rows += [[f"Table 1: {headed(name)}"], ["CCT setting", *(f"unit {serial}" for serial in serials_of(data))]]
        rows += [[f"{at} K", *(data[serial, at][name] for serial in serials_of(data))] for at in settings_in(data)]
        rows += [[]]
    return rows


def row_labels(data: Data) -> Rows:
    rows = [["Condition", *map(headed, UNITS)]]
    return rows + [[f"SN {serial} {at}K", *values.values()] for (serial, at), values in data.items()]


def summaries(data: Data) -> Rows:
    rows = wide(data)
    return rows + [[word, "", *["7"] * len(UNITS)] for word in ("Avg", "Med", "Min", "Max", "Std. Dev", "σ")]


LAYOUTS: Sequence[Callable[[Data], Rows]] = (
    wide, unit_row, header_block, pages, transposed, transposed_with_units, transposed_with_labels, tidy,
    settings_in_headings, two_row_headings, three_row_headings, titled_blocks, lines_in_the_table, side_by_side,
    matrices, matrices_turned, row_labels, summaries,
)  # fmt: skip
DATA: Data = {
    (serial, at): {"Luminous flux": f"{flux}", "Input power": f"{power}", "CCT": f"{at + off}"}
    for serial, at, flux, power, off in [
        ("PT-0003", 3000, 1210, 12.61, 12), ("PT-0003", 4000, 1345, 12.58, -9),
        ("PT-0009", 3000, 1198, 12.70, -21), ("PT-0009", 4000, 1330, 12.64, 30),
    ]
}  # fmt: skip


@st.composite
def measured(draw: st.DrawFn) -> Data:
    serials = draw(
        st.lists(st.from_regex(r"[A-Z]{1,3}-[0-9]{2,4}", fullmatch=True), min_size=2, max_size=4, unique=True)
    )
    chosen = draw(st.lists(st.integers(20, 65).map(lambda hundred: hundred * 100), min_size=2, max_size=3, unique=True))
    quantities = {
        "Luminous flux": st.integers(200, 90_000).map(lambda digits: f"{digits / 10:.1f}"),
        "Input power": st.integers(100, 9_900).map(lambda digits: f"{digits / 100:.2f}"),
        "CCT": st.integers(1900, 9900).map(str),
    }
    return {
        (serial, at): {name: draw(values) for name, values in quantities.items()} for serial in serials for at in chosen
    }


def wanted(data: Data) -> set[tuple[Any, ...]]:
    return {
        (serial, float(at), NAMES[name], float(value))
        for (serial, at), values in data.items()
        for name, value in values.items()
    }


def given_by(tables) -> set[tuple[Any, ...]]:
    rows = tables["readings"].merge(tables["points"], on="point_id")
    return set(rows[["serial", "cct_setting_K", "quantity", "value"]].itertuples(index=False, name=None))


def text_of(rows: Rows, mark: str = ",") -> str:
    stream = io.StringIO()
    csv.writer(stream, delimiter=mark).writerows(rows)
    return stream.getvalue()


def stands_where_it_says(tables, rows: Rows) -> bool:
    """Whether every reading's raw text is what stands in the very cell that its place names."""
    places = tables["readings"].merge(tables["places"], on="place_id")
    cells = {address(row, at): cell for row, line in enumerate(rows) for at, cell in enumerate(line)}
    return all(cells[place.cell] == place.raw and f"{place.row}" in place.cell for place in places.itertuples())


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.__name__)
@pytest.mark.parametrize("mark", [",", "\t", ";"], ids=["comma", "tab", "semicolon"])
def test_every_layout_reads_the_same(read, layout, mark):
    rows = layout(DATA)
    tables = read(text_of(rows, mark))
    assert given_by(tables) == wanted(DATA)
    assert stands_where_it_says(tables, rows)
    assert "major" not in tables.observed.values()


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.__name__)
@given(data=measured())
@settings(suppress_health_check=CHECKS, max_examples=12)
def test_any_measurements_in_any_layout_read_back_the_same(read, layout, data):
    rows = layout(data)
    tables = read(text_of(rows))
    assert given_by(tables) == wanted(data), tables["observations"]["message"].tolist()
    assert stands_where_it_says(tables, rows)


@given(data=measured())
@settings(suppress_health_check=CHECKS, max_examples=20)
def test_text_of_a_fixed_width_reads_back_the_same(read, data):
    rows = wide(data)
    width = [max(map(len, column)) + 3 for column in zip(*rows, strict=True)]
    lines = ["".join(cell.ljust(space) for cell, space in zip(row, width, strict=True)).rstrip() for row in rows]
    assert given_by(read("\n".join(lines), "table.txt")) == wanted(data)


def test_a_sheet_per_setting_states_it_in_its_name(read_workbook):
    sheets = {}
    for at in settings_in(DATA):
        rows = [[serial, *map(float, DATA[serial, at].values())] for serial in serials_of(DATA)]
        sheets[f"{at}K 100%"] = [["Serial", *map(headed, UNITS)], *rows]
    tables = read_workbook(sheets)
    assert given_by(tables) == wanted(DATA)
    assert set(tables["points"]["level_percent"]) == {100}
    assert set(tables["observations"]["rule"]) == {"state_from_title"}


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("3000K 50%", {"cct_setting_K": 3000, "level_percent": 50}),
        ("unit NO-942, 3000 K", {"cct_setting_K": 3000, "serial": "NO-942"}),
        ("unit NRN-30", {"serial": "NRN-30"}),
        ("unit no. 7", {"serial": "7"}),
        ("4000 K", {"cct_setting_K": 4000}),
        ("100 %", {"level_percent": 100}),
        ("unit 3", {"serial": "3"}),
        ("SN PT-0003", {"serial": "PT-0003"}),
        ("after 6000 h", {"hours": 6000}),
        ("0h", {"hours": 0}),
        ("2,000 h", {"hours": 2000}),
        ("60.000h", {"hours": 60_000}),
        ("1 khr", {"hours": 1000}),
        ("Ts = 85 °C, IF = 350 mA", {"case_C": 85, "drive_mA": 350}),
        ("3262 K", {}),  # a measured value: settings are round
        ("units burnt in", {}),
        ("150 %", {}),
    ],
)
def test_what_a_label_states(text, fields):
    assert label_of(text).fields == fields


@pytest.mark.parametrize(
    "text",
    ["Relative humidity 45 %", "Rated life 50000 h", "Tolerance ±5 %", "CRI at least 90 %, 3000 K or more as wished",
     "Remarks: units burnt in for 100 h by the maker", "THD below 20 %", "Nominal CCT 3000 K"],
)  # fmt: skip
def test_prose_with_a_number_states_nothing(text):
    assert title_fields(text) == {}


def test_hours_as_headings_with_a_quantity_above(read):
    tables = read("Lumen maintenance (%)\nUnit,0h,1000h,2 kh,Average\nL1,100,99.1,98.0,99\nL2,100,98.8,,99\n")
    hours = tables["readings"].merge(tables["points"], on="point_id")
    assert hours[["serial", "hours", "value"]].to_numpy().tolist() == [
        ["L1", 0, 100], ["L1", 1000, 99.1], ["L1", 2000, 98], ["L2", 0, 100], ["L2", 1000, 98.8]
    ]  # fmt: skip
    assert tables.observation("summary_row").place == "row 2, cell E2"


def test_hours_below_a_heading_that_spans_them(read):
    tables = read("Luminous flux (lm)\nSerial,Hours,,\n,0,1000,2000\nL1,130,129,128\n")
    assert tables["points"]["hours"].tolist() == [0, 1000, 2000]
    assert tables.cells() == ["B4", "C4", "D4"]


def test_initial_beside_hours_is_no_hours(read):
    tables = read(",Initial,,After 6000 h,\nSerial,Flux (lm),CCT (K),Flux (lm),CCT (K)\nA1,1000,3000,950,3010\n")
    rows = tables["readings"].merge(tables["points"], on="point_id")
    assert set(rows[["quantity", "hours", "value"]].itertuples(index=False, name=None)) == {
        ("luminous_flux", 0, 1000), ("cct", 0, 3000), ("luminous_flux", 6000, 950), ("cct", 6000, 3010)
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "quoted"),
    [
        ("Unit,0h,1000h\nL1,100,99\n", "'0h', '1000h'"),
        ("Lumen maintenance (%)\nUnit,0,500,1000\nL1,100,99,98\n", "'0', '500', '1000'"),
        ("Lumen maintenance (%)\nUnit,T0,T1,T2\nL1,100,99,98\n", "'T0', 'T1', 'T2'"),
    ],
    ids=["no quantity", "bare numbers", "words"],
)
def test_a_matrix_that_does_not_say_enough_is_asked_about(read, text, quoted):
    tables = read(text)
    assert tables.values == {}
    (found,) = [row for row in tables["observations"].itertuples() if row.tier == "major"]
    assert quoted in found.message
    assert "columns.toml" in found.ask


@pytest.mark.parametrize(
    ("line", "read_on"), [("Forward current (A)", False), ("Chromaticity shift", True), ("Page 2 of 3", True)]
)
def test_values_below_another_title_are_not_those_of_the_first(read, line, read_on):
    hours = "Unit,0 h,1000 h,2000 h\n"
    tables = read(f"Chromaticity shift\n{hours}L1,0,0.001,0.002\n\n{line}\n{hours}L2,0.02,0.021,0.022\n")
    assert tables.values == {"chromaticity_shift": [0, 0.001, 0.002, *([0.02, 0.021, 0.022] if read_on else [])]}
    assert ("quantity_unknown" in tables.observed) is not read_on


def test_groups_centred_over_their_columns_are_not_guessed(read):
    """Above the first x stands nothing, above the last 4000 K: the names may be in the middle of their columns."""
    tables = read(",,3000 K,,,4000 K,\nSerial,x,y,P (W),x,y,P (W)\nA1,0.43,0.40,12,0.38,0.38,12.1\n")
    assert tables.values == {}
    assert tables.observation("groups_unclear").place == "row 2, cell B2"


def test_cells_merged_over_columns_say_what_they_head(tmp_path, read_path):
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["Serial", "3000 K", None, None, None], [None, "x", "y", "x", "y"], ["A1", 0.43, 0.40, 0.38, 0.37],
                [None, 0.44, 0.41, 0.39, 0.38]):  # fmt: skip
        sheet.append(row)
    sheet["D1"] = "4000 K"
    for span in ("B1:C1", "D1:E1", "A3:A4"):
        sheet.merge_cells(span)
    book.save(tmp_path / "merged.xlsx")
    tables = read_path(tmp_path / "merged.xlsx")
    rows = tables["readings"].merge(tables["points"], on="point_id")
    found = rows.loc[rows["quantity"] == "x", ["serial", "cct_setting_K", "value"]].to_numpy().tolist()
    assert found == [["A1", 3000, 0.43], ["A1", 4000, 0.38], ["A1", 3000, 0.44], ["A1", 4000, 0.39]]


def test_columns_that_are_no_measurement_are_not_units(read):
    tables = read("Parameter,Unit,Rated,Measured,Tolerance\nLuminous flux,lm,1200,1188,10\nInput power,W,12,12.4,1\n")
    assert tables.values == {"luminous_flux": [1188], "input_power": [12.4]}
    assert tables["points"]["serial"].tolist() == [""]
    assert tables.cells() == ["D2", "D3"]
    assert tables.observed == {"values_not_measured": "minor"}


@pytest.mark.parametrize("word", ["Limit", "Uncertainty", "U (k=2)", "Pass/Fail", "Tolerance", "Rated"])
def test_a_row_of_limits_or_uncertainties_is_no_unit(read, word):
    tables = read(f"Serial,Flux (lm),CCT (K)\nA1,1200,3000\n{word},1100,2900\n")
    assert tables.values == {"luminous_flux": [1200], "cct": [3000]}
    assert tables.observation("values_not_measured").place == "row 3"


def test_columns_that_nothing_heads_are_asked_about(read):
    """They may be units, or one rated and one measured."""
    tables = read("Flux (lm),1200,1188\nCCT (K),3000,3012\nInput power (W),12,12.4\n")
    assert tables.values == {}
    assert tables.observation("label_unknown").place == "row 1, cell B1"


def test_hours_in_the_cells_of_a_time_are_hours(read):
    tables = read("Time,Flux (lm)\n0 h,1000\n1000 h,990\n")
    assert tables["points"]["hours"].tolist() == [0, 1000]


def test_a_quantity_in_two_units_is_read_in_each(read):
    rows = "A1,Luminous flux,1200,lm\nA1,CCT,3000,K\nA2,Luminous flux,1.21,klm\n"
    tables = read("Sample,Parameter,Value,Unit\n" + rows)
    assert tables.values == {"luminous_flux": [1200, 1210], "cct": [3000]}
    assert tables.observed == {}


def test_a_label_that_says_nothing_known_is_asked_about(read):
    tables = read("Parameter,Lantern room,PT-0003\nLuminous flux (lm),1200,1188\nInput power (W),12,12.4\n")
    assert tables.values == {"luminous_flux": [1188], "input_power": [12.4]}
    assert tables.observation("label_unknown").place == "row 1, cell B1"


def test_two_tables_side_by_side_with_rows_of_their_own(read):
    tables = read("Serial,Ra,,Serial,x,y\nA1,90,,B7,0.43,0.40\nA2,91,,,,\n")
    rows = tables["readings"].merge(tables["points"], on="point_id")
    assert set(rows[["serial", "quantity"]].itertuples(index=False, name=None)) == {
        ("A1", "ra"), ("A2", "ra"), ("B7", "x"), ("B7", "y")
    }  # fmt: skip


def test_a_blank_column_inside_one_table_parts_nothing(read):
    tables = read("Serial,Ra,,CCT (K)\nA1,90,,3000\n")
    assert tables.values == {"ra": [90], "cct": [3000]}
    assert tables["points"]["serial"].tolist() == ["A1"]


def test_the_nearest_title_counts_and_a_rival_is_asked_about(read_workbook):
    rows = [["4000 K"], ["Serial", "Ra"], ["A1", 90.0]]
    tables = read_workbook({"3000K": rows})
    assert tables.values == {}
    found = tables.observation("state_conflict")
    assert (found.tier, found.place) == ("major", "sheet '3000K', row 1; sheet '3000K', row 1, cell A1")


def test_rows_that_state_it_themselves_need_no_title(read_workbook):
    tables = read_workbook({"3000K": [["Serial", "CCT setting (K)", "Ra"], ["A1", 4000.0, 90.0]]})
    assert tables["points"]["cct_setting_K"].tolist() == [4000]
    assert tables.observed == {"state_conflict": "minor"}


def test_a_total_of_hours_in_the_name_of_a_file_is_not_asked_about(read):
    tables = read("Serial,Hours (h),Ra\n1,0,90\n1,6000,89\n", "endurance 6000 h.csv")
    assert tables["points"]["hours"].tolist() == [0, 6000]
    assert tables.observed == {}


def test_a_line_between_rows_is_asked_about(read):
    tables = read("Serial,Ra\nNorth hall,\n1,90\nSouth hall,\n2,91\n")
    assert tables.values == {"ra": [90, 91]}
    assert set(tables["observations"]["rule"]) == {"line_in_table"}


def test_a_setting_is_not_carried_down_without_a_word(read):
    tables = read("CCT setting (K),Level (%),Flux (lm)\n3000,100,1200\n,50,610\n4000,100,1300\n")
    assert tables.values == {"luminous_flux": [1200, 1300]}
    assert tables.observation("state_blank").place == "row 3, cell A3"


SPECTRUM = {400: (0.1, 1.2), 405: (0.4, 2.0), 410: (1.3, 2.9), 415: (0.8, 2.2), 420: (0.2, 1.1)}
COLUMNS = [["nm", "unit 1 3000 K", "unit 2 4000 K"], *([str(nm), *map(str, pair)] for nm, pair in SPECTRUM.items())]
STATED = [["Serial", "1", "2"], ["CCT setting (K)", "3000", "4000"], *COLUMNS[:1], *COLUMNS[1:]]
TURNED = [list(row) for row in zip(*COLUMNS, strict=True)]
SPECTRA = {
    "a column per spectrum": COLUMNS,
    "a row per spectrum": TURNED,
    "no heading in the corner": [["", *COLUMNS[0][1:]], *COLUMNS[1:]],
    "turned, no heading in the corner": [["", *TURNED[0][1:]], *TURNED[1:]],
    "states above": [STATED[0], STATED[1], ["Wavelength (nm)", "", ""], *COLUMNS[1:]],
    "states beside": [list(row) for row in zip(*STATED[:2], *(["Wavelength (nm)", "", ""] for _ in ()),
                                               *([f"{nm} nm", *map(str, pair)] for nm, pair in SPECTRUM.items()),
                                               strict=True)],
    "two rows of headings": [["", "unit 1", "unit 2"], ["Wavelength (nm)", "3000 K", "4000 K"], *COLUMNS[1:]],
    "a footer": [*COLUMNS, ["* measured in a sphere"]],
}  # fmt: skip


@pytest.mark.parametrize("name", SPECTRA)
def test_a_matrix_of_spectra_either_way_round(read, name):
    rows = SPECTRA[name]
    tables = read(text_of(rows))
    (grid,) = tables.grids.values()
    assert grid.wavelength_nm.tolist() == list(SPECTRUM)
    assert np.array_equal(grid.power.T, list(SPECTRUM.values()))
    points = tables["spectra"].merge(tables["points"], on="point_id")
    assert points[["serial", "cct_setting_K"]].to_numpy().tolist() == [["1", 3000], ["2", 4000]]
    cells = {address(row, at): cell for row, line in enumerate(rows) for at, cell in enumerate(line)}
    ends = [tuple(cells[end] for end in cell.split(":")) for cell in tables.cells("spectra")]
    assert ends == [("0.1", "0.2"), ("1.2", "1.1")]
    assert "major" not in tables.observed.values()


def test_reflectances_are_no_light(read):
    tables = read("Spectral reflectance of the walls\nwavelength (nm),plaster\n" +
                  "".join(f"{nm},0.6\n" for nm in SPECTRUM))  # fmt: skip
    assert tables.grids == {}
    assert tables.observation("not_light").tier == "major"


def test_a_table_without_headings_is_asked_about_and_read_once_answered(read, tmp_path):
    text = "1,3012,91.5\n2,2998,90.8\n3,3020,91.1\n"
    tables = read(text)
    found = tables.observation("no_header")
    assert tables.values == {}
    assert re.findall(r'^"column \d" = "\w+"', found.ask, re.MULTILINE) == [
        '"column 1" = "serial"', '"column 2" = "cct"', '"column 3" = "ra"'
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("Serial  Ra  CCT\nA1      90  3000\nA2          3010\nA3      91  3020\n",
         [["Serial", "Ra", "CCT"], ["A1", "90", "3000"], ["A2", "", "3010"], ["A3", "91", "3020"]]),
        ("nm A B\n380 0,1 0,2\n385 0,2 0,3\n390 0,3 0,4\n", [["nm", "A", "B"], ["380", "0,1", "0,2"],
                                                             ["385", "0,2", "0,3"], ["390", "0,3", "0,4"]]),
        ("S Ra K\nA 90 3000\nB 91\nC 92 3010\nD 93 3011\n", [["S", "Ra", "K"], ["A", "90", "3000"], ["B 91"],
                                                            ["C", "92", "3010"], ["D", "93", "3011"]]),
        ("Serial  Ra\n------  --\nA1      90\nA2      91\n", [["Serial", "Ra"], [], ["A1", "90"], ["A2", "91"]]),
        ("a,b c\n1,2 3\n4,5 6\n", [["a", "b c"], ["1", "2 3"], ["4", "5 6"]]),
    ],
    ids=["blank cell", "decimal commas", "a cell is missing", "rule", "commas separate"],
)  # fmt: skip
def test_columns_kept_apart_by_blanks(text, rows):
    assert split(text.encode()) == rows


def test_a_row_whose_cells_cannot_be_told_apart_is_not_read(read):
    tables = read("Serial Ra CCT\nA 90 3000\nB 91\nC 92 3010\nD 93 3011\n", "table.txt")
    assert tables.values["ra"] == [90, 92, 93]
    assert math.isclose(len(tables.values["cct"]), 3)


@pytest.mark.parametrize("width", [10_000, 50_000])
@pytest.mark.parametrize("shape", ["unknown headings", "spectra", "on its side"])
def test_very_wide_sheets_are_read_or_refused_with_a_place(read, width, shape):
    """Refused above the columns that a workbook can have; below, every column is read."""
    names = ",".join(f"S{number}" for number in range(width))
    row = ",".join(["90"] * width)
    text = {
        "unknown headings": f"serial,Ra,{names}\nA,90,{row}\n",
        "spectra": f"nm,{names}\n" + "".join(f"{nm},{row}\n" for nm in SPECTRUM),
        "on its side": f"Parameter,{names}\nRa,{row}\nR9,{row}\n",
    }[shape]
    tables = read(text)
    if width > 16_384:
        assert tables.observation("sheet_not_read").place == "row 1"
    else:
        assert len(tables["readings"]) + len(tables["spectra"]) == {"unknown headings": 1, "spectra": width}.get(
            shape, 2 * width
        )


@pytest.mark.parametrize("gap", ["", "\n"])
def test_lines_that_name_a_state_begin_another_table_below_the_same_headings(read, gap):
    tables = read(
        f"Scene: Evening\nZone,Flux (lm)\nHall,500\nStage,200\n{gap}Scene: Morning\nZone,Flux (lm)\nHall,900\n"
    )
    points = tables["points"]
    assert list(zip(points["scene"], points["zone"], strict=True)) == [
        ("Evening", "Hall"),
        ("Evening", "Stage"),
        ("Morning", "Hall"),
    ]


def test_an_elapsed_time_may_be_in_seconds_or_minutes(read):
    """3,600 s and 60 min are an hour (SI brochure, 9th edition, 2019, table 8)."""
    assert read("Elapsed time (s),Flux (lm)\n0,1000\n3600,990\n")["points"]["hours"].tolist() == [0, 1]
    assert read("Elapsed time (min),Flux (lm)\n0,1000\n60,990\n")["points"]["hours"].tolist() == [0, 1]
