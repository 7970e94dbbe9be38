"""Mixtures of channels against published chords, colour-science as the oracle of mixing, scipy as that of polygons and
of the linear programme."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial import ConvexHull, QhullError

from audit.quantities import mixing
from audit.quantities.chromaticity import cct_duv, chromaticity

# Worst Duv on the chord between two Planckian radiators, and the CCT there: practice of two-channel white (COMPUTED by
# an independent code).
CHORDS = [(2700, 6500, -0.0064, 3918), (2700, 5000, -0.0037, 3567), (2200, 4000, -0.0040, 2909),
          (1800, 3000, -0.0030, 2314)]  # fmt: skip


def xy(cct):
    u, v = mixing.locus(np.atleast_1d(float(cct)))
    d = 6 * u - 16 * v + 12
    return float((9 * u / d)[0]), float((4 * v / d)[0])


@pytest.mark.parametrize(("low", "high", "duv", "cct"), CHORDS)
def test_chords_of_two_channel_whites(low, high, duv, cct):
    (x1, y1), (x2, y2) = xy(low), xy(high)
    found = mixing.chord((x1, x2), (y1, y2))
    assert found.worst_duv == pytest.approx(duv, abs=0.00006)
    assert found.worst_cct_K == pytest.approx(cct, abs=12)
    assert found.duv[[0, -1]] == pytest.approx(0, abs=1e-6)


def test_locus_is_that_of_colour_science():
    for cct in (1800, 2700, 4000, 6500, 10000):
        expected = colour.temperature.CCT_to_uv_Ohno2013([cct, 0.0])
        u, v = mixing.locus([float(cct)])
        assert (u[0], v[0] * 2 / 3) == (pytest.approx(expected[0], abs=2e-5), pytest.approx(expected[1], abs=2e-5))


def test_sums_are_those_of_colour_science():
    """Grassmann: the spectrum of the sum gives the sum of the tristimulus values."""
    shape = colour.SpectralShape(380, 780, 1)
    msds = [colour.SDS_ILLUMINANTS[name].copy().align(shape) for name in ("LED-B1", "LED-B5", "LED-RGB1")]
    values = [colour.sd_to_XYZ(sd, method="Integration") for sd in msds]
    total = msds[0] + msds[1] * 0.5
    together = colour.sd_to_XYZ(total, method="Integration")
    far, share = mixing.additivity([values[0], values[1] * 0.5], together)
    assert far == pytest.approx(0, abs=1e-9)
    assert share == pytest.approx(1, abs=1e-9)
    nm = np.arange(380, 781.0)
    ours = chromaticity(np.array([total.values]), nm)
    assert (ours.x[0], ours.y[0]) == pytest.approx(tuple(colour.XYZ_to_xy(together)), abs=2e-5)


def test_uncertainty_of_the_ends_is_carried():
    """Against simulation with independent ends and with ends that err alike; the larger counts."""
    (x1, y1), (x2, y2) = xy(2700), xy(6500)
    u = (0.0008, 0.0006)
    found = mixing.chord((x1, x2), (y1, y2), u)
    random = np.random.default_rng(4)
    spread = []
    for alike in (False, True):
        errors = random.normal(0, 1, (400, 2, 2)) * u
        if alike:
            errors[:, 1] = errors[:, 0]
        worst = [mixing.chord((x1 + e[0, 0], x2 + e[1, 0]), (y1 + e[0, 1], y2 + e[1, 1])).worst_duv for e in errors]
        spread.append(np.std(worst))
    assert found.u_worst_duv == pytest.approx(max(spread), rel=0.1)


def test_gamut_and_whites_of_rgb():
    """sRGB primaries (IEC 61966-2-1): the triangle's area, and whites that its edges cut."""
    x, y = np.array([0.64, 0.30, 0.15]), np.array([0.33, 0.60, 0.06])
    d = -2 * x + 12 * y + 3
    corners, area = mixing.gamut(4 * x / d, 9 * y / d)
    u, v = 4 * x / d, 9 * y / d
    assert area == pytest.approx(abs((u[1] - u[0]) * (v[2] - v[0]) - (u[2] - u[0]) * (v[1] - v[0])) / 2)
    ((low, high),) = mixing.whites(corners)
    assert high == pytest.approx(20000)
    # The locus leaves the triangle by the red-green edge: there the point lies on the line between the two.
    lu, lv = mixing.locus([low])
    side = (u[1] - u[0]) * (lv[0] - v[0]) - (v[1] - v[0]) * (lu[0] - u[0])
    assert side == pytest.approx(0, abs=2e-5)


