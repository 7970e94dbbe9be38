"""findings.json: its keys, its numbers, and the same bytes for the same audit."""

from __future__ import annotations

import dataclasses
import json
import math

import numpy as np

from audit.model import Report
from plugins.outputs import findings_json

# The public contract: these keys, in this order, whatever else stands between them.
PROMISED = [
    "product",
    "claim_id",
    "quantity",
    "operating_point",
    "verdict",
    "side",
    "reasons",
    "value",
    "unit",
    "limit",
    "expanded_uncertainty",
    "probability",
    "margin",
    "statistic",
    "definition",
    "method",
    "evidence",
    "message",
    "ask",
]

OBSERVATION = ["rule", "tier", "subject", "document", "place", "message", "ask", "made_by", "identity", "decisions"]
EVIDENCE = [
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
]


def written(report: Report) -> dict:
    return json.loads(findings_json.write(report).decode("utf-8"))


def test_keys_stand_in_order(report):
    data = written(report)
    assert list(data) == ["tool", "inputs", "findings", "observations", "decisions", "memory", "second_opinion"]
    assert all(list(each) == ["path", "sha256"] for each in data["inputs"])
    for finding in data["findings"]:
        assert list(finding) == list(findings_json.FINDING_KEYS)
        assert [key for key in finding if key in PROMISED] == PROMISED
        assert all(list(each) == EVIDENCE for each in finding["evidence"])
    for observation in data["observations"]:
        assert list(observation) == OBSERVATION


def test_every_finding_and_observation_is_there_with_its_words(report):
    data = written(report)
    assert data["findings"] == list(report.findings)
    assert sorted(each["message"] for each in data["observations"]) == sorted(
        each["message"] for each in report.observations
    )
    assert [each["tier"] for each in data["observations"]] == ["refer", "major", "minor", "note"]


def test_order_of_the_engine_changes_no_byte(report):
    turned = dataclasses.replace(
        report,
        inputs=report.inputs[::-1],
        findings=report.findings[::-1],
        observations=report.observations[::-1],
    )
    assert findings_json.write(turned) == findings_json.write(report)


def test_claims_count_as_people_do(make_report, make_finding):
    ids = ["C10", "C2", "c1", "C2b", "9" * 5000]
    report = make_report(findings=[make_finding(claim_id=each) for each in ids])
    assert [each["claim_id"] for each in written(report)["findings"]] == [
        "9" * 5000,
        "c1",
        "C2",
        "C2b",
        "C10",
    ]


def test_numbers_that_are_none_become_null(make_report, make_finding):
    finding = make_finding(value=math.nan, margin=math.inf, margin_u=-math.inf, limit=[math.nan, 3.0])
    (found,) = written(make_report(findings=[finding]))["findings"]
    assert (found["value"], found["margin"], found["margin_u"], found["limit"]) == (
        None,
        None,
        None,
        [None, 3.0],
    )


def test_numbers_have_ten_significant_digits(make_report, make_finding):
    finding = make_finding(
        value=0.1 + 0.2, margin=-1 / 3, limit=np.float64(2e-5) / 3, points=np.int64(25), probability=1.0
    )
    text = findings_json.write(make_report(findings=[finding])).decode()
    for line in ('"value": 0.3,', '"margin": -0.3333333333,', '"limit": 6.666666667e-06,', '"points": 25,'):
        assert line in text


def test_file_is_text_that_is_safe_to_print(make_report, make_finding):
    names = "Ria\u202eotled \x1b[31m\x9b2J \udcff \u2028 Möwe 🪶"
    report = make_report(findings=[make_finding(product=names)])
    data = findings_json.write(report)
    assert data.endswith(b"}\n")
    assert b"\r" not in data
    text = data.decode("utf-8")
    assert not set(text) & set("\u202e\x1b\x9b\u2028\x7f")
    assert "Möwe 🪶" in text
    assert json.loads(text)["findings"][0]["product"] == names


def test_report_without_claims(without_claims):
    assert written(without_claims)["findings"] == []


def test_decisions_stand_beside_the_untouched_results(report, decided):
    data, plain = written(decided), written(report)
    assert data["decisions"] == list(decided.decisions)
    assert [len(each["decisions"]) for each in data["findings"]] == [0, 1, 1, 0, 0]
    assert data["findings"][2]["if_corrected"]["verdict"] == "supported"
    assert [each["decisions"] for each in data["observations"] if each["tier"] == "refer"] == [[decided.decisions[2]]]
    for with_it, without in zip(data["findings"], plain["findings"], strict=True):
        assert {**with_it, "decisions": [], "if_corrected": None} == without
