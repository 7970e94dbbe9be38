"""Case tables: rows of evidence, a claim, and the verdict expected, as a TOML file per check.

    [[case]]
    name = "five units above the limit"
    standing = "accredited report"
    claim = { quantity = "ra", relation = "at_least", value = 90 }
    evidence = [{ serial = "1", ra = 93.0 }, { serial = "2", ra = 92.5, "U(ra)" = 0.8 }]
    verdict = "supported"
    reasons = []

A row of evidence names operating-point fields and quantities; `U(quantity)` is its expanded uncertainty,
`document` the test that it stands in. A row with lists is a series: `hours` and, for each of them, a value per
quantity, of `units` units that are all alike (serials 1, 2 ...), or a list of values for each unit, nan where it
wasn't read. Optional: `side`, `rule`, `confidence`; `metadata`: what every document says of itself, as
{ sample_origin = "drawn at random" }.
"""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from audit.book import Book
from audit.case import Case
from audit.claim_cells import CONDITION_FIELDS
from audit.claims import Claim, product_key
from audit.engine import derive
from audit.gather import Part, gather
from audit.judge import judge_claim
from audit.model import NUMBER, POINT_FIELDS, Document, Evidence, Rule
from audit.numbers import Span, parse_span
from audit.plugin_manager import Plugins, load
from audit.recorder import Recorder

PRODUCT = "Case luminaire"
TURN = {"hue_setting_deg": 360.0}


def cases(path: Path) -> list[dict[str, Any]]:
    """Return the cases of a TOML file."""
    return list(tomllib.loads(path.read_text(encoding="utf-8"))["case"])


def run_case(case: Mapping[str, Any], plugins: Iterable[Path] = ()) -> dict[str, Any]:
    """Return the finding on a case's claim."""
    found = _loaded(tuple(plugins))
    known, notes = found.quantities(), Recorder(Document.nowhere())
    evidence = derive(_evidence(case, known), found, known, notes)
    if notes.observations:
        raise AssertionError(f"{case['name']}: {notes.observations[0]['message']}")
    claim = _claim(case["claim"], known)
    rule = Rule(case.get("confidence", 0.95), case.get("rule", "guarded"))
    return judge_claim(Case(evidence, Book(evidence, known), [claim], rule, known, found.assessors()), claim)


@functools.cache
def _loaded(plugins: tuple[Path, ...]) -> Plugins:
    return load(plugins)


def check_case(case: Mapping[str, Any], plugins: Iterable[Path] = ()) -> None:
    """Run a case and raise AssertionError, with the finding's own sentence, where it turns out otherwise."""
    finding = run_case(case, plugins)
    expected = {"verdict": case["verdict"], "reasons": sorted(case.get("reasons", []))}
    found = {"verdict": finding["verdict"], "reasons": sorted(finding["reasons"])}
    if "side" in case:
        expected["side"], found["side"] = case["side"], finding["side"]
    if found != expected:
        raise AssertionError(f"{case['name']}: expected {expected}, found {found}: {finding['message']}")


def _claim(fields: Mapping[str, Any], known: Mapping[str, Any]) -> Claim:
    value, value_to = fields.get("value", math.nan), fields.get("value_to", math.nan)
    lower, upper = {
        "at_least": (value, math.inf),
        "at_most": (-math.inf, value),
        "between": (value, value_to),
        "within": (value - value_to, value + value_to),
        "is": (value, value),
    }[fields["relation"]]
    conditions: dict[str, str | Span] = {
        name: (parse_span(value, TURN.get(name, 0.0)) if POINT_FIELDS[name] == NUMBER else None) or str(value)
        for name, value in fields.items()
        if name in CONDITION_FIELDS
    }
    return Claim(
        "C1",
        fields.get("product", PRODUCT),
        known[fields["quantity"]],
        fields["relation"],
        -math.inf if math.isnan(lower) else lower,
        math.inf if math.isnan(upper) else upper,
        fields.get("statistic", ""),
        fields.get("definition", ""),
        fields.get("test_object", ""),
        conditions,
        fields.get("population_percent", math.nan),
        note=fields.get("note", ""),
        limit_status=fields.get("limit_status", "stated"),
    )


def _evidence(case: Mapping[str, Any], known: Mapping[str, Any]) -> Evidence:
    documents: dict[str, Recorder] = {}
    for row in case.get("evidence", []):
        name = row.get("document", "report")
        if name not in documents:
            documents[name] = Recorder(Document(f"{name}.csv", Path(name), 1, "0" * 64))
            standing = row.get("standing", case.get("standing", "accredited report"))
            place = documents[name].place(row=1)
            documents[name].metadata("standing", standing, place)
            for key, value in case.get("metadata", {}).items():
                documents[name].metadata(key, str(value), place)
        for single in _rows(row):
            _row(documents[name], single, known)
    parts = [Part(recorder.document, "case", recorder.tables()) for recorder in documents.values()]
    return gather(parts, {product_key(PRODUCT): PRODUCT}, known, Recorder(Document.nowhere()))


def _rows(row: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield the single readings of a row of evidence: itself, or the members of a series over hours."""
    hours = row.get("hours")
    if not isinstance(hours, list):
        yield dict(row)
        return
    series = {name: value for name, value in row.items() if isinstance(value, list) and name != "hours"}
    alike = {name: value for name, value in row.items() if name not in (*series, "hours", "units")}
    of_units = {
        name: value if isinstance(value[0], list) else [value] * row.get("units", 1) for name, value in series.items()
    }
    for name, units in of_units.items():
        for number, values in enumerate(units, 1):
            for hour, value in zip(hours, values, strict=True):
                if not math.isnan(value):
                    yield {"serial": str(number)} | alike | {"hours": hour, name: value}


def _row(recorder: Recorder, row: Mapping[str, Any], known: Mapping[str, Any]) -> None:
    fields = {name: value for name, value in row.items() if name in POINT_FIELDS}
    point = recorder.point(**{"product": PRODUCT} | fields)
    for name, value in row.items():
        if name in known:
            recorder.reading(
                point,
                name,
                float(value),
                recorder.place(row=2, raw=str(value)),
                expanded_uncertainty=row.get(f"U({name})", math.nan),
                resolution=row.get("resolution", math.nan),
                definition=row.get("definition", ""),
            )
