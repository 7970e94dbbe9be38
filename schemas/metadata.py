"""Metadata: what documents say about themselves, a key and a value per row."""

import pandera.pandas as pa

from schemas.table import table_schema

SCHEMA = table_schema("metadata", {"key": pa.Check.str_length(min_value=1)})
