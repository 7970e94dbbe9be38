"""The café's pendant: a white and an amber string, dimmed together, and what four tests saw of it.

The dial sends arc levels by the logarithmic curve of IEC 62386-102, so that 1 % set would be 1 % of the light. The
driver's physical minimum lies higher: below it the light stays, and the colour alone goes on.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from bench import measure
from led_model import NM, Driver, Drives, Led, Luminaire, flux
from numpy.random import Generator
from paper import Row
from tuning_laboratories import arc_levels, dimming_by_unit, record_in_time, spectra_across

from audit.quantities.chromaticity import chromaticity
from audit.quantities.dimming import arc_light

SEED = 452
WHITE, AMBER = "white", "amber"
CAFE = Luminaire(
    product="Tealwick 9",
    strings={
        WHITE: Led(pump_nm=452.8, green_nm=532, green=1.082, red_nm=620, red=1.678, efficiency=0.45),
        AMBER: Led(pump_nm=452.8, green_nm=545, green=0.879, red_nm=624, red=4.384, efficiency=0.45),
    },
    full_W={WHITE: 7.5, AMBER: 7.5},
    driver=Driver(efficiency=0.84, idle_W=0.3, reactive_var=1.9, harmonics_W=0.8),
)
PHYSICAL_MINIMUM = 136  # arc level
LEAST = float(arc_light(PHYSICAL_MINIMUM)) / 100
FULL_K, LOW_K = 3000.0, 1800.0  # what the dial sets at 100 % and at 1 %
LEVELS = (100, 85, 70, 60, 50, 25, 10, 5, 2, 1)
WITH_SPECTRA = (100, 50, 10, 1)
ARC_LEVELS = (254, 229, 195, 170, 150, 136, 110, 85)
NM_5 = NM[::5]


def write(folder: Path) -> list[Path]:
    """Write the café's documents into `folder`; return their paths."""
    rng = np.random.default_rng(SEED)
    table = {level: _mix(level / 100) for level in LEVELS}
    rows: list[Row] = []
    spectra_of: list[Row] = []
    spectra = []
    for number in (2, 5, 11):
        unit = CAFE.unit(rng)
        for level, drives in table.items():
            share = max(level / 100, LEAST)
            seen, power_mW = measure(unit, drives, NM_5, rng, share)
            rows.append({"serial": f"TW-{number:04d}", "level": float(level), **seen})
            if level in WITH_SPECTRA:
                spectra_of.append(rows[-1])
                spectra.append(power_mW)
    return [
        dimming_by_unit(folder / "SD-26-031 dimming.xlsx", rows),
        spectra_across(folder / "SD-26-031 spectra.csv", spectra_of, NM_5, spectra),
        record_in_time(folder / "SD-26-032 record.csv", _record(table, rng)),
        arc_levels(folder / "WB-9 arc levels.csv", _arcs(rng)),
    ]


def _mix(level: float) -> Drives:
    """The drives for a level set, from 0 to 1: CCT falls as a power of it, the light not below the driver's least."""
    wanted_K = FULL_K * (LOW_K / FULL_K) ** (np.log10(level) / -2)
    wanted_lm = max(level, LEAST) * flux(CAFE.spectrum({WHITE: 1.0}, 25.0))
    total = level
    for _ in range(20):
        amber = _amber_share(wanted_K, total)
        drives = {WHITE: round(total * (1 - amber), 5), AMBER: round(total * amber, 5)}
        total *= wanted_lm / flux(CAFE.spectrum(drives, 25.0))
    return drives


def _amber_share(cct_K: float, total: float) -> float:
    """The share of all current that makes a CCT on the design."""
    low, high = 0.0, 1.0
    for _ in range(40):
        share = (low + high) / 2
        light = CAFE.spectrum({WHITE: total * (1 - share), AMBER: total * share}, 25.0)
        low, high = (low, share) if chromaticity(light, NM).cct_K[0] < cct_K else (share, high)
    return (low + high) / 2


def _record(table: dict[int, Drives], rng: Generator) -> list[Row]:
    """Illuminance below one pendant at full output, then at its lowest every ten seconds for two minutes."""
    unit = CAFE.unit(rng)
    rows: list[Row] = []
    for level, second in ((100, 0), *((1, second) for second in range(0, 121, 10))):
        lux = 0.32 * flux(unit.spectrum(table[level], 25.0)) * (1 + 0.001 * rng.standard_normal())
        rows.append({"serial": "TW-0005", "level": float(level), "second": float(second), "lux": lux})
    return rows


def _arcs(rng: Generator) -> list[Row]:
    """Flux of one pendant at arc levels."""
    unit = CAFE.unit(rng)
    rows: list[Row] = []
    for arc in ARC_LEVELS:
        seen, _ = measure(unit, _mix(float(arc_light(arc)) / 100), NM, rng)
        rows.append({"serial": "TW-P1", "arc": float(arc), **seen})
    return rows
