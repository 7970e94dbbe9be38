"""Published values and light sources for the tests of the computed quantities.

``published`` reads tests/reference/colour; each table carries the source and status of every row. The
open-source library colour-science (BSD-3-Clause) lends the CIE spectra and is the live oracle.
"""

from __future__ import annotations

import csv
import warnings
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

REFERENCE = Path(__file__).parents[1] / "reference" / "colour"


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[dict[str, str]]]:
    """Rows of a table in tests/reference/colour by its name."""

    def rows(name: str) -> list[dict[str, str]]:
        with (REFERENCE / f"{name}.csv").open(encoding="utf-8") as lines:
            return list(csv.DictReader(lines))

    return rows


@pytest.fixture(scope="session")
def colour() -> ModuleType:
    """colour-science; its remarks on optional extras and on short spectra are not ours to judge."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

    return colour


@pytest.fixture(scope="session")
def spectrum(colour: ModuleType) -> Callable[[str], tuple[Any, Any]]:
    """Power and wavelengths in nm of a CIE illuminant, as published in CIE 15, in steps of 5 nm."""

    def find(name: str) -> tuple[Any, Any]:
        distribution = colour.SDS_ILLUMINANTS[name]
        return distribution.values, distribution.wavelengths

    return find


@pytest.fixture(scope="session")
def all_sources(colour: ModuleType) -> dict[str, tuple[Any, Any]]:
    """Every 5 nm spectrum of the library that spans 380 nm to 780 nm: illuminants and lamps."""
    every = {**colour.SDS_ILLUMINANTS, **colour.SDS_LIGHT_SOURCES}
    whole = {k: s for k, s in every.items() if s.shape.interval == 5 and s.shape.end >= 780}
    return {name: (np.array(s.values), np.array(s.wavelengths)) for name, s in whole.items()}
