"""From the tables of single documents to the evidence of one audit: renumbered, validated, products named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from audit import wording
from audit.model import COLUMNS, POINT_FIELDS, Document, Evidence, Quantity
from audit.products import name_products
from audit.recorder import PLACE, Recorder, place_text
from audit.register import possible_range
from audit.standings import NOT_STATED, STANDINGS
from audit.tables import Grid, Rows, Tables, frame
from audit.validate import MAX_EXAMPLES, validate

if TYPE_CHECKING:
    from pandas import DataFrame

IDS = {
    "metadata": ("place_id",),
    "points": ("point_id",),
    "places": ("place_id",),
    "readings": ("point_id", "place_id"),
    "spectra": ("spectrum_id", "point_id", "place_id"),
}
OWNERS = {"points": "point_id", "places": "place_id", "spectra": "spectrum_id"}


@dataclass(frozen=True)
class Part:
    """One document with the reader that read it and what it gave."""

    document: Document
    reader: str
    tables: Tables


def gather(
    parts: Sequence[Part], products: Mapping[str, str], known: Mapping[str, Quantity], notes: Recorder
) -> Evidence:
    """Return the evidence of all parts. `products`: product key -> name, as the claims name them.

    Rows that break a schema are observed in `notes` and left out, with all that refers to them.
    """
    try:
        tables, grids = _concatenate(parts)
    except (KeyError, TypeError, ValueError, OverflowError):  # one reader's rows don't fit their columns: which?
        parts = [part for part in parts if _fits(part, notes)]
        tables, grids = _concatenate(parts)
    tables["documents"] = _documents(parts, tables["metadata"])
    tables["readings"]["quantity"] = tables["readings"]["quantity"].astype(pd.CategoricalDtype(list(known)))
    for table in ("documents", "metadata", "places", "points", "readings", "spectra", "observations"):
        tables[table] = _sound(table, tables, notes)
    tables["readings"] = _possible(tables, known, notes)
    _ask_standing(tables, notes)
    points, how = name_products(tables, products, notes)
    tables["documents"]["product"] = how.reindex(tables["documents"]["document_id"]).fillna("").to_numpy()
    tables["points"], renumbered = _unique_points(points)
    for table in ("readings", "spectra"):
        tables[table]["point_id"] = tables[table]["point_id"].map(renumbered).astype("int64")
    return Evidence(**tables, grids=grids)


def _fits(part: Part, notes: Recorder) -> bool:
    """Whether the rows of one document fit the columns of their tables; a reader's defect costs its document alone."""
    try:
        _concatenate([part])
    except Exception as error:
        notes.observe(
            "reader_failed",
            "major",
            f"'{part.document.path}': the reader '{part.reader}' gave rows that fit no table"
            f" ({type(error).__name__}: {error})",
            ask="report this with the file, or hand the data in as a table with one heading row",
            subject=part.document.path,
            document=part.document.path,
            by="gather",
        )
        return False
    return True


class _SharedGrids:
    """Spectra of all documents with the same wavelengths on one grid, so that a kernel gets them in one call."""

    def __init__(self) -> None:
        self._number: dict[bytes, int] = {}
        self._blocks: list[list[Grid]] = []

    def take(self, grids: Mapping[int, Grid]) -> dict[int, tuple[int, int]]:
        """Add a document's grids; return its grid_id -> shared grid_id and first row there."""
        taken = {}
        for grid_id, grid in grids.items():
            number = self._number.setdefault(grid.wavelength_nm.tobytes(), len(self._blocks))
            if number == len(self._blocks):
                self._blocks.append([])
            taken[grid_id] = (number, sum(len(block.power) for block in self._blocks[number]))
            self._blocks[number].append(grid)
        return taken

    def grids(self) -> dict[int, Grid]:
        return {
            number: Grid(blocks[0].wavelength_nm, np.vstack([block.power for block in blocks]))
            for number, blocks in enumerate(self._blocks)
        }


