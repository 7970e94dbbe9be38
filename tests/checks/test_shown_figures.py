"""What the checks show of the samples and of odd folders: the numbers of the findings, and nothing that breaks."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

import audit
from audit.quantities.chromaticity import xy_to_uv_prime
from plugins.checks.rendition import HUES
from plugins.outputs.drawing import svg

HOME = Path(__file__).parents[2]
CLAIMS = "claim_id,product,quantity,relation,value,value_to"


@pytest.fixture(scope="module", params=["gallery", "store_room"])
def sample(request):
    return audit.run(HOME / "sample_reports" / request.param)


@pytest.fixture(scope="module")
def gallery():
    return audit.run(HOME / "sample_reports" / "gallery")


def by_name(run) -> dict[str, audit.Figure]:
    return {figure.name: figure for figure in run.report.figures}


def folder_with(tmp_path: Path, claims: str, report: str) -> Path:
    (tmp_path / "claims.csv").write_text(f"{CLAIMS}\n{claims}\n", encoding="utf-8")
    (tmp_path / "report.csv").write_text(report, encoding="utf-8")
    return tmp_path


def told(run) -> list[str]:
    return [row["message"] for row in run.observations if row["rule"] in ("check_failed", "figure_left_out")]


def test_samples_show_light_rendition_and_vectors(sample):
    assert told(sample) == []
    assert {"spectra", "bars-r1", "bars-rf_h1", "bars-rcs_h1", "colour-vectors"} <= set(by_name(sample))
    assert any(name.startswith("chromaticity") for name in by_name(sample))


def test_no_drawing_is_heavy(sample):
    assert [figure.name for figure in sample.report.figures if len(svg(figure, figure.name)) > 40_000] == []


def test_names_tell_the_figures_of_a_product_apart(sample):
    assert len(by_name(sample)) == len(sample.report.figures)


def test_figures_name_claims_that_there_are(sample):
    known = {claim["claim_id"] for claim in sample.report.claims}
    assert {claim for figure in sample.report.figures for claim in figure.claims} <= known


def test_every_unit_is_in_the_diagram_with_its_uncertainty(gallery):
    shown = by_name(gallery)["chromaticity"]
    points = next(mark for mark in shown.marks if mark.role == "measured" and mark.kind == "points")
    readings = gallery.evidence.readings
    lights = readings[readings["quantity"].isin(["x", "y"])]
    x, y = (lights.loc[lights["quantity"] == name, "value"].to_numpy() for name in ("x", "y"))
    known = set(zip(*(values.round(9).tolist() for values in xy_to_uv_prime(x, y)), strict=True))
    assert {(round(u, 9), round(v, 9)) for u, v in zip(points.x, points.y, strict=True)} <= known
    outlines = next(mark for mark in shown.marks if mark.role == "measured" and mark.kind == "polygon")
    assert len(outlines.rings) == len(points.x) == 60


def test_points_beside_a_limit_tell_what_the_finding_tells(gallery):
    """The power factor claimed at 20 % fails there; the other levels and settings are shown beside it."""
    shown = by_name(gallery)["power-factor-over-level-percent"]
    finding = next(each for each in gallery.findings if each["claim_id"] == "GA-04")
    outside = next(mark for mark in shown.marks if mark.role == "outside")
    assert min(outside.y) == pytest.approx(finding["value"])
    assert len(outside.y) == finding["points"] == 1
    assert len(next(mark for mark in shown.marks if mark.role == "measured").y) == 8
    limit = next(mark for mark in shown.marks if mark.role == "limit")
    assert set(limit.y) == {finding["limit"]}
    assert "GA-04, at least 0.9: 1 outside the limit" in shown.alternative


def test_only_readings_of_the_claimed_definition_are_shown(gallery):
    """GA-34 is about equal-energy white and is met; about the unit's own white the hues lie elsewhere."""
    shown = by_name(gallery)["hue-setting-error-over-saturation-setting-percent"]
    finding = next(each for each in gallery.findings if each["claim_id"] == "GA-34")
    assert finding["verdict"] == "supported"
    assert len(next(mark for mark in shown.marks if mark.role == "inside").y) == finding["points"]
    assert not {"outside", "doubtful"} & {mark.role for mark in shown.marks}


def test_a_limit_on_perceived_light_stands_where_it_is_measured():
    """25 % perceived is 6.25 % measured (square law, IES Lighting Handbook, MEMORY)."""
    cafe = audit.run(HOME / "sample_reports" / "cafe")
    limits = [mark for mark in by_name(cafe)["dimmed-light-minimum-over-level-percent"].marks if mark.role == "limit"]
    assert {mark.title.partition(":")[0]: mark.y[0] for mark in limits} == {
        "CA-10": 1,
        "CA-11": pytest.approx(6.25),
        "CA-12": 10,
    }


def test_roles_follow_the_findings_of_a_range(gallery):
    shown = by_name(gallery)["duv-over-cct-setting-K"]
    failing = next(mark for mark in shown.marks if mark.role == "outside")
    finding = next(each for each in gallery.findings if each["claim_id"] == "GA-08")
    count = int(re.search(r"contradicted by (\d+) of", finding["message"])[1])
    assert len(failing.x) == count


