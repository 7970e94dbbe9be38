"""Do the printed figures follow from the document's own spectra?

What it answers
    For every quantity that a document prints beside a spectrum: does the recomputed value agree?
Why it matters
    A printed value that its own spectrum doesn't give is a misprint, another spectrum, or another method.
Evidence needed
    A reported and a computed reading of one quantity at one operating point of one test.
Method
    The difference beyond half the last printed digit and the register's allowance for resampling.
What it can't know
    Which of the two is wrong, or why. A document that prints no spectrum is believed; a spectrum and figures that
    were made to fit each other agree.
Sources
    The allowances are settings of this project (audit/quantities/register.csv, recompute_allowance).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Tables, hookimpl, wording
from audit.tables import frame

if TYPE_CHECKING:
    from audit.book import Book
    from audit.case import Case

NAME = "recomputation"


def judge(case: Case) -> Tables:
    """Return an observation per document and quantity whose printed value differs, with the worst place."""
    rows = []
    book, names = case.book, case.evidence.readings["quantity"].astype(str).to_numpy()
    for (_, name), pairs in sorted(_pairs(book, names).items()):
        quantity = case.known[name]
        allowance = 0.0 if np.isnan(quantity.recompute_allowance) else quantity.recompute_allowance
        excess = [abs(book.value[a] - book.value[b]) - allowance - book.resolution[a] / 2 for a, b in pairs]
        apart = sum(amount > 1e-12 for amount in excess)
        if not apart:
            continue
        printed, own = pairs[int(np.argmax(excess))]
        document, place, _ = book.where(printed)
        digits = wording.decimals_for(0.0, abs(book.value[printed] - book.value[own]), quantity.decimals)
        rows.append(
            (
                "recomputed_differs",
                "major",
                name,
                document,
                place,
                f"{quantity.title}: printed {wording.fixed(book.value[printed], digits)}, recomputed from the spectrum "
                f"{wording.fixed(book.value[own], digits)}; "
                f"{apart} of {wording.counted(len(pairs), 'printed value')} off by more than half a digit and "
                f"{wording.plain(allowance)}, which resampling explains",
                "ask the laboratory from which spectrum, by which method and edition the printed figure comes",
                NAME,
            )
        )
    return Tables({"observations": frame("observations", rows)})


def _pairs(book: Book, names: np.ndarray) -> dict[tuple[int, str], list[tuple[int, int]]]:
    """Return (document, quantity) -> pairs of a reported row and the computed row of its test and point."""
    finest: dict[tuple[int, int, str], int] = {}
    for row in np.flatnonzero(book.spectral):
        key = (book.test[row], book.state[row], names[row])
        if key not in finest or book.step[row] < book.step[finest[key]]:
            finest[key] = int(row)
    pairs: dict[tuple[int, str], list[tuple[int, int]]] = {}
    for row in np.flatnonzero(~book.computed):
        own = finest.get((book.test[row], book.state[row], names[row]))
        if own is not None:
            pairs.setdefault((int(book.document[row]), names[row]), []).append((int(row), own))
    return pairs


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "printed figures against their own spectra",
            needs=("spectra",),
            judge=judge,
            sources=("allowances chosen by this project",),
        )
    ]
