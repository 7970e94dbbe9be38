"""The audit in the terminal: a line per claim, the counts, and what a person has to look at."""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from audit import Report, Writer, hookimpl, wording
from audit.habit import say
from audit.model import Habit
from plugins.outputs import text

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

PIPE_WIDTH, WIDEST = 80, 120
MOST_URGENT, MOST_QUIET = 20, 5  # observations listed of tiers refer and major, and of minor and note
# Heading -> most columns that it may take; 0: what the others leave. The caps and the gaps make 73 of 80.
COLUMNS = {"claim": 8, "verdict": 12, "side": 6, "quantity": 0, "value": 12, "limit": 18, "margin": 10, "unit": 0}
LEAST = {"quantity": 4, "unit": 3}  # columns that the names keep
DISPENSABLE = ("side", "margin")  # go first where the terminal is narrower than all of it
MARK, MOST_MARKED = "*", 9  # heads the counts of decisions that stand beside findings; more than nine are a +
FIGURES = ("value", "limit", "margin")
STYLES = {
    "contradicted": "bold red",
    "overreaching": "magenta",
    "inconclusive": "yellow",
    "unevidenced": "dim",
    "supported": "cyan",
    "refer": "bold red",
    "major": "bold",
}


def write(report: Report) -> bytes:
    """Return the text for the terminal, as wide as the terminal (80 columns where there is none)."""
    console = _console()
    if text.claims_of(report.findings):
        _print_claims(console, report)
    elif not report.findings:
        _print_without_claims(console, report)
    for (name, product), findings in text.requirements_of(report.findings).items():
        _print_requirements(console, report, name, product, findings)
    if report.decisions:
        _print(console, decision_count(report.decisions))
    _print_observations(console, report.observations)
    assert isinstance(console.file, io.StringIO)
    lines = [line.rstrip() for line in console.file.getvalue().splitlines()]
    return ("\n".join(lines) + "\n").encode("utf-8")


def _console() -> Console:
    from rich.console import Console

    tty = sys.stdout.isatty()
    coloured = tty and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    width = min(shutil.get_terminal_size((PIPE_WIDTH, 24)).columns, WIDEST) if tty else PIPE_WIDTH
    return Console(
        file=io.StringIO(),
        width=width,
        force_terminal=coloured,
        color_system="standard" if coloured else None,
        no_color=not coloured,
        markup=False,
        highlight=False,
        emoji=False,
        legacy_windows=False,
    )


def _print(console: Console, words: str, style: str = "", indent: int = 0) -> None:
    from rich.padding import Padding
    from rich.text import Text

    console.print(Padding(Text(text.visible(words), style=style), (0, 0, 0, indent), expand=False))


def _print_claims(console: Console, report: Report) -> None:
    """Print the table of claims in the order of the products and claims, then the counts."""
    findings = text.in_order(text.claims_of(report.findings))
    for product in dict.fromkeys(finding["product"] for finding in findings):
        _print(console, product or "product not named", "bold")
        console.print(_table([finding for finding in findings if finding["product"] == product], console.width, report))
        console.print()
    _print(console, count_words(report), "bold")
    for reason, claims in text.claims_by_reason(findings).items():
        _print(console, f"{reason}: {', '.join(claims)}", indent=2)


def _print_requirements(
    console: Console, report: Report, name: str, product: str, findings: Sequence[Mapping[str, Any]]
) -> None:
    """Print what one set of requirements comes to on one product, its caution above and its open questions below."""
    console.print()
    _print(console, f"{name}: {product or 'product not named'}", "bold")
    for caution in findings[0]["criterion"]["cautions"][:1]:
        _print(console, caution)
    console.print(_table(findings, console.width, report, "requirement"))
    for group, outcome in text.group_outcomes(findings).items():
        _print(console, f"{group}: {outcome}", indent=2)
    console.print()
    _print(console, text.requirement_counts(findings), "bold")
    for reason, names in text.claims_by_reason(findings).items():
        _print(console, f"{reason}: {', '.join(names)}", indent=2)
    for ask in text.open_asks(findings):
        for line in ask.split("\n"):
            _print(console, line, indent=2)


def count_words(report: Report) -> str:
    """Return `12 claims: 3 contradicted, 8 supported, 1 not judged`."""
    unread, findings = text.claims_not_judged(report.observations), text.claims_of(report.findings)
    parts = [f"{count} {verdict}" for verdict, count in text.counts(findings).items()]
    parts += [f"{unread} not judged"] if unread else []
    return f"{wording.counted(len(findings) + unread, 'claim')}: {', '.join(parts)}"


