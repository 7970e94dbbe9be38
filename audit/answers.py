"""`columns.toml`: what a person answered to the questions of an earlier audit, kept in the audited folder.

    ["LR-0431*.xlsx"]              # a document's name, a pattern of names, or "*" for all
    "Tc" = "case_C"                # heading = meaning
    "P" = "input_power [W]"        # meaning and unit
    "column 3" = "ra"              # a column without a heading
    "Remarks" = "ignore"
    "values" = "flux_ratio [%]"    # what a table holds whose headings name no quantity
    "headings" = "hours"           # what headings mean that are bare numbers
    decimal = ","                  # which mark is the decimal one, where the cells leave it open
    dates = "day first"            # what 03/04/2025 means

The file is read a line at a time: a fault costs its line, never the others, and is said with its number.
What a meaning says is for the readers to judge; a line that settled nothing anywhere is remarked on at the end.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from typing import Any

from audit.model import Document, Refusal, Tables
from audit.recorder import Recorder
from audit.sheets import decode

FILE = "columns.toml"
MAX_BYTES = 200_000
MAX_LINES = 5_000
MAX_LINE = 2_000  # characters: a longer line names no heading
RESERVED = {"decimal": (",", "."), "dates": ("day first", "month first")}
IGNORE = "ignore"
USED = "answer"  # the metadata key under which a reader records the lines that it used


@dataclass(frozen=True)
class Answer:
    """One line of columns.toml: for the documents that `pattern` names, `heading` means `meaning`."""

    pattern: str
    heading: str
    meaning: str
    line: int

    def fits(self, document: Document) -> bool:
        """Whether the line is for this document, by its path in the folder or by its name alone."""
        names = (document.path, document.path.rpartition("/")[2])
        return any(name == self.pattern or fnmatchcase(name, self.pattern) for name in names)

    @property
    def rank(self) -> tuple[bool, bool]:
        """What is said of one document outranks what is said of a pattern, and that what is said of all."""
        return (not any(mark in self.pattern for mark in "*?["), self.pattern != "*")


def answer_line(heading: str, meaning: str, comment: str = "") -> str:
    """Return the line of columns.toml that gives a heading this meaning."""
    key = heading if heading in RESERVED else _quoted(" ".join(heading.split()))
    return f"{key} = {_quoted(meaning)}" + (f"  # {comment}" if comment else "")


def _quoted(text: str) -> str:
    """Return a text as a TOML string: as in JSON, but for the one character that only TOML wants escaped."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def question(document: Document, lines: Sequence[str], which: str = "") -> str:
    """Return what to do about something left open: one of these lines, or `which`, belongs into columns.toml."""
    which = which or ("this line" if len(lines) == 1 else "the one of these lines that is true")
    header = f"[{_quoted(document.path)}]"
    return "\n".join((f"add to {FILE} in the folder, below the line {header}, {which}:", *lines))


def read_answers(documents: Sequence[Document], notes: Recorder) -> tuple[list[Document], list[Answer]]:
    """Return the documents that aren't columns.toml, each with the answers for it, and all answers."""
    answers: list[Answer] = []
    others = []
    for document in documents:
        if document.path.rpartition("/")[2].casefold() != FILE:
            others.append(document)
        elif "/" in document.path:
            _fault(notes, document, "it lies in a folder below the audited one, and isn't used", "move its lines up")
        else:
            answers += _read(document, notes)
    return [replace(other, answers=answers_for(other, answers)) for other in others], answers


def answers_for(document: Document, answers: Sequence[Answer]) -> dict[str, str]:
    """Return heading -> meaning for one document; the closest name wins, then the later line."""
    fitting = sorted((answer for answer in answers if answer.fits(document)), key=lambda answer: answer.rank)
    return {answer.heading: answer.meaning for answer in fitting}


def remark_unused(answers: Sequence[Answer], documents: Sequence[tuple[Document, Tables]], notes: Recorder) -> None:
    """Remark on lines that no reader used: a misspelt heading or file name would be silent otherwise."""
    used = {
        (document.path, value)
        for document, tables in documents
        for key, value in zip(tables.column("metadata", "key"), tables.column("metadata", "value"), strict=True)
        if key == USED
    }
    for answer in answers:
        fitting = [document for document, _ in documents if answer.fits(document)]
        line = answer_line(answer.heading, answer.meaning)
        if any((document.path, line) in used for document in fitting):
            continue
        why = (
            "no such column, or nothing was open there"
            if fitting
            else f"no document that was read has the name '{answer.pattern}'"
        )
        notes.observe(
            "answer_unused",
            "minor",
            f"the line {line} settles nothing: {why}",
            ask="compare its heading and file name, letter by letter, with the question that it answers, or delete it",
            subject=answer.heading,
            document=FILE,
            place=f"line {answer.line}",
            by="answers",
        )


