"""From the tables of single documents to the evidence of one audit: renumbered, validated, products named."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.claims import product_key
from audit.model import COLUMNS, POINT_FIELDS, Document, Evidence, Grid, Quantity, Tables
from audit.recorder import PLACE, Recorder, frame, place_text
from audit.standings import NOT_STATED
from audit.validate import MAX_EXAMPLES, validate

if TYPE_CHECKING:
    from pandas import DataFrame

ONLY_PRODUCT = "the claims sheet's only product"
BY_NAME = "named by its folder or file name"
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
    tables, grids = _concatenate(parts)
    tables["documents"] = _documents(parts, tables["metadata"])
    tables["readings"]["quantity"] = tables["readings"]["quantity"].astype(pd.CategoricalDtype(list(known)))
    for table in ("documents", "metadata", "places", "points", "readings", "spectra", "observations"):
        tables[table] = _sound(table, tables, notes)
    points, how = _name_products(tables, products, notes)
    tables["documents"]["product"] = how.reindex(tables["documents"]["document_id"]).fillna("").to_numpy()
    tables["points"], renumbered = _unique_points(points)
    for table in ("readings", "spectra"):
        tables[table]["point_id"] = tables[table]["point_id"].map(renumbered).astype("int64")
    return Evidence(**tables, grids=grids)


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
    collected: dict[str, list[DataFrame]] = {name: [] for name in COLUMNS if name != "documents"}
    offsets = {"point_id": 0, "place_id": 0, "spectrum_id": 0}
    shared = _SharedGrids()
    for document_id, part in enumerate(parts):
        taken = shared.take(part.tables.grids)
        used = dict(offsets)
        for name, rows in part.tables.items():
            if not len(rows):
                continue
            table = rows.assign(**{column: rows[column] + offsets[column] for column in IDS.get(name, ())})
            if "document_id" in table:
                table["document_id"] = document_id
            if name == "spectra":
                table["row"] += [taken[grid_id][1] for grid_id in table["grid_id"]]
                table["grid_id"] = [taken[grid_id][0] for grid_id in table["grid_id"]]
            if name in OWNERS:
                used[OWNERS[name]] += len(table)
            collected[name].append(table)
        offsets = used
    frames = {
        name: pd.concat(tables, ignore_index=True) if tables else frame(name, ()) for name, tables in collected.items()
    }
    return frames, shared.grids()


def _documents(parts: Sequence[Part], metadata: DataFrame) -> DataFrame:
    said = metadata.drop_duplicates(["document_id", "key"]).set_index(["document_id", "key"])["value"]
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
                said.get((number, "report_number"), "") or document.path,
                said.get((number, "sample_origin"), ""),
            )
        )
    return frame("documents", rows)


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
    where = (place_text(*place) for place in places[list(PLACE)].itertuples(index=False))
    return ", ".join(documents), "; ".join(where)


def _name_products(
    tables: Mapping[str, DataFrame], products: Mapping[str, str], notes: Recorder
) -> tuple[DataFrame, pd.Series]:
    """Return the points with every product named as the claims name it, and how, per document."""
    points = tables["points"].copy()
    owner = pd.concat([tables["readings"][["point_id", "place_id"]], tables["spectra"][["point_id", "place_id"]]])
    owner = owner.merge(tables["places"][["place_id", "document_id"]], on="place_id").drop_duplicates("point_id")
    document_of = points["point_id"].map(owner.set_index("point_id")["document_id"]).fillna(-1).astype("int64")
    paths = tables["documents"].set_index("document_id")["path"]
    how: dict[int, str] = {}
    for number in sorted(set(document_of[points["product"] == ""]) - {-1}):
        name, how[number] = _product_of(paths[number], products)
        if name:
            points.loc[(document_of == number) & (points["product"] == ""), "product"] = name
        elif products:
            notes.observe(
                "product_not_named",
                "major",
                f"'{paths[number]}' names no product, and the claims are about {len(products)}: it bears on none",
                ask="add a column 'product', or put the file into a folder named after its product",
                subject=paths[number],
                document=paths[number],
                by="gather",
            )
    spelled = points["product"].unique()
    names = {name: products.get(product_key(name), name) for name in spelled}
    for name in sorted(name for name in spelled if name and products and product_key(name) not in products):
        close = difflib.get_close_matches(product_key(name), products, n=1, cutoff=0.75)
        numbers = sorted(set(document_of[points["product"] == name]))
        used = points.loc[points["product"] == name, "used_in"].map(product_key).isin(products).any()
        if used:
            continue
        notes.observe(
            "product_without_claims",
            "minor" if close else "note",
            f"the documents name a product '{name}', on which no claim is made",
            ask=f"is '{products[close[0]]}' meant? Then spell it alike" if close else "",
            subject=name,
            document=", ".join(paths[number] for number in numbers if number >= 0),
            by="gather",
        )
    points["product"] = points["product"].map(names).astype("str")
    points["used_in"] = points["used_in"].map(lambda name: products.get(product_key(name), name)).astype("str")
    return points, pd.Series(how, dtype="str")


def _product_of(path: str, products: Mapping[str, str]) -> tuple[str, str]:
    if len(products) == 1:
        return next(iter(products.values())), ONLY_PRODUCT
    folded = [product_key(part) for part in path.split("/")]
    found = [name for key, name in products.items() if any(key in part for part in folded)]
    return (found[0], BY_NAME) if len(found) == 1 else ("", "")


def _unique_points(points: DataFrame) -> tuple[DataFrame, pd.Series]:
    """Return each operating point once, in an order that depends on its fields alone, and old id -> new id."""
    fields = list(POINT_FIELDS)
    unique = points[fields].drop_duplicates().sort_values(fields, ignore_index=True)
    unique.insert(0, "point_id", np.arange(len(unique)))
    new = points[["point_id", *fields]].rename(columns={"point_id": "old"}).merge(unique, on=fields, how="left")
    return unique, new.set_index("old")["point_id"]