@pytest.mark.parametrize("points", [([0.2], [0.5]), ([0.2, 0.3], [0.5, 0.5]), ([0.2, 0.3, 0.4], [0.5, 0.5, 0.5]),
                                    ([np.nan, 0.3, 0.4], [0.5, 0.5, 0.4])])  # fmt: skip
def test_too_few_channels_span_nothing(points):
    corners, area = mixing.gamut(*points)
    assert (len(corners), area) == (0, 0.0)
    assert mixing.whites(corners) == []


RGBW = np.array([[40.0, 20.0, 1.0], [20.0, 60.0, 8.0], [18.0, 8.0, 95.0], [98.0, 100.0, 70.0]])


def by_programme(channels, x, y):
    """The most light by the linear programme itself (scipy, HiGHS)."""
    balance = np.stack([y * channels[:, 0] - x * channels[:, 1], y * channels[:, 2] - (1 - x - y) * channels[:, 1]])
    return -linprog(-channels[:, 1], A_eq=balance, b_eq=np.zeros(2), bounds=(0.0, 1.0), method="highs").fun


@given(share=st.lists(st.floats(0.05, 1.0), min_size=4, max_size=4))
def test_the_most_light_at_a_chromaticity(share):
    """What the linear programme finds, and at least the mixture that made the target."""
    made = np.array(share) @ RGBW
    x, y = made[:2] / made.sum()
    flux = mixing.greatest_flux(RGBW, x, y)
    assert flux >= made[1] * (1 - 1e-9)
    assert flux == pytest.approx(by_programme(RGBW, x, y), rel=1e-6)


def test_two_whites_beside_three_colours_and_channels_alike():
    five = np.vstack([RGBW, RGBW[3], 0.5 * RGBW[3] + [0.0, 0.0, 40.0]])
    for x, y in ((0.31, 0.33), (0.44, 0.40), (0.3, 0.55)):
        assert mixing.greatest_flux(five, x, y) == pytest.approx(by_programme(five, x, y), rel=1e-6)


def test_a_target_outside_the_gamut_can_not_be_reached():
    assert np.isnan(mixing.greatest_flux(RGBW, 0.7, 0.29))
    assert np.isnan(mixing.greatest_flux(RGBW[:1], 0.3, 0.3))


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=12))
def test_the_polygon_is_that_of_scipy(points):
    """scipy.spatial.ConvexHull (Qhull) as oracle; points on a grid, so that some lie on edges or twice."""
    u, v = np.array(points, float).T / 100
    corners, area = mixing.gamut(u, v)
    try:
        hull = ConvexHull(np.stack([u, v], axis=-1))
    except QhullError:
        assert (len(corners), area) == (0, 0.0)
        return
    assert area == pytest.approx(hull.volume)
    assert set(map(tuple, corners)) <= set(map(tuple, hull.points))


def test_an_end_without_cct_has_no_worst():
    found = mixing.chord((0.15, 0.31), (0.06, 0.33))
    assert np.isnan(found.worst_duv)
    assert np.isnan(cct_duv(np.array([0.15]), np.array([0.06]))[0]).all()


def test_the_polygon_about_lights_is_the_convex_hull_of_scipy():
    from scipy.spatial import ConvexHull

    lights = np.random.default_rng(7).uniform(0.1, 0.6, (200, 2))
    hull = ConvexHull(lights)
    corners, area = mixing.gamut(*np.concatenate([lights, lights[:5], [[np.nan, 0.3]]]).T)
    np.testing.assert_allclose(np.sort(corners, axis=0), np.sort(lights[hull.vertices], axis=0))
    assert area == pytest.approx(hull.volume)
    ahead = np.roll(corners, -1, axis=0) - corners
    turning = ahead[:, 0] * np.roll(ahead, -1, axis=0)[:, 1] - ahead[:, 1] * np.roll(ahead, -1, axis=0)[:, 0]
    assert (turning > 0).all()  # counter-clockwise
