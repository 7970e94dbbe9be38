"""The rules of TM-21 as this project applies them: their text and status from ``data/``, and the numbers in them.

Edition: ANSI/IES TM-21-11 with Addendum B, read in excerpt and in texts quoting it; the editions of 2019 and 2021
were not read. A rule with status MEMORY is a setting: what rests on it names it in the notes of the result.
"""

from __future__ import annotations

import csv
from functools import cache
from typing import NamedTuple

from .tables import DATA

#: Shortest test that may be projected, and the duration above which the fit takes the last half, in h (R04, R05).
SHORTEST_H, LONG_H = 6000.0, 10000.0
#: Length of the fit window of tests up to ``LONG_H``, and the first reading that it may hold, in h (R04).
WINDOW_H, FIRST_H = 5000.0, 1000.0
#: A reading this near to a whole thousand hours is the reading of that point, in h (R06).
TOLERANCE_H = 48.0
POINT_H = 1000.0
#: Units of a set from which on the limit is so many times the duration (R10, R11); below the last, none (R12).
MULTIPLIERS = ((20, 6.0), (10, 5.5))
FEWEST_UNITS = 10
#: Share by which the current in the luminaire may exceed the tested one under one programme's text (R23).
PROGRAMME_EXCESS = 0.05
#: Readings that a fit needs: a line through two has no scatter to show. Our setting; TM-21 presumes six.
FEWEST_POINTS = 3


class Rule(NamedTuple):
    """One rule: what it is about, what it says, where it was read, and its status."""

    about: str
    text: str
    source: str
    status: str


@cache
def rules() -> dict[str, Rule]:
    """Every rule by its id (R01, R02, ...)."""
    with (DATA / "tm21_rules.csv").open(encoding="utf-8") as lines:
        table = csv.DictReader(line for line in lines if not line.startswith("#"))
        return {row["rule_id"]: Rule(row["rule"], row["value"], row["source"], row["status"]) for row in table}


def cite(rule_id: str) -> str:
    """A rule in words for a note, with its id and status."""
    rule = rules()[rule_id]
    return f"{rule.about}: {rule.text} (rule {rule_id}, {rule.status})"


def point_h(hours: float) -> float:
    """The whole thousand hours nearest to ``hours``."""
    return POINT_H * round(hours / POINT_H)
