"""Printed numbers: value and last digit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.numbers import Span, parse_number, parse_span


@pytest.mark.parametrize(
    ("cell", "value", "resolution"),
    [
        ("2.50", 2.5, 0.01),
        ("2700", 2700.0, 1.0),
        (" -0.0029 ", -0.0029, 0.0001),
        ("−3.1", -3.1, 0.1),  # a typographic minus
        ("+4", 4.0, 1.0),
        ("4.15003E-04", 4.15003e-4, 1e-9),
        (".5", 0.5, 0.1),
        (2700.0, 2700.0, 1.0),
        (0.1 + 0.2, 0.3, 0.1),  # the noise of binary fractions isn't printed
        (7, 7.0, 1.0),
    ],
)
def test_value_and_last_digit(cell, value, resolution):
    printed = parse_number(cell)
    assert printed is not None
    assert printed.value == pytest.approx(value, rel=1e-12)
    assert printed.resolution == pytest.approx(resolution, rel=1e-9)


@pytest.mark.parametrize(
    "cell",
    [
        "",
        "---",
        "n/a",
        "1,5",
        "1 000",
        "1_000",
        "3000 K",
        "nan",
        "inf",
        "=1+1",
        "٣",
        True,
        None,
        "1e400",
        "0e400",
        "1e99999999",
    ],
)
def test_what_is_no_printed_number(cell):
    assert parse_number(cell) is None


@given(st.integers(-(10**9), 10**9), st.integers(0, 6))
def test_any_decimal_reads_back_with_its_last_digit(digits, decimals):
    text = f"{digits / 10**decimals:.{decimals}f}"
    printed = parse_number(text)
    assert printed is not None
    assert printed.value == float(text)
    assert printed.resolution == pytest.approx(10.0**-decimals)


@pytest.mark.parametrize(
    ("cell", "span"),
    [
        ("25", Span(25, 25)),
        ("2700 to 6500", Span(2700, 6500)),
        ("40 TO -20", Span(-20, 40)),
        ("a to 3", None),
        ("", None),
    ],
)
def test_span(cell, span):
    assert parse_span(cell) == span
