"""Places: where in a document something stands, down to the cell and its raw text."""

import pandera.pandas as pa

from schemas.table import table_schema

SCHEMA = table_schema("places", {"row": pa.Check.ge(0)}, unique="place_id")
