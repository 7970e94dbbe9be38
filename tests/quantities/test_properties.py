"""Properties that hold for every spectrum: scale, order of rows, grids (hypothesis, derandomised)."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.quantities import planckian
from audit.quantities.chromaticity import chromaticity
from audit.quantities.rendition import rendition
from audit.quantities.tables import WAVELENGTH_NM

NM = np.arange(380.0, 781.0)
repeatable = settings(derandomize=True, deadline=None, max_examples=40)

band = st.tuples(st.floats(420, 700), st.floats(8, 80), st.floats(0.05, 1))
lamp = st.lists(band, min_size=2, max_size=4)


def emit(bands, nm=NM):
    """The sum of Gaussian bands (centre, width, height) at the wavelengths ``nm``."""
    return sum(height * np.exp(-0.5 * ((nm - centre) / width) ** 2) for centre, width, height in bands)


spectrum = lamp.map(emit)


def assert_same(first, second, rows=slice(None)):
    """Every numeric field of the two results agrees, NaN for NaN; ``rows`` orders the first."""
    for field in fields(first):
        if field.name not in ("refused", "notes"):
            a, b = getattr(first, field.name)[rows], getattr(second, field.name)
            np.testing.assert_allclose(a, b, rtol=1e-6, atol=1e-6, err_msg=field.name)
    for name in ("refused", "notes"):
        a, b = getattr(first, name), getattr(second, name)
        assert {k: v[rows].tolist() for k, v in a.items()} == {k: v.tolist() for k, v in b.items()}


@repeatable
@given(spectrum, st.floats(1e-6, 1e6))
def test_scaling_changes_nothing(power, scale):
    assert_same(chromaticity(power, NM), chromaticity(scale * power, NM))
    assert_same(rendition(power, NM), rendition(scale * power, NM))


@repeatable
@given(st.lists(spectrum, min_size=3, max_size=6), st.randoms(use_true_random=False))
def test_order_of_rows_changes_nothing(powers, random):
    rows = np.stack([*powers, np.full(401, np.nan)])
    order = random.sample(range(len(rows)), len(rows))
    assert_same(chromaticity(rows, NM), chromaticity(rows[order], NM), rows=order)
    assert_same(rendition(rows, NM), rendition(rows[order], NM), rows=order)


@repeatable
@given(st.floats(1000, 20000))
def test_planckian_radiators(temperature_K):
    """By definition of CCT, and of the reference of both methods below 4,000 K."""
    power = planckian.spectral_radiance(np.array([temperature_K]), WAVELENGTH_NM)
    of_it, own = chromaticity(power, WAVELENGTH_NM), rendition(power, WAVELENGTH_NM)
    np.testing.assert_allclose(of_it.cct_K, temperature_K, atol=0.01)
    np.testing.assert_allclose(of_it.duv, 0, atol=1e-8)
    if temperature_K < 4000:
        np.testing.assert_allclose([own.ra[0], own.rf[0]], 100, atol=0.001)


@repeatable
@given(lamp, st.floats(0.2, 5), st.integers(0, 2**32 - 1))
def test_the_grid_matters_little_for_smooth_spectra(bands, step_nm, seed):
    """An irregular grid of up to 5 nm gives the chromaticity of the 1 nm spectrum of the same source."""
    steps = step_nm * (0.5 + 0.5 * np.random.default_rng(seed).random(int(460 / step_nm * 2)))
    nm = 375 + np.cumsum(steps)
    nm = nm[nm < 790]
    full, sampled = chromaticity(emit(bands), NM), chromaticity(emit(bands, nm), nm)
    np.testing.assert_allclose([sampled.x, sampled.y], [full.x, full.y], atol=3e-4)
