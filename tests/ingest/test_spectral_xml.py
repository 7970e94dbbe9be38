"""Spectra in XML (ANSI/IES TM-27-14): the oracle is colour-science on its own files; hostile files are refused.

Source of the elements: colour-science 0.4.7, colour/io/tm2714.py.
"""

from __future__ import annotations

import re
import warnings
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.answers import answer_line
from audit.model import Document, Refusal
from plugins.ingest import spectral_xml

PACKAGE = Path(find_spec("colour").submodule_search_locations[0])
LAMP = PACKAGE / "io" / "tests" / "resources" / "Fluorescent.spdx"
INVALID = PACKAGE / "io" / "tests" / "resources" / "Invalid.spdx"
SAMPLES = [LAMP, *(PACKAGE / "examples" / "io" / "resources").glob("*.spdx")]
VALUES = {400.0: "0.02", 403.1: "0.11", 405.5: "0.46", 407.5: "0.93", 420.6: "1.0", 431.0: "0.71"}
HEADER = "<Laboratory>Fenside Photometric Laboratory</Laboratory><ReportNumber>LR-0440</ReportNumber>"


def spdx(
    quantity="flux", header=HEADER, values=VALUES, declaration='<?xml version="1.0"?>', details="", root="IESTM2714"
):
    lines = [f'<SpectralData wavelength="{at}">{value}</SpectralData>' for at, value in values.items()]
    body = "\n".join([f"<SpectralQuantity>{quantity}</SpectralQuantity>{details}", *lines])
    return (
        f'{declaration}\n<{root} xmlns="iestm2714" version="1.0">\n<Header>{header}</Header>\n'
        f"<SpectralDistribution>\n{body}\n</SpectralDistribution>\n</{root}>\n"
    )


@pytest.fixture
def read_xml(read):
    return lambda *content, **parts: read(content[0] if content else spdx(**parts), "lamp.spdx")


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_spectra_are_those_that_colour_science_reads(read_path, path):
    import colour

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        oracle = colour.SpectralDistribution_IESTM2714(str(path)).read()
    tables = read_path(path)
    assert tables.reader.name == "spectral_xml"
    (grid,) = tables.grids.values()
    assert np.array_equal(grid.wavelength_nm, oracle.wavelengths)
    assert np.array_equal(grid.power[0], oracle.values)
    said = dict(zip(tables["metadata"]["key"], tables["metadata"]["value"], strict=True))
    assert said["title"] == oracle.header.description
    assert said["unique_identifier"] == oracle.header.unique_identifier
    assert float(said["bandwidth_fwhm_nm"]) == oracle.bandwidth_FWHM
    assert tables["spectra"]["kind"].tolist() == [oracle.spectral_quantity]


def test_fillers_are_no_names(read_path):
    tables = read_path(LAMP)  # Unknown as manufacturer, N/A as laboratory, catalogue and report number
    assert not {"manufacturer", "laboratory", "model", "report_number", "date_issued"} & set(tables["metadata"]["key"])
    assert tables["points"]["product"].tolist() == [""]


def test_comments_state_the_ambient(read_path):
    tables = read_path(LAMP)  # "Ambient temperature 25 degrees C."
    assert tables["points"]["ambient_C"].tolist() == [25.0]
    assert tables.observed == {"ambient_from_header": "note"}
    assert tables.observation("ambient_from_header").place == "line 13"


