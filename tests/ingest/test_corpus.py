"""The corpus: one small file per layout and trap, and everything that has to come out of it (files/expected.csv).

The files are ours, written as laboratories write theirs; the outcomes were typed from the files, not from the
readers. Files that nobody here wrote are in test_foreign.py.
"""

from __future__ import annotations

import pytest
from corpus import FOLDER, TABLE, compare, document, expected, found, found_in

from audit.answers import read_answers
from audit.model import Document
from audit.recorder import Recorder, place_text

EXPECTED = expected()
COLUMNS_TO_SETTLE = ("column_ambiguous", "no_header", "decimal_ambiguous", "date_ambiguous", "setting_unknown")


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_file(name):
    outcome = found(FOLDER / name)
    faults = compare(EXPECTED[name], outcome).faults
    said = [f"  {row['rule']} ({row['tier']}): {row['message'][:300]} [{row['place']}]" for row in outcome.observations]
    assert not faults, "\n".join(["", *faults, "observations:", *said])


def test_every_file_is_expected_and_every_expectation_has_its_file():
    assert {path.name for path in FOLDER.iterdir()} == {TABLE.name, *EXPECTED}
    assert len(EXPECTED) >= 60
    assert all(lines[0].note for lines in EXPECTED.values())


def test_a_question_about_a_column_carries_the_line_that_settles_it():
    asked = [row for name in EXPECTED for row in found(FOLDER / name).observations if row["rule"] in COLUMNS_TO_SETTLE]
    assert {row["rule"] for row in asked} >= {"column_ambiguous"}
    assert [row["message"] for row in asked if "columns.toml" not in row["ask"]] == []


# What a person would write below ["<file>"] in columns.toml, and a reading that has to come of it.
ANSWERS = [
    ("Tc bare.csv", ['"Tc" = "case_temperature"'], ("case_temperature", 68.4, "B2")),
    ("Y bare.csv", ['"Y" = "illuminance"'], ("illuminance", 695.2, "B2")),
    ("power bare.csv", ['"P" = "input_power [W]"'], ("input_power", 12.4, "B2")),
    ("lone dot.csv", ['decimal = ","'], ("luminous_flux", 1301, "B2")),
    ("lone dot.csv", ['decimal = "."'], ("luminous_flux", 1.301, "B2")),
    ("lone comma.csv", ['decimal = "."'], ("luminous_flux", 1301, "B2")),
    ("lone comma.csv", ['decimal = ","'], ("luminous_flux", 1.301, "B2")),
    ("Duv times 1000 unsaid.csv", ['"Duv" = "duv [1e-3]"'], ("duv", -0.0034, "B3")),
    ("fractions of one.csv", ['"Lumen maintenance" = "flux_ratio [1]"'], ("flux_ratio", 99.1, "C3")),
    ("intensity for lumens.csv", ['"intensity" = "luminous_flux"'], ("luminous_flux", 131.2, "C2")),
    ("u v in between.csv", ['"u" = "u_prime"', '"v" = "v_prime"'], ("v_prime", 0.405, "C2")),
    ("stress table.csv", ['"celsius" = "case_C"', '"luminosity" = "flux_ratio [%]"'], ("flux_ratio", 98.4, "D5")),
    ("no header.csv", ['"column 1" = "serial"', '"column 2" = "cct [K]"'], ("cct", 3020, "B3")),
    ("german keys.csv", ['"Prüfgegenstand" = "product"'], ("luminous_flux", 1210.5, "B4")),
    ("unknown columns.csv", ['"Frobnication (W)" = "input_power [W]"'], ("input_power", 7, "D2")),
]


# The same for what a row above spectra states, and the state of the spectrum in a column.
SPECTRAL_ANSWERS = [
    ("spectra with lone commas.csv", 'decimal = ","', "B2:B6", {"serial": "SA-01"}),
    ("spectra with programmes above.csv", '"Programme" = "channel"', "C3:C7", {"channel": "2"}),
    ("spectra with programmes above.csv", '"Programme" = "ignore"', "C3:C7", {}),
    ("spectra with settings in words above.csv", '"Setting" = "scene"', "D5:D9",
     {"serial": "PT-2", "ambient_C": "25.5", "scene": "warm dim"}),
    ("spectra with settings in words above.csv", '"Setting" = "scene"', "B5:B9",
     {"serial": "PT-1", "ambient_C": "25", "cct_setting_K": "3000", "level_percent": "50"}),
]  # fmt: skip


