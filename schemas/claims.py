"""Claims: the rows of a claims sheet as text, before their cells are parsed; blank means "left open"."""

import pandera.pandas as pa

from audit.model import POINT_FIELDS, RELATIONS, STATISTICS, TEST_OBJECTS
from schemas.table import one_of

CLAIM_COLUMNS = (
    "claim_id",
    "product",
    "test_object",
    "quantity",
    "relation",
    "value",
    "value_to",
    "unit",
    "statistic",
    "definition",
    *(field for field in POINT_FIELDS if field not in ("product", "test_object")),
    "population_percent",
    "source",
    "note",
)
RULES = {
    "claim_id": pa.Check.str_length(min_value=1, error="a claim_id of its own in every row"),
    "quantity": pa.Check.str_length(min_value=1, error="the name of a quantity"),
    "relation": one_of(*RELATIONS),
    "statistic": one_of("", *STATISTICS),
    "test_object": one_of("", *TEST_OBJECTS),
}
# Only columns with rules are looked at one by one: a column costs pandera a millisecond, however few its rows.
SCHEMA = pa.DataFrameSchema(
    {
        name: pa.Column(str, rule, unique=name == "claim_id", report_duplicates="exclude_first")
        for name, rule in RULES.items()
    },
    checks=pa.Check(lambda rows: list(rows) == list(CLAIM_COLUMNS), error="the columns of a claims sheet"),
    name="claims",
)
