"""Speed of simulated ageing: 10,000 draws, 60 hours, five channels, as ratios of one run."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest

from audit.quantities import ageing

pytestmark = pytest.mark.benchmark

DRAWS, TIMES, CHANNELS = 10_000, 60, 5


def fastest(call: Callable[[], object], repeats: int = 11) -> float:
    """Seconds of the fastest of several calls: the one that other programs disturbed least."""
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def test_simulation_against_drawing_random_numbers():
    hours = np.linspace(0, 50_000, TIMES)
    xyz = np.random.default_rng(3).uniform(0.1, 1, (CHANNELS, 3))
    left = np.exp(-np.array([6, 3, 3, 2, 4])[:, None] * 1e-6 * hours)
    spread = ageing.Spread(0.25, 0.03)
    assert ageing.units(xyz, left, (0, 0.004), spread, draws=DRAWS).share.shape == (TIMES,)
    ours = fastest(lambda: ageing.units(xyz, left, (0, 0.004), spread, draws=DRAWS))
    every = fastest(lambda: np.random.default_rng(1).standard_normal((DRAWS, TIMES, CHANNELS)))
    own = fastest(lambda: np.random.default_rng(1).standard_normal((2, CHANNELS, DRAWS)))
    print(f"\nratio simulation / a random number per draw, hour and channel: {ours / every:.2f} (limit 4)")
    print(f"for information: / the two numbers per draw and channel that it takes: {ours / own:.1f}")
    assert ours / every <= 4