def answered(name, lines, folder):
    """Return what comes out of a file with these lines in columns.toml beside it."""
    (folder / name).write_bytes((FOLDER / name).read_bytes())
    (folder / "columns.toml").write_text("\n".join([f'["{name}"]', *lines]), encoding="utf-8")
    notes = Recorder(Document.nowhere())
    papers, _ = read_answers([document(folder / "columns.toml"), document(folder / name)], notes)
    assert notes.observations == []
    return found_in(papers[0])


@pytest.mark.parametrize(("name", "line", "place", "state"), SPECTRAL_ANSWERS)
def test_an_answer_settles_what_a_row_above_spectra_states(name, line, place, state, tmp_path):
    after = answered(name, [line], tmp_path)
    assert {item.place: dict(item.state) for item in after.items}[place] == state
    assert ("answer", line) in [(fact.what, fact.value) for fact in after.facts]
    assert not [row for row in after.observations if "columns.toml" in row["ask"]]


def test_the_lines_of_a_question_about_uncertainties_settle_them(tmp_path):
    """Each question's own first line, as it stands there, is written into columns.toml."""
    name = "uncertainty beside a value.csv"
    asked = [row for row in found(FOLDER / name).observations if row["rule"] == "column_ambiguous"]
    lines = [row["ask"].splitlines()[1] for row in asked]
    assert len(lines) == 2
    after = answered(name, lines, tmp_path)
    assert {item.what: dict(item.state)["U"] for item in after.items} == {"cct": "30", "luminous_flux": "48.4"}
    assert "column_ambiguous" not in {row["rule"] for row in after.observations}


@pytest.mark.parametrize(("decimal", "total"), [(",", "6.18"), (".", "6180")])
def test_an_answer_about_the_decimal_mark_holds_for_spectra(decimal, total, tmp_path):
    """What proves its mark by itself, the spectrum with 0.021 in it, isn't asked about and isn't changed."""
    after = answered("spectra with lone commas.csv", [f'decimal = "{decimal}"'], tmp_path)
    assert [item.value.rpartition(" ")[2] for item in after.items] == [total, "3.035"]
    assert ("answer", f'decimal = "{decimal}"') in [(fact.what, fact.value) for fact in after.facts]


@pytest.mark.parametrize(("name", "lines", "wanted"), ANSWERS, ids=[f"{row[0]} {row[1][0]}" for row in ANSWERS])
def test_an_answer_settles_its_question_for_good(name, lines, wanted, tmp_path):
    """The column is read, nothing is asked of it any more, and what was read before stands."""
    before, after = found(FOLDER / name), answered(name, lines, tmp_path)
    readings = {(item.what, float(item.value), item.place) for item in after.items}
    assert any(item[::2] == wanted[::2] and item[1] == pytest.approx(wanted[1]) for item in readings)
    assert {item.place for item in after.items} > {item.place for item in before.items}
    heading = lines[0].partition(" = ")[0]
    assert not [row for row in after.observations if f"{heading} = " in row["ask"]]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda lines: [lines[0]._replace(value="3013"), *lines[1:]], "wrong: cct 3012 at B2"),
        (lambda lines: [lines[0]._replace(state="serial=SA-09"), *lines[1:]], "serial SA-01, expected cct 3012"),
        (lambda lines: [lines[0]._replace(place="B9"), *lines[1:]], "silent: cct 3012 at B9"),
        (lambda lines: lines[1:], "wrong: cct 3012 at B2; serial SA-01 isn't expected"),
        (lambda lines: [*lines, lines[0]], "silent: cct 3012 at B2"),
        (lambda lines: [*lines, lines[0]._replace(outcome="asked", value="column_ambiguous")], "silent: nothing of"),
    ],
    ids=["value", "state", "place", "one too many", "one too few", "no question"],
)
def test_a_wrong_expectation_is_told(change, fault):
    faults = compare(change(EXPECTED["comma.csv"]), found(FOLDER / "comma.csv")).faults
    assert any(fault in line for line in faults), faults


def test_places_are_written_as_the_corpus_looks_for_them():
    assert place_text("Bench", 12, "C12") == "sheet 'Bench', row 12, cell C12"
