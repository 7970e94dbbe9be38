"""What a reader writes down while it reads: the recorder, and remarks gathered so that one cause is said once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from audit.answers import IGNORE, USED, answer_line, question
from audit.model import TEST_OBJECTS, Document
from audit.recorder import Recorder, place_text
from audit.sheets import Sheet, address, addresses, shown_as_per_cent, text_of
from audit.standings import NOT_STATED, STANDINGS
from plugins.ingest.cells import no_result
from plugins.ingest.headings import LONGEST
from plugins.ingest.metadata import (
    STANDING_SPELLINGS,
    TEST_OBJECT_SPELLINGS,
    Fact,
    Statements,
    facts_of_pair,
    facts_of_text,
    one_of,
    plain,
)

if TYPE_CHECKING:
    import numpy as np

__all__ = ["Notebook", "clip", "plain", "where"]

MAX_PLACES = 3
MAX_EXAMPLES = 5  # of headings that one observation names
MAX_NAMES = 50  # of metrics that are known and not used
MAX_LINES = 10  # of columns.toml that one question proposes
MAX_TEXT = 60  # characters of a heading or a cell that an observation shows


def clip(text: object) -> str:
    """Return a heading or cell as an observation shows it: the beginning of what is long."""
    shown = text_of(text)
    return shown if len(shown) <= MAX_TEXT else f"{shown[: MAX_TEXT - 3].rstrip()}..."


def where(sheet: Sheet, row: int, column: int | None = None) -> str:
    """Return a place in words, from indices that count from 0: sheet 'x', row 12, cell C12."""
    parts = [f"sheet '{sheet.name}'"] if sheet.name else []
    at = sheet.at(row, column or 0)
    parts.append(f"row {at[0] + 1}")
    if column is not None:
        parts.append(f"cell {address(*at)}")
    return ", ".join(parts)


def some(examples: Sequence[str], most: int = MAX_EXAMPLES) -> str:
    """Return the first examples as a list, and how many more there are."""
    more = len(examples) - most
    return ", ".join(examples[:most]) + (f" and {more:,} more" if more > 0 else "")


def _first(places: Sequence[str]) -> str:
    """Return the first places, and how many more there are."""
    more = f" and {len(places) - MAX_PLACES} more" if len(places) > MAX_PLACES else ""
    return "; ".join(dict.fromkeys(filter(None, places[:MAX_PLACES]))) + more


class Notebook:
    """A Recorder for the evidence, and the remarks of one document gathered by cause until `close`."""

    def __init__(self, document: Document, by: str = "tabular"):
        self.recorder, self.by = Recorder(document), by
        self._gathered: dict[tuple[str, str, str, str, str], list[str]] = {}
        self._alike: dict[tuple[str, str, str, str, str], list[tuple[str, str]]] = {}
        self._listed: list[tuple[str, str]] = []  # name, and name with its value and place
        self._unknown: list[str] = []
        self._unanswered: list[str] = []
        self._statements = Statements()
        self._answers: dict[str, tuple[Sheet, int, int, str]] = {}  # line of columns.toml -> where it was used first
        self._read: set[tuple[str, str]] = set()  # what was read before says nothing new

    def remark(self, rule: str, tier: str, message: str, ask: str, *, subject: str = "", place: str = "") -> None:
        """Keep a remark; remarks that differ only in their place become one observation."""
        subject = clip(subject)
        self._gathered.setdefault((rule, tier, message, ask, subject), []).append(place)

    def alike(
        self, rule: str, tier: str, message: str, example: str, ask: str, *, subject: str = "", place: str = ""
    ) -> None:
        """Keep one of many remarks that differ in their example alone: they become one, which names the first."""
        self._alike.setdefault((rule, tier, message, ask, clip(subject)), []).append((example, place))

    def listed(self, heading: str, cell: object, place: str) -> None:
        """A metric that is known but not used."""
        self._listed.append((clip(heading), f"{clip(heading)} ({clip(cell)}; {place})"))

    def unknown(self, heading: str, cell: object, place: str) -> None:
        """A heading that nothing here knows, with an example of what stands under it."""
        self._unknown.append(f"'{clip(heading) or '(no heading)'}' (such as '{clip(cell)}'; {place})")
        if heading and len(heading) <= LONGEST:  # a longer text is no heading that anybody could answer for
            self._unanswered.append(heading)

    def document(self, key: str, cell: object, sheet: Sheet, row: int, column: int) -> None:
        """Keep what a cell says under a key about the document as a whole, once per different value."""
        at = sheet.at(row, column)
        if failed := no_result(cell):
            message, ask = f"the {key.replace('_', ' ')} isn't read: {failed}", "correct the cell"
            self.remark("cell_without_result", "minor", message, ask, subject=key, place=where(sheet, row, column))
            return
        self.pair(key, text_of(cell), sheet.name, at[0] + 1, address(*at))

    def free(self, cell: object, sheet: Sheet, row: int, column: int) -> None:
        """Keep what a cell without a key says about the document: titles and lines above or below a table."""
        at = sheet.at(row, column)
        self.text(text_of(cell), sheet.name, at[0] + 1, address(*at))

    def pair(self, key: str, text: str, sheet: str = "", row: int = 0, cell: str = "") -> None:
        """Keep what a text says under a key, a target of the vocabulary such as report_number. Rows count from 1."""
        if text and (key, text) not in self._read:
            self._read.add((key, text))
            self._keep(facts_of_pair(key, text), text, sheet, row, cell)

    def text(self, text: str, sheet: str = "", row: int = 0, cell: str = "") -> None:
        """Keep what a free text says about the document. Rows count from 1."""
        if text and ("", text) not in self._read:
            self._read.add(("", text))
            self._keep(facts_of_text(text), text, sheet, row, cell)

    def _keep(self, facts: Iterable[Fact], raw: str, sheet: str, row: int, cell: str) -> None:
        for fact in facts:
            if fact.key == "standing" and fact.keyed:
                fact = fact._replace(value=self._standing(fact.value, place_text(sheet, row, cell)))
            place = self.recorder.place(sheet=sheet, row=row, cell=cell, raw=raw)
            self._statements.add(fact, place, place_text(sheet, row, cell))

    def answer(self, line: str, sheet: Sheet, row: int, column: int, raw: str) -> None:
        """Record which line of columns.toml was used for the cell at these indices."""
        self._answers.setdefault(line, (sheet, row, column, raw))

    def place(self, sheet: Sheet, row: int, column: int, raw: str) -> int:
        """Return the id of the place of one cell."""
        at = sheet.at(row, column)
        return self.recorder.place(sheet=sheet.name, row=at[0] + 1, cell=address(*at), raw=raw)

    def places(self, sheet: Sheet, rows: np.ndarray, columns: np.ndarray, raws: list[str]) -> np.ndarray:
        """Return the ids (n,) of the places of cells: rows and columns (n,), and their texts."""
        rows, columns = sheet.places(rows, columns)
        return self.recorder.places(sheet.name, rows + 1, addresses(rows, columns), raws)

    def shown_as_per_cent(self, sheet: Sheet, row: int, column: int) -> bool:
        """Whether the document prints the number of this cell in per cent, by its format."""
        return shown_as_per_cent(self.recorder.document, sheet.name, address(*sheet.at(row, column)))

    def _standing(self, text: str, place: str) -> str:
        word = one_of(text, STANDING_SPELLINGS)
        if word is None:
            self.remark(
                "standing_unknown",
                "major",
                f"the standing '{clip(text)}' isn't one of: {', '.join(STANDINGS)}; taken as '{NOT_STATED}'",
                "write one of these words, as far as the document's origin is known",
                subject="standing",
                place=place,
            )
        return word or NOT_STATED

    def test_object(self, text: str) -> str:
        """Return the test object in the words of the closed list. Raises ValueError for any other."""
        word = one_of(text, TEST_OBJECT_SPELLINGS)
        if word is None:
            raise ValueError(f"the test object '{clip(text)}' isn't one of: {', '.join(TEST_OBJECTS)}")
        return word

    def close(self) -> None:
        """Turn what was gathered into metadata and observations."""
        self._statements.settle(self)
        for line, used in self._answers.items():
            self.recorder.metadata(USED, line, self.place(*used))
        for (rule, tier, message, ask, subject), places in self._gathered.items():
            times = f" ({len(places)} times)" if len(places) > 1 else ""
            place = _first(places)
            self.recorder.observe(rule, tier, message + times, ask=ask, subject=subject, place=place, by=self.by)
        for (rule, tier, message, ask, subject), found in self._alike.items():
            told = f"{message}: {some(list(dict.fromkeys(example for example, _ in found)))}"
            place = _first([place for _, place in found])
            self.recorder.observe(rule, tier, told, ask=ask, subject=subject, place=place, by=self.by)
        self._lists()

    def _name_them(self) -> str:
        """Return what to do about headings that nothing here knows, with the lines of columns.toml for the first."""
        remedy = "if one of them bears on a claim, give it the name of a quantity or of an operating-point column"
        names = list(dict.fromkeys(self._unanswered))
        if not names:
            return remedy
        example = 'the name with its unit in place of ignore, such as "ra" or "input_power [W]"'
        lines = [answer_line(name, IGNORE, "" if number else example) for number, name in enumerate(names[:MAX_LINES])]
        return f"{remedy}: in the document, or {question(self.recorder.document, lines, 'lines such as')}"

    def _lists(self) -> None:
        if self._unknown:
            self.recorder.observe(
                "column_unknown",
                "minor",
                "not read, because their headings aren't known: " + some(self._unknown),
                ask=self._name_them(),
                by=self.by,
            )
        if self._listed:
            # They are few kinds and everybody's: the first with their values, of the others the names.
            told = [line if at < MAX_EXAMPLES else name for at, (name, line) in enumerate(self._listed)]
            told = list(dict.fromkeys(told))
            self.recorder.observe(
                "metrics_listed",
                "note",
                "known, but not used: " + some(told, MAX_NAMES),
                ask="nothing, unless a claim rests on one of them",
                by=self.by,
            )
