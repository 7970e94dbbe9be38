"""One column of a table, or one key of an export: heading, meaning, cells, and its cells as numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audit.answers import answer_line
from audit.sheets import texts_of
from plugins.ingest.cells import (
    NOTHING,
    Number,
    decimals_of,
    has_value,
    may_be_fraction,
    number,
    plain_numbers,
    usual_resolution,
)
from plugins.ingest.headings import UNCERTAINTY, Meaning
from plugins.ingest.marks import Mark


@dataclass(eq=False)
class Column:
    """One column or key: where it stands, what it means, and its cells as numbers where it holds numbers.

    `value` (n,) are its numbers in the house unit of the meaning, NaN where a cell has none; `odd` what more there is
    to say of a cell, by its item. `resolution` is one unit of the last digit to which the column is printed.
    """

    index: int
    heading: str
    meaning: Meaning
    cells: list[Any] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)  # of the cells, where they are numbers
    value: np.ndarray = field(default_factory=lambda: np.empty(0))
    odd: dict[int, Number] = field(default_factory=dict)
    resolution: float = math.nan
    fractions: bool = False  # whether all values are so low that fractions may have been written for per cent
    mark: Mark = field(default_factory=Mark)
    asked: tuple[str, ...] = ()  # lines of columns.toml that settle it, where they aren't about its heading

    def parse(self) -> None:
        """Read the cells as numbers: all at once where they are plain, each different one otherwise."""
        self.texts, self.odd = texts_of(self.cells), {}
        point = self.mark.decimal == "." or not any(isinstance(cell, str) for cell in self.cells)
        printed = plain_numbers(self.texts) if point else None
        if printed is None:
            self._parse_each()
            return
        conversion, per_cent = self.meaning.conversion, self.meaning.per_cent
        self.value = printed * conversion.factor
        if self.meaning.role != UNCERTAINTY:
            self.value += conversion.offset
        self.fractions = per_cent and bool(may_be_fraction(printed[np.flatnonzero(np.nan_to_num(self.value))]).all())
        finest = 10.0 ** -decimals_of(self.texts) * abs(conversion.factor) if any(self.texts) else math.nan
        self.resolution = usual_resolution(self.cells, finest, self.meaning)

    def _parse_each(self) -> None:
        known: dict[tuple[type, Any], Number] = {}  # settings repeat; 1, 1.0 and TRUE are equal, not alike
        numbers = []
        for cell in self.cells:
            found = known.get((type(cell), cell))
            if found is None:
                found = known[type(cell), cell] = number(cell, self.meaning, self.mark.decimal)
            numbers.append(found)
        self.value = np.array([found.value for found in numbers], np.float64)
        self.odd = {item: found for item, found in enumerate(numbers) if found.odd}
        self.fractions = all(found.fraction for found in known.values() if found.value == found.value != 0)
        resolutions = [found.resolution for found in known.values() if not math.isnan(found.resolution)]
        self.resolution = usual_resolution(self.cells, min(resolutions, default=math.nan), self.meaning)

    def number(self, item: int) -> Number:
        """Return the cell of one item as a number."""
        if item in self.odd:
            return self.odd[item]
        value = float(self.value[item])
        return NOTHING if math.isnan(value) else Number(value)

    def put(self, item: int, found: Number) -> None:
        """Take something else as the number of one item."""
        self.value[item] = found.value
        if found.odd:
            self.odd[item] = found
        else:
            self.odd.pop(item, None)

    @property
    def given(self) -> np.ndarray:
        """Whether each cell (n,) holds anything, be it no number."""
        given: np.ndarray = ~np.isnan(self.value)
        given[list(self.odd)] = True
        return given

    @property
    def values(self) -> list[float]:
        """The values of the cells that have one, in the house unit."""
        values: list[float] = self.value[~np.isnan(self.value)].tolist()
        return values

    @property
    def example(self) -> Any:
        """The first cell with a value, None where all are blank."""
        return next((cell for cell in self.cells if has_value(cell)), None)

    @property
    def lines(self) -> tuple[str, ...]:
        """The lines of columns.toml of which one settles what this column means."""
        heading = self.heading or f"column {self.index + 1}"
        return self.asked or tuple(answer_line(heading, choice) for choice in self.meaning.choices)
