"""The second opinion: colour quantities of every spectrum again, by the functions of an independent library.

colour-science takes over a second to load, so only an audit that was asked for it imports it. What it gives stands
beside our own values, decides nothing and changes no finding.
"""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit import wording
from audit.book import Book
from audit.model import Quantity, Tell, told_to_nobody

LIBRARY = "colour-science"
CHROMATICITY = ("x", "y", "u_prime", "v_prime")
LOCUS = ("cct", "duv")
RENDERING = ("ra", *(f"r{i}" for i in range(1, 15)))  # the library has no R15
BINS = range(1, 17)
FIDELITY = ("rf", "rg", *(f"{kind}_h{j}" for kind in ("rf", "rcs", "rhs") for j in BINS))
# What the library does otherwise (colour-science 0.4.7), for the sentence where a last digit differs.
OTHERWISE: Mapping[tuple[str, ...], str] = {
    CHROMATICITY: "it sums at 1 nm after its own interpolation; ours is the local cubic of Lagrange",
    LOCUS: "it takes CCT and Duv by Ohno (2013) from a table of the locus; ours is the nearest point of the locus",
    RENDERING: "it resamples by Sprague's formula and takes the CCT of the reference by Robertson (1968)",
    FIDELITY: "it interpolates the daylight components by Sprague's formula, where CIE 15 has a linear one",
}


@dataclass(frozen=True)
class SecondOpinion:
    """What the library says: `value` (n,) of every reading, NaN where it says nothing, and a row per comparison.

    `rows`: product, quantity, spectra compared and how many of them it gave no value for, the pair furthest apart with
    its place, the last printed digit, how many pairs differ by more, and a sentence where any does.
    """

    library: str
    value: NDArray[np.float64]
    rows: list[dict[str, Any]] = field(default_factory=list)

    def told(self) -> dict[str, Any]:
        """Return what the writers show."""
        return {"library": self.library, "rows": self.rows}


def second_opinion(book: Book, tell: Tell = told_to_nobody) -> SecondOpinion:
    """Return the library's values of all computed readings that come of a spectrum and that it has a function for."""
    colour = _library()
    readings = book.evidence.readings
    names = readings["quantity"].astype(str).to_numpy()
    theirs = np.full(len(readings), np.nan)
    faults: dict[int, str] = {}
    asked = book.spectral & book.computed & np.isin(names, [name for group in OTHERWISE for name in group])
    wanted: dict[int, list[int]] = {}
    for row in np.flatnonzero(asked):
        wanted.setdefault(int(readings["spectrum_id"].to_numpy()[row]), []).append(int(row))
    spectra = book.evidence.spectra.set_index("spectrum_id")
    for count, (spectrum, rows) in enumerate(wanted.items()):
        tell(f"asking {LIBRARY} for a second opinion", count, len(wanted))
        grid = book.evidence.grids[int(spectra.at[spectrum, "grid_id"])]
        power = grid.power[int(spectra.at[spectrum, "row"])]
        found, fault = _values(colour, power, grid.wavelength_nm, {names[row] for row in rows})
        for row in rows:
            theirs[row] = found.get(names[row], np.nan)
            if fault and np.isnan(theirs[row]):
                faults[row] = fault
    library = f"{LIBRARY} {colour.__version__}"
    return SecondOpinion(library, theirs, _compared(book, names, theirs, np.flatnonzero(asked), faults))


def _library() -> ModuleType:
    """The library; its remarks on optional extras and on short spectra aren't for whoever reads the report."""
    logging.getLogger("colour").setLevel(logging.ERROR)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


def _values(
    colour: ModuleType, power: NDArray[Any], nm: NDArray[Any], wanted: set[str]
) -> tuple[dict[str, float], str]:
    """The library's values of one spectrum, by quantity, and why some are missing."""
    found: dict[str, float] = {}
    fault = ""
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        spectrum = colour.SpectralDistribution(power, nm)
        for group, compute in ((CHROMATICITY, _chromaticity), (LOCUS, _locus), (RENDERING, _cri), (FIDELITY, _tm30)):
            if wanted.isdisjoint(group):
                continue
            try:
                found |= zip(group, map(float, compute(colour, spectrum)), strict=True)
            except Exception as error:  # the library's own refusal of a spectrum
                fault = fault or f"{type(error).__name__}: {error}"
    return found, fault


