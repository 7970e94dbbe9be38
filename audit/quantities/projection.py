"""What every projection of lumen maintenance gives: a calculated life, the life that may be reported, and its text.

Model: flux(t) = B exp(-alpha t), so Lp = ln(100 B / p) / alpha (ANSI/IES TM-21-11; rules R01 and R02 of
``tm21_rules``). Subclasses know where alpha and B come from: one tested set, or two at other temperatures.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from . import tm21_rules as rules
from .spectra import Texts, add
from .tables import Array


@dataclass(frozen=True)
class Projection:
    """What every projection of shape (...) has, whether from one set or between two.

    ``alpha`` in 1/h and ``B``; ``duration_h``, the test that limits it; ``limit_h``, the longest life that may be
    reported; NaN where refused. ``known_h``: up to where the units themselves were read under these conditions.
    ``refused`` and ``notes``: texts, "" where there is none; a refused set may still have alpha, B and lp.
    """

    alpha: Array
    B: Array
    duration_h: Array
    limit_h: Array
    known_h: Array
    refused: Texts
    notes: Texts

    def lp(self, p: float) -> Array:
        """Calculated life (...) in h to ``p`` percent, not limited; inf where alpha isn't positive."""
        return life(self.alpha, self.B, p)

    def measured(self, p: float) -> Array:
        """Life (...) in h to ``p`` percent as it was reached during the test, NaN where it wasn't."""
        check_percent(p)
        return np.full(self.alpha.shape, np.nan)

    def basis(self, p: float) -> Texts:
        """What the reported life (...) rests on; "" where refused.

        "measured": reached during the test; "calculated": the fit, inside the limit; "limit": the calculated life
        lies beyond the limit; "duration": the fit would end before a test in which the level wasn't reached.
        """
        kinds = np.full(self.alpha.shape, "calculated", dtype=object)
        lp = self.lp(p)
        kinds[lp > self.limit_h] = "limit"
        kinds[lp < self.known_h] = "duration"
        kinds[np.isfinite(self.measured(p))] = "measured"
        kinds[self.refused != ""] = ""
        return kinds

    def reported(self, p: float) -> Array:
        """Life (...) in h to ``p`` percent that may be reported, judged and limited unrounded; NaN where refused."""
        measured = self.measured(p)
        projected = np.minimum(np.maximum(self.lp(p), self.known_h), self.limit_h)
        return np.where(self.refused == "", np.where(np.isnan(measured), projected, measured), np.nan)

    def notation(self, p: float) -> Texts:
        """The reported life (...) as the trade prints it: "L70(6k) > 36,000 h"; "" where refused (R13, R17, R18)."""
        signs = {"limit": ">", "duration": ">", "calculated": "=", "measured": "="}
        out = np.full(self.alpha.shape, "", dtype=object)
        columns = (x.reshape(-1).tolist() for x in (self.basis(p), self.reported(p), self.duration_h))
        for i, (basis, reported_h, duration_h) in enumerate(zip(*columns, strict=True)):
            if basis:
                tail = ", as measured" if basis == "measured" else ""
                kilo = int(duration_h / 1000 + 0.5)
                out.flat[i] = f"L{p:g}({kilo}k) {signs[basis]} {three_figures(reported_h)} h{tail}"
        return out

    def remarks(self, p: float) -> Texts:
        """The notes (...), and the rule from memory that the life to ``p`` percent rests on besides."""
        remarks = self.notes.copy()
        add(remarks.reshape(-1), self.basis(p).reshape(-1) == "measured", rules.cite("R22"))
        return remarks


def life(alpha: ArrayLike, B: ArrayLike, p: float) -> Array:
    """Calculated life in h to ``p`` percent from ``alpha`` in 1/h and ``B``, any one shape (R02). NaN in, NaN out.

    inf where alpha isn't positive (R16); negative where B lies below p already.
    """
    check_percent(p)
    alpha, B = np.asarray(alpha, dtype=np.float64), np.asarray(B, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(alpha <= 0, np.inf, np.log(100 * B / p) / alpha)


def three_figures(hours: float) -> str:
    """Hours printed to three significant figures, thousands parted by commas (R17)."""
    rounded = float(f"{hours:.3g}")
    return f"{rounded:,.0f}" if abs(rounded) >= 100 else f"{rounded:g}"


def check_percent(p: float) -> None:
    """Raise ValueError unless ``p`` is a level of maintenance in percent."""
    if not 0 < p < 100:
        raise ValueError(f"p is {p:g}; give the level of maintenance in percent, between 0 and 100")
