"""Exports of spectroradiometers: the two real ones that come with colour-science, and the traps around them.

The expected figures are typed from the files themselves (colour-science 0.4.7, colour/io/tests/resources).
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import pytest

RESOURCES = Path(find_spec("colour").submodule_search_locations[0]) / "io" / "tests" / "resources"
TABBED = {
    "illuminance": 695.154907, "cct": 5198.0, "duv": -0.000620, "x": 0.339663, "y": 0.345975, "u_prime": 0.209915,
    "v_prime": 0.481087, "peak_wavelength": 456.0, "ra": 92.956993, "r1": 91.651062, "r2": 93.014732, "r3": 97.032013,
    "r4": 93.513229, "r5": 92.482590, "r6": 91.486870, "r7": 93.016129, "r8": 91.459312, "r9": 77.613075,
    "r10": 86.981613, "r11": 94.841324, "r12": 74.139542, "r13": 91.073837, "r14": 97.064323, "r15": 88.615669,
    "rf": 87.234917, "rg": 98.510712,
}  # fmt: skip
COMMA = {
    "cct": 3262.0, "duv": -0.0029, "illuminance": 30.1, "peak_wavelength": 608.0, "x": 0.4159, "y": 0.3889,
    "u_prime": 0.2434, "v_prime": 0.5121, "dominant_wavelength": 583.0, "excitation_purity": 41.5, "ra": 87.5,
    "r1": 87.6, "r2": 94.5, "r3": 96.8, "r4": 85.8, "r5": 87.3, "r6": 92.3, "r7": 86.4, "r8": 69.8, "r9": 31.2,
    "r10": 85.6, "r11": 85.1, "r12": 75.6, "r13": 89.6, "r14": 98.8, "r15": 82.5, "rf": 87.0, "rg": 98.0,
}  # fmt: skip


@pytest.fixture
def tabbed(read_path):
    (path,) = RESOURCES.glob("*.xls")
    return read_path(path)


@pytest.fixture
def comma(read_path):
    (path,) = RESOURCES.glob("*_3262K.csv")
    return read_path(path)


def test_all_reported_metrics_of_the_tabbed_export(tabbed):
    assert {name: found for name, (found,) in tabbed.values.items()} == TABBED
    assert set(tabbed["readings"]["resolution"].round(9)) == {1e-6}
    assert set(tabbed["readings"]["origin"]) == {"reported"}
    assert tabbed.cells()[:3] == ["B5", "B7", "B8"]


def test_all_reported_metrics_of_the_comma_export(comma):
    assert {name: found for name, (found,) in comma.values.items()} == COMMA
    resolution = dict(zip(comma["readings"]["quantity"], comma["readings"]["resolution"], strict=True))
    assert resolution["cct"] == 1
    assert resolution["duv"] == pytest.approx(1e-4)
    assert resolution["ra"] == pytest.approx(0.1)
    assert resolution["rf"] == 1


def test_the_spectrum_of_the_tabbed_export(tabbed):
    (grid,) = tabbed.grids.values()
    assert (grid.wavelength_nm[0], grid.wavelength_nm[-1], grid.wavelength_nm.size) == (380, 780, 401)
    assert grid.power[0, :4].tolist() == [0.030267, 0.030267, 0.030267, 0.029822]
    assert tabbed.cells("spectra") == ["B41:B441"]


def test_two_blocks_of_different_step_are_two_spectra_of_one_point(comma):
    coarse, fine = comma.grids.values()
    assert (coarse.wavelength_nm.size, coarse.wavelength_nm[1]) == (81, 385)
    assert (fine.wavelength_nm.size, fine.wavelength_nm[1]) == (401, 381)
    assert coarse.power[0, -1] == 0.000038278766
    assert fine.power[0, -1] == 0.000035575547
    assert comma["spectra"]["point_id"].tolist() == [0, 0]
    assert comma.cells("spectra") == ["B47:B127", "B129:B529"]


@pytest.mark.parametrize("export", ["tabbed", "comma"])
def test_an_export_names_neither_product_nor_sample(export, request):
    tables = request.getfixturevalue(export)
    assert tables["points"][["product", "serial", "test_object"]].to_numpy().tolist() == [["", "", ""]]


def test_model_and_serial_are_the_instrument_s(tabbed):
    assert set(tabbed["metadata"]["key"]) == {"instrument", "instrument_serial", "date"}


@pytest.mark.parametrize(
    ("export", "names"),
    [
        ("tabbed", ("fc", "X (", "Y (", "Z (", "TLCI", "TLMF-A", "SSI-A", "IRR", "LambdaPValue", "I-Time")),
        ("comma", ("TLCI", "SSIt", "SSId", "PPFD", "Tristimulus Value Y", "CIE1931 z", "TM-30 Color Vector Graphic")),
    ],
)
def test_what_the_register_does_not_know_is_listed_not_used(export, names, request):
    tables = request.getfixturevalue(export)
    assert tables.observed == {"metrics_listed": "note"}
    message = tables.observation("metrics_listed").message
    assert all(name in message for name in names)
    assert "---" not in message


def test_exports_are_recognised_whatever_their_ending(read_path, tmp_path):
    for source in (*RESOURCES.glob("*.xls"), *RESOURCES.glob("*_3262K.csv"), *RESOURCES.glob("*.xls.txt")):
        copy = tmp_path / "export.dat"
        copy.write_bytes(source.read_bytes())
        tables = read_path(copy)
        assert tables.confidence["tabular"] == 0.9
        assert len(tables.values) > 20


@pytest.mark.parametrize("name", ["D65.exr", "Colour_Logo.png", "Fluorescent.spdx", "Adjust_Exposure_Float.ctl"])
def test_what_is_no_table_is_not_claimed(name, read):
    from audit.model import Document
    from plugins.ingest.tabular import recognise

    raw = (RESOURCES / name).read_bytes()
    assert recognise(Document(name, RESOURCES / name, len(raw), "0"), raw[:65_536]) == 0


def export(**changes: str) -> str:
    keys = {"Model Name": "M-1", "Serial Number": "77", "CCT": "3012", "Ra": "91.2", "x": "0.4373"}
    lines = [f"{key}\t{value}" for key, value in (keys | changes).items()]
    return "\n".join(lines + [f"{nm}nm\t{nm / 1000}" for nm in range(400, 410)]) + "\n"


def test_keys_may_state_standing_product_sample_and_settings(read):
    tables = read(
        export(
            Standing="own measurement", Product="Saltmarsh 60", **{
                "Test object": "luminaire", "Sample serial": "A-7", "Level (%)": "50", "CCT setting": "3000 K",
                "Report number": "LR-5", "U(x)": "0.0012", "U(CCT) [K]": "25",
            }
        )
    )  # fmt: skip
    (point,) = tables["points"].to_dict("records")
    assert (point["product"], point["serial"], point["test_object"]) == ("Saltmarsh 60", "A-7", "luminaire")
    assert (point["level_percent"], point["cct_setting_K"]) == (50, 3000)
    stated = tables["readings"].set_index("quantity")["expanded_uncertainty"].dropna().to_dict()
    assert stated == {"cct": 25, "x": 0.0012}
    metadata = dict(zip(tables["metadata"]["key"], tables["metadata"]["value"], strict=True))
    assert metadata["standing"] == "own measurement with a portable instrument"
    assert metadata["report_number"] == "LR-5"
    assert metadata["instrument_serial"] == "77"


def test_a_third_cell_may_hold_the_unit(read):
    text = "Quantity,Value,Unit\nCCT,3.012,kK\nIlluminance,64.6,fc\nRa,91.2,\n"
    values = read(text).values
    assert {name: found for name, (found,) in values.items()} == pytest.approx(
        {"cct": 3012, "illuminance": 695.349, "ra": 91.2}, rel=1e-5
    )


def test_a_value_that_is_no_number_is_said_with_its_cell(read):
    found = read(export(CCT="warm")).observation("cell_not_a_number")
    assert (found.tier, found.place) == ("major", "row 3, cell B3")


def test_a_state_that_cannot_be_read_leaves_the_measurement_out(read):
    tables = read(export(**{"Level (%)": "full"}))
    assert tables.values == {}
    assert tables.grids == {}
    assert tables.observation("rows_not_read").place == "row 6, cell B6"


@pytest.mark.parametrize(
    ("wavelengths", "spectra"),
    [
        ([400, 401, 402, 403, 404, 400, 401, 402, 403, 404], 2),  # the start again: a second block
        ([400, 401, 403, 402, 404, 405], 0),
        ([400, 401, 401, 402, 403, 404], 0),
    ],
)
def test_order_within_a_block(read, wavelengths, spectra):
    lines = [f"{nm}nm\t1.5" for nm in wavelengths]
    tables = read("CCT\t3000\nRa\t90\nx\t0.44\n" + "\n".join(lines) + "\n")
    assert len(tables["spectra"]) == spectra
    assert tables.observed == ({} if spectra else {"spectrum_not_read": "major"})
    assert set(tables.values) == {"cct", "ra", "x"}


@pytest.mark.parametrize("value", ["nan", "---", "", "abc"])
def test_a_value_missing_in_a_block_leaves_the_spectrum_out(read, value):
    lines = [f"{nm}nm\t{value if nm == 403 else 1.5}" for nm in range(400, 410)]
    tables = read("CCT\t3000\nRa\t90\nx\t0.44\n" + "\n".join(lines) + "\n")
    assert tables.grids == {}
    assert tables.observation("spectrum_not_read").place == "row 7, cell B7"


def test_an_export_in_a_workbook(read_workbook):
    rows = [["CCT", 3012.0], ["Ra", 91.2], ["Duv", -0.001], *([f"{nm} nm", nm / 1000] for nm in range(400, 410))]
    tables = read_workbook({"Export": rows})
    assert tables.values == {"cct": [3012], "ra": [91.2], "duv": [-0.001]}
    assert tables.cells("spectra") == ["B4:B13"]


def test_in_lines_that_no_instrument_wrote_a_bare_serial_is_asked_about(read):
    tables = read("Serial Number,77\nCCT,3012\nRa,91\nx,0.43\n")
    assert tables.observed == {"column_ambiguous": "minor"}
    assert tables["points"]["serial"].tolist() == [""]
    assert set(tables.values) == {"cct", "ra", "x"}


def test_key_and_value_may_stand_in_one_cell(read):
    tables = read("CCT: 3012 K\nRa: 91\nIlluminance: 30.1 lx\nTime: 2024-03-01 10:30\n")
    assert {name: found for name, (found,) in tables.values.items()} == {"cct": 3012, "ra": 91, "illuminance": 30.1}
    assert tables.cells() == ["A1", "A2", "A3"]