def test_header_goes_to_the_metadata_with_its_line(read_xml):
    header = (
        "\n<Manufacturer>Saltern Lighting</Manufacturer>\n<CatalogNumber>SAL-90</CatalogNumber>"
        "\n<Description>downlight</Description>\n<MeasurementEquipment>sphere</MeasurementEquipment>"
        "\n<ReportDate>14.03.2025</ReportDate>\n<FileCreator>bench</FileCreator>\n<comments>none</comments>\n"
    )
    tables = read_xml(header=header, details="<BandwidthFWHM>2.5</BandwidthFWHM>")
    found = tables["metadata"].merge(tables["places"], on="place_id")
    assert found[["key", "value", "row"]].to_numpy().tolist() == [
        ["manufacturer", "Saltern Lighting", 4],
        ["model", "SAL-90", 5],
        ["title", "downlight", 6],
        ["instrument", "sphere", 7],
        ["date_issued", "2025-03-14", 8],
        ["operator", "bench", 9],
        ["remark", "none", 10],
        ["bandwidth_fwhm_nm", "2.5", 13],
    ]
    assert tables["points"]["product"].tolist() == ["SAL-90"]


def test_the_place_of_a_spectrum_is_its_first_line(read_xml):
    tables = read_xml()
    place = tables["places"].set_index("place_id").loc[tables["spectra"]["place_id"][0]]
    assert (place["row"], place["cell"], place["raw"]) == (6, "", "400.0 nm: 0.02, 403.1 nm: 0.11, ...")


@pytest.mark.parametrize(
    "content",
    [
        spdx(root="t:IESTM2714").replace("xmlns=", "xmlns:t="),
        spdx(root="iestm2714").replace("SpectralData", "spectraldata"),
        spdx(declaration="\ufeff<?xml version='1.0'?>"),
        spdx(declaration='<?xml version="1"?>'),  # met in a real file
        spdx(declaration=""),
        spdx(declaration='<?xml version="1.0" encoding="utf-16"?>').encode("utf-16"),
        spdx(declaration='<?xml version="1.0" encoding="iso-8859-1"?>', header="<Comments>Prüfling</Comments>").encode(
            "latin-1"
        ),
    ],
    ids=["prefix", "lower case", "mark", "version 1", "no declaration", "utf-16", "latin-1"],
)
def test_namespaces_and_encodings(read_xml, content):
    tables = read_xml(content)
    assert tables.reader.name == "spectral_xml"
    assert tables.grids[0].wavelength_nm.tolist() == list(VALUES)
    assert tables.grids[0].power[0].tolist() == [float(value) for value in VALUES.values()]


@pytest.mark.parametrize("quantity", spectral_xml.LIGHT)
def test_kinds_of_light(read_xml, quantity):
    tables = read_xml(quantity=quantity.capitalize())
    assert tables["spectra"]["kind"].tolist() == [quantity]
    assert tables.observed == {}


def test_a_unit_in_place_of_the_quantity_is_kept(read_xml):
    tables = read_xml(quantity="mW/m2/nm")
    assert tables["spectra"][["kind", "unit"]].to_numpy().tolist() == [["", "mW/m2/nm"]]


@pytest.mark.parametrize("quantity", ["absorptance", "reflectance", "transmittance", "R-Factor", "T-Factor"])
def test_kinds_of_surfaces_are_refused(read_xml, quantity):
    tables = read_xml(quantity=quantity)
    assert tables.grids == {}
    found = tables.observation("spectrum_not_read")
    assert (found.tier, found.place) == ("major", "line 5")
    assert quantity in found.message
    assert "light source" in found.message
    assert "LR-0440" in tables["metadata"]["value"].tolist()


@pytest.mark.parametrize("quantity", ["other", "", "Unknown", "counts"])
def test_an_unknown_kind_is_asked_about(read_xml, quantity):
    tables = read_xml(quantity=quantity)
    assert tables.grids == {}
    ask = tables.observation("spectrum_not_read").ask
    assert '["lamp.spdx"]' in ask
    assert '"SpectralQuantity" = "relative"' in ask


def test_an_answer_settles_the_kind(tmp_path):
    path = tmp_path / "lamp.spdx"
    path.write_text(spdx(quantity="other"))
    tables = spectral_xml.read(Document(path.name, path, path.stat().st_size, "", answers={"SpectralQuantity": "flux"}))
    assert tables["spectra"]["kind"].tolist() == ["flux"]
    assert answer_line("SpectralQuantity", "flux") in tables["metadata"]["value"].tolist()
    assert "observations" not in tables


