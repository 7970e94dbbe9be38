"""The terminal: a line per claim, 80 columns, no colour that nobody asked for, no escape from a document."""

from __future__ import annotations

import dataclasses
import io
import unicodedata
from types import SimpleNamespace

import pytest

from audit.habit import HABITS
from audit.model import Report
from plugins.outputs import terminal

LONG = "Long-eared reed warbler linear luminaire with an exceptionally patient name " * 4


def shown(report: Report) -> str:
    return terminal.write(report).decode("utf-8")


def columns(line: str) -> int:
    """Return the columns that a line takes (Unicode Standard Annex 11: wide and fullwidth take two)."""
    return sum(2 if unicodedata.east_asian_width(each) in "WF" else not unicodedata.combining(each) for each in line)


@pytest.fixture
def tty(monkeypatch):
    """Make standard output look like a terminal of 100 columns with colours."""

    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(terminal, "sys", SimpleNamespace(stdout=Screen()))
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)


def test_a_line_per_claim_with_verdict_side_value_limit_margin(report):
    lines = shown(report).splitlines()
    for words in (
        "G01 supported meets Ra 92.4 ≥ 90 +1.6",
        "G02 contradicted misses Duv -0.00471 -0.003 to 0.003 -0.00122",
        "G04 overreaching meets Φv 1248 ≥ 1200 lm",
        "G05 unevidenced PstLM ≤ 1",
    ):
        assert words.split() in [line.split() for line in lines]


def test_counts_follow_worst_first(report):
    text = " ".join(shown(report).split())
    assert "5 claims: 1 contradicted, 1 overreaching, 1 inconclusive, 1 unevidenced, 1 supported" in text


def test_urgent_observations_have_place_and_remedy(report):
    text = " ".join(shown(report).split())
    for each in report.observations:
        assert each["message"] in text
        if each["tier"] in ("refer", "major"):
            assert f"{each['message']} {each['document']}, {each['place']} {each['ask']}" in text
    assert text.index("refer:") < text.index("major:") < text.index("1 minor question, 1 note:")


def test_long_lists_are_cut_and_say_so(make_report, report):
    def remarks(tier: str) -> list[dict[str, str]]:
        return [{**report.observations[1], "tier": tier, "message": f"remark {n}"} for n in range(30)]

    text = shown(make_report(observations=remarks("major") + remarks("note")))
    assert text.count("major: remark") == 20
    assert "10 more in the report" in text
    assert text.count("note: remark") == 5
    assert "25 more in the report" in text


def test_without_claims_it_says_what_was_read_and_what_is_missing(without_claims):
    text = " ".join(shown(without_claims).split())
    assert "No claims to judge. 40 values read or computed from 2 documents." in text
    for each in without_claims.missing:
        assert f"missing: {each}" in text


@pytest.mark.parametrize("name", [LONG, LONG.replace(" ", "-"), "塩性湿地の美術館" * 20, "x" * 500])
def test_nothing_is_wider_than_80_columns(make_report, make_finding, report, name):
    finding = make_finding(claim_id=name, product=name, quantity=name, unit=name, claim=name, value=1.5e9)
    observations = [{**report.observations[1], "message": name, "document": name, "place": name, "ask": name}]
    text = shown(make_report(findings=[finding], observations=observations))
    assert max(map(columns, text.splitlines())) <= 80
    assert "supported" in text


HOSTILE = "\x1b[2J\x9b\x07\r\u202e"  # clears the screen, rings, returns, turns the text round
FORBIDDEN = set("\x1b\x9b\x07\r\u202e")


@pytest.mark.parametrize("field", ["claim_id", "product", "quantity", "unit"])
def test_no_escape_from_a_claim_reaches_the_terminal(make_report, make_finding, field):
    text = shown(make_report(findings=[make_finding(**{field: HOSTILE})], observations=[]))
    assert not set(text) & FORBIDDEN
    assert "\\u001b[" in text


