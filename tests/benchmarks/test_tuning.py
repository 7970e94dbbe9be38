"""Speed of the checks of tunable light over 20 units at 500 settings, against the colour metrics of their spectra.

In one process with one BLAS thread, because that number is fixed at start.
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
UNITS, SETTINGS = 20, 500

SCRIPT = """
import json, warnings
from pathlib import Path
import numpy as np
from audit import Rule
from audit.book import Book
from audit.case import Case
from audit.claims import Claim
from audit.engine import derive
from audit.gather import Part, gather
from audit.judge import judge_claim
from audit.model import Document
from audit.plugin_manager import load
from audit.quantities.chromaticity import chromaticity
from audit.quantities.rendition import rendition
from audit.recorder import Recorder
from plugins.checks import colour_tuning, scenes, tunable_white
from timing import fastest

warnings.simplefilter("ignore")
units, settings = UNITS, SETTINGS
nm = np.arange(380.0, 781.0)
bands = [np.exp(-0.5 * ((nm - c) / w) ** 2) for c, w in ((450, 10), (540, 38), (620, 45))]
power = np.random.default_rng(5).uniform([0.2, 0.5, 0.4], [0.9, 0.8, 1.2], (units * settings, 3)) @ np.array(bands)
metrics = chromaticity(power, nm)


computing = fastest(lambda: (chromaticity(power, nm), rendition(power, nm)), 4)

known = load(()).quantities()
paper = Recorder(Document("LR-1.csv", Path("LR-1.csv"), 1, "0" * 64))
paper.metadata("standing", "accredited report", paper.place(row=1))
for number in range(units * settings):
    unit, setting = divmod(number, settings)
    third = {
        0: {"cct_setting_K": 2700.0 + 10 * setting},
        1: {"hue_setting_deg": 0.72 * setting, "saturation_setting_percent": 100.0},
        2: {"scene": f"S{setting // 5}", "zone": "Hall", "repeat": str(setting % 5)},
    }[unit % 3]
    point = paper.point(product="Lamp", serial=f"U{unit}", **third)
    for name, value in (("u_prime", metrics.u_prime), ("v_prime", metrics.v_prime), ("cct", 2700.0 + 10 * setting),
                        ("duv", 0.001), ("luminous_flux", 500.0 + setting)):
        value = value[number] if isinstance(value, np.ndarray) else value
        if np.isfinite(value):
            paper.reading(point, name, float(value), paper.place(row=number + 2, cell=name))
notes = Recorder(Document.nowhere())
evidence = gather([Part(paper.document, "case", paper.tables())], {"lamp": "Lamp"}, known, notes)
checks = (tunable_white, colour_tuning, scenes)
readings = sum(len(module.derive(evidence)["readings"]) for module in checks)

gathered = evidence
deriving = fastest(lambda: [module.derive(gathered) for module in checks], 4)
evidence = derive(evidence, load(()), known, notes)
claims = [Claim(name, "Lamp", known[name], "at_most", -np.inf, limit) for name, limit in (
    ("white_range_low", 2700.0), ("cct_setting_error", 100.0), ("gamut_area", 0.1), ("hue_flux_ratio", 1.5),
    ("scene_recall_distance", 0.003), ("scene_recall_flux", 3.0))]
case = Case(evidence, Book(evidence, known), claims, Rule(), known, load(()).assessors())
findings = [judge_claim(case, claim)["verdict"] for claim in claims]
judging = fastest(lambda: ([judge_claim(case, claim) for claim in claims], [each.judge(case) for each in checks]), 4)
assert readings > 7 * settings and "unevidenced" not in findings, (readings, findings)
print(json.dumps({"computing": computing, "deriving": deriving, "judging": judging}))
"""


def test_500_settings_of_20_units_against_their_metrics():
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT.replace("UNITS, SETTINGS", f"{UNITS}, {SETTINGS}")],
        env=os.environ | threads | {"PYTHONPATH": os.pathsep.join(map(str, (ROOT, ROOT / "tests" / "support")))},
        capture_output=True,
        text=True,
        check=True,
    )
    seconds: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    ratio = (seconds["deriving"] + seconds["judging"]) / seconds["computing"]
    shares = ", ".join(f"{name} {seconds[name] / seconds['computing']:.2f}" for name in ("deriving", "judging"))
    print(
        f"\nratio derive and judge of tunable white, colour tuning and scenes / chromaticity and rendition of "
        f"{UNITS * SETTINGS:,} spectra: {ratio:.2f} (limit 3): {shares}"
    )
    assert ratio <= 3
