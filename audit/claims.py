"""Claims sheets: found in the folder by their heading, read cell by cell, never guessed at."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from audit.claim_cells import CellError, conditions_of_cells, limits_of_cells, population_of_cell
from audit.model import Document, Quantity, Refusal, RequirementSet
from audit.numbers import Span
from audit.recorder import Recorder
from audit.register import nearest
from audit.sheets import Sheet, address, is_workbook, read_sheets, shown_as_per_cent, text_of

MARKS = {"claim_id", "quantity", "relation"}  # the headings that make a table a claims sheet
DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2212"
REMARK = "#"  # alone under claim_id: the row explains and claims nothing. "#1" is an id like any other
PER_CENT_COLUMNS = ("value", "value_to", "level_percent", "saturation_setting_percent", "population_percent")
MOST_NAMED = 5
# What people write over a column of claims, and the column that they mean.
OTHER_WORDS = {
    "id": "claim_id",
    "claim": "claim_id",
    "luminaire": "product",
    "model": "product",
    "parameter": "quantity",
    "metric": "quantity",
    "limit": "value",
    "claimed": "value",
    "claimed_value": "value",
    "minimum": "value",
    "maximum": "value",
    "to": "value_to",
    "tolerance": "value_to",
    "upper_limit": "value_to",
    "units": "unit",
    "level": "level_percent",
    "dimming_level": "level_percent",
    "cct": "cct_setting_K",
    "ambient": "ambient_C",
    "ambient_temperature": "ambient_C",
    "case_temperature": "case_C",
    "current": "drive_mA",
    "life": "hours",
    "share": "population_percent",
    "population": "population_percent",
}


@dataclass(frozen=True)
class Criterion:
    """What makes a claim a requirement: where it is laid down, and what must be known before it can be judged."""

    of: RequirementSet
    requirement_id: str
    clause: str
    group: str = ""  # requirements of one group are met together or not at all
    read_in: str = ""  # where the limit was read
    open_questions: tuple[str, ...] = ()
    ask: str = ""  # the lines that answer what is open
    formula: str = ""  # of a limit that is worked out from what is declared


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
    criterion: Criterion | None = None  # None: the maker's own claim

    @property
    def has_limit(self) -> bool:
        return math.isfinite(self.lower) or math.isfinite(self.upper)


def fold(name: str) -> str:
    """Return a heading or the name of a quantity without case, its blanks and dashes as underscores."""
    return "_".join("".join(" " if char in DASHES else char for char in name.casefold()).replace("_", " ").split())


def _meant(folded: str, spelled: Mapping[str, str]) -> str:
    """Return the column that a heading unknown here probably means, "" where nothing is like it."""
    if folded in OTHER_WORDS:
        return OTHER_WORDS[folded]
    close = difflib.get_close_matches(folded, spelled, n=1, cutoff=0.6)
    return spelled[close[0]] if close else ""


def product_key(name: str) -> str:
    """Return a product's name without case, blanks and dashes: names that agree so far are one product."""
    return "".join(char for char in name.casefold() if not char.isspace() and char not in DASHES)


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
    found = [(sheet, 0) for sheet in sheets if sheet.rows and {fold(text_of(cell)) for cell in sheet.rows[0]} >= MARKS]
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
        for _, claim in SheetReader(document, sheet, header, known, notes).rows():
            yield claim


