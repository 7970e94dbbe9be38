"""Spectra in sheets: a row or a column per spectrum, on the wavelengths that the sheet gives, nothing resampled."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from audit.answers import answer_line, question
from audit.numbers import mark_evidence
from audit.sheets import Sheet, address, text_of
from plugins.ingest.cells import as_numbers, first_bad
from plugins.ingest.marks import NAMES, Evidence, evidence_of
from plugins.ingest.notebook import Notebook, where

WAVELENGTH = re.compile(r"(?:nm|wl|λ|[^\W\d][^\d]*[\s_])?\s*(\d{3,4}(?:[.,]\d+)?)\s*[\[(]?(?:nm)?[\])]?", re.IGNORECASE)
LONGEST = 60  # characters: a longer text names no wavelength
FEWEST = 5  # fewer numbers in a row are no spectrum
SHORTEST_NM, LONGEST_NM, WIDEST_STEP_NM = 200.0, 2500.0, 25.0
SORT = "sort the wavelengths so that each stands once and is larger than the one before"


def wavelength_of(heading: Any) -> float | None:
    """Return the wavelength in nm that a heading or key names (380, 380nm, nm380, Spectral Data 380[nm])."""
    return _wavelength(text_of(heading))


@functools.lru_cache(maxsize=16_384)  # one heading is looked at from many sides
def _wavelength(text: str) -> float | None:
    match = WAVELENGTH.fullmatch(text) if len(text) <= LONGEST else None
    return float(match[1].replace(",", ".")) if match else None


def wavelength_run(headings: Sequence[Any]) -> dict[int, float]:
    """Return index -> wavelength of the headings that together look like a spectrum's wavelengths, else nothing.

    Bare numbers such as hours (500, 1000, 1500) are told apart by their steps.
    """
    found = {index: value for index, heading in enumerate(headings) if (value := wavelength_of(heading)) is not None}
    values = np.array(list(found.values()))
    if len(values) < FEWEST or values.min() < SHORTEST_NM or values.max() > LONGEST_NM:
        return {}
    return found if np.median(np.abs(np.diff(values))) <= WIDEST_STEP_NM else {}


def misorder(wavelengths: Sequence[float] | np.ndarray) -> int:
    """Return the index of the first wavelength that isn't larger than the one before, 0 if all are."""
    falls = np.flatnonzero(np.diff(np.asarray(wavelengths, dtype=np.float64)) <= 0)
    return int(falls[0]) + 1 if falls.size else 0


class Spectra:
    """Collects the spectra of one sheet that share their wavelengths; sound ones are kept in one block."""

    def __init__(
        self,
        notebook: Notebook,
        sheet: Sheet,
        wavelengths: Sequence[float] | np.ndarray,
        unit: str = "",
        named: bool = True,
        proven: Callable[[], str] = str,
        comma: bool = False,
    ):
        """`named`: a heading says that these are values of light. `proven` returns the mark that the table proves.

        `comma`: the wavelengths have a decimal comma, so that 1.234 beside them may be a thousand.
        """
        self.notebook, self.sheet, self.unit, self.named, self.proven = notebook, sheet, unit, named, proven
        self.comma = comma
        self.wavelengths = np.asarray(wavelengths, dtype=np.float64)
        self._power: list[np.ndarray] = []
        self._points: list[int] = []
        self._places: list[int] = []

    def add(self, cells: Sequence[Any], at: Callable[[int], tuple[int, int]], point: int) -> None:
        """Keep one spectrum; `at` gives row and column (from 0) of the cell with an index."""
        answer = self.notebook.recorder.document.answers.get("decimal", "")
        power = as_numbers(cells, answer)
        if power is None and not answer:
            power = as_numbers(cells, self.proven())
        if not answer and self._is_open(cells, power):
            self._ask_mark(cells, where(self.sheet, *at(0)))
        elif power is None:
            bad = first_bad(cells)
            why = f"it has cells without a number (the first is '{text_of(cells[bad])[:40]}')"
            self._refuse(why, where(self.sheet, *at(bad)))
        elif not power.any():
            self._refuse("all its values are zero: no light was measured", where(self.sheet, *at(0)))
        else:
            raw = ", ".join(text_of(cell) for cell in cells[:3]) + ", ..."
            first, last = self.sheet.at(*at(0)), self.sheet.at(*at(len(cells) - 1))
            cell = f"{address(*first)}:{address(*last)}"
            place = self.notebook.recorder.place(sheet=self.sheet.name, row=first[0] + 1, cell=cell, raw=raw)
            self._places.append(place)
            self._power.append(power)
            self._points.append(point)
            if answer and any(mark_evidence(cell).open for cell in cells if isinstance(cell, str)):
                self.notebook.answer(answer_line("decimal", answer), self.sheet, *at(0), text_of(cells[0]))

    def _is_open(self, cells: Sequence[Any], power: np.ndarray | None) -> bool:
        """Whether the decimal mark of these cells is for a person to say."""
        if power is None:
            marked = any(mark_evidence(cell).open for cell in cells)
            return marked and any(as_numbers(cells, decimal) is not None for decimal in NAMES)
        seen = evidence_of(cells) if self.comma else Evidence()
        return "." in seen.open and not seen.proven

    def _ask_mark(self, cells: Sequence[Any], place: str) -> None:
        cell = next(cell for cell in cells if mark_evidence(cell).open)
        self.notebook.alike(
            "spectrum_not_read",
            "major",
            "spectra aren't used, because nothing says which mark is the decimal one in their values",
            f"'{text_of(cell)[:40]}'",
            question(self.notebook.recorder.document, [answer_line("decimal", decimal) for decimal in NAMES]),
            subject="decimal mark",
            place=place,
        )

    def _refuse(self, why: str, place: str) -> None:
        self.notebook.remark(
            "spectrum_not_read",
            "major",
            f"a spectrum isn't used: {why}",
            "send its values again, one number per wavelength",
            subject="spectrum",
            place=place,
        )

    def _doubt(self) -> None:
        """Say that values from 0 to 1 of which nothing states what they are may be no light at all."""
        power = np.vstack(self._power)
        if not self.unit and not self.named and power.min() >= 0 and power.max() <= 1:
            message = "nothing says what its spectra are: they are taken as power of light, not as reflectance"
            ask = "if they are reflectances or transmittances, take the file out: no light source has them"
            place = where(self.sheet, 0)
            self.notebook.remark("spectrum_kind", "minor", message, ask, subject="spectrum", place=place)

    def keep(self) -> None:
        """Hand the sound spectra to the recorder."""
        if self._power:
            self._doubt()
            self.notebook.recorder.spectra(
                self.wavelengths, np.vstack(self._power), self._points, self._places, unit=self.unit
            )


def refuse_order(notebook: Notebook, sheet: Sheet, before: tuple[int, int], at: tuple[int, int]) -> None:
    """Remark that wavelengths are out of order or doubled, with the two cells."""
    first, second = (text_of(sheet.cell(*place)) for place in (before, at))
    notebook.remark(
        "spectrum_not_read",
        "major",
        f"its spectra aren't read: the wavelength '{second}' follows '{first}', so the wavelengths are out of order"
        " or doubled",
        SORT,
        subject="wavelengths",
        place=f"{where(sheet, *before)}; {where(sheet, *at)}",
    )
