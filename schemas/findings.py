"""Findings: the outcome for each claim, with everything needed to check it by hand.

Its columns are the keys of a finding in findings.json, in their order; lists and mappings stay objects.
"""

import pandera.pandas as pa

from audit.model import FINDING_COLUMNS, REASONS, VERDICTS
from schemas.table import one_of

SIDES = ("meets as measured", "misses as measured", "")
RULES = {
    "claim_id": pa.Check.str_length(min_value=1, error="the id of a claim"),
    "quantity": pa.Check.str_length(min_value=1, error="the name of a quantity"),
    "verdict": one_of(*VERDICTS),
    "side": one_of(*SIDES),
    "reasons": pa.Check(lambda lists: lists.map(lambda words: set(words) <= set(REASONS)), error="of the closed list"),
    "probability": pa.Check(lambda values: values.isna() | values.between(0, 1), error="from 0 to 1"),
    "message": pa.Check.str_length(min_value=1, error="a sentence"),
}
SCHEMA = pa.DataFrameSchema(
    {name: pa.Column(None, rule, nullable=True, unique=name == "claim_id") for name, rule in RULES.items()},
    checks=pa.Check(lambda rows: list(rows) == list(FINDING_COLUMNS), error="the keys of a finding, in their order"),
    name="findings",
)