def test_no_escape_from_a_document_reaches_the_terminal(make_report, report):
    hostile = {"message": HOSTILE + "[bold]", "document": HOSTILE, "place": HOSTILE, "ask": HOSTILE}
    observations = [{**each, **hostile} for each in report.observations]
    text = shown(make_report(claims=[], findings=[], observations=observations, missing=[HOSTILE]))
    assert not set(text) & FORBIDDEN
    # Four texts each of refer and major, three each of minor and note, and what is missing.
    assert text.count("\\u001b[2J") == 15
    assert "[bold]" in text


def test_long_names_leave_room_for_the_figures(make_report, make_finding):
    figures = {"value": -12345.678, "limit": [-999.25, 999.25], "relation": "within", "margin": -87654.3}
    finding = make_finding(claim_id=LONG, quantity=LONG, unit=LONG, expanded_uncertainty=0.05, **figures)
    line = shown(make_report(findings=[finding])).splitlines()[2]
    assert line.startswith("Long-ea… supported meets Long")
    assert " -12345.678 -999.25 to 999.25 -87654.300 " in line


def test_plain_and_80_columns_where_nobody_looks(make_report, report, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    text = shown(make_report(observations=[{**report.observations[1], "message": LONG}]))
    assert "\x1b" not in text
    assert 60 < max(map(columns, text.splitlines())) <= 80


def test_coloured_on_a_terminal(report, tty):
    assert "\x1b[1;31mcontradicted" in shown(report)


@pytest.mark.parametrize(("name", "value"), [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_plain_where_colour_is_unwanted(report, tty, monkeypatch, name, value):
    monkeypatch.setenv(name, value)
    assert "\x1b" not in shown(report)


def test_as_wide_as_the_terminal(make_report, report, tty, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    observations = [{**report.observations[1], "message": LONG}]
    widest = max(map(columns, shown(make_report(observations=observations)).splitlines()))
    assert 80 < widest <= 100


def test_same_report_same_text(report):
    assert terminal.write(report) == terminal.write(report)


def test_decisions_are_a_mark_with_a_count(report, decided):
    lines = shown(decided).splitlines()
    heading = next(line for line in lines if line.startswith("claim"))
    at = heading.index("*")
    marked = {line.split()[0]: line[at:] for line in lines if line.startswith("G0")}
    assert marked == {"G01": "", "G02": "1", "G03": "1", "G04": "", "G05": ""}
    assert "* 4 decisions beside the results, which stay as computed: 3 fit, 1 stale" in lines
    assert max(map(columns, lines)) <= 80
    counts = next(line for line in lines if line.startswith("5 claims"))
    assert counts in shown(report)


def test_no_escape_from_a_decision_reaches_the_terminal(make_report, make_finding, decided):
    hostile = {**decided.decisions[0], "person": HOSTILE, "reason": HOSTILE, "identity": HOSTILE}
    finding = make_finding(decisions=[hostile] * 12_345)
    text = shown(make_report(findings=[finding], observations=[], decisions=[hostile] * 12_345))
    assert not set(text) & FORBIDDEN
    assert "12345 fit" in text
    assert text.splitlines()[2].endswith(" +")


@pytest.mark.parametrize("width", [60, 80, 120])
def test_every_width_keeps_claim_verdict_quantity_value_limit_and_unit(report, tty, monkeypatch, width):
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", str(width))
    lines = shown(report).splitlines()
    assert max(map(columns, lines)) <= width
    heading = next(line for line in lines if line.startswith("claim"))
    assert {"claim", "verdict", "quantity", "value", "limit", "unit"} <= set(heading.split())
    assert ("margin" in heading) == (width >= 80)  # what gives way first where it is narrow
    flux = next(line for line in lines if line.startswith("G04")).split()
    assert [each for each in flux if each != "meets"] == ["G04", "overreaching", "Φv", "1248", "≥", "1200", "lm"]


@pytest.mark.parametrize(("habit", "value"), [("eu", "-0,00471"), ("us", "-0.00471")])
def test_figures_have_the_reader_s_decimal_mark(report, habit, value):
    said = shown(dataclasses.replace(report, habit=HABITS[habit]))
    assert value in said
    assert ("-0,003 to 0,003" in said) == (habit == "eu")
    # What is said of documents is quoted from them and stays.
    assert "“11,8 W?”" in said
