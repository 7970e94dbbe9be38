"""Limits worked out from what is declared. Source: Regulation (EU) 2019/2020, Annex II."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from audit.quantities.declared_limits import (
    ENDURANCE_H,
    LARGEST_MAINTENANCE,
    largest_on_mode_power,
    least_flux_maintenance,
    rendition_factor,
)

TABLE = Path(__file__).parents[1] / "reference" / "maintenance" / "eu_xlmf_min.csv"
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))


def test_r_is_rounded_to_two_decimals_half_up_and_has_a_floor():
    """Annex II point 1(a): 0.65 up to Ra 25, else (Ra + 80) / 160 rounded to two decimals."""
    ra = [0.0, 25.0, 25.1, 80.0, 90.0, 100.0, np.nan]
    np.testing.assert_allclose(rendition_factor(ra), [0.65, 0.65, 0.66, 1.0, 1.06, 1.13, np.nan])  # 100: 1.125


def test_shapes_follow_the_arguments_and_nan_stays():
    power = largest_on_mode_power([[806.0, np.nan]], 80.0, 120.0, 1.5, [[1.08], [1.0]])
    assert power.shape == (2, 2)
    assert np.isnan(power[:, 1]).all()
    assert power[0, 0] == pytest.approx(8.874)
    np.testing.assert_array_equal(np.isnan(least_flux_maintenance([0.0, -1.0, np.nan, 1e4])), [1, 1, 1, 0])


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["L70B50_h"])
def test_least_maintenance(row):
    # Regulation (EU) 2019/2020, Annex II, Table 4: formula VERIFIED (secondary), values COMPUTED; the cap of 96.0 % was
    # read in the consolidated text of 2021-09-01.
    l70 = float(row["L70B50_h"])
    assert float(least_flux_maintenance(l70, math.inf)) == pytest.approx(
        float(row["XLMFmin_formula_percent"]), abs=6e-5
    )
    assert float(least_flux_maintenance(l70)) == pytest.approx(float(row["XLMFmin_with_96_cap_percent"]), abs=0.05001)


def test_the_maintenance_after_a_life_of_the_endurance_test_is_70_percent():
    assert float(least_flux_maintenance(ENDURANCE_H)) == pytest.approx(70)
    assert float(least_flux_maintenance(1e9)) == LARGEST_MAINTENANCE
