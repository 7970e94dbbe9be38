"""Figures drawn: one renderer for all of them, from the data of a Figure to an SVG that a page takes in.

It lays out axes, marks, words and legend; what draws them is `pen`. What a mark means never rests on its colour
alone: each role has a marker and a dash of its own.
"""

from __future__ import annotations

import itertools
import math
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from audit import Axis, Figure, Mark, wording
from plugins.outputs import text
from plugins.outputs.pen import Pen, Place, settings

WIDTH = 360.0  # of every figure, in pixels of a page where it isn't scaled: a telephone's
FLAT, SQUARE = 190.0, 300.0  # height of the plot
SIZE = 10.5  # of letters
LETTER, DIGIT = 0.54, 0.64  # mean width of a letter and of a figure of wide fonts, in their size
LINE = 15.0  # from one line of words to the next
GLYPH = 26.0  # what a sample takes in the legend
BELOW = 38.0  # what the words of the lower axis take
LONGEST_TICK = 40
MOST_LINES = 3  # of one series in the legend
BAND, BAR = 0.2, 0.4  # how much their filling covers
MANY_RINGS = 8  # beyond which outlines are drawn finely
DASHES: Sequence[Sequence[float]] = ((), (5, 2.5), (1.3, 2.2), (7, 2, 1.3, 2))  # of series of one role, in turn
# Where the words of a mark may stand: left of, on or right of their place, and so many pixels above it.
PLACES: Mapping[str, Sequence[tuple[int, float]]] = {
    "points": ((1, 5), (-1, 5), (0, 7), (0, -14), (1, -11), (-1, -11)),
    "line": ((-1, 4), (-1, -12), (1, 4), (1, -12)),
    "polygon": ((0, -4), (0, 6), (0, -14), (1, -4), (-1, -4)),
}


@dataclass(frozen=True)
class Look:
    """How a role is drawn: marker, whether it is filled, width of lines, dash."""

    marker: str
    filled: bool
    width: float
    dash: Sequence[float] = ()


LOOKS: Mapping[str, Look] = {
    "measured": Look("o", False, 1.5),
    "computed": Look("s", True, 1.5),
    "limit": Look("_", True, 1.4, (7, 3)),
    "reference": Look("+", True, 1.0),
    "fit": Look("o", False, 1.8),
    "projection": Look("o", False, 1.5, (1.5, 2.5)),
    "inside": Look("o", True, 1.4),
    "outside": Look("X", True, 1.4),
    "doubtful": Look("D", False, 1.4),
}


def svg(figure: Figure, anchor: str, say: Callable[[str], str] = str) -> str:
    """Return the figure as an `<svg>` element for a page; `anchor` begins every id in it, `say` puts all its words.

    The same figure gives the same bytes. Colours are the CSS variables `--fig-measured` and so on for each role, and
    `--fig-ink`, `--fig-soft`, `--fig-rule`, `--fig-ground`, which the page sets.
    """
    with settings():
        return _Sheet(_said(figure, say), say).drawn(anchor)


def _said(figure: Figure, say: Callable[[str], str]) -> Figure:
    """Return a figure with its words said; the numbers along its axes are said where they are made."""
    marks = [
        replace(
            mark,
            title=say(mark.title),
            labels=[say(words) for words in mark.labels],
            tags=[(x, y, say(words)) for x, y, words in mark.tags],
        )
        for mark in figure.marks
    ]
    return replace(figure, title=say(figure.title), alternative=say(figure.alternative), marks=marks)


def shown(words: str) -> str:
    """Return words as they are written on a figure: nothing hidden in them, true minus signs."""
    return text.typeset(text.visible(words))


def wide(words: str) -> float:
    """Return about how many pixels words take; the page's own font sets them."""
    return LETTER * SIZE * len(words)


@dataclass(frozen=True)
class _Entry:
    """A line of the legend: the mark, its dash among those of its role, words in lines, where it begins."""

    mark: Mark
    dash: Sequence[float]
    lines: list[str]
    x: float
    row: int


