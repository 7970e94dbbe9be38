"""Observations: what was seen in the documents that a person should know, by tier."""

import pandera.pandas as pa

from audit.model import TIERS
from schemas.table import one_of, table_schema

SCHEMA = table_schema(
    "observations",
    {
        "rule": pa.Check.str_matches(r"^[a-z][a-z0-9_]*$"),
        "tier": one_of(*TIERS),
        "message": pa.Check.str_length(min_value=1),
    },
)
