"""What the cells of a column say about a heading that has several meanings: settled by a rule, or asked.

Each rule says what it rests on. A heading that a line of columns.toml has answered isn't looked at again.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from audit.answers import IGNORE, answer_line
from audit.sheets import text_of
from plugins.ingest.cells import Number, has_value, number
from plugins.ingest.column import Column
from plugins.ingest.headings import (
    AMBIGUOUS,
    DOCUMENT,
    LISTED,
    PAIRED,
    READING,
    REFUSED,
    STATE,
    Meaning,
    house_unit,
    resolve_answer,
)
from plugins.ingest.marks import NAMES, decide_marks
from plugins.ingest.plausible import bounds, units_that_fit

# Computed: Planckian and daylight whites of 1800 to 10 000 K have v in the first and v' = 1.5 v in the second range,
# which don't overlap (CIE 15:2018, equations of the 1960 and 1976 diagrams).
V_1960, V_1976 = (0.29, 0.36), (0.44, 0.54)
DUV_LIMIT = 0.05  # CIE 15:2018, clause 9.5: farther from the locus no CCT, and so no Duv, is stated
PAIR_MARK = re.compile(r"\s*[/;|]\s*|,\s+")  # a comma alone may be a decimal mark
MEAN_ALLOWANCE = 0.5  # printed indices are rounded, and some programs round each before they take the mean


def settle_dates(column: Column) -> None:
    """A heading that means a number or a date (Time) means the date where no cell is a number."""
    if "date" in column.meaning.targets and not any(
        number(cell, Meaning(READING)).problem == "" and has_value(cell) for cell in column.cells
    ):
        column.meaning = Meaning(DOCUMENT, "date")


def settle_arc_levels(column: Column) -> None:
    """A level of a digital control is one of 0 to 254 or a percentage; a value above 100 can be no percentage."""
    if column.meaning.role != AMBIGUOUS or set(column.meaning.targets) != {"level_percent", "control_value"}:
        return
    arc = resolve_answer("arc level")
    numbers = [number(cell, arc) for cell in column.cells]
    if any(found.value > 100 for found in numbers) and not any(found.problem for found in numbers):
        column.meaning = replace(arc, settled="a value above 100 is no percentage, and arc levels go to 254")


def settle_uniform(columns: Sequence[Column]) -> None:
    """u, v are of 1960 or of 1976: the values of v say it for whites, and u goes with v."""
    v = [column for column in columns if column.meaning.targets and "v_prime" in column.meaning.targets]
    u = [column for column in columns if column.meaning.targets and "u_prime" in column.meaning.targets]
    if len(v) != 1 or len(u) > 1:
        return
    plain = Meaning(READING, "v_prime", "1")
    values = [found.value for cell in v[0].cells if not math.isnan((found := number(cell, plain)).value)]
    for (low, high), year in ((V_1960, 1960), (V_1976, 1976)):
        if values and all(low <= value <= high for value in values):
            name = v[0].heading[:60]
            why = f"all values of '{name}' lie between {low} and {high}, where v of {year} is for white light"
            for column, target in ((v[0], "v_prime"), *((each, "u_prime") for each in u)):
                meaning = resolve_answer(target) if year == 1976 else Meaning(LISTED, "listed")
                column.meaning = replace(meaning, settled=why)


def settle_marks(columns: Sequence[Column], answer: str) -> None:
    """Give every column of numbers its decimal mark; a column whose mark stays open is asked about."""
    numeric = [column for column in columns if column.meaning.number]
    marks = decide_marks([(column.meaning, column.cells) for column in numeric], answer)
    for column, mark in zip(numeric, marks, strict=True):
        column.mark = mark
        if mark.example:
            readings = " or ".join(
                f"{found.value:.10g}" for decimal in NAMES for found in (number(mark.example, column.meaning, decimal),)
            )
            why = (
                f"'{mark.example.strip()[:40]}' may be {readings}, and nothing here says which mark is the decimal one"
            )
            column.asked = tuple(answer_line("decimal", decimal) for decimal in (",", "."))
            targets = (column.meaning.target,)
            column.meaning = replace(column.meaning, role=AMBIGUOUS, why=why, targets=targets, candidates=())


def settle_fractions(column: Column, shown_as_per_cent: Callable[[int, int], bool]) -> None:
    """Values of at most 1.5 under per cent: a workbook's format may say that 0.95 is printed as 95 %."""
    if not column.fractions or not any(column.values):
        return
    item = next(item for item, cell in enumerate(column.cells) if has_value(cell))
    if isinstance(column.cells[item], float) and shown_as_per_cent(column.index, item):
        column.cells = [f"{100 * cell:.12g} %" if isinstance(cell, float) else cell for cell in column.cells]
        column.parse()
    elif not column.meaning.spelled_unit:
        why = "its values may be fractions or per cent, and its unit isn't stated"
        ask(column, why, [f"{column.meaning.target} [{unit}]" for unit in ("fraction", "%")], REFUSED)


