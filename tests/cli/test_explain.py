"""`claimlight explain`: everything that can be named is told, from where it is written down, on 80 columns."""

import csv
import importlib
import inspect
import re

import pytest
from click.testing import CliRunner

from audit.cli import main
from audit.explain import overview
from audit.model import REASONS, TIERS, VERDICTS
from audit.plugin_manager import load
from audit.register import quantity_register
from plugins.outputs import glossary

PLUGINS = load()
CHECKS = [check.name for check in PLUGINS.checks]


def explain(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["explain", *words])
    return result.exit_code, result.output


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_list_names_everything():
    code, output = explain()
    assert code == 0
    listed = set(re.findall(r"[\w-]+", output))
    for quantity in quantity_register().values():
        family = re.fullmatch(r"(\D+?)\d+", quantity.name)
        assert quantity.name in listed or family, quantity.name
    assert "r1 to r15" in output
    assert "rcs_h1 to rcs_h16" in output
    assert set(CHECKS) <= listed
    for word in (*VERDICTS, *REASONS, *TIERS):
        assert word in flat(output)


def test_the_list_gives_symbol_unit_and_title():
    line = next(line for line in explain()[1].splitlines() if line.startswith("  luminous_efficacy"))
    assert line.split(maxsplit=3) == ["luminous_efficacy", "η", "lm/W", "luminous efficacy"]


@pytest.mark.parametrize("quantity", quantity_register().values(), ids=lambda quantity: quantity.name)
def test_every_quantity_is_told_with_its_formula_and_source(quantity):
    assert quantity.formula
    assert "{}" not in quantity.formula
    code, output = explain(quantity.name)
    assert code == 0
    assert output.splitlines()[0].endswith(quantity.title)
    assert flat(quantity.formula) in flat(output)
    assert flat(quantity.source) in flat(output)
    assert "can't know" in output


@pytest.mark.parametrize("name", [*CHECKS, *quantity_register(), *VERDICTS, *REASONS, *TIERS])
def test_nothing_is_wider_than_80_columns(name):
    assert max(map(len, explain(name)[1].splitlines())) <= 80


def test_the_list_is_not_wider_than_80_columns():
    assert max(map(len, overview(PLUGINS).splitlines())) <= 80


@pytest.mark.parametrize("name", CHECKS)
def test_a_check_is_told_by_its_docstring(name):
    doc = importlib.import_module(f"plugins.checks.{name}").__doc__
    assert flat(inspect.cleandoc(doc)) in flat(explain(name)[1])


def test_what_a_check_cant_know_stands_with_its_quantities():
    told = flat(explain("duv")[1])
    assert "by the check chromaticity" in told
    assert "stray light" in told.partition("can't know")[2]
    assert "nothing here works it out" in explain("survival_factor")[1]


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("ra", "±1 (k = 2), ±0.2 between readings of one laboratory; status: MEMORY (chosen)"),
        ("ra", "may differ by 0.1 (chosen) and half a digit"),
        ("cct", "where x and y are known, by propagation"),
        ("cct", "else ±1 % of the value"),
        ("cct", "798 K to 1000000 K"),
        ("relative_light_output", "±0.02 % + 2 % of the value"),
        ("relative_light_output", "measured, perceived; without one, each is judged"),
        ("lumen_maintenance_life", "the claim has to state one"),
        ("frequency", "none is assumed"),
        ("luminous_flux", "full output, 25 °C"),
        ("luminous_flux", "the mean of the units"),
        ("case_temperature", "°C; also °F, K"),
    ],
)
def test_the_registers_settings_are_told(name, told):
    assert told in flat(explain(name)[1])


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("Ra", "ra"),
        ("R9", "r9"),
        ("R 9", "r9"),
        ("Rf", "rf"),
        ("DUV", "duv"),
        ("u'", "u_prime"),
        ("u′", "u_prime"),
        ("U", "voltage"),
        ("Rcs,h3", "rcs_h3"),
        ("rcs-h3", "rcs_h3"),
        ("Luminous Flux", "luminous_flux"),
        ("luminous-flux", "luminous_flux"),
        ("correlated colour temperature", "cct"),
        ("PstLM", "pst_lm"),
        ("Δu'v'", "chromaticity_shift"),
    ],
)
def test_case_dashes_symbols_and_titles_are_understood(asked, name):
    assert explain(asked) == explain(name)
    assert f"name         {name}\n" in explain(asked)[1]


