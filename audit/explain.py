"""`claimlight explain`: what quantities, checks, requirement sets and the words of verdicts mean, as written down."""

from __future__ import annotations

import difflib
import inspect
import math
import re
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from audit.claims import Criterion, fold
from audit.definitions import TRANSFORMS
from audit.model import Check, Document, Quantity, Question, Refusal, RequirementSet
from audit.plugin_manager import Plugins
from audit.recorder import Recorder
from audit.register import TRADE_WORDS
from audit.requirements import Requirement, asked_for, read_requirements
from audit.standings import STANDINGS
from audit.units import offered
from audit.wording import claim_sentence, with_unit

WIDTH = 80
LABEL = 15  # columns of a line's label
UNKNOWABLE = "What it can't know"
BETTER = {"higher": "the higher, the better", "lower": "the lower, the better", "": "neither higher nor lower"}
DECIDED = {
    "each unit": "each unit has to meet the limit, and the worst decides, unless the claim says otherwise",
    "mean of units": "the mean of the units has to meet the limit, unless the claim says otherwise",
}
BLANK = {
    "rated": "full output, 25 °C, new, all channels, the whole product",
    "any": "every state that was measured",
}


class Topic(NamedTuple):
    """Something that can be explained: its name, what else it is called, and how it is told."""

    name: str
    spellings: tuple[str, ...]
    tell: Callable[[], str]


def overview(plugins: Plugins) -> str:
    """Return quantities, checks and requirement sets, a line or two each, and the words of verdicts; 80 columns."""
    rows = [_family(members) for members in _families(plugins.quantities().values())]
    widths = [max(len(row[at]) for row in rows) for at in range(3)]
    lines = ["Quantities: what a claim can be about"]
    for *cells, title in rows:
        head = "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True))
        lines.append(_hanging(f"  {head}  ", title))
    lines += ["", "Checks: what is computed and compared"]
    width = max(len(check.name) for check in plugins.checks)
    lines += [_hanging(f"  {check.name:<{width}}  ", check.title) for check in plugins.checks]
    lines += ["", "Requirement sets: what `audit --against NAME` puts products to"]
    width = max((len(each.name) for each in plugins.requirements), default=0)
    lines += [_hanging(f"  {each.name:<{width}}  ", each.title) for each in plugins.requirements]
    for kind, words in _glossary().items():
        lines += ["", f"Words: each is a {kind}", _hanging("  ", ", ".join(words))]
    return "\n".join([*lines, "", "`claimlight explain NAME` tells more of each."]) + "\n"


def explain(plugins: Plugins, name: str) -> str:
    """Return what `name` means, at most 80 columns wide. Raises Refusal, with the nearest name, for an unknown one.

    It may be a name, a symbol or a title, in any case and with any dashes, as long as it means one thing.
    """
    topics = _topics(plugins)
    asked = name.strip().replace("\u2032", "'")
    ways: tuple[Callable[[Topic], bool], ...] = (
        lambda topic: asked == topic.name,
        lambda topic: asked in topic.spellings,
        lambda topic: _loose(asked) in map(_loose, topic.spellings),
    )
    for same in ways:
        found = [topic for topic in topics if _loose(asked) and same(topic)]
        if len(found) == 1:
            return found[0].tell()
        if found:
            raise Refusal(
                f"'{name}' can mean {', '.join(topic.name for topic in found)}", ask="name one of them: explain NAME"
            )
    close = _nearest(asked, topics)
    raise Refusal(
        f"there is nothing called '{name}' to explain",
        ask=f"did you mean '{close}'?" if close else "`claimlight explain` lists the names",
    )


def _topics(plugins: Plugins) -> list[Topic]:
    topics = [
        Topic(
            quantity.name,
            tuple(filter(None, (quantity.name, quantity.symbol, quantity.title))),
            partial(_quantity, quantity, plugins),
        )
        for quantity in plugins.quantities().values()
    ]
    topics += [
        Topic(check.name, (check.name, check.title), partial(_check, check, plugins)) for check in plugins.checks
    ]
    topics += [Topic(each.name, (each.name, each.title), partial(_set, each, plugins)) for each in plugins.requirements]
    for kind, words in _glossary().items():
        topics += [Topic(word, (word,), partial(_word, word, kind, text)) for word, text in words.items()]
    return topics