def settle_duv(column: Column) -> None:
    """Duv is often printed times 1000: a value above 0.05 in size can't be plain, and only a unit settles it."""
    meaning = column.meaning
    if meaning.target != "duv" or meaning.role != READING or meaning.answer or meaning.conversion.factor != 1:
        return
    large = next((value for value in column.values if abs(value) > DUV_LIMIT), None)
    if large is not None:
        why = f"a Duv of {large:g} is too large to be plain: it may be printed times 1000"
        ask(column, why, ("duv [1e-3]", "duv"))


def settle_impossible(column: Column) -> None:
    """Values that the quantity can't have: all of them, and another unit is likely; some, and they are refused."""
    meaning = column.meaning
    if meaning.role not in (READING, STATE) or meaning.target == "duv":
        return
    low, high = bounds(meaning.target)
    wrong = np.flatnonzero((column.value < low) | (column.value > high)).tolist()
    if not wrong:
        return
    above = column.value[wrong[0]] > high
    limit = f"no {meaning.target} is {'above' if above else 'below'} "
    limit += f"{high if above else low:.3g} {house_unit(meaning.target)}".rstrip()
    if len(wrong) == len(column.values) and not meaning.answer and not meaning.spelled_unit:
        printed = [meaning.conversion.unapply(value) for value in column.values]
        units = units_that_fit(meaning.target, meaning.unit, printed)
        ask(column, f"its values are impossible ({limit})", [f"{meaning.target} [{unit}]" for unit in units])
        return
    for item in wrong:
        text = str(column.cells[item]).strip()[:60]
        column.put(item, Number(problem=f"'{text}' can't be right: {limit}"))


def settle_mean(columns: Sequence[Column]) -> None:
    """CRI is the mean of R1 to R8; a column of that name that is the mean of R1 to R14 or R15 is another index."""
    read = {column.meaning.target: column for column in columns if column.meaning.role == READING}
    general = read.get("ra")
    if general is None or general.meaning.answer or any(f"r{n}" not in read for n in range(1, 15)):
        return
    far_8, far_all = (max(_distances(general, read, count), default=0.0) for count in (8, 15 if "r15" in read else 14))
    if far_8 > MEAN_ALLOWANCE + general.resolution >= far_all:
        why = "it is the mean of all special indices, where Ra is that of R1 to R8 alone (CIE 13.3-1995)"
        ask(general, why, ("ra",))


def _distances(general: Column, read: dict[str, Column], count: int) -> list[float]:
    """Return how far the general index is from the mean of the first `count` special ones, row by row."""
    mean = sum(read[f"r{n}"].value for n in range(1, count + 1)) / count
    gaps: list[float] = np.abs(general.value - mean).tolist()
    return [gap for gap in gaps if not math.isnan(gap)]


def ask(column: Column, why: str, choices: Sequence[str], role: str = AMBIGUOUS) -> None:
    """Take a column out of use until a person has said which of these meanings is right."""
    targets, lines = (column.meaning.target,), (*choices, IGNORE)
    column.meaning = replace(
        column.meaning, role=role, targets=targets, candidates=tuple(choices), choices=lines, why=why
    )


def split_pair(column: Column) -> list[Column]:
    """Return one column for each of two coordinates that share their cells: `0,437 / 0,404`, `(0.4381, 0.4051)`."""
    if column.meaning.role != PAIRED:
        return [column]
    parts = [_halves(cell) for cell in column.cells]
    return [
        Column(column.index, column.heading, resolve_answer(target), [halves[item] for halves in parts])
        for item, target in enumerate(column.meaning.targets)
    ]


def _halves(cell: Any) -> tuple[Any, Any]:
    """Return the two parts of a cell; a single number says nothing of which of the two it is, and is no number."""
    parts = PAIR_MARK.split(text_of(cell).strip("()[] "))
    if len(parts) == 2:
        return parts[0], parts[1]
    whole = f"not two numbers: {text_of(cell)}" if has_value(cell) else ""
    return whole, whole
