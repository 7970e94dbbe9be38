"""What of the evidence a check's figures show: readings of one product that bear on it, and what they are called."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from audit import wording
from audit.book import TOLERANCES, Book, Column, Rows
from audit.case import Case
from audit.claims import Claim, product_key
from audit.matching import match
from audit.model import NUMBER, POINT_FIELDS
from audit.select import select

MOST_PRODUCTS = 12


def products(case: Case) -> list[str]:
    """Return the products that figures are made of: those of the claims first, then those of the evidence."""
    names = [claim.product for claim in case.claims] + sorted(set(case.evidence.points["product"]))
    return list({product_key(name): name for name in reversed(names)}.values())[::-1][:MOST_PRODUCTS]


def bearing(case: Case, product: str, quantity: str) -> Rows:
    """Return the readings (n,) of a quantity on a product that a claim without any condition would rest on.

    Computed ones of the finest spectrum stand for reported ones; data sheets, simulations, packages and single
    channels are left out, as everywhere.
    """
    entry = case.known[quantity]
    claim = Claim("", product, entry, "at_least", -math.inf, math.inf)
    rows = match(case.book, claim).rows
    return select(case.book, rows, (), -math.inf, math.inf, entry.recompute_allowance).kept


def together(book: Book, *columns: Rows) -> tuple[Rows, ...]:
    """Return those readings of several quantities that belong to one light, in one order, as arrays (n,) each.

    A light is a spectrum or, of printed values, a row of a document.
    """
    readings, places = book.evidence.readings, book.evidence.places.set_index("place_id")

    def lights(rows: Rows) -> dict[object, int]:
        some = readings.iloc[rows]
        where = places.loc[some["place_id"], ["document_id", "sheet", "row"]].itertuples(index=False, name=None)
        keys = zip(some["spectrum_id"].tolist(), some["point_id"].tolist(), where, strict=True)
        return {key[0] if key[0] >= 0 else key[1:]: row for key, row in zip(keys, rows.tolist(), strict=True)}

    found = [lights(column) for column in columns]
    common = [key for key in found[0] if all(key in other for other in found[1:])]
    return tuple(np.array([each[key] for key in common], np.int64) for each in found)


def names(book: Book, rows: Rows) -> list[str]:
    """Return what tells the operating points of these readings (n,) apart, in words: unit 3, 3000 K setting.

    Differences within the tolerances of matching tell nothing apart.
    """
    fields = [name for name in POINT_FIELDS if name not in ("product", "used_in", "test_object")]
    apart = [name for name in fields if _varies(name, book.effective(name, rows))]
    words = [{key: value for key, value in book.stated(row).items() if key in apart} for row in rows.tolist()]
    return [wording.operating_point(point) or f"light {number + 1}" for number, point in enumerate(words)]


def _varies(name: str, values: Column) -> bool:
    if POINT_FIELDS[name] != NUMBER:
        return len(set(values)) > 1
    known = values[~np.isnan(values.astype(float))].astype(float)
    return bool(len(known)) and (len(known) < len(values) or bool(np.ptp(known) > TOLERANCES[name](known.min())))


def claims_on(case: Case, product: str, quantities: Sequence[str]) -> list[str]:
    """Return the ids of the claims on any of these quantities of a product."""
    key = product_key(product)
    wanted = set(quantities)
    return [c.claim_id for c in case.claims if product_key(c.product) == key and c.quantity.name in wanted]
