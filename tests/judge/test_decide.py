"""The decision arithmetic against published tables, scipy and simulation."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from audit import decide
from audit.model import Rule

REFERENCE = Path(__file__).parents[1] / "reference" / "maintenance"
GUARDED, SIMPLE = Rule(), Rule(name="simple")


def published(name):
    """Rows of a table in tests/reference/maintenance; each carries its source and status."""
    with (REFERENCE / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", published("conformance_probability.csv"), ids=lambda row: row["case"])
def test_conformance_probability_table(row):
    # JCGM 106:2012 clause 7 (three worked examples, inputs recalled, results computed) and four own vectors.
    low = float(row["lower_limit"] or -math.inf)
    high = float(row["upper_limit"] or math.inf)
    p = decide.conformance_probability(float(row["y"]), float(row["u"]), low, high)
    assert p == pytest.approx(float(row["p_conformance"]), abs=5e-5)


@pytest.mark.parametrize("row", published("guard_bands.csv"), ids=lambda row: row["rule"])
def test_guard_band_table(row):
    # ILAC-G8:09/2019 Table 1 (w = 0 and w = U: VERIFIED in a public guide; the rest is Phi(-2r), COMPUTED):
    # a value at the acceptance limit L + w, with U = 2u, is outside with the stated probability.
    guard = 2 * float(row["w_over_U"])
    false_accept = 1 - decide.conformance_probability(10 + guard, 1.0, 10, math.inf)
    assert false_accept == pytest.approx(float(row["specific_false_accept_prob_at_AL"]), rel=2e-3, abs=1e-9)


@given(
    value=st.floats(-50, 50),
    u=st.floats(0.01, 20),
    ends=st.tuples(st.floats(-50, 50), st.floats(-50, 50)).map(sorted),
)
def test_probability_against_scipy(value, u, ends):
    # scipy.stats.norm is the oracle.
    low, high = ends
    expected = stats.norm.cdf(high, value, u) - stats.norm.cdf(low, value, u)
    assert decide.conformance_probability(value, u, low, high) == pytest.approx(expected, abs=1e-12)


def test_probability_without_uncertainty_is_the_side():
    p = decide.conformance_probability([89.9, 90.0, math.nan], [0.0, 0.0, 0.0], 90, math.inf)
    assert p[:2].tolist() == [0.0, 1.0]
    assert math.isnan(p[2])


def test_verdict_boundaries():
    # JCGM 106:2012 8.3: acceptance and rejection at p = c and p = 1 - c.
    p = np.array([0.95, 0.9499, 0.0501, 0.05])
    assert decide.verdicts(p, p > 0.5, GUARDED).tolist() == [
        "supported",
        "inconclusive",
        "inconclusive",
        "contradicted",
    ]
    assert decide.verdicts(p, p > 0.5, SIMPLE).tolist() == ["supported", "supported", "contradicted", "contradicted"]


@given(value=st.floats(80, 100), u=st.floats(0.1, 3), limit=st.floats(85, 95), upper=st.booleans())
def test_moving_by_the_margin_reaches_the_threshold(value, u, limit, upper):
    low, high = (-math.inf, limit) if upper else (limit, math.inf)
    margin, beyond = decide.margin(value, u, low, high, GUARDED)
    assert beyond in ("supported", "inconclusive", "contradicted")
    moved = value + margin if upper else value - margin
    p = float(decide.conformance_probability(moved, u, low, high))
    assert min(abs(p - 0.95), abs(p - 0.05)) < 1e-9


@given(value=st.floats(-0.01, 0.01), u=st.floats(1e-4, 3e-3))
def test_margin_between_two_limits(value, u):
    margin, _ = decide.margin(value, u, -0.003, 0.003, GUARDED)
    p = float(decide.conformance_probability(abs(value) + margin, u, -0.003, 0.003))
    best = float(decide.conformance_probability(0, u, -0.003, 0.003))
    assert min(abs(p - 0.95), abs(p - 0.05)) < 1e-6
    assert best >= 0.05 + 1e-9 or math.isnan(margin)


def test_margin_of_the_simple_rule_is_the_distance_to_the_limit():
    assert decide.margin(92.0, 0.5, 90, math.inf, SIMPLE) == (pytest.approx(2.0), "contradicted")
    assert decide.margin(92.0, 0.5, -math.inf, 90, SIMPLE) == (pytest.approx(-2.0), "supported")


def test_margin_names_the_verdict_beyond_its_threshold():
    # L = 90, u = 0.5, 1.645 u = 0.82: the thresholds lie at 90.82 and 89.18.
    found = {value: decide.margin(value, 0.5, 90, math.inf, GUARDED)[1] for value in (92.0, 90.7, 89.3, 88.0)}
    assert found == {92.0: "inconclusive", 90.7: "supported", 89.3: "contradicted", 88.0: "inconclusive"}


@pytest.mark.parametrize(("failures", "units"), [(0, 59), (1, 93), (2, 124), (3, 153)])
def test_sample_sizes_of_order_statistics(failures, units):
    # One-sided 95 %/95 % tolerance limits, S. S. Wilks, Ann. Math. Stat. 12 (1941) 91: 59, 93, 124, 153 (from memory);
    # confirmed by the binomial distribution of scipy: fewer units would pass too often at a share of exactly 95 %.
    assert decide.sample_size(failures, 0.95, 0.95) == units
    assert stats.binom.cdf(failures, units, 0.05) <= 0.05 < stats.binom.cdf(failures, units - 1, 0.05)


@given(units=st.integers(1, 200), data=st.data())
def test_clopper_pearson_against_scipy(units, data):
    # scipy.stats.binomtest (exact, two-sided at 90 %) holds both one-sided 95 % limits.
    inside = data.draw(st.integers(0, units))
    low, high = decide.clopper_pearson(inside, units, 0.95)
    oracle = stats.binomtest(inside, units).proportion_ci(0.90, "exact")
    assert (low, high) == pytest.approx((oracle.low, oracle.high), abs=1e-9)


def test_all_inside_gives_the_closed_form():
    # k = n: (1 - c)^(1/n).
    assert decide.clopper_pearson(5, 5, 0.95)[0] == pytest.approx(0.05 ** (1 / 5))
    result = decide.share(5, 5, 95, 0.95)
    assert (result.verdict, result.units_needed) == ("overreaching", 59)


def test_mean_uncertainty_against_simulation():
    # 200,000 draws of a common and an independent part (JCGM 101); n = 4, common 1.0, repeat 0.6.
    total = np.full(4, math.hypot(1.0, 0.6))
    u = decide.mean_uncertainty(total, np.full(4, 0.6))
    draws = np.random.default_rng(7)
    means = draws.normal(0, 1.0, 200_000) + draws.normal(0, 0.6, (4, 200_000)).mean(axis=0)
    assert u == pytest.approx(means.std(), rel=0.01)
    assert u == pytest.approx(math.hypot(1.0, 0.3))


def test_order_over_points():
    point = np.array(["supported", "inconclusive"])
    assert decide.combine(np.array(["supported", "contradicted", "inconclusive"]), covered=False) == "contradicted"
    assert decide.combine(point, covered=False) == "overreaching"
    assert decide.combine(point, covered=True) == "inconclusive"
    assert decide.combine(point[:1], covered=True) == "supported"
