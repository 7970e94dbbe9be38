"""Lumen maintenance from documents to verdicts: an LM-80 table as a laboratory sends it, and tables with faults."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

import audit
from audit.testing import run_case

REFERENCE = Path(__file__).parents[1] / "reference" / "maintenance"
KEYS = "Standing,accredited report\nProduct,LED\nUsed in,Lamp\nTest object,LED package\n"
IN_SITU = (
    "product,test_object,standing,LED case temperature (°C),LED drive current (mA)\n"
    "Lamp,luminaire,accredited report,{},350\n"
)
HOURS = [0, 1000, 2000, 3000, 4000, 5000, 6000]
RATIO = [100, 99.5012, 99.0050, 98.5112, 98.0199, 97.5310, 97.0446]
SERIES = {
    "document": "LM-80",
    "product": "LED",
    "used_in": "Case luminaire",
    "test_object": "package",
    "case_C": 85,
    "drive_mA": 350,
    "units": 20,
    "hours": HOURS,
    "flux_ratio": RATIO,
}
INSIDE = {"document": "in situ", "test_object": "luminaire", "case_temperature": 85, "drive_mA": 350}
CLAIM = {"quantity": "lumen_maintenance_life", "relation": "at_least", "value": 21000, "definition": "L90"}


def rows_of(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(line for line in stream if not line.startswith("#")))


def folder_of(path: Path, name: str, value: float, definition: str) -> Path:
    """Write the synthetic units of one set as an LM-80 table, and a luminaire whose LEDs meet its temperature."""
    units = [row for row in rows_of("tm21_synthetic_unit_data.csv") if row["set"] == name]
    hours = sorted({float(row["time_h"]) for row in units})
    flux = {(row["unit"], float(row["time_h"])): row["flux_lm"] for row in units}
    celsius = units[0]["Ts_degC"]
    headings = ",".join(["LED no.", *(f"{hour:g} h" for hour in hours)])
    lines = [f'"Ts = {celsius} °C, If = 350 mA"', "Luminous flux (lm)", headings]
    serials = dict.fromkeys(row["unit"] for row in units)
    lines += [",".join([serial, *(flux.get((serial, hour), "") for hour in hours)]) for serial in serials]
    path.mkdir(exist_ok=True)
    (path / "LM-80.csv").write_text(KEYS + "\n" + "\n".join(lines) + "\n", encoding="utf-8")
    (path / "in situ.csv").write_text(IN_SITU.format(celsius), encoding="utf-8")
    head = "claim_id,product,test_object,quantity,relation,value,unit,definition\n"
    claim = f"C1,Lamp,luminaire,lumen_maintenance_life,at_least,{value:.10g},h,{definition}\n"
    (path / "claims.csv").write_text(head + claim, encoding="utf-8")
    return path


RESULTS = [row for row in rows_of("tm21_synthetic_results.csv") if row["Lp_calculated_h"] and row["set"] in "S1 S2 S3"]


@pytest.mark.parametrize("row", RESULTS, ids=[f"{row['set']} L{row['p_percent']}" for row in RESULTS])
def test_units_in_a_folder_give_the_reported_life(row: dict[str, str], tmp_path: Path) -> None:
    """Least squares of the means, worked out elsewhere (tests/reference/maintenance/tm21_synthetic_results.csv)."""
    life, limit = float(row["Lp_calculated_h"]), float(row["limit_h"])
    reported = min(life, limit)
    folder = folder_of(tmp_path / "below", row["set"], 0.98 * reported, f"L{row['p_percent']}")
    (finding,) = audit.run(folder).findings
    assert finding["verdict"] == "supported"
    assert finding["value"] == pytest.approx(reported, rel=2e-5)
    assert row["reported"].replace(",", "") in finding["message"].replace(",", "")
    (strongest,) = finding["strongest"]
    assert 0.99 * reported < strongest["lower"] <= finding["value"]
    deciding = [each for each in finding["evidence"] if each["role"] == "deciding"]
    assert {each["document"] for each in deciding} == {"LM-80.csv"}
    assert all(each["place"] for each in deciding)
    above = folder_of(tmp_path / "above", row["set"], 1.02 * reported, f"L{row['p_percent']}")
    (finding,) = audit.run(above).findings
    assert finding["verdict"] == ("contradicted" if life < limit else "overreaching")


def judged(*evidence: dict, **claim: object) -> dict:
    return run_case({"name": "here", "claim": CLAIM | claim, "evidence": list(evidence)})


def test_hours_that_stand_twice_are_refused_and_named() -> None:
    again = SERIES | {"hours": [0, 1000, 1000, 3000, 4000, 5000, 6000]}
    finding = judged(again, INSIDE)
    assert (finding["verdict"], finding["reasons"]) == ("overreaching", ["record inadequate"])
    assert "1,000 h stands twice" in finding["message"]


def test_the_order_of_hours_changes_nothing() -> None:
    backwards = SERIES | {"hours": HOURS[::-1], "flux_ratio": RATIO[::-1]}
    found, expected = (judged(series, INSIDE) for series in (backwards, SERIES))
    assert (found["verdict"], found["value"]) == ("supported", pytest.approx(expected["value"]))


def test_one_unit_with_hours_of_its_own_stops_the_projection() -> None:
    own = SERIES | {"units": 1, "serial": "99", "hours": [0, 1500, 2500, 3500, 4500, 5500, 6000]}
    finding = judged(SERIES, own, INSIDE)
    assert finding["verdict"] == "overreaching"
    assert "only 1 unit read at 1,500 h" in finding["message"]


def test_a_unit_that_was_lost_is_named_and_counts_no_more() -> None:
    units = [list(RATIO) for _ in range(20)]
    units[6][4:] = [np.nan] * 3
    finding = judged(SERIES | {"flux_ratio": units}, INSIDE, value=34000, definition="L80")
    assert "7 not read to the end" in finding["message"]
    assert finding["verdict"] == "overreaching"  # 19 units are left: 33,000 h


def test_two_sets_at_one_temperature_are_not_guessed_between() -> None:
    other = SERIES | {"ambient_C": 60, "units": 15, "case_C": 85.0}
    finding = judged(SERIES, other, INSIDE)
    assert finding["verdict"] == "overreaching"
    assert "two sets stand at 85 °C" in finding["message"]


def test_units_without_serials_give_no_series() -> None:
    bare = [{**SERIES, "serial": "", "units": 1} for _ in range(12)]
    finding = judged(*bare, INSIDE)
    assert "no serial numbers" in finding["message"]
    assert finding["reasons"] == ["record inadequate", "too few units"]


def test_the_five_per_cent_of_one_programme_are_named() -> None:
    finding = judged(SERIES, INSIDE | {"drive_mA": 360})
    assert "5 %" in finding["message"]
    assert "TM-21 allows none" in finding["message"]


def test_the_scatter_of_the_fit_and_rules_from_memory_are_told() -> None:
    cooler = SERIES | {"case_C": 55, "flux_ratio": [100, 99.8, 99.5, 99.4, 99.1, 98.9, 98.8]}
    finding = judged(cooler, SERIES, INSIDE | {"case_temperature": 70}, value=20000)
    assert "standard error of L90" in finding["method"]
    assert "R19, MEMORY" in finding["method"]
    assert "TM-21-11 with Addendum B" in finding["method"]


@pytest.mark.parametrize(
    ("celsius", "verdict", "told"),
    [
        (84.0, "supported", "84 ± 1.5 °C can't be told from the hottest tested 85 °C: taken as inside"),
        (85.5, "overreaching", "85.5 ± 1.5 °C can't be told from the hottest tested 85 °C: taken as outside"),
        (86.6, "overreaching", ""),
        (83.4, "supported", ""),
    ],
)
def test_a_temperature_that_only_its_uncertainty_tells_from_the_tested_one_says_so(celsius, verdict, told) -> None:
    cooler = SERIES | {"case_C": 55}
    finding = judged(SERIES, cooler, INSIDE | {"case_temperature": celsius, "U(case_temperature)": 1.5}, value=20000)
    assert finding["verdict"] == verdict
    assert told in finding["message"]
    assert ("can't be told" in finding["message"]) == bool(told)


def test_a_share_of_production_is_sent_to_the_units_that_lasted() -> None:
    finding = judged(SERIES, INSIDE, value=6000, population_percent=90)
    assert (finding["verdict"], finding["reasons"]) == ("overreaching", ["record inadequate"])
    assert "(flux_ratio) at these hours" in finding["message"]
    claim = {"quantity": "flux_ratio", "relation": "at_least", "value": 90, "hours": 6000, "population_percent": 85}
    own = {"test_object": "luminaire", "units": 20, "hours": HOURS, "flux_ratio": RATIO}
    case = {"name": "share", "standing": "accredited report", "evidence": [own], "claim": claim}
    assert run_case(case | {"metadata": {"sample_origin": "drawn at random"}})["verdict"] == "supported"
    assert run_case(case | {"claim": claim | {"value": 98}})["verdict"] == "contradicted"
    assert run_case(case | {"claim": claim | {"population_percent": 95}})["verdict"] == "overreaching"


def test_what_a_share_of_units_claims_is_told_as_the_mean() -> None:
    (strongest,) = judged(SERIES, INSIDE, definition="L90B10", value=20000)["strongest"]
    assert (strongest["definition"], strongest["lower"]) == ("L90", 21000)


def written(path: Path, text: str) -> list[dict[str, str]]:
    (path / "report.csv").write_text(text, encoding="utf-8")
    return [dict(row) for row in audit.run(path).observations if row["made_by"] in ("flux_maintenance", "printed_life")]


@pytest.mark.parametrize(
    ("ratios", "rule", "words"),
    [
        (["99.2", "100.0", "98.4"], "maintenance_not_from_start", "100 % at 1,000 h"),
        (["98.9", "98.0", "97.0"], "maintenance_not_from_start", "isn't 100 %"),
        (["", "100.0", "98.4"], "maintenance_not_from_start", "0 h isn't given"),
    ],
)
def test_maintenance_of_another_start_is_told(ratios: list[str], rule: str, words: str, tmp_path: Path) -> None:
    rows = "".join(f"1,{hour},{ratio}\n" for hour, ratio in zip((0, 1000, 2000), ratios, strict=True))
    (found,) = written(tmp_path, "serial,hours,Lumen maintenance (%)\n" + rows)
    assert found["rule"] == rule
    assert words in found["message"]


def test_maintenance_that_the_flux_does_not_give_is_told(tmp_path: Path) -> None:
    rows = "1,0,1000.0,100.0\n1,1000,990.0,99.0\n1,2000,980.0,99.5\n"
    (found,) = written(tmp_path, "serial,hours,Luminous flux (lm),Lumen maintenance (%)\n" + rows)
    assert (found["rule"], found["tier"]) == ("maintenance_doesnt_follow", "major")
    assert "99.5 % at 2,000 h" in found["message"]


def test_flux_without_its_start_is_asked(tmp_path: Path) -> None:
    (found,) = written(tmp_path, "serial,hours,Luminous flux (lm)\n1,1000,990.0\n1,2000,980.0\n")
    assert found["rule"] == "flux_without_start"


SHEET = (
    "Case temperature (°C),Number of units,Test duration (h),alpha (1/h),Initial constant B,Calculated L80 (h),"
    "Reported L80 (h)\n{}\n"
)


@pytest.mark.parametrize(("first", "read"), [("alpha (1/h)", True), ("Case temperature (°C)", False)])
def test_a_lone_b_is_that_of_the_fit_where_alpha_stands_beside_it(first: str, read: bool, tmp_path: Path) -> None:
    keys = "Standing,accredited report\nTest object,LED package\n\n"
    line = f"{first},B,Number of units\n{5.1e-6 if read else 85},1.005,25\n"
    (tmp_path / "sheet.csv").write_text(keys + line, encoding="utf-8")
    run = audit.run(tmp_path)
    found = run.evidence.readings.query("quantity == 'initial_constant'")["value"].tolist()
    assert found == ([1.005] if read else [])
    asked = [row for row in run.observations if row["rule"].startswith("column_") and "'B'" in row["message"]]
    assert bool(asked) != read


@pytest.mark.parametrize(
    ("line", "words"),
    [
        # ln(1.005 / 0.8) / 5.1e-6 = 44,730 h; 6 times 9,000 h is 54,000 h
        ("85,25,9000,5.10e-6,1.005,44700,44700", ""),
        ("85,25,9000,5.10e-6,1.005,49000,49000", "calculated life printed as 49,000 h"),
        ("55,25,9000,2.10e-6,1.005,109000,> 54000", ""),
        ("55,25,9000,2.10e-6,1.005,109000,109000", "at most 54,000 h"),
    ],
)
def test_a_printed_sheet_is_checked_for_its_arithmetic(line: str, words: str, tmp_path: Path) -> None:
    keys = "Standing,accredited report\nTest object,LED package\n\n"
    found = written(tmp_path, keys + SHEET.format(line))
    assert (words in found[0]["message"]) if words else not found
