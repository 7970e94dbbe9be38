"""The command line. Help and version answer without loading numpy, pandas or any plugin."""

from __future__ import annotations

import gc
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from audit import __version__

if TYPE_CHECKING:
    from audit.model import Refusal, Writer
    from audit.plugin_manager import Plugins

JSON_LINES = "lines"  # the writer that --json gives the word to


def _finite(context: click.Context, parameter: click.Parameter, value: float) -> float:
    if not math.isfinite(value):
        raise click.BadParameter("it has to be a number above 0.5 and below 1", context, parameter)
    return value


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="claimlight")
def main() -> None:
    """Audit luminaire test reports: for each claim, whether the evidence carries it."""


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the report [claimlight-out/<folder name>].")
@click.option(
    "--confidence",
    type=click.FloatRange(0.5, 1, min_open=True, max_open=True),
    default=0.95,
    show_default=True,
    metavar="P",
    callback=_finite,
    help="One-sided confidence of a verdict.",
)
@click.option(
    "--rule",
    type=click.Choice(["guarded", "simple"]),
    default="guarded",
    show_default=True,
    help="guarded: uncertainty counts; simple: the measured side alone decides.",
)
@click.option(
    "--habit",
    type=click.Choice(["eu", "us"]),
    help="Decimal mark, units beside, dates, paper; without it 2.5, °C, 2026-05-31, A4.",
)
@click.option("--quiet", is_flag=True, help="Print nothing but errors; the exit status tells.")
@click.option("--json", "as_json", is_flag=True, help="Print findings and observations as JSON, one a line.")
@click.option("--plugin", "plugins", multiple=True, type=click.Path(path_type=Path), help="A single-file plugin.")
@click.option("--against", multiple=True, metavar="NAME", help="A requirement set, or a sheet of your own; repeatable.")
@click.option("--second-opinion", is_flag=True, help="Put the colour quantities of colour-science beside ours.")
def audit(
    folder: Path,
    out: Path | None,
    confidence: float,
    rule: str,
    habit: str | None,
    quiet: bool,
    as_json: bool,
    plugins: tuple[Path, ...],
    against: tuple[str, ...],
    second_opinion: bool,
) -> None:
    """Audit the claims sheet and the documents in FOLDER.

    Exit status: 0 every claim supported and nothing major observed; 1 otherwise; 2 the audit could not run.
    """
    if quiet and as_json:
        raise click.UsageError("--quiet prints nothing and --json prints lines: choose one of them")
    # Nothing that the imports below make is ever garbage: looking for some takes a tenth of a small audit.
    gc.disable()
    from audit.engine import run_audit
    from audit.habit import HABITS
    from audit.model import Habit, Refusal, Rule
    from audit.progress import Progress
    from audit.write import write_report

    gc.freeze()
    gc.enable()
    # An audit makes few cycles and many rows: looking after every 700 of them takes a tenth of it.
    gc.set_threshold(100_000, 20, 100)
    out = out or Path("claimlight-out") / (folder.resolve().name or "root")
    try:
        if out.resolve() == folder.resolve():
            raise Refusal(
                f"the report can't go into the audited folder '{folder}': the next audit would read it as a document",
                ask="name another folder with --out",
            )
        with Progress(not quiet) as progress:
            outcome = run_audit(folder, Rule(confidence, rule), plugins, against, progress.tell, second_opinion)
            report = replace(outcome.report, habit=HABITS[habit] if habit else Habit())
            writers = [each for each in outcome.plugins.writers if each.filename or _speaks(each, quiet, as_json)]
            text = write_report(report, writers, out, folder, progress.tell)
        _say(text if quiet or as_json else f"{text}Report: {out / 'report.html'}\n")
    except Refusal as refusal:
        _stop(refusal)
    except OSError as error:  # the terminal or pipe that the text goes to
        _stop(Refusal(f"the result can't be printed ({error.strerror or error})", ask=f"it is written to '{out}'"))
    sys.exit(outcome.exit_status)


@main.command()
@click.option("--plugin", "files", multiple=True, type=click.Path(path_type=Path), help="A single-file plugin.")
def plugins(files: tuple[Path, ...]) -> None:
    """List the readers, checks, writers and requirement sets, and where they come from."""
    from audit.model import Refusal
    from audit.plugin_manager import load

    try:
        found = load(files)
    except Refusal as refusal:
        _stop(refusal)
    for kind in ("readers", "checks", "writers", "requirements"):
        click.echo(kind)
        for item in getattr(found, kind):
            click.echo(f"  {item.name}: {item.title}\n    {found.origins[f'{kind[:-1]} {item.name}']}")
    for origin, fault in found.faults.items():
        click.echo(f"failed: {origin}\n    {fault}")
    sys.exit(1 if found.faults else 0)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--plugin", "files", multiple=True, type=click.Path(path_type=Path), help="A single-file plugin.")
def new(folder: Path, files: tuple[Path, ...]) -> None:
    """Make FOLDER with a claims workbook to fill in: explained columns, drop-downs, examples.

    A folder that has a claims sheet already is left alone. Exit status: 0 made; 2 not made.
    """
    from audit.model import Refusal
    from audit.new import make_folder

    try:
        _say(make_folder(folder, _loaded(files).quantities()))
    except Refusal as refusal:
        _stop(refusal)


@main.command()
@click.argument("name", nargs=-1)
@click.option("--plugin", "files", multiple=True, type=click.Path(path_type=Path), help="A single-file plugin.")
def explain(name: tuple[str, ...], files: tuple[Path, ...]) -> None:
    """Tell what NAME means: a quantity, a check, a verdict or a reason; without NAME, list them.

    Exit status: 0 told; 2 nothing is called so.
    """
    from audit.explain import explain as tell
    from audit.explain import overview
    from audit.model import Refusal

    try:
        found = _loaded(files)
        _say(tell(found, " ".join(name)) if name else overview(found))
    except Refusal as refusal:
        _stop(refusal)


def _loaded(files: tuple[Path, ...]) -> Plugins:
    """Load the plugins and tell which of them failed. Raises Refusal."""
    from audit.plugin_manager import load

    found = load(files)
    for origin, fault in found.faults.items():
        click.echo(f"claimlight: the plugin {origin} can't be used ({fault})", err=True)
    return found


def _speaks(writer: Writer, quiet: bool, as_json: bool) -> bool:
    """Whether a writer of text has the word: the one of JSON lines with --json, else the others, none with --quiet."""
    return not quiet and (writer.name == JSON_LINES) == as_json


def _say(text: str) -> None:
    """Print text also where the terminal's encoding lacks some of its characters."""
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding))
    sys.stdout.flush()


def _stop(refusal: Refusal) -> NoReturn:
    """End with status 2: what is wrong, where, and what to do."""
    place = f" ({refusal.place})" if refusal.place else ""
    click.echo(f"claimlight: {refusal.message}{place}" + (f"\n  {refusal.ask}" if refusal.ask else ""), err=True)
    sys.exit(2)
