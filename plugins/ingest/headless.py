"""A table without headings: nothing in it is used until a person says what its columns are.

The question carries a guess for each column, the reason for it, and the lines to add to columns.toml.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np

from audit.answers import answer_line, question
from audit.numbers import parse_number
from audit.sheets import Sheet, text_of
from plugins.ingest.blocks import Block, Region
from plugins.ingest.cells import decimal_comma
from plugins.ingest.kinds import LONG, TABLE, numeric
from plugins.ingest.labels import identifies
from plugins.ingest.notebook import Notebook, where
from plugins.ingest.spectra import LONGEST_NM, SHORTEST_NM, WIDEST_STEP_NM

FEWEST_ROWS, MOST_SHOWN = 2, 12
WITHOUT_HEADING = re.compile(r"column (\d+)", re.IGNORECASE)
# Ranges within which the values of a quantity usually lie, the narrowest first; common practice, only for guesses.
USUAL = (
    ("power_factor", 0.5, 1.0, "values just below 1"),
    ("duv", -0.02, 0.02, "small values around zero"),
    ("x", 0.25, 0.55, "values of a chromaticity coordinate"),
    ("ra", 50.0, 100.0, "values below 100"),
    ("cct", 1800.0, 7500.0, "values of a colour temperature in kelvin"),
    ("luminous_flux", 100.0, 100_000.0, "values of a flux"),
)


def headless_rows(sheet: Sheet) -> list[int]:
    """Return the rows of a table without headings, none where the sheet holds anything else."""
    rows = [row for row, cells in enumerate(sheet.rows) if any(map(text_of, cells))]
    while rows and sum(map(bool, map(text_of, sheet.rows[rows[0]]))) < 2:
        rows.pop(0)  # a title
    if len(rows) < FEWEST_ROWS:
        return []
    width = len(sheet.rows[rows[0]])
    counts = [sum(map(numeric, sheet.rows[row])) for row in rows[:50]]
    even = all(len(sheet.rows[row]) == width for row in rows[:50])
    return rows if even and width >= 2 and min(counts) >= max(1, width / 2) else []


def headless_region(notebook: Notebook, sheet: Sheet, rows: Sequence[int]) -> tuple[Region, Block] | None:
    """Return the table under the headings that columns.toml gives its columns; None and a question without any."""
    answers = notebook.recorder.document.answers
    width = len(sheet.rows[rows[0]])
    named = {int(found[1]) for key in answers if (found := WITHOUT_HEADING.fullmatch(key.strip()))}
    if not named & set(range(1, width + 1)):
        _ask(notebook, sheet, rows, width)
        return None
    heads = [f"column {number}" for number in range(1, width + 1)]
    spectral = any("wavelength" in answers[key] for key in answers if WITHOUT_HEADING.fullmatch(key.strip()))
    origin = np.array([rows[0], *rows])
    block = Block(
        sheet.name, [list(heads), *(sheet.rows[row] for row in rows)], (), lambda at, columns: (origin[at], columns)
    )
    return Region(LONG if spectral else TABLE, rows[0], [rows[0]], list(rows), 0, width), block


def _ask(notebook: Notebook, sheet: Sheet, rows: Sequence[int], width: int) -> None:
    guesses = [_guess(sheet.column(at, list(rows)), at) for at in range(width)]
    if guesses[0][0] == "spd_wavelength":
        guesses[1:] = [("spd_value", "a value for each wavelength")] * (width - 1)
    alike = list(_runs(guesses))
    shown = alike[:MOST_SHOWN]
    lines = [answer_line(_columns(at, len(same)), *same[0]) for at, same in shown]
    more = f" (and so on, to column {width})" if len(alike) > MOST_SHOWN else ""
    notebook.remark(
        "no_header",
        "major",
        f"the table has no headings, so none of its {len(rows)} rows is used; what its columns are can only be guessed:"
        f" {', '.join(f'{_columns(at, len(same))} {same[0][0]}' for at, same in shown)}{more}",
        question(notebook.recorder.document, lines) + "\neach line is a guess: correct what is wrong",
        subject=sheet.name,
        place=where(sheet, rows[0]),
    )


def _runs(guesses: Sequence[tuple[str, str]]) -> Iterator[tuple[int, list[tuple[str, str]]]]:
    """Yield the first column and the guesses of neighbouring columns that are alike."""
    at = 0
    for _, same in groupby(guesses):
        run = list(same)
        yield at, run
        at += len(run)


def _columns(first: int, count: int) -> str:
    """Return what columns.toml calls neighbouring columns."""
    return f"column {first + 1}" if count == 1 else f"columns {first + 1} to {first + count}"


def _guess(cells: Sequence[object], at: int) -> tuple[str, str]:
    """Return what a column may be, and why."""
    texts = [text_of(cell) for cell in cells if text_of(cell)]
    decimal = "," if decimal_comma(texts) else "."
    values = np.array([found.value for text in texts if (found := parse_number(text, decimal))])
    if not texts or values.size < len(texts) / 2:
        words = "texts like a unit's name" if any(map(identifies, texts)) else "texts"
        return ("serial", words) if at == 0 else ("ignore", words)
    steps = np.diff(values)
    if at == 0 and values.size > 2 and (steps > 0).all():
        wavelengths = values[0] >= SHORTEST_NM and values[-1] <= LONGEST_NM and np.median(steps) <= WIDEST_STEP_NM
        if wavelengths:
            return "spd_wavelength", f"numbers rising from {values[0]:g} to {values[-1]:g} in steps of {steps[0]:g}"
        if values[0] in (0, 1) and set(steps) == {1.0}:
            return "serial", "the numbers 1, 2, 3"
        if values[0] == 0 or (values % 100 == 0).all():
            return "hours", f"round numbers rising from {values[0]:g} to {values[-1]:g}"
    for meaning, low, high, why in USUAL:
        if ((values >= low) & (values <= high)).all():
            return meaning, f"{why}, {values.min():g} to {values.max():g}"
    return "ignore", f"numbers from {values.min():g} to {values.max():g}"
