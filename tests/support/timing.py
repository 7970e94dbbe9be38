"""How benchmarks take the time of a call."""

from __future__ import annotations

import time
from collections.abc import Callable


def fastest(call: Callable[[], object], repeats: int) -> float:
    """Seconds of the fastest of several calls: the one that other programs disturbed least."""
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - start)
    return min(seconds)
