"""Colour rendition of spectra: CIE 13.3-1995 and CIE 224:2017 / ANSI/IES TM-30, many spectra at once.

Sums run at 1 nm from 380 nm to 780 nm. The CCT that picks the reference is in both methods that of the
spectrum for the 2-degree observer, as ``chromaticity`` gives it. References: CIE 13.3 takes a Planckian
radiator below 5,000 K and a daylight phase at and above; CIE 224 mixes both between 4,000 K and 5,000 K.

A spectrum that starts later than 380 nm or ends earlier than 780 nm is extended with zero only if its end
values are below 0.5 % of the peak, else refused (CIE 224:2017 extends with zero; the limit is ours).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import cie13_3, cie224
from .chromaticity import cct_duv
from .grid import Wavelengths, resampling_matrix
from .reference_illuminants import mixed_sums, switched_sums
from .spectra import END_LIMIT, Spectra, Texts, add, only_used, screen
from .tables import VISIBLE, Array, observer_2deg

#: Spectra computed at a time: the intermediate arrays of a chunk stay in the processor's cache.
CHUNK = 256

FIELDS = ("ra", "ri", "rf", "rg", "rf_h", "rcs_h", "rhs_h", "delta_c")
BINNED = ("rg", "rf_h", "rcs_h", "rhs_h")


@dataclass(frozen=True)
class Rendition:
    """Rendition of n spectra; NaN where refused.

    ``ra`` (n,) and ``ri`` (n, 15): CIE 13.3 indices, R15 last, outside Ra; ``rf``, ``rg`` (n,); ``rf_h``,
    ``rcs_h`` in percent and ``rhs_h`` (n, 16): hue bins 1 to 16; ``delta_c`` (n,): distance of the source
    from the reference of CIE 13.3 in CIE 1960 (u, v). ``refused`` and ``notes``: field name to (n,) texts, ""
    where there is none; only fields with at least one text appear.
    """

    ra: Array
    ri: Array
    rf: Array
    rg: Array
    rf_h: Array
    rcs_h: Array
    rhs_h: Array
    delta_c: Array
    refused: dict[str, Texts]
    notes: dict[str, Texts]


def rendition(power: ArrayLike, wavelength_nm: ArrayLike) -> Rendition:
    """Rendition of the spectra ``power`` (n, m), or (m,) for one, on ``wavelength_nm`` (m,) in nm.

    ``power`` may be in any unit per nm. Raises ValueError for a faulty grid or shape; a spectrum that can't
    be judged is refused on its own, and so is one without a CCT.
    """
    spectra = screen(power, wavelength_nm)
    refused = _refusals(spectra)
    values = _empty(len(refused))
    good = np.flatnonzero(refused == "")
    if good.size:
        weights = _weights(spectra.grid)
        for start in range(0, good.size, CHUNK):
            _fill(values, good[start : start + CHUNK], spectra.power, weights)
    lost = (refused == "") & np.isnan(values["ra"])
    add(
        refused,
        lost,
        "no CCT within 0.05 of the locus and 1,000 K to 20,000 K, so no reference illuminant exists",
    )
    reasons = dict.fromkeys(FIELDS, refused)
    reasons |= dict.fromkeys(BINNED, _binned_refusals(refused, values))
    notes = {name: np.where(reason == "", spectra.notes, "") for name, reason in reasons.items()}
    notes["ra"] = notes["ri"] = _distance_notes(notes["ra"], values["delta_c"])
    return Rendition(**values, refused=only_used(reasons), notes=only_used(notes))


def _empty(n: int) -> dict[str, Array]:
    widths = {"ri": cie13_3.SAMPLES, "rf_h": cie224.BINS, "rcs_h": cie224.BINS, "rhs_h": cie224.BINS}
    return {name: np.full((n, widths[name]) if name in widths else n, np.nan) for name in FIELDS}


@lru_cache(maxsize=32)
def _weights(grid: Wavelengths) -> Array:
    """Power (m,) to 3 + 48 + 300 sums: X, Y, Z of the source, the sums of CIE 13.3, the sums of CIE 224."""
    matrix = resampling_matrix(grid)
    rendition_sums = matrix[VISIBLE].T @ np.concatenate([cie13_3.weights(), cie224.weights()], axis=1)
    return np.concatenate([matrix.T @ observer_2deg(), rendition_sums], axis=1)


def _fill(values: dict[str, Array], rows: NDArray[np.intp], power: Array, weights: Array) -> None:
    """Compute the spectra ``rows`` and write their results; those without a CCT stay NaN."""
    sums = power[rows] @ weights
    total = sums[:, :3].sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        cct_K, _ = cct_duv(sums[:, 0] / total, sums[:, 1] / total)
    known = ~np.isnan(cct_K) & (sums[:, 1] > 0)
    rows, sums, cct_K = rows[known], sums[known], cct_K[known]
    ra, ri, delta_c = cie13_3.indices(sums[:, 3:51], switched_sums(cct_K, cie13_3.weights()))
    values["ra"][rows], values["ri"][rows], values["delta_c"][rows] = ra, ri, delta_c
    reference = mixed_sums(cct_K, cie224.weights(), cie224.luminance())
    fidelity = cie224.fidelity(sums[:, 51:], reference)
    for name in ("rf", "rg", "rf_h", "rcs_h", "rhs_h"):
        values[name][rows] = getattr(fidelity, name)


def _refusals(spectra: Spectra) -> Texts:
    """Reasons (n,) for which rendition is refused before anything is computed."""
    refused = spectra.refused.copy()
    good = refused == ""
    if spectra.grid.truncated:
        missing = np.array([spectra.grid.nm[0] > 380, spectra.grid.nm[-1] < 780])
        high = (np.abs(spectra.ends) >= END_LIMIT * spectra.peak[:, None]) & missing
        text = (
            f"spectrum covers {spectra.grid.nm[0]:g} nm to {spectra.grid.nm[-1]:g} nm and ends at 0.5 % of "
            "the peak or more; rendition needs 380 nm to 780 nm: ask for the whole spectrum"
        )
        add(refused, good & high.any(axis=1), text)
    return refused


def _binned_refusals(refused: Texts, values: dict[str, Array]) -> Texts:
    """Reasons (n,) of the metrics that need a sample in each hue bin; the other bins go with it."""
    reasons = refused.copy()
    empty = (refused == "") & np.isnan(values["rg"])
    for name in BINNED:
        values[name][empty] = np.nan
    add(reasons, empty, "a hue bin holds no sample under a reference this warm; judge Rf and Ra")
    return reasons


def _distance_notes(notes: Texts, delta_c: Array) -> Texts:
    far = delta_c > cie13_3.CHROMATICITY_TOLERANCE
    noted = notes.copy()
    for i in np.flatnonzero(far):
        text = (
            f"chromaticity is {delta_c[i]:.4f} from the reference, above 0.0054 (limit from memory): "
            "Ra and Ri mean less"
        )
        noted[i] = f"{noted[i]}; {text}" if noted[i] else text
    return noted