def decision_count(decisions: Sequence[Mapping[str, Any]]) -> str:
    """Return `* 3 decisions beside the results, which stay as computed: 2 fit, 1 stale`."""
    stale = sum(bool(each["stale"]) for each in decisions)
    numbers = (("fit", len(decisions) - stale), ("stale", stale))
    told = ", ".join(f"{count} {word}" for word, count in numbers if count)
    return f"{MARK} {wording.counted(len(decisions), 'decision')} beside the results, which stay as computed: {told}"


def _table(findings: Sequence[Mapping[str, Any]], width: int, report: Report, first: str = "claim") -> Table:
    """Return the table of claims. Where it gets narrow, the names give way and the figures stay whole."""
    from rich.cells import cell_len
    from rich.table import Table
    from rich.text import Text

    cells = [_cells(finding, report.habit) for finding in findings]
    columns = COLUMNS | ({MARK: len(MARK)} if any(finding["decisions"] for finding in findings) else {})
    widths = {
        name: max(cell_len(text.visible(words)) for words in (heading, *(row[name] for row in cells)))
        for name, heading in ({name: name for name in columns} | {"claim": first}).items()
    }
    widths = {name: min(widths[name], columns[name] or widths[name]) for name in columns}

    def needed(names: Iterable[str]) -> int:
        return sum(min(widths[name], LEAST.get(name, widths[name])) + 1 for name in names) - 1

    shown = list(columns)
    for name in DISPENSABLE:
        if needed(shown) > width:
            shown.remove(name)
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="dim")
    for name in shown:
        width_there = widths[name] if columns[name] else None
        table.add_column(
            first if name == "claim" else name, width=width_there, justify="right" if name in FIGURES else "left"
        )
    for finding, row in zip(findings, cells, strict=True):
        line = {name: Text(text.visible(row[name]), no_wrap=True, overflow="ellipsis") for name in shown}
        line["verdict"].stylize(STYLES[finding["verdict"]])
        table.add_row(*line.values())
    return table


def _cells(finding: Mapping[str, Any], habit: Habit) -> dict[str, str]:
    """Return one line of the table; the unit has a column of its own, so that it never crowds out a digit."""
    bare, verdict = {**finding, "unit": ""}, finding["verdict"]
    return {
        "claim": text.short_id(finding),
        "verdict": text.REQUIREMENT_WORDS.get(verdict, verdict) if finding["criterion"] else verdict,
        "side": finding["side"].partition(" ")[0],  # meets, misses: "as measured" goes without saying here
        "quantity": text.quantity_name(finding["quantity"]),
        "value": say(habit, text.value_words(bare, with_uncertainty=False)),
        "limit": say(habit, text.limit_words(bare, text.RELATION_SIGNS)),
        "margin": say(habit, text.margin_words(bare)),
        "unit": wording.with_unit("", finding["unit"]).strip(),
        MARK: "+" if len(finding["decisions"]) > MOST_MARKED else str(len(finding["decisions"]) or ""),
    }


def _print_without_claims(console: Console, report: Report) -> None:
    read = sum(each["role"] == "evidence" for each in report.inputs)
    _print(
        console,
        f"No claims to judge. {wording.counted(len(report.readings), 'value')} read or computed "
        f"from {wording.counted(read, 'document')}.",
        "bold",
    )
    for each in report.missing:
        _print(console, f"missing: {each}", indent=2)


def _print_observations(console: Console, observations: Sequence[Mapping[str, str]]) -> None:
    """Print what is for a person to decide or to mend in full, and the rest as a short list."""
    ordered = text.by_tier(observations)
    urgent = [each for each in ordered if each["tier"] in ("refer", "major")]
    quiet = ordered[len(urgent) :]
    for each in urgent[:MOST_URGENT]:
        console.print()
        _print(console, f"{each['tier']}: {each['message']}", STYLES[each["tier"]])
        _print(console, place_words(each), indent=2)
        for line in each["ask"].split("\n"):  # an answer for columns.toml has a line of its own
            _print(console, line, indent=2)
    _print_rest(console, len(urgent) - MOST_URGENT)
    if quiet:
        minor = sum(each["tier"] == "minor" for each in quiet)
        numbers = (("minor question", minor), ("note", len(quiet) - minor))
        console.print()
        _print(console, ", ".join(wording.counted(count, noun) for noun, count in numbers if count) + ":")
        for each in quiet[:MOST_QUIET]:
            place = place_words(each)
            _print(console, f"{each['tier']}: {each['message']}" + (f" ({place})" if place else ""), indent=2)
        _print_rest(console, len(quiet) - MOST_QUIET)


def place_words(observation: Mapping[str, str]) -> str:
    """Return document and place of an observation, as far as it has them."""
    return ", ".join(part for part in (observation["document"], observation["place"]) if part)


def _print_rest(console: Console, count: int) -> None:
    if count > 0:
        _print(console, f"{count} more in the report", "dim", indent=2)


@hookimpl
def register_writers() -> Sequence[Writer]:
    return [Writer("terminal", "text for the terminal", None, write)]