@pytest.mark.parametrize(
    ("values", "why", "line"),
    [
        ({**VALUES, 440: "N/A"}, "'N/A' stands where a value should", 12),
        ({**VALUES, 440: ""}, "'' stands where a value should", 12),
        ({**VALUES, 440: "0,5"}, "'0,5'", 12),
        ({**VALUES, 440: "1e999"}, "'1e999'", 12),
        ({**VALUES, 440: "nan"}, "'nan'", 12),
        ({**VALUES, "x": "1"}, "'x' stands where a wavelength should", 12),
        ({**VALUES, 410: "1"}, "'410' follows '431.0'", 12),
        ({**VALUES, "431": "1"}, "'431' follows '431.0'", 12),
        ({at / 1000: value for at, value in VALUES.items()}, "can't be nm", 6),
        (dict.fromkeys(VALUES, "0"), "no light was measured", 6),
        ({400: "1", 405: "2"}, "2 value(s)", 4),
    ],
)
def test_spectra_that_cannot_be_used(read_xml, values, why, line):
    tables = read_xml(values=values)
    assert tables.grids == {}
    found = tables.observation("spectrum_not_read")
    assert why in found.message
    assert found.place == f"line {line}"
    assert found.ask


def test_decimal_commas_in_all_values(read_xml):
    tables = read_xml(values={at: value.replace(".", ",") for at, value in VALUES.items()})
    assert tables.grids[0].power[0].tolist() == [float(value) for value in VALUES.values()]


def test_an_unknown_element_is_listed(read_xml):
    tables = read_xml(header=HEADER + "<Humidity>41</Humidity>")
    assert "'Humidity' (such as '41'; line 3)" in tables.observation("column_unknown").message
    assert len(tables.grids) == 1


def test_many_unknown_elements_are_counted(read_xml):
    tables = read_xml(header="".join(f"<Extra{number}>1</Extra{number}>" for number in range(25)))
    assert "5 more kinds" in tables.observation("elements_unknown").message
    said = tables.observation("column_unknown").message
    assert said.count("Extra") == 5
    assert said.endswith("and 15 more")


def test_two_distributions_are_two_spectra(read_xml):
    one = spdx()
    start, end = one.index("<SpectralDistribution>"), one.index("</IESTM2714>")
    tables = read_xml(one[:end] + one[start:end].replace("0.71", "0.72") + one[end:])
    assert tables.grids[0].power[:, -1].tolist() == [0.71, 0.72]


BOMB = (
    '<!DOCTYPE b [<!ENTITY a "aaaa">' + "".join(f'<!ENTITY b{n} "&b{n - 1};&b{n - 1};">' for n in range(1, 30)) + "]>"
)
OUTSIDE = '<!DOCTYPE b [<!ENTITY x SYSTEM "file:///etc/hostname">]>'


