"""Operating points: the states in which something was measured; blank means "not stated"."""

from audit.model import POINT_BOUNDS, TEST_OBJECTS
from schemas.table import finite, one_of, table_schema

SCHEMA = table_schema(
    "points",
    {
        "test_object": one_of("", *TEST_OBJECTS),
        "control_value": finite(),
        **{name: finite(*bounds) for name, bounds in POINT_BOUNDS.items()},
    },
    unique="point_id",
)
