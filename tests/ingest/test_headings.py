"""Headings: every spelling of the vocabulary, units, uncertainties, editions, and what is never guessed."""

from __future__ import annotations

import pytest

from audit.model import NUMBER, POINT_FIELDS
from audit.register import quantity_register
from audit.units import conversion
from plugins.ingest.headings import (
    AMBIGUOUS,
    DOCUMENT,
    DOCUMENT_KEYS,
    EXPORT,
    LISTED,
    READING,
    REFUSED,
    REPORT,
    SPECTRAL,
    STATE,
    UNCERTAINTY,
    UNKNOWN,
    WAVELENGTH,
    fold,
    house_unit,
    lookup,
    resolve,
    role_of,
)
from plugins.ingest.vocabulary import vocabulary_lines

QUANTITIES = list(quantity_register().values())
LINES = list(vocabulary_lines())


@pytest.mark.parametrize("quantity", QUANTITIES, ids=lambda quantity: quantity.name)
def test_every_quantity_is_reached_by_its_name_and_title(quantity):
    for spelling in (quantity.name, quantity.name.replace("_", " "), quantity.title, quantity.title.capitalize()):
        assert (resolve(spelling).role, resolve(spelling).target) == (READING, quantity.name), spelling


@pytest.mark.parametrize("quantity", [q for q in QUANTITIES if q.symbol], ids=lambda quantity: quantity.name)
def test_every_symbol_means_its_quantity_or_is_called_ambiguous(quantity):
    meaning = resolve(quantity.symbol)
    if meaning.role == AMBIGUOUS:
        assert quantity.name in meaning.targets
        assert len(meaning.targets) > 1
    else:
        assert (meaning.role, meaning.target) == (READING, quantity.name)


@pytest.mark.parametrize(
    "symbol",
    ["x", "y", "u'", "v'", "Tcp", "Duv", "Ra", "R9", "R15", "Rf", "Rg", "Rf,h1", "Rcs,h16", "Rhs,h5", "Φv", "η", "THDi",
     "ULR", "UGR", "PstLM", "SVM", "Φ/Φ0", "Δu'v'", "KB,v", "tc"],
)  # fmt: skip
def test_symbols_that_mean_one_thing(symbol):
    assert resolve(symbol).role == READING


@pytest.mark.parametrize("field", POINT_FIELDS)
def test_every_operating_point_column_is_reached_by_its_name(field):
    meaning = resolve(field)
    assert (meaning.role, meaning.target) == (STATE, field)
    assert meaning.number is (POINT_FIELDS[field] == NUMBER)


@pytest.mark.parametrize("key", DOCUMENT_KEYS)
def test_every_document_key_is_reached(key):
    assert (resolve(key.replace("_", " ")).role, resolve(key).target) == (DOCUMENT, key)


@pytest.mark.parametrize(("spelling", "entry"), LINES, ids=[f"{spelling}-{entry.target}" for spelling, entry in LINES])
def test_every_line_of_the_vocabulary_is_valid_and_reachable(spelling, entry):
    assert role_of(entry.target)
    if entry.unit and entry.target != "listed":
        assert conversion(entry.unit, house_unit(entry.target))
    assert entry.target in {found.target for found in lookup(spelling)}


def test_no_line_stands_twice():
    assert len({(spelling, entry.target) for spelling, entry in LINES}) == len(LINES)


@pytest.mark.parametrize(
    ("heading", "target", "factor"),
    [
        ("CCT (K)", "cct", 1),
        ("CCT K", "cct", 1),
        ("Flux [klm]", "luminous_flux", 1000),
        ("Flux,klm", "luminous_flux", 1000),
        ("TOTAL FLUX(lm)", "luminous_flux", 1),
        ("Illuminance [lx]", "illuminance", 1),
        ("Illuminance / fc", "illuminance", 10.763910416709722),
        ("Input power/mW", "input_power", 0.001),
        ("THD (%)", "thd_current", 1),
        ("Power factor (%)", "power_factor", 0.01),
        ("Duv (×10^-3)", "duv", 0.001),
        ("Duv×10⁻³", "duv", 0.001),
        ("Measured luminous flux (lm)", "luminous_flux", 1),
        ("Useful luminous flux (ɸuse)", "useful_luminous_flux", 1),
        ("Local Chroma Shift (bin 1) %", "rcs_h1", 1),
        ("⊿uv", "duv", 1),
        ("DELTA u'v'", "chromaticity_shift", 1),
        ("u′", "u_prime", 1),
        ("u’", "u_prime", 1),
        ("u`", "u_prime", 1),
        ("x (CIE 1931)", "x", 1),
        ("R09", "r9", 1),
        ("CRI R14", "r14", 1),
        ("Efficacy lm/W", "luminous_efficacy", 1),
        ("Tc (K)", "cct", 1),
        ("Tc [℃]", "case_temperature", 1),
        ("Y [lx]", "illuminance", 1),
        ("P(W)", "input_power", 1),
        ("Intensity (cd)", "peak_intensity", 1),
    ],
)  # fmt: skip
def test_words_and_unit(heading, target, factor):
    meaning = resolve(heading)
    assert (meaning.role, meaning.target) == (READING, target)
    assert meaning.conversion.factor == pytest.approx(factor)


