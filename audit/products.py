"""Which product a document is about: what it says itself, else the only one claimed, else its folder or file name."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping

import pandas as pd

from audit import wording
from audit.claims import product_key
from audit.recorder import Recorder

ONLY_PRODUCT = "the claims sheet's only product"
BY_NAME = "named by its folder or file name"


def name_products(
    tables: Mapping[str, pd.DataFrame], products: Mapping[str, str], notes: Recorder
) -> tuple[pd.DataFrame, pd.Series]:
    """Return the points with every product named as the claims name it, and how, per document_id.

    `products`: product key -> name, as the claims name them. What can't be settled is asked in `notes`.
    """
    points = tables["points"].copy()
    document_of = _documents_of(tables)
    paths = tables["documents"].set_index("document_id")["path"]
    how: dict[int, str] = {}
    blank = points["product"] == ""
    for number in sorted(set(document_of[blank]) - {-1}):
        here = blank & (document_of == number)
        named = set(points.loc[document_of == number, "product"]) - {""}
        name, how[number] = ("", "") if named else _product_of(paths[number], products)
        if name:
            points.loc[here, "product"] = name
            notes.observe(
                "product_taken",
                "note",
                f"'{paths[number]}' names no product: taken to be about '{name}', {how[number]}",
                subject=paths[number],
                document=paths[number],
                by="products",
            )
        elif products:
            _ask_for_product(paths[number], named, int(here.sum()), products, notes)
    _ask_about_strangers(points, document_of, paths, products, notes)
    for column in ("product", "used_in"):
        names = {name: products.get(product_key(name), name) for name in points[column].unique()}
        points[column] = points[column].map(names).astype("str")
    return points, pd.Series(how, dtype="str")


def _documents_of(tables: Mapping[str, pd.DataFrame]) -> pd.Series:
    """The document of each point, by the places of its readings and spectra; -1 where it has none."""
    owner = pd.concat([tables["readings"][["point_id", "place_id"]], tables["spectra"][["point_id", "place_id"]]])
    owner = owner.merge(tables["places"][["place_id", "document_id"]], on="place_id").drop_duplicates("point_id")
    return tables["points"]["point_id"].map(owner.set_index("point_id")["document_id"]).fillna(-1).astype("int64")


def _product_of(path: str, products: Mapping[str, str]) -> tuple[str, str]:
    """Return the product that a document which names none is about, and how that is known."""
    if len(products) == 1:
        return next(iter(products.values())), ONLY_PRODUCT
    found = {key for part in path.split("/") for key in _runs_of_words(part) if key in products}
    longest = max(map(len, found), default=0)  # "Dune 2 spectra.csv" is about Dune 2, not Dune
    best = [key for key in found if len(key) == longest]
    return (products[best[0]], BY_NAME) if len(best) == 1 else ("", "")


def _runs_of_words(text: str) -> set[str]:
    """Return the product keys of all runs of whole words: "imported" doesn't name a product "Port"."""
    words = re.findall(r"[^\W_]+", text)
    return {product_key("".join(words[i:j])) for i in range(len(words)) for j in range(i + 1, len(words) + 1)}


def _ask_for_product(path: str, named: set[str], count: int, products: Mapping[str, str], notes: Recorder) -> None:
    message = (
        f"{wording.counted(count, 'operating point')} of '{path}' name no product, others name "
        f"{wording.listing(sorted(named))}: they bear on none"
        if named
        else f"'{path}' names no product, and the claims are about {len(products)}: it bears on none"
    )
    notes.observe(
        "product_not_named",
        "major",
        message,
        ask="add a column 'product' and fill it in every row, or put the file into a folder named after its product",
        subject=path,
        document=path,
        by="products",
    )


def _ask_about_strangers(
    points: pd.DataFrame, document_of: pd.Series, paths: pd.Series, products: Mapping[str, str], notes: Recorder
) -> None:
    """Observe products that no claim is about; one that is spelled almost like a claimed one is asked about."""
    if not products:
        return
    for name in sorted(set(points["product"]) - {""}):
        own = points["product"] == name
        if product_key(name) in products or points.loc[own, "used_in"].map(product_key).isin(products).any():
            continue
        close = difflib.get_close_matches(product_key(name), products, n=1, cutoff=0.75)
        notes.observe(
            "product_without_claims",
            "major" if close else "note",
            f"the documents name a product '{name}', on which no claim is made",
            ask=f"is '{products[close[0]]}' meant? Then spell it alike" if close else "",
            subject=name,
            document=", ".join(paths[number] for number in sorted(set(document_of[own])) if number >= 0),
            by="products",
        )
