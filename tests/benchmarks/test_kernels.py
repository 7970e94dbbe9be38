"""Speed and memory of the colour kernels, as ratios of one run and as a peak, with one BLAS thread.

Each measurement runs in a process of its own, because the number of BLAS threads is fixed at start and the
peak memory of a process never falls.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.benchmark

ROOT = Path(__file__).parents[2]

LEDS = """
import json, time, warnings
import numpy as np
from audit.quantities.chromaticity import chromaticity
from audit.quantities.rendition import rendition

warnings.simplefilter("ignore")
nm = np.arange(380.0, 781.0)

def leds(n):
    rng = np.random.default_rng(5)
    bands = [np.exp(-0.5 * ((nm - c) / w) ** 2) for c, w in ((450, 10), (540, 38), (620, 45))]
    return rng.uniform([0.2, 0.5, 0.4], [0.9, 0.8, 1.2], (n, 3)) @ np.array(bands)
"""

RATIO = """
import colour

power = leds(2000)
chromaticity(power[:1], nm), rendition(power[:1], nm)
start = time.perf_counter()
chromaticity(power, nm), rendition(power, nm)
ours = time.perf_counter() - start

def one_by_one(power):
    spectrum = colour.SpectralDistribution(power, nm)
    uv = colour.UCS_to_uv(colour.XYZ_to_UCS(colour.sd_to_XYZ(spectrum)))
    colour.temperature.uv_to_CCT_Ohno2013(uv)
    colour.colour_rendering_index(spectrum, additional_data=True)
    colour.quality.colour_fidelity_index_ANSIIESTM3018(spectrum, additional_data=True)

one_by_one(power[0])
start = time.perf_counter()
for row in power[:20]:
    one_by_one(row)
theirs = (time.perf_counter() - start) * len(power) / 20
print(json.dumps({"ratio": theirs / ours}))
"""

MEMORY = """
import resource

power = leds(100_000)
result = rendition(power, nm)
of_it = chromaticity(power, nm)
assert np.isfinite(result.rf).mean() > 0.5 and np.isfinite(of_it.x).all()
peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps({"peak_GB": peak_kb * 1024 / 1e9, "input_GB": power.nbytes / 1e9}))
"""


def measure(script: str) -> dict[str, float]:
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    done = subprocess.run(
        [sys.executable, "-c", LEDS + script],
        env=os.environ | threads | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    result: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return result


def test_all_metrics_of_2000_spectra_against_one_call_each():
    ratio = measure(RATIO)["ratio"]
    print(
        f"\nratio colour-science called once per spectrum / all colour metrics of 2,000 spectra: {ratio:.0f} (limit 60)"
    )
    assert ratio >= 60


@pytest.mark.slow
def test_100000_spectra_stay_below_2_GB():
    figures = measure(MEMORY)
    print(f"\nfigure 100,000 spectra: peak {figures['peak_GB']:.2f} GB, input {figures['input_GB']:.2f} GB of it")
    assert figures["peak_GB"] < 2
