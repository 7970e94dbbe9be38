"""The rows of the built-in requirement sets beside the published tables; what nobody could confirm decides nothing."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from audit.claims import Claim
from audit.model import Document
from audit.numbers import Span
from audit.plugin_manager import load
from audit.recorder import Recorder
from audit.requirements import Requirement, asked_for, read_requirements

REFERENCE = Path(__file__).parents[1] / "reference" / "requirements"
PLUGINS = load()
NAMES = ("EU 2019/2020", "Standard 189.1", "TM-30 Annex E")


def rows_of(name: str) -> dict[str, Requirement]:
    notes = Recorder(Document.nowhere())
    (asked,) = asked_for([name], PLUGINS.requirements, Path("nowhere"))
    rows = read_requirements(asked, PLUGINS.quantities(), notes)
    assert notes.observations == []
    return {row.requirement_id: row for row in rows}


def published(name: str) -> list[dict[str, str]]:
    with (REFERENCE / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def limits(row: Requirement) -> tuple[str, float, float]:
    return row.claim.quantity.name, row.claim.lower, row.claim.upper


@pytest.mark.parametrize("name", NAMES)
def test_every_row_is_read_and_says_where_its_limit_comes_from(name):
    rows = rows_of(name).values()
    assert rows
    for row in rows:
        word = row.claim.limit_status.partition(" ")[0]
        assert word in ("VERIFIED", "COMPUTED", "MEMORY")
        assert row.clause
        assert row.conditions
        assert row.claim.has_limit != bool(row.limit_from)
        assert word == "MEMORY" or row.claim.source
    assert {row.of.cautions[0] for row in rows} != {""}


def test_colour_of_eu_2019_2020():
    """Source: Annex II, Table 4, of Regulation (EU) 2019/2020, text of 2021-09-01 (VERIFIED)."""
    rows, table = rows_of("EU 2019/2020"), {row["quantity"]: row for row in published("thresholds")}
    inf = float("inf")
    assert (table["CRI"]["operator"], table["CRI"]["status"]) == (">=", "VERIFIED")
    assert limits(rows["Ra"]) == ("ra", float(table["CRI"]["value"]), inf)
    steps = table["colour consistency (LED, OLED)"]
    assert (steps["operator"], steps["status"]) == ("<=", "VERIFIED")
    assert limits(rows["steps"]) == ("chromaticity_steps", -inf, float(steps["value"]))
    assert {str(condition) for condition in rows["steps"].conditions} >= {"technology = LED | OLED"}
    assert {rows[name].claim.limit_status for name in ("Ra", "steps")} == {"VERIFIED"}


def test_displacement_factor_of_eu_2019_2020():
    """Source: the bands as quoted by a secondary text (VERIFIED secondary); no limit up to 5 W."""
    table = {row["parameter"].partition("DF, ")[2]: row for row in published("eu_2019_2020_functional")}
    bands = {"DF-10": "5 < Pon <= 10 W", "DF-25": "10 < Pon <= 25 W", "DF": "25 W < Pon"}
    rows = rows_of("EU 2019/2020")
    for name, band in bands.items():
        assert table[band]["status"] == "VERIFIED"
        assert limits(rows[name])[:2] == ("displacement_factor", float(table[band]["requirement"].removeprefix(">= ")))
    assert table["Pon <= 5 W"]["requirement"] == "no limit"
    assert not [row for row in rows.values() if any("up to 5 W" in each.values for each in row.conditions)]


def test_what_nobody_confirmed_of_eu_2019_2020_is_memory():
    """Flicker, standby and survival are MEMORY in the reference, so their limits may decide nothing."""
    rows = rows_of("EU 2019/2020")
    unconfirmed = {name for name, row in rows.items() if row.claim.limit_status.startswith("MEMORY")}
    assert unconfirmed == {"survival", "PstLM", "SVM-2021", "SVM", "Psb", "Pnet", "Ponmax"}


def test_limits_of_eu_2019_2020_from_what_is_declared():
    """Source: the published formula with the constants of Tables 1 and 2, worked out elsewhere (COMPUTED)."""
    rows = rows_of("EU 2019/2020")
    power, kept = rows["Ponmax"].limit_from, rows["XLMF"].limit_from
    assert power
    assert kept
    table = published("eu_2019_2020_ponmax")
    for row in table:
        answers = {
            "declared_flux": float(row["Phi_use_lm"]),
            "declared_ra": float(row["CRI"]),
            "technology": "LED",
            "directional": "no" if "NDLS" in row["case"] else "yes",
            "mains": "no" if "NMLS" in row["case"] else "yes",
            "colour_tuneable": "no",
            "anti_glare": "no",
        }
        assert power.limit(answers) == pytest.approx(float(row["Ponmax_W"]), abs=5e-4), row["case"]
    # Table 4 caps it at 96.0 %; by its formula a life passes 70 % where it ends.
    assert kept.limit({"declared_life": 1e5}) == 96.0
    assert kept.limit({"declared_life": 3000.0}) == pytest.approx(70)
    assert kept.limit({"declared_life": 15000.0}) == pytest.approx(100 * 0.7**0.2)


def test_constants_of_eu_2019_2020():
    """Source: Annex II, Tables 1 and 2 (MEMORY): held together with the table, and no limit of theirs decides."""
    from plugins.requirements import eu_2019_2020 as law

    table_1 = {row["light_source"]: row for row in published("eu_2019_2020_table_1")}
    names = {"LED": "Other light sources in scope (incl. LED lamps and modules)", "OLED": "OLED"}
    for technology, name in names.items():
        row = table_1[name]
        expected = (float(row["eta_threshold_lm_per_W"]), float(row["L_end_loss_W"]))
        assert law.TABLE_1[technology] == expected
    table_2 = {row["item"]: row["value_1"] for row in published("eu_2019_2020_table_2")}
    for (directional, mains), c in law.BASIC_C.items():
        kind = "DLS" if directional == "yes" else "NDLS"
        where = "on mains (MLS)" if mains == "yes" else "not on mains (NMLS)"
        assert c == float(table_2[f"basic: {kind} {where}"])
    assert float(table_2["add: colour-tuneable light source (CTLS)"]) == law.COLOUR_TUNEABLE
    assert float(table_2["add: DLS with anti-glare shield"]) == law.ANTI_GLARE


@pytest.mark.parametrize("cct", ["", "2700", "3500", "4000", "5000"])
def test_standard_189_1(cct):
    """Source: 8.3.5.3 of Standard 189.1-2017, addendum, as quoted (VERIFIED secondary): full output, each CCT."""
    table = {row["quantity"]: row for row in published("thresholds") if "189.1" in row["programme"]}
    assert not cct or cct in table["tunable sources"]["value"].split(", ")
    low, high = (float(end) for end in table["Rcs,h1"]["value"].split(" to "))
    inf, ending = float("inf"), f"-{cct}" if cct else ""
    expected = {
        "Rf": ("rf", float(table["Rf"]["value"]), inf),
        "Rf-h1": ("rf_h1", float(table["Rf,h1"]["value"]), inf),
        "Rg": ("rg", float(table["Rg"]["value"]), inf),
        "Rcs-h1": ("rcs_h1", low, high),
    }
    rows = rows_of("Standard 189.1")
    assert {name: limits(rows[name + ending]) for name in expected} == expected
    (group,) = {rows[name + ending].group for name in expected}
    assert {row.requirement_id for row in rows.values() if row.group == group} == {name + ending for name in expected}
    for name in expected:
        setting = {"cct_setting_K": Span(float(cct), float(cct))} if cct else {}
        assert rows[name + ending].claim.conditions == {"level_percent": Span(100.0, 100.0), **setting}


def test_annex_e():
    """Source: the table of TM-30-20, Annex E, as three independent texts give it (VERIFIED secondary)."""
    rows = rows_of("TM-30 Annex E").values()
    for row in published("tm30_annex_e"):
        ends = {
            "rf": (row["Rf_min"], ""),
            "rg": (row["Rg_min"], ""),
            "rcs_h1": (row["Rcs_h1_min_pct"], row["Rcs_h1_max_pct"]),
            "rf_h1": (row["Rf_h1_min"], ""),
        }
        expected = {
            (name, float(low or "-inf"), float(high or "inf")) for name, (low, high) in ends.items() if low or high
        }
        assert {limits(each) for each in rows if each.group == row["intent_level"]} == expected
    assert {each.group for each in rows} == {row["intent_level"] for row in published("tm30_annex_e")}


def best(groups: dict[str, list[Claim]], values: dict[str, float], intent: str) -> str:
    met = [
        name
        for name, claims in groups.items()
        if name.startswith(intent) and all(c.lower <= values[c.quantity.name] <= c.upper for c in claims)
    ]
    return min(met, default=f"{intent}-")


def test_the_levels_of_the_cie_illuminants():
    """Source: classes worked out by independent code from colour-science's values (COMPUTED); limits met within
    rounding, as by the reference illuminants in V3, are left out."""
    groups: dict[str, list[Claim]] = {}
    for row in rows_of("TM-30 Annex E").values():
        groups.setdefault(row.group, []).append(row.claim)
    seen = 0
    for row in published("tm30_annex_e_classes"):
        values = {
            "rf": float(row["Rf"]),
            "rg": float(row["Rg"]),
            "rcs_h1": float(row["Rcs_h1_pct"]),
            "rf_h1": float(row["Rf_h1"]),
        }
        if abs(values["rcs_h1"]) < 0.005:
            continue
        seen += 1
        found = [best(groups, values, intent) for intent in "PVF"]
        assert found == [row["Preference"], row["Vividness"], row["Fidelity"]], row["illuminant"]
    assert seen == 41
