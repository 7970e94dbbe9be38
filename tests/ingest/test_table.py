"""Tables with their headings on top: units, uncertainties, states, and every cell that can't be read said so."""

from __future__ import annotations

import math

import pytest

PLAIN = "serial,CCT (K),Ra,Flux (klm)\nA1,3012,91.5,1.25\nA2,2998,90.8,1.30\n"


def test_values_units_places_and_resolution(read):
    tables = read(PLAIN)
    assert tables.values == {"cct": [3012, 2998], "ra": [91.5, 90.8], "luminous_flux": [1250, 1300]}
    assert tables["points"]["serial"].tolist() == ["A1", "A2"]
    assert tables.cells()[:3] == ["B2", "C2", "D2"]
    assert tables["readings"]["resolution"].tolist()[:3] == pytest.approx([1, 0.1, 10])
    assert tables["places"]["raw"].tolist()[:3] == ["3012", "91.5", "1.25"]
    assert tables.observed == {}


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + PLAIN,
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", ";"),
        PLAIN.replace("\n", "\r\n"),
        '"serial","CCT (K)","Ra","Flux (klm)"\n"A1","3012","91.5","1.25"\n"A2","2998","90.8","1.30"\n',
        PLAIN.replace("\n", ",,\n"),  # columns without heading and cells
        "\n\n" + PLAIN,
    ],
    ids=["BOM", "tabs", "semicolons", "CRLF", "quotes", "blank columns", "blank lines"],
)
def test_one_table_in_many_writings(read, text):
    tables = read(text)
    assert tables.values == read(PLAIN, "plain.csv").values
    assert tables.observed == {}


def test_utf16_from_an_office_program(read):
    assert read(PLAIN.replace(",", "\t").encode("utf-16")).values == read(PLAIN, "plain.csv").values


def test_states_of_every_kind(read):
    tables = read(
        "product,test object,unit,hours (kh),level (%),CCT setting (K),hue,saturation setting,scene,zone,channel,"
        "control value,control kind,ambient (°F),drive current (A),repeat,Ra\n"
        "Saltmarsh 60,LED module,7,6,50,3000,120,80,Evening,North,warm,128,DALI,77,0.35,2,90\n"
    )
    (point,) = tables["points"].to_dict("records")
    assert point["product"] == "Saltmarsh 60"
    assert point["test_object"] == "module"
    assert (point["serial"], point["scene"], point["zone"], point["channel"]) == ("7", "Evening", "North", "warm")
    assert (point["hours"], point["level_percent"], point["cct_setting_K"]) == (6000, 50, 3000)
    assert (point["hue_setting_deg"], point["saturation_setting_percent"]) == (120, 80)
    assert (point["control_value"], point["control_kind"], point["repeat"]) == (128, "DALI", "2")
    assert point["ambient_C"] == pytest.approx(25)
    assert point["drive_mA"] == pytest.approx(350)
    assert tables.observed == {}


def test_uncertainties_are_expanded_to_k_2_in_the_unit_of_the_quantity(read):
    tables = read(
        "serial,CCT (K),U(CCT) (K),x,u(x),Flux (lm),U(flux) %,Ra,U(Ra) (k=3),tc (°C),U(tc) (K)\n"
        "1,3000,30,0.44,0.0004,2000,2.5,90,1.5,80,2\n2,3010,,0.45,0.0004,1000,2.5,91,1.5,81,2\n"
    )
    readings = tables["readings"]
    first = dict(zip(readings["quantity"][:5], readings["expanded_uncertainty"][:5], strict=True))
    assert first == pytest.approx({"cct": 30, "x": 0.0008, "luminous_flux": 50, "ra": 1.0, "case_temperature": 2.0})
    assert math.isnan(readings["expanded_uncertainty"][5])
    assert tables.observed == {}


@pytest.mark.parametrize("cell", ["-0.5", "0", "about 1"])
def test_an_uncertainty_that_is_none_leaves_the_reading_and_is_said(read, cell):
    tables = read(f"serial,Ra,U(Ra)\n1,90,{cell}\n")
    assert tables.values == {"ra": [90]}
    assert math.isnan(tables["readings"]["expanded_uncertainty"][0])
    assert "cell C2" in tables.observation("cell_not_a_number").place


