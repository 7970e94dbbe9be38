"""Printed numbers: their value and the last digit they were printed to, in the habits of all laboratories.

`parse_number` takes plain numbers only, as programs write them. `parse_value` takes what stands in the cells of
reports: decimal commas and thousands marks, fractions, a unit behind the number, bounds, ranges and lists.
Which mark is the decimal one is never guessed here: `mark_evidence` says what one cell proves, callers decide.
"""

from __future__ import annotations

import math
import re
from typing import Any, NamedTuple

from audit.sheets import text_of

MOST_DIGITS = 300  # beyond them a float overflows
LONGEST = 200  # characters: a longer cell is prose
NUMBER = re.compile(r"[+\-−]?(\d+\.?\d*|\.\d+)([eE][+\-]?\d{1,3})?", re.ASCII)
RANGE = re.compile(r"(.+?)\s+to\s+(.+)", re.IGNORECASE)

# Marks that look alike: blanks of all widths, minus signs, apostrophes and primes, digits and marks of full width.
LOOKALIKES = str.maketrans(
    dict.fromkeys("\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000\t", " ")
    | dict.fromkeys("−‐‑‒–—﹣－⁻", "-")
    | dict.fromkeys("’‘‛′`´ʹʼ＇", "'")
    | {chr(0xFF10 + digit): str(digit) for digit in range(10)}
    | {"．": ".", "，": ",", "＋": "+", "／": "/", "＞": ">", "＜": "<", "⩾": "≥", "⩽": "≤", "≧": "≥", "≦": "≤"}
)
VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3"}
TOKEN = r"[+\-]?(?:\d+(?:[.,' ]\d+)*[.,]?|[.,]\d+)(?:[eE][+\-]?\d{1,3})?+"  # possessive: 1e-3 is no range
GROUPS = re.compile(r"[1-9]\d{0,2}([.,' ])\d{3}(?:\1\d{3})*", re.ASCII)
QUALIFIERS = {
    ">": ">", "<": "<", "≥": "≥", "≤": "≤", ">=": "≥", "=>": "≥", "<=": "≤", "=<": "≤", "min": "≥", "at least": "≥",
    "max": "≤", "at most": "≤", "up to": "≤", "~": "≈", "≈": "≈", "ca": "≈", "approx": "≈", "about": "≈", "±": "±",
}  # fmt: skip
QUALIFIER = re.compile(
    r"(>=|=>|<=|=<|[><≥≤~≈±]|(?:min|max|ca|approx)\b\.?|at least|at most|up to|about)\s*", re.IGNORECASE
)
FRACTION = re.compile(r"([+\-]?)(\d+)[ \-](\d+)/(\d+)(?![\d/])\s*(.*)", re.ASCII)
LIST = re.compile(rf"{TOKEN}(?:\s*[/;|]\s*{TOKEN})+\s*(.*)", re.ASCII)
SPAN = re.compile(rf"({TOKEN})\s*([^\d\s.,+\-]*)\s*(?:…|\.\.\.?|-|to\b|bis\b|~|÷)\s*({TOKEN})\s*(.*)", re.ASCII)
SINGLE = re.compile(rf"({TOKEN})\s*(.*)", re.ASCII)
# Regulation (EU) 2019/2015, Annex V: useful luminous flux is given with its solid angle, behind the number.
CONE = re.compile(r"in (?:an? )?(?:(?:narrow |wide )?cone|sphere) ?\( ?\d+ ?(?:°|deg(?:rees)?) ?\)", re.IGNORECASE)
PLAIN, BOUND, BETWEEN, SEVERAL, INEXACT = "number", "bound", "range", "list", "number with its uncertainty"


class Printed(NamedTuple):
    """A number as printed; `resolution` is one unit of its last digit (0.01 for 2.50)."""

    value: float
    resolution: float


class Span(NamedTuple):
    """A stated value or range of an operating-point field; low == high for a single value."""

    low: float
    high: float


class Value(NamedTuple):
    """What a cell says: `kind` is PLAIN for one number, else a bound, a range or a list, which no reading is."""

    kind: str
    value: float = math.nan
    resolution: float = math.nan
    unit: str = ""  # the text behind the number; whether it's a unit is for the caller to say
    qualifier: str = ""  # of a bound: one of > < ≥ ≤ ≈ ±
    remark: str = ""  # words behind the number that are known to leave its meaning alone


class MarkEvidence(NamedTuple):
    """What one cell proves: its decimal mark, or the mark that may be either (1,234), or neither ("", "")."""

    decimal: str = ""
    open: str = ""


NO_EVIDENCE = MarkEvidence()


def parse_number(cell: Any, decimal: str = ".") -> Printed | None:
    """Return the number that stands in a cell, or None where the cell holds anything else."""
    text = text_of(cell)
    if decimal != ".":
        text = "" if "." in text else text.replace(decimal, ".")
    if not NUMBER.fullmatch(text):
        return None
    text = text.replace("−", "-").lower()
    mantissa, _, exponent = text.partition("e")
    decimals = len(mantissa.partition(".")[2]) - int(exponent or 0)
    value = float(text)
    return Printed(value, 10.0**-decimals) if math.isfinite(value) and decimals > -MOST_DIGITS else None


