"""Of the readings that match a claim, those that stand for it: computed over reported, units into means."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.book import NO_SERIAL, UNIT_FIELDS, Book, Rows
from audit.decide import mean_uncertainty, meets
from audit.wording import COVERAGE_FACTOR


@dataclass(frozen=True)
class Selection:
    """`kept` rows stand for the claim; `shown` rows are shown beside them with the reason why they don't."""

    kept: Rows
    shown: dict[int, str]
    disagreeing: dict[int, int]  # kept row -> row that lies on the other side of the limit
    point: dict[int, int]  # kept row -> number of its operating point


@dataclass(frozen=True)
class Entities:
    """What the limits are put to: single readings, or means over units of one test at one setting. Arrays (n,)."""

    value: NDArray[np.float64]
    u: NDArray[np.float64]
    assumed: NDArray[np.bool_]
    rival: Rows  # the first row of what disagrees, across a limit and beyond the uncertainties; -1: nothing
    rival_value: NDArray[np.float64]
    rows: list[Rows]


def select(book: Book, rows: Rows, fixed: Collection[str], lower: float, upper: float, allowance: float) -> Selection:
    """Pick per test and operating point the computed readings of the finest grid, else the reported ones, else what is
    worked out from other readings.

    `fixed`: fields in which all rows agree with the claim. `allowance`: difference of one spectrum's computed and
    reported value that resampling explains; half a printed digit is added. Two tests of one point disagree beyond
    their expanded uncertainties.
    """
    shown: dict[int, str] = {}
    disagreeing: dict[int, int] = {}
    kept: list[int] = []
    inside = meets(book.value, lower, upper)
    point = dict(zip(rows.tolist(), book.groups(rows, fixed).tolist(), strict=True))
    for group in split(rows, book.test[rows], np.array([point[row] for row in rows.tolist()])):
        if len(group) == 1:  # nothing stands beside it
            kept += group.tolist()
            continue
        reported = group[~book.computed[group]]
        computed, worked_out = (
            group[book.computed[group] & of] for of in (book.spectral[group], ~book.spectral[group])
        )
        better = reported if len(reported) else computed
        if len(better) and len(worked_out) and not _cant_be_paired(book, reported):
            shown |= dict.fromkeys(worked_out.tolist(), "worked out from other readings; shown beside it")
            for row in better.tolist():
                apart = _apart(book, row, worked_out, inside, allowance)
                disagreeing |= {row: int(apart[0])} if len(apart) else {}
            group = np.setdiff1d(group, worked_out)
        if not len(computed) or _cant_be_paired(book, reported):
            kept += group.tolist()
            continue
        finest = computed[book.step[computed] == book.step[computed].min()]
        kept += finest.tolist()
        shown |= dict.fromkeys(sorted(set(computed) - set(finest)), "from a coarser spectrum of the same point")
        for row in reported.tolist():
            shown[row] = "reported; the computed value outranks it"
            apart = _apart(book, row, finest, inside, allowance)
            disagreeing |= dict.fromkeys(apart.tolist(), row)
    chosen = np.array(sorted(kept), np.int64)
    for group in split(chosen, np.array([point[row] for row in chosen.tolist()])):
        _compare_tests(book, group, inside, disagreeing)
    return Selection(chosen, shown, disagreeing, {row: point[row] for row in chosen.tolist()})


def _apart(book: Book, printed: int, others: Rows, inside: NDArray[np.bool_], allowance: float) -> Rows:
    """Those of the others that lie on the other side of the limit, by more than rounding and resampling explain."""
    slack = (0.0 if np.isnan(allowance) else allowance) + book.resolution[printed] / 2
    apart: Rows = others[
        (np.abs(book.value[others] - book.value[printed]) > slack) & (inside[others] != inside[printed])
    ]
    return apart


def _cant_be_paired(book: Book, reported: Rows) -> bool:
    """Several printed values of units without serial: no telling which of them a spectrum belongs to."""
    return len(reported) > 1 and bool((book.unit[reported] == NO_SERIAL).any())


