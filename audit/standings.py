"""Standings of documents (standings.csv): which of them bear on a verdict, and how far their defaults widen."""

from __future__ import annotations

import csv
from importlib import resources
from typing import NamedTuple


class Standing(NamedTuple):
    """factor multiplies default uncertainties; bears: whether such a document supports or contradicts."""

    factor: float
    bears: bool


def _load() -> dict[str, Standing]:
    text = resources.files("audit").joinpath("standings.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {row["standing"]: Standing(float(row["factor"] or "nan"), row["bears"] == "yes") for row in rows}


STANDINGS = _load()
NOT_STATED = "not stated"