def parse_span(cell: Any, turn: float = 0.0) -> Span | None:
    """Return `a` or `a to b` as a Span, or None where the cell holds neither.

    The lower end comes first; where values go round (`turn` 360 for a hue) the order is kept: 350 to 10 is 350 to 370.
    """
    single = parse_number(cell)
    if single:
        return Span(single.value, single.value)
    match = RANGE.fullmatch(text_of(cell))
    if not match:
        return None
    ends = [parse_number(part.strip()) for part in match.groups()]
    if ends[0] is None or ends[1] is None:
        return None
    first, last = ends[0].value, ends[1].value
    if turn:
        return Span(first, last if last >= first else last + turn)
    return Span(min(first, last), max(first, last))


def plain_text(cell: Any) -> str:
    """Return a cell's text with one form of each blank, minus sign, apostrophe, digit and vulgar fraction.

    The apostrophe by which spreadsheets keep a number as text is no part of it.
    """
    text = text_of(cell).translate(LOOKALIKES).removeprefix("'")
    for mark, fraction in VULGAR.items():
        text = text.replace(mark, f" {fraction}")
    return " ".join(text.split())


def grouped(token: str, decimal: str = ".") -> Printed | None:
    """Return digits with this decimal mark and, before it, thousands in groups of three by any one other mark."""
    sign, digits = ("-" if token.startswith("-") else ""), token.lstrip("+-")
    mantissa, exponent_mark, exponent = digits.lower().partition("e")
    whole, mark, part = mantissa.partition(decimal)
    if group := GROUPS.fullmatch(whole):
        whole = whole.replace(group[1], "")
    if not (whole + part).isdigit():
        return None
    return parse_number(f"{sign}{whole}{'.' if mark else ''}{part}{exponent_mark}{exponent}")


def mark_evidence(cell: Any) -> MarkEvidence:
    """Return what the number at the start of a cell proves about decimal and thousands marks."""
    if not isinstance(cell, str) or not ("," in cell or "." in cell) or len(cell) > LONGEST:
        return NO_EVIDENCE
    text = plain_text(cell)
    if qualifier := QUALIFIER.match(text):
        text = text[qualifier.end() :]
    match = SINGLE.match(text)
    if not match:
        return NO_EVIDENCE
    mantissa, exponent, _ = match[1].lower().lstrip("+-").partition("e")
    marks = [char for char in mantissa if char in ".,"]
    if not marks:
        return NO_EVIDENCE
    other = "," if marks[-1] == "." else "."
    if len(set(marks)) == 2:
        return MarkEvidence(marks[-1]) if grouped(match[1], marks[-1]) else NO_EVIDENCE
    if len(marks) > 1:
        return MarkEvidence(other) if grouped(match[1], other) else NO_EVIDENCE
    if grouped(match[1], other) is None or exponent:
        return MarkEvidence(marks[0]) if grouped(match[1], marks[0]) else NO_EVIDENCE
    return MarkEvidence(open=marks[0])


def parse_value(cell: Any, decimal: str = ".") -> Value | None:
    """Return what a cell says, with the decimal mark that its column has; None where it holds no number."""
    printed = parse_number(cell) if not isinstance(cell, str) or decimal == "." else None
    if printed:
        return Value(PLAIN, *printed)
    text = plain_text(cell)
    if not text or len(text) > LONGEST:
        return None
    if qualifier := QUALIFIER.match(text):
        found = _single(text[qualifier.end() :], decimal)
        sign = QUALIFIERS[qualifier[1].casefold().rstrip(".")]
        return Value(BOUND, found.value, found.resolution, found.unit, sign) if found else None
    return _fraction(text) or _several(text, decimal) or _single(text, decimal)


def _fraction(text: str) -> Value | None:
    """`5 1/8`: a whole number and a proper fraction; resolved to one part of the fraction."""
    match = FRACTION.fullmatch(text)
    if not match or not 0 < int(match[3]) < int(match[4]) <= 1000:
        return None
    value = int(match[2]) + int(match[3]) / int(match[4])
    return Value(PLAIN, -value if match[1] == "-" else value, 1 / int(match[4]), match[5])


def _several(text: str, decimal: str) -> Value | None:
    if match := LIST.fullmatch(text):
        return Value(SEVERAL, unit=match[1])
    match = SPAN.fullmatch(text)
    if match and (low := grouped(match[1], decimal)) and grouped(match[3], decimal):
        return Value(BETWEEN, *low, unit=match[4] or match[2])
    return None


def _single(text: str, decimal: str) -> Value | None:
    match = SINGLE.fullmatch(text)
    printed = grouped(match[1], decimal) if match else None
    if not match or printed is None:
        return None
    tail = match[2].strip()
    if tail == "+":
        return Value(BOUND, *printed, qualifier="≥")
    if tail.startswith(("±", "+/-")):
        return Value(INEXACT, *printed, unit=tail)
    if CONE.fullmatch(tail):
        return Value(PLAIN, *printed, remark=tail)
    return Value(PLAIN, *printed, unit=tail)