@pytest.mark.parametrize("cell", ["", "-", "---", "N/A", "n/a", "–"])
def test_marks_for_no_value_are_no_value(read, cell):
    tables = read(f"serial,CCT (K),Ra\nA1,{cell},90\nA2,2998,91\n")
    assert tables.values == {"ra": [90, 91], "cct": [2998]}
    assert tables.observed == {}


@pytest.mark.parametrize("cell", ["abc", "=1+1", "41,8", "<6", "nan", ">80", "1_000", "TRUE", "#N/A", "3000 lm"])
def test_anything_else_is_an_observation_with_cell_text_and_remedy(read, cell):
    tables = read(f'serial,CCT (K),Ra\nA1,"{cell}",90\nA2,2998,91\n')
    assert tables.values["cct"] == [2998]
    found = tables.observation("cell_not_a_number")
    assert (found.tier, found.place, found.document) == ("major", "row 2, cell B2", "table.csv")
    assert cell in found.message
    assert found.ask


def test_cells_of_one_kind_are_gathered_with_a_count_and_the_first_places(read):
    rows = "".join(f"A{number},x,90\n" for number in range(9))
    found = read("serial,CCT (K),Ra\n" + rows).observation("cell_not_a_number")
    assert "(9 times)" in found.message
    assert found.place == "row 2, cell B2; row 3, cell B3; row 4, cell B4 and 6 more"


@pytest.mark.parametrize(
    ("heading", "cell", "quantity", "value"),
    [
        ("CCT", "3000 K", "cct", 3000),
        ("CCT", "3.0kK", "cct", 3000),
        ("Power factor", "95 %", "power_factor", 0.95),
        ("Flux (klm)", "950 lm", "luminous_flux", 950),
    ],
)
def test_a_cell_may_carry_its_own_unit(read, heading, cell, quantity, value):
    assert read(f"serial,{heading},R1\n1,{cell},90\n").values[quantity] == pytest.approx([value])


@pytest.mark.parametrize("heading", ["Ra (%)", "Flux (mW)", "CCT (foo)"])
def test_a_unit_that_is_none_for_the_quantity_refuses_the_column(read, heading):
    tables = read(f"serial,{heading},x\nA1,90,0.4\n")
    assert tables.values == {"x": [0.4]}
    found = tables.observation("column_not_read")
    assert (found.tier, found.place) == ("major", "row 1, cell B1")
    assert found.ask


def test_ambiguous_columns_are_not_used_and_the_readings_possible_are_named(read):
    tables = read("serial,Ra,Tc,u,Y\n1,90,85,0.25,700\n")
    assert tables.values == {"ra": [90]}
    found = tables["observations"]
    assert set(found["rule"]) == {"column_ambiguous"}
    assert set(found["tier"]) == {"major"}
    assert "cct (K), case_temperature (°C)" in found["message"].iloc[0]


def test_neighbours_settle_what_a_heading_leaves_open(read):
    tables = read("serial,X,Y,Z,x,y,u,v,u',v'\n1,95,100,108,0.31,0.33,0.20,0.31,0.20,0.47\n")
    assert set(tables.values) == {"x", "y", "u_prime", "v_prime"}
    assert tables.observed == {"metrics_listed": "note"}


def test_a_rated_column_is_no_measurement(read):
    tables = read("serial,Rated flux (lm),Measured flux (lm)\n1,1000,950\n")
    assert tables.values == {"luminous_flux": [950]}
    assert tables.observed == {"column_ambiguous": "minor"}
    assert read("serial,Rated flux (lm),Ra\n1,1000,90\n", "b.csv").observed == {"column_ambiguous": "major"}


def test_unknown_columns_are_one_observation_with_examples(read):
    tables = read("serial,Ra,Mood,Frobs,\n1,90,good,7,stray\n")
    found = tables.observation("column_unknown")
    assert found.tier == "minor"
    assert "'Mood' (such as 'good'; row 1, cell C1)" in found.message
    assert "'Frobs'" in found.message
    assert "(no heading)" in found.message


