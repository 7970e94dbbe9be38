"""Figures drawn: complete, the same in every process, deaf to hostile words, and readable without colour."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from functools import partial
from pathlib import Path
from xml.etree import ElementTree

import pytest

from audit import Axis, Figure, Mark
from audit.figures import KINDS, ROLES
from audit.habit import HABITS, say
from audit.model import Habit
from plugins.outputs import drawing
from plugins.outputs.drawing import LOOKS, svg

HOME = Path(__file__).parents[2]
HOSTILE = "</title><script>alert(1)</script> $\\frac{1}{2}$ & \"' ]]> --> \u202e\x00 {{ 7*7 }}"


def figure(*marks: Mark, **changes: object) -> Figure:
    standard = {
        "name": "flood",
        "title": "Flood over hours",
        "x": Axis("hours", "h", 0.0, 10.0),
        "y": Axis("height", "m", 0.0, 4.0),
        "marks": marks or (Mark("points", "gauge", (1, 2, 3), (1, 2, 3), "measured"),),
        "alternative": "The water rises from 1 m to 3 m.",
    }
    return Figure(**(standard | changes))


def every_kind() -> Figure:
    x, y, up = (1.0, 2.0, 3.0), (1.0, 2.0, 1.5), (1.5, 2.5, 2.0)
    words = ("one", "two", "three")
    return figure(
        Mark("line", "a line", x, y, "fit"),
        Mark("points", "points", x, y, "inside", labels=words),
        Mark("whiskers", "whiskers", x, y, "reference", to_y=up),
        Mark("band", "a band", x, y, "measured", to_y=up),
        Mark("polygon", "polygons", (*x, *x), (*y, *up), "limit", rings=(3, 3)),
        Mark("bars", "bars", x, y, "computed", labels=words),
        Mark("vectors", "vectors", x, y, "projection", to_x=up, to_y=up, labels=words),
    )


def drawn(shown: Figure, anchor: str = "fig") -> ElementTree.Element:
    return ElementTree.fromstring(svg(shown, anchor))


def titles(shown: Figure) -> list[str]:
    return [element.text or "" for element in drawn(shown).iter("title")]


def test_every_kind_is_drawn_and_says_what_it_is():
    assert {mark.kind for mark in every_kind().marks} == set(KINDS)
    expected = ["a line", "whiskers", "a band", "polygons", *["one", "two", "three"] * 3, "Flood over hours"]
    assert sorted(titles(every_kind())) == sorted(expected)


def test_a_mark_is_named_once_in_the_legend_or_on_the_figure():
    tagged = Mark("line", "flood mark", (0, 10), (3, 3), "limit", tags=[(10, 3, "flood mark")])
    shown = figure(tagged, Mark("points", "gauge", (1, 2), (1, 2), "measured"))
    words = [element.text for element in drawn(shown).iter("text")]
    assert words.count("flood mark") == 1
    assert words.count("gauge") == 1


def test_axes_say_quantity_and_unit():
    words = [element.text for element in drawn(figure()).iter("text")]
    assert {"hours, h", "height, m", "0", "10"} <= set(words)


def test_it_is_one_image_with_a_name_and_a_description():
    root = drawn(figure())
    assert root.get("role") == "img"
    by_id = {element.get("id"): element.text for element in root.iter() if element.get("id")}
    assert by_id[root.get("aria-labelledby")] == "Flood over hours"
    assert by_id[root.get("aria-describedby")] == "The water rises from 1 m to 3 m."


def uses(shown: Figure) -> list[tuple[float, float]]:
    """The places of the markers on the figure, legend included."""
    return [(float(use.get("x", "")), float(use.get("y", ""))) for use in drawn(shown).iter("use")]


def test_points_stand_where_their_values_are():
    places = uses(figure(Mark("points", "gauge", (0, 5, 10), (0, 1, 4), "measured")))[:3]
    (left, bottom), (x, y), (right, top) = places
    assert x == pytest.approx((left + right) / 2, abs=0.1)
    assert y == pytest.approx(bottom + (top - bottom) / 4, abs=0.1)
    assert right - left > 250
    assert bottom - top == pytest.approx(drawing.FLAT, abs=0.1)


def test_a_logarithmic_axis_gives_every_decade_the_same_room():
    shown = figure(
        Mark("points", "gauge", (1, 2, 3), (1, 10, 100), "measured"), y=Axis("height", "m", 1.0, 100.0, "log")
    )
    (_, low), (_, middle), (_, high) = uses(shown)[:3]
    assert middle == pytest.approx((low + high) / 2, abs=0.1)
    assert {"1", "10", "100"} <= {element.text for element in drawn(shown).iter("text")}


def test_equal_axes_keep_a_circle_round():
    square = Mark("points", "corners", (0, 1, 0), (0, 0, 1), "measured")
    shown = figure(square, x=Axis("a", low=-1.0, high=3.0), y=Axis("b", low=-1.0, high=2.0), equal=True)
    (x0, y0), (x1, _), (_, y1) = uses(shown)[:3]
    assert x1 - x0 == pytest.approx(y0 - y1, abs=0.1)


def test_a_point_beyond_the_axis_is_left_out_with_its_title():
    shown = figure(Mark("points", "gauge", (1, 99), (1, 1), "measured", labels=("near", "far")))
    assert "near" in titles(shown)
    assert "far" not in titles(shown)


def test_the_roles_of_points_differ_in_shape():
    of_points = ("inside", "outside", "doubtful", "measured", "computed", "reference")
    assert len({(LOOKS[role].marker, LOOKS[role].filled) for role in of_points}) == len(of_points)
    assert set(LOOKS) == set(ROLES)


def test_lines_of_one_role_differ_in_their_dashes():
    lines = [Mark("line", str(n), (0, 10), (n, n), "measured") for n in range(4)]
    groups = [g for g in drawn(figure(*lines)).iter("g") if g.find("title") is not None]
    dashes = [re.findall(r"stroke-dasharray: ([^;]*)", g.find("path").get("style", "")) for g in groups]
    assert len({tuple(dash) for dash in dashes}) == 4


def test_colours_are_variables_and_letters_the_pages_own():
    text = svg(every_kind(), "fig")
    assert re.findall(r"#[0-9a-f]{6}|rgb|font-family|<style|<script|<image|javascript:", text) == []
    named = set(re.findall(r"var\(--fig-([a-z]+)\)", text))
    css = (HOME / "plugins" / "outputs" / "page.css").read_text(encoding="utf-8")
    assert named <= set(re.findall(r"--fig-([a-z]+):", css))
    assert set(ROLES) <= set(re.findall(r"--fig-([a-z]+):", css))


def test_two_drawings_on_a_page_share_no_identifier():
    one, two = (
        set(re.findall(r'id="([^"]*)"', svg(every_kind(), anchor))) for anchor in ("figure-flood", "figure-flood-2")
    )
    assert len(one) == len(two) > 3
    assert not one & two
    assert all(name.startswith("figure-flood") for name in one)


def test_every_reference_finds_its_target():
    text = svg(every_kind(), "fig")
    targets = set(re.findall(r'id="([^"]*)"', text))
    assert set(re.findall(r'(?:url\(|href=")#([^")]*)', text)) <= targets


def test_hostile_words_are_words():
    shown = figure(
        Mark("points", HOSTILE, (1, 2), (1, 2), "measured", labels=(HOSTILE,) * 2, tags=[(1, 1, HOSTILE[:20])]),
        title=HOSTILE,
        alternative=HOSTILE,
        x=Axis(HOSTILE, HOSTILE),
        y=Axis("b", ticks=[(1, HOSTILE)]),
    )
    text = svg(shown, "fig")
    root = ElementTree.fromstring(text)
    allowed = {"svg", "g", "path", "text", "title", "desc", "defs", "use", "clipPath", "rect"}
    assert {element.tag for element in root.iter()} <= allowed
    assert "\u202e" not in text
    assert "\x00" not in text
    assert any("$\\frac{1}{2}$" in title for title in titles(shown))


def test_endless_words_dont_make_an_endless_drawing():
    box = drawn(figure(Mark("points", "reed " * 5000, (1, 2), (1, 2), "measured"))).get("viewBox", "")
    assert float(box.split()[3]) < 400


def test_negative_numbers_have_true_minus_signs():
    shown = figure(Mark("points", "from -3 to -1", (1, 2), (-3, -1), "measured"), y=Axis("height", "m"))
    words = " ".join(element.text or "" for element in drawn(shown).iter("text"))
    assert "−3 to −1" in words
    assert "-" not in words


SCRIPT = """
import sys
sys.path[:0] = [{tests!r}, {home!r}]
from test_drawing import every_kind
from plugins.outputs.drawing import svg
sys.stdout.buffer.write(svg(every_kind(), "fig").encode())
"""


def test_same_bytes_in_every_process_whatever_a_person_has_set(tmp_path):
    """A person's own settings of matplotlib, the seed of hashes and how numpy prints numbers change nothing."""
    code = SCRIPT.format(tests=str(Path(__file__).parent), home=str(HOME))
    printing = "import numpy\nnumpy.set_printoptions(legacy='1.13')\n"
    own = tmp_path / "matplotlibrc"
    own.write_text("text.usetex: True\nsvg.fonttype: path\nfont.family: fantasy\npath.sketch: 3, 100, 2\n")
    found = set()
    for seed, more, before in (("1", {}, ""), ("2", {"MATPLOTLIBRC": str(own)}, printing)):
        environment = {**os.environ, "PYTHONHASHSEED": seed, **more}
        found.add(
            subprocess.run(
                [sys.executable, "-c", before + code], env=environment, capture_output=True, check=True
            ).stdout
        )
    assert found == {svg(every_kind(), "fig").encode()}


def test_drawing_loads_no_pyplot_and_no_window():
    code = SCRIPT.format(tests=str(Path(__file__).parent), home=str(HOME))
    code += "\nsys.stderr.write(' '.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"matplotlib.pyplot", "matplotlib.figure", "tkinter"} & set(done.stderr.split())


def test_a_figure_speaks_in_the_habit_of_its_reader():
    """Ticks, titles, labels and tags take a decimal comma; the product's name is left alone."""
    mark = Mark("points", "gauge of Sluice 1.5", (1, 2), (0.5, 1.5), "measured", labels=["0.5 m", "1.5 m"])
    shown = figure(mark, y=Axis("height", "m", 0.0, 2.0), alternative="From 0.5 m to 1.5 m.")
    plain, said = (svg(shown, "fig", partial(say, habit, names=["Sluice 1.5"])) for habit in (Habit(), HABITS["eu"]))
    assert plain == svg(shown, "fig")
    assert re.search(r">0\.5<", plain)
    assert not re.search(r">0\.5<", said)
    for words in (">0,5<", "0,5 m", "1,5 m", "From 0,5 m to 1,5 m.", "gauge of Sluice 1.5"):
        assert words in said
