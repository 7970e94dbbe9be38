"""What the columns of a table state and measure, item by item, and how it is written down: all of it at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from audit.model import NUMBER, POINT_FIELDS
from audit.sheets import Sheet, texts_of
from audit.tables import Coded
from plugins.ingest.cells import NO_VALUE, NOTHING, no_result
from plugins.ingest.columns import At, Column
from plugins.ingest.headings import HOUSE_K, READING, UNCERTAINTY
from plugins.ingest.notebook import Notebook, clip, where

SAME_UNCERTAINTY = 0.1  # of an uncertainty: it is printed to a digit or two
CORRECT = "correct the cell, or leave it blank if there is no value"


class State:
    """What one column states of the operating point of each item.

    `stated` (n,) tells which items have it, `problems` why others can't be read.
    """

    def __init__(self, notebook: Notebook, column: Column):
        self.column, self.field = column, column.meaning.target
        self.problems: dict[int, str] = {}
        self.values: np.ndarray | Coded
        if POINT_FIELDS[self.field] == NUMBER:
            self.values = column.value
            self.problems = {item: found.problem for item, found in column.odd.items() if found.problem}
            self.stated = ~np.isnan(self.values)
            return
        texts = texts_of(column.cells)
        words = dict.fromkeys(texts)
        known = {word: self._word(notebook, word) for word in words}
        if any(problem for _, problem in known.values()):
            self.problems = {item: known[text][1] for item, text in enumerate(texts) if known[text][1]}
        index = {word: number for number, word in enumerate(words)}
        self.values = Coded([word for word, _ in known.values()], np.array([index[text] for text in texts], np.int64))
        self.stated = np.array([bool(word) for word in self.values.words], bool)[self.values.codes]

    def _word(self, notebook: Notebook, text: str) -> tuple[str, str]:
        """Return what a cell's text states, "" for nothing, and why it can't be read."""
        if failed := no_result(text):
            return "", f"under '{clip(self.column.heading)}' {failed}"
        if text.casefold() in NO_VALUE:
            return "", ""
        try:
            return notebook.test_object(text) if self.field == "test_object" else text, ""
        except ValueError as error:
            return "", str(error)

    def of(self, items: np.ndarray, otherwise: Any) -> np.ndarray | Coded:
        """Return the field of some items; where nothing is stated, `otherwise` holds (None: it stays blank)."""
        if isinstance(self.values, Coded):
            return Coded([word or otherwise or "" for word in self.values.words], self.values.codes[items])
        values = self.values if otherwise is None else np.where(self.stated, self.values, otherwise)
        return np.asarray(values[items])


def _implied(states: Sequence[State]) -> dict[str, Any]:
    """Return what headings say of the state by themselves: the kind of control, unless something states it."""
    kinds = (found.column.meaning.kind for found in states)
    return next(({"control_kind": kind} for kind in kinds if kind), {})


def fields_of(states: Sequence[State], items: np.ndarray, defaults: Mapping[str, Any]) -> dict[str, Any]:
    """Return the operating points of some items as columns; what no column states, the defaults do."""
    defaults = _implied(states) | dict(defaults)
    return defaults | {found.field: found.of(items, defaults.get(found.field)) for found in states}


class Unreadable(Exception):
    """An item whose operating point can't be read: column and reason."""

    def __init__(self, column: Column, why: str):
        super().__init__(why)
        self.column, self.why = column, why


def fields_at(states: Sequence[State], item: int) -> dict[str, Any]:
    """Return the operating-point fields that one item states. Raises Unreadable where a cell can't be read."""
    for found in states:
        if item in found.problems:
            raise Unreadable(found.column, found.problems[item])
    fields = _implied(states)
    for found in states:
        if found.stated[item]:
            own = found.values
            fields[found.field] = own.words[own.codes[item]] if isinstance(own, Coded) else float(own[item])
    return fields


class Reading:
    """One measured column: value and expanded uncertainty (k = 2) of each item, NaN where there is none.

    `given` (n,) tells which items have anything; `faults` are the columns and reasons to be said of an item's cells.
    """

    def __init__(self, column: Column, uncertainty: Column | None):
        self.column, self.value, self.given = column, column.value, column.given
        self.faults: dict[int, list[tuple[Column, str]]] = {}
        self.expanded = np.full(len(self.value), math.nan)
        for item, found in column.odd.items():
            self.expanded[item] = found.uncertainty
            if why := found.problem or found.doubt:
                self.faults[item] = [(column, why)]
        if uncertainty is not None:
            for item in np.flatnonzero(~np.isnan(self.value)).tolist():
                self._expand(item, uncertainty)

    def _expand(self, item: int, column: Column) -> None:
        """Take the uncertainty that another column states of an item."""
        found, cell, own = column.number(item), column.cells[item], float(self.expanded[item])
        if found is NOTHING:
            return
        self.expanded[item], why = math.nan, found.problem
        if not why and found.value <= 0:
            why = f"the uncertainty '{clip(cell)}' isn't above zero"
        if not why:
            scale = abs(float(self.value[item])) / 100 if column.meaning.relative else 1.0
            expanded = found.value * scale * HOUSE_K / column.meaning.coverage
            if math.isnan(own) or math.isclose(expanded, own, rel_tol=SAME_UNCERTAINTY):
                self.expanded[item] = expanded
                return
            other = clip(self.column.cells[item])
            why = f"'{clip(cell)}' states another uncertainty than '{other}' does: neither is used"
        self.faults.setdefault(item, []).append((column, why))


def readings_of(columns: Sequence[Column]) -> list[Reading]:
    """Return the measured columns, each with the uncertainty that another of them states."""
    uncertainties = {column.meaning.target: column for column in columns if column.meaning.role == UNCERTAINTY}
    return [
        Reading(column, uncertainties.get(column.meaning.target))
        for column in columns
        if column.meaning.role == READING
    ]


def remark_faults(notebook: Notebook, sheet: Sheet, readings: Sequence[Reading], item: int, at: At) -> None:
    """Say what is wrong with the cells of one item; `at` gives row and column of a column's cell."""
    for reading in readings:
        for column, why in reading.faults.get(item, ()):
            message = f"under '{clip(column.heading)}' {why}"
            subject, place = column.meaning.target, where(sheet, *at(column))
            notebook.remark("cell_not_a_number", "major", message, CORRECT, subject=subject, place=place)


def record(
    notebook: Notebook,
    sheet: Sheet,
    readings: Sequence[Reading],
    items: np.ndarray,
    points: np.ndarray,
    at: Callable[[Column], tuple[Any, int]],
) -> None:
    """Record the readings of items (n,), item by item; `points` (n,) are theirs.

    `at` gives the row of every item's cell, or that of all, and the column.
    """
    if not readings:
        return
    value, expanded = (np.array([getattr(each, name)[items] for each in readings]).T for name in ("value", "expanded"))
    which, of = np.nonzero(~np.isnan(value))
    spots = [at(each.column) for each in readings]
    rows = np.array([np.broadcast_to(row, len(items)) for row, _ in spots])[of, which]
    texts = [each.column.texts for each in readings]
    raws = [texts[number][item] for item, number in zip(items[which].tolist(), of.tolist(), strict=True)]
    meanings = [each.column.meaning for each in readings]
    notebook.recorder.readings(
        points[which],
        Coded([meaning.target for meaning in meanings], of),
        value[which, of],
        notebook.places(sheet, rows, np.array([column for _, column in spots])[of], raws),
        expanded[which, of],
        np.array([each.column.resolution for each in readings])[of],
        Coded([meaning.definition for meaning in meanings], of),
    )
