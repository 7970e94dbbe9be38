"""Which mark is the decimal one: 1,234 is a thousand or one and a bit, and no cell of that kind says which.

Cells that prove their mark (41,8; 1.234,5; 0,434) are read by it. For the others the column is asked first, then
physics, then the table; what stays open is asked of a person. The rules, in their order:

1. another cell of the column proves one mark and none the other;
2. an answer in columns.toml;
3. only one of the two readings is possible (CCT 2,987 K; Ra 91,234), see `plausible`;
4. hours with three digits behind the mark in every cell: nobody prints hours to 3.6 seconds, so it marks thousands,
   unless other columns of the table prove that mark to be the decimal one: then it's asked;
5. other columns of the table prove one mark and none the other;
6. a point, where the trade prints decimals of the quantity: programs write the decimal point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from audit.numbers import mark_evidence, parse_value
from audit.register import quantity_register
from audit.units import IDENTITY, conversion
from plugins.ingest.headings import Meaning
from plugins.ingest.plausible import possible

NAMES = {".": "point", ",": "comma"}
HOURS = "h"


@dataclass
class Evidence:
    """What the cells of one column prove: cells with a proven decimal mark and cells left open, an example of each."""

    proven: dict[str, str] = field(default_factory=dict)  # decimal mark -> example
    open: dict[str, list[str]] = field(default_factory=dict)  # mark -> cells such as 1,234

    @property
    def decimal(self) -> str:
        """The mark that is proven, "" where none is or both are."""
        return next(iter(self.proven)) if len(self.proven) == 1 else ""


@dataclass(frozen=True)
class Mark:
    """The decimal mark of a column; `why` says what settled it, blank where nothing was open or unusual."""

    decimal: str = "."
    why: str = ""
    example: str = ""  # an open cell, where a person has to be asked
    answered: bool = False


def evidence_of(cells: Sequence[Any]) -> Evidence:
    """Return what the text cells of a column prove; a mark once proven isn't looked for again."""
    found = Evidence()
    for cell in cells:
        if not isinstance(cell, str):
            continue
        if not ("." in cell and "." not in found.proven) and not ("," in cell and "," not in found.proven):
            continue
        seen = mark_evidence(cell)
        if seen.decimal:
            found.proven.setdefault(seen.decimal, cell)
        elif seen.open:
            found.open.setdefault(seen.open, []).append(cell)
    return found


def decide_marks(columns: Sequence[tuple[Meaning, Sequence[Any]]], answer: str = "") -> list[Mark]:
    """Return the decimal mark of each column of a table. `answer`: the mark that a person stated, or ""."""
    evidence = [evidence_of(cells) for _, cells in columns]
    table = Evidence()
    for each in evidence:
        table.proven = each.proven | table.proven  # one example for all columns makes one remark of them
    return [_decide(meaning, each, table, answer) for (meaning, _), each in zip(columns, evidence, strict=True)]


def _decide(meaning: Meaning, column: Evidence, table: Evidence, answer: str) -> Mark:
    if not column.open:
        return Mark(",", _proof(",", table.proven[","])) if "," in column.proven else Mark()
    if column.decimal:
        why = _proof(column.decimal, table.proven[column.decimal])
        return Mark(column.decimal, why if column.decimal == "," or "," in column.open else "")
    if answer:
        return Mark(answer, "columns.toml says so", answered=True)
    opened = [cell for cells in column.open.values() for cell in cells]
    if len(column.open) > 1 or column.proven:
        return Mark(example=opened[0])
    (mark,) = column.open
    other = "," if mark == "." else "."
    sound = [decimal for decimal in (mark, other) if all(_possible(cell, meaning, decimal) for cell in opened)]
    if len(sound) == 1:
        why = (
            f"'{opened[0]}' with a {NAMES[sound[0]]} as its decimal mark is the only possible value of {meaning.target}"
        )
        return Mark(sound[0], why if (sound[0], mark) != (".", ".") else "")
    if meaning.unit == HOURS and all(_in_hours(cell, meaning) for cell in opened):
        if table.decimal == mark:
            return Mark(example=opened[0])
        return Mark(other, f"hours such as '{opened[0]}' aren't printed to the second, so the mark is one of thousands")
    if table.decimal:
        return Mark(
            table.decimal, "" if (table.decimal, mark) == (".", ".") else _proof(*next(iter(table.proven.items())))
        )
    return Mark() if mark == "." and _prints_decimals(meaning) else Mark(example=opened[0])


def _proof(decimal: str, example: str) -> str:
    return f"'{example.strip()[:40]}' can only be read with a decimal {NAMES[decimal]}"


def _possible(cell: str, meaning: Meaning, decimal: str) -> bool:
    found = parse_value(cell, decimal)
    try:
        convert = conversion(found.unit, meaning.unit) if found and found.unit else meaning.conversion
    except ValueError:
        return True  # said of the cell later
    return found is None or possible(meaning.target, convert.apply(found.value))


def _in_hours(cell: str, meaning: Meaning) -> bool:
    """Whether a cell counts hours themselves: 6.000 kh is six thousand hours as it stands."""
    found = parse_value(cell)
    spelled = found.unit if found else ""
    try:
        return (conversion(spelled, HOURS) if spelled else meaning.conversion) == IDENTITY
    except ValueError:
        return False


def _prints_decimals(meaning: Meaning) -> bool:
    """Whether the trade prints this quantity with decimals, or in a unit (klm) in which it needs them."""
    known = quantity_register().get(meaning.target)
    return not known or known.decimals > 0 or meaning.conversion.factor > 1
