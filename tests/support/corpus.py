"""The corpus of small files in tests/ingest/files: what was read of each beside what expected.csv says.

A line of expected.csv is one outcome:

- `read`: a reading (`what` is its quantity, in the register's unit), a `spectrum` ("400-470 nm; 8 values; sum
  3.91") or a document's fact (laboratory, method ...). The readings and spectra of a file are listed completely:
  one more is wrong, one less is silent. `state` is the operating point, with `U` for a stated expanded
  uncertainty and `definition`; `place` is the cell of the file as it was handed in, with its sheet.
- `asked`, `listed`, `refused`: an observation speaks; `what` is text that it quotes, `value` its rule (several
  rules with a bar between them are equally good), `place` the cell that it names.
- `read or asked`: a reading that a careful reader may hold back with a question.

Adding a case is adding a file and its lines.
"""

from __future__ import annotations

import csv
import functools
import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd

from audit.model import POINT_FIELDS, Document
from audit.plugin_manager import Plugins, load
from audit.reading import read
from audit.recorder import Recorder
from audit.tables import Grid, Tables

FOLDER = Path(__file__).parents[1] / "ingest" / "files"
TABLE = FOLDER / "expected.csv"
DIGITS = 9  # of a value that are compared: the conversion of a unit may round the rest
CELL = re.compile(r"\b([A-Z]{1,3})(\d+)\b")
ROW = re.compile(r"\brow (\d+)")
WHOLE = (
    "document_not_read", "document_not_recognised", "reader_failed", "sheet_not_read", "rows_not_read", "no_header",
    "quantity_unknown", "headings_unknown", "state_conflict",
)  # fmt: skip


class Line(NamedTuple):
    """A line of expected.csv."""

    file: str
    outcome: str
    what: str
    value: str
    unit: str
    state: str
    place: str
    note: str


class Item(NamedTuple):
    """A reading, a spectrum or a document's fact, as both sides are compared."""

    what: str
    value: str
    state: tuple[tuple[str, str], ...]
    place: str


@dataclass(frozen=True)
class Found:
    """What was read of one file."""

    items: tuple[Item, ...]
    facts: tuple[Item, ...]
    observations: Sequence[Mapping[str, str]]
    spectral_units: Mapping[str, str]


@dataclass
class Tally:
    """The lines of one file by what became of them; `wrong` and `silent` are for a person to read."""

    right: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    listed: list[str] = field(default_factory=list)
    held_back: list[str] = field(default_factory=list)  # should have been read, but was asked or refused
    wrong: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)

    @property
    def counts(self) -> Counter[str]:
        return Counter({name: len(lines) for name, lines in vars(self).items()})

    @property
    def faults(self) -> list[str]:
        """The lines that turned out otherwise than expected."""
        kinds = ("wrong", "silent", "held_back")
        return [f"{kind.replace('_', ' ')}: {line}" for kind in kinds for line in getattr(self, kind)]


def expected(table: Path = TABLE) -> dict[str, list[Line]]:
    """Return file name -> its lines of expected.csv."""
    lines: dict[str, list[Line]] = {}
    with table.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            lines.setdefault(row["file"], []).append(Line(**row))
    return lines


@functools.cache
def plugins() -> Plugins:
    """Return the readers and quantities that an audit has."""
    return load(())


def document(path: Path) -> Document:
    """Return a file as a document of its own folder."""
    raw = path.read_bytes()
    return Document(path.name, path, len(raw), hashlib.sha256(raw).hexdigest())


def found(path: Path) -> Found:
    """Read one file as an audit does and return what came out."""
    return found_in(document(path))


def found_in(paper: Document) -> Found:
    """Read one document, with the answers that it carries, and return what came out."""
    notes = Recorder(Document.nowhere())
    parts = read([paper], plugins().readers, plugins().quantities(), notes)
    tables = parts[0].tables if parts else Tables()
    for part in parts:
        notes.adopt(part.tables["observations"].to_dict("records") if "observations" in part.tables else ())
    items = [*_readings(tables), *_spectra(tables)]
    units = {item.place: str(unit) for item, unit in zip(_spectra(tables), _column(tables, "unit"), strict=True)}
    return Found(tuple(items), tuple(_facts(tables)), notes.observations, units)


def _column(tables: Tables, name: str) -> list[Any]:
    return tables["spectra"][name].tolist() if "spectra" in tables else []


def _joined(tables: Tables, name: str) -> Iterable[Mapping[str, Any]]:
    """Yield the rows of a table with their point and place."""
    if name not in tables:
        return
    rows = tables[name].merge(tables["places"].drop(columns="document_id"), on="place_id", suffixes=("", "_place"))
    if "point_id" in rows:
        rows = rows.merge(tables["points"], on="point_id")
    yield from rows.to_dict("records")


def _place(row: Mapping[str, Any]) -> str:
    return f"{row['sheet']}!{row['cell']}" if row["sheet"] else str(row["cell"])


