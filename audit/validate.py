"""The border check of every table: rows that break a schema are named with their place and left out."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

MAX_EXAMPLES = 3


def validate(table: str, rows: pd.DataFrame) -> tuple[pd.DataFrame, list[tuple[str, str, list[int]]]]:
    """Return the rows that fit schemas/<table>.py, and the faults: (column, rule, indices of the rows).

    Raises TypeError where the table itself is malformed (columns missing or of another dtype): that is a
    defect of the plugin that made it, not of a document.
    """
    from pandera.errors import SchemaErrors

    schema = importlib.import_module(f"schemas.{table}").SCHEMA
    try:
        return schema.validate(rows, lazy=True), []
    except SchemaErrors as errors:
        cases = errors.failure_cases
    broken = cases[cases["index"].isna()]
    if len(broken):
        what = "; ".join(f"{case.column}: {case.check}" for case in broken.itertuples())
        raise TypeError(f"the table '{table}' doesn't have the shape of its schema ({what})")
    faults = [
        (str(column), str(rule), sorted({int(index) for index in group["index"]}))
        for (column, rule), group in cases.groupby(["column", "check"], sort=True)
    ]
    bad = sorted({index for *_, indices in faults for index in indices})
    return rows.drop(index=bad), faults
