"""Claims sheets: found in the folder by their heading, read cell by cell, never guessed at."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from audit.model import NUMBER, POINT_FIELDS, Document, Quantity, Refusal
from audit.numbers import Span, parse_number, parse_span
from audit.recorder import Recorder
from audit.register import nearest
from audit.sheets import Sheet, address, is_workbook, read_sheets, text_of
from audit.units import IDENTITY, Conversion, conversion

MARKS = {"claim_id", "quantity", "relation"}  # the headings that make a table a claims sheet
DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2212"
CONDITION_FIELDS = tuple(name for name in POINT_FIELDS if name not in ("product", "test_object"))


@dataclass(frozen=True)
class Claim:
    """One claim: quantity and limits in the register's unit; -inf or inf where a side is open.

    `conditions` holds the operating-point fields that the claim states, numbers as Span.
    """

    claim_id: str
    product: str
    quantity: Quantity
    relation: str
    lower: float
    upper: float
    statistic: str = ""
    definition: str = ""
    test_object: str = ""
    conditions: Mapping[str, str | Span] = field(default_factory=dict)
    population_percent: float = math.nan
    source: str = ""
    note: str = ""
    document: str = ""
    place: str = ""
    limit_status: str = "stated"

    @property
    def has_limit(self) -> bool:
        return math.isfinite(self.lower) or math.isfinite(self.upper)


def sheets_with_claims(document: Document, head: bytes) -> list[tuple[Sheet, int]]:
    """Return the sheets of a document that are claims sheets, with the index of their heading row."""
    named = document.path.rpartition("/")[2].casefold().startswith("claims")
    if not named and not is_workbook(head) and not all(mark.encode() in head for mark in MARKS):
        return []
    try:
        sheets = list(read_sheets(document))
    except Refusal:
        if named:
            raise
        return []  # a reader will be asked, and will refuse it
    found = [(sheet, 0) for sheet in sheets if sheet.rows and {text_of(cell) for cell in sheet.rows[0]} >= MARKS]
    if named and not found:
        raise Refusal(
            "named like a claims sheet, but no sheet has the headings claim_id, quantity and relation in its first row",
            ask="give the claims sheet those headings, or the file another name if it holds evidence",
        )
    return found


def read_claims(
    document: Document, sheets: Sequence[tuple[Sheet, int]], known: Mapping[str, Quantity], notes: Recorder
) -> Iterator[Claim]:
    """Yield the claims of a document; what can't be read becomes an observation in `notes`, with its cell."""
    for sheet, header in sheets:
        yield from _SheetReader(document, sheet, header, known, notes).claims()


