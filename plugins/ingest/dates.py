"""Dates as laboratories write them, into ISO 8601 where the text or its document settles which part is the day.

03/04/2025 is March or April. The order of day and month is settled by a person's answer, or by another date of
the same document that has only one reading (23/04/2025); otherwise the raw text is kept and the sender asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "day first", "month first", "year first"
ORDERS = (DAY_FIRST, MONTH_FIRST)
CENTURY = 2000  # a two-digit year in a test report of LED luminaires

# English, German, French, Spanish, Italian, Dutch; any abbreviation of three letters or more is understood.
MONTHS = (
    "january januar jänner janvier enero gennaio januari",
    "february februar février fevrier febrero febbraio februari",
    "march märz maerz mrz mars marzo maart",
    "april avril abril aprile",
    "may mai mayo maggio mei",
    "june juni juin junio giugno",
    "july juli juillet julio luglio",
    "august août aout agosto augustus",
    "september septembre septiembre settembre",
    "october oktober octobre octubre ottobre",
    "november novembre noviembre",
    "december dezember décembre decembre diciembre dicembre",
)
CLOCK = re.compile(r"[\sT_,]+(\d{1,2}:\d{2}(?::\d{2})?(?:\.\d+)?)\s*(Z|UTC|[+-]\d{2}:?\d{2})?$")
YEAR_LEADS = re.compile(r"(\d{4})([-/.年])\s*(\d{1,2})[-/.月]\s*(\d{1,2})日?")
COMPACT = re.compile(r"((?:19|20)\d\d)([01]\d)([0-3]\d)")
NUMBERS = re.compile(r"(\d{1,2})\s*([-/.])\s*(\d{1,2})\s*[-/.]\s*(\d{4}|\d{2})")
NAMED_DAY_LEADS = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?[\s-]*(?:de\s+)?([^\W\d]{3,})\.?[\s,-]*(?:de\s+)?(\d{4})")
NAMED_MONTH_LEADS = re.compile(r"([^\W\d]{3,})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})")
NAMED_MONTH = re.compile(r"([^\W\d]{3,})\.?[\s,-]+(\d{4})")
SPAN = re.compile(r"(.+?)\s+(?:to|until|till|bis|au|[-–—])\s+(.+)|([^–—]+)[–—]([^–—]+)", re.IGNORECASE)


def candidates(text: str) -> dict[str, str]:
    """Return order of the parts -> ISO date for each reading that a text allows; {} where it is no date.

    One and the same date under every order, or a text that has only one order, is settled by itself.
    """
    text = " ".join(text.replace("_", " ").split())
    clock = CLOCK.search(text)
    day = text[: clock.start()] if clock else text
    time = f" {clock[1]}{clock[2] or ''}" if clock and clock[1].strip("0:.") else ""
    return {order: found + time for order, found in _days(day.strip()).items()}


def _days(text: str) -> dict[str, str]:
    if match := YEAR_LEADS.fullmatch(text):
        return _valid({YEAR_FIRST: (match[1], match[3], match[4])})
    if match := COMPACT.fullmatch(text):
        return _valid({YEAR_FIRST: match.groups()})
    if match := NAMED_DAY_LEADS.fullmatch(text):
        return _valid({DAY_FIRST: (match[3], _month(match[2]), match[1])})
    if match := NAMED_MONTH_LEADS.fullmatch(text):
        return _valid({MONTH_FIRST: (match[3], _month(match[1]), match[2])})
    if (match := NAMED_MONTH.fullmatch(text)) and _month(match[1]):
        return {MONTH_FIRST: f"{match[2]}-{_month(match[1]):02d}"}
    match = NUMBERS.fullmatch(text)
    return _of_numbers(*match.groups()) if match else {}


def _of_numbers(first: str, mark: str, second: str, last: str) -> dict[str, str]:
    year = int(last) if len(last) == 4 else CENTURY + int(last)
    found = _valid({DAY_FIRST: (year, second, first), MONTH_FIRST: (year, first, second)})
    if mark == "." and len(last) == 4 and DAY_FIRST in found:  # dots are written where the day comes first
        return {DAY_FIRST: found[DAY_FIRST]}
    if len(last) == 2 and len(first) == 2:
        found |= _valid({YEAR_FIRST: (CENTURY + int(first), second, last)})
    return found


def _valid(parts: Mapping[str, tuple[object, ...]]) -> dict[str, str]:
    """Return the orders whose year, month and day are a date of the calendar."""
    found = {}
    for order, numbers in parts.items():
        try:
            found[order] = date(*(int(str(number)) for number in numbers)).isoformat()
        except ValueError:
            continue
    return found


def _month(name: str) -> int:
    """Return the number of a month's name or abbreviation, 0 for any other word."""
    folded = name.casefold()
    fitting = [number for number, names in enumerate(MONTHS, 1) if any(f.startswith(folded) for f in names.split())]
    return fitting[0] if len(fitting) == 1 else 0  # "jui" may be June or July


def settled(text: str, order: str = "") -> str:
    """Return a date or a span of two dates in ISO 8601, "" where it is none or its order is open.

    `order`: "day first" or "month first" where it is known.
    """
    found = candidates(text)
    if len(set(found.values())) == 1:
        return next(iter(found.values()))
    if found:
        return found.get(order, "")
    ends = [settled(end, order) for end in _parts(text)[1:]]
    return f"{ends[0]} to {ends[1]}" if len(ends) == 2 and all(ends) else ""


def _parts(text: str) -> list[str]:
    """Return a text, and the two ends of the span that it may be."""
    text = " ".join(text.split())
    span = SPAN.fullmatch(text)
    return [text, *(end for end in (span.groups() if span else ()) if end)]


def open_readings(text: str) -> tuple[str, ...]:
    """Return the dates that a text, or an end of its span, may mean, where there are several."""
    readings = (tuple(dict.fromkeys(candidates(part).values())) for part in _parts(text))
    return next((found for found in readings if len(found) > 1), ())


def order_of(texts: Iterable[str]) -> str:
    """Return the order of day and month that the dates of one document show, "" where none does or they differ.

    Only dates in numbers with a slash or a dash count: dots and names of months say nothing of the others.
    """
    shown: set[str] = set()
    for part in (part for text in texts for part in _parts(text)):
        match = NUMBERS.match(part)
        found = candidates(part)
        if match and match[2] != "." and len(match[4]) == 4 and len(found) == 1:
            shown |= found.keys()
    return next(iter(shown)) if len(shown) == 1 else ""