def test_words_of_several_parts_need_no_quotes():
    assert explain("too", "few", "units") == explain("Too-Few-Units")
    assert flat(glossary.REASONS["too few units"]) in flat(explain("too", "few", "units")[1])


@pytest.mark.parametrize("verdict", VERDICTS)
def test_verdicts_are_told_as_reports_tell_them(verdict):
    assert flat(explain(verdict)[1]) == f"{verdict}: a verdict {glossary.VERDICTS[verdict]}"


@pytest.mark.parametrize(
    ("asked", "remedy"),
    [
        ("CRI", "did you mean 'ra'?"),
        ("contradictd", "did you mean 'contradicted'?"),
        ("luminous flow", "did you mean 'luminous_flux'?"),
        ("rendering", "did you mean 'rendition'?"),
        ("zzz", "lists the names"),
        ("?", "lists the names"),
    ],
)
def test_an_unknown_name_gets_the_nearest_one(asked, remedy):
    code, output = explain(asked)
    assert code == 2
    assert "there is nothing called" in output
    assert remedy in output


def test_a_symbol_of_several_names_them_all():
    code, output = explain("γ")
    assert code == 2
    assert "melanopic_der" in output
    assert "rhodopic_der" in output


SETS = {each.name: each for each in PLUGINS.requirements}


@pytest.mark.parametrize("name", SETS)
def test_a_set_is_told_with_its_clauses_conditions_and_statuses(name):
    code, output = explain(name)
    assert code == 0
    assert explain(name.casefold().replace(" ", "-")) == (0, output)
    assert max(map(len, output.splitlines())) <= 80
    told = flat(output)
    for words in (SETS[name].title, SETS[name].publication, SETS[name].edition, *SETS[name].cautions):
        assert words in told
    with SETS[name].table.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    for row in rows:
        for column in ("requirement_id", "clause", "applies_if", "status", "source", "note"):
            assert flat(row.get(column) or "") in told, (row["requirement_id"], column)
    for question in SETS[name].questions:
        assert flat(f"{question.key}: {question.text}") in told
    assert f"{name}  " in explain()[1] or name == max(SETS, key=len)


def test_a_limit_that_depends_on_what_is_declared_is_told_by_its_formula():
    told = flat(explain("EU 2019/2020")[1])
    assert "input power P: a limit from what is declared, Ponmax = C (L + Φuse / (F η)) R" in told
    assert "(a number in lm; the claim on useful_luminous_flux answers it)" in told


def test_a_set_that_cant_be_read_says_so(tmp_path):
    plugin = tmp_path / "house.py"
    plugin.write_text(
        "from pathlib import Path\nfrom audit import RequirementSet, hookimpl\n"
        "@hookimpl\ndef register_requirements():\n"
        "    return [RequirementSet('House', 'rules', 'House', '1', Path('/nowhere/house.csv'))]\n",
        encoding="utf-8",
    )
    code, output = explain("House", "--plugin", str(plugin))
    assert code == 0
    assert "Not read: nothing is judged against 'House'" in flat(output)
    assert str(plugin) in flat(output)


THIRD_PARTY = '''"""Is the light dull?

What it answers
    The share of dull light.
What it can't know
    Whether dullness matters.
"""
from audit import Check, Quantity, hookimpl

@hookimpl
def register_checks():
    return [Check("dull", "dullness of spectra", gives=(Quantity("dullness", "D", "dullness", "%"),), sources=("me",))]
'''


def test_a_third_partys_check_and_quantity_are_told(tmp_path):
    plugin = tmp_path / "dull.py"
    plugin.write_text(THIRD_PARTY, encoding="utf-8")
    _, check = explain("dull", "--plugin", str(plugin))
    assert "The share of dull light." in check
    assert "Sources\n    me" in check
    assert str(plugin) in flat(check)
    _, quantity = explain("dullness", "--plugin", str(plugin))
    assert "by the check dull: dullness of spectra" in flat(quantity)
    assert "Whether dullness matters." in quantity
    assert "none is written down" in quantity


def test_a_plugin_without_a_docstring_or_broken_stops_nothing(tmp_path):
    bare, broken = tmp_path / "bare.py", tmp_path / "broken.py"
    bare.write_text(THIRD_PARTY.rpartition('"""')[2], encoding="utf-8")
    broken.write_text("raise RuntimeError('out of order')", encoding="utf-8")
    code, output = explain("dull", "--plugin", str(bare), "--plugin", str(broken))
    assert code == 0
    assert "dull: dullness of spectra" in output
    assert "out of order" in output