def _glossary() -> dict[str, dict[str, str]]:
    """The words of findings and observations with their meanings: the sentences that every report prints."""
    from plugins.outputs.glossary import REASONS, TIERS, VERDICTS

    return {"verdict": VERDICTS, "reason beside a verdict": REASONS, "tier of an observation": TIERS}


def _word(word: str, kind: str, meaning: str) -> str:
    return f"{word}: a {kind}\n{_hanging('  ', meaning)}\n"


def _loose(text: str) -> str:
    return "".join(char for char in text.casefold() if char.isalnum())


def _nearest(asked: str, topics: Sequence[Topic]) -> str:
    names = {spelling.casefold(): topic.name for topic in topics for spelling in topic.spellings}
    trade = TRADE_WORDS.get(fold(asked), "")
    close = difflib.get_close_matches(asked.casefold(), names, n=1, cutoff=0.6)
    return trade or (names[close[0]] if close else "")


def _quantity(quantity: Quantity, plugins: Plugins) -> str:
    check = plugins.giver().get(quantity.name)
    told = _sections(plugins.docs[f"check {check.name}"]) if check else {}
    units = [unit for unit in offered(quantity.unit)[1:] if unit]
    facts = {
        "name": quantity.name,
        "formula": quantity.formula or "none is written down",
        "unit": quantity.unit + (f"; also {', '.join(units)}" if units else ""),
        "better": BETTER.get(quantity.direction, quantity.direction),
        "statistic": DECIDED.get(quantity.statistic, quantity.statistic),
        "blank means": BLANK.get(quantity.conditions, quantity.conditions),
        "meanings": _meanings(quantity),
        "possible": _possible(quantity),
        "uncertainty": _uncertainty(quantity),
        "recomputed": _allowance(quantity),
        "computed": f"by the check {check.name}: {told.get('Method') or check.title}"
        if check
        else "no: it is taken as the documents report it",
        "sources": quantity.source or "none is named",
    }
    unknowable = told.get(UNKNOWABLE) if check else "Whether the figure is right: nothing here works it out again."
    facts["can't know"] = unknowable or ""
    lines = [f"{quantity.symbol}: {quantity.title}" if quantity.symbol else quantity.title]
    lines += [_hanging(f"  {label:<{LABEL - 2}}", text) for label, text in facts.items() if text]
    return "\n".join(lines) + "\n"


def _meanings(quantity: Quantity) -> str:
    if not quantity.definitions:
        return ""
    all_judged = all(name in TRANSFORMS for name in quantity.definitions)
    blank = "without one, each is judged" if all_judged else "the claim has to state one"
    return f"{', '.join(quantity.definitions)}; {blank}"


def _possible(quantity: Quantity) -> str:
    ends = [with_unit(f"{end:.10g}", quantity.unit) for end in (quantity.least, quantity.most) if math.isfinite(end)]
    if not ends:
        return ""
    span = (
        " to ".join(ends)
        if len(ends) == 2
        else f"{'at least' if math.isfinite(quantity.least) else 'at most'} {ends[0]}"
    )
    return f"{span}; a limit beyond is refused"


def _uncertainty(quantity: Quantity) -> str:
    from audit.uncertainty import PROPAGATED

    absolute = _spread(quantity.uncertainty_absolute, quantity.uncertainty_relative, quantity.unit)
    if not absolute:
        return "none is assumed: claims on it stay inconclusive unless a document states one"
    repeat = _spread(quantity.repeatability_absolute, quantity.repeatability_relative, quantity.unit)
    factors = [standing.factor for standing in STANDINGS.values() if standing.bears]
    return (
        ("where x and y are known, by propagation from theirs; else " if quantity.name in PROPAGATED else "")
        + f"{absolute} (k = 2)"
        + (f", {repeat} between readings of one laboratory" if repeat else "")
        + (f"; status: {quantity.uncertainty_status}" if quantity.uncertainty_status else "")
        + f"; only where a document states none, times {min(factors):g} to {max(factors):g} by its standing"
    )


def _spread(absolute: float, relative: float, unit: str) -> str:
    parts = [with_unit(f"{absolute:g}", unit)] if absolute > 0 else []
    parts += [f"{relative:g} % of the value"] if relative > 0 else []
    return f"±{' + '.join(parts)}" if parts else ""


def _allowance(quantity: Quantity) -> str:
    if math.isnan(quantity.recompute_allowance):
        return ""
    allowance = with_unit(f"{quantity.recompute_allowance:g}", quantity.unit)
    return f"may differ by {allowance} (chosen) and half a digit from what is printed beside the spectrum"


