"""Cells into numbers: a printed value with its unit and its last digit, "no value", or a reason why not."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from audit.numbers import (
    BETWEEN,
    BOUND,
    INEXACT,
    MOST_DIGITS,
    PLAIN,
    SEVERAL,
    Printed,
    Value,
    mark_evidence,
    parse_number,
    parse_value,
)
from audit.register import quantity_register
from audit.sheets import FORMULA_WITHOUT_RESULT, text_of
from audit.units import Conversion, conversion, is_unit
from audit.units import fold as fold_unit
from plugins.ingest.headings import COVERAGE, HOUSE_K, READING, UNCERTAINTY, Meaning

NO_VALUE = frozenset({"", "-", "--", "---", "----", "–", "––", "—", "−", "…", "/", "n/a", "n.a.", "na", "n. a.",
                      "k. a.", "unknown", "not measured", "not tested", "not applicable", "not available", "n/m",
                      "n.m.", "n/t"})  # fmt: skip
MAX_FRACTION = 1.5  # a flux maintenance of 1.02 is a fraction; in per cent nothing of interest is that low
LIFE, ABOVE = "lumen_maintenance_life", (">", "≥")  # how TM-21 prints a life past its limit: > 54,000 h, read as 54,000
PLAIN_TEXTS = re.compile(r"[0-9.+\-]*")
KINDS = {
    BETWEEN: "is a range, which is no reading",
    SEVERAL: "lists several values, and which was measured isn't said",
    INEXACT: "holds a value and its uncertainty, which can't be told apart: give the uncertainty a column of its own",
}
ERROR = re.compile(r"#(?:N/A|N/V|NV|DIV/0!|REF!|BEZUG!|VALUE!|WERT!|NAME\?|NUM!|ZAHL!|NULL!|SPILL!|CALC!|FIELD!)")
CALCULATE = "open the workbook in a spreadsheet program, let it calculate, and save it again"
PLUS_MINUS = re.compile(r"\s*(?:±|\+\s*/\s*[-−–]|\+[-−])\s*")
IN_BRACKETS = re.compile(r"\(([^()]+)\)\s*(.*)")  # (3012 ± 28) K
PERCENTAGES = ("%", "1", "index")  # units of quantities of which per cent may be a share or points


class Number(NamedTuple):
    """A cell's value and resolution in the unit of its column; `problem` says why it has none."""

    value: float = math.nan
    resolution: float = math.nan
    problem: str = ""
    fraction: bool = False  # a bare number that may be a fraction, where per cent is meant
    remark: str = ""  # words behind the number, kept beside it
    uncertainty: float = math.nan  # expanded, k = 2, where the cell states it behind the value
    doubt: str = ""  # why what stands behind the value isn't used

    @property
    def odd(self) -> bool:
        """Whether there is more to say of the cell than its value."""
        return bool(self.problem or self.remark or self.doubt) or not math.isnan(self.uncertainty)


NOTHING = Number()


def has_value(cell: Any) -> bool:
    """Whether a cell holds anything but blanks or one of the marks for "no value"."""
    return text_of(cell).casefold() not in NO_VALUE


def number(cell: Any, meaning: Meaning, decimal: str = ".") -> Number:
    """Return a cell under a heading as a number in the heading's house unit; a cell's own unit comes first.

    `decimal` is the decimal mark of the column; a cell that proves another one by itself (41,8) is read by that.
    """
    if printed := parse_number(cell, decimal if isinstance(cell, str) else "."):  # the usual case, and the quick one
        return _converted(*printed, meaning.conversion, meaning, meaning.per_cent)
    if not has_value(cell):
        return NOTHING
    if isinstance(cell, str) and PLUS_MINUS.search(cell, 1) and (both := _with_uncertainty(cell, meaning, decimal)):
        return both
    found = _value(cell, decimal)
    if found and found.qualifier == "±" and meaning.role == UNCERTAINTY:
        found = Value(PLAIN, found.value, found.resolution, found.unit)
    if found and found.kind == BOUND and found.qualifier in ABOVE and meaning.target == LIFE:
        found = Value(PLAIN, found.value, found.resolution, found.unit)
    if problem := _problem(cell, found):
        return Number(problem=problem)
    assert found is not None  # or it had a problem
    try:
        convert = conversion(found.unit, meaning.unit) if found.unit else meaning.conversion
    except ValueError as error:
        return Number(problem=f"in '{text_of(cell)[:60]}' {error}")
    per_cent = meaning.per_cent and not found.unit
    return _converted(found.value, found.resolution, convert, meaning, per_cent, found.remark)


def _converted(
    printed: float, resolution: float, convert: Conversion, meaning: Meaning, per_cent: bool, remark: str = ""
) -> Number:
    value = printed * convert.factor if meaning.role == UNCERTAINTY else convert.apply(printed)
    return Number(value, resolution * abs(convert.factor), "", per_cent and bool(may_be_fraction(printed)), remark)


