"""Documents written on the spot, read by the reader that recognises them best."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest

from audit.model import Document
from audit.tables import Tables, frame
from plugins.ingest import companion, spectral_xml, tabular

READERS = (*tabular.register_readers(), *companion.register_readers(), *spectral_xml.register_readers())


def document(path: Path) -> Document:
    raw = path.read_bytes()
    return Document(path.name, path, len(raw), hashlib.sha256(raw).hexdigest())


def confidence(path: Path) -> dict[str, float]:
    """Return how sure each reader is of a file."""
    found, head = document(path), path.read_bytes()[:65_536]
    return {reader.name: reader.recognise(found, head) for reader in READERS}


class Read:
    """What a reader gave for one document, with short ways to what tests ask for."""

    def __init__(self, path: Path):
        self.confidence = confidence(path)
        self.reader = max(READERS, key=lambda reader: self.confidence[reader.name])
        self.tables: Tables = self.reader.read(document(path))
        self.grids = self.tables.grids

    def __getitem__(self, table: str) -> pd.DataFrame:
        return self.tables[table] if table in self.tables else frame(table, ())

    @property
    def values(self) -> dict[str, list[float]]:
        """Quantity -> values, in the order of the document."""
        readings = self["readings"]
        names = dict.fromkeys(readings["quantity"])
        return {str(name): readings.loc[readings["quantity"] == name, "value"].tolist() for name in names}

    @property
    def observed(self) -> dict[str, str]:
        """Rule -> tier of the observations."""
        return dict(zip(self["observations"]["rule"], self["observations"]["tier"], strict=True))

    def observation(self, rule: str) -> Any:
        """Return the only observation of this rule."""
        (found,) = self["observations"][self["observations"]["rule"] == rule].itertuples()
        return found

    def cells(self, table: str = "readings") -> list[str]:
        """Return the cell of every row of a table that has places."""
        return self[table].merge(self["places"], on="place_id")["cell"].tolist()


@pytest.fixture
def confidence_of() -> Callable[[Path], dict[str, float]]:
    """Return the function that asks every reader how sure it is of a file."""
    return confidence


@pytest.fixture
def read_path() -> Callable[[Path], Read]:
    """Return the function that reads a file where it stands."""
    return Read


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Read]:
    """Return a function that writes text (or bytes) to a file of this name and reads it."""

    def reader(content: str | bytes, name: str = "table.csv") -> Read:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return Read(path)

    return reader


@pytest.fixture
def read_workbook(tmp_path: Path) -> Callable[..., Read]:
    """Return a function that writes sheets (name -> rows) to an XLSX file and reads it."""

    def reader(sheets: dict[str, Sequence[Sequence[Any]]], formats: dict[tuple[str, str], str] | None = None) -> Read:
        book = openpyxl.Workbook()
        book.remove(book.active)
        for name, rows in sheets.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(list(row))
        for (name, cell), number_format in (formats or {}).items():
            book[name][cell].number_format = number_format
        path = tmp_path / "book.xlsx"
        book.save(path)
        return Read(path)

    return reader
