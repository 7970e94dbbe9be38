"""Which two readings belong to one light: x and y, u' and v', of one spectrum or of one row of one document."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from audit.model import Evidence

if TYPE_CHECKING:
    import pandas as pd

Rows = NDArray[np.int64]
LETTERS = re.compile(r"[A-Z]*")


def paired(evidence: Evidence, first: Rows, second: Rows) -> tuple[Rows, Rows]:
    """Return the readings of `first` and `second` (rows of evidence.readings) that belong together, aligned.

    They share document, operating point and spectrum. Where a document gives several there (units without serial
    numbers), those in one row of the sheet belong together, else those in one column; what is left has no partner.
    """
    if not len(first) or not len(second):
        return first[:0], second[:0]
    at, split = np.concatenate([first, second]), len(first)
    places = _places(evidence, at)
    keys = [places["document_id"].to_numpy()]
    keys += [evidence.readings[name].to_numpy()[at] for name in ("point_id", "spectrum_id")]
    light, left = _alike(keys), np.arange(len(at))
    found = []
    for closer in (None, _row, _column):
        key = light[left] if closer is None else _alike([light[left], *closer(places.iloc[left])])
        mine = left < split
        one, other = _partners(key[mine], key[~mine])
        pair = left[mine][one], left[~mine][other]
        found.append(pair)
        left = np.setdiff1d(left, np.concatenate(pair))
        if not (left < split).any() or not (left >= split).any():
            break
    one, other = (at[np.concatenate(rows)] for rows in zip(*found, strict=True))
    order = np.argsort(one, kind="stable")
    return one[order], other[order]


def _places(evidence: Evidence, rows: Rows) -> pd.DataFrame:
    """Return where readings stand, in their order."""
    import pandas as pd

    wanted = evidence.readings["place_id"].to_numpy()[rows]
    where = pd.Index(evidence.places["place_id"]).get_indexer(wanted)
    return evidence.places[["document_id", "sheet", "row", "cell"]].iloc[where]


def _row(places: pd.DataFrame) -> list[NDArray[Any]]:
    return [places["sheet"].to_numpy(), places["row"].to_numpy()]


def _column(places: pd.DataFrame) -> list[NDArray[Any]]:
    letters = [(LETTERS.match(cell) or [""])[0] for cell in places["cell"]]
    return [places["sheet"].to_numpy(), np.array(letters, dtype=object)]


def _alike(keys: Sequence[NDArray[Any]]) -> Rows:
    """Number rows so that those share a number that are equal in all keys."""
    import pandas as pd

    number = np.zeros(len(keys[0]), np.int64)
    for key in keys:
        codes, values = pd.factorize(key)
        number = pd.factorize(number * len(values) + codes)[0]
    return number


def _partners(mine: Rows, theirs: Rows) -> tuple[Rows, Rows]:
    """Return where the numbers stand that occur once on either side, aligned."""
    (one, at_one), (other, at_other) = _alone(mine), _alone(theirs)
    _, first, second = np.intersect1d(one, other, assume_unique=True, return_indices=True)
    return at_one[first], at_other[second]


def _alone(numbers: Rows) -> tuple[Rows, Rows]:
    """Return the numbers that occur once, and where."""
    values, at, count = np.unique(numbers, return_index=True, return_counts=True)
    return values[count == 1], at[count == 1]
