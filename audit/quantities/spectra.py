"""Which spectra can be judged: one screening for chromaticity and rendition.

A spectrum that can't be used is refused with its reason and the others go on; a remark stands beside a
value that is still returned. The limits of negative power, of ends and of steps are settings of this
project, chosen by us; none of them is taken from a standard.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .grid import COARSEST_STEP_NM, FINE_STEP_NM, Wavelengths, check
from .tables import WAVELENGTH_NM, Array

#: One text for each spectrum, "" where there is nothing to say.
Texts = NDArray[np.object_]
Mask = NDArray[np.bool_]

#: Power below this share of the peak refuses the spectrum; smaller negative power is kept and remarked.
NEGATIVE_LIMIT = -0.01
#: Rendition extends a truncated spectrum with zero if its ends are below this share of the peak.
END_LIMIT = 0.005
#: In steps above 5 nm a spectrum is refused if a sample stands this share of the peak above the mean of its
#: two neighbours: what a band of 18 nm full width at half maximum does on a 10 nm grid.
NARROW_BAND = 0.57
#: Spectra with a higher peak, or one below the reciprocal, are scaled before anything is summed.
LARGEST_PEAK = 1e100
#: Largest change of x or y that holding the end values over the missing part may make (see chromaticity).
CHROMATICITY_LIMIT = 5e-4


@dataclass(frozen=True)
class Spectra:
    """Spectra cut to 360 nm to 830 nm: power (n, m), their grid, peak (n,), and reasons and notes (n,)."""

    power: Array
    grid: Wavelengths
    peak: Array
    refused: Texts
    notes: Texts

    @property
    def ends(self) -> Array:
        """Power at the first and the last wavelength, (n, 2)."""
        return self.power[:, [0, -1]]


def texts(n: int) -> Texts:
    """``n`` empty texts."""
    return np.full(n, "", dtype=object)


def add(to: Texts, where: Mask, text: str) -> None:
    """Append ``text`` to the texts ``to`` (n,) that ``where`` (n,) selects, parted by a semicolon."""
    for i in np.flatnonzero(where):
        to[i] = f"{to[i]}; {text}" if to[i] else text


def only_used(fields: dict[str, Texts]) -> dict[str, Texts]:
    """The entries that hold at least one text."""
    return {name: column for name, column in fields.items() if (column != "").any()}


def screen(power: ArrayLike, wavelength_nm: ArrayLike) -> Spectra:
    """Check ``power`` (n, m), or (m,) for one spectrum, in any unit per nm, on ``wavelength_nm`` (m,) in nm.

    Raises ValueError for a faulty grid or shape; a faulty spectrum is refused on its own.
    """
    grid = check(wavelength_nm)
    values = np.atleast_2d(np.asarray(power, dtype=np.float64))
    if values.ndim != 2 or values.shape[1] != grid.nm.size:
        raise ValueError(
            f"power has shape {np.shape(power)} for {grid.nm.size} wavelengths; "
            "give a row for each spectrum and a column for each wavelength"
        )
    first, stop = np.searchsorted(grid.nm, [WAVELENGTH_NM[0], WAVELENGTH_NM[-1] + 1e-9])
    if stop - first < 4:
        refused = texts(len(values))
        refused[:] = "fewer than four wavelengths lie between 360 nm and 830 nm; measure the visible range"
        return Spectra(values, grid, np.full(len(values), np.nan), refused, texts(len(values)))
    values, grid = values[:, first:stop], Wavelengths(grid.nm[first:stop])
    lowest, peak = values.min(axis=1), values.max(axis=1)
    extreme = (peak > LARGEST_PEAK) & np.isfinite(peak) | (peak > 0) & (peak < 1 / LARGEST_PEAK)
    if extreme.any():  # colour doesn't depend on the scale, but sums of such numbers overflow
        scale = np.where(extreme, peak, 1.0)
        values, lowest, peak = values / scale[:, None], lowest / scale, peak / scale
    spectra = Spectra(values, grid, peak, _refusals(lowest, peak, grid), _notes(lowest, peak, grid))
    if grid.step_nm > FINE_STEP_NM:
        text = f"steps of {grid.step_nm:g} nm can't carry this spectrum's narrow bands; ask for 5 nm or finer"
        add(spectra.refused, (spectra.refused == "") & is_narrow_band(spectra), text)
    return spectra


def is_narrow_band(spectra: Spectra) -> Mask:
    """Whether each spectrum, (n,), shows a band too narrow for its grid's steps.

    On a 10 nm grid the triphosphor illuminant FL11 moves by 0.014 in u'v' and its R9 from 25 to 5, while the
    nine CIE LED illuminants (largest share 0.53) move by 0.0002 and 0.15 in Rf: only the first is refused.
    A line that falls between two samples leaves no trace; so the remark "coarse" stands beside every result.
    """
    p = spectra.power
    above = p[:, 1:-1] - (p[:, :-2] + p[:, 2:]) / 2
    return np.asarray(above.max(axis=1) > NARROW_BAND * spectra.peak)


def _refusals(lowest: Array, peak: Array, grid: Wavelengths) -> Texts:
    refused = texts(len(peak))
    finite = np.isfinite(lowest) & np.isfinite(peak)
    dark = finite & (lowest == 0) & (peak == 0)
    never_positive = finite & (peak <= 0) & ~dark
    negative = finite & (peak > 0) & (lowest < NEGATIVE_LIMIT * peak)
    add(refused, ~finite, "power holds NaN or infinite values; give a number for every wavelength")
    add(
        refused,
        dark,
        "power is zero at every wavelength; check that the lamp was lit and the rows are complete",
    )
    add(refused, never_positive, "power is nowhere positive; check the sign and the dark signal")
    for i in np.flatnonzero(negative):
        share = 100 * lowest[i] / peak[i]
        refused[i] = f"power falls to {share:.1f} % of the peak, the limit is -1 %; check dark signal and stray light"
    if grid.step_nm > COARSEST_STEP_NM:
        coarse = f"steps of {grid.step_nm:g} nm are wider than {COARSEST_STEP_NM:g} nm; ask for the finer spectrum"
        add(refused, np.ones(len(peak), dtype=bool), coarse)
    return refused


def _notes(lowest: Array, peak: Array, grid: Wavelengths) -> Texts:
    notes = texts(len(peak))
    every = np.ones(len(peak), dtype=bool)
    small = (lowest < 0) & (lowest >= NEGATIVE_LIMIT * peak)
    add(notes, small, "negative power of at most 1 % of the peak kept")
    if grid.truncated:
        text = f"spectrum from {grid.nm[0]:g} nm to {grid.nm[-1]:g} nm extended with zero to 380 nm and 780 nm"
        add(notes, every, text)
    if grid.step_nm > FINE_STEP_NM:
        add(notes, every, f"coarse: steps of {grid.step_nm:g} nm, wider than {FINE_STEP_NM:g} nm")
    return notes
