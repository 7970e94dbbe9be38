"""The case tables of the decision: evidence, claim, expected verdict and reasons."""

from pathlib import Path

import pytest

from audit.model import VERDICTS
from audit.testing import cases, check_case

CASES = [case for path in sorted((Path(__file__).parent / "cases").glob("*.toml")) for case in cases(path)]


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_case(case):
    check_case(case)


def test_every_verdict_has_cases():
    assert {case["verdict"] for case in CASES} == set(VERDICTS)


def test_a_wrong_expectation_is_told():
    with pytest.raises(AssertionError, match=r"expected .*contradicted"):
        check_case(CASES[0] | {"verdict": "contradicted"})
