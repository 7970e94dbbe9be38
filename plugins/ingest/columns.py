"""The columns of a table: what each means beside the others, which are read, and what is said of the rest."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from audit.answers import IGNORE, answer_line, question, used_by
from audit.model import NUMBER, POINT_FIELDS
from audit.register import quantity_register
from audit.sheets import Sheet, text_of
from plugins.ingest.ambiguity import (
    settle_arc_levels,
    settle_dates,
    settle_duv,
    settle_fractions,
    settle_impossible,
    settle_marks,
    settle_mean,
    settle_uniform,
    split_pair,
)
from plugins.ingest.cells import has_value
from plugins.ingest.column import Column
from plugins.ingest.headings import (
    AMBIGUOUS,
    COLUMN,
    LISTED,
    READING,
    REFUSED,
    SPECTRAL,
    STATE,
    UNCERTAINTY,
    UNKNOWN,
    WAVELENGTH,
    Meaning,
    fold,
    resolve,
    resolve_answer,
)
from plugins.ingest.marks import NAMES
from plugins.ingest.notebook import MAX_EXAMPLES, MAX_LINES, Notebook, clip, some, where
from plugins.ingest.parts import part, uncertain

__all__ = ["At", "Column", "make_columns", "remark_unused", "settle_doubles", "understand", "unreadable_state"]

AGREE = 1e-3  # of the value: two columns in different units (lx and fc) say the same
SATURATION = re.compile(r"^(?:saturation|sat\.?)(?![\w ]*set)", re.IGNORECASE)
VARIABLE = re.compile(r"-?\d[\d.,]*")  # numbers alone differ between columns that are unread for the same cause
STATE_NUMBERS = frozenset(name for name, kind in POINT_FIELDS.items() if kind == NUMBER)
NAME_IT = "name the column after one quantity (as the quantity register does), with its unit in brackets"
RIGHT = "nothing, if that is right; otherwise say in columns.toml what the column means"
NO_ANSWERS: Mapping[str, str] = {}


def understand(headings: Sequence[Any], layout: str = COLUMN, answers: Mapping[str, str] = NO_ANSWERS) -> list[Meaning]:
    """Return the meaning of each heading: a person's answer first, then its words, then its neighbours.

    `answers`: the lines of columns.toml for this document (Document.answers).
    """
    texts = [text_of(heading) for heading in headings]
    folded = [fold(text) for text in texts]
    shown = set(folded)
    meanings = [resolve(text, layout) for text in texts]
    hue = any(meaning.target == "hue_setting_deg" for meaning in meanings)
    for index, (text, bare) in enumerate(zip(texts, folded, strict=True)):
        tristimulus = bare == "Y" and {"X", "Z"} <= shown
        uniform_1960 = bare in ("u", "v") and {"u'", "v'"} <= shown
        fit = bare == "B" and any(meaning.target == "decay_constant" for meaning in meanings)
        if key := used_by(answers, text or f"column {index + 1}"):
            meanings[index] = _answered(key, answers[key], meanings[index])
        elif tristimulus or uniform_1960:
            meanings[index] = Meaning(LISTED, "listed")
        elif fit:  # B exp(-alpha t)
            meanings[index] = resolve("initial constant", layout)
        elif hue and SATURATION.match(text):  # a detector may be saturated too
            meanings[index] = resolve(SATURATION.sub("saturation setting", text), layout)
    return _beside(texts, meanings)


def _beside(texts: Sequence[str], meanings: list[Meaning]) -> list[Meaning]:
    """Return the meanings with those of uncertainties that don't say whose they are: U (k=2), right of a quantity.

    Where each of several quantities has one of the same heading at its right, it is theirs; one alone is asked about.
    """
    open_roles = (AMBIGUOUS, LISTED, UNKNOWN)
    found = {
        index: said
        for index, text in enumerate(texts)
        if index and meanings[index - 1].role == READING and meanings[index].role in open_roles
        if not meanings[index].answer and (said := part(text)) and uncertain(text) and (said.factor or len(text) > 3)
    }
    for index, said in found.items():
        left = meanings[index - 1]
        own = said.of(texts[index - 1]) + (f" [{said.unit}]" if said.unit and said.unit != left.spelled_unit else "")
        meaning = resolve(own)
        if meaning.role != UNCERTAINTY:
            continue
        if [texts[other] for other in found].count(texts[index]) > 1 and texts.count(texts[index]) == len(found):
            why = f"it stands right of '{clip(texts[index - 1])}', as its likes do of other quantities"
            meanings[index] = replace(meaning, settled=why)
        else:
            unit = f" [{meaning.spelled_unit}]" if meaning.spelled_unit and not meaning.relative else ""
            kind = "relative uncertainty" if meaning.relative else "uncertainty"
            choices = (f"{kind} of {meaning.target}{unit} (k={meaning.coverage:g})", IGNORE)
            why = "it doesn't say whose uncertainty it is"
            meanings[index] = Meaning(AMBIGUOUS, choices=choices, candidates=choices[:1], why=why)
    return meanings


def _answered(key: str, answer: str, otherwise: Meaning) -> Meaning:
    """Return what a person says a heading means; an answer that says nothing known leaves the column unused."""
    try:
        return replace(resolve_answer(answer), answer=key)
    except ValueError as error:
        why = f"its line in columns.toml can't be followed ({error})"
        return replace(otherwise, role=REFUSED, why=why, answer=key)


def make_columns(
    heads: Sequence[tuple[int, str, Meaning]],
    cells_of: Callable[[int], list[Any]],
    shown_as_per_cent: Callable[[int, int], bool],
    answers: Mapping[str, str] = NO_ANSWERS,
) -> list[Column]:
    """Return the columns with their cells; numbers where the meaning asks for them, and what cells can settle settled.

    `shown_as_per_cent` takes a column's index and an item: does the workbook print that cell in per cent?
    """
    whole = [Column(index, heading, meaning, cells_of(index)) for index, heading, meaning in heads]
    columns = [column for each in whole for column in split_pair(each)]
    for column in columns:
        settle_dates(column)
        settle_arc_levels(column)
    settle_uniform(columns)
    settle_marks(columns, answers.get("decimal", ""))
    for column in columns:
        if column.meaning.number:
            column.parse()
            settle_fractions(column, shown_as_per_cent)
            settle_duv(column)
            settle_impossible(column)
    settle_mean(columns)
    return columns


At = Callable[[Column], tuple[int, int]]  # row and column (from 0) of a column's heading or of a key's value


def settle_doubles(columns: Sequence[Column], notebook: Notebook, sheet: Sheet, at: At) -> None:
    """Mark columns that say a thing twice as not used; where two disagree on a number, neither is used."""
    kept: dict[tuple[str, str, str], Column] = {}
    for column in columns:
        meaning = column.meaning
        if meaning.role not in (READING, UNCERTAINTY, STATE):
            continue
        key = (meaning.role, meaning.target, meaning.definition)
        first = kept.setdefault(key, column)
        if first is column:
            continue
        place = f"{where(sheet, *at(first))}; {where(sheet, *at(column))}"
        both = f"'{clip(first.heading)}' and '{clip(column.heading)}'"
        if _agree(first, column):
            notebook.listed(column.heading, f"the same as '{clip(first.heading)}'", where(sheet, *at(column)))
            column.meaning = replace(meaning, role=LISTED)
        elif meaning.number:
            why = f"{both} both mean {meaning.target} and differ: neither is used"
            notebook.remark("column_doubled", "major", why, NAME_IT, subject=meaning.target, place=place)
            column.meaning = replace(meaning, role=AMBIGUOUS, why="")
            first.meaning = replace(first.meaning, role=AMBIGUOUS, why="")
        else:
            why = f"{both} both mean {meaning.target}: the first is used"
            notebook.remark("column_doubled", "minor", why, NAME_IT, subject=meaning.target, place=place)
            column.meaning = replace(meaning, role=LISTED)


def _agree(first: Column, second: Column) -> bool:
    if not first.meaning.number:
        return [text_of(cell) for cell in first.cells] == [text_of(cell) for cell in second.cells]
    rounding = (first.resolution + second.resolution) / 2
    return bool(
        np.isclose(
            first.value, second.value, rtol=AGREE, atol=rounding if math.isfinite(rounding) else 0.0, equal_nan=True
        ).all()
    )


def remark_settled(columns: Sequence[Column], notebook: Notebook, sheet: Sheet, at: At) -> None:
    """Say what was settled and by what: an answer, a rule about the values, the decimal mark."""
    answers = notebook.recorder.document.answers
    for column in columns:
        meaning, heading, place = column.meaning, column.heading, where(sheet, *at(column))
        if column.example is None:
            continue
        if meaning.answer and meaning.role != REFUSED:
            message = f"'{clip(heading)}' is read as {answers[meaning.answer]}, because columns.toml says so"
            notebook.remark("answer_used", "note", message, RIGHT, subject=heading, place=place)
        if meaning.answer:
            _use(notebook, meaning.answer, sheet, at(column), heading)
        if meaning.settled:
            of = "the uncertainty of " if meaning.role == UNCERTAINTY else ""
            what = "not used" if meaning.role == LISTED else f"read as {of}{meaning.target}"
            message = f"'{clip(heading)}' is {what}: {meaning.settled}"
            notebook.remark("column_settled", "note", message, RIGHT, subject=heading, place=place)
        if column.mark.answered:
            _use(notebook, "decimal", sheet, at(column), heading)
        if column.mark.why:
            message = f"numbers are read with a decimal {NAMES[column.mark.decimal]}: {column.mark.why}"
            notebook.remark("decimal_mark", "note", message, RIGHT, subject="decimal mark", place=place)
        if any(not math.isnan(found.uncertainty) for found in column.odd.values()):
            notebook.alike(
                "cell_with_uncertainty",
                "note",
                "what stands behind ± in the cells is taken as their expanded uncertainty"
                f" (k = {meaning.coverage:g}, where neither the cell nor a column says another)",
                f"'{clip(heading)}'",
                "nothing, if that is right; otherwise give the uncertainty a column of its own, headed U(...) (k=...)",
                place=place,
            )
        for remark in dict.fromkeys(found.remark for _, found in sorted(column.odd.items()) if found.remark):
            message = f"under '{clip(heading)}' the number is read, and '{clip(remark)}' behind it is kept as a remark"
            notebook.remark("cell_with_remark", "note", message, RIGHT, subject=meaning.target, place=place)


def _use(notebook: Notebook, key: str, sheet: Sheet, at: tuple[int, int], raw: str) -> None:
    """Record which line of columns.toml was used here; lines that nobody used are remarked on at the end."""
    notebook.answer(answer_line(key, notebook.recorder.document.answers[key]), sheet, *at, raw)


def remark_unused(columns: Sequence[Column], notebook: Notebook, sheet: Sheet, at: At) -> None:
    """Say which columns aren't read and why; a column without any value needs no word."""
    measured = {column.meaning.target for column in columns if column.meaning.role == READING}
    alike: dict[tuple[Any, ...], list[Column]] = {}
    for column in columns:
        meaning, place, example = column.meaning, where(sheet, *at(column)), column.example
        if example is None:
            continue
        if meaning.role == UNKNOWN:
            notebook.unknown(column.heading, example, place)
        elif meaning.role == UNCERTAINTY and meaning.target not in measured:
            notebook.listed(column.heading, f"{text_of(example)}, without the value", place)
        elif meaning.role == LISTED and meaning.target == "listed":
            notebook.listed(column.heading, example, place)
        elif meaning.role in (AMBIGUOUS, REFUSED) and meaning.why:
            cause = VARIABLE.sub("", meaning.why) if not meaning.answer else column.heading
            may = meaning.candidates if not meaning.target else ()  # of several meanings: the others name their own
            key = (meaning.role, cause, may, column.asked, len(meaning.choices), _tier(meaning, measured))
            alike.setdefault(key, []).append(column)
        elif meaning.role in (SPECTRAL, WAVELENGTH):
            why = f"'{clip(column.heading)}' is a heading of spectra, but no column of wavelengths stands beside it"
            notebook.remark("column_not_read", "major", why, "give each wavelength its own row or column", place=place)
    for (*_, tier), like in alike.items():
        place = "; ".join(where(sheet, *at(column)) for column in like[:MAX_EXAMPLES])
        place += f" and {len(like) - MAX_EXAMPLES} more" if len(like) > MAX_EXAMPLES else ""
        _remark_unreadable(like, tier, notebook, place)