class _Sheet:
    """The lay-out of one figure: where the plot lies, and what is drawn on it."""

    def __init__(self, figure: Figure, say: Callable[[str], str]):
        self.say = say
        self.figure, self.axes = figure, (figure.x, figure.y)
        self.log = [axis.scale == "log" for axis in self.axes]
        self.spans = [self._scaled(axis, figure.span("xy"[axis])) for axis in (0, 1)]
        ticks = [words for _, words in self._ticks(1)] if figure.y.title else []
        self.left = 8 + max((DIGIT * SIZE * len(words) for words in ticks), default=2.0)
        self.right = WIDTH - 10
        self.dashes = list(_dashes(figure.marks))
        self.legend = list(_legend(figure.marks, self.dashes, self.left, self.right))
        rows = max((entry.row + len(entry.lines) for entry in self.legend), default=0)
        self.below = BELOW if figure.x.title else 8.0
        self.bottom = self.below + (LINE * rows + 6 if rows else 0.0)
        self.top = self.bottom + (SQUARE if figure.equal else FLAT)
        self.height = self.top + (27.0 if figure.y.title else 8.0)
        if figure.equal:
            self.spans = self._equal()
        self.taken: list[tuple[float, float, float, float]] = []  # boxes in which something stands
        self.pen = Pen(WIDTH, self.height)

    def drawn(self, anchor: str) -> str:
        """Return the drawing."""
        self._axis_x()
        self._axis_y()
        for mark, dash in zip(self.figure.marks, self.dashes, strict=True):
            self._mark(mark, dash)
        for mark in self.figure.marks:
            self._tags(mark)
        for entry in self.legend:
            self._entry(entry)
        return self.pen.finished(anchor, shown(self.figure.title), shown(self.figure.alternative))

    def _scaled(self, axis: int, values: Sequence[float]) -> list[float]:
        """Values as they are laid out: of a logarithmic axis their logarithms."""
        return [math.log10(value) for value in values] if self.log[axis] else list(values)

    def _equal(self) -> list[list[float]]:
        """The spans, one of them widened so that a unit is as long on both axes."""
        room = (self.right - self.left, self.top - self.bottom)
        unit = max((high - low) / size for (low, high), size in zip(self.spans, room, strict=True))
        return [
            [(low + high - unit * size) / 2, (low + high + unit * size) / 2]
            for (low, high), size in zip(self.spans, room, strict=True)
        ]

    def _at(self, axis: int, values: Sequence[float]) -> list[float]:
        """Where values of an axis lie on the sheet."""
        start, end = ((self.left, self.right), (self.bottom, self.top))[axis]
        low, high = self.spans[axis]
        return [start + (value - low) / (high - low) * (end - start) for value in self._scaled(axis, values)]

    def _places(self, x: Iterable[float], y: Iterable[float]) -> list[Place]:
        return list(zip(self._at(0, list(x)), self._at(1, list(y)), strict=True))

    def _ticks(self, axis: int) -> list[tuple[float, str]]:
        return [(place, self.say(words)) for place, words in _ticks(self.axes[axis], self.spans[axis])]

    def _axis_x(self) -> None:
        axis = self.figure.x
        if not axis.title:
            return
        ticks = self._ticks(0)
        for place, (_, words) in zip(self._at(0, [value for value, _ in ticks]), ticks, strict=True):
            if not axis.ticks:
                self.pen.strokes([[(place, self.bottom), (place, self.top)]], "rule", 0.8)
            self.pen.words(place, self.bottom - 14, words, "center", SIZE, "soft")
        self.pen.words(self.right, self.bottom - 31, _axis_words(axis), "right", SIZE, "ink")
        self.pen.strokes([[(self.left, self.bottom), (self.right, self.bottom)]], "soft")

    def _axis_y(self) -> None:
        axis = self.figure.y
        if not axis.title:
            return
        ticks = self._ticks(1)
        for place, (value, words) in zip(self._at(1, [value for value, _ in ticks]), ticks, strict=True):
            zero = value == 0 and self.spans[1][0] < 0
            self.pen.strokes(
                [[(self.left, place), (self.right, place)]], "soft" if zero else "rule", 1 if zero else 0.8
            )
            self.pen.words(self.left - 6, place - 3.8, words, "right", SIZE, "soft")
        self.pen.words(2, self.top + 13, _axis_words(axis), "left", SIZE, "ink")

    def _mark(self, mark: Mark, dash: Sequence[float]) -> None:
        places, look = self._places(mark.x, mark.y), LOOKS[mark.role]
        labels = [shown(words) for words in mark.labels or [mark.title] * len(places)]
        if mark.kind == "points":
            seen = [(place, words) for place, words in zip(places, labels, strict=True) if self._holds(place)]
            if seen:
                with self.pen.group([words for _, words in seen]):
                    self.pen.markers([place for place, _ in seen], mark.role, look.marker, look.filled)
            if not mark.tags:
                self.taken += [(x - 3, y - 3, x + 3, y + 3) for (x, y), _ in seen]
            return
        with self.pen.inside(self.left, self.bottom, self.right, self.top):
            if mark.kind in ("bars", "vectors"):
                parts = self._bars(mark, places) if mark.kind == "bars" else self._arrows(mark, places)
                for strokes, words in zip(parts, labels, strict=True):
                    with self.pen.group([words]):
                        if mark.kind == "bars":
                            self.pen.strokes(strokes, mark.role, 0.8, closed=True, fill=BAR)
                        else:
                            self.pen.strokes(strokes, mark.role, 1.4)
                return
            with self.pen.group([shown(mark.title)]):
                if mark.kind == "line":
                    self.pen.strokes([places], mark.role, look.width, dash)
                elif mark.kind == "whiskers":
                    ends = self._places(mark.x, mark.to_y)
                    self.pen.strokes([[low, high] for low, high in zip(places, ends, strict=True)], mark.role)
                    self.taken += [(x - 1, low, x + 1, high) for (x, low), (_, high) in zip(places, ends, strict=True)]
                elif mark.kind == "band":
                    edge = places + self._places(mark.x, mark.to_y)[::-1]
                    self.pen.strokes([edge], mark.role, 0.0, closed=True, fill=BAND)
                else:
                    rings = [self._places(*zip(*ring, strict=True)) for ring in mark.parts()]
                    fine = len(rings) > MANY_RINGS
                    width, alpha = (0.6, 0.55) if fine else (0.8 * look.width, 1.0)
                    self.pen.strokes(rings, mark.role, width, dash, alpha, closed=True)

    def _bars(self, mark: Mark, places: Sequence[Place]) -> Iterator[list[list[Place]]]:
        base = self._at(1, [max(0.0, self.figure.span("y")[0])])[0]
        half = 0.34 * min((b[0] - a[0] for a, b in itertools.pairwise(places)), default=40.0)
        for x, y in places:
            yield [[(x - half, base), (x - half, y), (x + half, y), (x + half, base)]]

    def _arrows(self, mark: Mark, places: Sequence[Place]) -> Iterator[list[list[Place]]]:
        for start, end in zip(places, self._places(mark.to_x, mark.to_y), strict=True):
            yield _arrow(start, end)

    def _holds(self, place: Place) -> bool:
        x, y = place
        return self.left - 1 <= x <= self.right + 1 and self.bottom - 1 <= y <= self.top + 1

    def _tags(self, mark: Mark) -> None:
        """Write the words of a mark where nothing stands yet. Those without room are left out, except a line's."""
        for place_x, place_y, words in mark.tags:
            words = shown(words)
            length = wide(words)
            anchors = [place_x, mark.x[0]] if mark.kind == "line" else [place_x]
            boxes = []
            for (x, y), (side, up) in (
                (place, offset)
                for place in self._places(anchors, [place_y] * len(anchors))
                for offset in PLACES.get(mark.kind, PLACES["polygon"])
            ):
                left = x + {1: 4, 0: -length / 2, -1: -4 - length}[side]
                boxes.append((left, y + up - 2, left + length, y + up + 9))
            boxes = [box for box in boxes if self._room(box)]
            free = [box for box in boxes if not any(_overlap(box, other) for other in self.taken)]
            for box in free[:1] or (boxes[:1] if mark.kind == "line" else []):
                self.taken.append(box)
                self.pen.words((box[0] + box[2]) / 2, box[1] + 2, words, "center", SIZE, "tag")

    def _room(self, box: tuple[float, float, float, float]) -> bool:
        return box[0] >= self.left and box[2] <= WIDTH and box[1] >= self.bottom and box[3] <= self.top + 8

    def _entry(self, entry: _Entry) -> None:
        y = self.bottom - self.below - LINE * entry.row - 9
        self._sample(entry.mark, entry.dash, entry.x, y)
        for number, words in enumerate(entry.lines):
            self.pen.words(entry.x + GLYPH, y - 3.8 - LINE * number, words, "left", SIZE, "ink")

    def _sample(self, mark: Mark, dash: Sequence[float], x: float, y: float) -> None:
        """Draw what stands before the words of a mark in the legend."""
        look, right = LOOKS[mark.role], x + 18
        box = [(x, y - 5), (x, y + 5), (right, y + 5), (right, y - 5)]
        if mark.kind == "points":
            self.pen.markers([(x + 9, y)], mark.role, look.marker, look.filled)
        elif mark.kind == "whiskers":
            self.pen.strokes([[(x + 9, y - 6), (x + 9, y + 6)]], mark.role)
        elif mark.kind == "vectors":
            self.pen.strokes(_arrow((x, y), (right, y)), mark.role, 1.4)
        elif mark.kind == "band":
            self.pen.strokes([box], mark.role, 0.0, closed=True, fill=BAND)
        elif mark.kind == "bars":
            self.pen.strokes([box], mark.role, 0.8, closed=True, fill=BAR)
        elif len(mark.rings) > MANY_RINGS:
            turns = [math.tau * number / 16 for number in range(16)]
            ring = [(x + 9 + 8 * math.cos(turn), y + 5 * math.sin(turn)) for turn in turns]
            self.pen.strokes([ring], mark.role, 0.8, closed=True)
        else:
            self.pen.strokes([[(x, y), (right, y)]], mark.role, look.width, dash)


