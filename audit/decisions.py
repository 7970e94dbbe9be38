"""decisions.csv: what a person has decided on findings, readings and observations, read row by row.

A decision stands beside what it is about and changes nothing: verdicts, values, counts and exit status stay as
computed. The file stays the person's own; an audit reads it and never writes it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from audit.identities import clean
from audit.model import Document, Refusal
from audit.recorder import Recorder, place_text
from audit.sheets import Sheet, address, read_sheets, text_of

FILE_NAME = "decisions.csv"
DECISION_COLUMNS = ("identity", "decision", "value", "reason", "person", "date")
ACCEPTED, CORRECTED, REJECTED = DECISION_WORDS = ("accepted", "corrected", "rejected")
MOST_BYTES = 5_000_000
MOST_ROWS = 10_000
MOST_TOLD = 20  # rows that are told one by one; the others are counted
LONGEST_SHOWN = 60  # characters of a faulty cell


@dataclass(frozen=True)
class Decision:
    """One row of decisions.csv. `value` is the right text of a corrected cell, as it should have been printed."""

    identity: str
    decision: str
    value: str
    reason: str
    person: str
    date: str  # 2026-05-31
    document: str
    place: str


def is_decisions(document: Document) -> bool:
    """Whether a document is a file of decisions, by its name."""
    return document.path.rpartition("/")[2].casefold() == FILE_NAME


def read_decisions(document: Document, notes: Recorder) -> list[Decision]:
    """Return the decisions of a file; what can't be read is observed in `notes` with its cell, and the rest stand.

    These observations are minor: a decision, read or not, never changes the outcome of an audit.
    """
    try:
        if document.size > MOST_BYTES:
            raise Refusal(
                f"the file has {document.size:,} bytes, more than the {MOST_BYTES:,} that are read",
                ask="keep only the decisions that are still needed",
            )
        return [decision for sheet in read_sheets(document) for decision in _SheetReader(document, sheet, notes).read()]
    except Refusal as refusal:
        observe_decision(notes, "decisions_not_read", refusal.message, refusal.ask, document.path, refusal.place)
        return []


class _SheetReader:
    def __init__(self, document: Document, sheet: Sheet, notes: Recorder):
        self.document, self.sheet, self.notes = document, sheet, notes
        headings = [text_of(cell).casefold() for cell in sheet.rows[0]] if sheet.rows else []
        self.columns = {name: index for index, name in enumerate(headings) if name}

    def read(self) -> Iterator[Decision]:
        self._check_headings()
        rows = self._rows()
        faults: list[tuple[int, str, str, str]] = []
        sound = self._sound(rows, faults)
        for row, texts in sound.items():
            wrong = _misplaced_value(texts["decision"], texts["value"])
            if wrong:
                faults.append((row, "value", *wrong))
                continue
            identity = clean(texts.pop("identity"))
            yield Decision(identity, **texts, document=self.document.path, place=self._place(row))
        for row, column, message, ask in sorted(faults)[:MOST_TOLD]:
            self._observe(f"the decision isn't used: {message}", ask, self._place(row, column))
        if len(faults) > MOST_TOLD:
            more = len(faults) - MOST_TOLD
            self._observe(f"{more} more cells of decisions can't be read", "mend them as those named one by one")

    def _check_headings(self) -> None:
        missing = [name for name in DECISION_COLUMNS if name not in self.columns]
        if missing:
            raise Refusal(
                f"no column {', '.join(missing)}: no decision is read",
                place=self._place(0),
                ask=f"give the first row the headings {','.join(DECISION_COLUMNS)}",
            )
        unused = [name for name in self.columns if name not in DECISION_COLUMNS]
        if unused:
            shown = ", ".join(f"'{_cut(name)}'" for name in unused[:MOST_TOLD])
            self._observe(f"columns that aren't used: {shown}", "move what they say to 'reason'", self._place(0))

    def _rows(self) -> dict[int, dict[str, str]]:
        """The texts of the rows that aren't blank, by their index."""
        if len(self.sheet.rows) > MOST_ROWS:
            self._observe(
                f"{len(self.sheet.rows) - MOST_ROWS} rows beyond row {MOST_ROWS} aren't read",
                "keep only the decisions that are still needed",
            )
        cells = {
            row: {name: text_of(self.sheet.cell(row, self.columns[name])) for name in DECISION_COLUMNS}
            for row in range(1, min(len(self.sheet.rows), MOST_ROWS))
        }
        return {row: texts for row, texts in cells.items() if any(texts.values())}

    def _sound(
        self, rows: dict[int, dict[str, str]], faults: list[tuple[int, str, str, str]]
    ) -> dict[int, dict[str, str]]:
        """Return the rows that fit the schema; the others are added to `faults`."""
        import pandas as pd

        from audit.validate import validate

        table = pd.DataFrame(list(rows.values()), index=list(rows), columns=list(DECISION_COLUMNS), dtype="str")
        sound, broken = validate("decisions", table)
        for column, rule, indices in broken:
            faults += [(row, column, f"{column} is '{_cut(rows[row][column])}'", f"write {rule}") for row in indices]
        return {row: rows[row] for row in sound.index}

    def _place(self, row: int, column: str = DECISION_COLUMNS[0]) -> str:
        return place_text(self.sheet.name, row + 1, address(row, self.columns.get(column, 0)))

    def _observe(self, message: str, ask: str, place: str = "") -> None:
        observe_decision(self.notes, "decision_not_read", message, ask, self.document.path, place)


def _misplaced_value(decision: str, value: str) -> tuple[str, str] | None:
    """Return what is wrong with a value beside such a decision, and what to do; None if nothing is."""
    if decision == CORRECTED and not value:
        return "nothing stands in value", "write the right text of the cell, as it should have been printed"
    if decision != CORRECTED and value:
        return f"a value stands beside '{decision}'", f"leave value blank, or write '{CORRECTED}' if it is a correction"
    return None


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + "..."


def observe_decision(notes: Recorder, rule: str, message: str, ask: str, document: str, place: str) -> None:
    """Observe something about decisions; minor, since it touches no claim."""
    notes.observe(rule, "minor", message, ask=ask, subject=document, document=document, place=place, by="decisions")
