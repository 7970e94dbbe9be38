"""Figures as data: what can't be drawn is refused where it is made, and axes hold all that is on them."""

import math
import re
from pathlib import Path

import pytest

from audit import Axis, Figure, Mark
from audit.figures import over_hours

POINTS = Mark("points", "gauge", (1, 2), (3, 4), "measured")


@pytest.mark.parametrize(
    ("told", "wrong"),
    [
        ("unknown kind", {"kind": "pie"}),
        ("unknown kind or role", {"role": "pretty"}),
        ("y don't fit", {"y": (1,)}),
        ("labels don't fit", {"labels": ("one",)}),
        ("to_y don't fit", {"kind": "band"}),
        ("to_x don't fit", {"kind": "vectors", "to_y": (1, 2)}),
        ("to_y don't fit", {"to_y": (1, 2)}),
        ("0 x", {"x": (), "y": ()}),
        ("no finite number", {"y": (1, math.nan)}),
        ("no finite number", {"y": (1, math.inf)}),
        ("don't add up", {"kind": "polygon", "rings": (1,)}),
    ],
)
def test_a_mark_that_cant_be_drawn_is_refused(told, wrong):
    sound = {"kind": "points", "title": "gauge", "x": (1, 2), "y": (3, 4), "role": "measured"}
    with pytest.raises(ValueError, match=told):
        Mark(**(sound | wrong))


@pytest.mark.parametrize(
    "wrong", [{"scale": "odd"}, {"low": math.nan}, {"low": 2.0, "high": 1.0}, {"low": 0.0, "scale": "log"}]
)
def test_an_axis_that_cant_be_laid_out_is_refused(wrong):
    with pytest.raises(ValueError, match="the axis 'height'"):
        Axis("height", **wrong)


@pytest.mark.parametrize("missing", ["name", "title", "alternative", "marks"])
def test_a_figure_needs_words_and_marks(missing):
    sound = {"name": "a", "title": "b", "x": Axis("x"), "y": Axis("y"), "marks": [POINTS], "alternative": "c"}
    with pytest.raises(ValueError, match="needs a name, a title, marks and a text alternative"):
        Figure(**(sound | {missing: "" if missing != "marks" else ()}))


def test_a_logarithmic_axis_refuses_what_has_no_logarithm():
    below = Mark("points", "gauge", (1, 2), (-1, 4), "measured")
    with pytest.raises(ValueError, match="logarithmic from"):
        Figure("a", "b", Axis("x"), Axis("y", scale="log"), [below], "c")


def test_an_axis_holds_all_marks_unless_it_says_otherwise():
    spread = Mark("whiskers", "U", (1, 2), (2, 3), "reference", to_y=(4, 9))
    shown = Figure("a", "b", Axis("x", low=0.0), Axis("y"), [POINTS, spread], "c")
    assert shown.span("x")[0] == 0.0
    low, high = shown.span("y")
    assert low < 2
    assert high > 9


def test_bars_stand_on_zero():
    bars = Mark("bars", "heights", (1, 2), (3, 4), "measured")
    assert Figure("a", "b", Axis("x"), Axis("y"), [bars], "c").span("y")[0] == 0.0


@pytest.mark.parametrize("value", [0.0, 5.0, -5.0])
def test_a_single_value_has_room_about_it(value):
    one = Mark("points", "gauge", (1,), (value,), "measured")
    low, high = Figure("a", "b", Axis("x"), Axis("y"), [one], "c").span("y")
    assert low < value < high


def test_arrays_become_tuples():
    import numpy as np

    mark = Mark("points", "gauge", np.array([1, 2]), np.array([3.5, 4]), "measured")
    assert mark.x == (1.0, 2.0)
    assert all(type(value) is float for value in (*mark.x, *mark.y))


def test_a_life_test_shows_fit_window_projection_and_limits():
    shown = over_hours(
        "flux",
        "Flux over hours",
        Axis("flux maintenance", "%"),
        [Mark("points", "3 units", (0, 3000, 6000), (100, 99.5, 99), "measured")],
        limits=[(90, "L90")],
        window=(1000, 6000),
        fit=((1000, 6000), (100, 99)),
        projection=((6000, 36000), (99, 93)),
        extrapolation_limit_h=36000,
        alternative="Flux falls to 99 % in 6,000 h.",
        product="Sedge",
        claims=["A"],
    )
    roles = [mark.role for mark in shown.marks]
    assert roles == ["fit", "limit", "reference", "fit", "projection", "measured"]
    assert shown.span("x")[1] > 36000
    low, high = shown.span("y")
    assert low < 90
    assert high > 100
    assert (shown.product, shown.claims) == ("Sedge", ("A",))


def test_the_figure_shown_to_developers_can_be_drawn():
    from plugins.outputs.drawing import svg

    guide = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    (example,) = [block for block in re.findall(r"```python\n(.*?)```", guide, re.DOTALL) if "Tables(figures=" in block]
    names: dict[str, object] = {}
    exec(example, names)
    (figure,) = names["judge"](None).figures
    assert "6500 K: 17 %" in svg(figure, "fig")
