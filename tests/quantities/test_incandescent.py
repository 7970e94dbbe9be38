"""Dimmed incandescent lamps against a table integrated by an independent code, and the published trend."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.quantities import incandescent
from audit.quantities.mixing import locus

with (Path(__file__).parents[1] / "reference" / "dimming" / "incandescent_dimming.csv").open(encoding="utf-8") as lines:
    TABLE = list(csv.DictReader(lines))
PLANCKIAN = [row for row in TABLE if row["law"].startswith("Planckian")]
# Exponents of voltage: 0.42 and 3.4 (Wikipedia, "Lamp rerating"); only near rated voltage.
POWER_LAW = [row for row in TABLE if "intensity 3.4" in row["law"]]


def label(row):
    return f"{row['CCT_full_K']} K at {row['flux_pct']} %"


@pytest.mark.parametrize("row", PLANCKIAN, ids=label)
def test_planckian_radiator_dimmed(row):
    full, share = float(row["CCT_full_K"]), float(row["flux_pct"]) / 100
    assert incandescent.dimmed_cct(full, share) == pytest.approx(float(row["CCT_K"]), abs=0.06)
    assert incandescent.light(float(row["CCT_K"]), full) == pytest.approx(share, rel=5e-4)


@pytest.mark.parametrize("row", POWER_LAW, ids=label)
def test_power_law_is_stated_near_full_light_only(row):
    full, share = float(row["CCT_full_K"]), float(row["flux_pct"]) / 100
    found = incandescent.power_law_cct(full, share)
    if share >= 0.5:
        assert found == pytest.approx(float(row["CCT_K"]), abs=0.1)
    else:
        assert np.isnan(found)


def test_trend_over_a_thousandfold_range():
    """From about 2,700 K to about 1,600 K over a thousand-fold range of light (ies.org, November 2022)."""
    assert incandescent.dimmed_cct(2700, 0.001) == pytest.approx(1600, abs=100)


@given(st.floats(2000, 4000), st.floats(0.001, 1))
def test_light_and_cct_are_inverse(full, share):
    assert incandescent.light(incandescent.dimmed_cct(full, share), full) == pytest.approx(share, rel=1e-6)


def test_a_lamp_that_follows_has_no_distance():
    share = np.array([1.0, 0.5, 0.1, 0.01])
    u, v = locus(incandescent.dimmed_cct(3000.0, share))
    assert incandescent.distance(u, v, 3000.0, share) == pytest.approx(0, abs=1e-12)
    # One that keeps its 3,000 K is, at a tenth of the light, the chord from 3,000 K to 2,354 K away.
    (u3, u2), (v3, v2) = locus([3000.0, 2354.2])
    assert incandescent.distance([u3], [v3], [3000.0], [0.1])[0] == pytest.approx(np.hypot(u3 - u2, v3 - v2), abs=1e-5)


def test_nothing_known_gives_nothing():
    found = incandescent.dimmed_cct([3000.0, np.nan, 3000.0, 3000.0, 1e7], [0.0, 0.5, -1.0, np.nan, 0.5])
    assert np.isnan(found).all()
    assert np.isnan(incandescent.distance([0.25], [0.52], [3000.0], [0.0])).all()
    assert np.isnan(incandescent.distance([np.nan], [0.52], [3000.0], [0.5])).all()