def _concatenate(parts: Sequence[Part]) -> tuple[dict[str, DataFrame], dict[int, Grid]]:
    """Return the tables of all parts one below the other, every id counted on, and their grids."""
    names = [name for name in COLUMNS if name != "documents"]
    kept: dict[str, list[Any]] = {name: [part.tables.data.get(name, []) for part in parts] for name in names}
    lengths = {name: [len(table) for table in tables] for name, tables in kept.items()}
    first = {column: np.cumsum([0, *lengths[name]])[:-1] for name, column in OWNERS.items()}  # id, of each part
    shared = _SharedGrids()
    taken = [shared.take(part.tables.grids) for part in parts]
    frames = {name: _joined(name, tables) for name, tables in kept.items()}
    for name, columns in IDS.items():
        for column in columns:
            frames[name][column] += np.repeat(first[column], lengths[name])
    for name in ("metadata", "places"):
        frames[name]["document_id"] = np.repeat(np.arange(len(parts)), lengths[name])
    spectra = frames["spectra"]
    owners = np.repeat(np.arange(len(parts)), lengths["spectra"])
    grids = [taken[part][grid_id] for part, grid_id in zip(owners, spectra["grid_id"], strict=True)]
    spectra["grid_id"] = np.array([number for number, _ in grids], dtype=np.int64)
    spectra["row"] += np.array([row for _, row in grids], dtype=np.int64)
    return frames, shared.grids()


def _joined(name: str, tables: Sequence[list[tuple[Any, ...]] | Rows | DataFrame]) -> DataFrame:
    """Return one table of all documents, in their order."""
    rows = Rows(name)
    for table in tables:
        rows.take(table)
    return rows.frame()


def _documents(parts: Sequence[Part], metadata: DataFrame) -> DataFrame:
    said: dict[tuple[int, str], str] = {}
    for number, key, value in metadata[["document_id", "key", "value"]].itertuples(index=False, name=None):
        said.setdefault((number, key), value)
    tests = _tests(parts, said)
    rows = []
    for number, part in enumerate(parts):
        document = part.document
        rows.append(
            (
                number,
                document.path,
                document.sha256,
                part.reader,
                said.get((number, "standing"), NOT_STATED),
                "",
                tests[number],
                said.get((number, "sample_origin"), ""),
            )
        )
    return frame("documents", rows)


def _ask_standing(tables: Mapping[str, DataFrame], notes: Recorder) -> None:
    """Name the documents whose readings weigh less than they might, because they don't say what they are."""
    used = tables["places"].loc[
        tables["places"]["place_id"].isin(pd.concat([tables["readings"]["place_id"], tables["spectra"]["place_id"]])),
        "document_id",
    ]
    documents = tables["documents"]
    silent = documents[documents["document_id"].isin(used) & (documents["standing"] == NOT_STATED)]["path"].tolist()
    if not silent:
        return
    shown = ", ".join(silent[:MAX_EXAMPLES]) + (
        f" and {len(silent) - MAX_EXAMPLES} more" if silent[MAX_EXAMPLES:] else ""
    )
    known = ", ".join(word for word in STANDINGS if word != NOT_STATED)
    notes.observe(
        "standing_not_stated",
        "note",
        f"{len(silent)} document(s) don't say what they are ({shown}): larger default uncertainties are assumed",
        ask=f"add a line or a column 'standing' with one of these: {known}",
        subject="standing",
        document=silent[0] if len(silent) == 1 else "",
        by="gather",
    )


def _tests(parts: Sequence[Part], said: Mapping[tuple[int, str], str]) -> list[str]:
    """Return what test each document reports: one report number of one laboratory, else the document by itself."""
    reports = [(said.get((n, "report_number"), ""), said.get((n, "laboratory"), "")) for n in range(len(parts))]
    laboratories: dict[str, set[str]] = {}
    for report, laboratory in reports:
        laboratories.setdefault(report, set()).update({laboratory} - {""})
    shared = {report for report, own in laboratories.items() if len(own) > 1}
    return [
        (f"{report} | {laboratory}" if report in shared else report) or part.document.path
        for part, (report, laboratory) in zip(parts, reports, strict=True)
    ]


