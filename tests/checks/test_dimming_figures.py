"""Figures of dimmed light: the numbers of the readings, both scales, and the lamp's published temperatures.

Planckian radiator of 3,000 K dimmed (COMPUTED, tests/reference/dimming/incandescent_dimming.csv): 2,354 K at 10 %,
1,933 K at 1 %; power law 2,754 K at 50 % (exponents: Wikipedia, "Lamp rerating").
"""

from __future__ import annotations

import numpy as np
import pytest

import audit
from plugins.outputs.drawing import svg

CLAIMS = """claim_id,product,quantity,relation,value,value_to,level_percent,definition
FAR,Lamp,incandescent_distance,at_most,0.005,,,
WARM,Lamp,cct,within,1800,100,1,
LOW,Lamp,dimmed_light_minimum,at_most,1,,,perceived
"""
HEAD = "Report number,LR-8\nStanding,accredited report\n\nSerial,Level (%),Luminous flux (lm),CCT (K),Duv\n"
ROWS = [(100, 1000, 3000, 0.0), (50, 500, 2700, -0.0031), (10, 100, 2200, 0.002), (1, 10, 1850, 0.008)]


def figures(folder, rows=ROWS, head=HEAD, claims=CLAIMS):
    (folder / "claims.csv").write_text(claims, encoding="utf-8")
    lines = "".join(",".join(map(str, ("1", *row))) + "\n" for row in rows)
    (folder / "LR-8 colour.csv").write_text(head + lines, encoding="utf-8")
    run = audit.run(folder)
    assert [row["message"] for row in run.observations if row["rule"] in ("check_failed", "figure_left_out")] == []
    return {figure.name: figure for figure in run.report.figures}


def marks(figure, role, kind):
    return [mark for mark in figure.marks if mark.role == role and mark.kind == kind]


def test_the_curve_has_both_scales_and_the_limit_as_measured(tmp_path):
    shown = figures(tmp_path)["dimming-curve-level"]
    (points,) = marks(shown, "measured", "points")
    assert dict(zip(points.x, points.y, strict=True)) == pytest.approx({100: 100, 50: 50, 10: 10, 1: 1})
    assert "1 % measured, 10 % perceived" in points.labels[0]
    (limit,) = marks(shown, "limit", "line")
    assert limit.y == pytest.approx((0.01, 0.01))  # 1 % perceived, by the square law
    assert (10.0, "10 (31.6)") in shown.y.ticks
    assert shown.claims == ("LOW",)
    assert "1 % measured, 10 % perceived" in shown.alternative


def test_the_path_goes_from_full_output_down(tmp_path):
    shown = figures(tmp_path)["colour-when-dimmed"]
    (line,) = marks(shown, "measured", "line")
    assert len(line.x) == 4
    assert {words for *_, words in marks(shown, "measured", "points")[0].tags} == {"1 %", "100 %"}
    assert "furthest from the locus at 1 % of its light: +0.0080" in shown.alternative


def test_the_lamp_stands_beside_the_measured_cct(tmp_path):
    shown = figures(tmp_path)["cct-over-light"]
    (lamp,) = marks(shown, "reference", "line")
    at = np.interp(np.log([1, 10]), np.log(lamp.x), lamp.y)
    assert at == pytest.approx([1933, 2354], abs=6)
    (law,) = marks(shown, "projection", "line")
    assert (law.x[0], law.y[0]) == pytest.approx((50, 2754), abs=1)
    (end,) = marks(shown, "limit", "whiskers")
    assert (*end.x, *end.y, *end.to_y) == pytest.approx((1, 1700, 1900))
    assert shown.x.scale == "log"


def test_a_light_that_keeps_its_colour_has_no_path(tmp_path):
    shown = figures(tmp_path, [(level, flux, 3000, 0.001) for level, flux, *_ in ROWS])
    assert "dimming-curve-level" in shown
    assert not {"colour-when-dimmed", "cct-over-light"} & set(shown)


def test_level_0_is_no_place_on_a_logarithmic_scale(tmp_path):
    shown = figures(tmp_path, [*ROWS, (0, 0, "", "")])["dimming-curve-level"]
    assert 0 not in marks(shown, "measured", "points")[0].x
    assert svg(shown, "dimming").startswith("<svg")


def test_volts_run_over_the_travel_of_their_control(tmp_path):
    head = HEAD.replace("Level (%)", "0-10 V input (V)")
    shown = figures(tmp_path, [(10, 1000, 3000, 0), (5, 400, 3000, 0), (1, 90, 3000, 0)], head)["dimming-curve-v"]
    assert (shown.x.title, shown.x.unit) == ("control voltage", "V")
    linear = next(mark for mark in shown.marks if mark.title == "linear curve")
    assert linear.x[-1] == 10
    assert np.interp(5.5, linear.x, linear.y) == pytest.approx(50, abs=0.5)