def _state(row: Mapping[str, Any]) -> dict[str, str]:
    stated = {name: row[name] for name in POINT_FIELDS if not pd.isna(row[name]) and row[name] != ""}
    return {name: f"{value:.{DIGITS}g}" if isinstance(value, float) else value for name, value in stated.items()}


def _readings(tables: Tables) -> Iterable[Item]:
    for row in _joined(tables, "readings"):
        state = _state(row)
        if not pd.isna(row["expanded_uncertainty"]):
            state["U"] = f"{row['expanded_uncertainty']:.{DIGITS}g}"
        if row["definition"]:
            state["definition"] = row["definition"]
        yield Item(row["quantity"], f"{row['value']:.{DIGITS}g}", tuple(sorted(state.items())), _place(row))


def _spectra(tables: Tables) -> Iterable[Item]:
    for row in _joined(tables, "spectra"):
        grid: Grid = tables.grids[row["grid_id"]]
        nm, power = grid.wavelength_nm, grid.power[row["row"]]
        text = f"{nm[0]:g}-{nm[-1]:g} nm; {nm.size} values; sum {power.sum():.6g}"
        yield Item("spectrum", text, tuple(sorted(_state(row).items())), _place(row))


def _facts(tables: Tables) -> Iterable[Item]:
    for row in _joined(tables, "metadata"):
        yield Item(row["key"], row["value"], (), _place(row))


def item(line: Line) -> Item:
    """Return a line that was to be read as it is compared."""
    known = plugins().quantities()
    value = f"{float(line.value):.{DIGITS}g}" if line.what in known else line.value
    parts = (part.partition("=") for part in line.state.split("; ") if part)
    state = {name: _number(text) if name == "U" or POINT_FIELDS.get(name) == "float64" else text
             for name, _, text in parts}  # fmt: skip
    return Item(line.what, value, tuple(sorted(state.items())), line.place)


def _number(text: str) -> str:
    return f"{float(text):.{DIGITS}g}"


def compare(lines: Sequence[Line], outcome: Found) -> Tally:
    """Return what became of each line, and what was read besides."""
    tally, left = Tally(), Counter(outcome.items)
    missing: list[tuple[Line, Item]] = []
    for line in lines:
        if line.outcome not in ("read", "read or asked"):
            _speech(tally, line, outcome)
            continue
        wanted = item(line)
        if wanted in outcome.facts or left[wanted] > 0:
            left[wanted] -= 1
            tally.right.append(_shown(wanted))
            if wanted.what == "spectrum" and line.unit != outcome.spectral_units[wanted.place]:
                tally.wrong.append(f"{_shown(wanted)} in '{outcome.spectral_units[wanted.place]}', not '{line.unit}'")
        else:
            missing.append((line, wanted))
    extra = [one for one, count in left.items() for _ in range(count)]
    for line, wanted in missing:
        twin = next((one for one in extra if one.place == wanted.place and one.what == wanted.what), None)
        if twin:
            extra.remove(twin)
            tally.wrong.append(f"{_shown(twin)}, expected {_shown(wanted)}")
        elif _spoken_of(wanted, outcome.observations):
            (tally.asked if line.outcome == "read or asked" else tally.held_back).append(_shown(wanted))
        else:
            tally.silent.append(_shown(wanted))
    tally.wrong += [f"{_shown(one)} isn't expected" for one in extra]
    return tally


def _shown(one: Item) -> str:
    state = "".join(f"; {name} {text}" for name, text in one.state)
    return f"{one.what} {one.value} at {one.place or '(no cell)'}{state}"


def _speech(tally: Tally, line: Line, outcome: Found) -> None:
    """Look for the observation that a line expects; a question needs a remedy, a refusal is major."""
    rules = line.value.split("|")
    for row in outcome.observations:
        text = " ".join((row["message"], row["ask"], row["subject"], row["document"], row["place"]))
        tiers = {"asked": ("major", "minor"), "refused": ("major",)}.get(line.outcome, ("major", "minor", "note"))
        place = line.place.rpartition("!")[2] or row["place"]
        if row["rule"] in rules and line.what in text and place in text and row["tier"] in tiers and row["ask"]:
            (tally.listed if line.outcome == "listed" else tally.asked).append(f"{line.what}: {row['message']}")
            return
    tally.silent.append(f"nothing of {line.value} ({line.outcome}) says '{line.what}' {line.place}".rstrip())


def _spoken_of(wanted: Item, observations: Iterable[Mapping[str, str]]) -> bool:
    """Whether an observation that asks for something names the item's row or column, or the file as a whole."""
    own = CELL.search(wanted.place.rpartition("!")[2])
    for row in observations:
        if row["tier"] == "note":
            continue
        places = f"{row['place']} {row['message']}"  # a list of columns names each one's place
        cells = CELL.findall(places)
        rows = {number for _, number in cells} | set(ROW.findall(places))
        if row["rule"] in WHOLE or not own or own[1] in {letters for letters, _ in cells} or own[2] in rows:
            return True
    return False