def test_bars_and_vectors_are_those_of_the_lowest_index(gallery):
    readings = gallery.evidence.readings
    computed = readings[readings["origin"] == "computed"]
    rf = computed[computed["quantity"] == "rf"]
    worst = computed[computed["spectrum_id"] == rf.loc[rf["value"].idxmin(), "spectrum_id"]]
    value = dict(zip(worst["quantity"], worst["value"], strict=True))
    bars = next(mark for mark in by_name(gallery)["bars-rcs_h1"].marks if mark.kind == "bars")
    assert bars.y == tuple(value[f"rcs_h{j}"] for j in range(1, 17))
    arrows = next(mark for mark in by_name(gallery)["colour-vectors"].marks if mark.kind == "vectors")
    moved = np.array([arrows.to_x, arrows.to_y]) - np.array([arrows.x, arrows.y])
    outward = (moved * np.array([arrows.x, arrows.y])).sum(axis=0)  # the tails lie on a circle of radius 1
    assert 100 * outward == pytest.approx([value[f"rcs_h{j}"] for j in range(1, 17)])
    assert np.hypot(*moved) ** 2 - outward**2 == pytest.approx([value[f"rhs_h{j}"] ** 2 for j in range(1, 17)])


def test_the_hues_are_those_of_the_standard():
    """Source: colour-science, the hue data of CIECAM02 (CIE 159:2004): red, yellow, green, blue."""
    from colour.appearance.ciecam02 import HUE_DATA_FOR_HUE_QUADRATURE

    assert list(HUES.values()) == pytest.approx(HUE_DATA_FOR_HUE_QUADRATURE["h_i"][:4])


def test_printed_chromaticities_are_shown_without_spectra(tmp_path):
    report = "serial,x,y\n1,0.4378,0.4042\n2,0.4390,0.4050\n"
    run = audit.run(folder_with(tmp_path, "A,Sedge,x,between,0.43,0.45", report))
    assert told(run) == []
    assert list(by_name(run)) == ["chromaticity-3000"]


def test_a_coloured_light_is_near_no_nominal_cct(tmp_path):
    run = audit.run(folder_with(tmp_path, "A,Sedge,x,between,0.1,0.2", "serial,x,y\n1,0.16,0.06\n"))
    assert told(run) == []
    assert list(by_name(run)) == ["chromaticity"]
    assert "near no nominal CCT" in by_name(run)["chromaticity"].alternative
    assert "nan" not in svg(by_name(run)["chromaticity"], "fig").casefold()


def test_many_units_stay_light_and_say_so(tmp_path):
    rows = "".join(f"{n},{0.4378 + n / 1e5:.5f},{0.4042 - n / 1e5:.5f}\n" for n in range(300))
    run = audit.run(folder_with(tmp_path, "A,Sedge,x,between,0.4,0.5", f"serial,x,y\n{rows}"))
    shown = by_name(run)["chromaticity-3000"]
    assert "the 60 furthest out of 300 units" in shown.alternative
    assert len(svg(shown, "fig")) < 45_000


def test_a_sweep_stays_light_and_keeps_its_ends(tmp_path):
    rows = "".join(f"1,{100 * 1.6 ** -(n / 60):.3f},{90 + n % 7}\n" for n in range(400))
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,92,", f"serial,level (%),Ra\n{rows}"))
    shown = by_name(run)["ra-over-level-percent"]
    drawn = [value for mark in shown.marks if mark.kind == "points" for value in mark.y]
    assert len(drawn) <= 100
    assert {min(drawn), max(drawn)} == {90.0, 96.0}
    assert "of 400 points" in shown.alternative


def test_one_operating_point_is_no_figure(tmp_path):
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,92,", "serial,Ra\n1,93\n2,94\n"))
    assert list(by_name(run)) == []


def test_order_of_documents_rows_changes_no_figure(tmp_path):
    rows = [f"{n},{s},{90 + n + s / 1000}\n" for n in range(3) for s in (2700, 3000, 4000)]
    found = []
    for turn in (1, -1):
        place = tmp_path / str(turn)
        place.mkdir()
        text = "serial,CCT setting (K),Ra\n" + "".join(rows[::turn])
        found.append(audit.run(folder_with(place, "A,Sedge,ra,at_least,92,", text)).report.figures)
    assert [svg(figure, "fig") for figure in found[0]] == [svg(figure, "fig") for figure in found[1]]


def test_a_claimed_life_shows_its_sets_its_fit_and_where_the_projection_ends(gallery):
    """54,000 h: 6 times 9,000 h, 20 units (ANSI/IES TM-21-11, 5.2.5); the last 5,000 h (5.2.3)."""
    shown = next(figure for figure in gallery.report.figures if "Reedmace P3" in figure.title)
    assert set(shown.claims) == {"GA-15", "GA-16", "GA-17"}
    assert len([mark for mark in shown.marks if mark.kind == "points"]) == 2
    window, limit = (next(m for m in shown.marks if m.role == role) for role in ("fit", "reference"))
    assert (tuple(window.x), limit.x[0]) == ((4000, 9000), 54_000)
    fit = next(mark for mark in shown.marks if mark.role == "fit" and mark.kind == "line")
    means = next(mark for mark in shown.marks if mark.kind == "points" and "85 °C" in mark.title)
    last = dict(zip(means.x, means.y, strict=True))[9000]
    assert fit.y[-1] == pytest.approx(last, abs=0.2)
