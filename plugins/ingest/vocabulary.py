"""The lines of vocabulary.csv: how headings are spelled, and what each spelling means."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from importlib import resources
from typing import NamedTuple


class Entry(NamedTuple):
    """One meaning of a spelling, with the unit ("fc", "percent ...") and the kind of control that it says itself."""

    target: str
    unit: str = ""
    kind: str = ""


def vocabulary_lines() -> Iterator[tuple[str, Entry]]:
    """Yield (spelling, Entry) for every line of vocabulary.csv; `R{1..15}` stands for fifteen spellings."""
    text = resources.files("plugins.ingest").joinpath("vocabulary.csv").read_text(encoding="utf-8")
    for line in csv.DictReader(line for line in text.splitlines() if not line.startswith("#")):
        spelling, unit = line["spelling"], line["unit"]
        target, _, kind = line["target"].partition(": ")
        family = re.search(r"\{(\d+)\.\.(\d+)\}", spelling)
        if not family:
            yield spelling, Entry(target, unit, kind)
            continue
        for number in range(int(family[1]), int(family[2]) + 1):
            yield spelling.replace(family[0], str(number)), Entry(target.replace("{}", str(number)), unit)
