"""The sample folders end to end: expected verdicts, the documents' origin, and one limit moved at a time."""

from __future__ import annotations

import csv
import functools
import importlib
import itertools
import shutil
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

import audit

SAMPLES = Path(__file__).parents[1] / "sample_reports"
FOLDERS = ("store_room", "gallery", "cafe")
Judged = dict[str, tuple[str, str, frozenset[str]]]


@functools.cache
def report_on(folder: Path) -> Any:
    return audit.run(folder)


def judged(folder: Path) -> Judged:
    return {
        finding["claim_id"]: (finding["verdict"], finding["side"], frozenset(finding["reasons"]))
        for finding in report_on(folder).findings
    }


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def german_photometry() -> list[dict[str, str]]:
    """The rows of the store room's photometry: below a block of keys, with decimal commas, down to a blank line."""
    lines = (SAMPLES / "store_room" / "LR-0417 photometry.csv").read_text(encoding="cp1252").splitlines()
    cells = [line.replace(",", ".").split(";") for line in lines]
    head = next(at for at, line in enumerate(cells) if line[0] == "Prüfling")
    rows = itertools.takewhile(any, cells[head + 1 :])
    return [dict(zip(cells[head], row, strict=True)) for row in rows]


def expected(folder: Path) -> Judged:
    return {
        row["claim_id"]: (row["verdict"], row["side"], frozenset(filter(None, row["reasons"].split("; "))))
        for row in rows_of(folder / "expected.csv")
    }


@pytest.fixture
def make_samples(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(SAMPLES))
    return importlib.import_module("make_samples")


@pytest.mark.parametrize("name", FOLDERS)
def test_verdicts_are_those_expected(name: str) -> None:
    assert judged(SAMPLES / name) == expected(SAMPLES / name)


def test_store_room_passes_and_the_others_do_not() -> None:
    assert {name: report_on(SAMPLES / name).exit_status for name in FOLDERS} == {
        "store_room": 0,
        "gallery": 1,
        "cafe": 1,
    }


def test_gallery_earns_every_verdict_and_few_are_inconclusive() -> None:
    verdicts = [verdict for verdict, _, _ in judged(SAMPLES / "gallery").values()]
    assert set(verdicts) == {"supported", "contradicted", "inconclusive", "overreaching", "unevidenced"}
    assert verdicts.count("inconclusive") <= len(verdicts) / 4


@pytest.mark.parametrize("name", FOLDERS)
def test_samples_are_read_whole(name: str) -> None:
    """Nothing in our own documents may be unreadable or disputed between table and spectra."""
    serious = [seen for seen in report_on(SAMPLES / name).observations if seen["tier"] in ("refer", "major")]
    assert serious == []


