"""columns.toml: what a person answers is used without another question, each fault is said with its line."""

from __future__ import annotations

import hashlib
import html
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

import audit
from audit import answers
from audit.answers import Answer, answer_line, answers_for, question, read_answers, used_by
from audit.cli import main
from audit.model import Document
from audit.recorder import Recorder

CLAIMS = "claim_id,product,quantity,relation,value\nA,Sedge,case_temperature,at_most,90\n"


def document(path: Path, name: str = "") -> Document:
    raw = path.read_bytes()
    return Document(name or path.name, path, len(raw), hashlib.sha256(raw).hexdigest())


def read_lines(
    tmp_path: Path, text: str | bytes, *papers: str
) -> tuple[dict[str, dict[str, str]], list[dict[str, str]]]:
    """Return document -> its answers, and what was observed, for a columns.toml of this text."""
    path = tmp_path / "columns.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    notes = Recorder(Document.nowhere())
    others = [Document(name, tmp_path / name, 0, "0" * 64) for name in papers or ("a.csv",)]
    given_out, _ = read_answers([document(path), *others], notes)
    assert "columns.toml" not in [other.path for other in given_out]
    return {other.path: dict(other.answers) for other in given_out}, notes.observations


def folder_with(tmp_path: Path, **files: str) -> Path:
    folder = tmp_path / "papers"
    folder.mkdir(exist_ok=True)
    (folder / "claims.csv").write_text(CLAIMS, encoding="utf-8")
    for name, text in files.items():
        (folder / name.replace("__", ".")).write_text(text, encoding="utf-8")
    return folder


def observed(run: audit.Audit, *rules: str) -> list[dict[str, str]]:
    return [row for row in run.observations if row["rule"] in rules]


def test_the_line_of_a_question_settles_it_for_good(tmp_path):
    """Ask, copy one line of the question into columns.toml, ask again: the column is used, and no question is left."""
    folder = folder_with(tmp_path, report__csv="serial,Tc,Ra\n1,68.4,91\n")
    (asked,) = observed(audit.run(folder), "column_ambiguous")
    header = next(line for line in asked["ask"].splitlines() if "[" in line).partition("below the line ")[2]
    chosen = next(line for line in asked["ask"].splitlines() if "case_temperature" in line)
    (folder / "columns.toml").write_text(f"{header.partition('],')[0]}]\n{chosen}\n", encoding="utf-8")
    run = audit.run(folder)
    assert [row for row in run.observations if row["subject"] == "Tc"] == observed(run, "answer_used")
    assert observed(run, "column_ambiguous", "answer_unused", "answer_not_read") == []
    assert [(row["verdict"], row["value"]) for row in run.findings] == [("supported", 68.4)]
    assert [row["role"] for row in run.report.inputs] == ["claims", "answers", "evidence"]


def test_terminal_and_page_show_the_lines_as_lines(tmp_path):
    folder = folder_with(tmp_path, report__csv="serial,Tc,Ra\n1,68.4,91\n")
    shown = CliRunner().invoke(main, ["audit", str(folder), "--out", str(tmp_path / "out")]).output
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    for line in ('"Tc" = "cct"', '"Tc" = "case_temperature"'):
        assert line in [each.strip() for each in shown.splitlines()]
        assert f"<code>{html.escape(line).replace('&quot;', '&#34;')}</code>" in page


@pytest.mark.parametrize(
    ("table", "lines", "quantity", "values"),
    [
        ("serial,P\n1,12.4\n", ['"P" = "input_power [W]"'], "input_power", [12.4]),
        ("serial,P\n1,12400\n", ['"P" = "input_power [mW]"'], "input_power", [12.4]),
        ("serial,Duv\n1,-2.9\n", ['"Duv" = "duv [1e-3]"'], "duv", [-0.0029]),
        ('serial,Flux (lm)\n1,"1,301"\n', ['decimal = "."'], "luminous_flux", [1301]),
        ('serial,Flux (lm)\n1,"1,301"\n', ['decimal = ","'], "luminous_flux", [1.301]),
        ("serial,Lumen maintenance\n1,0.97\n", ['"Lumen maintenance" = "flux_ratio [fraction]"'], "flux_ratio", [97]),
        ("serial,Mood\n1,91\n", ['"Mood" = "ra"'], "ra", [91]),
        ("Wer,Was\n1,91\n", ['"Wer" = "serial"', '"Was" = "ra"'], "ra", [91]),
        ("serial,Rated flux (lm)\n1,1300\n", ['"Rated flux (lm)" = "luminous_flux"'], "luminous_flux", [1300]),
        ("serial,v\n1,0.405\n", ['"v" = "v_prime"'], "v_prime", [0.405]),
    ],
)
def test_answers_of_every_kind(table, lines, quantity, values, tmp_path):
    name = "bench 1.csv"
    folder = folder_with(tmp_path)
    (folder / name).write_text(table, encoding="utf-8")
    (folder / "columns.toml").write_text("\n".join([f'["{name}"]', *lines]), encoding="utf-8")
    run = audit.run(folder)
    found = [row["value"] for row in run.report.readings if row["quantity"] == quantity]
    assert found == pytest.approx(values)
    assert observed(run, "answer_unused", "answer_not_read", "column_ambiguous", "column_not_read") == []
    used = run.evidence.metadata
    assert used.loc[used["key"] == "answer", "value"].tolist() == lines