class SheetReader:
    """Reads one sheet of claims, or of what has their shape: `noun` is what a row is called.

    `more` are columns beside those of a claim, `spellings` other headings for them.
    """

    noun = "claim"
    more: tuple[str, ...] = ()
    spellings: Mapping[str, str] = {}

    def __init__(self, document: Document, sheet: Sheet, header: int, known: Mapping[str, Quantity], notes: Recorder):
        from schemas.claims import CLAIM_COLUMNS

        self.document, self.sheet, self.header, self.known, self.notes = document, sheet, header, known, notes
        spelled = {fold(name): name for name in (*CLAIM_COLUMNS, *self.more)} | dict(self.spellings)
        headings = {text_of(cell): index for index, cell in enumerate(sheet.rows[header]) if text_of(cell)}
        self.columns = {spelled[fold(text)]: index for text, index in headings.items() if fold(text) in spelled}
        self.strange = {text: index for text, index in headings.items() if fold(text) not in spelled}
        self.likely = {text: meant for text in self.strange if (meant := _meant(fold(text), spelled))}
        below = range(header + 1, len(sheet.rows))
        remarks = {row for row in below if self.text(row, "claim_id") == REMARK}
        self.filled = [row for row in below if row not in remarks and any(text_of(cell) for cell in sheet.rows[row])]

    def place(self, row: int, column: str = "") -> str:
        """Return where a row, or its cell in a column, stands."""
        sheet = f"sheet '{self.sheet.name}', " if self.sheet.name else ""
        index = (self.columns | self.strange).get(column)
        return f"{sheet}row {row + 1}" + ("" if index is None else f", cell {address(row, index)}")

    def observe(self, rule: str, tier: str, row: int, column: str, subject: str, message: str, ask: str) -> None:
        """Observe something about a row or one cell of it."""
        self.notes.observe(
            rule,
            tier,
            message,
            ask=ask,
            subject=subject,
            document=self.document.path,
            place=self.place(row, column),
            by=f"{self.noun}s",
        )

    def refuse(self, row: int, column: str, claim: str, message: str, ask: str) -> None:
        """Observe that a row isn't judged: why, and what to do."""
        told = f"{self.noun} {claim or f'(no {self.noun}_id)'} isn't judged: {message}"
        self.observe(f"{self.noun}_not_read", "major", row, column, claim, told, ask)

    def rows(self) -> Iterator[tuple[int, Claim]]:
        """Validate the sheet's rows as text, then yield each that is sound, parsed, with its index."""
        import pandas as pd

        from audit.validate import validate
        from schemas.claims import CLAIM_COLUMNS

        self._strange_columns()
        texts = {row: {name: self.text(row, name) for name in self.columns} for row in self.filled}
        cells = [[texts[row].get(name, "") for name in CLAIM_COLUMNS] for row in self.filled]
        frame = pd.DataFrame(cells, index=self.filled, columns=list(CLAIM_COLUMNS), dtype="str")
        frame["relation"] = frame["relation"].map(fold)
        frame["statistic"] = frame["statistic"].str.casefold()
        frame["test_object"] = frame["test_object"].str.casefold()
        sound, faults = validate("claims", frame)
        for column, rule, bad in faults:
            for row in bad:
                claim = frame.at[row, "claim_id"]
                if rule == "field_uniqueness":
                    first = int(frame.index[frame["claim_id"] == claim][0]) + 1
                    message = f"row {first} has that {self.noun}_id already"
                    self.refuse(row, column, claim, message, f"give every {self.noun} an id of its own")
                else:
                    self.refuse(row, column, claim, f"{column} is '{frame.at[row, column]}'", f"write {rule}")
        for row, cells_of_row in sound.to_dict("index").items():
            claim_or_none = self._claim(row, cells_of_row)
            if claim_or_none:
                yield row, claim_or_none

    def text(self, row: int, column: str) -> str:
        """Return a cell as its reader sees it: a workbook's 0.95 that is shown as 95 % is 95 %."""
        cell = self.sheet.cell(row, self.columns[column])
        if column in PER_CENT_COLUMNS and isinstance(cell, float):
            place = address(row, self.columns[column])
            if shown_as_per_cent(self.document, self.sheet.name, place):
                return f"{100 * cell:.12g}" if column not in ("value", "value_to") else f"{100 * cell:.12g} %"
        return text_of(cell)

    def _strange_columns(self) -> None:
        """Observe columns that aren't used. One that is almost a known one costs the rows that fill it; see _claim."""
        for text in self.strange:
            meant = self.likely.get(text)
            self.observe(
                f"{self.noun}_column_unknown",
                "major" if meant else "minor",
                self.header,
                text,
                text,
                f"the {self.noun}s sheet has a column '{text}', which isn't used"
                + (f"; {self.noun}s that fill it aren't judged" if meant else ""),
                f"rename it '{meant}' if that is meant, else call it 'note' or remove it"
                if meant
                else "move what it says to 'note'",
            )
        width = len(self.sheet.rows[self.header])
        for row in self.filled:
            beyond = [text_of(cell) for cell in self.sheet.rows[row][width:] if text_of(cell)]
            if beyond:
                told = f"cells beyond the headings aren't used: {', '.join(beyond[:MOST_NAMED])}"
                self.observe(
                    f"{self.noun}_cells_beyond", "major", row, "", "", told, "look for a stray delimiter or comma"
                )

    def _claim(self, row: int, texts: dict[str, Any]) -> Claim | None:
        claim_id = texts["claim_id"]
        for text, meant in self.likely.items():
            if text_of(self.sheet.cell(row, self.strange[text])):
                message = f"its column '{text}' isn't known and may change what it says"
                self.refuse(row, text, claim_id, message, f"rename the column '{meant}' if that is meant")
                return None
        quantity = self.known.get(fold(texts["quantity"]))
        if quantity is None:
            close = nearest(texts["quantity"], self.known)
            hint = f"did you mean '{close}'?" if close else "`claimlight explain` lists the names"
            self.refuse(row, "quantity", claim_id, f"there is no quantity '{texts['quantity']}'", hint)
            return None
        try:
            for column in ("value", "value_to"):
                if texts[column].endswith(" %") and texts["unit"] in ("", "%"):
                    texts |= {column: texts[column].removesuffix(" %"), "unit": "%"}
            lower, upper = limits_of_cells(texts, quantity)
            conditions = conditions_of_cells(texts)
            population = population_of_cell(texts["population_percent"])
        except CellError as error:
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
