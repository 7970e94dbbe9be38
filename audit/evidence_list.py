"""The evidence behind a finding, down to the cell: what decides, what was tested too, what is shown only."""

from __future__ import annotations

from typing import Any

from audit.book import Book, Rows
from audit.matching import Match
from audit.select import Selection
from audit.wording import COVERAGE_FACTOR

MOST_ALSO_TESTED = 200  # a finding stays readable; `points` and `units` count them all


def evidence_rows(
    book: Book, deciding: Rows, chosen: Selection | None, rival: int, found: Match
) -> list[dict[str, Any]]:
    """Return the readings behind a finding with document, place, raw text, value, operating point and role."""
    roles: dict[int, str] = dict.fromkeys(deciding.tolist(), "deciding")
    if chosen is not None:
        roles |= {rival: "disagrees"} if rival >= 0 else {}
        also = [row for row in chosen.kept.tolist() if row not in roles]
        roles |= dict.fromkeys(also[:MOST_ALSO_TESTED], "also tested")
        shown = {row: why for row, why in chosen.shown.items() if row not in roles}
        roles |= dict(list(shown.items())[:MOST_ALSO_TESTED])
    else:
        roles |= dict.fromkeys(found.pool[:MOST_ALSO_TESTED].tolist(), "other conditions")
        roles |= dict.fromkeys(found.parts[:MOST_ALSO_TESTED].tolist(), "other test object")
    roles |= dict.fromkeys(found.silent[:MOST_ALSO_TESTED].tolist(), "simulation or data sheet: shown only")
    return [_listed(book, row, role) for row, role in roles.items()]


def _listed(book: Book, row: int, role: str) -> dict[str, Any]:
    document, place, raw = book.where(row)
    u = float(book.u.total[row])
    return {
        "document": document,
        "place": place,
        "raw": raw,
        "quantity": str(book.quantity[row]),
        "value": float(book.value[row]),
        "expanded_uncertainty": COVERAGE_FACTOR * u if u == u else None,
        "uncertainty_from": str(book.u.basis[row]),
        "origin": "computed" if book.computed[row] else "reported",
        "standing": book.standing(row),
        "operating_point": book.stated(row),
        "role": role,
    }


def stated_point(book: Book, rows: Rows, mean: bool = False) -> dict[str, Any]:
    """Return the fields that these readings state alike; for a mean without the unit's own fields."""
    if not len(rows):
        return {}
    first, *others = (book.stated(row) for row in rows.tolist())
    return {
        name: value
        for name, value in first.items()
        if all(other.get(name) == value for other in others) and not (mean and name in ("serial", "repeat"))
    }