def test_ignored_columns_are_neither_read_nor_asked_nor_listed(tmp_path):
    folder = folder_with(tmp_path, report__csv="serial,Ra,Tc,Mood\n1,91,70,calm\n")
    (folder / "columns.toml").write_text('["*"]\n"Tc" = "ignore"\n"Mood" = "ignore"\n', encoding="utf-8")
    run = audit.run(folder)
    assert observed(run, "column_ambiguous", "column_unknown", "answer_unused") == []
    assert [row["quantity"] for row in run.report.readings] == ["ra"]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ('["report.csv"]\n"Tcc" = "cct"', "no such column"),
        ('["raport.csv"]\n"Tc" = "cct"', "no document that was read has the name 'raport.csv'"),
        ('["report.csv"]\ndecimal = ","', "nothing was open"),
        ('["report.csv"]\n"tc" = "cct"', "no such column"),
    ],
)
def test_lines_that_settle_nothing_are_said_with_their_line(line, why, tmp_path):
    folder = folder_with(tmp_path, report__csv="serial,Tc,Ra\n1,68.4,91\n")
    (folder / "columns.toml").write_text(line, encoding="utf-8")
    (found,) = observed(audit.run(folder), "answer_unused")
    assert (found["tier"], found["document"], found["place"]) == ("minor", "columns.toml", "line 2")
    assert why in found["message"]


def test_an_answer_to_no_known_meaning_is_said_where_the_column_stands(tmp_path):
    folder = folder_with(tmp_path, report__csv="serial,Tc,Ra\n1,68.4,91\n")
    (folder / "columns.toml").write_text('["*"]\n"Tc" = "case_temperatur"\n', encoding="utf-8")
    run = audit.run(folder)
    (found,) = observed(run, "column_not_read")
    assert "is 'case_temperature' meant?" in found["message"]
    assert observed(run, "answer_unused") == []
    assert [row["quantity"] for row in run.report.readings] == ["ra"]


def test_the_closest_name_wins(tmp_path):
    text = (
        '["b.csv"]\n"T" = "one"\n["*"]\n"T" = "all"\n"U" = "all"\n["b*"]\n"T" = "some"\n["a?.csv"]\n"T" = "pattern"\n'
    )
    found, said = read_lines(tmp_path, text, "b.csv", "bb.csv", "sub/b.csv", "c.csv", "a[1].csv", "a1.csv")
    assert said == []
    assert [found[name]["T"] for name in ("b.csv", "bb.csv", "sub/b.csv", "c.csv")] == ["one", "some", "one", "all"]
    assert (found["a1.csv"]["T"], found["a[1].csv"]["T"]) == ("pattern", "all")


def test_names_with_brackets_and_points_are_themselves():
    paper = Document("a[1].csv", Path(), 0, "0" * 64)
    assert answers_for(paper, [Answer("a[1].csv", "T", "cct", 2)]) == {"T": "cct"}


@pytest.mark.parametrize(
    ("text", "line", "fault"),
    [
        ('"Tc" = "cct"', 1, "below no document's name"),
        ('[LR-0431.csv]\n"Tc" = "cct"', 1, "needs quotes"),
        ('["a.csv"]\n"Tc" = cct', 2, "can't be read"),
        ('["a.csv"]\nTc.K = "cct"', 2, "needs quotes"),
        ('["a.csv"]\n"Tc" = 3', 2, "is no text"),
        ('["a.csv"]\n"Tc" = ["cct"]', 2, "is no text"),
        ('["a.csv"]\n"Tc" = {x = "cct"}', 2, "needs quotes"),
        ('["a.csv"]\n"Tc" = ""', 2, "blank"),
        ('["a.csv"]\n"" = "cct"', 2, "blank"),
        ('["a.csv"]\n"Tc" = "cct"\n"Tc" = "case_C"', 3, "another meaning"),
        ('["a.csv"]\ndecimal = "comma"', 2, "decimal is 'comma'"),
        ('["a.csv"]\ndates = "yes"', 2, "day first"),
        ('["a.csv"]\n“Tc” = “cct”', 2, "straight quotes"),
        ('["a.csv"]\n"Tc" = "' + "x" * 3000 + '"', 2, "longer than"),
        ('["a.csv"]\nx = ' + "[" * 1900, 2, "can't be read"),
        ('["a.csv"]\n"T\x07" = "cct"', 2, "can't be read"),
    ],
)
def test_a_fault_costs_its_line_and_is_said_with_its_number(text, line, fault, tmp_path):
    found, said = read_lines(tmp_path, text + '\n["a.csv"]\n"Good" = "ra"')
    assert found["a.csv"]["Good"] == "ra"
    assert any(row["place"] == f"line {line}" and fault in row["message"] + row["ask"] for row in said)
    assert {row["tier"] for row in said} == {"major"}
    assert all(row["ask"] for row in said)


