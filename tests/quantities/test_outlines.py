"""Curves of the chromaticity diagram lie where the exact measures say that they lie."""

import numpy as np
import pytest

from audit.quantities import outlines, steps, white_point
from audit.quantities.chromaticity import cct_duv, propagate


def xy(uv):
    """x and y of u', v' (CIE 15:2018, the inverse of the CIE 1976 UCS formulae)."""
    u, v = np.moveaxis(np.asarray(uv), -1, 0)
    divisor = 6 * u - 16 * v + 12
    return 9 * u / divisor, 4 * v / divisor


def test_the_planckian_locus_has_its_temperatures_and_no_duv():
    kelvin = np.array([1500.0, 2700.0, 4000.0, 6500.0, 15000.0])
    cct, duv = cct_duv(*xy(outlines.planckian_locus(kelvin)))
    assert cct == pytest.approx(kelvin, rel=1e-5)
    assert np.abs(duv).max() < 1e-7


def test_the_daylight_locus_holds_d65():
    """CIE 15:2018, table of illuminant D65: u' = 0.1978, v' = 0.4683 at 6504 K."""
    assert outlines.daylight_locus([6504.0])[0] == pytest.approx([0.1978, 0.4683], abs=1e-4)


@pytest.mark.parametrize("nominal", [2700.0, 4000.0, 6500.0])
def test_steps_are_as_many_as_they_say(nominal):
    centre = steps.ansi_centre(nominal, "2015/2017")
    ring = outlines.circle(centre, 3)
    assert steps.circle_steps(*xy(ring), centre.x, centre.y) == pytest.approx(np.full(len(ring), 3.0), abs=1e-9)
    ring = outlines.ellipse(centre, 7)
    assert steps.ellipse_steps(*xy(ring), centre) == pytest.approx(np.full(len(ring), 7.0), abs=1e-9)


def test_there_is_no_ellipse_where_none_is_listed():
    assert outlines.ellipse(steps.ansi_centre(4500.0, "2015/2017"), 3) is None


def test_the_quadrangle_has_the_published_corners():
    """ANSI C78.377-2017, 4000 K: the corners as they stand in the project's table of the published ones."""
    table = white_point.quadrangles("2017")
    row = table.nominal_K.tolist().index(4000.0)
    corners = outlines.quadrangle(4000.0, "2017")
    assert np.stack(xy(corners), -1) == pytest.approx(table.corners[row], abs=1e-12)
    edges = (corners + np.roll(corners, -1, axis=0)) / 2
    assert white_point.in_quadrangle(*xy(0.999 * edges + 0.001 * corners.mean(axis=0)), 4000.0, "2017").all()
    with pytest.raises(ValueError, match="no nominal CCT of 4100 K"):
        outlines.quadrangle(4100.0, "2017")


def test_an_uncertainty_reaches_as_far_as_propagation_says():
    """First-order propagation, JCGM 100:2008, 5.1.2: the outline's half width along u' and v'."""
    ring = outlines.uncertainty([0.38], [0.38], [0.001], [0.0015], corners=720)[0]
    u = propagate(0.38, 0.38, 0.001, 0.0015)
    assert np.ptp(ring, axis=0) / 2 == pytest.approx([u["u_prime"], u["v_prime"]], rel=1e-3)
    unknown = outlines.uncertainty([0.38], [0.38], [np.nan], [0.0015])
    assert np.isnan(unknown).any()