@pytest.mark.parametrize(
    ("name", "claim_id", "verdict"),
    [
        ("store_room", "SR-01", "contradicted"),
        ("store_room", "SR-06", "contradicted"),
        ("gallery", "GA-02", "contradicted"),
        ("gallery", "GA-06", "supported"),
        ("gallery", "GA-04", "supported"),
        ("gallery", "GA-37", "supported"),
        ("cafe", "CA-10", "supported"),
    ],
)
def test_a_limit_moved_past_its_value_flips_that_claim_alone(
    tmp_path: Path, name: str, claim_id: str, verdict: str
) -> None:
    before = {finding["claim_id"]: finding for finding in report_on(SAMPLES / name).findings}[claim_id]
    folder = shutil.copytree(SAMPLES / name, tmp_path / name)
    claims = rows_of(folder / "claims.csv")
    claim = next(row for row in claims if row["claim_id"] == claim_id)
    towards = 1 if before["value"] > float(claim["value"]) else -1
    claim["value"] = f"{before['value'] + towards * 3 * before['expanded_uncertainty']:.6g}"
    with (folder / "claims.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(claim))
        writer.writeheader()
        writer.writerows(claims)
    after, stood = judged(folder), judged(SAMPLES / name)
    assert after.pop(claim_id)[0] == verdict != stood[claim_id][0]
    assert after == {other: found for other, found in stood.items() if other != claim_id}


def test_the_script_writes_the_documents_byte_for_byte(make_samples: ModuleType, tmp_path: Path) -> None:
    for path in make_samples.write(tmp_path):
        assert path.read_bytes() == (SAMPLES / path.relative_to(tmp_path)).read_bytes(), path.name


STORE_ROOM_UNITS = {"WL12-0012", "WL12-0027", "WL12-0031", "WL12-0058"}
GALLERY_UNITS = {"PT-0003", "PT-0009", "PT-0014", "PT-0022", "PT-0037"}
WITH_SPECTRA = {"PT-0003", "PT-0014", "PT-0037"}
FULL_OUTPUT = {(float(cct), 100.0) for cct in (2200, 2700, 3000, 3500, 4000, 5000, 6500)}
GALLERY_STATES = FULL_OUTPUT | {(4000.0, level) for level in (50.0, 20.0)}
ZONES = {"Walls": "PT-0107", "Centre": "PT-0122"}
SCENES = {
    ("Opening hours", "Walls", 100.0),
    ("Opening hours", "Centre", 60.0),
    ("Evening", "Walls", 40.0),
    ("Evening", "Centre", 8.0),
    ("Lantern walk", "Walls", 50.0),
    ("Lantern walk", "Centre", 100.0),
}


def points_of(name: str, document: str) -> list[dict[str, Any]]:
    """The operating points at which one document was read."""
    evidence = report_on(SAMPLES / name).evidence
    owner = evidence.documents.set_index("path")["document_id"][document]
    places = set(evidence.places.loc[evidence.places["document_id"] == owner, "place_id"])
    kept = [table.loc[table["place_id"].isin(places), "point_id"] for table in (evidence.readings, evidence.spectra)]
    used = evidence.points.loc[evidence.points["point_id"].isin({point for ids in kept for point in ids})]
    return used.to_dict("records")


@pytest.mark.parametrize("document", ["LR-0417 photometry.csv", "LR-0417 spectra.xls"])
def test_store_room_is_read_unit_by_unit(document: str) -> None:
    points = points_of("store_room", document)
    assert {point["serial"] for point in points} == STORE_ROOM_UNITS
    assert {point["product"] for point in points} == {"Withyline 12"}
    assert sorted(point["ambient_C"] for point in points) == sorted(
        float(row["Umgebungstemperatur [°C]"]) for row in german_photometry()
    )


@pytest.mark.parametrize(
    ("document", "units", "states"),
    [
        ("LR-0431 photometry.xlsx", GALLERY_UNITS, GALLERY_STATES),
        ("LR-0431 spectra.csv", WITH_SPECTRA, FULL_OUTPUT),
    ],
)
def test_gallery_is_read_state_by_state(document: str, units: set[str], states: set[tuple[float, float]]) -> None:
    """Titles, sheets and two rows of headings state what each row of the first layout stated; no mean is a unit."""
    points = points_of("gallery", document)
    found = {(point["serial"], point["cct_setting_K"], point["level_percent"]) for point in points}
    assert found == {(serial, *state) for serial in units for state in states}
    assert len(points) == len(found)


def test_both_documents_of_a_report_state_the_same_ambient() -> None:
    table, spectra = (
        {(point["serial"], point["cct_setting_K"], point["level_percent"]): point["ambient_C"] for point in points}
        for points in (points_of("gallery", f"LR-0431 {kind}") for kind in ("photometry.xlsx", "spectra.csv"))
    )
    assert len(spectra) == len(WITH_SPECTRA) * len(FULL_OUTPUT)
    assert spectra.items() <= table.items()


def test_scenes_are_read_zone_by_zone_and_recall_by_recall() -> None:
    """The title above each table names its scene, and the headings below are the same in all of them."""
    points = [point for point in points_of("gallery", "LR-0475 scenes.csv") if point["scene"]]
    found = {(point["scene"], point["zone"], point["level_percent"], point["repeat"]) for point in points}
    assert found == {(*scene, recall) for scene in SCENES for recall in ("1", "2", "3")}
    assert {(point["zone"], point["serial"]) for point in points} == set(ZONES.items())


def test_channels_are_read_one_by_one() -> None:
    points = points_of("gallery", "Eelgarth channels 6000 h.xlsx")
    channels = {"warm white", "cool white", "red", "green", "blue"}
    found = {(point["channel"], point["serial"], point["hours"]) for point in points}
    units = [f"CH-{number:02d}" for number in range(1, 11)]
    assert found == {(name, unit, float(h)) for name in channels for unit in units for h in range(0, 6001, 1000)}


def test_a_record_in_seconds_is_read_as_hours() -> None:
    points = [point for point in points_of("cafe", "SD-26-032 record.csv") if point["level_percent"] == 1]
    assert sorted(3600 * point["hours"] for point in points) == pytest.approx(list(range(0, 121, 10)))


def test_endurance_is_read_hour_by_hour() -> None:
    points = points_of("gallery", "Eelgarth endurance 6000 h.csv")
    found = {(point["serial"], point["hours"]) for point in points}
    assert found == {(unit, float(hours)) for unit in ("E101", "E102", "E103") for hours in range(0, 6001, 1000)}
    shared = ("cct_setting_K", "level_percent", "ambient_C")
    assert {tuple(point[field] for field in shared) for point in points} == {(4000, 100, 25)}


def test_flux_in_the_table_follows_from_the_spectra() -> None:
    """Flux = 683 lm/W times the sum of spectrum and V(λ) (SI brochure, 9th edition, 2.3.1; CIE 15:2018)."""
    from audit.quantities.tables import VISIBLE, WAVELENGTH_NM, observer_2deg

    table = german_photometry()
    lines = (SAMPLES / "store_room" / "LR-0417 spectra.xls").read_text(encoding="utf-8").splitlines()
    rows = [line.split("\t") for line in lines]
    units = next(at for at, row in enumerate(rows) if row[0] == "nm")
    nm, *spectra = np.array(rows[units + 1 :], dtype=float).T
    v_lambda = np.interp(nm, WAVELENGTH_NM[VISIBLE], observer_2deg()[VISIBLE, 1])
    for printed, milliwatts in zip(table, spectra, strict=True):
        flux_lm = 683 * 1e-3 * float(milliwatts @ v_lambda) * 5
        assert flux_lm == pytest.approx(float(printed["Lichtstrom [lm]"]), rel=2e-3)


def test_a_mean_of_units_is_that_of_the_printed_figures() -> None:
    """The units stood at 24.7 °C to 25.4 °C: one operating point by the tolerance of 2 K."""
    printed = [float(row["Lichtstrom [lm]"]) for row in german_photometry()]
    finding = next(found for found in report_on(SAMPLES / "store_room").findings if found["claim_id"] == "SR-01")
    assert finding["value"] == pytest.approx(sum(printed) / len(printed), rel=1e-9)
    assert (finding["points"], finding["units"]) == (1, len(printed))


@pytest.mark.parametrize("name", FOLDERS)
def test_every_document_is_named_in_its_readme(name: str) -> None:
    text = (SAMPLES / name / "README.md").read_text(encoding="utf-8")
    files = {path.name for path in (SAMPLES / name).iterdir()} - {"README.md"}
    assert {file for file in files if f"`{file}`" not in text} == set()
