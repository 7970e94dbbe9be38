"""`applies.toml`: whether requirements apply, as a person who knows the product answered it in the audited folder.

    ["Sedge 80"]                       # a product, or "*" for all
    object = "light source"            # key of a question = one of its choices
    nominal_cct = "2700, 4000"         # several, where the question allows it
    placed_on_market = "2025-03-01"    # a date, year first
    declared_flux = "806"              # a number, where a limit is worked out from what is declared

A requirement names the answers that it applies for in its cell `applies_if`; all of these conditions must hold:

    object = light source & technology = LED | OLED & placed_on_market >= 2024-09-01
"""

from __future__ import annotations

import difflib
import math
import operator
import re
import textwrap
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from audit.answer_lines import AnswerFile, Fault, Line, quoted
from audit.claims import fold, product_key
from audit.model import Document, Question
from audit.recorder import Recorder

FILE = "applies.toml"
ALL = "*"
CONDITION = re.compile(r"(\w+)\s*(>=|<=|=|>|<)\s*([^=<>].*)")
COMPARE: Mapping[str, Callable[[date, date], bool]] = {
    ">=": operator.ge,
    "<=": operator.le,
    ">": operator.gt,
    "<": operator.lt,
    "=": operator.eq,
}
COMMENT_WIDTH = 76
DATE_FORM = "2025-03-01"
NUMBER_FORM = "806"


@dataclass(frozen=True)
class Condition:
    """One condition of a requirement: the answer to the question `key` is one of `values`, or a date that compares."""

    key: str
    sign: str
    values: tuple[str, ...]

    def holds(self, answer: Sequence[str]) -> bool:
        """Whether an answer, as `understood` returns it, meets the condition."""
        if self.sign == "=":
            return any(product_key(value) in map(product_key, answer) for value in self.values)
        return COMPARE[self.sign](date.fromisoformat(answer[0]), date.fromisoformat(self.values[0]))

    def __str__(self) -> str:
        return f"{self.key} {self.sign} {' | '.join(self.values)}"


def conditions_of(text: str) -> tuple[Condition, ...]:
    """Return the conditions of a cell `applies_if`. Raises Fault."""
    found = []
    for part in filter(None, (part.strip() for part in text.split("&"))):
        match = CONDITION.fullmatch(part)
        if match is None:
            raise Fault(
                f"the condition '{part[:60]}' can't be read", "write key = answer | other answer & key = answer"
            )
        key, sign, values = fold(match[1]), match[2], tuple(value.strip() for value in match[3].split("|"))
        if sign != "=" and (len(values) > 1 or not _is_date(values[0])):
            raise Fault(f"'{part[:60]}' compares with no date", f"write {key} {sign} {DATE_FORM}")
        if not all(values):
            raise Fault(f"the condition '{part[:60]}' names a blank answer", "write it, or take the bar out")
        found.append(Condition(key, sign, values))
    return tuple(found)


def understood(question: Question, answer: str) -> tuple[str, ...]:
    """Return the choices that an answer names, or its date or number. Raises Fault for any other."""
    if question.unit is not None:
        if number(answer) is None:
            raise Fault(f"{question.key} is '{answer[:40]}'", f"write a number above 0: {answer_lines(question)[0]}")
        return (answer,)
    if not question.choices:
        if not _is_date(answer):
            raise Fault(
                f"{question.key} is '{answer[:40]}'", f'write a date, year first: {question.key} = "{DATE_FORM}"'
            )
        return (answer,)
    known = {product_key(choice): choice for choice in question.choices}
    named = [part.strip() for part in answer.split(",")] if question.several else [answer]
    strange = [part for part in named if product_key(part) not in known]
    if strange:
        raise Fault(f"{question.key} is '{strange[0][:40]}'", f"write {' or '.join(answer_lines(question))}")
    return tuple(known[product_key(part)] for part in named)


def number(answer: str) -> float | None:
    """Return an answer as a number above 0, or None where it is none."""
    try:
        value = float(answer)
    except ValueError:
        return None
    return value if 0 < value < math.inf else None


def answer_lines(question: Question) -> list[str]:
    """Return the lines of applies.toml that answer a question, one for each choice."""
    if question.unit is not None:
        return [f"{question.key} = {quoted(NUMBER_FORM)}"]
    if not question.choices:
        return [f"{question.key} = {quoted(DATE_FORM)}"]
    return [f"{question.key} = {quoted(choice)}" for choice in question.choices]


