"""What figures are drawn with: matplotlib's SVG renderer, and its output made fit for a page.

Artists and axes of matplotlib aren't used: loading them and laying them out costs more than the drawing. Colours
are placeholders until the drawing is finished and then CSS variables; letters are text in the font of the page.
"""

from __future__ import annotations

import logging
import re
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from io import StringIO
from typing import Any
from xml.etree.ElementTree import Element, tostring

from audit.figures import ROLES

Place = tuple[float, float]

NAMES = (*ROLES, "ink", "soft", "rule", "ground", "tag")
PLACEHOLDERS = {name: f"#fe{number:02x}ef" for number, name in enumerate(NAMES)}  # colours that nothing else has
# Words on the figure stand out from the lines below them.
HALO = "fill: var(--fig-ink); stroke: var(--fig-ground); stroke-width: 3; paint-order: stroke"
MARKER_SIZE: Mapping[str, float] = {"+": 6.5, "X": 7.0, "D": 5.0, "s": 4.5, "o": 4.4}
SETTINGS: Any = {
    "svg.fonttype": "none",
    "svg.hashsalt": "claimlight",
    "font.family": ["sans-serif"],
    "path.simplify": True,
    "path.simplify_threshold": 0.3,
    "path.sketch": None,
}
_PLACEHOLDER = re.compile("#fe([0-9a-f]{2})ef")
_DECIMALS = re.compile(r"-?\d+\.\d{2,}")
_FAMILY = re.compile(r"font-family: [^;]*;? ?")
_NO_TURN = re.compile(r"rotate\(-?0 .*\)")
_LINK = re.compile(r"url\(#([^)]+)\)")


class Pen:
    """Draws on a sheet of `width` by `height` pixels, from the lower left; what is drawn first lies below."""

    def __init__(self, width: float, height: float):
        from matplotlib.backends import backend_svg
        from matplotlib.transforms import IdentityTransform

        self.height = height
        self.titles: dict[str, list[str]] = {}  # name of a group -> the titles of its markers, or its own alone
        self._out = StringIO()
        nothing = {"Date": None, "Creator": None, "Format": None, "Type": None}
        renderer: Any = backend_svg.RendererSVG
        self._svg = renderer(width, height, self._out, image_dpi=72, metadata=nothing)
        self._as_it_is = IdentityTransform()
        self._clip: Any = None

    @contextmanager
    def inside(self, left: float, bottom: float, right: float, top: float) -> Iterator[None]:
        """Cut off what is drawn outside these edges."""
        from matplotlib.transforms import Bbox

        self._clip = Bbox([[left, bottom], [right, top]])
        yield
        self._clip = None

    @contextmanager
    def group(self, titles: Sequence[str]) -> Iterator[None]:
        """Give what is drawn a title, or each of its markers one."""
        name = f"group-{len(self.titles)}"
        self.titles[name] = list(titles)
        self._svg.open_group(name, gid=name)
        yield
        self._svg.close_group(name)

    def strokes(
        self,
        strokes: Sequence[Sequence[Place]],
        colour: str,
        width: float = 1.0,
        dash: Sequence[float] = (),
        alpha: float = 1.0,
        closed: bool = False,
        fill: float = 0.0,
    ) -> None:
        """Draw lines, or outlines that are `fill` opaque, as one path."""
        from matplotlib.path import Path

        paths = [Path([*stroke, stroke[0]] if closed else stroke, closed=closed) for stroke in strokes]
        path = paths[0] if len(paths) == 1 else Path.make_compound_path(*paths)
        face = (*self._rgb(colour), fill) if fill else None
        self._svg.draw_path(self._style(colour, width, dash, alpha), path, self._as_it_is, face)

    def markers(self, places: Sequence[Place], colour: str, marker: str, filled: bool) -> None:
        """Draw a marker at each place."""
        from matplotlib.markers import MarkerStyle
        from matplotlib.path import Path
        from matplotlib.transforms import Affine2D

        solid = filled and marker in "osX"
        style = MarkerStyle(marker)
        shape = style.get_transform() + Affine2D().scale(MARKER_SIZE.get(marker, 5.0))
        face = None if marker in "+_|" else self._rgb(colour if filled else "ground")
        pen = self._style("ground" if solid else colour, 0.6 if solid else 1.2)
        self._svg.draw_markers(pen, style.get_path(), shape, Path(places), self._as_it_is, face)

    def words(self, x: float, y: float, words: str, align: str, size: float, colour: str) -> None:
        """Write words on one line, whose left end, middle (`center`) or right end is at `x`."""
        from matplotlib.font_manager import FontProperties
        from matplotlib.text import Text

        anchor = Text(x, y, words, ha=align)
        self._svg.draw_text(
            self._style(colour), x, self.height - y, words, FontProperties(size=size), 0, ismath=False, mtext=anchor
        )

    def finished(self, anchor: str, title: str, alternative: str) -> str:
        """Return the drawing as an `<svg>` element of an HTML page, whose ids begin with `anchor`."""
        self._svg.finalize()
        return finished(self._out.getvalue(), anchor, title, alternative, self.titles)

    def _style(self, colour: str, width: float = 1.0, dash: Sequence[float] = (), alpha: float = 1.0) -> Any:
        style = self._svg.new_gc()
        style.set_foreground((*self._rgb(colour), alpha), isRGBA=True)
        style.set_linewidth(width)
        style.set_joinstyle("round")
        style.set_dashes(0, list(dash) or None)
        style.set_clip_rectangle(self._clip)
        return style

    def _rgb(self, colour: str) -> tuple[float, ...]:
        return tuple(int(PLACEHOLDERS[colour][i : i + 2], 16) / 255 for i in (1, 3, 5))