@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_marks_comments_and_repeated_names(mark, tmp_path):
    text = (
        f'{mark}# answers\r\n["a.csv"]\r\n"Tc" = "cct"  # sure\r\n\r\n["b.csv"]\r\n["a.csv"]\r\n"P" = "input_power"\r\n'
    )
    found, said = read_lines(tmp_path, text)
    assert found == {"a.csv": {"Tc": "cct", "P": "input_power"}}
    assert said == []


@pytest.mark.parametrize("text", [b"x" * 300_000, b"\n" * 6_000])
def test_a_file_too_large_is_refused_as_a_whole(text, tmp_path):
    found, (said,) = read_lines(tmp_path, text)
    assert found == {"a.csv": {}}
    assert (said["rule"], said["tier"]) == ("answer_not_read", "major")


def test_one_in_a_folder_below_is_said(tmp_path):
    (tmp_path / "columns.toml").write_text('["*"]\n"Tc" = "cct"\n', encoding="utf-8")
    notes = Recorder(Document.nowhere())
    others, lines = read_answers([document(tmp_path / "columns.toml", "sub/columns.toml")], notes)
    assert (others, lines) == ([], [])
    assert "folder below" in notes.observations[0]["message"]


@given(st.text(max_size=60).filter(lambda text: " ".join(text.split())), st.text(max_size=60).filter(str.strip))
def test_every_heading_and_meaning_can_be_written_as_a_line(heading, meaning):
    """Quotes, backslashes, control characters and emoji survive the way into columns.toml and back."""
    if heading in answers.RESERVED:
        return
    line = answer_line(heading, meaning)
    assert "\n" not in line
    found = answers.LINES.parse(line)
    assert found == (" ".join(heading.split()), meaning.strip())
    assert used_by(dict([found]), heading) == found[0]


@given(st.binary(max_size=400))
def test_no_file_stops_the_audit(tmp_path_factory, raw):
    found, _ = read_lines(tmp_path_factory.mktemp("answers"), raw)
    assert set(found) == {"a.csv"}


def test_a_question_names_the_document_and_the_lines():
    paper = Document('odd "name".csv', Path(), 0, "0" * 64)
    asked = question(paper, [answer_line("Tc", "cct"), answer_line("Tc", "case_C", "°C")])
    assert asked.splitlines()[1:] == ['"Tc" = "cct"', '"Tc" = "case_C"  # °C']
    assert '["odd \\"name\\".csv"]' in asked


def test_one_line_says_what_many_columns_without_headings_are(tmp_path):
    """A matrix of twenty spectra is settled by the two lines that the question shows, and no line is left unused."""
    rows = "".join(f"{380 + 5 * row}," + ",".join(str(0.1 + row / 100) for _ in range(20)) + "\n" for row in range(81))
    folder = folder_with(tmp_path, spectra__csv=rows)
    (asked,) = observed(audit.run(folder), "no_header")
    lines = [line.partition("  #")[0] for line in asked["ask"].splitlines() if line.startswith('"')]
    assert lines == ['"column 1" = "spd_wavelength"', '"columns 2 to 21" = "spd_value"']
    (folder / "columns.toml").write_text("\n".join(['["spectra.csv"]', *lines]), encoding="utf-8")
    run = audit.run(folder)
    assert len(run.evidence.spectra) == 20
    # Another document's second column is another unit's.
    assert set(run.evidence.points["serial"]) == {f"column {at} of spectra.csv" for at in range(2, 22)}
    assert observed(run, "no_header", "answer_unused", "column_unknown") == []


@pytest.mark.parametrize("heading", ["columns 5 to 2", "columns 30 to 40"])
def test_a_range_without_a_column_is_remarked_on(tmp_path, heading):
    folder = folder_with(tmp_path, a__csv="1,2\n3,4\n5,6\n")
    (folder / "columns.toml").write_text(f'["a.csv"]\n"{heading}" = "ra"\n', encoding="utf-8")
    (unused,) = observed(audit.run(folder), "answer_unused")
    assert heading in unused["message"]
