"""Documents: the files handed in, with their standing and the test they report."""

import pandera.pandas as pa

from audit.standings import STANDINGS
from schemas.table import one_of, table_schema

SCHEMA = table_schema(
    "documents",
    {
        "path": pa.Check.str_length(min_value=1),
        "sha256": pa.Check.str_matches(r"^[0-9a-f]{64}$"),
        "standing": one_of(*STANDINGS),
    },
    unique="document_id",
)