@pytest.mark.parametrize(
    ("content", "why", "line"),
    [
        (spdx(declaration='<?xml version="1.0"?>' + BOMB), "document type", 1),
        (spdx(declaration='<?xml version="1.0"?>\n' + OUTSIDE, header="<Comments>&x;</Comments>"), "document type", 2),
        (spdx(declaration='<?xml version="1.0"?>\n<!DOCTYPE IESTM2714 SYSTEM "http://a.invalid/d">'), "type", 2),
        (spdx(declaration='<?xml version="1.0"?>\n<!DOCTYPE IESTM2714>'), "document type", 2),
        (spdx(header="<a>" * 100_000), "deep", 3),
        (spdx(header="<a/>" * 200_000), "elements", 3),
        (spdx(header="<Comments>at 25 C</Comments>" * 300), "header", 3),
        (spdx(header=f"<Comments>{'x' * 20_000}</Comments>"), "characters", 3),
        (spdx(header="<Comments>&amp;&undefined;</Comments>"), "undefined entity", 3),
        (spdx(declaration='<?xml version="1.0" encoding="x-unknown"?>'), "encoding", 1),
        (spdx(header="<Comments>Prüfling</Comments>").encode("latin-1"), "invalid token", 3),
        (spdx()[:-40], "unclosed token", 11),
        (spdx().replace("</Header>", ""), "mismatched tag", 13),
        ("\x00\x01" * 300, "can't be parsed", 1),
        ("", "can't be parsed", 1),
    ],
    ids=["entities", "outside entity", "outside type", "type", "deep", "elements", "header", "text", "undefined",
         "encoding", "wrong encoding", "cut off", "mismatched", "bytes", "empty"],
)  # fmt: skip
def test_hostile_files_are_refused_with_their_line(tmp_path, content, why, line):
    path = tmp_path / "lamp.spdx"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(Refusal, match=re.escape(why)) as refusal:
        spectral_xml.read(Document(path.name, path, path.stat().st_size, ""))
    assert refusal.value.place == f"line {line}"
    assert refusal.value.ask


def test_a_huge_file_is_refused_before_it_is_opened(tmp_path):
    size = spectral_xml.MAX_BYTES + 1
    with pytest.raises(Refusal, match="5,000,001 bytes") as refusal:
        spectral_xml.read(Document("lamp.spdx", tmp_path / "missing.spdx", size, ""))
    assert refusal.value.ask


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (INVALID.read_text(), "<item>"),
        ("<?xml version='1.0'?><svg xmlns='http://www.w3.org/2000/svg'/>", "<svg>"),
        ('<?xml version="1.0"?>\n<spectrum><point nm="400">1</point></spectrum>', "<spectrum>"),
        ('<?xml version="1.0"?><IESTM2714><Header/></IESTM2714>', "no spectrum"),
    ],
)
def test_xml_of_another_kind_is_refused(tmp_path, confidence_of, content, why):
    path = tmp_path / "lamp.xml"
    path.write_text(content)
    confidence = confidence_of(path)
    assert max(confidence, key=confidence.get) == "spectral_xml"
    with pytest.raises(Refusal, match=why) as refusal:
        spectral_xml.read(Document(path.name, path, path.stat().st_size, ""))
    assert "TM-27-14" in refusal.value.ask


@pytest.mark.parametrize("name", ["table.csv", "notes.txt", "book.xlsx"])
def test_other_files_are_left_to_other_readers(tmp_path, confidence_of, name):
    path = tmp_path / name
    path.write_text("serial,Ra\n1,90\n")
    assert confidence_of(path)["spectral_xml"] == 0


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    wavelengths=st.lists(st.decimals(200, 2500, places=1), min_size=5, max_size=40, unique=True),
    power=st.lists(st.floats(0.001, 1e6), min_size=40, max_size=40),
)
def test_any_spectrum_written_reads_back_the_same(read_xml, wavelengths, power):
    values = {str(at): repr(value) for at, value in zip(sorted(wavelengths), power, strict=False)}
    (grid,) = read_xml(values=values).grids.values()
    assert grid.wavelength_nm.tolist() == [float(at) for at in sorted(wavelengths)]
    assert grid.power[0].tolist() == power[: len(wavelengths)]


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(start=st.integers(0, 500), length=st.integers(0, 60), junk=st.binary(max_size=20))
def test_damaged_bytes_are_read_or_refused_never_worse(tmp_path, start, length, junk):
    raw = spdx().encode()
    path = tmp_path / "lamp.spdx"
    path.write_bytes(raw[:start] + junk + raw[start + length :])
    refused = None
    try:
        spectral_xml.read(Document(path.name, path, path.stat().st_size, ""))
    except Refusal as refusal:
        refused = refusal
    assert refused is None or (refused.message and refused.ask)
