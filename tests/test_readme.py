"""What the README shows is what happens."""

import re
import tomllib
from pathlib import Path

from click.testing import CliRunner

import audit
from audit.answers import RESERVED
from audit.claim_cells import CONDITION_FIELDS
from audit.cli import main
from audit.model import VERDICTS
from plugins.ingest.headings import resolve_answer

HOME = Path(__file__).parents[1]
README = (HOME / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (HOME / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    fences = re.findall(r"^```(\w*)\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    return [block for name, block in fences if name == language]


def test_the_job_comes_first():
    title, paragraph = README.split("\n\n")[:2]
    assert title == "# Claimlight"
    assert all(f"**{verdict}**" in paragraph for verdict in VERDICTS)


def test_there_are_two_commands():
    assert len(blocks(README, "sh")) == 2


def test_the_printed_output_is_what_the_first_command_prints(tmp_path, monkeypatch):
    (tmp_path / "sample_reports").symlink_to(HOME / "sample_reports")
    monkeypatch.chdir(tmp_path)
    samples = re.findall(r"audit (sample_reports/\w+)", blocks(README, "sh")[0])
    printed = "".join(CliRunner().invoke(main, ["audit", sample]).output for sample in samples)
    assert blocks(README, "")[0].strip() == printed.strip()


def test_the_claims_sheet_and_the_table_shown_are_read(tmp_path):
    (tmp_path / "claims.csv").write_text(blocks(README, "")[1], encoding="utf-8")
    (tmp_path / "report.csv").write_text(blocks(README, "")[2], encoding="utf-8")
    result = CliRunner().invoke(main, ["audit", str(tmp_path), "--out", str(tmp_path / "out")])
    assert "3 claims: 1 unevidenced, 2 supported" in result.output
    assert "major" not in result.output


def test_the_answers_shown_are_read(tmp_path):
    """Every line is read, and unused for want of the documents; the meanings are known."""
    shown, _ = blocks(README, "toml")
    (tmp_path / "columns.toml").write_text(shown, encoding="utf-8")
    (tmp_path / "claims.csv").write_text(blocks(README, "")[1], encoding="utf-8")
    rules = [row["rule"] for row in audit.run(tmp_path).observations if row["made_by"] == "answers"]
    assert rules == ["answer_unused"] * len([line for line in shown.splitlines() if " = " in line])
    for heading, meaning in tomllib.loads(shown)["LR-0431*.xlsx"].items():
        assert heading in RESERVED or resolve_answer(meaning)


def test_the_answers_on_requirements_shown_are_read(tmp_path):
    """Every key and answer shown is one that a built-in set asks for; all but the product's name are used."""
    _, shown = blocks(README, "toml")
    (tmp_path / "claims.csv").write_text(blocks(README, "")[1], encoding="utf-8")
    (tmp_path / "applies.toml").write_text(shown, encoding="utf-8")
    run = audit.run(tmp_path, against=("EU 2019/2020", "Standard 189.1", "TM-30 Annex E"))
    assert [row for row in run.observations if row["made_by"] == "applies"] == []
    named = re.findall(r"`--against \"(.+?)\"`", README)
    assert named
    assert audit.run(tmp_path, against=named).findings


def test_the_decisions_shown_are_read(tmp_path):
    (tmp_path / "claims.csv").write_text(blocks(README, "")[1], encoding="utf-8")
    (tmp_path / "decisions.csv").write_text(blocks(README, "")[3], encoding="utf-8")
    run = audit.run(tmp_path)
    assert [row["decision"] for row in run.report.decisions] == ["accepted", "corrected", "rejected"]
    assert [row["rule"] for row in run.observations if row["made_by"] == "decisions"] == ["decision_stale"] * 3


def test_the_columns_named_are_columns():
    named = re.findall(r"`(\w+)`", README.split("Optional columns")[1].split("The documents beside")[0])
    known = {*CONDITION_FIELDS, "test_object", "statistic", "definition", "population_percent", "source", "note"}
    assert set(named) - known == set()


def test_the_check_shown_to_developers_works(tmp_path):
    plugin = tmp_path / "dullness.py"
    plugin.write_text(blocks(DEVELOPERS, "python")[0], encoding="utf-8")
    assert len(blocks(DEVELOPERS, "python")[0].splitlines()) < 30
    listed = CliRunner().invoke(main, ["plugins", "--plugin", str(plugin)]).output
    assert "dullness: share below 500 nm" in listed
    assert "failed" not in listed


def test_the_requirement_set_shown_to_developers_works(tmp_path):
    plugin = tmp_path / "marsh_rule_7.py"
    plugin.write_text(
        next(block for block in blocks(DEVELOPERS, "python") if "RequirementSet" in block), encoding="utf-8"
    )
    table = "requirement_id,clause,quantity,relation,value,applies_if\nR1,7.1,ra,at_least,90,room = archive\n"
    (tmp_path / "marsh_rule_7.csv").write_text(table, encoding="utf-8")
    folder = tmp_path / "papers"
    folder.mkdir()
    (folder / "report.csv").write_text(blocks(README, "")[2], encoding="utf-8")
    (folder / "applies.toml").write_text('["*"]\nroom = "archive"\n', encoding="utf-8")
    run = audit.run(folder, plugins=(plugin,), against=("marsh rule 7",))
    assert [(row["claim_id"], row["verdict"]) for row in run.findings] == [("Marshrule7-R1", "supported")]
