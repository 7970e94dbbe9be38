"""The second opinion: the library's own values beside ours, on real and invented spectra, and what is said of them."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import audit
from audit import second_opinion
from audit.cli import main

SAMPLES = Path(__file__).parents[2] / "sample_reports"


@pytest.fixture(scope="module")
def colour():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

    return colour


@pytest.fixture(scope="module")
def store_room():
    return audit.run(SAMPLES / "store_room", second_opinion=True)


def spectra(folder: Path, name: str, nm: np.ndarray, power: np.ndarray) -> Path:
    (folder / "claims.csv").write_text(
        "claim_id,product,quantity,relation,value,value_to,unit\nA,Sedge,ra,at_least,20,,\n", encoding="utf-8"
    )
    rows = [f"wavelength (nm),{name}", *(f"{w:g},{p:.8g}" for w, p in zip(nm, power, strict=True))]
    (folder / "spectra.csv").write_text("\n".join(rows), encoding="utf-8")
    return folder


def test_both_codes_agree_to_the_last_printed_digit(store_room):
    """Source: colour-science, live, on invented LED spectra at 5 nm, each code with its own resampling."""
    told = store_room.report.second_opinion
    assert told["library"].startswith("colour-science ")
    compared = {row["quantity"]: row for row in told["rows"]}
    assert {"x", "y", "u_prime", "v_prime", "cct", "duv", "ra", "r9", "r14", "rf", "rg", "rf_h16"} <= compared.keys()
    assert all(row["spectra"] == 4 and row["without"] == 0 and not row["sentence"] for row in told["rows"])
    assert all(abs(row["difference"]) <= row["last_digit"] for row in told["rows"])
    assert any(row["difference"] for row in told["rows"])  # two codes, and not one value handed round


def test_the_values_are_those_of_the_library(tmp_path, colour):
    """Source: colour-science on CIE illuminant FL2 of CIE 15, as that library carries it in steps of 5 nm."""
    lamp = colour.SDS_ILLUMINANTS["FL2"]
    run = audit.run(spectra(tmp_path, "1", lamp.wavelengths, lamp.values), second_opinion=True)
    given = {each["quantity"]: each for each in run.report.readings if each["library_value"] is not None}
    again = colour.SpectralDistribution(lamp.values, lamp.wavelengths)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        assert given["ra"]["library_value"] == pytest.approx(colour.colour_rendering_index(again), abs=1e-6)
        fidelity = colour.quality.colour_fidelity_index_ANSIIESTM3018(again)
        x, y = colour.XYZ_to_xy(colour.sd_to_XYZ(again))
    assert given["rf"]["library_value"] == pytest.approx(fidelity, abs=1e-6)
    assert (given["x"]["library_value"], given["y"]["library_value"]) == pytest.approx((x, y), abs=1e-9)
    for each in given.values():
        assert each["library_difference"] == pytest.approx(each["library_value"] - each["value"], abs=1e-12)


def test_a_difference_beyond_the_last_digit_is_said_with_its_cause(tmp_path):
    """A line narrower than the step: each code resamples it in its own way, which moves the indices by units."""
    nm = np.arange(380, 785, 5.0)
    power = 0.02 + np.exp(-(((nm - 545) / 2) ** 2)) + np.exp(-(((nm - 610) / 2) ** 2)) + 0.6 * (nm == 435)
    run = audit.run(spectra(tmp_path, "1", nm, power), second_opinion=True)
    beyond = [row for row in run.report.second_opinion["rows"] if row["beyond"]]
    assert beyond
    for row in beyond:
        assert abs(row["difference"]) > row["last_digit"]
        assert row["sentence"].startswith("1 of 1 value differ")
    assert any("Sprague" in row["sentence"] for row in beyond)


def test_what_the_library_refuses_is_said_and_costs_that_alone(monkeypatch):
    def refuses(colour, spectrum):
        raise ValueError("too short")

    monkeypatch.setattr(second_opinion, "_tm30", refuses)
    run = audit.run(SAMPLES / "store_room", second_opinion=True)
    rows = {row["quantity"]: row for row in run.report.second_opinion["rows"]}
    assert rows["rf"]["sentence"] == "the library gives none for 4 of them (ValueError: too short)"
    assert (rows["rf"]["library_value"], rows["rf"]["without"]) == (None, 4)
    assert rows["ra"]["without"] == 0


def test_it_changes_nothing_else(store_room):
    plain = audit.run(SAMPLES / "store_room")
    assert plain.report.second_opinion is None
    assert all(each["library_value"] is None for each in plain.report.readings)
    assert plain.findings == store_room.findings
    assert plain.observations == store_room.observations
    assert plain.exit_status == store_room.exit_status


def test_the_page_and_the_workbook_show_it(tmp_path):
    command = ["audit", str(SAMPLES / "store_room"), "--out", str(tmp_path), "--second-opinion", "--quiet"]
    assert CliRunner().invoke(main, command).exit_code == 0
    html = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "No two values differ by more than the last digit that the trade prints." in html
    assert html.count("by colour-science 0.") > 1
    import openpyxl

    sheet = openpyxl.load_workbook(tmp_path / "findings.xlsx")["readings"]
    headings = [cell.value for cell in sheet[1]]
    at = headings.index("difference")
    assert headings[at - 1].startswith("colour-science")
    assert any(isinstance(row[at].value, float) for row in sheet.iter_rows(min_row=2))
