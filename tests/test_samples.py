"""The sample folders end to end: expected verdicts, the documents' origin, and one limit moved at a time."""

from __future__ import annotations

import csv
import functools
import importlib
import shutil
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

import audit

SAMPLES = Path(__file__).parents[1] / "sample_reports"
FOLDERS = ("store_room", "gallery")
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


def test_store_room_passes_and_gallery_does_not() -> None:
    assert report_on(SAMPLES / "store_room").exit_status == 0
    assert report_on(SAMPLES / "gallery").exit_status == 1


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


def test_flux_in_the_table_follows_from_the_spectra() -> None:
    """Flux = 683 lm/W times the sum of spectrum and V(λ) (SI brochure, 9th edition, 2.3.1; CIE 15:2018)."""
    from audit.quantities.tables import VISIBLE, WAVELENGTH_NM, observer_2deg

    table = rows_of(SAMPLES / "store_room" / "LR-0417 photometry.csv")
    spectra = rows_of(SAMPLES / "store_room" / "LR-0417 spectra.csv")
    nm = [float(heading.removesuffix(" nm")) for heading in spectra[0] if heading.endswith(" nm")]
    v_lambda = np.interp(nm, WAVELENGTH_NM[VISIBLE], observer_2deg()[VISIBLE, 1])
    for printed, row in zip(table, spectra, strict=True):
        milliwatts = np.array([float(row[f"{wavelength:g} nm"]) for wavelength in nm])
        flux_lm = 683 * 1e-3 * float(milliwatts @ v_lambda) * 5
        assert flux_lm == pytest.approx(float(printed["Luminous flux (lm)"]), rel=2e-3)


def test_a_mean_of_units_is_that_of_the_printed_figures() -> None:
    """The units stood at 24.7 °C to 25.4 °C: one operating point by the tolerance of 2 K."""
    printed = [float(row["Luminous flux (lm)"]) for row in rows_of(SAMPLES / "store_room" / "LR-0417 photometry.csv")]
    finding = next(found for found in report_on(SAMPLES / "store_room").findings if found["claim_id"] == "SR-01")
    assert finding["value"] == pytest.approx(sum(printed) / len(printed), rel=1e-9)
    assert (finding["points"], finding["units"]) == (1, len(printed))


@pytest.mark.parametrize("name", FOLDERS)
def test_every_document_is_named_in_its_readme(name: str) -> None:
    text = (SAMPLES / name / "README.md").read_text(encoding="utf-8")
    files = {path.name for path in (SAMPLES / name).iterdir()} - {"README.md"}
    assert {file for file in files if f"`{file}`" not in text} == set()
