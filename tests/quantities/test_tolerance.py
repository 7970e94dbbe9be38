"""One-sided tolerance factors against published values, scipy.stats and the definition."""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, special, stats

from audit.quantities.tolerance import k_factor

REFERENCE = Path(__file__).parents[1] / "reference" / "maintenance"


def published(name):
    """Rows of a table in tests/reference/maintenance; each carries its source and status."""
    with (REFERENCE / f"{name}.csv").open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def test_table_of_factors():
    # COMPUTED by scipy; n = 50, 95 %/95 % is also published, as 2.065 (NRC ML14031A495, VERIFIED).
    rows = published("k_factors_one_sided")
    n, coverage, confidence, k = (
        np.array([float(row[column]) for row in rows]) for column in ("n", "coverage_p", "confidence", "k")
    )
    np.testing.assert_allclose(k_factor(n, coverage, confidence), k, atol=6e-6)
    exact = stats.nct.ppf(confidence, n - 1, special.ndtri(coverage) * np.sqrt(n)) / np.sqrt(n)
    np.testing.assert_allclose(k_factor(n, coverage, confidence), exact, rtol=1e-9)


def test_the_published_factor_to_8_figures():
    assert float(k_factor(50, 0.95, 0.95)) == pytest.approx(
        2.064993399768, abs=3e-8
    )  # published in groskwik/Owen, VERIFIED


def test_published_example():
    # NIST/SEMATECH 7.2.6.3 (VERIFIED): k = 1.8751896 by an approximation, 1.8739536 exact (COMPUTED), and the limits
    # of a sample of mean 97.07 and s 0.0268; the exact factor lies within 1 in 1,000 of the printed one.
    rows = {row["quantity"]: row for row in published("k_factor_nist_example")}
    exact = float(k_factor(43, 0.90, 0.99))
    assert exact == pytest.approx(float(rows["k1 one-sided exact (noncentral t)"]["recomputed"]), abs=6e-8)
    approximate = float(rows["k1 one-sided approx (n=43 p=0.90 conf=0.99)"]["published"])
    assert exact == pytest.approx(approximate, rel=1e-3)
    upper = float(rows["upper one-sided limit, mean 97.07 s 0.0268"]["published"])
    assert 97.07 + exact * 0.0268 == pytest.approx(upper, abs=4e-5)


@pytest.mark.parametrize(("n", "coverage", "confidence"), [(2, 0.9, 0.95), (10, 0.95, 0.95), (20, 0.99, 0.9)])
def test_definition(n, coverage, confidence):
    """The share covered is at least ``coverage`` with ``confidence``: integrated over the law of s."""
    k = float(k_factor(n, coverage, confidence))

    def density(ratio):  # of s over sigma, times the probability that the mean lies high enough for that s
        enough = special.ndtr(np.sqrt(n) * (k * ratio - special.ndtri(coverage)))
        return stats.chi.pdf(ratio * np.sqrt(n - 1), n - 1) * np.sqrt(n - 1) * enough

    assert integrate.quad(density, 0, np.inf)[0] == pytest.approx(confidence, abs=1e-7)


def test_what_has_no_factor():
    assert np.isnan(k_factor([1, 0, np.nan, 5, 5], [0.9, 0.9, 0.9, 1.0, 0.9], [0.9, 0.9, 0.9, 0.9, 0.0])).all()
