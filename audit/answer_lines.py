"""Files of answers, a line at a time: `key = "value"` below the `["name"]` of what it is said of.

A fault costs its line, never the others, and is said with its number. `columns.toml` and `applies.toml` are such
files; what their keys and values mean is for those who ask.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from audit.model import Document, Refusal
from audit.recorder import Recorder
from audit.sheets import decode

MAX_BYTES = 200_000
MAX_LINES = 5_000
MAX_LINE = 2_000  # characters: a longer line names nothing


class Line(NamedTuple):
    """What one line says, and its number in the file."""

    name: str
    key: str
    value: str
    number: int


class Fault(Exception):
    """What is wrong with a line, and what to do."""

    def __init__(self, message: str, ask: str):
        super().__init__(message)
        self.message, self.ask = message, ask


@dataclass(frozen=True)
class AnswerFile:
    """One kind of file: its name, who reads it, what its words are called, and what of them is refused (Fault)."""

    file: str
    by: str
    name: str  # what stands in brackets
    example: str
    key: str
    value: str
    check: Callable[[str, str], None]

    def is_it(self, document: Document) -> bool:
        """Whether a document is such a file, by its name."""
        return document.path.rpartition("/")[2].casefold() == self.file

    def read(self, document: Document, notes: Recorder) -> Iterator[Line]:
        """Yield what the lines say, each name and key once; faults are observed in `notes`."""
        if "/" in document.path:
            self.fault(
                notes, document, "it lies in a folder below the audited one, and isn't used", "move its lines up"
            )
            return
        try:
            lines = _lines(document)
        except Refusal as refusal:
            self.fault(notes, document, refusal.message, refusal.ask)
            return
        name: str | None = None  # nothing has begun, or its heading is at fault
        kept: dict[tuple[str, str], Line] = {}
        for number, text in enumerate(lines, 1):
            try:
                found = self.parse(text)
                if isinstance(found, str):
                    name = found
                elif found and name is None:
                    raise Fault(
                        f"it stands below no {self.name}", f'["{self.example}"], or ["*"] for all, goes above it'
                    )
                elif found:
                    line = Line(str(name), *found, number)
                    twin = kept.setdefault((line.name, line.key), line)
                    if twin is not line and twin.value != line.value:
                        told = f"line {twin.number} gives '{line.key}' another {self.value}"
                        raise Fault(told, "keep the true one")
                    if twin is line:
                        yield line
            except Fault as fault:
                if text.lstrip().startswith("["):
                    name = None  # the lines below it are for nobody knows what
                self.fault(notes, document, f"line {number} isn't used: {fault.message}", fault.ask, f"line {number}")

    def parse(self, text: str) -> str | tuple[str, str] | None:
        """Return the name that a line sets, the key and value that it states, or None for neither. Raises Fault."""
        form = f'"{self.key}" = "{self.value}"'
        if len(text) > MAX_LINE:
            raise Fault(f"it is longer than {MAX_LINE} characters", "shorten it")
        try:
            (entry,) = tomllib.loads(text).items() or [None]
        except (tomllib.TOMLDecodeError, RecursionError) as error:
            reason = str(error).partition(" (at")[0] or "nested too deeply"
            raise Fault(f"it can't be read ({reason})", f"write {form}, both in straight quotes") from error
        if entry is None:
            return None
        key, value = entry
        if isinstance(value, dict) and text.lstrip().startswith("["):
            if value:
                raise Fault("a name with a point in it needs quotes", f'write ["{self.example}"]')
            return str(key)
        return key, self._value(key, value, form)

    def _value(self, key: str, value: Any, form: str) -> str:
        if isinstance(value, dict):
            raise Fault(f"a {self.key} with a point in it needs quotes", f"write {form}")
        if not isinstance(value, str):
            raise Fault(
                f"the {self.value} of '{key}' is no text", f'write "{key}" = "..." with the {self.value} in quotes'
            )
        self.check(key, value)
        if not key.strip() or not value.strip():
            raise Fault(f"its {self.key} or its {self.value} is blank", f"write {form}, or delete the line")
        return value.strip()

    def fault(self, notes: Recorder, document: Document, message: str, ask: str, place: str = "") -> None:
        """Observe what is wrong with the file, or with one line of it."""
        notes.observe(
            "answer_not_read",
            "major",
            f"'{document.path}': {message}",
            ask=ask,
            subject=document.path,
            document=document.path,
            place=place,
            by=self.by,
        )


def quoted(text: str) -> str:
    """Return a text as a TOML string: as in JSON, but for the one character that only TOML wants escaped."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


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
