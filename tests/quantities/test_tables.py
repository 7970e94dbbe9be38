"""The tables in the project are those of the library they were exported from, with source and status."""

from __future__ import annotations

import numpy as np
import pytest

from audit.quantities import tables

pytestmark = pytest.mark.filterwarnings("ignore")  # the library remarks on its own missing extras


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("cie1931_2deg_cmf", "CIE 1931 2 Degree Standard Observer"),
        ("cie1964_10deg_cmf", "CIE 1964 10 Degree Standard Observer"),
    ],
)
def test_observers(colour, name, key):  # source: colour-science 0.4.7, MSDS_CMFS
    wavelength_nm, values = tables.load(name)
    np.testing.assert_array_equal(wavelength_nm, colour.MSDS_CMFS[key].wavelengths)
    np.testing.assert_array_equal(wavelength_nm, tables.WAVELENGTH_NM)
    np.testing.assert_allclose(values, colour.MSDS_CMFS[key].values, rtol=1e-9)


def test_daylight_components(colour):  # source: colour-science 0.4.7, CIE daylight basis functions
    basis = colour.colorimetry.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
    wavelength_nm, values = tables.load("cie_daylight_components")
    for column, name in zip(values.T, ("S0", "S1", "S2"), strict=True):
        np.testing.assert_array_equal(wavelength_nm, basis[name].wavelengths)
        np.testing.assert_array_equal(column, basis[name].values)
    np.testing.assert_array_equal(tables.daylight_components()[::5], values[16:97])


def test_cie13_3_samples(colour):  # source: colour-science 0.4.7, SDS_TCS
    wavelength_nm, values = tables.load("cie13_3_test_colour_samples")
    for number, column in enumerate(values.T, start=1):
        sample = colour.quality.SDS_TCS["CIE 2024"][f"TCS{number:02d}"]
        inside = (sample.wavelengths >= 380) & (sample.wavelengths <= 780)
        np.testing.assert_array_equal(wavelength_nm, sample.wavelengths[inside])
        np.testing.assert_array_equal(column, sample.values[inside])


def test_cie224_samples(colour):  # source: colour-science 0.4.7, 1 nm table of CIE 224:2017
    samples = colour.quality.cfi2017.load_TCS_CIE2017(colour.SpectralShape(380, 780, 1))
    np.testing.assert_allclose(tables.colour_evaluation_samples(), samples.values, rtol=1e-9)


def test_every_table_names_source_and_status():
    files = sorted(tables.DATA.glob("ci*.csv"))
    assert len(files) == 5
    for file in files:
        head = [line for line in file.read_text(encoding="utf-8").splitlines()[:6] if line.startswith("#")]
        assert any(line.startswith("# source: ") for line in head), file.name
        assert any(line.startswith("# status: ") for line in head), file.name


def test_tables_cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        tables.observer_2deg()[0, 0] = 1.0