def ask(product: str, questions: Iterable[Question]) -> str:
    """Return what to do about open questions on a product: the lines of applies.toml, the questions beside them."""
    lines = []
    for question in questions:
        hint = " Several go into one line, with commas between." if question.several else ""
        hint += f" A number{' in ' * bool(question.unit)}{question.unit}." if question.unit is not None else ""
        # Wrapped here, so that a copied comment stays one in a narrow terminal.
        lines += textwrap.wrap(question.text + hint, COMMENT_WIDTH, initial_indent="# ", subsequent_indent="# ")
        lines += answer_lines(question)
    header = f"[{quoted(product or ALL)}]"
    return "\n".join(
        (f"add to {FILE} in the folder, below the line {header}, of each question the line that is true:", *lines)
    )


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _nothing_refused(key: str, value: str) -> None:
    """What keys and values mean is known only once requirements ask."""


LINES = AnswerFile(FILE, "applies", "product's name", "Sedge 80", "question", "answer", _nothing_refused)


@dataclass
class Answers:
    """The lines of applies.toml, and which of them were asked for."""

    notes: Recorder
    lines: Sequence[Line] = ()
    document: Document = field(default_factory=Document.nowhere)
    used: set[int] = field(default_factory=set)
    told: set[int] = field(default_factory=set)

    @classmethod
    def read(cls, documents: Sequence[Document], notes: Recorder) -> tuple[list[Document], Answers]:
        """Return the documents that aren't applies.toml, and the answers of the one that is."""
        files = [document for document in documents if LINES.is_it(document)]
        answers = cls(notes)
        for document in files:
            if lines := list(LINES.read(document, notes)):
                answers = cls(notes, lines, document)
        return [document for document in documents if document not in files], answers

    def to(self, question: Question, product: str) -> tuple[tuple[str, ...], int] | None:
        """Return the answer to a question on a product and its line, or None; one that can't be is observed once."""
        mine = [line for line in self.lines if fold(line.key) == question.key]
        for line in sorted(mine, key=lambda line: line.name == ALL):  # what is said of one product goes first
            if line.name != ALL and product_key(line.name) != product_key(product):
                continue
            self.used.add(line.number)
            try:
                return understood(question, line.value), line.number
            except Fault as fault:
                if line.number not in self.told:
                    self.told.add(line.number)
                    message = f"line {line.number} isn't used: {fault.message}"
                    LINES.fault(self.notes, self.document, message, fault.ask, f"line {line.number}")
                return None
        return None

    def remark_unused(self, asked: Collection[str], others: Collection[str], products: Iterable[str]) -> None:
        """Remark on lines that answer nothing: a misspelt key or product would be silent otherwise.

        `asked`: the keys of the questions asked here; `others`: those of sets that nobody asked for.
        """
        keys = {*asked, *others}
        named = {product_key(product): product for product in products}
        for line in self.lines:
            if line.number in self.used:
                continue
            if fold(line.key) in keys.difference(asked):
                why = f"no requirement set asked for has the question '{line.key}'"
                self._unused(f"line {line.number} isn't needed: {why}", "", f"line {line.number}", "note")
                continue
            if fold(line.key) not in keys:
                close = "".join(difflib.get_close_matches(fold(line.key), sorted(keys), n=1))
                why = f"no requirement set has the question '{line.key}'"
                hint = f"is '{close}' meant?" if close else f"the questions are {', '.join(sorted(keys)) or 'none'}"
            elif line.name != ALL and product_key(line.name) not in named:
                why = f"there is no product '{line.name}'"
                hint = (
                    f'the products are {", ".join(sorted(filter(None, named.values()))) or "not named"}; ["*"] is all'
                )
            else:
                why, hint = "a line on the product itself goes first", "delete it, if no other product needs it"
            self._unused(f"line {line.number} settles nothing: {why}", hint, f"line {line.number}", "minor")

    def _unused(self, message: str, hint: str, place: str, tier: str) -> None:
        self.notes.observe(
            "answer_unused",
            tier,
            message,
            ask=hint,
            subject=FILE,
            document=self.document.path,
            place=place,
            by=LINES.by,
        )