@pytest.mark.parametrize(
    ("heading", "target"),
    [
        ("Unit", "serial"),
        ("S/N", "serial"),
        ("Sample No.", "serial"),
        ("level (%)", "level_percent"),
        ("CCT setting [K]", "cct_setting_K"),
        ("Ambient (°F)", "ambient_C"),
        ("Drive current (A)", "drive_mA"),
        ("Model", "product"),
    ],
)
def test_states(heading, target):
    assert (resolve(heading).role, resolve(heading).target) == (STATE, target)


@pytest.mark.parametrize(
    ("heading", "role"),
    [("wavelength / nm", WAVELENGTH), ("λ (nm)", WAVELENGTH), ("Radiant Flux (W/nm)", SPECTRAL), ("SPD", SPECTRAL)],
)
def test_spectral_headings(heading, role):
    assert resolve(heading).role == role


@pytest.mark.parametrize(
    ("heading", "target", "coverage", "relative"),
    [
        ("U(Ra)", "ra", 2, False),
        ("U Ra (k=2)", "ra", 2, False),
        ("Ra expanded uncertainty", "ra", 2, False),
        ("Expanded uncertainty of CCT (K)", "cct", 2, False),
        ("U(luminous flux) lm", "luminous_flux", 2, False),
        ("U(x)", "x", 2, False),
        ("U(x) (k = 3)", "x", 3, False),
        ("u(x)", "x", 1, False),  # small u is a standard uncertainty (GUM, JCGM 100:2008, 2.3.1)
        ("standard uncertainty of y", "y", 1, False),
        ("U(flux) %", "luminous_flux", 2, True),
        ("U(Δu'v'(θ))", "angular_colour_uniformity", 2, False),
    ],
)
def test_uncertainties(heading, target, coverage, relative):
    meaning = resolve(heading)
    assert (meaning.role, meaning.target) == (UNCERTAINTY, target)
    assert (meaning.coverage, meaning.relative) == (coverage, relative)


def test_u_with_a_unit_is_the_voltage():
    assert (resolve("U (V)").role, resolve("U (V)").target) == (READING, "voltage")


@pytest.mark.parametrize(
    ("heading", "definition"),
    [
        ("TM-30-15 Rf", "TM-30-15"),
        ("Rf (TM-30-18)", "TM-30-18"),
        ("TM-30 Rf", ""),
        ("CIE Rf (CIE 224:2017)", "CIE 224:2017"),
        ("L80B10 (h)", "L80B10"),
        ("chromaticity steps (u'v' circle)", "u'v' circle"),
        ("lowest light level when dimmed (perceived) %", ""),
        ("dimmed minimum (perceived)", "perceived"),
    ],
)
def test_definitions(heading, definition):
    assert resolve(heading).definition == definition


@pytest.mark.parametrize(
    "heading", ["Tc", "u", "v", "P", "Y", "Y (CIE 1931)", "U", "λ", "γ", "f", "Intensity", "Temperature", "Time"]
)
def test_ambiguous_words_are_never_guessed(heading):
    meaning = resolve(heading)
    assert meaning.role == AMBIGUOUS
    assert len(meaning.candidates) > 1


@pytest.mark.parametrize(
    "heading", ["Rated flux (lm)", "Luminous Flux (Nom)", "NOMINAL POWER(W)", "Average flux", "Max. CCT"]
)
def test_rated_values_and_statistics_are_asked_about(heading):
    assert resolve(heading).role == AMBIGUOUS
    assert "no measurement of one unit" in resolve(heading).why


@pytest.mark.parametrize(
    ("heading", "why"), [("Ra (%)", "'%' is not a unit"), ("Flux (mW)", "'mW'"), ("CCT (foo)", "'foo'")]
)
def test_a_wrong_unit_is_refused(heading, why):
    assert resolve(heading).role == REFUSED
    assert why in resolve(heading).why


@pytest.mark.parametrize("heading", ["X", "Z", "z", "CIE1931 z", "Tristimulus Value Y", "TLCI", "SSId", "TLMF", "IRR"])
def test_neighbours_are_listed(heading):
    assert resolve(heading).role == LISTED


@pytest.mark.parametrize("heading", ["", "Frobnication", "CIE 1964 x", "unit 1", "380", "1", "CHROMATICITY X", "U'"])
def test_unknown_and_capital_coordinates_are_not_taken_for_small_ones(heading):
    assert resolve(heading).role == UNKNOWN


@pytest.mark.parametrize(
    ("layout", "serial", "model"),
    [("column", "serial", "product"), (EXPORT, "instrument_serial", "instrument"), (REPORT, "", "")],
)
def test_model_and_serial_are_whose_the_layout_says(layout, serial, model):
    assert resolve("Serial Number", layout).target == serial
    assert resolve("Model Name", layout).target == model
    assert resolve("Sample serial", layout).target == "serial"


def test_fold_joins_look_alikes_and_keeps_case():
    assert fold(" Δ u′v′ ") == fold("⊿u'v'") == fold("∆u’v’")
    assert fold("X") != fold("x")
    assert fold("CCT_setting-K") == fold("CCTsettingK")
