"""Wavelength grids and the one resampling method."""

from __future__ import annotations

import numpy as np
import pytest

from audit.quantities import grid
from audit.quantities.tables import VISIBLE, WAVELENGTH_NM

IRREGULAR = np.cumsum(np.concatenate([[360.0], 2.0 + 3.0 * np.random.default_rng(7).random(200)]))


@pytest.mark.parametrize(
    ("wavelength_nm", "message"),
    [
        ([380, 381, 381, 382], r"381 nm occurs twice \(number 2\); keep one"),
        ([380, 390, 385, 400], r"390 nm \(number 2\) is followed by 385 nm; sort the rows"),
        ([780, 770, 760, 750], "sort the rows by wavelength"),
        ([380, np.nan, 385, 400], "wavelength number 2 is nan; give a positive number"),
        ([380, 381, np.inf, np.inf], "wavelength number 3 is inf"),
        ([-5, 0, 5, 10], "wavelength number 1 is -5"),
        ([380, 390, 400], "at least four wavelengths"),
        ([[380, 390], [400, 410]], "give one list"),
    ],
)
def test_faulty_grid_is_refused_with_its_remedy(wavelength_nm, message):
    with pytest.raises(ValueError, match=message):
        grid.check(wavelength_nm)


def test_integer_wavelengths_are_a_grid():
    assert grid.check(range(380, 781, 5)).step_nm == 5.0


def test_step_and_ends_of_a_grid():
    assert grid.check([380, 390, 400, 780]).step_nm == 380
    assert grid.check([300, 340, 385, 386, 387]).step_nm == 45
    assert not grid.check(np.arange(380, 781)).truncated
    assert grid.check(np.arange(381, 781)).truncated
    assert grid.check(np.arange(380, 780)).truncated


def test_whole_nanometres_are_left_alone():
    np.testing.assert_array_equal(grid.resampling_matrix(grid.check(WAVELENGTH_NM)), np.eye(471))
    part = grid.resampling_matrix(grid.check(WAVELENGTH_NM[VISIBLE]))
    np.testing.assert_array_equal(part[VISIBLE], np.eye(401))
    assert not part[:20].any()
    assert not part[421:].any()


@pytest.mark.parametrize("nm", [IRREGULAR, np.arange(360.0, 831.0, 5.0), np.arange(355.0, 841.0, 10.0)])
def test_a_cubic_comes_back_exactly(nm):
    """Lagrange interpolation through four samples is exact for every cubic (definition of the method)."""
    cubic = np.polynomial.Polynomial([0.3, -1.2, 0.7, 2.1], domain=[360, 830])
    covered = nm[-1] >= WAVELENGTH_NM
    resampled = grid.resampling_matrix(grid.check(nm)) @ cubic(nm)
    np.testing.assert_allclose(resampled[covered], cubic(WAVELENGTH_NM)[covered], atol=1e-12)


def test_a_line_between_whole_nanometres_is_not_lost():
    """On a grid finer than 1 nm the energy of a line is kept wherever it falls."""
    nm = np.arange(380.0, 780.01, 0.25)
    matrix = grid.resampling_matrix(grid.check(nm))
    energy = matrix[:, 4:-4].sum(axis=0)
    np.testing.assert_allclose(energy, 0.25, rtol=0.16)
    assert energy.mean() == pytest.approx(0.25, rel=1e-3)


def test_held_ends_sum_the_missing_visible_part():
    ones = np.ones((471, 1))
    short = grid.check(np.arange(400, 701))
    np.testing.assert_array_equal(grid.held_ends(short, ones), [[20], [80]])
    np.testing.assert_array_equal(grid.held_ends(grid.check(np.arange(380, 781)), ones), [[0], [0]])