class _SheetReader:
    def __init__(self, document: Document, sheet: Sheet, header: int, known: Mapping[str, Quantity], notes: Recorder):
        self.document, self.sheet, self.header, self.known, self.notes = document, sheet, header, known, notes
        self.columns = {text_of(cell): index for index, cell in enumerate(sheet.rows[header]) if text_of(cell)}

    def place(self, row: int, column: str = "") -> str:
        sheet = f"sheet '{self.sheet.name}', " if self.sheet.name else ""
        cell = f", cell {address(row, self.columns[column])}" if column in self.columns else ""
        return f"{sheet}row {row + 1}{cell}"

    def refuse(self, row: int, column: str, claim: str, message: str, ask: str) -> None:
        self.notes.observe(
            "claim_not_read",
            "major",
            f"claim {claim or '(no claim_id)'} isn't judged: {message}",
            ask=ask,
            subject=claim,
            document=self.document.path,
            place=self.place(row, column),
            by="claims",
        )

    def claims(self) -> Iterator[Claim]:
        """Validate the sheet's rows as text, then parse each that is sound."""
        import pandas as pd

        from audit.validate import validate
        from schemas.claims import CLAIM_COLUMNS

        self._unknown_columns(CLAIM_COLUMNS)
        cells = {
            row: {name: text_of(self.sheet.cell(row, index)) for name, index in self.columns.items()}
            for row in range(self.header + 1, len(self.sheet.rows))
        }
        filled = {row: texts for row, texts in cells.items() if any(texts.values())}
        frame = pd.DataFrame(
            [[texts.get(name, "") for name in CLAIM_COLUMNS] for texts in filled.values()],
            index=list(filled),
            columns=list(CLAIM_COLUMNS),
            dtype="str",
        )
        sound, faults = validate("claims", frame)
        for column, rule, rows in faults:
            for row in rows:
                raw = frame.at[row, column]
                wanted = "a claim_id that no other row has" if rule == "field_uniqueness" else rule
                self.refuse(row, column, frame.at[row, "claim_id"], f"{column} is '{raw}'", f"write {wanted}")
        for row, texts in sound.to_dict("index").items():
            claim = self._claim(int(row), texts)
            if claim:
                yield claim

    def _unknown_columns(self, known: Sequence[str]) -> None:
        for name in self.columns:
            if name not in known:
                close = difflib.get_close_matches(name.casefold(), known, n=1)
                hint = f"rename it '{close[0]}' if that is meant" if close else "move what it says to 'note'"
                self.notes.observe(
                    "claim_column_unknown",
                    "minor",
                    f"the claims sheet has a column '{name}', which isn't used",
                    ask=hint,
                    subject=name,
                    document=self.document.path,
                    place=self.place(self.header, name),
                    by="claims",
                )

    def _claim(self, row: int, texts: dict[str, Any]) -> Claim | None:
        claim_id = texts["claim_id"]
        quantity = self.known.get(texts["quantity"])
        if quantity is None:
            close = nearest(texts["quantity"], self.known)
            hint = f"did you mean '{close}'?" if close else "see audit/quantities/register.csv for the names"
            self.refuse(row, "quantity", claim_id, f"there is no quantity '{texts['quantity']}'", hint)
            return None
        try:
            lower, upper = self._limits(texts, quantity)
            conditions = self._conditions(texts)
            population = self._population(texts["population_percent"])
        except _CellError as error:
            self.refuse(row, error.column, claim_id, error.message, error.ask)
            return None
        return Claim(
            claim_id,
            texts["product"],
            quantity,
            texts["relation"],
            lower,
            upper,
            texts["statistic"],
            texts["definition"],
            texts["test_object"],
            conditions,
            population,
            texts["source"],
            texts["note"],
            self.document.path,
            self.place(row),
        )

    def _limits(self, texts: dict[str, Any], quantity: Quantity) -> tuple[float, float]:
        try:
            unit = conversion(texts["unit"], quantity.unit)
        except ValueError as error:
            raise _CellError("unit", str(error), "correct the unit; limits are never guessed") from error
        value = _limit("value", texts["value"], unit)
        relation = texts["relation"]
        if value is None:
            return -math.inf, math.inf
        if relation == "at_least":
            return value, math.inf
        if relation == "at_most":
            return -math.inf, value
        # A half-width takes the factor of a unit, not its offset: ± 9 °F is ± 5 °C.
        second = unit if relation == "between" else Conversion(unit.factor, 0.0)
        value_to = _limit("value_to", texts["value_to"], second)
        if value_to is None:
            raise _CellError("value_to", f"'{relation}' needs a second number", "fill in value_to")
        low, high = (value, value_to) if relation == "between" else (value - value_to, value + value_to)
        if low > high:
            raise _CellError(
                "value_to",
                "the upper limit is below the lower one",
                "put the lower limit in value; a ± is positive",
            )
        return low, high

    def _conditions(self, texts: dict[str, Any]) -> dict[str, str | Span]:
        conditions: dict[str, str | Span] = {}
        for name in CONDITION_FIELDS:
            text = texts[name]
            if not text:
                continue
            if POINT_FIELDS[name] != NUMBER:
                conditions[name] = text
                continue
            span = parse_span(text)
            if span is None:
                raise _CellError(name, f"{name} is '{text}'", "write a number, or a range as `a to b`")
            conditions[name] = span
        return conditions

    def _population(self, text: str) -> float:
        number = _limit("population_percent", text.removesuffix("%").strip(), IDENTITY)
        if number is None:
            return math.nan
        if not 0 < number < 100:
            raise _CellError(
                "population_percent",
                f"a share of {number:g} % can't be shown by testing samples",
                "write a share above 0 and below 100, or leave it blank to claim it of the units tested",
            )
        return number


class _CellError(Exception):
    def __init__(self, column: str, message: str, ask: str):
        super().__init__(message)
        self.column, self.message, self.ask = column, message, ask


def _limit(column: str, text: str, unit: Conversion) -> float | None:
    if not text:
        return None
    number = parse_number(text)
    if number is None:
        raise _CellError(column, f"{column} is '{text}'", "write a plain number such as 90 or 0.003")
    return unit.apply(number.value)


def product_key(name: str) -> str:
    """Return a product's name without case, blanks and dashes: names that agree so far are one product."""
    return "".join(char for char in name.casefold() if not char.isspace() and char not in DASHES)
