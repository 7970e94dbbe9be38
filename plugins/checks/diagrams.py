"""What diagrams in CIE 1976 u', v' have in common: a square view, loci, outlines. No check of its own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from audit import Axis, Figure, Mark

LEAST_HALF = 0.005  # of the span of a diagram
MOST_KELVIN = 6  # ticks on the locus


def view(u: np.ndarray, v: np.ndarray) -> tuple[Axis, Axis]:
    """Return the axes of a square about the points u, v (n,)."""
    half = max(0.53 * np.ptp(u), 0.53 * np.ptp(v), LEAST_HALF)
    left, low = (float(axis.min() + axis.max()) / 2 - half for axis in (u, v))
    return Axis("u′", low=left, high=left + 2 * half), Axis("v′", low=low, high=low + 2 * half)


def loci(x: Axis, y: Axis) -> list[Mark]:
    """Return the Planckian and daylight loci as far as they lie in view, and some CCTs on the first."""
    from audit.quantities.outlines import daylight_locus, planckian_locus

    low, high = (np.array(ends, np.float64) for ends in ((x.low, y.low), (x.high, y.high)))

    def seen(line: np.ndarray) -> np.ndarray:
        """Whether the points of a locus (n, 2) are in view."""
        return np.asarray(((line > low) & (line < high)).all(axis=1))

    marks = []
    for locus, coldest, words in (
        (planckian_locus, 1500.0, "Planckian locus"),
        (daylight_locus, 4000.0, "daylight locus"),
    ):
        line = locus(1e6 / np.linspace(45.0, 1e6 / coldest, 120))
        line = line[seen(line)]
        if len(line) > 1:
            marks.append(Mark("line", words, line[:, 0], line[:, 1], "reference"))
    for step in (100, 200, 500, 1000, 2000):
        kelvin = np.arange(1000.0, 20001.0, step)
        at = planckian_locus(kelvin)
        kelvin, at = kelvin[seen(at)], at[seen(at)]
        if 0 < len(kelvin) <= MOST_KELVIN:
            labels = [f"{K:.0f} K" for K in kelvin]
            tags = [(*place, words) for place, words in zip(at.tolist(), labels, strict=True)]
            marks.append(
                Mark("points", "CCT on the Planckian locus", at[:, 0], at[:, 1], "reference", labels=labels, tags=tags)
            )
            break
    return marks


def thinned(count: int, most: int) -> np.ndarray:
    """Return which of `count` points in their order are drawn, evenly spread, the first and the last among them."""
    return np.unique(np.linspace(0, count - 1, min(count, most)).round().astype(np.intp))


class Route(NamedTuple):
    """The way of one unit's colour: points u, v (n,) in their order, `tags` words at some of them."""

    title: str
    u: np.ndarray
    v: np.ndarray
    labels: Sequence[str]
    tags: Sequence[tuple[float, float, str]]
    furthest: str  # in words, where it is furthest from the locus


def routes(
    name: str, title: str, text: str, product: str, claims: Sequence[str], shown: np.ndarray, ways: Sequence[Route]
) -> Figure:
    """Return the figure of ways in u', v' beside the loci, about all points `shown` (n, 2); one way is tagged."""
    x, y = view(shown[:, 0], shown[:, 1])
    marks = loci(x, y)
    for number, way in enumerate(ways):
        marks.append(Mark("line", way.title, way.u, way.v, "measured"))
        tags = [] if number else way.tags
        marks.append(Mark("points", way.title, way.u, way.v, "measured", labels=way.labels, tags=tags))
    told = "; ".join(way.furthest for way in ways)
    return Figure(name, title, x, y, marks, f"{text}. {told}.", product, claims, equal=True)


def outlines(title: str, rings: Sequence[np.ndarray], role: str) -> Mark:
    """Return closed lines (k, 2) each as one mark."""
    corners = np.concatenate(rings)
    return Mark("polygon", title, corners[:, 0], corners[:, 1], role, rings=[len(ring) for ring in rings])
