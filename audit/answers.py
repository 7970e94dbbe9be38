"""`columns.toml`: what a person answered to the questions of an earlier audit, kept in the audited folder.

    ["LR-0431*.xlsx"]              # a document's name, a pattern of names, or "*" for all
    "Tc" = "case_C"                # heading = meaning
    "P" = "input_power [W]"        # meaning and unit
    "column 3" = "ra"              # a column without a heading
    "columns 4 to 9" = "spd_value"  # several of them
    "Remarks" = "ignore"
    "values" = "flux_ratio [%]"    # what a table holds whose headings name no quantity
    "headings" = "hours"           # what headings mean that are bare numbers
    decimal = ","                  # which mark is the decimal one, where the cells leave it open
    dates = "day first"            # what 03/04/2025 means

What a meaning says is for the readers to judge; a line that settled nothing anywhere is remarked on at the end.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

from audit.answer_lines import AnswerFile, Fault, quoted
from audit.model import Document
from audit.recorder import Recorder
from audit.tables import Tables

FILE = "columns.toml"
RESERVED = {"decimal": (",", "."), "dates": ("day first", "month first")}
IGNORE = "ignore"
COLUMNS = re.compile(r"columns (\d{1,5}) to (\d{1,5})", re.IGNORECASE)
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
    def headings(self) -> list[str]:
        """The headings that the line is for: one, or "column 4", "column 5" ... of "columns 4 to 9"."""
        found = COLUMNS.fullmatch(self.heading.strip())
        return [f"column {at}" for at in range(int(found[1]), int(found[2]) + 1)] if found else [self.heading]

    @property
    def rank(self) -> tuple[bool, bool]:
        """What is said of one document outranks what is said of a pattern, and that what is said of all."""
        return (not any(mark in self.pattern for mark in "*?["), self.pattern != "*")


def answer_line(heading: str, meaning: str, comment: str = "") -> str:
    """Return the line of columns.toml that gives a heading this meaning."""
    key = heading if heading in RESERVED else quoted(" ".join(heading.split()))
    return f"{key} = {quoted(meaning)}" + (f"  # {comment}" if comment else "")


def question(document: Document, lines: Sequence[str], which: str = "") -> str:
    """Return what to do about something left open: one of these lines, or `which`, belongs into columns.toml."""
    which = which or ("this line" if len(lines) == 1 else "the one of these lines that is true")
    header = f"[{quoted(document.path)}]"
    return "\n".join((f"add to {FILE} in the folder, below the line {header}, {which}:", *lines))


def read_answers(documents: Sequence[Document], notes: Recorder) -> tuple[list[Document], list[Answer]]:
    """Return the documents that aren't columns.toml, each with the answers for it, and all answers."""
    answers: list[Answer] = []
    others = []
    for document in documents:
        if LINES.is_it(document):
            answers += [Answer(*line) for line in LINES.read(document, notes)]
        else:
            others.append(document)
    return [replace(other, answers=answers_for(other, answers)) for other in others], answers


def answers_for(document: Document, answers: Sequence[Answer]) -> dict[str, str]:
    """Return heading -> meaning for one document; the closest name wins, then the later line."""
    fitting = sorted((answer for answer in answers if answer.fits(document)), key=lambda answer: answer.rank)
    return {heading: answer.meaning for answer in fitting for heading in answer.headings}


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
        lines = [answer_line(heading, answer.meaning) for heading in answer.headings]
        if any((document.path, line) in used for document in fitting for line in lines):
            continue
        why = (
            "no such column, or nothing was open there"
            if fitting
            else f"no document that was read has the name '{answer.pattern}'"
        )
        notes.observe(
            "answer_unused",
            "minor",
            f"the line {answer_line(answer.heading, answer.meaning)} settles nothing: {why}",
            ask="compare its heading and file name, letter by letter, with the question that it answers, or delete it",
            subject=answer.heading,
            document=FILE,
            place=f"line {answer.line}",
            by="answers",
        )


def _check(key: str, value: str) -> None:
    if key in RESERVED and value not in RESERVED[key]:
        choices = " or ".join(answer_line(key, choice) for choice in RESERVED[key])
        raise Fault(f"{key} is '{value[:40]}'", f"write {choices}")


LINES = AnswerFile(FILE, "answers", "document's name", "report.xlsx", "heading", "meaning", _check)


def used_by(answers: Mapping[str, str], heading: str) -> str:
    """Return the key of the answer for a heading, "" where none is: blanks are compared loosely, letters exactly."""
    if not answers or heading in answers:
        return heading if answers else ""
    wanted = " ".join(heading.split())
    return next((key for key in answers if " ".join(key.split()) == wanted and key not in RESERVED), "")
