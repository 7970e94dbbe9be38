"""Tested sets of LEDs or luminaires, made from readings of flux maintenance or from a printed TM-21 sheet.

A set is the units of one product at one case temperature and one drive current in one test (ANSI/IES LM-80). A source
is one LED at one current: its sets at several temperatures, between which a projection may interpolate. No check of
its own: `lumen_maintenance` judges by it, and what a figure of a set needs (hours, means, window, fit, limit) is its
`projection`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from audit import wording
from audit.quantities import tm21_rules as rules
from audit.quantities.in_situ import same_current
from audit.quantities.maintenance import Tm21, tm21
from audit.quantities.projection import Projection

if TYPE_CHECKING:
    from audit.book import Book, Rows

UNIT_STATE = ("hours", "serial", "repeat")  # what tells the readings of one set apart
PRINTED = ("decay_constant", "initial_constant", "sample_size")
# Two sets nearer than this are at one temperature; audit.book.TOLERANCES doesn't hold for a life.
SAME_C = 0.5
# Currents read this near to one another (as a share) were set to one current.
SAME_CURRENT = 0.01
MOST_DIGITS = 18


@dataclass(frozen=True)
class Tested:
    """One set: its readings, what it was tested at (NaN: not stated) and its projection, of shape ().

    `units`: how many the projection rests on; `reasons`: why there is none, in words of the closed list; `serials`
    (units,) name the rows of a Tm21, none for a set taken from a printed sheet.
    """

    rows: Rows
    product: str
    test: int
    case_C: float
    drive_mA: float
    projection: Projection
    units: int
    serials: tuple[str, ...] = ()

    @property
    def reasons(self) -> set[str]:
        """Why nothing can be projected from it, in words of the closed list; empty where something can."""
        if not str(self.projection.refused):
            return set()
        found = {
            "past test duration": float(self.projection.duration_h) < rules.SHORTEST_H - rules.TOLERANCE_H,
            "too few units": 0 < self.units < rules.FEWEST_UNITS,
        }
        return {reason for reason, holds in found.items() if holds} or {"record inadequate"}

    @property
    def missing(self) -> list[str]:
        """The units that were lost, or not read at some time in between, by their serials."""
        if not isinstance(self.projection, Tm21):
            return []
        words = {
            "{} not read to the end": self.projection.lost,
            "{} not read at every time": self.projection.missing.any(axis=-1) & ~self.projection.lost,
        }
        told = []
        for text, units in words.items():
            named = [serial for serial, chosen in zip(self.serials, units.tolist(), strict=True) if chosen]
            told += [text.format(wording.listing(named))] if named else []
        return told


@dataclass(frozen=True)
class Source:
    """One LED at one drive current: the sets between which may be interpolated, coolest first."""

    product: str
    drive_mA: float
    sets: tuple[Tested, ...]

    @property
    def rows(self) -> Rows:
        """All readings behind the source."""
        return np.concatenate([each.rows for each in self.sets])


def tested_sets(book: Book, rows: Rows) -> list[Tested]:
    """Return the sets that these readings of flux maintenance are of, each projected by TM-21."""
    from audit.select import select, split

    chosen = select(book, rows, (), -math.inf, math.inf, 0.0).kept
    return [_tested(book, members) for members in split(chosen, book.test[chosen], book.groups(chosen, UNIT_STATE))]


def _tested(book: Book, rows: Rows) -> Tested:
    """One set. Units that no serial tells apart give no series: the set is refused."""
    import pandas as pd

    from audit.book import NO_SERIAL

    frame = pd.DataFrame(
        {
            "unit": book.unit[rows],
            "hours": book.field("hours", rows).astype(float),
            "repeat": book.field("repeat", rows).astype(str),
            "ratio": book.value[rows] / 100,
        }
    )
    frame = frame[frame["hours"].notna()]
    # What stands twice for one unit and hour, and is no stated repeat, keeps its two columns: the kernel refuses them.
    frame["again"] = frame.groupby(["unit", "hours", "repeat"]).cumcount()
    order = sorted(frame["unit"].unique(), key=_natural)
    table = frame.pivot_table(index="unit", columns=["hours", "again"], values="ratio", aggfunc="mean").reindex(order)
    hours = table.columns.get_level_values(0).to_numpy(float) if len(frame) else np.array([])
    projection = tm21(hours, table.to_numpy(float).reshape(len(order), len(hours)))
    if (frame["unit"].eq(NO_SERIAL) & frame["again"].gt(0)).any():
        text = "the units have no serial numbers that tell their readings apart: ask for them"
        projection = replace(projection, refused=np.full((), text, dtype=object))
    first = int(rows[0])
    return Tested(
        rows,
        str(book.field("product", rows[:1])[0]),
        int(book.test[first]),
        _lowest(book, "case_C", rows),
        _lowest(book, "drive_mA", rows),
        projection,
        int(projection.n),
        tuple(order),
    )


def printed_sets(book: Book, rows: Rows, quantities: NDArray[np.object_]) -> list[Tested]:
    """Return the sets of printed TM-21 sheets: alpha and B at one operating point, with n, and D as its hours.

    `rows` are readings of PRINTED, `quantities` (all readings,) their names.
    """
    from audit.select import split

    found = []
    for members in split(rows, book.test[rows], book.groups(rows, ("serial", "repeat"))):
        at = {quantities[row]: int(row) for row in members.tolist()}
        if {"decay_constant", "initial_constant"} <= at.keys():
            found.append(_printed(book, members, at))
    return found


def _printed(book: Book, rows: Rows, at: dict[object, int]) -> Tested:
    units = int(book.value[at["sample_size"]]) if "sample_size" in at else 0
    duration = float(book.field("hours", rows[:1]).astype(float)[0])
    multiplier = next((times for least, times in rules.MULTIPLIERS if units >= least), math.nan)
    refused = [
        text
        for text, holds in (
            ("the sheet doesn't state how many units were tested: ask for the number", "sample_size" not in at),
            ("the sheet doesn't state the duration of the test: ask for it", math.isnan(duration)),
            (
                f"the sheet's set has {units} units; a projection needs {rules.FEWEST_UNITS}",
                0 < units < rules.FEWEST_UNITS,
            ),
            (
                f"the sheet's test lasted {duration:,.10g} h; a projection needs 6,000 h",
                duration < rules.SHORTEST_H - rules.TOLERANCE_H,
            ),
        )
        if holds
    ]
    values = (book.value[at["decay_constant"]], book.value[at["initial_constant"]], duration)
    alpha, b, duration_h = (np.asarray(value, float) for value in values)
    projection = Projection(
        alpha,
        b,
        duration_h,
        np.asarray(math.nan if refused else multiplier * duration, float),
        np.asarray(-math.inf),
        np.full((), "; ".join(refused), dtype=object),
        np.full((), "alpha, B, n and D as printed, without the readings of the units", dtype=object),
    )
    return Tested(
        rows,
        str(book.field("product", rows[:1])[0]),
        int(book.test[rows[0]]),
        _lowest(book, "case_C", rows),
        _lowest(book, "drive_mA", rows),
        projection,
        units,
    )


def sources(sets: Sequence[Tested]) -> list[Source]:
    """Return the sets by LED and current. Tests of one LED are joined unless they tested one temperature twice."""
    found = []
    for product in dict.fromkeys(each.product for each in sets):
        for current, own in _by_current([each for each in sets if each.product == product]):
            groups = [own]
            if _twice(own):
                tests = dict.fromkeys(each.test for each in own)
                groups = [[each for each in own if each.test == test] for test in tests]
            for group in groups:
                ordered = sorted(group, key=lambda each: (math.isnan(each.case_C), each.case_C))
                found.append(Source(product, current, tuple(ordered)))
    return found


def at_current(found: Sequence[Source], drive_mA: float) -> list[Source]:
    """Return, of the sources of each LED, those at the lowest current that isn't below `drive_mA`, else the highest.

    All of them where a current isn't stated.
    """
    chosen: list[Source] = []
    for product in dict.fromkeys(each.product for each in found):
        own = [each for each in found if each.product == product]
        currents = [each.drive_mA for each in own]
        if not any(map(math.isnan, [drive_mA, *currents])):
            enough = [current for current in currents if same_current(drive_mA, current).inside]
            wanted = min(enough) if enough else max(currents)
            own = [each for each in own if each.drive_mA == wanted]
        chosen += own
    return chosen


def _by_current(sets: Sequence[Tested]) -> list[tuple[float, list[Tested]]]:
    """The sets of one LED by current: the lowest that was read stands for those set to one current."""
    groups: list[tuple[float, list[Tested]]] = []
    for each in sorted(sets, key=lambda each: (math.isnan(each.drive_mA), each.drive_mA)):
        lowest = groups[-1][0] if groups else -1.0
        if groups and (each.drive_mA <= lowest * (1 + SAME_CURRENT) or math.isnan(lowest)):
            groups[-1][1].append(each)
        else:
            groups.append((each.drive_mA, [each]))
    return groups


def _twice(sets: Sequence[Tested]) -> bool:
    """Whether two tests have a set at one temperature."""
    return any(
        abs(a.case_C - b.case_C) < SAME_C and a.test != b.test for i, a in enumerate(sets) for b in sets[i + 1 :]
    )


def _lowest(book: Book, name: str, rows: Rows) -> float:
    """The lowest value stated for a set: what lies above it wasn't tested by all its units. NaN: none states it."""
    values = book.field(name, rows).astype(float)
    return float(np.nanmin(values)) if np.isfinite(values).any() else math.nan


def _natural(serial: str) -> tuple[str, int, str]:
    """Sort LED9 before LED10."""
    digits = len(serial) - len(serial.rstrip("0123456789"))
    head = serial[: len(serial) - digits]
    return head, int(serial[len(head) :][-MOST_DIGITS:] or 0), serial
