"""Readings: one value of one quantity at one operating point, reported by a document or computed here."""

import numpy as np
import pandera.pandas as pa

from schemas.table import finite, one_of, table_schema

SCHEMA = table_schema(
    "readings",
    {
        "value": pa.Check(lambda values: np.isfinite(values), error="a finite number", ignore_na=False),
        "expanded_uncertainty": finite(0),
        "resolution": finite(0),
        "origin": one_of("reported", "computed"),
    },
)
