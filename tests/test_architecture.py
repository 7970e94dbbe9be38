"""The house rules: layers, file lengths, what is loaded when, docstrings of checks."""

import ast
import importlib
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest

HOME = Path(__file__).parents[1]
PACKAGES = ("audit", "plugins", "schemas")
SOURCES = sorted(path for package in PACKAGES for path in (HOME / package).rglob("*.py"))
HEAVY = ("numpy", "pandas", "pandera", "scipy", "colour", "matplotlib", "pint", "openpyxl", "jinja2", "rich")
CHECK_HEADINGS = ["What it answers", "Why it matters", "Evidence needed", "Method", "What it can't know", "Sources"]
CHECKS = [
    path.stem
    for path in sorted((HOME / "plugins" / "checks").glob("*.py"))
    if "def register_checks" in path.read_text(encoding="utf-8")
]
MODULES = [
    f"plugins.{room}.{module.name}"
    for room in ("ingest", "checks", "outputs", "requirements")
    for module in pkgutil.iter_modules([str(HOME / "plugins" / room)])
]


def loaded_after(statement: str) -> set[str]:
    """Return the top-level modules that a fresh interpreter has loaded after a statement."""
    code = f"{statement}\nimport sys; print(' '.join(sorted({{name.partition('.')[0] for name in sys.modules}})))"
    done = subprocess.run([sys.executable, "-c", code], cwd=HOME, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_layers():
    # The module has no entry of its own: run with -m it would check nothing and succeed.
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()", "--no-cache"]
    done = subprocess.run(command, cwd=HOME, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(HOME)))
def test_no_file_is_longer_than_400_lines(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


@pytest.mark.parametrize("statement", ["import audit", "import audit.cli", "import audit.model, audit.hooks"])
def test_start_up_loads_nothing_heavy(statement):
    assert loaded_after(statement) & {*HEAVY, "plugins", "schemas"} == set()


@pytest.mark.parametrize("command", ["audit", "new", "explain", "plugins"])
def test_help_loads_nothing_heavy(command):
    quiet = "import io, contextlib\nwith contextlib.redirect_stdout(io.StringIO()):\n    "
    call = f"from audit.cli import main; main([{command!r}, '--help'], standalone_mode=False)"
    assert loaded_after(quiet + call) & {*HEAVY, "plugins"} == set()


def test_an_audit_never_loads_colour_science():
    folder = HOME / "sample_reports" / "store_room"
    assert not loaded_after(f"import audit; audit.run({str(folder)!r})") & {"colour", "matplotlib", "pint"}


@pytest.mark.parametrize("module", MODULES)
def test_a_plugin_module_is_importable_alone_and_stays_light(module):
    assert not loaded_after(f"import {module}") & (set(HEAVY) - {"numpy"})


@pytest.mark.parametrize("name", CHECKS)
def test_a_check_says_what_it_answers(name):
    docstring = importlib.import_module(f"plugins.checks.{name}").__doc__ or ""
    headings = [line for line in docstring.splitlines()[1:] if re.match(r"[A-Z]", line)]
    assert docstring.splitlines()[0].endswith("?")
    assert headings == CHECK_HEADINGS


def test_no_public_name_hides_a_submodule():
    import audit

    modules = {module.name for module in pkgutil.iter_modules(audit.__path__)}
    assert not modules & set(audit.__all__)


def test_every_public_name_is_there():
    import audit

    assert [name for name in audit.__all__ if getattr(audit, name, None) is None] == []


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(HOME)))
def test_public_functions_and_classes_say_what_they_do(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    bare = [
        node.name
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith(("_", "register_"))
        and not ast.get_docstring(node)
    ]
    assert bare == []
    assert path.stem == "__init__" or ast.get_docstring(tree)
