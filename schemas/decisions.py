"""Decisions: the rows of decisions.csv as text, a person's acceptances, corrections and rejections."""

from datetime import date

import pandera.pandas as pa

from audit.decisions import DECISION_COLUMNS, DECISION_WORDS
from schemas.table import one_of

MOST_CHARACTERS = {"identity": 1000, "value": 100, "reason": 2000, "person": 200}


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _words(column: str, least: int) -> pa.Check:
    """Text of a bounded length, so that no cell can swamp a report."""
    most = MOST_CHARACTERS[column]
    return pa.Check.str_length(min_value=least, max_value=most, error=f"text of {least} to {most} characters")


RULES = {
    "identity": _words("identity", 1),
    "decision": one_of(*DECISION_WORDS),
    "value": _words("value", 0),
    "reason": _words("reason", 1),
    "person": _words("person", 1),
    "date": pa.Check(lambda texts: texts.map(_is_date), error="a date as 2026-05-31, year first"),
}
SCHEMA = pa.DataFrameSchema(
    {name: pa.Column(str, rule) for name, rule in RULES.items()},
    checks=pa.Check(lambda rows: list(rows) == list(DECISION_COLUMNS), error="the columns of decisions.csv"),
    name="decisions",
)