def _with_uncertainty(cell: str, meaning: Meaning, decimal: str) -> Number | None:
    """Return a value and what stands behind it (`3012 ± 28 K`, `95.2 +/- 2 %`), None where they can't be told apart.

    Behind a reading that is its expanded uncertainty, with the k that the cell or the heading states; a state keeps it
    as a remark. A unit behind both is that of both; per cent is a share of a value that isn't in per cent itself.
    """
    factor = COVERAGE.search(cell)
    text = (cell[: factor.start()] + cell[factor.end() :]).strip() if factor else cell.strip()
    if wrapped := IN_BRACKETS.fullmatch(text):
        text = f"{wrapped[1]} {wrapped[2]}"
    parts = PLUS_MINUS.split(text)
    first, second = (_value(part, decimal) for part in parts) if len(parts) == 2 else (None, None)
    if not first or not second or {first.kind, second.kind} != {PLAIN} or meaning.role == UNCERTAINTY:
        return None
    share = fold_unit(second.unit) == "%" and (bool(first.unit) or meaning.unit != "%")
    unit = "" if share or first.unit else second.unit
    found = number(f"{parts[0]} {unit}".strip(), meaning, decimal)
    if meaning.role != READING or found.problem:
        return found._replace(remark=text[len(parts[0]) :].strip())
    if share and meaning.unit in PERCENTAGES:
        return found._replace(doubt=f"'{cell.strip()[:60]}': per cent of the value, or percentage points?")
    try:
        scale = abs(found.value) / 100 if share else _factor(second.unit or first.unit, meaning)
    except ValueError as error:
        return found._replace(doubt=f"in '{cell.strip()[:60]}' {error}")
    expanded = second.value * scale * HOUSE_K / (float(factor[1]) if factor else meaning.coverage)
    if expanded <= 0:
        return found._replace(doubt=f"the uncertainty in '{cell.strip()[:60]}' isn't above zero")
    return found._replace(uncertainty=expanded)


def _factor(unit: str, meaning: Meaning) -> float:
    """Return the factor from a unit, or from the heading's where none is given, to the house unit."""
    return (conversion(unit, meaning.unit) if unit else meaning.conversion).factor


def _value(cell: Any, decimal: str) -> Value | None:
    if isinstance(cell, str) and ("," in cell or decimal == ","):
        decimal = mark_evidence(cell).decimal or decimal
    return parse_value(cell, decimal)


def no_result(cell: Any) -> str:
    """Return why a cell of a spreadsheet has nothing to say: its formula failed or wasn't calculated; "" otherwise."""
    text = text_of(cell)
    if text == FORMULA_WITHOUT_RESULT:
        return f"a formula stands whose result isn't stored: {CALCULATE}"
    return f"'{text}' is a spreadsheet's error" if ERROR.fullmatch(text) else ""


def _problem(cell: Any, found: Value | None) -> str:
    text = text_of(cell)[:60]
    if failed := no_result(cell):
        return failed
    if found is None:
        return f"'{text}' is no number"
    if found.kind == BOUND:
        return f"'{text}' is a bound ({found.qualifier}), which is no reading of {found.value:g}"
    if found.kind in KINDS:
        return f"'{text}' {KINDS[found.kind]}"
    if found.unit and not is_unit(found.unit):
        return f"'{text}' is no number: what stands behind it is no unit and may change what it means"
    return ""


def plain_numbers(texts: Sequence[str]) -> np.ndarray | None:
    """Return texts (n,) of digits and decimal points as numbers, NaN where blank; None if any is otherwise."""
    if not PLAIN_TEXTS.fullmatch("".join(texts)):
        return None
    try:
        values = np.array([float(text) if text else math.nan for text in texts], np.float64)
    except ValueError:
        return None
    return values if not np.isinf(values).any() and max(map(len, texts), default=0) < MOST_DIGITS else None


def decimals_of(texts: Sequence[str]) -> int:
    """Return the digits behind the point in the finest of these plain numbers."""
    return max((len(text) - text.index(".") - 1 for text in texts if "." in text), default=0)


def usual_resolution(cells: Sequence[Any], finest: float, meaning: Meaning) -> float:
    """Return one unit of the last digit to which a column is printed, from that of its finest cell.

    Programs drop trailing zeros, so the finest cell speaks for all. A workbook keeps numbers without their
    format: there the trade's usual digits (register: decimals) are assumed where the cells show fewer.
    """
    if meaning.role == READING and any(isinstance(cell, float) for cell in cells):
        return min(finest, 10.0 ** -quantity_register()[meaning.target].decimals)
    return finest


def may_be_fraction(printed: Any) -> Any:
    """Whether numbers under per cent are so low that fractions may have been written."""
    return abs(printed) <= MAX_FRACTION


def decimal_comma(cells: Sequence[Any]) -> bool:
    """Whether these numbers are written with a decimal comma: some cell proves it (0,03), and none the contrary."""
    proofs = {mark_evidence(cell).decimal for cell in cells if isinstance(cell, str) and "," in cell}
    return "," in proofs and not any(isinstance(cell, str) and "." in cell for cell in cells)


def as_numbers(cells: Sequence[Any], decimal: str = "") -> np.ndarray | None:
    """Return cells as floats, or None where any of them isn't a finite number printed in the usual way.

    `decimal`: the mark of the cells that don't prove another one, where a person or the rest of the table says it.
    """
    try:
        if isinstance(cells[0], str):
            text = "".join(cells)
            if "_" in text or not text.isascii() or (decimal == "," and "." in text):
                raise ValueError  # float() takes 1_000 and digits of other scripts, and every point for a decimal one
        values = np.fromiter(map(float, cells), np.float64, len(cells))
    except (TypeError, ValueError):
        proofs = {mark_evidence(cell).decimal for cell in cells} - {""}
        mark = next(iter(proofs)) if len(proofs) == 1 else decimal or "."
        found: list[Printed | Value | None] = [
            parse_number(cell, mark) for cell in cells
        ]  # a typographic minus, blanks
        if None in found and decimal:
            marked = [parse_value(cell, mark) for cell in cells]
            found = [each if each and each.kind == PLAIN and not each.unit else None for each in marked]
        if None in found:
            return None
        values = np.array([printed.value for printed in found if printed])
    return values if np.isfinite(values).all() else None


def first_bad(cells: Sequence[Any]) -> int:
    """Return the index of the first cell that isn't a number."""
    decimal = "," if decimal_comma(cells) else "."
    return next(index for index, cell in enumerate(cells) if parse_number(cell, decimal) is None)
