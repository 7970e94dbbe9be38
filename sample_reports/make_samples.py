"""Make the measured documents of the sample folders: `led_model` holds the physics, `laboratories` the layouts.

Run `python sample_reports/make_samples.py` in the installed environment. The same script writes the same
bytes: the random numbers are seeded and drawn in a fixed order, and the workbook carries no clock. What the
laboratory sees carries its noise, and is rounded and given expanded uncertainties (k = 2) as a laboratory
prints them; their sizes are chosen to be plausible. Claims, READMEs and expected verdicts are written by hand.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from laboratories import (
    endurance_across,
    german_photometry,
    hours_down,
    in_situ,
    spectra_down_by_setting,
    spectra_down_with_units,
    workbook_by_setting,
    workbook_by_temperature,
)
from led_model import K_M, NM, V_LAMBDA, Driver, Led, Luminaire, Spectrum, decay_per_h, spread
from numpy.random import Generator

from audit.quantities.chromaticity import chromaticity
from audit.quantities.rendition import rendition

Row = dict[str, "str | float"]

SEED = 417
STORE_ROOM = Luminaire(
    product="Withyline 12",
    warm=Led(pump_nm=452.8, green_nm=534, green=0.653, red_nm=612, red=0.622, efficiency=0.53),
    cool=None,
    driver=Driver(efficiency=0.91, idle_W=0.3, reactive_var=5.5, harmonics_W=2.6),
    strings_W=26.0,
)
GALLERY = Luminaire(
    product="Plovermark T",
    warm=Led(pump_nm=452.8, green_nm=530, green=1.386, red_nm=622, red=2.654, efficiency=0.415),
    cool=Led(pump_nm=452.8, green_nm=522, green=0.483, red_nm=622, red=0.312, efficiency=0.475),
    driver=Driver(efficiency=0.86, idle_W=0.4, reactive_var=2.3, harmonics_W=1.1),
    strings_W=10.6,
)
SETTINGS_K = (2700, 3000, 3500, 4000, 5000, 6500)
DIMMED_K, DIMMED = (2700, 4000, 6500), (0.5, 0.2)
ENDURANCE_HOURS = range(0, 6001, 1000)
PACKAGE_C, PACKAGES = (55.0, 85.0, 105.0), 25
PACKAGE_HOURS = (0, *range(1000, 9001, 1000))
INSIDE_C, INSIDE_MA = 71.5, 318  # what the packages meet in the luminaire
RED_LOSS_PER_H = 1.6e-6  # of the red phosphor's yield, beyond that of all light


def write(folder: Path) -> list[Path]:
    """Write the documents of both samples below `folder`; return their paths."""
    rng = np.random.default_rng(SEED)
    return [*_write_store_room(folder / "store_room", rng), *_write_gallery(folder / "gallery", rng)]


def _write_store_room(folder: Path, rng: Generator) -> list[Path]:
    nm = NM[::5]
    rows, spectra = [], []
    for number in (12, 27, 31, 58):
        seen, power_mW = _measure(STORE_ROOM.unit(rng), 0.0, 1.0, nm, rng)
        rows.append({"serial": f"WL12-{number:04d}", **seen})
        spectra.append(power_mW)
    return [
        german_photometry(folder / "LR-0417 photometry.csv", rows),
        spectra_down_with_units(folder / "LR-0417 spectra.xls", rows, nm, spectra),
    ]


def _write_gallery(folder: Path, rng: Generator) -> list[Path]:
    shares = {setting: _cool_share(GALLERY, setting) for setting in SETTINGS_K}
    states = [(setting, 1.0) for setting in SETTINGS_K]
    states += [(setting, level) for level in DIMMED for setting in DIMMED_K]
    rows, spectra, serials = [], [], []
    for number in (3, 9, 14, 22, 37):
        unit = GALLERY.unit(rng)
        serials.append(f"PT-{number:04d}")
        for setting, level in states:
            seen, power_mW = _measure(unit, shares[setting], level, NM, rng)
            rows.append({"serial": serials[-1], "setting": setting, "level": 100 * level, **seen})
            spectra.append(power_mW)
    kept = {f"E{number}": _kept(rng) for number in (101, 102, 103)}
    return [
        workbook_by_setting(folder / "LR-0431 photometry.xlsx", rows),
        spectra_down_by_setting(folder / "LR-0431 spectra.csv", rows, NM, spectra),
        endurance_across(folder / "Eelgarth endurance 6000 h.csv", kept),
        workbook_by_temperature(folder / "SR-80-0116 packages.xlsx", _packages(rng)),
        in_situ(folder / "LR-0440 in situ.csv", [_inside(serial, rng) for serial in serials]),
        hours_down(folder / "LR-0466 over hours.csv", _over_hours(shares[4000], rng)),
    ]


def _packages(rng: Generator) -> dict[float, dict[str, dict[int, float]]]:
    """Flux in lm of LED packages over the hours, by case temperature and unit."""
    sets: dict[float, dict[str, dict[int, float]]] = {}
    for celsius in PACKAGE_C:
        for number in range(1, PACKAGES + 1):
            start, decay = spread(104.0, 0.015, rng), spread(decay_per_h(celsius), 0.06, rng)
            rise = spread(0.005, 0.2, rng)
            flux = {}
            for hours in PACKAGE_HOURS:
                aged = (1 + rise * (1 - math.exp(-hours / 500))) * math.exp(-decay * hours)
                flux[hours] = start * aged * (1 + 0.001 * rng.standard_normal())
            sets.setdefault(celsius, {})[f"{celsius:.0f}-{number:02d}"] = flux
    return sets


def _inside(serial: str, rng: Generator) -> Row:
    """What the packages of one luminaire meet at full output."""
    ambient = round(25 + 0.2 * rng.standard_normal(), 1)
    case = ambient - 25 + INSIDE_C + 0.4 * rng.standard_normal()
    return {"serial": serial, "ambient": ambient, "level": 100.0, "drive": float(INSIDE_MA), "case": case}


def _over_hours(cool_share: float, rng: Generator) -> list[Row]:
    """Flux and chromaticity of five luminaires at 4000 K over the hours: red decays a little more than the rest."""
    rows: list[Row] = []
    for number in range(1, 6):
        unit, serial = GALLERY.unit(rng), f"PP-{number:02d}"
        decay, red_loss = spread(decay_per_h(INSIDE_C), 0.06, rng), spread(RED_LOSS_PER_H, 0.15, rng)
        for hours in ENDURANCE_HOURS:
            aged = unit.aged(math.exp(-decay * hours), math.exp(-red_loss * hours))
            seen, _ = _measure(aged, cool_share, 1.0, NM, rng)
            rows.append({"serial": serial, "hours": float(hours), **seen})
    return rows


def _kept(rng: Generator) -> dict[int, float]:
    """Flux of one unit kept over the hours, in per cent: a small rise, then exponential decay (form of IES TM-21)."""
    decay_per_h, rise = spread(2.4e-6, 0.1, rng), spread(0.008, 0.2, rng)
    kept = {}
    for hours in ENDURANCE_HOURS:
        noise = 0.05 * rng.standard_normal() if hours else 0.0
        kept[hours] = 100 * (1 + rise * (1 - math.exp(-hours / 600))) * math.exp(-decay_per_h * hours) + noise
    return kept


def _cool_share(luminaire: Luminaire, setting_K: float) -> float:
    """The share of current that the driver gives the cool string: found on the design, kept for all units."""
    low, high = 0.0, 1.0
    for _ in range(40):
        share = (low + high) / 2
        cct_K = chromaticity(luminaire.spectrum(share, 1.0, 25.0), NM).cct_K[0]
        low, high = (share, high) if cct_K < setting_K else (low, share)
    return round((low + high) / 2, 3)


def _measure(unit: Luminaire, cool_share: float, level: float, nm: Spectrum, rng: Generator) -> tuple[Row, Spectrum]:
    """What the laboratory reports of a unit in one state, and its spectrum on `nm` in mW/nm as printed."""
    ambient = round(25 + 0.2 * rng.standard_normal(), 1)
    light = unit.spectrum(cool_share, level, ambient) * (1 + 0.001 * rng.standard_normal())
    noise = 0.0015 * light * rng.standard_normal(NM.size) + 2e-5 * light.max() * rng.standard_normal(NM.size)
    power_mW = np.round(1e3 * np.interp(nm, NM, light + noise), 4)
    flux = K_M * float(light @ V_LAMBDA)
    power = unit.driver.power(unit.strings_W * level) * (1 + 0.0004 * rng.standard_normal())
    colour, rendered = chromaticity(power_mW, nm), rendition(power_mW, nm)
    row: Row = {
        "ambient": ambient,
        "flux": flux,
        "U_flux": 0.018 * flux,
        "power": power,
        "U_power": 0.003 * power,
        "efficacy": flux / power,
        "U_efficacy": 0.0183 * flux / power,
        "pf": unit.driver.power_factor(power),
        "thd": unit.driver.thd_percent(power),
        "x": float(colour.x[0]),
        "U_x": 0.0013,
        "y": float(colour.y[0]),
        "U_y": 0.0013,
        "cct": float(colour.cct_K[0]),
        "ra": float(rendered.ra[0]),
    }
    return row, power_mW


if __name__ == "__main__":
    for written in write(Path(__file__).parent):
        print(f"{written.stat().st_size:>9,} bytes  {written}")
