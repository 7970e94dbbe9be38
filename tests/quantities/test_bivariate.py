"""Mass of the bivariate normal in polygons and discs, against scipy, against simulation and at its limits."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats

from audit.quantities.bivariate import CHUNK, covariance, disc_probability, in_polygon, polygon_probability

UNIT_SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def turned(angle):
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


@pytest.mark.parametrize("correlation", [0.0, 0.6, -0.95, 0.999])
def test_rectangles_are_those_of_scipy(correlation):
    """Source: scipy.stats.multivariate_normal.cdf over boxes; the box and the covariance turned alike."""
    rng = np.random.default_rng(1)
    for _ in range(8):
        low, size = rng.uniform(-2, 1, 2), rng.uniform(0.2, 3, 2)
        matrix = covariance(*rng.uniform(0.3, 2, 2), correlation)
        normal = stats.multivariate_normal([0, 0], matrix, maxpts=10_000_000, abseps=1e-10, releps=1e-10)
        expected = normal.cdf(low + size, lower_limit=low)
        turn = turned(rng.uniform(0, 6))
        corners = (low + UNIT_SQUARE * size) @ turn.T
        for path in (corners, corners[::-1]):
            found = polygon_probability([0.0, 0.0], turn @ matrix @ turn.T, path)
            assert found == pytest.approx(expected, abs=1e-9)


def test_polygon_with_the_mean_on_an_edge_on_a_corner_and_far_away():
    """By symmetry: a half and a quarter of the mass; and all of it inside a large square."""
    square = UNIT_SQUARE * 100
    points = [[50.0, 0.0], [0.0, 0.0], [50.0, 50.0], [-50.0, 50.0], [150.0, 0.0]]
    found = polygon_probability(points, covariance(0.7, 0.7), square)
    np.testing.assert_allclose(found, [0.5, 0.25, 1.0, 0.0, 0.0], atol=1e-12)


def test_disc_under_a_circular_covariance_is_the_noncentral_chi_squared():
    """Source: scipy.stats.ncx2, two degrees of freedom; uncertainties from 1e-4 to 30 of the radius."""
    for u in (1e-4, 1e-3, 0.01, 0.1, 0.5, 1.0, 5.0, 30.0):
        away = np.array([0.0, 0.3, 0.9, 1 - 2 * u, 1 - u / 2, 1.0, 1 + u, 1.2, 3.0])
        angle = np.linspace(0.0, 6.0, away.size)
        points = np.abs(away)[:, None] * np.stack([np.cos(angle), np.sin(angle)], -1)
        expected = stats.ncx2.cdf(1 / u**2, 2, (away / u) ** 2)
        np.testing.assert_allclose(disc_probability(points, covariance(u, u), 1.0), expected, atol=1e-9, err_msg=str(u))


@pytest.mark.parametrize(
    ("point", "spread"),
    [
        ((0.4, -0.2), (0.5, 0.3, 0.6)),
        ((1.1, 0.6), (0.2, 0.7, -0.9)),
        ((0.7, 0.7), (0.05, 0.02, 0.3)),
        ((-1.95, 0.1), (0.3, 0.01, 0.0)),
        ((0.1, 2.0), (0.02, 0.4, 0.97)),
        ((3.0, 1.0), (2.0, 1.0, 0.5)),
    ],
)
def test_disc_is_the_integral_of_the_density(point, spread):
    """Source: the definition, integrated by scipy.integrate.quad over x with the conditional normal of y given x."""
    u_x, u_y, r = spread

    def slice_at(x):
        mean, u = point[1] + r * u_y / u_x * (x - point[0]), u_y * np.sqrt(1 - r * r)
        chord = np.sqrt(max(4 - x * x, 0.0))
        return stats.norm.pdf(x, point[0], u_x) * (stats.norm.cdf(chord, mean, u) - stats.norm.cdf(-chord, mean, u))

    ends = np.clip([point[0] - 9 * u_x, point[0] + 9 * u_x], -2, 2)
    pieces = np.linspace(*ends, 41)
    expected = sum(integrate.quad(slice_at, a, b, epsabs=1e-12)[0] for a, b in pairwise(pieces))
    assert disc_probability(point, covariance(*spread), 2.0) == pytest.approx(expected, abs=1e-9)


def test_polygon_of_many_sides_is_the_disc():
    """Two methods against each other; the polygon's area is smaller by 4e-6 of the disc's."""
    angle = np.linspace(0, 2 * np.pi, 1257)[:-1]
    ring = 2 * np.stack([np.cos(angle), np.sin(angle)], -1)
    rng = np.random.default_rng(2)
    points, spread = (
        rng.normal(0, 1.5, (50, 2)),
        covariance(*rng.uniform(0.02, 3, (2, 50)), rng.uniform(-0.99, 0.99, 50)),
    )
    discs = disc_probability(points, spread, 2.0)
    np.testing.assert_allclose(polygon_probability(points, spread, ring), discs, atol=2e-5)
    assert discs.std() > 0.05  # not all 0 or 1


def test_parts_add_up():
    """The mass of a square is that of its four quarters; under any covariance."""
    rng = np.random.default_rng(3)
    points, spread = rng.uniform(-1, 3, (20, 2)), covariance(*rng.uniform(0.1, 2, (2, 20)), rng.uniform(-1, 1, 20))
    quarters = [polygon_probability(points, spread, UNIT_SQUARE + shift) for shift in ((0, 0), (1, 0), (0, 1), (1, 1))]
    np.testing.assert_allclose(sum(quarters), polygon_probability(points, spread, UNIT_SQUARE * 2), atol=1e-12)


@pytest.mark.parametrize("sign", [1, -1])
def test_full_correlation_is_the_line(sign):
    """By hand: the line through the mean leaves the square, and the disc, after known standard deviations."""
    start = np.array([0.5, 0.5])
    matrix = covariance(0.25, 0.25, sign)
    two_sided = stats.norm.cdf(2) - stats.norm.cdf(-2)
    assert polygon_probability(start, matrix, UNIT_SQUARE) == pytest.approx(two_sided, abs=1e-12)
    near = polygon_probability(start, covariance(0.25, 0.25, sign * (1 - 1e-9)), UNIT_SQUARE)
    assert near == pytest.approx(two_sided, abs=1e-4)
    assert disc_probability([0.0, 0.0], matrix, 0.5 * np.sqrt(0.5)) == pytest.approx(
        stats.norm.cdf(1) - stats.norm.cdf(-1), abs=1e-12
    )
    missed = np.array([2.0, 2.0 * sign]) @ turned(np.pi / 2).T
    assert disc_probability(missed, matrix, 1.0) == 0
    assert polygon_probability([-1.0, 0.5 + sign * 3], matrix, UNIT_SQUARE) == 0


def test_one_uncertainty_of_zero_is_a_line_too():
    assert polygon_probability([0.5, 0.5], covariance(0.5, 0.0), UNIT_SQUARE) == pytest.approx(0.6826894921, abs=1e-9)
    assert polygon_probability([0.5, 1.0], covariance(0.5, 0.0), UNIT_SQUARE) == pytest.approx(0.6826894921, abs=1e-9)
    assert polygon_probability([0.5, 1.1], covariance(0.5, 0.0), UNIT_SQUARE) == 0
    assert disc_probability([0.0, 0.0], covariance(0.0, 1.0), 1.0) == pytest.approx(0.6826894921, abs=1e-9)
    assert disc_probability([1.1, 0.0], covariance(0.0, 1.0), 1.0) == 0


def test_no_uncertainty_is_yes_or_no_and_a_boundary_is_inside():
    none = covariance(0.0, 0.0, [0.0, 1.0, -1.0, 0.5])
    for point, inside in (((0.5, 0.5), 1), ((1.0, 0.3), 1), ((0.0, 0.0), 1), ((1.001, 0.3), 0)):
        assert polygon_probability(point, none, UNIT_SQUARE).tolist() == [inside] * 4
        assert in_polygon(point, UNIT_SQUARE) == bool(inside)
    for point, inside in (((0.6, 0.8), 1), ((0.6, 0.801), 0), ((0.0, 0.0), 1)):
        assert disc_probability(point, none, 1.0).tolist() == [inside] * 4
    assert disc_probability([0.0, 0.0], covariance(0.1, 0.1), 0.0) == 0


@pytest.mark.parametrize(
    "spread", [(np.nan, 1, 0), (1, np.nan, 0), (1, 1, np.nan), (-1, 1, 0), (1, -1, 0), (1, 1, 1.01)]
)
def test_what_is_unknown_or_impossible_stays_unknown(spread):
    matrix = covariance(*spread)
    assert np.isnan(disc_probability([0.0, 0.0], matrix, 1.0))
    assert np.isnan(polygon_probability([0.0, 0.0], matrix, UNIT_SQUARE))


def test_unknown_points_leave_their_neighbours_alone():
    points = np.array([[0.2, 0.3], [np.nan, 0.3], [0.2, 0.3]])
    assert np.isnan(disc_probability(points, covariance(0.1, 0.1), 1.0)).tolist() == [False, True, False]
    assert np.isnan(polygon_probability(points, covariance(0.1, 0.1), UNIT_SQUARE)).tolist() == [False, True, False]
    assert in_polygon(points, UNIT_SQUARE).tolist() == [True, False, True]


def test_many_at_once_are_the_same_one_by_one():
    n = CHUNK + 7
    rng = np.random.default_rng(4)
    points, spread = rng.normal(0, 1, (n, 2)), covariance(*rng.uniform(0.05, 1, (2, n)), rng.uniform(-1, 1, n))
    radius = rng.uniform(0.1, 2, n)
    together = disc_probability(points, spread, radius)
    for i in (0, 1, CHUNK - 1, CHUNK, n - 1):
        assert disc_probability(points[i], spread[i], radius[i]) == pytest.approx(together[i], abs=1e-14)
