"""Which two readings belong to one light: x and y, u' and v', of one spectrum or of one row of one document."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.model import Evidence

Rows = NDArray[np.int64]
LETTERS = re.compile(r"[A-Z]*")


def paired(evidence: Evidence, first: Rows, second: Rows) -> tuple[Rows, Rows]:
    """Return the readings of `first` and `second` (rows of evidence.readings) that belong together, aligned.

    They share document, operating point and spectrum. Where a document gives several there (units without serial
    numbers), those in one row of the sheet belong together, else those in one column; what is left has no partner.
    """
    if not len(first) or not len(second):
        return first[:0], second[:0]
    found: list[tuple[Rows, Rows]] = []
    keys = _keys(evidence, np.concatenate([first, second]))
    for columns in (["light"], ["light", "sheet", "row"], ["light", "sheet", "column"]):
        mine, theirs = (_alone(keys.loc[rows], columns) for rows in (first, second))
        both = mine.merge(theirs, on=columns, suffixes=("_a", "_b"))
        pair = both["at_a"].to_numpy(np.int64), both["at_b"].to_numpy(np.int64)
        found.append(pair)
        first, second = np.setdiff1d(first, pair[0]), np.setdiff1d(second, pair[1])
    one, other = (np.concatenate(rows) for rows in zip(*found, strict=True))
    order = np.argsort(one, kind="stable")
    return one[order], other[order]


def _keys(evidence: Evidence, rows: Rows) -> pd.DataFrame:
    """What each reading's place and state are known by, indexed by its row."""
    readings = evidence.readings.iloc[rows]
    places = evidence.places.set_index("place_id").loc[readings["place_id"]]
    states = pd.DataFrame(
        {
            "document": places["document_id"].to_numpy(),
            "point": readings["point_id"].to_numpy(),
            "spectrum": readings["spectrum_id"].to_numpy(),
        }
    )
    return pd.DataFrame(
        {
            "light": states.groupby(["document", "point", "spectrum"]).ngroup().to_numpy(),
            "sheet": places["sheet"].to_numpy(),
            "row": places["row"].to_numpy(),
            "column": [(LETTERS.match(cell) or [""])[0] for cell in places["cell"]],
            "at": rows,
        },
        index=rows,
    )


def _alone(keys: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    """The readings that are the only ones under their key, by that key."""
    return keys[~keys.duplicated(columns, keep=False)][[*columns, "at"]]
