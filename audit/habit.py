"""How a report is said to a reader: decimal mark, dates, units beside ours, paper. The one place that knows.

Figures and sentences are made in one neutral form (decimal point, SI, year-month-day), which is what findings.json,
JSON lines and identities keep. A writer for people passes what it shows through `say`, so that nobody's habit
enters a finding. Words that a document wrote are evidence and stay as they are.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from datetime import date

from audit.model import Habit
from audit.units import conversion

HABITS: Mapping[str, Habit] = {
    "eu": Habit("eu", decimal=",", date="{0.day} {0:%B} {0.year}", number_date="d mmmm yyyy", paper="A4"),
    "us": Habit(
        "us",
        date="{0:%B} {0.day}, {0.year}",
        number_date="mmmm d, yyyy",
        paper="letter",
        beside={"°C": "°F", "lx": "fc"},  # the units of the register that have another name there
    ),
}

_NUMBER = r"[+\-−]?(?:\d{1,3}(?:,\d{3})+(?!\d)|\d+)(?:\.\d+)?(?:e[+-]?\d+)?"
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
_UNIT = r"(?: (?P<unit>[^\W\d]+|°\w)(?!\w))?"
_FIGURES = rf"(?<![\w.:/'-])(?P<figures>{_NUMBER}(?:(?:, | to | ± ){_NUMBER})*)(?!\w|[.:/-]\w){_UNIT}"
_DATE = r"(?<![\w.:/-])(?P<date>\d{4}-\d\d-\d\d)(?![\w:/-])"
_QUOTED = r"(?<!\w)'.*?'(?!\w)"


def say(habit: Habit, words: str, names: Iterable[str] = ()) -> str:
    """Return words of ours as this habit has them: figures with its decimal mark and its units beside, dates.

    What stands in quotation marks and the `names` (products, serials) are left alone, and so is what only looks
    like a figure: editions (CIE 13.3-1995), clauses (8.3.1), versions (v1.2).
    """
    if habit == Habit():
        return words
    known = "|".join(re.escape(name) for name in sorted(set(names), key=len, reverse=True) if name)
    kept = rf"(?<![\w.])(?:{known})(?!\w|\.\w)|" if known else ""
    return re.sub(f"{kept}{_QUOTED}|{_DATE}|{_FIGURES}", lambda found: _said(habit, found), words)


def day(habit: Habit, text: str) -> str:
    """Return a date written year-month-day as this habit writes it; any other text as it is."""
    try:
        return habit.date.format(date.fromisoformat(text))
    except ValueError:
        return text


def beside(habit: Habit, value: float, unit: str) -> tuple[float, str] | None:
    """Return a value in the unit that this habit sets beside ours, with that unit; None where there is none."""
    other = habit.beside.get(unit)
    return (conversion(other, unit).unapply(value), other) if other else None


def _said(habit: Habit, found: re.Match[str]) -> str:
    if found["date"]:
        return day(habit, found["date"])
    if not found["figures"]:
        return found[0]
    return _marked(habit, found[0]) + _in_brackets(habit, found["figures"], found["unit"] or "")


def _marked(habit: Habit, figures: str) -> str:
    """Return figures with the decimal mark; where it is a comma, a list takes semicolons and thousands a thin space."""
    if habit.decimal == ".":
        return figures
    return _THOUSANDS.sub("\u202f", figures.replace(", ", "; ")).replace(".", habit.decimal)


def _in_brackets(habit: Habit, figures: str, unit: str) -> str:
    """Return the same figures in the unit that stands beside ours, to the same resolution; "" where there is none."""
    other = habit.beside.get(unit)
    if not other:
        return ""
    scale = conversion(other, unit)
    finer = max(round(math.log10(scale.factor)), 0)  # decimals that a larger unit needs

    def converted(found: re.Match[str]) -> str:
        number = float(found[2].replace("−", "-").replace(",", ""))
        # An uncertainty takes the factor of a unit, not its offset: ± 5 °C is ± 9 °F.
        result = number / scale.factor if found[1] else scale.unapply(number)
        decimals = len(found[2].partition(".")[2]) + finer
        return f"{found[1] or ''}{round(result, decimals) or 0.0:.{decimals}f}"

    return f" ({_marked(habit, re.sub(rf'(± )?({_NUMBER})', converted, figures))} {other})"