def _check(check: Check, plugins: Plugins) -> str:
    doc = plugins.docs[f"check {check.name}"]
    lines = [f"{check.name}: {check.title}", *([_hanging("  ", doc.splitlines()[0])] if doc else [])]
    told = _sections(doc)
    gives = ", ".join(_family(members)[0] for members in _families(check.gives))
    told |= {"Gives": gives} if gives else {}
    told |= {} if "Sources" in told else {"Sources": "; ".join(check.sources)}
    told["Comes from"] = plugins.origins[f"check {check.name}"]
    for heading, text in told.items():
        lines += [f"  {heading}", _hanging("    ", text)] if text else []
    return "\n".join(lines) + "\n"


def _set(asked: RequirementSet, plugins: Plugins) -> str:
    """Tell a requirement set: where it is laid down, its rows with clause, condition and status, and its questions."""
    notes = Recorder(Document.nowhere())
    (found,) = asked_for([asked.name], plugins.requirements, Path())
    rows = read_requirements(found, plugins.quantities(), notes)
    lines = [_hanging("", f"{asked.name}: {asked.title}")]
    lines += [_hanging("  ", ", ".join(filter(None, (asked.publication, asked.edition))))]
    for row in rows:
        group = f" ({row.group}, all of it together)" if row.group and row.group != row.clause else ""
        lines += ["", _hanging(f"  {row.requirement_id}  ", f"{row.clause}{group}")]
        told = {
            "asks": claim_sentence(replace(row.claim, criterion=_criterion(row))),
            "if": " & ".join(map(str, row.conditions)) or "it applies to every product",
            "status": f"{row.claim.limit_status}; {row.claim.source}".removesuffix("; "),
            "note": row.claim.note,
        }
        lines += [_hanging(f"    {label:<8}", text) for label, text in told.items() if text]
    lines += ["", "  Questions that decide whether a row applies, or where its limit lies"]
    for question in rows[0].of.questions if rows else asked.questions:
        lines += [_hanging("    ", f"{question.key}: {question.text} {_answers(question)}")]
    lines += ["", f"  {UNKNOWABLE}", *(_hanging("    ", caution) for caution in asked.cautions)]
    lines += [_hanging("  ", f"Not read: {note['message']}") for note in notes.observations]
    return "\n".join([*lines, f"  Comes from {plugins.origins[f'requirement {asked.name}']}"]) + "\n"


def _criterion(row: Requirement) -> Criterion:
    formula = row.limit_from.formula if row.limit_from else ""
    return Criterion(row.of, row.requirement_id, row.clause, row.group, formula=formula)


def _answers(question: Question) -> str:
    if question.unit is not None:
        whose = f"; the claim on {question.claimed} answers it" if question.claimed else ""
        return f"(a number{' in ' * bool(question.unit)}{question.unit}{whose})"
    several = ", or several" if question.several else ""
    return f"({' / '.join(question.choices) or 'a date, year first'}{several})"


def _sections(doc: str) -> dict[str, str]:
    """Return heading -> text of a check's docstring; a heading stands at the margin, its text is indented."""
    found: dict[str, str] = {}
    heading = ""
    for line in inspect.cleandoc(doc).splitlines()[1:]:
        if line and not line[0].isspace():
            heading = line.strip()
            found[heading] = ""
        elif heading and line.strip():
            found[heading] = f"{found[heading]} {line.strip()}".strip()
    return found


def _families(quantities: Iterable[Quantity]) -> Iterator[list[Quantity]]:
    """Yield quantities that follow each other and differ in their last number alone, together."""
    for _, members in groupby(quantities, key=lambda quantity: re.sub(r"(?<=\D)\d+$", "#", quantity.name)):
        yield list(members)


def _family(members: Sequence[Quantity]) -> tuple[str, str, str, str]:
    """Return name, symbol, unit and title of a quantity, or of a family by its first and last."""
    first, last = members[0], members[-1]
    if first is last:
        return first.name, first.symbol, first.unit, first.title
    number = re.findall(r"\d+$", last.name)[0]
    return f"{first.name} to {last.name}", f"{first.symbol} …", first.unit, f"{first.title} to {number}"


def _hanging(head: str, text: str) -> str:
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=head,
        subsequent_indent=" " * len(head),
        break_long_words=False,
        break_on_hyphens=False,
    )
