"""Of the readings that match a claim, those that stand for it: computed over reported, units into means."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.book import Book, Rows
from audit.decide import mean_uncertainty, meets
from audit.wording import COVERAGE_FACTOR


@dataclass(frozen=True)
class Selection:
    """`kept` rows stand for the claim; `shown` rows are shown beside them with the reason why they don't."""

    kept: Rows
    shown: dict[int, str]
    disagreeing: dict[int, int]  # kept row -> row that lies on the other side of the limit


@dataclass(frozen=True)
class Entities:
    """What the limits are put to: single readings, or means over units at one setting. Arrays (n,)."""

    value: NDArray[np.float64]
    u: NDArray[np.float64]
    assumed: NDArray[np.bool_]
    disagree: NDArray[np.bool_]
    rows: list[Rows]


def select(book: Book, rows: Rows, lower: float, upper: float, allowance: float) -> Selection:
    """Pick per test and state the computed readings of the finest grid, else the reported ones.

    `allowance`: difference of one spectrum's computed and reported value that resampling explains; half a
    printed digit is added. Two tests of one state disagree beyond their expanded uncertainties.
    """
    shown: dict[int, str] = {}
    disagreeing: dict[int, int] = {}
    kept: list[int] = []
    inside = meets(book.value, lower, upper)
    for group in _groups(rows, book.test, book.state):
        computed = group[book.computed[group]]
        if not len(computed):
            kept += group.tolist()
            continue
        finest = computed[book.step[computed] == book.step[computed].min()]
        kept += finest.tolist()
        shown |= dict.fromkeys(sorted(set(computed) - set(finest)), "from a coarser spectrum of the same point")
        for row in group[~book.computed[group]]:
            shown[int(row)] = "reported; the computed value outranks it"
            slack = (0.0 if np.isnan(allowance) else allowance) + book.resolution[row] / 2
            for own in finest:
                if abs(book.value[row] - book.value[own]) > slack and inside[row] != inside[own]:
                    disagreeing[int(own)] = int(row)
    chosen = np.array(sorted(kept), np.int64)
    for group in _groups(chosen, book.state):
        if len(set(book.test[group])) == 1:
            continue
        for one, other in itertools.combinations(group.tolist(), 2):
            if book.test[one] == book.test[other] or inside[one] == inside[other]:
                continue
            expanded = COVERAGE_FACTOR * np.hypot(book.u.total[one], book.u.total[other])
            if abs(book.value[one] - book.value[other]) > expanded:
                disagreeing |= {one: other, other: one}
    return Selection(chosen, shown, disagreeing)


def single(book: Book, selection: Selection) -> Entities:
    """Each reading for itself: the statistic "each unit"."""
    kept = selection.kept
    disagree = np.isin(kept, list(selection.disagreeing))
    return Entities(
        book.value[kept],
        book.u.total[kept],
        book.u.assumed[kept],
        disagree,
        [kept[[i]] for i in range(len(kept))],
    )


def means(book: Book, selection: Selection) -> Entities:
    """The mean of units at each setting; a unit measured more than once counts once."""
    values, spreads, assumed, disagree, members = [], [], [], [], []
    for group in _groups(selection.kept, book.setting):
        units = list(_groups(group, book.unit))
        value = np.array([book.value[unit].mean() for unit in units])
        total = np.array([book.u.total[unit].max() for unit in units])
        repeat = np.array([book.u.repeat[unit].max() for unit in units])
        values.append(value.mean())
        spreads.append(mean_uncertainty(total, repeat))
        # The part that averages out is the register's even where the laboratory states its whole uncertainty.
        assumed.append(bool(book.u.assumed[group].any()))
        disagree.append(bool(np.isin(group, list(selection.disagreeing)).any()))
        members.append(group)
    return Entities(np.array(values), np.array(spreads), np.array(assumed, bool), np.array(disagree, bool), members)


def _groups(rows: Rows, *keys: NDArray[np.generic]) -> list[Rows]:
    """Split rows into groups that agree in every key, in the order of the keys."""
    if not len(rows):
        return []
    codes = [pd.factorize(key[rows], sort=True)[0] for key in keys]
    order = np.lexsort(codes[::-1])
    changes = np.any([np.diff(code[order]) != 0 for code in codes], axis=0)
    return np.split(rows[order], np.flatnonzero(changes) + 1)