def test_known_metrics_that_are_not_used_are_one_note(read):
    found = read("serial,Ra,TLCI,SSI,PPFD\n1,90,80,70,0.4\n").observation("metrics_listed")
    assert found.tier == "note"
    assert all(name in found.message for name in ("TLCI (80", "SSI (70", "PPFD (0.4"))


def test_columns_without_any_value_need_no_word(read):
    assert read("serial,Ra,Mood,TLCI,Tc\n1,90,,,\n").observed == {}


def test_definition_of_an_edition(read):
    tables = read("serial,TM-30-15 Rf,TM-30-18 Rf\n1,90,88\n")
    assert tables["readings"]["definition"].tolist() == ["TM-30-15", "TM-30-18"]


@pytest.mark.parametrize(
    ("cell", "standing"),
    [
        ("Accredited report", "accredited report"),
        ("maker’s laboratory", "maker's laboratory"),
        ("Simulation", "simulation"),
        ("portable instrument", "own measurement with a portable instrument"),
        ("datasheet", "data sheet"),
        ("not stated", "not stated"),
    ],
)
def test_standing_is_normalised_to_the_closed_list(read, cell, standing):
    tables = read(f"serial,Ra,Standing\n1,90,{cell}\n2,91,{cell}\n")
    assert tables["metadata"][["key", "value"]].to_numpy().tolist() == [["standing", standing]]
    assert tables.observed == {}


def test_an_unknown_standing_is_not_stated_and_asked_about(read):
    tables = read("serial,Ra,Standing\n1,90,trust me\n")
    assert tables["metadata"]["value"].tolist() == ["not stated"]
    assert "accredited report" in tables.observation("standing_unknown").message


@pytest.mark.parametrize(
    ("key", "first", "second"),
    [
        ("Standing", "accredited report", "maker's laboratory"),
        ("Report number", "LR-0417", "LR-0418"),
        ("Laboratory", "Fenside", "Quernstow"),
        ("Sample origin", "maker", "store"),
    ],
)
def test_what_belongs_to_the_document_may_not_differ_between_rows(read, key, first, second):
    tables = read(f"serial,Ra,{key}\n1,90,{first}\n2,91,{second}\n")
    assert tables["metadata"].empty
    found = tables.observation("document_not_one")
    assert found.tier == "major"
    assert "split" in found.ask
    assert tables.values == {"ra": [90, 91]}


@pytest.mark.parametrize(
    ("standings", "taken"),
    [
        (("accredited report", "data sheet"), "data sheet"),
        (("simulation", "maker's laboratory"), "simulation"),
        (("not stated", "data sheet"), "data sheet"),
        (("simulation", "data sheet"), "simulation"),
    ],
)
def test_rows_of_a_data_sheet_never_pass_as_evidence_beside_others(read, standings, taken):
    tables = read(f"serial,Ra,Standing\n1,90,{standings[0]}\n2,91,{standings[1]}\n")
    assert tables["metadata"][["key", "value"]].to_numpy().tolist() == [["standing", taken]]
    found = tables.observation("document_not_one")
    assert found.tier == "major"
    assert f"taken as '{taken}'" in found.message
    assert "split" in found.ask


def test_document_facts_go_to_metadata_with_their_place(read):
    tables = read("serial,Ra,Report number,Test date\n1,90,LR-0417,2024-03-01\n")
    found = tables["metadata"].merge(tables["places"], on="place_id")
    assert found[["key", "value", "cell"]].to_numpy().tolist() == [
        ["report_number", "LR-0417", "C2"],
        ["date_tested", "2024-03-01", "D2"],
    ]


@pytest.mark.parametrize("cell", ["full", "5O"])
def test_a_row_whose_state_cannot_be_read_is_left_out_not_read_as_blank(read, cell):
    tables = read(f"serial,Level (%),Flux (lm)\n1,{cell},900\n2,50,500\n")
    assert tables.values == {"luminous_flux": [500]}
    assert tables.observation("row_not_read").place == "row 2, cell B2"


def test_an_unknown_test_object_leaves_its_row_out(read):
    tables = read("serial,Test object,Ra\n1,chandelier,90\n2,luminaire,91\n")
    assert tables.values == {"ra": [91]}
    assert "package, module" in tables.observation("row_not_read").message


