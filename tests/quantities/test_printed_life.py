"""Figures of a printed TM-21 sheet: which follow from the others within rounding."""

import csv
from pathlib import Path

import pytest

from audit.quantities.printed_life import Figure, check_arithmetic

REFERENCE = Path(__file__).parents[1] / "reference" / "maintenance"
with (REFERENCE / "tm21_synthetic_results.csv").open(encoding="utf-8") as lines:
    RESULTS = [row for row in csv.DictReader(lines) if row["limit_h"] and not row["Lp_calculated_h"].startswith("n/a")]
ALPHA, B = Figure(5.011e-6, 1e-9), Figure(1.004, 1e-3)


def verdicts(*args, **figures):
    return {check.figure: check.follows for check in check_arithmetic(*args, **figures)}


@pytest.mark.parametrize("row", RESULTS, ids=lambda row: f"{row['set']}-L{row['p_percent']}")
def test_a_sound_sheet_follows(row):
    # Own data, COMPUTED by other code; alpha and B printed to four figures, lives to three (R17, MEMORY).
    result = check_arithmetic(
        float(row["p_percent"]),
        alpha=Figure(float(f"{float(row['alpha_per_h']):.3e}"), 1e-9),
        B=Figure(round(float(row["B"]), 3), 1e-3),
        lp=Figure(float(row["Lp_calc_3sig_h"]), 1.0),
        reported=Figure(float(row["reported"].split()[2]), 1.0),
        beyond=">" in row["reported"],
        duration=Figure(float(row["duration_h"]), 1.0),
        units=int(row["n_units"]),
    )
    assert [check.figure for check in result] == ["calculated life", "limit", "reported life"]
    assert all(check.follows for check in result), [check.text for check in result]


@pytest.mark.parametrize(
    ("printed", "follows"),
    [
        (Figure(71912, 1), True),
        (Figure(71900, 1), True),  # three figures
        (Figure(72000, 1), True),  # 71,950 h to 72,050 h meets the interval of the rounded alpha and B
        (Figure(73000, 1), False),
        (Figure(72112, 1), False),  # five figures were printed: no room for three
        (Figure(7191.2, 0.1), False),
    ],
)
def test_calculated_life(printed, follows):
    (check,) = check_arithmetic(70, alpha=ALPHA, B=B, lp=printed)
    assert check.follows == follows
    assert check.low < 71975 < check.high
    assert "alpha and B give 71," in check.text


def test_the_resolution_of_alpha_widens_the_interval():
    loose, tight = (check_arithmetic(70, alpha=Figure(5e-6, res), B=B, lp=Figure(75000, 1)) for res in (1e-6, 1e-9))
    assert loose[0].follows
    assert not tight[0].follows


@pytest.mark.parametrize(
    ("reported", "beyond", "units", "expected"),
    [
        (36000, True, 20, {"limit": True, "reported life": True}),
        (33000, True, 19, {"limit": True, "reported life": True}),
        (36000, True, 19, {"limit": False, "reported life": False}),
        (36000, False, 20, {"limit": True, "reported life": False}),  # the sign is missing
        (71900, False, 20, {"limit": False, "reported life": False}),
        (71900, False, 8, {"limit": False}),
    ],
)
def test_reported_life(reported, beyond, units, expected):
    sheet = {"lp": Figure(71900, 1), "duration": Figure(6000, 1), "units": units}
    assert verdicts(70, reported=Figure(reported, 1), beyond=beyond, **sheet) == expected


def test_a_sign_past_a_limit_that_is_not_reached():
    sheet = {"lp": Figure(21800, 1), "duration": Figure(6000, 1), "units": 20}
    assert verdicts(90, reported=Figure(36000, 1), beyond=True, **sheet) == {"limit": True, "reported life": False}
    assert verdicts(90, reported=Figure(21800, 1), **sheet) == {"limit": True, "reported life": True}
    assert verdicts(90, reported=Figure(22800, 1), **sheet) == {"limit": True, "reported life": False}


def test_without_decay_no_finite_life_follows():
    (check,) = check_arithmetic(70, alpha=Figure(-1.16e-6, 1e-8), B=Figure(0.998, 1e-3), lp=Figure(300000, 1))
    assert not check.follows
    assert "alpha isn't positive" in check.text
    sheet = {"alpha": Figure(-1.16e-6, 1e-8), "B": Figure(0.998, 1e-3), "duration": Figure(6000, 1), "units": 20}
    assert verdicts(70, reported=Figure(36000, 1), beyond=True, **sheet) == {"limit": True, "reported life": True}
    (about_zero,) = check_arithmetic(70, alpha=Figure(0.0, 1e-6), B=Figure(1.0, 1e-3), lp=Figure(900000, 1))
    assert about_zero.follows  # an alpha rounded to 0 may be up to 5e-7 per hour: 713,000 h or more
    assert about_zero.high == float("inf")


def test_impossible_intercept():
    (check,) = check_arithmetic(70, alpha=ALPHA, B=Figure(0.0, 1e-3), lp=Figure(71900, 1))
    assert not check.follows
    assert "no life" in check.text


def test_nothing_printed_nothing_checked():
    assert check_arithmetic(70) == ()
    assert check_arithmetic(70, alpha=ALPHA, lp=Figure(71900, 1)) == ()
    assert check_arithmetic(70, lp=Figure(71900, 1), reported=Figure(36000, 1), beyond=True) == ()
    with pytest.raises(ValueError, match="between 0 and 100"):
        check_arithmetic(0, alpha=ALPHA, B=B, lp=Figure(71900, 1))