def _tier(meaning: Meaning, measured: set[str]) -> str:
    """Return how much a column that a person has to settle matters: beside the same quantity, measured, little."""
    bears = bool({meaning.target, *meaning.targets} & (quantity_register().keys() | STATE_NUMBERS))
    return "major" if meaning.role == REFUSED or (bears and meaning.target not in measured) else "minor"


def _remark_unreadable(columns: Sequence[Column], tier: str, notebook: Notebook, place: str) -> None:
    """Say why columns that are alike can't be used, and which lines of columns.toml settle them."""
    meaning, heading = columns[0].meaning, columns[0].heading
    lines = list(dict.fromkeys(line for column in columns for line in column.lines))
    which = "for each of them the line that is true" if len(columns) > 1 and not columns[0].asked else ""
    most = max(MAX_LINES // max(len(columns[0].lines), 1), 1) * len(columns[0].lines)
    left = len(lines) - most
    ask = question(notebook.recorder.document, lines[:most], which) if lines else NAME_IT
    ask += f"\n# and so on for {left // len(columns[0].lines)} more" if left > 0 else ""
    shown = some([f"'{clip(column.heading)}'" for column in columns])
    targets = some(list(dict.fromkeys(column.meaning.target for column in columns if column.meaning.target)))
    aren_t = "isn't used" if len(columns) == 1 else "aren't used"
    known = f" {'is' if len(columns) == 1 else 'are'} recognised as {targets}, but"
    message = f"{shown}{known if meaning.role == REFUSED and targets else ''} {aren_t}: {meaning.why}"
    rule = "column_not_read" if meaning.role == REFUSED else "column_ambiguous"
    if meaning.role == AMBIGUOUS and meaning.candidates and len({column.meaning.candidates for column in columns}) == 1:
        message += f". {'It' if len(columns) == 1 else 'They'} may mean: {', '.join(meaning.candidates)}"
    notebook.remark(rule, tier, message, ask, subject=meaning.target or heading, place=place)


def unreadable_state(columns: Sequence[Column]) -> Column | None:
    """Return a column that states the operating point but can't be read: without it no row may be used."""
    for column in columns:
        meaning = column.meaning
        targets = {meaning.target, *meaning.targets} if meaning.role in (REFUSED, AMBIGUOUS) else set()
        if targets & STATE_NUMBERS and any(has_value(cell) for cell in column.cells):
            return column
    return None
