"""Findings and observations as data, the same bytes for the same audit: findings.json, and JSON lines for a pipe."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from numbers import Integral, Real
from typing import Any

from audit import Report, Writer, hookimpl
from audit.model import FINDING_COLUMNS
from plugins.outputs.text import UNSAFE, by_tier, in_order, natural

SIGNIFICANT_DIGITS = 10

INPUT_KEYS = ("path", "sha256")
FINDING_KEYS = (*FINDING_COLUMNS, "criterion", "identity", "decisions", "if_corrected")
OBSERVATION_KEYS = (
    "rule",
    "tier",
    "subject",
    "document",
    "place",
    "message",
    "ask",
    "made_by",
    "identity",
    "decisions",
)
DECISION_KEYS = (
    "identity",
    "decision",
    "value",
    "reason",
    "person",
    "date",
    "about",
    "bears_on",
    "stale",
    "document",
    "place",
)
EVIDENCE_KEYS = (
    "document",
    "place",
    "raw",
    "quantity",
    "value",
    "expanded_uncertainty",
    "uncertainty_from",
    "origin",
    "standing",
    "operating_point",
    "role",
    "identity",
)


def write(report: Report) -> bytes:
    """Return findings.json as UTF-8: inputs by path, findings by product and claim, observations by tier.

    Numbers have 10 significant digits; what is not a finite number is null. Characters that hide or reorder
    text are escaped, so that the file is safe to print. Each input, finding, observation and decision is a line.
    """
    data = {
        "tool": report.tool,
        "inputs": [_chosen(each, INPUT_KEYS) for each in sorted(report.inputs, key=lambda each: natural(each["path"]))],
        "findings": [_finding(each) for each in in_order(report.findings)],
        "observations": [_decided(each, OBSERVATION_KEYS) for each in by_tier(report.observations)],
        "decisions": [_chosen(each, DECISION_KEYS) for each in report.decisions],
        "memory": report.memory,
        "second_opinion": report.second_opinion,
    }
    parts = (f'"{key}": {_lines(value) if isinstance(value, list) else _dumped(value)}' for key, value in data.items())
    return ("{\n" + ",\n".join(parts) + "\n}\n").encode("utf-8")


def write_lines(report: Report) -> bytes:
    """Return JSON lines as UTF-8: an object per finding and then per observation, in the order of findings.json.

    Each begins with `kind` (finding or observation); the other keys are those of findings.json.
    """
    findings = [{"kind": "finding", **_finding(each)} for each in in_order(report.findings)]
    observations = [
        {"kind": "observation", **_decided(each, OBSERVATION_KEYS)} for each in by_tier(report.observations)
    ]
    return "".join(_dumped(each) + "\n" for each in findings + observations).encode("utf-8")


def _lines(items: Sequence[Any]) -> str:
    """Return a JSON array with a line for each item."""
    return "[" + ",".join(f"\n{_dumped(each)}" for each in items) + "\n]" if items else "[]"


def _dumped(value: Any) -> str:
    """Return JSON on one line: json itself has escaped the line ends inside texts."""
    text = json.dumps(_plain(value), ensure_ascii=False, allow_nan=False)
    return UNSAFE.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def _finding(finding: Mapping[str, Any]) -> dict[str, Any]:
    evidence = [_chosen(each, EVIDENCE_KEYS) for each in finding["evidence"]]
    return _decided({**finding, "evidence": evidence}, FINDING_KEYS)


def _decided(row: Mapping[str, Any], keys: Sequence[str]) -> dict[str, Any]:
    return _chosen({**row, "decisions": [_chosen(each, DECISION_KEYS) for each in row["decisions"]]}, keys)


def _chosen(row: Mapping[str, Any], keys: Sequence[str]) -> dict[str, Any]:
    return {key: row[key] for key in keys}


def _plain(value: Any) -> Any:
    """Return `value` as json's own types; whole numbers stay whole, NaN and infinities become None."""
    if type(value) is str:  # most of them are
        return value
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        number = float(value)
        return float(f"{number:.{SIGNIFICANT_DIGITS}g}") if math.isfinite(number) else None
    return str(value)


@hookimpl
def register_writers() -> Sequence[Writer]:
    return [
        Writer("findings", "findings as JSON", "findings.json", write),
        Writer("lines", "findings as JSON lines", None, write_lines),
    ]
