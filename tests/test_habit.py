"""Habits: what is said changes, what others wrote doesn't."""

import pytest

from audit.habit import HABITS, beside, day, say
from audit.model import Habit

EU, US = HABITS["eu"], HABITS["us"]


@pytest.mark.parametrize(
    ("words", "eu"),
    [
        ("12.730 ± 0.038 W at 100 % level", "12,730 ± 0,038 W at 100 % level"),
        ("from -0.003 to 0.003", "from -0,003 to 0,003"),
        ("+0.738", "+0,738"),
        ("−0.00508", "−0,00508"),
        ("≥ 13.5", "≥ 13,5"),
        ("1.2e-05", "1,2e-05"),
        ("(tested: 24.6, 25.5)", "(tested: 24,6; 25,5)"),
        ("at 2700, 3000 and 4000 K", "at 2700; 3000 and 4000 K"),
        ("claimed at least 0.9: contradicted", "claimed at least 0,9: contradicted"),
        ("about 0.5.", "about 0,5."),
        ("on 2026-05-31", "on 31 May 2026"),
        # No figures of ours: editions, clauses, versions, names, what a document wrote.
        ("CIE 13.3-1995 and ISO 8601:2019/1.2", "CIE 13.3-1995 and ISO 8601:2019/1.2"),
        ("clause 8.3.1", "clause 8.3.1"),
        ("v1.2, A1.5 and 1.2b", "v1.2, A1.5 and 1.2b"),
        ("'LR-0417 2.5.csv' prints '92.0', isn't 91.5", "'LR-0417 2.5.csv' prints '92.0', isn't 91,5"),
        ("report.csv", "report.csv"),
        # Thousands apart by a thin space (ISO 80000-1:2009, 7.3.1): 30,600 h would be read as thirty hours and a half.
        ("30,600 h", "30\u202f600 h"),
        ("1,234,567.5 lm", "1\u202f234\u202f567,5 lm"),
        ("4,000, 9,000 h", "4\u202f000; 9\u202f000 h"),
        ("1,2,3", "1,2,3"),
    ],
)
def test_a_decimal_comma_where_a_figure_is_ours(words, eu):
    assert say(EU, words) == eu
    assert say(Habit(), words) == words


def test_names_are_no_figures():
    words = "The flux of Sedge 2.5 on unit 1.5 is 1.5 lm, and of Sedge 2.55 it is 2.5 lm"
    assert say(EU, words, ["Sedge 2.5", "unit 1.5", ""]) == (
        "The flux of Sedge 2.5 on unit 1.5 is 1,5 lm, and of Sedge 2,55 it is 2,5 lm"
    )


@pytest.mark.parametrize(
    ("words", "us"),
    [
        # By the definition of the scale 0 °C, 100 °C and -40 °C are 32 °F, 212 °F and -40 °F.
        ("at 0 °C ambient", "at 0 °C (32 °F) ambient"),
        ("100.0 °C", "100.0 °C (212.0 °F)"),
        ("-40 °C", "-40 °C (-40 °F)"),
        ("60 ± 5 °C case", "60 ± 5 °C (140 ± 9 °F) case"),
        ("20 to 25 °C ambient", "20 to 25 °C (68 to 77 °F) ambient"),
        # 1 fc is 1 lm/ft², and 1 ft is 0.3048 m exactly: 1 / 0.3048² lx.
        ("1076.391 lx", "1076.391 lx (100.0000 fc)"),
        ("10,763.91 lx", "10,763.91 lx (1000.000 fc)"),
        ("2987 K and 3.2 lm/W", "2987 K and 3.2 lm/W"),
        ("on 2026-05-31", "on May 31, 2026"),
        ("the heading 'Tc 85 °C'", "the heading 'Tc 85 °C'"),
    ],
)
def test_units_and_dates_of_the_united_states(words, us):
    assert say(US, words) == us


def test_a_value_beside():
    assert beside(US, 37.0, "°C") == (pytest.approx(98.6), "°F")
    assert beside(US, 37.0, "lm") is None
    assert beside(EU, 37.0, "°C") is None


def test_what_is_no_date_stays():
    assert day(EU, "in spring") == "in spring"
    assert day(US, "2026-02-30") == "2026-02-30"
    assert say(US, "2026-02-30") == "2026-02-30"