@pytest.mark.parametrize("heading", ["Level (lm)", "Ambient (V)", "Temperature (°C)", "hours (foo)"])
def test_without_its_state_no_row_is_used(read, heading):
    tables = read(f"serial,{heading},Flux (lm)\n1,60,900\n")
    assert tables.values == {}
    assert tables.observed["rows_not_read"] == "major"


def test_a_column_in_per_cent_without_a_unit_may_hold_fractions(read):
    tables = read("serial,Lumen maintenance,Ra\n1,0.95,90\n2,1.02,91\n")
    assert tables.values == {"ra": [90, 91]}
    assert "fractions" in tables.observation("column_not_read").message
    assert read("serial,Lumen maintenance (%),Ra\n1,0.95,90\n", "b.csv").values["flux_ratio"] == [0.95]
    assert read("serial,Lumen maintenance,Ra\n1,95,90\n", "c.csv").values["flux_ratio"] == [95]


def test_a_row_longer_than_the_headings_is_not_read(read):
    tables = read("serial,zone,Ra\n1,North, East,90\n2,South,91\n")
    assert tables.values == {"ra": [91]}
    assert tables.observation("row_not_read").place == "row 2"


def test_columns_that_say_a_thing_twice(read):
    both = read("serial,LUX,fc,Ra\n1,695.2,64.6,90\n")
    assert both.values == {"illuminance": [695.2], "ra": [90]}
    assert both.observed == {"metrics_listed": "note"}
    differ = read("serial,CCT (K),Colour temperature (K),Ra\n1,3000,3100,90\n", "b.csv")
    assert differ.values == {"ra": [90]}
    assert differ.observed == {"column_doubled": "major"}
    named = read("Unit,Serial,Ra\n1,WL-1,90\n", "c.csv")
    assert named["points"]["serial"].tolist() == ["1"]
    assert named.observed == {"column_doubled": "minor"}


def test_summary_rows_are_no_unit(read):
    tables = read("serial,Ra\n1,90\n2,92\nAverage,91\nStd. Dev.,1.4\n")
    assert tables.values == {"ra": [90, 92]}
    assert tables["observations"]["rule"].tolist() == ["summary_row", "summary_row"]


def test_rows_without_values_are_said(read):
    tables = read("serial,Ra\n1,90\nTested in the north hall,\n")
    assert tables.observation("row_without_values").place == "row 3"
    assert tables["points"]["serial"].tolist() == ["1"]
    wide = read("serial,400,405,410,415,420\n1,1,2,3,2,1\nTested in the north hall\n", "wide.csv")
    assert wide.observation("row_without_values").place == "row 3"


def test_a_row_of_units_under_the_headings(read):
    tables = read("Serial,Flux,Tc,Power factor\n,klm,K,-\n1,1.2,3000,0.95\n")
    assert tables.values == {"luminous_flux": [1200], "cct": [3000], "power_factor": [0.95]}


def test_lines_above_the_table_state_what_holds_for_all_rows(read):
    tables = read(
        "Report number,LR-9\nProduct,Saltmarsh 60\nTest object,luminaire\nAmbient,25.0 °C\n\nSerial,Ra\n1,90\n2,91\n"
    )
    assert tables.values == {"ra": [90, 91]}
    assert tables["points"]["product"].tolist() == ["Saltmarsh 60"] * 2
    assert tables["points"]["ambient_C"].tolist() == [25, 25]
    assert tables["metadata"]["value"].tolist() == ["LR-9", "Saltmarsh 60", "25 °C"]


def test_a_measured_case_temperature_is_also_a_state(read):
    tables = read("serial,Ts (°C),Flux ratio (%)\n1,85,97\n")
    assert tables.values == {"case_temperature": [85], "flux_ratio": [97]}
    assert tables["points"]["case_C"].tolist() == [85]
    bad = read("serial,Ts (°C),Flux ratio (%)\n1,hot,97\n", "b.csv")
    assert bad.values == {"flux_ratio": [97]}
    assert bad.observed == {"cell_not_a_number": "major"}


