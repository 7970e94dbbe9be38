"""Headings of spectra: power per wavelength is read in whatever unit; counts, photons and weightings never are."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.model import Document
from plugins.ingest import tabular
from plugins.ingest.headings import SPECTRAL, resolve
from plugins.ingest.spectral_words import doubt_of, doubt_of_title, is_energy_per_nm, is_power, power_per_nm

GRID = range(400, 425, 5)


def columns(*headings: str) -> str:
    """Return a table with a row per wavelength and the same rising values under each heading."""
    rows = (",".join(map(str, (nm, *[nm / 100] * len(headings)))) for nm in GRID)
    return "\n".join([",".join(("Wavelength (nm)", *headings)), *rows]) + "\n"


@pytest.mark.parametrize(
    ("heading", "unit"),
    [
        ("Power [W/nm]", "W/nm"),
        ("Power (mW/nm)", "mW/nm"),
        ("Power [W/(sr nm)]", "W/(sr nm)"),
        ("Power W/nm", "W/nm"),
        ("Flux / (mW/nm)", "mW/nm"),
        ("Flux, mW/nm", "mW/nm"),
        ("Radiant power in μW/nm", "μW/nm"),
        ("Spectral flux [W·nm⁻¹]", "W·nm⁻¹"),
        ("Irradiance (W m-2 nm-1)", "W m-2 nm-1"),
        ("Total spectral radiant flux (mW/nm)", "mW/nm"),
        ("E(λ) [W/m²/nm]", "W/m²/nm"),
        ("Energy", ""),
        ("Power (W)", ""),
        ("Luminous flux [lm/nm]", ""),
        ("Photon flux [µmol/s/nm]", ""),
        ("Power [W at 450 nm]", ""),
        ("SA-01 [mW/nm]", ""),
    ],
)
def test_power_per_nanometre(heading, unit):
    assert power_per_nm(heading) == unit
    assert not unit or (resolve(heading).role, resolve(heading).spelled_unit) == (SPECTRAL, unit)


@pytest.mark.parametrize("unit", ["W/nm", "kW/nm", "W/m²/nm", "W/(m²nm)", "µJ/cm2/nm", "W/nm/sr", "W m^-2 nm^-1"])
def test_units_of_energy_per_nanometre(unit):
    assert is_energy_per_nm(unit)


@pytest.mark.parametrize("unit", ["W", "lm/nm", "mol/nm", "nm", "W/m²", "counts", "Wh", ""])
def test_other_units_are_none_of_energy_per_nanometre(unit):
    assert not is_energy_per_nm(unit)


@pytest.mark.parametrize(
    ("heading", "rule"),
    [
        ("Counts", "spectrum_uncalibrated"),
        ("counts", "spectrum_uncalibrated"),
        ("Raw counts", "spectrum_uncalibrated"),
        ("SA-01 [counts]", "spectrum_uncalibrated"),
        ("Intensity (counts)", "spectrum_uncalibrated"),
        ("ADC", "spectrum_uncalibrated"),
        ("Photon flux (µmol/s/nm)", "spectrum_of_photons"),
        ("PPFD (μmol/m²/s/nm)", "spectrum_of_photons"),
        ("s.q.irrad (mol m-2 s-1 nm-1)", "spectrum_of_photons"),
        ("Photons", "spectrum_of_photons"),
        ("V(λ)", "not_light"),
        ("V'(λ)", "not_light"),
        ("V-lambda", "not_light"),
        ("x_bar", "not_light"),
        ("y\u0304", "not_light"),
        ("Photopic", "not_light"),
        ("Melanopic action spectrum", "not_light"),
        ("τ(λ)", "not_light"),
        ("Luminous flux [lm/nm]", "not_light"),
    ],
)
def test_headings_that_say_no_spectral_power(heading, rule, read):
    assert doubt_of(heading).rule == rule
    tables = read(columns(heading))
    assert tables.grids == {}
    found = tables.observation(rule)
    assert (found.tier, found.place) == ("major", "row 1, cell B1")
    assert found.ask


@pytest.mark.parametrize(
    "heading",
    [
        "SPD",
        "E(λ)",
        "P(λ)",
        "Φ(λ)",
        "I(λ)",
        "S(λ)",
        "SA-01",
        "unit 3 50 %",
        "Relative Intensity",
        "3000K",
        "Account 7",
        "Discount lamp",
        "Vela",
    ],
)
def test_headings_of_light_and_names_of_units_raise_no_doubt(heading, read):
    assert doubt_of(heading) is None
    assert len(read(columns(heading)).grids) == 1


@pytest.mark.parametrize("heading", ["CCT (K)", "Ra", "efficacy (lm/W)", "x", "Luminous flux (lm)"])
def test_a_reading_per_wavelength_is_no_spectrum(heading, read):
    tables = read(columns(heading))
    assert tables.grids == {}
    assert tables.observed == {"sheet_not_read": "major"}
    assert not is_power(heading)


def test_photon_spectra_are_refused_with_the_reason(read):
    assert "photon spectra aren't converted" in read(columns("Photon flux (µmol/s/nm)"))["observations"]["message"][0]


@pytest.mark.parametrize(("other", "rule"), [("V(λ)", "not_light"), ("Counts", "spectrum_uncalibrated")])
def test_beside_a_spectrum_of_light_the_others_take_nothing_away(read, other, rule):
    tables = read(columns("SPD", other))
    assert tables.cells("spectra") == ["B2:B6"]
    assert tables.observed == {rule: "minor"}
    assert tables.observation(rule).place == "row 1, cell C1"


def test_counts_are_asked_about_once_and_the_answer_settles_it(tmp_path):
    path = tmp_path / "scan.csv"
    path.write_text(columns("SA-01 [counts]", "SA-02 [counts]"), encoding="utf-8")
    paper = Document(path.name, path, path.stat().st_size, "")
    (asked,) = tabular.read(paper)["observations"].itertuples()
    assert (asked.rule, asked.place) == ("spectrum_uncalibrated", "row 1, cell B1; row 1, cell C1")
    assert '"SA-01 [counts]" = "spd_value"  # if its values were calibrated' in asked.ask.splitlines()[1]
    answers = {"SA-01 [counts]": "spd_value", "SA-02 [counts]": "ignore"}
    settled = tabular.read(replace(paper, answers=answers))
    assert len(settled["spectra"]) == 1
    assert settled["points"]["serial"].tolist() == ["SA-01"]
    assert set(settled["observations"]["tier"]) == {"note"}


@pytest.mark.parametrize(
    ("title", "rule"),
    [
        ("Photon flux spectra (µmol/s/nm)", "spectrum_of_photons"),
        ("Raw counts", "spectrum_uncalibrated"),
        ("Photon Lighting Laboratory", ""),
    ],
)
def test_a_title_says_what_headings_leave_open(read, title, rule):
    text = f"{title}\nSerial,{','.join(map(str, GRID))}\nA,1,2,3,2,1\n"
    tables = read(text)
    assert tables.observed == ({rule: "major"} if rule else {})
    assert len(tables.grids) == (0 if rule else 1)
    assert (doubt_of_title(title).rule if rule else doubt_of_title(title)) == (rule or None)
    assert len(read(f"{title}\n{columns('Power [W/nm]')}", "b.csv").grids) == 1  # the heading says it itself


def test_readings_beside_wide_counts_are_read(read):
    tables = read(f"serial,Ra,{','.join(f'Counts {nm} nm' for nm in GRID)}\nA,90,1,2,3,2,1\n")
    assert tables.grids == {}
    assert tables.values == {"ra": [90]}
    assert tables.observation("spectrum_uncalibrated").place == "row 1, cell C1"


def test_a_quantity_beside_wavelengths_doesnt_darken_the_spectrum(read):
    tables = read(f"serial,Melanopic EDI (lx),{','.join(map(str, GRID))}\nA,120,1,2,3,2,1\n")
    assert tables.values == {"melanopic_edi": [120]}
    assert len(tables.grids) == 1