def _dashes(marks: Sequence[Mark]) -> Iterator[Sequence[float]]:
    """Yield the dash of each mark: its role's, or another one for each series of that role."""
    turns: dict[str, int] = {}
    for mark in marks:
        lined = mark.kind == "line" or (mark.kind == "polygon" and len(mark.rings) <= MANY_RINGS)
        turn = turns.get(mark.role, 0)
        turns[mark.role] = turn + lined
        yield LOOKS[mark.role].dash or (DASHES[turn % len(DASHES)] if lined else ())


def _legend(marks: Sequence[Mark], dashes: Sequence[Sequence[float]], left: float, right: float) -> Iterator[_Entry]:
    """Yield what the legend says of marks whose title doesn't stand on the figure; beside each other if they fit."""
    named = {shown(words) for mark in marks for *_, words in mark.tags}
    x, row, taken = left, 0, 0
    for mark, dash in zip(marks, dashes, strict=True):
        words = shown(mark.title)
        if words in named:
            continue
        named.add(words)
        letters = int((right - left - GLYPH) / (LETTER * SIZE))
        lines = textwrap.wrap(words, letters, max_lines=MOST_LINES, placeholder=" ...") or [""]
        need = GLYPH + max(map(wide, lines))
        if x > left and x + need > right:
            x, row, taken = left, row + taken, 0
        yield _Entry(mark, dash, lines, x, row)
        x, taken = x + need + 20, max(taken, len(lines))


