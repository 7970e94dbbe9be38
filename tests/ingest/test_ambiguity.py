"""Headings with several meanings: a rule about the values settles them and says so, or they are asked with the line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.units import conversion
from plugins.ingest.columns import make_columns, understand
from plugins.ingest.headings import AMBIGUOUS, LISTED, PAIRED, READING, REFUSED, STATE, resolve
from plugins.ingest.plausible import bounds, possible, units_that_fit


def columns(headings, rows, answers=None):
    """Return heading -> column of a table of text cells."""
    meanings = understand(headings, answers=answers or {})
    heads = [(index, heading, meaning) for index, (heading, meaning) in enumerate(zip(headings, meanings, strict=True))]
    found = make_columns(heads, lambda index: [row[index] for row in rows], lambda *_: False, answers or {})
    return {column.heading: column for column in found}


@pytest.mark.parametrize(
    ("heading", "role", "target"),
    [
        ("Tc", AMBIGUOUS, ""),
        ("Tc (K)", READING, "cct"),
        ("Tc (°C)", READING, "case_temperature"),
        ("Tc [℃]", READING, "case_temperature"),
        ("Tcp", READING, "cct"),
        ("Ts", READING, "case_temperature"),
        ("Tsp (°C)", READING, "case_temperature"),
        ("TMP", READING, "case_temperature"),
        ("Ta", STATE, "ambient_C"),
        ("Y", AMBIGUOUS, ""),
        ("Y (lx)", READING, "illuminance"),
        ("Y (lm)", READING, "luminous_flux"),
        ("X", LISTED, "listed"),
        ("x", READING, "x"),
        ("z", LISTED, "listed"),
        ("P", AMBIGUOUS, ""),
        ("LED lumens", READING, "source_luminous_flux"),
        ("Luminaire lumens", READING, "luminous_flux"),
        ("LED watts (W)", LISTED, "listed"),
        ("Input watts (W)", READING, "input_power"),
        ("Nominal flux (lm)", AMBIGUOUS, "luminous_flux"),
        ("Nennlichtstrom (lm)", AMBIGUOUS, "luminous_flux"),
        ("Lúmenes nominales", AMBIGUOUS, "luminous_flux"),
        ("Tested flux (lm)", READING, "luminous_flux"),
        ("CRI", READING, "ra"),
        ("CRI (R1-R15)", LISTED, "listed"),
        ("CRI (Re)", LISTED, "listed"),
        ("Colour code", LISTED, "listed"),
        ("Duv (x1000)", READING, "duv"),
        ("On-mode power (Pon), expressed in W", READING, "input_power"),
        ("Correlated colour temperature, rounded to the nearest 100 K", READING, "cct"),
        ("Luminous flux (lm)*", READING, "luminous_flux"),
        ("Chromaticity coordinates (x and y)", PAIRED, ""),
        ("Flux x, y", "unknown", ""),
    ],
)
def test_what_words_and_units_settle(heading, role, target):
    assert (resolve(heading).role, resolve(heading).target) == (role, target)


# Whites' v is 0.29 to 0.36 in the diagram of 1960 and 0.44 to 0.54 in that of 1976 (v' = 1.5 v, CIE 15:2018).
@pytest.mark.parametrize(
    ("values", "roles"),
    [
        (["0.5220", "0.5223"], (READING, READING)),
        (["0.3480", "0.3482"], (LISTED, LISTED)),
        (["0.3480", "0.5223"], (AMBIGUOUS, AMBIGUOUS)),
        (["0.4050", "0.5220"], (AMBIGUOUS, AMBIGUOUS)),
        (["0.5220", "n/a"], (READING, READING)),
        (["0,5220", "0,5223"], (READING, READING)),
        (["n/a", ""], (AMBIGUOUS, AMBIGUOUS)),
    ],
)
def test_u_and_v_are_of_the_diagram_in_whose_range_every_v_lies(values, roles):
    found = columns(["u", "v"], [("0.2510", value) for value in values])
    assert (found["u"].meaning.role, found["v"].meaning.role) == roles
    if roles[0] == READING:
        assert (found["u"].meaning.target, found["v"].meaning.target) == ("u_prime", "v_prime")
    if AMBIGUOUS not in roles:
        assert "where v of" in found["v"].meaning.settled


def test_u_alone_is_asked_since_it_is_the_same_in_both_diagrams():
    found = columns(["u", "x"], [("0.251", "0.43")])["u"]
    assert found.meaning.role == AMBIGUOUS
    assert found.lines == ('"u" = "u_prime"', '"u" = "ignore"')


def test_what_a_range_settled_is_said(read):
    tables = read("serial,u,v,Ra\n1,0.2510,0.5220,91\n")
    assert tables.values == {"u_prime": [0.251], "v_prime": [0.522], "ra": [91]}
    assert tables.observed == {"column_settled": "note"}
    old = read("serial,u,v,Ra\n1,0.2510,0.3480,91\n", "b.csv")
    assert old.values == {"ra": [91]}
    assert old.observed == {"column_settled": "note", "metrics_listed": "note"}


@pytest.mark.parametrize(
    ("heading", "values", "role"),
    [
        ("Duv", ["0.0012", "-0.0004"], READING),
        ("Duv", ["1.2", "-0.4"], AMBIGUOUS),
        ("Duv", ["0.0", "-3.4"], AMBIGUOUS),
        ("Duv", ["0.051"], AMBIGUOUS),
        ("Duv", ["0.05"], READING),
        ("Duv (x1000)", ["1.2", "-3.4"], READING),
        ("Duv [1e-3]", ["1.2"], READING),
    ],
)
def test_a_duv_above_0_05_in_size_is_no_plain_one(heading, values, role):
    """CIE 15:2018, clause 9.5: farther than 0.05 from the locus neither CCT nor Duv is stated."""
    found = columns([heading], [(value,) for value in values])[heading]
    assert found.meaning.role == role
    if role == AMBIGUOUS:
        assert found.lines == ('"Duv" = "duv [1e-3]"', '"Duv" = "duv"', '"Duv" = "ignore"')


SPECIAL = [91.2, 93.4, 95.1, 92.0, 91.0, 90.3, 93.9, 85.4, 58.2, 81.0, 92.3, 79.5, 91.6, 97.1, 88.4]


@pytest.mark.parametrize(
    ("general", "role"),
    [
        (f"{sum(SPECIAL[:8]) / 8:.1f}", READING),
        (f"{sum(SPECIAL) / 15:.1f}", AMBIGUOUS),
        ("70", READING),  # wrong, but no other mean: a check recomputes it
    ],
)
def test_cri_beside_the_special_indices_is_the_mean_of_the_first_eight(general, role):
    """CIE 13.3-1995, 7.3: Ra is the arithmetical mean of the first eight special indices."""
    headings = ["CRI", *(f"R{number}" for number in range(1, 16))]
    found = columns(headings, [(general, *map(str, SPECIAL))])
    assert found["CRI"].meaning.role == role


@pytest.mark.parametrize(
    ("heading", "value", "line"),
    [
        ("Power factor", "95", '"Power factor" = "power_factor [%]"'),
        ("x", "437.3", '"x" = "x [‰]"'),
        ("CCT", "2.7", '"CCT" = "cct [kK]"'),
        ("Ra", "927", '"Ra" = "ignore"'),
    ],
)
def test_impossible_values_ask_for_the_unit_in_which_they_are_possible(heading, value, line):
    found = columns([heading], [(value,)])[heading]
    assert found.meaning.role == AMBIGUOUS
    assert line in found.lines


def test_one_impossible_value_is_refused_alone(read):
    tables = read("serial,Power factor,Ra\n1,0.95,91\n2,96,92\n")
    assert tables.values == {"power_factor": [0.95], "ra": [91, 92]}
    found = tables.observation("cell_not_a_number")
    assert (found.tier, found.place) == ("major", "row 3, cell B3")
    assert "no power_factor is above 1" in found.message


@given(st.floats(0, 1), st.sampled_from(["x", "y", "power_factor", "ra", "flicker_index"]))
def test_no_possible_value_is_called_impossible(value, target):
    assert possible(target, value)
    assert bounds(target)[0] <= value <= bounds(target)[1]


def test_units_that_fit_are_known_units():
    for target, unit, printed in (("power_factor", "1", [95.0]), ("duv", "1", [-3.4]), ("cct", "K", [2.7])):
        for spelling in units_that_fit(target, unit, printed):
            assert possible(target, conversion(spelling, unit).apply(printed[0]))


@pytest.mark.parametrize(
    ("cell", "values"),
    [
        ("0.4373, 0.4046", (0.4373, 0.4046)),
        ("(0.4381 / 0.4051)", (0.4381, 0.4051)),
        ("0,437 / 0,404", (0.437, 0.404)),
        ("0,437;0,404", (0.437, 0.404)),
    ],
)
def test_two_coordinates_in_one_cell(cell, values, read):
    tables = read(f'serial,"Chromaticity (x, y)",Ra\n1,"{cell}",91\n')
    assert (tables.values["x"], tables.values["y"]) == ([values[0]], [values[1]])
    assert tables.cells() == ["B2", "B2", "C2"]


def test_a_pair_that_is_none_is_said(read):
    tables = read('serial,"Chromaticity (x, y)",Ra\n1,0.4373,91\n2,"0.43, 0.40",91\n')
    assert tables.values["x"] == [0.43]
    assert tables.observed["cell_not_a_number"] == "major"


@pytest.mark.parametrize(
    ("heading", "value", "lines"),
    [
        ("Tc", "85", ['"Tc" = "cct"', '"Tc" = "case_temperature"']),
        ("Y", "700", ['"Y" = "luminous_flux"', '"Y" = "ignore"', '"Y" = "illuminance"']),
        ("P", "12", ['"P" = "input_power"', '"P" = "excitation_purity"']),
        ("Rated flux (lm)", "1300", ['"Rated flux (lm)" = "luminous_flux"', '"Rated flux (lm)" = "ignore"']),
        ("Flux (mW)", "12", ['"Flux (mW)" = "luminous_flux [lm]"', '"Flux (mW)" = "ignore"']),
        ("U(PF) %", "2", ["relative uncertainty of power_factor", "uncertainty of power_factor"]),
    ],
)
def test_a_question_carries_the_lines_of_which_one_settles_it(heading, value, lines, read):
    asked = read(f'serial,"{heading}",R1\n1,{value},91\n')["observations"]
    (found,) = asked[asked["rule"].isin(["column_ambiguous", "column_not_read"])].itertuples()
    assert all(line in found.ask for line in lines)
    assert '["table.csv"]' in found.ask


def test_an_answer_outranks_every_rule_about_values():
    found = columns(["u", "v", "Duv"], [("0.25", "0.35", "0.06")], {"v": "v_prime", "u": "u_prime", "Duv": "duv"})
    assert [column.meaning.target for column in found.values()] == ["u_prime", "v_prime", "duv"]
    assert all(column.meaning.role == READING for column in found.values())


def test_an_answer_that_means_nothing_leaves_the_column_unused():
    found = columns(["Ra", "Mood"], [("91", "7")], {"Mood": "moodiness"})["Mood"]
    assert found.meaning.role == REFUSED
    assert "moodiness" in found.meaning.why
