"""Figures as data: what a check's judge shows of the evidence, for a writer to draw.

A figure says what is to be seen and never how it looks: marks with their role, axes with their unit, a title per
series and point, and a text alternative with the numbers. Sequences may be arrays; they become tuples of floats.
This module imports neither numpy nor pandas.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = Sequence[float] | NDArray[Any]

KINDS = ("line", "points", "whiskers", "band", "polygon", "bars", "vectors")
ROLES = ("measured", "computed", "limit", "reference", "fit", "projection", "inside", "outside", "doubtful")
SCALES = ("linear", "log")
TWO_ENDED = ("band", "whiskers", "vectors")
PADDING = 0.06  # of the span of the marks, where an axis has no end of its own


@dataclass(frozen=True)
class Axis:
    """One axis. Without `low` or `high` the marks set that end; without a title it is laid out but not drawn.

    `ticks`: places with the words that stand there, in place of numbers.
    """

    title: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    scale: str = "linear"
    ticks: Sequence[tuple[float, str]] = ()

    def __post_init__(self) -> None:
        if self.scale not in SCALES:
            raise ValueError(f"the axis '{self.title}' has the scale '{self.scale}'; use one of {', '.join(SCALES)}")
        ends = [end for end in (self.low, self.high) if end is not None]
        object.__setattr__(self, "ticks", tuple((float(place), words) for place, words in self.ticks))
        if not all(math.isfinite(end) for end in (*ends, *(place for place, _ in self.ticks))):
            raise ValueError(f"the axis '{self.title}' has an end or a tick that is no finite number")
        if ends != sorted(set(ends)) or (self.scale == "log" and any(end <= 0 for end in ends)):
            raise ValueError(f"the axis '{self.title}' can't run from {self.low} to {self.high}")


@dataclass(frozen=True)
class Mark:
    """One series of a figure.

    `x`, `y` (n,): line and points as they are; bars stand at x and reach from 0 to y; a polygon closes itself and
    falls into `rings` of so many corners each, one if none are given. `to_y` (n,): the other edge of a band, the
    other end of whiskers; with `to_x` the heads of vectors. `labels` (n,): a title for each point, bar or vector,
    with unit and value. `tags`: words written on the figure at x, y; a mark without any is named in the legend.
    """

    kind: str
    title: str
    x: Numbers
    y: Numbers
    role: str
    to_x: Numbers = ()
    to_y: Numbers = ()
    labels: Sequence[str] = ()
    tags: Sequence[tuple[float, float, str]] = ()
    rings: Sequence[int] = ()

    def __post_init__(self) -> None:
        for name in ("x", "y", "to_x", "to_y"):
            object.__setattr__(self, name, tuple(float(value) for value in getattr(self, name)))
        object.__setattr__(self, "labels", tuple(self.labels))
        object.__setattr__(self, "rings", tuple(int(size) for size in self.rings))
        object.__setattr__(self, "tags", tuple((float(x), float(y), words) for x, y, words in self.tags))
        if self.kind not in KINDS or self.role not in ROLES:
            raise ValueError(f"the mark '{self.title}' is of an unknown kind or role: {self.kind}, {self.role}")
        count = len(self.x)
        wanted = {"y": count}
        wanted["to_y"] = count if self.kind in TWO_ENDED else 0
        wanted["to_x"] = count if self.kind == "vectors" else 0
        wanted["labels"] = count if self.labels else 0
        wrong = [name for name, length in wanted.items() if len(getattr(self, name)) != length]
        if not count or wrong:
            raise ValueError(f"the mark '{self.title}' ({self.kind}) has {count} x, which {', '.join(wrong)} don't fit")
        if self.rings and (self.kind != "polygon" or sum(self.rings) != count):
            raise ValueError(f"the rings of the mark '{self.title}' don't add up to its {count} corners")
        if not all(math.isfinite(value) for value in (*self.x, *self.y, *self.to_x, *self.to_y)):
            raise ValueError(f"the mark '{self.title}' has a place that is no finite number")

    def parts(self) -> Iterator[tuple[tuple[float, float], ...]]:
        """Yield the corners of each ring."""
        corners, start = tuple(zip(self.x, self.y, strict=True)), 0
        for size in self.rings or (len(corners),):
            yield corners[start : start + size]
            start += size


@dataclass(frozen=True)
class Figure:
    """One figure about one product. `alternative` says in words and numbers what is to be seen.

    `name` tells the figures of one product apart; `claims`: the ids of the claims that it bears on; `equal`: one
    unit is as long on both axes. Marks are drawn in their order.
    """

    name: str
    title: str
    x: Axis
    y: Axis
    marks: Sequence[Mark]
    alternative: str
    product: str = ""
    claims: Sequence[str] = ()
    equal: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "marks", tuple(self.marks))
        object.__setattr__(self, "claims", tuple(self.claims))
        if not (self.name and self.title and self.alternative and self.marks):
            raise ValueError(f"the figure '{self.name}' needs a name, a title, marks and a text alternative")
        for axis, low in ((self.x, self.span("x")[0]), (self.y, self.span("y")[0])):
            if axis.scale == "log" and low <= 0:
                raise ValueError(f"the axis '{axis.title}' of the figure '{self.name}' is logarithmic from {low:g}")

    def span(self, name: str) -> tuple[float, float]:
        """Return where the axis "x" or "y" begins and ends: as it says itself, else around all marks."""
        axis: Axis = getattr(self, name)
        values = [value for mark in self.marks for value in (*getattr(mark, name), *getattr(mark, f"to_{name}"))]
        bars = any(mark.kind == "bars" for mark in self.marks)
        values += [0.0] if bars and name == "y" else []
        low, high = min(values), max(values)
        if axis.scale == "log" and low > 0:
            factor = (high / low) ** PADDING if high > low else 2.0
            below, above = low / factor, high * factor
        else:
            pad = PADDING * (high - low) or 0.1 * abs(high) or 1.0
            pad = 0.6 if bars and name == "x" else pad
            below, above = (
                end if bars and name == "y" and end == 0 else end + sign for end, sign in ((low, -pad), (high, pad))
            )
        below, above = below if axis.low is None else axis.low, above if axis.high is None else axis.high
        return (below, above) if below < above else (below, below + 1.0) if axis.high is None else (above - 1.0, above)


def over_hours(
    name: str,
    title: str,
    y: Axis,
    measured: Sequence[Mark],
    *,
    limits: Sequence[tuple[float, str]] = (),
    window: tuple[float, float] | None = None,
    fit: tuple[Numbers, Numbers] | None = None,
    projection: tuple[Numbers, Numbers] | None = None,
    extrapolation_limit_h: float | None = None,
    alternative: str,
    product: str = "",
    claims: Sequence[str] = (),
) -> Figure:
    """Return a figure of something over hours of operation, as a life test and its projection are shown.

    `measured`: points over hours; `limits`: values in the unit of `y` with their words; `window`: the first and
    last hour that the fit rests on; `fit`, `projection`: hours and values of the curve inside and beyond the
    test; `extrapolation_limit_h`: the last hour that a projection may speak of.
    """
    hours = [hour for mark in measured for hour in mark.x] + [
        hour for mark in (fit, projection) if mark for hour in mark[0]
    ]
    end = max([*hours, extrapolation_limit_h or 0.0])
    shown = Figure(name, title, Axis("hours"), y, measured, alternative)
    values = [value for curve in (fit, projection) if curve for value in curve[1]] + [value for value, _ in limits]
    low, high = min([shown.span("y")[0], *values]), max([shown.span("y")[1], *values])
    marks: list[Mark] = []
    if window:
        words = f"fit window, {window[0]:,.0f} h to {window[1]:,.0f} h"
        marks.append(Mark("band", words, window, (low, low), "fit", to_y=(high, high)))
    for value, words in limits:
        marks.append(Mark("line", words, (0, end), (value, value), "limit", tags=((end, value, words),)))
    if extrapolation_limit_h:
        words = f"extrapolation limit, {extrapolation_limit_h:,.0f} h"
        marks.append(Mark("line", words, (extrapolation_limit_h,) * 2, (low, high), "reference"))
    if fit:
        marks.append(Mark("line", "fit", *fit, "fit"))
    if projection:
        marks.append(Mark("line", "projection", *projection, "projection"))
    x = Axis("operation", "h", 0.0, 1.04 * end)
    return Figure(name, title, x, y, [*marks, *measured], alternative, product, claims)