@contextmanager
def settings() -> Iterator[None]:
    """Keep to our own settings of matplotlib, whatever a person's own are, and keep its talk of caches quiet."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    import matplotlib

    with matplotlib.rc_context(SETTINGS), warnings.catch_warnings():
        yield


def finished(data: str, anchor: str, title: str, alternative: str, titles: Mapping[str, Sequence[str]]) -> str:
    """Return the renderer's SVG as an element for a page: CSS variables, titles, ids of its own, short numbers."""
    from defusedxml.ElementTree import fromstring

    root: Element = fromstring(data.encode("utf-8"))
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
        element.attrib = {name.rpartition("}")[2]: value for name, value in element.attrib.items()}
        element.text = (element.text or "").strip() if element.tag == "text" else None
        element.tail = None
    for child in list(root):
        if child.tag == "metadata" or (child.tag == "defs" and child.find("style") is not None):
            root.remove(child)
    _entitle(root, titles)
    ids = {name: f"{anchor}-{number}" for number, name in enumerate(_linked(root))}
    for element in root.iter():
        if element.get("id") not in ids:
            element.attrib.pop("id", None)
        element.attrib = {
            name: _mended(name, value, ids)
            for name, value in element.attrib.items()
            if not (name == "transform" and _NO_TURN.fullmatch(value))
        }
    _flatten(root)
    _named(root, anchor, title, alternative)
    return tostring(root, encoding="unicode")


def _entitle(root: Element, titles: Mapping[str, Sequence[str]]) -> None:
    """Give groups and markers their titles."""
    groups = {group.get("id"): group for group in root.iter("g")}
    for name, words in titles.items():
        owners = list(groups[name].iter("use")) or [groups[name]]
        for owner, title in zip(owners, words, strict=True):
            element = Element("title")
            element.text = title
            owner.insert(0, element)


def _linked(root: Element) -> list[str]:
    """Return the ids that something in the drawing refers to, in the order in which it does; each once."""
    values = [value for element in root.iter() for value in element.attrib.values()]
    links = [[value[1:]] if value.startswith("#") else _LINK.findall(value) for value in values]
    return list(dict.fromkeys(name for names in links for name in names))


def _mended(name: str, value: str, ids: Mapping[str, str]) -> str:
    """Return an attribute as the page has it; the renderer's own ids hang on how numpy prints numbers."""
    if name == "id":
        return ids[value]
    if name == "href":
        return f"#{ids[value[1:]]}"
    if name == "style":
        value = _FAMILY.sub("", value).replace(f"fill: {PLACEHOLDERS['tag']}", HALO)
        return _PLACEHOLDER.sub(lambda colour: f"var(--fig-{NAMES[int(colour[1], 16)]})", value).strip("; ")
    value = _LINK.sub(lambda link: f"url(#{ids[link[1]]})", value)
    return _DECIMALS.sub(lambda figure: f"{float(figure[0]):.1f}".removesuffix(".0"), " ".join(value.split()))


def _flatten(parent: Element) -> None:
    """Put in the place of a group that says nothing what is in it."""
    for child in list(parent):
        _flatten(child)
        if child.tag == "g" and not child.attrib and child.find("title") is None:
            at = list(parent).index(child)
            parent[at : at + 1] = list(child)


def _named(root: Element, anchor: str, title: str, alternative: str) -> None:
    """Make the drawing one image with a name and a description, as wide as the page lets it be."""
    root.attrib = {
        "class": "drawing",
        "viewBox": root.get("viewBox", ""),
        "role": "img",
        "aria-labelledby": f"{anchor}-title",
        "aria-describedby": f"{anchor}-desc",
        "stroke-linejoin": "round",
    }
    for number, (tag, words) in enumerate((("title", title), ("desc", alternative))):
        element = Element(tag, {"id": f"{anchor}-{tag}"})
        element.text = words
        root.insert(number, element)