def _read(document: Document, notes: Recorder) -> Iterator[Answer]:
    try:
        lines = _lines(document)
    except Refusal as refusal:
        _fault(notes, document, refusal.message, refusal.ask)
        return
    pattern: str | None = None  # no table has begun, or its heading is at fault
    kept: dict[tuple[str, str], Answer] = {}
    for number, text in enumerate(lines, 1):
        try:
            found = _parse(text)
            if isinstance(found, str):
                pattern = found
            elif found and pattern is None:
                raise _Fault("it stands below no document's name", '["report.xlsx"], or ["*"] for all, goes above it')
            elif found:
                answer = Answer(str(pattern), *found, number)
                twin = kept.setdefault((answer.pattern, answer.heading), answer)
                if twin is not answer and twin.meaning != answer.meaning:
                    raise _Fault(f"line {twin.line} gives '{answer.heading}' another meaning", "keep the true one")
                if twin is answer:
                    yield answer
        except _Fault as fault:
            if text.lstrip().startswith("["):
                pattern = None  # the lines below it are for nobody knows which document
            _fault(notes, document, f"line {number} isn't used: {fault.message}", fault.ask, f"line {number}")


def _lines(document: Document) -> list[str]:
    if document.size > MAX_BYTES:
        message = f"it has {document.size:,} bytes, more than the {MAX_BYTES:,} that are read: no line is used"
        raise Refusal(message, ask="keep only the lines that answer a question")
    try:
        lines = [line.rstrip("\r") for line in decode(document.read_bytes()).split("\n")]
    except OSError as error:
        raise Refusal(f"it can't be read ({error.strerror})", ask="check that you may read it") from error
    if len(lines) > MAX_LINES:
        message = f"it has more than {MAX_LINES:,} lines: none is used"
        raise Refusal(message, ask="keep only the lines that answer a question")
    return lines


class _Fault(Exception):
    def __init__(self, message: str, ask: str):
        super().__init__(message)
        self.message, self.ask = message, ask


def _parse(text: str) -> str | tuple[str, str] | None:
    """Return the document's name that a line sets, the heading and meaning that it states, or None for neither."""
    if len(text) > MAX_LINE:
        raise _Fault(f"it is longer than {MAX_LINE} characters", "shorten it")
    try:
        (entry,) = tomllib.loads(text).items() or [None]
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        reason = str(error).partition(" (at")[0] or "nested too deeply"
        raise _Fault(f"it can't be read ({reason})", 'write "heading" = "meaning", both in straight quotes') from error
    if entry is None:
        return None
    key, value = entry
    if isinstance(value, dict) and text.lstrip().startswith("["):
        if value:
            raise _Fault("a name with a point in it needs quotes", 'write ["report.xlsx"]')
        return str(key)
    return key, _meaning(key, value)


def _meaning(key: str, value: Any) -> str:
    if isinstance(value, dict):
        raise _Fault("a heading with a point in it needs quotes", 'write "heading" = "meaning"')
    if not isinstance(value, str):
        raise _Fault(f"the meaning of '{key}' is no text", f'write "{key}" = "..." with the meaning in quotes')
    if key in RESERVED and value not in RESERVED[key]:
        choices = " or ".join(answer_line(key, choice) for choice in RESERVED[key])
        raise _Fault(f"{key} is '{value[:40]}'", f"write {choices}")
    if not key.strip() or not value.strip():
        raise _Fault("its heading or its meaning is blank", 'write "heading" = "meaning", or delete the line')
    return value.strip()


def _fault(notes: Recorder, document: Document, message: str, ask: str, place: str = "") -> None:
    notes.observe(
        "answer_not_read",
        "major",
        f"'{document.path}': {message}",
        ask=ask,
        subject=document.path,
        document=document.path,
        place=place,
        by="answers",
    )


def used_by(answers: Mapping[str, str], heading: str) -> str:
    """Return the key of the answer for a heading, "" where none is: blanks are compared loosely, letters exactly."""
    if not answers or heading in answers:
        return heading if answers else ""
    wanted = " ".join(heading.split())
    return next((key for key in answers if " ".join(key.split()) == wanted and key not in RESERVED), "")
