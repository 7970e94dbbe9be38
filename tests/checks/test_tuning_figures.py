"""Figures of tunable light: the readings at their settings, what is white, and the hues of a turn.

The hues lie on a circle about equal-energy white in CIE 1976 u', v', so that their hue-angles are known (geometry); the
tolerance of Duv is that of ANSI C78.377.
"""

from __future__ import annotations

import math

import pytest

import audit
from audit.quantities.chromaticity import cct_duv, uv_prime_to_xy
from plugins.outputs.drawing import svg

CLAIMS = """claim_id,product,quantity,relation,value,definition
LOW,Lamp,white_range_low,at_most,2700,
HIGH,Lamp,white_range_high,at_least,6500,
EVEN,Lamp,hue_step_error,at_most,10,about equal-energy white
"""
WHITES = [(2700, 2680, 0.001), (3500, 3490, -0.003), (4500, 4550, -0.004), (6500, 6300, 0.0125)]


def figures(folder, whites=(), hues=(), claims=CLAIMS):
    (folder / "claims.csv").write_text(claims, encoding="utf-8")
    if whites:
        lines = "\n".join(f"1,{setting},{cct},{duv}" for setting, cct, duv in whites)
        (folder / "LR-7.csv").write_text(f"Serial,CCT setting (K),CCT (K),Duv\n{lines}\n", encoding="utf-8")
    if hues:
        lines = "\n".join(f"1,{hue},100,{u:.5f},{v:.5f}" for hue, u, v in hues)
        head = "Serial,Hue setting (deg),Saturation setting (%),u',v'"
        (folder / "LR-8.csv").write_text(f"{head}\n{lines}\n", encoding="utf-8")
    run = audit.run(folder)
    assert [row["message"] for row in run.observations if row["rule"] in ("check_failed", "figure_left_out")] == []
    return {figure.name: figure for figure in run.report.figures}


def turn(step=60, radius=0.1):
    for hue in range(0, 360, step):
        angle = math.radians(hue)
        yield hue, 4 / 19 + radius * math.cos(angle), 9 / 19 + radius * math.sin(angle)


def mark(figure, role, kind):
    return next(each for each in figure.marks if each.role == role and each.kind == kind)


def test_the_path_is_where_cct_and_duv_say(tmp_path):
    shown = figures(tmp_path, WHITES)["white-over-setting"]
    line = mark(shown, "measured", "line")
    found = cct_duv(*uv_prime_to_xy(line.x, line.y))
    for column, (_, *wanted) in zip(zip(*found, strict=True), WHITES, strict=True):
        assert column == pytest.approx(wanted, rel=1e-4, abs=1e-5)
    assert "furthest from the locus set to 6500 K: +0.0125" in shown.alternative


def test_white_and_tinted_stand_against_their_settings(tmp_path):
    shown = figures(tmp_path, WHITES)
    assert mark(shown["cct-as-set"], "inside", "points").x == (2700, 3500, 4500)
    tinted = mark(shown["cct-as-set"], "outside", "points")
    assert (tinted.x, tinted.y, tinted.labels) == ((6500,), (6300,), ("unit 1, set to 6500 K: 6300 K",))
    limits = {each.y[0] for each in shown["cct-as-set"].marks if each.role == "limit"}
    assert limits == {2700, 6500}
    band = mark(shown["duv-as-set"], "limit", "band")
    assert (band.y[0], band.to_y[0]) == pytest.approx((-0.006, 0.006))  # Duv(T) is 0 at 2700 K
    assert shown["duv-as-set"].claims == ("LOW", "HIGH")


def test_without_a_claimed_range_nothing_is_called_tinted(tmp_path):
    shown = figures(
        tmp_path, WHITES, claims=CLAIMS.replace("white_range_low", "cct").replace("white_range_high", "cct")
    )
    assert "white-over-setting" in shown
    assert not {"cct-as-set", "duv-as-set"} & set(shown)


def test_many_units_are_drawn_by_their_extremes(tmp_path):
    whites = [(setting, cct + shift, duv) for shift in range(60) for setting, cct, duv in WHITES]
    shown = figures(tmp_path, whites)
    drawn = [x for each in shown["cct-as-set"].marks if each.kind == "points" for x in each.x]
    assert len(drawn) == 2 * len(WHITES)
    assert len(svg(shown["white-over-setting"], "path")) < 40_000


def test_the_circle_tells_set_and_measured_hue(tmp_path):
    shown = figures(tmp_path, hues=list(turn()))["hue-circle"]
    points = mark(shown, "measured", "points")
    assert [label.split(",")[0] for label in points.labels] == [
        f"set to {hue}°: hue-angle {hue}°" for hue in range(0, 360, 60)
    ]
    assert shown.claims == ("EVEN",)
    assert shown.equal


def test_one_setting_has_no_figure(tmp_path):
    assert not {"white-over-setting", "hue-circle"} & set(figures(tmp_path, WHITES[:1], list(turn())[:2]))
