"""Operating points: the states in which something was measured; blank means "not stated"."""

from audit.model import TEST_OBJECTS
from schemas.table import finite, one_of, table_schema

SCHEMA = table_schema(
    "points",
    {
        "test_object": one_of("", *TEST_OBJECTS),
        "hours": finite(0, 1e6),
        "level_percent": finite(0, 100),
        "cct_setting_K": finite(500, 100_000),
        "hue_setting_deg": finite(-360, 360),
        "saturation_setting_percent": finite(0, 100),
        "control_value": finite(),
        "ambient_C": finite(-100, 300),
        "case_C": finite(-100, 300),
        "drive_mA": finite(0, 1e6),
    },
    unique="point_id",
)