def _sound(table: str, tables: Mapping[str, DataFrame], notes: Recorder) -> DataFrame:
    """Return the rows of a table that fit its schema and refer only to rows that stand."""
    rows = tables[table]
    for column in ("place_id", "point_id"):
        owner = "places" if column == "place_id" else "points"
        if column in rows and table != owner:
            rows = rows[rows[column].isin(tables[owner][column])]
    rows, faults = validate(table, rows)
    for column, rule, indices in faults:
        values = tables[table].loc[indices[:MAX_EXAMPLES], column].tolist()
        document, places = _where(table, indices, tables)
        notes.observe(
            f"{table}_out_of_bounds",
            "major",
            f"{len(indices)} row(s) of {table} left out: {column} must be {rule}, but is "
            + ", ".join(repr(value) for value in values)
            + (" ..." if len(indices) > MAX_EXAMPLES else ""),
            ask=f"correct {column} in the document, or ask the sender what was meant",
            subject=column,
            document=document,
            place=places,
            by="schemas",
        )
    return rows.reset_index(drop=True)


def _possible(tables: Mapping[str, DataFrame], known: Mapping[str, Quantity], notes: Recorder) -> DataFrame:
    """Return the readings that their quantity can have; the others are observed at their cells and left out."""
    readings = tables["readings"]
    names = readings["quantity"]
    ranges = np.array([possible_range(known[name]) for name in names.cat.categories])
    least, most = ranges[names.cat.codes].T
    value = readings["value"].to_numpy()
    impossible = (value < least) | (value > most)
    for name in sorted(set(names[impossible])):
        rows = readings.index[impossible & (names == name)]
        document, places = _where("readings", rows, tables)
        quantity = known[name]
        notes.observe(
            "impossible_value",
            "major",
            f"{wording.counted(len(rows), 'value')} of {quantity.title} left out: "
            + wording.listing([wording.plain(each) for each in value[rows][:MAX_EXAMPLES]])
            + f"; it lies from {wording.plain(quantity.least)} to {wording.plain(quantity.most)}",
            ask="a misprint, another quantity or another unit? Correct the document, or ask the sender",
            subject=name,
            document=document,
            place=places,
            by="gather",
        )
    return readings[~impossible].reset_index(drop=True)


def _where(table: str, indices: Sequence[int], tables: Mapping[str, DataFrame]) -> tuple[str, str]:
    """Return the documents and places of some rows of a table, as far as they have any."""
    rows = tables[table].loc[list(indices)]
    if table == "points":
        rows = tables["readings"][tables["readings"]["point_id"].isin(rows["point_id"])]
    if "place_id" not in rows:
        return "", ""
    places = tables["places"].set_index("place_id")
    places = places.loc[places.index.intersection(rows["place_id"].unique()[:MAX_EXAMPLES])]
    names = tables["documents"].set_index("document_id")["path"]
    documents = dict.fromkeys(names.get(number, "") for number in places["document_id"])
    if table == "points":
        places = places.assign(cell="")  # the cells are those of the readings, not of the field at fault
    where = dict.fromkeys(place_text(*place) for place in places[list(PLACE)].itertuples(index=False))
    return ", ".join(documents), "; ".join(where)


def _unique_points(points: DataFrame) -> tuple[DataFrame, pd.Series]:
    """Return each operating point once, in an order that depends on its fields alone, and old id -> new id."""
    fields = list(POINT_FIELDS)
    unique = points[fields].drop_duplicates().sort_values(fields, ignore_index=True)
    unique.insert(0, "point_id", np.arange(len(unique)))
    new = points[["point_id", *fields]].rename(columns={"point_id": "old"}).merge(unique, on=fields, how="left")
    return unique, new.set_index("old")["point_id"]
