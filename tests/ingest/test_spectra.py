"""Spectra in rows, in columns and in long tables: kept on their own wavelengths, the bad ones said and left out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plugins.ingest.long import settings_of
from plugins.ingest.spectra import misorder, wavelength_of, wavelength_run

GRID = "400,405,410,415,420"


@pytest.mark.parametrize(
    ("heading", "value"),
    [("380", 380), (380.0, 380), ("380nm", 380), ("380 nm", 380), ("nm380", 380), ("Spectral Data 380[nm]", 380),
     ("403.1", 403.1), ("WL 555 (nm)", 555), ("R9", None), ("0h", None), ("1000h", None), ("12", None), ("", None)],
)  # fmt: skip
def test_wavelength_of_a_heading(heading, value):
    assert wavelength_of(heading) == value


def test_a_run_needs_five_wavelengths_in_small_steps():
    assert wavelength_run(["serial", "380", "385", "390", "395", "400"]) == {1: 380, 2: 385, 3: 390, 4: 395, 5: 400}
    assert wavelength_run(["380", "385", "390", "395"]) == {}
    assert wavelength_run(["500", "1000", "1500", "2000", "2500"]) == {}  # hours
    assert wavelength_run(["100", "101", "102", "103", "104"]) == {}


def test_misorder_is_the_first_that_does_not_rise():
    assert misorder([1, 2, 3]) == 0
    assert misorder([1, 2, 2, 3]) == 2
    assert misorder([3, 2, 1]) == 1


@pytest.mark.parametrize("style", ["{}", "{}nm", "{} nm", "nm{}", "Spectral Data {}[nm]"])
def test_wide_with_readings_beside(read, style):
    headings = ",".join(style.format(wavelength) for wavelength in range(400, 421, 5))
    tables = read(f"serial,CCT setting (K),Ra,{headings}\nA,3000,90,1,2,3,2,1\nB,4000,91,2,3,4,3,-0.5\n")
    assert tables.grids[0].wavelength_nm.tolist() == [400, 405, 410, 415, 420]
    assert tables.grids[0].power.tolist() == [[1, 2, 3, 2, 1], [2, 3, 4, 3, -0.5]]  # the kernel judges negatives
    assert tables["spectra"]["point_id"].tolist() == [0, 1]
    assert tables["spectra"]["row"].tolist() == [0, 1]
    assert tables.values == {"ra": [90, 91]}
    assert tables.cells("spectra") == ["D2:H2", "D3:H3"]
    place = tables["places"].set_index("place_id").loc[tables["spectra"]["place_id"][0]]
    assert (place["row"], place["raw"]) == (2, "1, 2, 3, ...")
    assert tables.observed == {}


@pytest.mark.parametrize(
    ("row", "why", "place"),
    [
        ("B,1,,3,2,1", "cells without a number", "row 3, cell C3"),
        ("B,1,2,x,2,1", "'x'", "row 3, cell D3"),
        ("B,1,2,nan,2,1", "'nan'", "row 3, cell D3"),
        ("B,1,2,inf,2,1", "'inf'", "row 3, cell D3"),
        ("B,1,2,3_0,2,1", "'3_0'", "row 3, cell D3"),
        ("B,1,2,3", "cells without a number", "row 3, cell E3"),
        ("B,0,0,0,0,0", "zero", "row 3, cell B3"),
    ],
)
def test_a_bad_spectrum_never_stops_the_others(read, row, why, place):
    tables = read(f"serial,{GRID}\nA,1,2,3,2,1\n{row}\nC,2,3,4,3,2\n")
    assert tables.grids[0].power.tolist() == [[1, 2, 3, 2, 1], [2, 3, 4, 3, 2]]
    found = tables.observation("spectrum_not_read")
    assert found.tier == "major"
    assert why in found.message
    assert found.place == place
    assert found.ask


@pytest.mark.parametrize(
    ("grid", "cells"),
    [("400,405,405,410,415", "cell C1; row 1, cell D1"), ("400,410,405,415,420", "cell C1; row 1, cell D1"),
     ("420,415,410,405,400", "cell B1; row 1, cell C1")],
    ids=["doubled", "out of order", "falling"],
)  # fmt: skip
def test_wavelengths_out_of_order_or_doubled(read, grid, cells):
    tables = read(f"serial,{grid},Ra\nA,1,2,3,2,1,90\n")
    assert tables.grids == {}
    assert tables.values == {"ra": [90]}  # what stands beside is read
    found = tables.observation("spectrum_not_read")
    assert (found.tier, found.place) == ("major", "row 1, " + cells)
    assert "sort" in found.ask


def test_two_grids_stay_two_grids(read_workbook):
    tables = read_workbook(
        {
            "coarse": [["serial", *range(400, 430, 5)], ["A", 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]],
            "fine": [["serial", *range(400, 406)], ["A", 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]],
        }
    )
    assert [grid.wavelength_nm[1] for grid in tables.grids.values()] == [405, 401]
    assert tables["spectra"]["grid_id"].tolist() == [0, 1]


@pytest.mark.parametrize(
    ("heading", "fields", "unit"),
    [
        ("1", {"serial": "1"}, ""),
        ("unit 2", {"serial": "2"}, ""),
        ("unit 2 3000 K 50 %", {"serial": "2", "cct_setting_K": 3000, "level_percent": 50}, ""),
        ("3000K", {"cct_setting_K": 3000}, ""),
        ("PT-0003 @ 6000 h", {"serial": "PT-0003", "hours": 6000}, ""),
        ("Sample A (W/nm)", {"serial": "A"}, "W/nm"),
        ("package 7, 350 mA [mW/nm]", {"serial": "package 7", "drive_mA": 350}, "mW/nm"),
    ],
)
def test_settings_in_the_heading_of_a_spectrum(heading, fields, unit):
    assert settings_of(heading) == (fields, unit)


def test_columns_are_spectra(read):
    tables = read(
        "Wavelength (nm),unit 1 3000K,unit 2 3000K,Average\n"
        "400,1,2,1.5\n405,2,3,2.5\n410,3,,\n415,2,3,2.5\n420,1,2,1.5\n"
    )
    assert tables.grids[0].power.tolist() == [[1, 2, 3, 2, 1]]
    assert tables["points"]["serial"].tolist()[0] == "1"
    assert tables["points"]["cct_setting_K"].tolist()[0] == 3000
    assert tables.cells("spectra") == ["B2:B6"]
    assert tables.observation("spectrum_not_read").place == "row 4, cell C4"
    assert tables.observation("summary_row").tier == "note"


def test_a_column_with_blank_ends_is_a_shorter_spectrum(read):
    tables = read("wavelength,1,2\n" + "".join(f"{nm},{nm},{nm if nm > 400 else ''}\n" for nm in range(400, 425, 5)))
    assert [grid.wavelength_nm[0] for grid in tables.grids.values()] == [400, 405]
    assert tables.observed == {}


@pytest.mark.parametrize(
    ("heading", "unit"),
    [("Radiant Flux (W/nm)", "W/nm"), ("Intensity", ""), ("Power", ""), ("SPD", ""), ("1 [mW/nm]", "mW/nm")],
)
def test_one_column_of_values_under_any_usual_heading(read, heading, unit):
    tables = read(f"wavelength (nm),{heading}\n" + "".join(f"{nm},{nm / 100}\n" for nm in range(400, 425, 5)))
    assert tables.grids[0].power.tolist() == [[4, 4.05, 4.1, 4.15, 4.2]]
    assert tables["spectra"]["unit"].tolist() == [unit]
    assert tables["points"]["serial"].tolist() == ["1" if heading.startswith("1") else ""]


def test_a_long_table_with_the_state_beside(read):
    rows = [
        f"{serial},{level},{nm},{value}"
        for serial, level, factor in (("A", 100, 2), ("B", 50, 1), ("A", 50, 1))
        for nm, value in zip(range(400, 425, 5), (factor * base for base in (1, 2, 3, 2, 1)), strict=True)
    ]
    tables = read("serial,level (%),wavelength (nm),Spectral flux (mW/nm)\n" + "\n".join(rows) + "\n")
    assert tables.grids[0].power.tolist() == [[2, 4, 6, 4, 2], [1, 2, 3, 2, 1], [1, 2, 3, 2, 1]]
    assert tables["points"][["serial", "level_percent"]].to_numpy().tolist() == [["A", 100], ["B", 50], ["A", 50]]
    assert tables["spectra"]["unit"].tolist() == ["mW/nm"] * 3
    assert tables.cells("spectra") == ["D2:D6", "D7:D11", "D12:D16"]
    assert tables.observed == {}


def test_in_a_long_table_one_bad_group_never_stops_the_others(read):
    good = [f"A,{nm},{nm}" for nm in range(400, 425, 5)]
    doubled = [f"B,{nm},{nm}" for nm in (400, 405, 405, 410)]
    tables = read("serial,wavelength,SPD\n" + "\n".join([*doubled, *good]) + "\n")
    assert tables.grids[0].power.tolist() == [[400, 405, 410, 415, 420]]
    assert tables.observation("spectrum_not_read").place == "row 3, cell B3; row 4, cell B4"


@pytest.mark.parametrize("cell", ["", "end", "nan"])
def test_a_row_without_its_wavelength_refuses_the_sheet(read, cell):
    tables = read(f"wavelength,1\n400,1\n405,2\n{cell},3\n415,2\n")
    assert tables.grids == {}
    assert tables.observation("spectrum_not_read").place == "row 4, cell A4"


def test_micrometres_become_nanometres(read):
    tables = read("wavelength (µm),1\n" + "".join(f"{nm / 1000},1\n" for nm in range(400, 425, 5)))
    assert tables.grids[0].wavelength_nm == pytest.approx([400, 405, 410, 415, 420])


def test_two_columns_of_values_beside_states_cannot_be_told_apart(read):
    tables = read("serial,wavelength,SPD,irradiance\nA,400,1,2\nA,405,1,2\n")
    assert tables.grids == {}
    assert tables.observed == {"sheet_not_read": "major"}


def test_lines_above_a_spectrum_are_those_of_an_export(read):
    body = "".join(f"{nm},{nm}\n" for nm in range(400, 425, 5))
    tables = read("Serial Number,SN-1\nCCT,3012\nRa,91.2\nWavelength (nm),Value\n" + body)
    assert tables["metadata"][["key", "value"]].to_numpy().tolist() == [["instrument_serial", "SN-1"]]
    assert tables.values == {"cct": [3012], "ra": [91.2]}
    assert len(tables.grids) == 1


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@given(
    power=st.lists(
        st.lists(st.floats(1e-6, 1e6).map(lambda value: float(f"{value:.9g}")), min_size=6, max_size=6),
        min_size=1,
        max_size=4,
    )
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
def test_spectra_written_read_back_the_same(read, read_workbook, kind, power):
    rows = [["serial", *range(400, 406)], *([f"S{number}", *row] for number, row in enumerate(power))]
    if kind == "xlsx":
        tables = read_workbook({"spectra": rows})
    else:
        tables = read("\n".join(",".join(str(cell) for cell in row) for row in rows))
    assert np.array_equal(tables.grids[0].power, np.array(power))
    assert tables["points"]["serial"].tolist() == [f"S{number}" for number in range(len(power))]
