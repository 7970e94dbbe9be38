"""How a table's schema is made: the columns of audit.model.COLUMNS plus the rules of its own file."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd
import pandera.pandas as pa

from audit.model import COLUMNS, NUMBER


def table_schema(table: str, rules: Mapping[str, pa.Check | list[pa.Check]], unique: str = "") -> pa.DataFrameSchema:
    """Return the strict schema of a table: numbers may be NaN ("not stated"), nothing is coerced.

    `unique` names the key column, if the table has one. Columns and dtypes are held by one check over the whole
    frame and only columns with rules by a check of their own: a column costs pandera a millisecond, however short.
    """
    wanted = COLUMNS[table]
    filled = [name for name, dtype in wanted.items() if dtype != NUMBER]

    def shaped(rows: pd.DataFrame) -> bool:
        return {name: str(dtype) for name, dtype in rows.dtypes.items()} == wanted and list(rows) == list(wanted)

    columns = {
        name: pa.Column(None, rules.get(name), nullable=wanted[name] == NUMBER, unique=name == unique)
        for name in {**rules, unique: None}
        if name
    }
    whole = [
        pa.Check(shaped, error="the columns " + ", ".join(f"{name} ({dtype})" for name, dtype in wanted.items())),
        pa.Check(lambda rows: rows[filled].notna().all(axis=1), error="text, category or whole number, never missing"),
    ]
    return pa.DataFrameSchema(columns, checks=whole, name=table)


def finite(low: float = float("-inf"), high: float = float("inf")) -> pa.Check:
    """A number that is finite and inside [low, high]."""
    return pa.Check(
        lambda values: (values.abs() != float("inf")) & (values >= low) & (values <= high),
        error=f"a finite number from {low:g} to {high:g}",
    )


def one_of(*words: str) -> pa.Check:
    """One of a closed list of words; "" where blank is allowed is listed as well."""
    return pa.Check.isin(words, error="one of: " + ", ".join(word or "blank" for word in words))
