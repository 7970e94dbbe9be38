"""Numbers, limits and operating points in words."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.model import REASONS, TIERS, VERDICTS
from plugins.outputs import glossary, text


@pytest.mark.parametrize(
    ("value", "uncertainty", "quantity", "expected"),
    [
        (2987.21, 30.0, "cct", "2987 ± 30 K"),
        (45231.0, 1200.0, "cct", "45231 ± 1200 K"),
        (-0.0047123, 0.0006, "duv", "-0.00471 ± 0.00060"),
        (0.9312, 0.0996, "power_factor", "0.93 ± 0.10"),  # 0.0996 has the two digits 0.10
        (92.4171, None, "ra", "92"),  # the trade's resolution, from the register
        (-0.00001, None, "duv", "0.0000"),
        (12.3456, math.nan, "sheen", "12.346 gu"),
        (None, 1.0, "ra", ""),
        (math.nan, 1.0, "ra", ""),
    ],
)
def test_value_has_the_digits_of_its_uncertainty(value, uncertainty, quantity, expected):
    unit = {"cct": "K", "sheen": "gu"}.get(quantity, "1")
    item = {"value": value, "expanded_uncertainty": uncertainty, "quantity": quantity, "unit": unit}
    assert text.value_words(item) == expected


thousandths = st.integers(-5_000_000, 5_000_000).map(lambda whole: whole / 1000)


@given(value=thousandths, limit=thousandths, uncertainty=st.floats(0.001, 500.0))
def test_rounding_never_moves_a_value_over_its_limit(value, limit, uncertainty):
    printed = float(text.number(value, text.decimals_for(value, uncertainty, "ra", [limit])))
    assert (printed > limit, printed < limit) == (value > limit, value < limit)


@pytest.mark.parametrize(
    ("limit", "relation", "unit", "expected"),
    [
        (90.0, "at_least", "index", "at least 90"),
        (0.003, "at_most", "1", "at most 0.003"),
        ([2700.0, 3300.0], "between", "K", "2700 to 3300 K"),
        ((-0.003, 0.003), "within", "1", "-0.003 to 0.003"),
        (None, "at_least", "h", ""),
    ],
)
def test_limit_in_words(make_finding, limit, relation, unit, expected):
    assert text.limit_words(make_finding(limit=limit, relation=relation, unit=unit)) == expected


@pytest.mark.parametrize(("margin", "expected"), [(1.59461, "+1.6"), (-0.04, "-0.04"), (None, ""), (math.inf, "")])
def test_margin_keeps_its_sign(make_finding, margin, expected):
    assert text.margin_words(make_finding(margin=margin)) == expected


@pytest.mark.parametrize(
    ("probability", "expected"),
    [(0.9731, "97.3 %"), (1.0, "above 99.9 %"), (0.99999, "above 99.9 %"), (0.0, "below 0.1 %"), (None, "")],
)
def test_probability_is_never_printed_as_certain(probability, expected):
    assert text.probability_words(probability) == expected


@given(st.text())
def test_visible_leaves_nothing_that_hides_or_reorders(words):
    shown = text.visible(words)
    assert not any(character in shown for character in "\x00\x07\n\r\x1b\x7f\x9b\u200b\u200f\u202e\u2066\u2028\ufeff")
    assert text.visible(shown) == shown


def test_visible_names_the_character_and_leaves_ordinary_text():
    assert text.visible("a\u202eb\x1b[2J\n\ud800") == "a\\u202eb\\u001b[2J\\n\\ud800"
    ordinary = "Möwe ‘№ 5’ µW Δu′v′ 👩‍🔧 灯"
    assert text.visible(ordinary) == ordinary


@given(st.lists(st.text()))
def test_natural_orders_any_text(words):
    shuffled = random.Random(0).sample(words, len(words))
    assert [text.natural(each) for each in sorted(words, key=text.natural)] == [
        text.natural(each) for each in sorted(shuffled, key=text.natural)
    ]


def test_natural_counts():
    assert sorted(["C10", "C9", "C1b", "C1"], key=text.natural) == ["C1", "C1b", "C9", "C10"]


def test_words_are_explained_for_every_verdict_reason_and_tier():
    assert set(glossary.VERDICTS) == set(VERDICTS)
    assert tuple(glossary.REASONS) == REASONS
    assert tuple(glossary.TIERS) == TIERS


def test_counts_are_worst_first(make_finding):
    findings = [make_finding(verdict=verdict) for verdict in ("supported", "contradicted", "supported")]
    assert list(text.counts(findings).items()) == [("contradicted", 1), ("supported", 2)]


def test_what_a_document_says_of_its_test():
    told = {"report_number": "LR-0431", "laboratory": "", "method": "ANSI/IES LM-79-19"}
    assert text.report_words(told) == "LR-0431, ANSI/IES LM-79-19"
