"""Files that nobody here wrote: those that come with colour-science, read where they lie.

They are input like any other, so each is found by what it is, and what the file doesn't say is asked for. What a
photometrist wants of each stands at its test.
"""

from __future__ import annotations

import csv
import warnings
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from corpus import document, found, plugins

from audit.model import Document
from audit.reading import read
from audit.recorder import Recorder
from audit.tables import Tables

PACKAGE = Path(find_spec("colour").submodule_search_locations[0])
RESOURCES = PACKAGE / "io" / "tests" / "resources"
EXPORTS = sorted([*RESOURCES.glob("*.xls"), *RESOURCES.glob("*.xls.txt"), *RESOURCES.glob("*_3262K.csv")])
LAMPS = sorted([RESOURCES / "Fluorescent.spdx", *(PACKAGE / "examples" / "io" / "resources").glob("*.spdx")])
MATRICES = sorted(RESOURCES.glob("color*_ohta*.csv"))
HEADERLESS = RESOURCES / "linss2_10e_5.csv"
SAMPLES = sorted(RESOURCES.glob("X*.txt"))
QUESTIONS = ("major", "minor")


def tables_of(path: Path) -> Tables:
    notes = Recorder(Document.nowhere())
    (part,) = read([document(path)], plugins().readers, plugins().quantities(), notes)
    return part.tables


def test_the_files_are_there():
    assert [len(found) for found in (EXPORTS, LAMPS, MATRICES, SAMPLES)] == [3, 2, 2, 1]


@pytest.mark.parametrize("path", EXPORTS, ids=lambda path: path.suffix)
def test_an_export_is_read_without_a_question(path):
    """Wanted: every metric and every spectrum. Each printed number is one of the readings (typed in test_keyvalue)."""
    outcome = found(path)
    printed = {cell.strip() for row in csv.reader(path.open(encoding="utf-8"), delimiter="," if path.suffix == ".csv"
               else "\t") for cell in row[1:2]}  # fmt: skip
    values = {float(text) for text in printed if text.replace(".", "").replace("-", "").isdigit()}
    readings = [item for item in outcome.items if item.what != "spectrum"]
    assert len(readings) >= 26
    assert all(any(abs(float(item.value) - value) <= 1e-8 * abs(value) for value in values) for item in readings)
    assert [row for row in outcome.observations if row["tier"] in QUESTIONS] == []


@pytest.mark.parametrize("path", LAMPS, ids=["sample", "lamp"])
def test_a_lamp_in_xml_is_the_spectrum_that_colour_science_reads(path):
    """Wanted: the spectrum on its own irregular wavelengths. Oracle: colour-science's reader of TM-27-14."""
    import colour

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        oracle = colour.SpectralDistribution_IESTM2714(str(path)).read()
    (grid,) = tables_of(path).grids.values()
    assert np.array_equal(grid.wavelength_nm, oracle.wavelengths)
    assert np.array_equal(grid.power[0], oracle.values)


def test_xml_without_a_spectrum_is_refused():
    """Wanted: to be told that it's no measurement, and what would be."""
    outcome = found(RESOURCES / "Invalid.spdx")
    assert outcome.items == ()
    assert [row["tier"] for row in outcome.observations] == ["major"]
    assert all(row["ask"] for row in outcome.observations)


@pytest.mark.parametrize("path", MATRICES, ids=["down", "across"])
def test_spectra_of_an_unknown_kind_are_asked_about(path):
    """Wanted: a matrix of numbers that nothing calls light isn't taken for a lamp without a word.

    These are reflectances of colour patches, which only the name of the file hints at; relative spectral power
    looks the same. So the reader either holds them back or says that no unit or quantity is stated.
    """
    outcome = found(path)
    spoken = " ".join(row["message"] + row["ask"] for row in outcome.observations).casefold()
    assert "reflectance" in spoken
    assert all(row["ask"] for row in outcome.observations)


def test_a_matrix_and_its_transpose_are_the_same_spectra():
    """Wanted: the layout makes no difference. Oracle: the numbers in the two files, by the csv module."""
    down, across = ([tables_of(path).grids[number] for number in tables_of(path).grids] for path in MATRICES)
    with MATRICES[0].open(encoding="utf-8") as stream:
        numbers = np.array([[float(cell) for cell in row] for row in list(csv.reader(stream))[1:]])
    for (grid,) in (down, across):
        assert np.array_equal(grid.wavelength_nm, numbers[:, 0])
        assert np.array_equal(grid.power, numbers[:, 1:].T)


def test_columns_without_headings_are_asked_about():
    """Wanted: nothing is guessed; the question names the columns and the lines that settle them."""
    outcome = found(HEADERLESS)
    assert outcome.items == ()
    (question,) = [row for row in outcome.observations if row["tier"] in QUESTIONS]
    assert "columns.toml" in question["ask"]
    assert '"column 1" = ' in question["ask"]


@pytest.mark.parametrize("path", SAMPLES, ids=["patches"])
def test_measured_patches_are_asked_about(path):
    """Wanted: decimal commas and marks around the data are survived, and patches don't become lamps in silence."""
    outcome = found(path)
    questions = [row for row in outcome.observations if row["tier"] in QUESTIONS]
    assert questions
    assert all(row["ask"] for row in questions)
    assert outcome.items == () or any("reflectance" in row["message"] + row["ask"] for row in questions)
