"""Plugins: first and third party take one road; a broken one is named and the rest go on."""

import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from audit.model import Refusal
from audit.plugin_manager import load

HEADER = "from audit import Check, Quantity, Reader, Writer, Tables, hookimpl\n"


def plugin(tmp_path: Path, name: str, text: str) -> Path:
    file = tmp_path / f"{name}.py"
    file.write_text(HEADER + textwrap.dedent(text), encoding="utf-8")
    return file


def check(name: str, gives: str, needs: str = "") -> str:
    return f"""
        @hookimpl
        def register_checks():
            quantity = Quantity("{gives}", "", "{gives}", "1")
            return [Check("{name}", "{name}", needs=("{needs}",), gives=(quantity,))]
    """


def test_the_built_in_plugins_load_without_a_fault():
    found = load()
    assert found.faults == {}
    assert {"chromaticity", "rendition", "recomputation"} <= {each.name for each in found.checks}
    assert {"findings", "page", "terminal"} <= {each.name for each in found.writers}
    assert found.readers


def test_a_third_party_check_adds_its_quantity(tmp_path):
    found = load([plugin(tmp_path, "good", check("gloom", "gloom_factor"))])
    assert "gloom_factor" in found.quantities()
    assert found.giver()["gloom_factor"].name == "gloom"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("raise RuntimeError('out of order')", "RuntimeError: out of order"),
        ("@hookimpl\ndef register_chekcs():\n    return []", "register_chekcs"),
        ("@hookimpl\ndef register_checks(folder):\n    return []", "folder"),
        ("@hookimpl\ndef register_checks():\n    return ['a check']", "must return Check"),
        ("@hookimpl\ndef register_checks():\n    return [Check('rendition', 'twice')]", "check rendition already"),
    ],
    ids=["import error", "misspelt hook", "unknown argument", "wrong descriptor", "name taken"],
)
def test_a_broken_plugin_is_named_and_the_rest_go_on(tmp_path, text, told):
    bad, good = plugin(tmp_path, "bad", text), plugin(tmp_path, "good", check("gloom", "gloom_factor"))
    found = load([bad, good])
    assert list(found.faults) == [str(bad)]
    assert told in found.faults[str(bad)]
    assert "gloom_factor" in found.quantities()


def test_two_givers_of_one_quantity_are_refused_naming_both(tmp_path):
    twice = plugin(tmp_path, "twice", check("my_ra", "ra"))
    with pytest.raises(Refusal, match=r"'rendition'.*'my_ra'|'my_ra'.*'rendition'"):
        load([twice])


def test_checks_that_need_each_other_are_refused(tmp_path):
    one = plugin(tmp_path, "one", check("egg", "egg_count", needs="hen_count"))
    other = plugin(tmp_path, "other", check("hen", "hen_count", needs="egg_count"))
    with pytest.raises(Refusal, match="need each other"):
        load([one, other])


def test_a_check_derives_after_the_one_it_needs(tmp_path):
    late = plugin(tmp_path, "late", check("aaa", "late_count", needs="ra"))
    order = [each.name for each in load([late]).checks]
    assert order.index("rendition") < order.index("aaa")


THIRD_PARTY = '''
"""Is the light dull: a made-up measure, the share of power below 500 nm."""

from audit import Check, Computed, Evidence, Quantity, Tables, hookimpl

DULLNESS = Quantity("dullness", "D", "dullness", "%", uncertainty_absolute=1.0, source="made up for a test")


def derive(evidence: Evidence) -> Tables:
    computed = Computed(evidence, "dullness")
    for rows, grid in computed.spectra():
        below = grid.power[:, grid.wavelength_nm < 500].sum(axis=1)
        computed.add(rows, {"dullness": 100 * below / grid.power.sum(axis=1)})
    return computed.tables()


@hookimpl
def register_checks() -> list[Check]:
    return [Check("dullness", "share below 500 nm", ("spectra",), (DULLNESS,), derive=derive)]
'''
PROJECT = """
[build-system]
requires = ["hatchling"]
build-backend = "hatchling.build"
[project]
name = "dullness"
version = "0.2.0"
[project.entry-points.claimlight]
dullness = "dullness"
"""


def test_a_third_party_distribution_of_two_files_is_installed_and_judges(tmp_path):
    source = tmp_path / "dullness"
    source.mkdir()
    (source / "dullness.py").write_text(THIRD_PARTY, encoding="utf-8")
    (source / "pyproject.toml").write_text(PROJECT, encoding="utf-8")
    lines = [line for text in (THIRD_PARTY, PROJECT) for line in text.splitlines() if line.strip()]
    assert len(lines) < 30
    target = tmp_path / "site"
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-index", "--no-build-isolation", "--no-deps"]
    subprocess.run([*pip, "--target", str(target), str(source)], check=True)
    folder = tmp_path / "folder"
    shutil.copytree(Path(__file__).parents[2] / "sample_reports" / "store_room", folder)
    claims = folder / "claims.csv"
    claims.write_text("claim_id,quantity,relation,value,unit\nD1,dullness,at_most,60,%\n", encoding="utf-8")
    script = (
        "import sys, audit; run = audit.run(sys.argv[1]); "
        "print(run.findings[0]['verdict'], run.plugins.origins['check dullness'])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(folder)],
        env={"PYTHONPATH": f"{target}:{Path(__file__).parents[2]}", "PATH": ""},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "supported dullness (dullness 0.2.0)"


def shown(tmp_path: Path, text: str) -> tuple[list[str], list[dict[str, str]]]:
    """Return the names of a plugin's figures in the report on a small folder, and what was observed of the plugin."""
    import audit

    papers = tmp_path / "papers"
    papers.mkdir()
    (papers / "report.csv").write_text("serial,Ra\n1,93\n", encoding="utf-8")
    run = audit.run(papers, plugins=(plugin(tmp_path, "shows", "from audit import Axis, Figure, Mark\n" + text),))
    observed = [row for row in run.observations if row["subject"] == "shows"]
    return [figure.name for figure in run.report.figures], observed


SHOWS = """
def judge(case):
    mark = Mark("points", "gauge", (1, 2), {y}, "measured")
    figure = Figure("flood", "Flood", Axis("hours"), Axis("height"), [mark], "The water rises.")
    return Tables(figures=[figure{more}])

@hookimpl
def register_checks():
    return [Check("shows", "shows a figure", judge=judge)]
"""


def test_a_checks_figures_reach_the_report(tmp_path):
    assert shown(tmp_path, SHOWS.format(y="(1, 2)", more="")) == (["flood"], [])


def test_a_figure_that_cant_be_is_the_checks_own_error(tmp_path):
    names, observed = shown(tmp_path, SHOWS.format(y="(1,)", more=""))
    assert names == []
    assert [row["rule"] for row in observed] == ["check_failed"]
    assert "y don't fit" in observed[0]["message"]


def test_what_is_no_figure_is_left_out_and_told(tmp_path):
    names, observed = shown(tmp_path, SHOWS.format(y="(1, 2)", more=", 'a drawing'"))
    assert names == ["flood"]
    assert [(row["rule"], row["tier"]) for row in observed] == [("figure_left_out", "note")]
