"""Every line of units.csv against pint, whose definitions follow the SI brochure (BIPM, 9th edition, 2019)."""

import csv
from importlib import resources

import pint
import pytest

from audit.register import quantity_register
from audit.units import conversion, is_unit

# How pint spells what the trade spells otherwise; "" is a number without a unit.
PINT = {
    "": "", "1": "", "-": "", "–": "", "fraction": "", "index": "", "points": "", "Ra": "", "CRI": "",
    "1e-3": "1e-3", "10^-3": "1e-3", "‰": "1e-3", "%": "1e-2", "percent": "1e-2", "per cent": "1e-2", "pct": "1e-2",
    "percentage point": "1e-2", "pp": "1e-2",
    "lm/w": "lumen/watt", "lm·W-1": "lumen/watt", "lm W-1": "lumen/watt", "lumens per watt": "lumen/watt",
    "lumens/watt": "lumen/watt", "LPW": "lumen/watt", "amps": "ampere", "hrs": "hour", "kh": "kilohour",
    "khr": "kilohour", "khrs": "kilohour", "d": "day", "min": "minute", "h": "hour", "hr": "hour",
    "°C": "degC", "℃": "degC", "ºC": "degC", "C": "degC", "deg C": "degC", "DEG": "degC", "celsius": "degC",
    "°F": "degF", "℉": "degF", "ºF": "degF", "F": "degF", "deg F": "degF", "°K": "kelvin",
    "°": "degree", "º": "degree", "deg": "degree", "Å": "angstrom", "fc": "footcandle", "foot-candles": "footcandle",
    "Kelvin": "kelvin", "/h": "1/hour", "h-1": "1/hour", "per hour": "1/hour", "1/kh": "1/kilohour",
}  # fmt: skip
DEFINITIONS = ("footcandle = lumen / foot ** 2 = fc",)  # 1 fc is 1 lm/ft2 (NIST SP 811:2008, B.8)


def lines() -> list[dict[str, str]]:
    text = resources.files("audit").joinpath("units.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    registry = pint.UnitRegistry()
    for definition in DEFINITIONS:
        registry.define(definition)
    return registry


def size(registry: pint.UnitRegistry, value: float, spelling: str) -> pint.Quantity:
    name = PINT.get(spelling, spelling)
    if name.startswith("1e"):
        return registry.Quantity(value * float(name), "")
    return registry.Quantity(value, name)


@pytest.mark.parametrize("line", lines(), ids=lambda line: f"{line['spelling']} to {line['unit']}")
@pytest.mark.parametrize("value", [-3.0, 0.0, 1.0, 273.15])
def test_factor_and_offset_are_those_of_pint(line, value, registry):
    ours = conversion(line["spelling"], line["unit"]).apply(value)
    if line["unit"] == "index":
        assert ours == value
        return
    house = PINT.get(line["unit"], line["unit"])
    theirs = size(registry, value, line["spelling"])
    expected = theirs.m_as("") / float(house) if house.startswith("1e") else theirs.m_as(house)
    assert ours == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_every_unit_of_the_register_has_a_spelling():
    assert {quantity.unit for quantity in quantity_register().values()} <= {line["unit"] for line in lines()}


def test_per_cent_is_no_unit_of_an_index_and_the_refusal_names_what_is():
    with pytest.raises(ValueError, match=r"'%' is not a unit for this quantity; write one of: 1"):
        conversion("%", "index")


@pytest.mark.parametrize(("spelling", "known"), [("Hours", True), ("LUMEN", True), ("MW", False), ("[klm]", True)])
def test_names_of_units_fold_their_case_but_symbols_do_not(spelling, known):
    assert is_unit(spelling) is known
