"""One column of a table, or one key of an export: heading, meaning, cells, and its cells as numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from audit.answers import answer_line
from plugins.ingest.cells import Number, has_value, number, resolution
from plugins.ingest.headings import Meaning
from plugins.ingest.marks import Mark


@dataclass(eq=False)
class Column:
    """One column or key: where it stands, what it means, and its cells as numbers where it holds numbers."""

    index: int
    heading: str
    meaning: Meaning
    cells: list[Any] = field(default_factory=list)
    numbers: list[Number] = field(default_factory=list)
    resolution: float = math.nan
    mark: Mark = field(default_factory=Mark)
    asked: tuple[str, ...] = ()  # lines of columns.toml that settle it, where they aren't about its heading

    def parse(self) -> None:
        """Read the cells as numbers in the house unit of the meaning."""
        known: dict[tuple[type, Any], Number] = {}  # settings repeat; 1, 1.0 and TRUE are equal, not alike
        self.numbers = []
        for cell in self.cells:
            found = known.get((type(cell), cell))
            if found is None:
                found = known[type(cell), cell] = number(cell, self.meaning, self.mark.decimal)
            self.numbers.append(found)
        self.resolution = resolution(self.cells, self.numbers, self.meaning)

    @property
    def values(self) -> list[float]:
        """The values of the cells that have one, in the house unit."""
        return [found.value for found in self.numbers if not math.isnan(found.value)]

    @property
    def example(self) -> Any:
        """The first cell with a value, None where all are blank."""
        return next((cell for cell in self.cells if has_value(cell)), None)

    @property
    def lines(self) -> tuple[str, ...]:
        """The lines of columns.toml of which one settles what this column means."""
        heading = self.heading or f"column {self.index + 1}"
        return self.asked or tuple(answer_line(heading, choice) for choice in self.meaning.choices)
