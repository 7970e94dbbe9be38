"""The chromaticities that bear on a claim: readings of x with the y of the same light, and their uncertainties."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audit.book import Book, Rows
from audit.pairs import paired
from audit.select import Entities

Floats = NDArray[np.float64]
UNPAIRED = "x without the y of the same light: shown, not used"
PARTNER = "y of the same light"


@dataclass(frozen=True)
class Lights:
    """Chromaticities (n,) in CIE 1931; `rows` are their readings of x, ascending, `partners` those of y.

    `u_x`, `u_y`: standard uncertainties against a nominal value; `repeat_x`, `repeat_y`: between readings of one
    laboratory. `assumed`: rests on a default of the register. `shown`: readings of x that have no y.
    """

    rows: Rows
    partners: Rows
    x: Floats
    y: Floats
    u_x: Floats
    u_y: Floats
    repeat_x: Floats
    repeat_y: Floats
    assumed: NDArray[np.bool_]
    shown: dict[int, str]

    def at(self, rows: Rows) -> Rows:
        """Return which of the lights these readings of x are."""
        return np.searchsorted(self.rows, rows)

    def both(self, rows: Rows) -> Rows:
        """Return these readings of x and the readings of y of the same lights."""
        return np.concatenate([rows, self.partners[self.at(rows)]])

    def entities(self, entities: Entities) -> Entities:
        """Return the entities with the readings of y beside those of x, which they rest on as well."""
        return replace(entities, rows=[self.both(rows) for rows in entities.rows])


def lights(book: Book, product: str, rows: Rows, scale: float) -> Lights:
    """Return the lights of these readings of x on a product. `scale` multiplies the assumed uncertainties.

    That of one laboratory's readings among themselves is a default of the register throughout.
    """
    x, y = paired(book.evidence, rows, np.concatenate(book.rows(product, "y")))
    u_x, u_y = (np.where(book.u.assumed[each], scale, 1.0) * book.u.total[each] for each in (x, y))
    return Lights(
        x,
        y,
        book.value[x],
        book.value[y],
        u_x,
        u_y,
        np.fmin(scale * book.u.repeat[x], u_x),
        np.fmin(scale * book.u.repeat[y], u_y),
        book.u.assumed[x] | book.u.assumed[y],
        dict.fromkeys(np.setdiff1d(rows, x).tolist(), UNPAIRED),
    )