def _compare_tests(book: Book, group: Rows, inside: NDArray[np.bool_], disagreeing: dict[int, int]) -> None:
    """Note for each reading the farthest one of another test that disagrees with it; linear in the readings."""
    tests = np.unique(book.test[group]) if len(group) > 1 else ()
    if len(tests) < 2:
        return
    apart: dict[int, float] = {}
    for test in tests:
        theirs = group[book.test[group] == test]
        for side in (True, False):
            others = theirs[inside[theirs] == side]
            ours = group[(book.test[group] != test) & (inside[group] != side)]
            if not len(others) or not len(ours):
                continue
            for far in (others[np.argmin(book.value[others])], others[np.argmax(book.value[others])]):
                gap = np.abs(book.value[ours] - book.value[far])
                expanded = COVERAGE_FACTOR * np.hypot(book.u.total[ours], book.u.total[far])
                for row, distance in zip(ours[gap > expanded].tolist(), gap[gap > expanded].tolist(), strict=True):
                    if distance > apart.get(row, 0.0):
                        apart[row], disagreeing[row] = distance, int(far)


def single(book: Book, chosen: Selection) -> Entities:
    """Each reading for itself: the statistic "each unit"."""
    kept = chosen.kept
    rival = np.array([chosen.disagreeing.get(row, -1) for row in kept.tolist()], np.int64)
    other = np.where(rival >= 0, book.value[rival] if len(book.value) else np.nan, np.nan)
    members = [kept[[i]] for i in range(len(kept))]
    return Entities(book.value[kept], book.u.total[kept], book.u.assumed[kept], rival, other, members)


def means(book: Book, chosen: Selection, fixed: Collection[str], lower: float, upper: float) -> Entities:
    """The mean of units at each setting of each test; a unit measured more than once counts once.

    Units of two laboratories aren't averaged: their means are compared, and the worst counts.
    """
    setting = book.groups(chosen.kept, {*fixed, *UNIT_FIELDS})
    members = split(chosen.kept, setting, book.test[chosen.kept])
    values, spreads = [], []
    for group in members:
        units = split(group, book.unit[group])
        values.append(float(np.mean([book.value[unit].mean() for unit in units])))
        total = np.array([book.u.total[unit].max() for unit in units])
        repeat = np.array([book.u.repeat[unit].max() for unit in units])
        spreads.append(mean_uncertainty(total, repeat))
    value, u = np.array(values), np.array(spreads)
    number = dict(zip(chosen.kept.tolist(), setting.tolist(), strict=True))
    rival = np.full(len(members), -1)
    other = np.full(len(members), np.nan)
    inside = meets(value, lower, upper)
    for i, mine in enumerate(members):
        own = [chosen.disagreeing[row] for row in mine.tolist() if row in chosen.disagreeing]
        if own:
            rival[i], other[i] = own[0], book.value[own[0]]
        for j, theirs in enumerate(members):
            beyond = abs(value[i] - value[j]) > COVERAGE_FACTOR * np.hypot(u[i], u[j])
            if number[int(mine[0])] == number[int(theirs[0])] and inside[i] != inside[j] and beyond:
                rival[i], other[i] = theirs[0], value[j]
    assumed = np.array([bool(book.u.assumed[group].any()) for group in members], bool)
    return Entities(value, u, assumed, rival, other, members)


def split(rows: Rows, *keys: NDArray[np.generic]) -> list[Rows]:
    """Split rows into groups that agree in every key, each (n,) aligned with rows, in the order of the keys."""
    if not len(rows):
        return []
    codes = [pd.factorize(key, sort=True)[0] for key in keys]
    order = np.lexsort((rows, *codes[::-1]))
    changes = np.any([np.diff(code[order]) != 0 for code in codes], axis=0)
    return np.split(rows[order], np.flatnonzero(changes) + 1)