def _chromaticity(colour: ModuleType, spectrum: Any) -> Iterator[float]:
    xy = colour.XYZ_to_xy(colour.sd_to_XYZ(spectrum))
    yield from xy
    yield from colour.xy_to_Luv_uv(xy)


def _locus(colour: ModuleType, spectrum: Any) -> Iterator[float]:
    uv = colour.UCS_to_uv(colour.XYZ_to_UCS(colour.sd_to_XYZ(spectrum)))
    yield from colour.temperature.uv_to_CCT_Ohno2013(uv)


def _cri(colour: ModuleType, spectrum: Any) -> Iterator[float]:
    result = colour.colour_rendering_index(spectrum, additional_data=True)
    yield result.Q_a
    yield from (result.Q_as[i].Q_a for i in range(1, 15))


def _tm30(colour: ModuleType, spectrum: Any) -> Iterator[float]:
    result = colour.quality.colour_fidelity_index_ANSIIESTM3018(spectrum, additional_data=True)
    yield from (result.R_f, result.R_g, *result.R_fs, *result.R_cs, *result.R_hs)


def _compared(
    book: Book, names: NDArray[Any], theirs: NDArray[np.float64], asked: NDArray[np.int64], faults: Mapping[int, str]
) -> list[dict[str, Any]]:
    """A comparison per product and quantity, in the order of the register."""
    product = book.field("product", asked)
    order = {name: place for place, name in enumerate(name for group in OTHERWISE for name in group)}
    groups: dict[tuple[str, int, str], list[int]] = {}
    for row, owner in zip(asked.tolist(), product, strict=True):
        groups.setdefault((str(owner), order[names[row]], names[row]), []).append(row)
    return [
        _comparison(book, owner, name, np.array(rows), theirs, faults)
        for (owner, _, name), rows in sorted(groups.items())
    ]


def _comparison(
    book: Book, product: str, name: str, rows: NDArray[np.int64], theirs: NDArray[np.float64], faults: Mapping[int, str]
) -> dict[str, Any]:
    quantity: Quantity = book.known[name]
    apart = np.abs(theirs[rows] - book.value[rows])
    given = np.isfinite(apart)
    digit = 10.0**-quantity.decimals
    beyond = int((apart[given] > digit).sum())
    worst = int(rows[np.argmax(np.where(given, apart, -1.0))])
    none = int((~given).sum())
    document, place, _ = book.where(worst)
    return {
        "product": product,
        "quantity": name,
        "unit": quantity.unit,
        "spectra": len(rows),
        "without": none,
        "value": float(book.value[worst]),
        "library_value": float(theirs[worst]) if given.any() else None,
        "difference": float(theirs[worst] - book.value[worst]) if given.any() else None,
        "last_digit": digit,
        "beyond": beyond,
        "operating_point": {key: value for key, value in book.stated(worst).items() if key != "product"},
        "document": document,
        "place": place,
        "sentence": _sentence(
            quantity, len(rows), beyond, none, next((faults[r] for r in rows.tolist() if r in faults), "")
        ),
    }


def _sentence(quantity: Quantity, count: int, beyond: int, none: int, fault: str) -> str:
    """What is to be said of a comparison: nothing where every pair agrees to the last printed digit."""
    parts = []
    if beyond:
        why = next(words for group, words in OTHERWISE.items() if quantity.name in group)
        digit = wording.with_unit(wording.plain(10.0**-quantity.decimals), quantity.unit)
        parts.append(f"{beyond} of {wording.counted(count, 'value')} differ by more than {digit}: {why}")
    if none:
        parts.append(f"the library gives none for {none} of them" + (f" ({fault})" if fault else ""))
    return "; ".join(parts)
