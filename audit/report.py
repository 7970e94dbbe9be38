"""What the writers are handed: inputs, claims and readings, gathered once from the evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from audit import wording
from audit.book import Book, stated_fields
from audit.case import Case
from audit.figures import Figure
from audit.model import Document, Report
from audit.recorder import place_text

if TYPE_CHECKING:
    from audit.second_opinion import SecondOpinion

# What is shown of what documents say about themselves.
TOLD = ("laboratory", "report_number", "method", "accreditation", "date_tested", "date_issued")


def build_report(
    folder: str,
    version: str,
    case: Case,
    documents: Sequence[Document],
    roles: Mapping[str, str],
    findings: Sequence[Mapping[str, Any]],
    observations: Sequence[Mapping[str, Any]],
    decisions: Sequence[Mapping[str, Any]],
    figures: Sequence[Figure],
    opinion: SecondOpinion | None = None,
) -> Report:
    """Return what the writers show of an audit. `documents`: all handed in; `roles`: what some of them are by path."""
    told = [
        {
            "claim_id": claim.claim_id,
            "product": claim.product,
            "quantity": claim.quantity.name,
            "sentence": wording.claim_sentence(claim),
            "source": claim.source,
            "note": claim.note,
        }
        for claim in case.claims
    ]
    return Report(
        folder=folder,
        tool={
            "name": "claimlight",
            "version": version,
            "rule": case.rule.name,
            "confidence": f"{case.rule.confidence:g}",
        },
        rule=case.rule,
        inputs=_inputs(case, documents, roles),
        claims=told,
        findings=findings,
        observations=observations,
        readings=readings(case.book, opinion),
        spectra=spectra(case.book),
        methods=tuple(dict.fromkeys(case.methods.values())),
        missing=() if case.claims else missing(case.book, [path for path, role in roles.items() if role == "claims"]),
        decisions=decisions,
        figures=figures,
        second_opinion=opinion.told() if opinion else None,
        memory=memory(findings),
    )


def _inputs(case: Case, documents: Sequence[Document], roles: Mapping[str, str]) -> list[dict[str, str]]:
    """Return every file handed in with its hash and what it was used as."""
    used = set(case.book.document.tolist())
    read = {row.path: row for row in case.evidence.documents.itertuples()}
    told = case.evidence.metadata.groupby(["document_id", "key"], sort=False)["value"].agg(", ".join).to_dict()
    inputs = []
    for document in documents:
        row = read.get(document.path)
        role = roles.get(document.path) or ("evidence" if row and row.document_id in used else "not read")
        inputs.append(
            {
                "path": document.path,
                "sha256": document.sha256,
                "reader": row.reader if row else "",
                "standing": row.standing if row and role == "evidence" else "",
                "product": row.product if row else "",
                "role": role,
            }
            | {key: told.get((row.document_id, key), "") if row else "" for key in TOLD}
        )
    return inputs


def memory(findings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return what findings rest on that no source confirmed, in the words of their methods, and the claims it bears on.

    A method is a list of statements with semicolons between; those that rest on memory say so (MEMORY).
    """
    claims: dict[str, list[str]] = {}
    for finding in findings:
        said = [part for part in finding["method"].split("; ") if "MEMORY" in part]
        if (finding["criterion"] or {}).get("status") == "MEMORY":
            said.append("the limit, which therefore decides nothing")
        for part in dict.fromkeys(said):
            claims.setdefault(part, []).append(finding["claim_id"])
    return [{"statement": part, "claims": ids} for part, ids in claims.items()]


def readings(book: Book, opinion: SecondOpinion | None = None) -> list[dict[str, Any]]:
    """Return every reading with its operating point and place, in the order of product, point, quantity and place.

    `library_value` is what another library gives, and `library_difference` how far that is from ours; both None where
    it gives nothing or wasn't asked.
    """
    table = book.evidence.readings
    names = table["quantity"].to_numpy(object)
    keys = ["product", "point_id", "quantity", "origin", "place_id"]
    product = book.field("product", np.arange(len(table)))
    order = table.assign(product=product).sort_values(keys, kind="stable").index
    columns = (names, table["value"], table["expanded_uncertainty"], table["origin"], table["definition"])
    rows = zip(*(np.asarray(column, object)[order] for column in (product, *columns)), order, strict=True)
    other = np.full(len(table), np.nan) if opinion is None else opinion.value
    found = []
    for owner, name, value, expanded, origin, definition, row in rows:
        document, place, raw = book.where(row)
        sheet, cell = book.cell(row)
        found.append(
            {
                "product": owner,
                "quantity": name,
                "value": value,
                "unit": book.known[name].unit,
                "expanded_uncertainty": None if expanded != expanded else expanded,
                "origin": origin,
                "definition": definition,
                "operating_point": {key: value for key, value in book.stated(row).items() if key != "product"},
                "document": document,
                "place": place,
                "sheet": sheet,
                "cell": cell,
                "raw": raw,
                "library_value": None if other[row] != other[row] else float(other[row]),
                "library_difference": None if other[row] != other[row] else float(other[row] - value),
            }
        )
    return found


def spectra(book: Book) -> list[dict[str, Any]]:
    """Return every spectrum with its operating point and place; its numbers are row `row` of its `grid`."""
    evidence = book.evidence
    used = (
        (evidence.points, evidence.spectra["point_id"]),
        (evidence.places, evidence.spectra["place_id"]),
    )
    points, places = (
        table[table.iloc[:, 0].isin(ids)].set_index(table.columns[0]).to_dict("index") for table, ids in used
    )
    paths = evidence.documents.set_index("document_id")["path"].to_dict()
    found = []
    for each in evidence.spectra.itertuples():
        place, point = places[each.place_id], stated_fields(points[each.point_id])
        found.append(
            {
                "product": point.pop("product", ""),
                "operating_point": point,
                "kind": each.kind,
                "unit": each.unit,
                "document": paths[place["document_id"]],
                "place": place_text(place["sheet"], place["row"], place["cell"]),
                "sheet": place["sheet"],
                "cell": place["cell"],
                "grid": evidence.grids[each.grid_id],
                "row": each.row,
            }
        )
    return found


def missing(book: Book, sheets: list[str]) -> list[str]:
    """Return what a person should add before claims on these documents can be judged; `sheets`: the claims sheets."""
    evidence = book.evidence
    wanted = [
        f"claims: no row of {wording.listing(sheets)} is one that can be judged; write a row for each claim"
        if sheets
        else "a claims sheet (`claimlight new` makes one): without it there is nothing to judge"
    ]
    if not len(evidence.readings):
        wanted.append("documents with measured values: none was read")
    used = evidence.documents[evidence.documents["document_id"].isin(book.document)]
    unstated = used.loc[used["standing"] == "not stated", "path"].tolist()
    if unstated:
        wanted.append(f"the standing (accredited report, maker's laboratory ...) of {wording.listing(unstated)}")
    if not len(evidence.spectra):
        wanted.append("spectra: chromaticity and colour rendition can't be recomputed without them")
    if len(evidence.readings) and not evidence.readings["expanded_uncertainty"].notna().any():
        wanted.append("expanded uncertainties (k = 2): no document states one, so defaults are assumed")
    return wanted