def test_beside_a_hue_saturation_is_a_setting(read):
    tables = read("serial,Hue (deg),Saturation (%),Ra\n1,120,80,90\n")
    assert tables["points"]["saturation_setting_percent"].tolist() == [80]
    assert read("serial,Saturation (%),Ra\n1,80,90\n", "b.csv").observed == {"column_unknown": "minor"}


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "🦆 lamp", '=HYPERLINK("http://x")', 'O\'Mere "60"', "../up"]
)
def test_names_are_text_and_nothing_else(read, name):
    quoted = name.replace('"', '""')
    tables = read(f'product,serial,Ra\n"{quoted}",1,90\n', "a b.csv")
    assert tables["points"]["product"].tolist() == [name]


def test_time_is_a_date_where_no_cell_is_a_number(read):
    dated = read("serial,Time,Ra\n1,2024-03-01 10:00,90\n")
    assert dated["metadata"]["key"].tolist() == ["date"]
    assert read("serial,Time,Ra\n1,1000,90\n", "b.csv").observed["column_ambiguous"] == "major"
    assert read("serial,Time (h),Ra\n1,1000,90\n", "c.csv")["points"]["hours"].tolist() == [1000]


def test_a_workbook_with_sheets_of_several_kinds(read_workbook):
    tables = read_workbook(
        {
            "Photometry": [["serial", "CCT (K)", "x", "Ra"], ["A", 3000, 0.4, 90.0], ["B", 3012.5, 0.41, "---"]],
            "Spectra": [["serial", *range(400, 405)], ["A", 1.0, 2.0, 3.0, 2.0, 1.0]],
            "Empty": [],
            "Notes": [["seen by the night watch"], ["nothing else"]],
        }
    )
    assert tables.values == {"cct": [3000, 3012.5], "x": [0.4, 0.41], "ra": [90]}
    assert tables.grids[0].power.tolist() == [[1, 2, 3, 2, 1]]
    found = tables.observation("sheet_not_read")
    assert (found.tier, found.subject) == ("minor", "Notes")  # prose beside sheets that were read
    places_read = tables["places"]["sheet"] + "!" + tables["places"]["cell"]
    assert places_read.tolist() == ["Photometry!B2", "Photometry!C2", "Photometry!D2", "Photometry!B3", "Photometry!C3",
                                    "Spectra!B2:F2"]  # fmt: skip


def test_a_workbook_hides_trailing_zeros_so_the_usual_digits_count(read_workbook):
    """0.4 in a cell may be printed as 0.4000: the register's digits, not one unit of 0.1, bound its rounding."""
    tables = read_workbook({"S": [["serial", "x", "CCT (K)"], ["A", 0.4, 3000.0]]})
    assert tables["readings"]["resolution"].tolist() == pytest.approx([1e-4, 1])


def test_the_finest_cell_of_a_column_speaks_for_its_resolution(read):
    tables = read("serial,x\n1,0.4\n2,0.4012\n")
    assert tables["readings"]["resolution"].tolist() == pytest.approx([1e-4, 1e-4])


def test_a_workbook_may_print_fractions_as_per_cent(read_workbook):
    rows = [["serial", "Level (%)", "Power factor", "Flux ratio"], ["A", 1.0, 0.95, 0.97], ["B", 0.5, 0.9, 0.96]]
    formats = {(sheet, cell): "0%" for sheet in ("S",) for cell in ("B2", "B3", "C2", "C3", "D2", "D3")}
    tables = read_workbook({"S": rows}, formats)
    assert tables["points"]["level_percent"].tolist() == [100, 50]
    assert tables.values["power_factor"] == [0.95, 0.9]
    plain = read_workbook({"S": rows})
    assert plain["points"]["level_percent"].tolist() == [1.0, 0.5]  # the heading says per cent, the format nothing


def test_a_claims_sheet_in_a_workbook_is_no_evidence(read_workbook):
    tables = read_workbook({"Claims": [["claim_id", "quantity", "relation", "value"], ["C1", "ra", "at_least", 90]]})
    assert tables.values == {}
    assert tables.observed == {"claims_sheet": "note"}