def _arrow(start: Place, end: Place) -> list[list[Place]]:
    """The strokes of an arrow: its shaft and the two sides of its head."""
    (a, b), (c, d) = start, end
    length = math.hypot(c - a, d - b)
    if not length:
        return [[start, end]]
    along, size = ((c - a) / length, (d - b) / length), min(5.0, length)
    sides = [(c - size * (along[0] + s * 0.6 * along[1]), d - size * (along[1] - s * 0.6 * along[0])) for s in (1, -1)]
    return [[start, end], [sides[0], end, sides[1]]]


def _overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _axis_words(axis: Axis) -> str:
    return shown(axis.title if axis.unit in wording.NO_UNIT else f"{axis.title}, {axis.unit}")


def _ticks(axis: Axis, span: Sequence[float]) -> list[tuple[float, str]]:
    """The places and words along an axis that runs over `span` as it is laid out."""
    from matplotlib.ticker import MaxNLocator

    low, high = span
    if axis.ticks:
        return [(place, shown(words)[:LONGEST_TICK]) for place, words in axis.ticks]
    if axis.scale == "log":
        return [(10.0**n, _number(10.0**n, max(-n, 0))) for n in range(math.ceil(low), math.floor(high) + 1)]
    places = [float(place) for place in MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)]
    slack = 1e-9 * (high - low)
    step = places[1] - places[0]
    decimals = next((n for n in range(10) if abs(round(step, n) - step) < 1e-6 * step), 10)
    return [(place, _number(place, decimals)) for place in places if low - slack <= place <= high + slack]


def _number(value: float, decimals: int) -> str:
    grouped = "," if abs(value) >= 10_000 else ""
    return f"{round(value, decimals) or 0.0:{grouped}.{decimals}f}".replace("-", "−")
