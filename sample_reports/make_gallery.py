"""The gallery's downlight: five channels on one driver, a control that mixes them, and what seven tests saw of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
from bench import measure
from laboratories import spectra_down_by_setting, workbook_by_setting
from led_model import NM, Colour, Driver, Drives, Led, Luminaire, Spectrum, decay_per_h, spread
from life_laboratories import channels_by_sheet, endurance_across, hours_down, in_situ, workbook_by_temperature
from numpy.random import Generator
from paper import Row
from tuning_laboratories import channels_alone, colour_wheel, scenes_by_zone

from audit.quantities.chromaticity import chromaticity
from audit.quantities.tuning import polar

SEED = 431
WARM, COOL, RED, GREEN, BLUE = "warm white", "cool white", "red", "green", "blue"
GALLERY = Luminaire(
    product="Plovermark T",
    strings={
        WARM: Led(pump_nm=452.8, green_nm=530, green=1.386, red_nm=622, red=2.654, efficiency=0.415),
        COOL: Led(pump_nm=452.8, green_nm=522, green=0.483, red_nm=622, red=0.312, efficiency=0.475),
        RED: Colour(peak_nm=634, short_nm=20, long_nm=24, efficiency=0.47, heat=0.007),
        GREEN: Colour(peak_nm=524, short_nm=15, long_nm=19, efficiency=0.30, heat=0.002),
        BLUE: Colour(peak_nm=463, short_nm=9, long_nm=12, efficiency=0.55, heat=0.001),
    },
    full_W={WARM: 10.6, COOL: 10.6, RED: 1.6, GREEN: 2.4, BLUE: 2.0},
    driver=Driver(efficiency=0.86, idle_W=0.4, reactive_var=2.3, harmonics_W=1.1),
    least_drive=0.03,
)
# The control mixes white from the two whites. At 2200 K it adds all the red there is, and takes back the warm white.
WHITES_K = (2700, 3000, 3500, 4000, 5000, 6500)
CANDLE_K, CANDLE = 2200, {WARM: 0.85, RED: 1.0}
LANTERN = {WARM: 0.2, RED: 1.0}
DIMMED_K, DIMMED = 4000, (0.5, 0.2)
SERIALS = ("PT-0003", "PT-0009", "PT-0014", "PT-0022", "PT-0037")
WITH_SPECTRA = ("PT-0003", "PT-0014", "PT-0037")
NM_5 = NM[::5]
HUES = range(0, 360, 30)
PALE = (25, 50, 75)
RECALLS = {"1": 0.0, "2": 14.0, "3": 14.0}  # how much warmer the LEDs are: from cold, and after an hour at full output
ENDURANCE_HOURS = range(0, 6001, 1000)
OVER_HOURS = range(0, 6001, 2000)
PACKAGE_C, PACKAGES = (55.0, 85.0), 20
PACKAGE_HOURS = range(0, 9001, 1000)
INSIDE_C, INSIDE_MA = 71.5, 318  # what the white packages meet in the luminaire
RED_LOSS_PER_H = 1.6e-6  # of the red phosphor's yield in the whites, beyond that of all light
# Rates of loss beside that of the white packages: all phosphor, hot red loses most, bare dies least.
RATES = {WARM: 1.0, COOL: 1.0, RED: 3.4, GREEN: 0.8, BLUE: 0.7}


def write(folder: Path) -> list[Path]:
    """Write the gallery's documents into `folder`; return their paths."""
    rng = np.random.default_rng(SEED)
    mixes = _mixes()
    rows, spectra_of, spectra = _photometry(mixes, rng)
    kept = {f"E{number}": _kept(WARM, ENDURANCE_HOURS, rng) for number in (101, 102, 103)}
    channels = {
        name: {f"CH-{number:02d}": _kept(name, ENDURANCE_HOURS, rng) for number in range(1, 11)} for name in RATES
    }
    return [
        workbook_by_setting(folder / "LR-0431 photometry.xlsx", rows),
        spectra_down_by_setting(folder / "LR-0431 spectra.csv", spectra_of, NM_5, spectra),
        colour_wheel(folder / "FSL 2026-118 colour wheel.txt", _colours(mixes, rng)),
        scenes_by_zone(folder / "LR-0475 scenes.csv", *_scenes(mixes, rng)),
        channels_alone(folder / "Eelgarth channels.csv", _alone(mixes, rng)),
        channels_by_sheet(folder / "Eelgarth channels 6000 h.xlsx", channels),
        endurance_across(folder / "Eelgarth endurance 6000 h.csv", kept),
        workbook_by_temperature(folder / "SR-80-0116 packages.xlsx", _packages(rng)),
        in_situ(folder / "LR-0440 in situ.csv", [_inside(serial, rng) for serial in SERIALS]),
        hours_down(folder / "LR-0466 over hours.csv", _over_hours(mixes[4000], rng)),
    ]


def _mixes() -> dict[int, Drives]:
    """The drives that the control gives for each setting of white: found on the design, kept for all units."""

    def cct_K(share: float) -> float:
        return float(chromaticity(GALLERY.spectrum(_whites(share), 25.0), NM).cct_K[0])

    return {CANDLE_K: CANDLE} | {setting: _whites(_solved(cct_K, setting, 0.0, 1.0)) for setting in WHITES_K}


def _whites(cool_share: float) -> Drives:
    return {WARM: 1 - cool_share, COOL: cool_share}


def _solved(rising: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Where a rising function takes a value, to the control's three decimals."""
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return round((low + high) / 2, 3)


def _dimmed(drives: Drives, level: float) -> Drives:
    return {name: level * drive for name, drive in drives.items()}


def _photometry(mixes: dict[int, Drives], rng: Generator) -> tuple[list[Row], list[Row], list[Spectrum]]:
    """Every unit in every state of white; of some units the spectra at full output as well."""
    states = [(setting, 1.0) for setting in mixes] + [(DIMMED_K, level) for level in DIMMED]
    rows: list[Row] = []
    spectra_of: list[Row] = []
    spectra = []
    for serial in SERIALS:
        unit = GALLERY.unit(rng)
        for setting, level in states:
            seen, power_mW = measure(unit, _dimmed(mixes[setting], level), NM_5, rng)
            rows.append({"serial": serial, "setting": setting, "level": 100 * level, **seen})
            if serial in WITH_SPECTRA and level == 1.0:
                spectra_of.append(rows[-1])
                spectra.append(power_mW)
    return rows, spectra_of, spectra


def _colours(mixes: dict[int, Drives], rng: Generator) -> list[Row]:
    """Two units round the colour wheel, and fading from white: what one drive gains the other loses."""
    wheel = {hue: _hue(hue) for hue in HUES}
    white = mixes[4000]
    rows: list[Row] = []
    for serial in ("PT-0018", "PT-0031"):
        unit = GALLERY.unit(rng)
        settings = [(0, 0), *((hue, 100) for hue in HUES), *((hue, pale) for hue in (0, 120, 240) for pale in PALE)]
        for hue, saturation in settings:
            share = saturation / 100
            drives = {**_dimmed(white, 1 - share), **_dimmed(wheel[hue], share)}
            seen, _ = measure(unit, drives, NM, rng)
            rows.append({"serial": serial, "hue": float(hue), "saturation": float(saturation), **seen})
    return rows


def _hue(hue_deg: float) -> Drives:
    """The drives of the two coloured channels beside a hue: found on the design by hue-angle about equal energy."""
    corners = {name: _angle({name: 1.0}) for name in (RED, GREEN, BLUE)}
    around = sorted(corners, key=lambda name: (corners[name] - hue_deg) % 360)
    after, before = around[0], around[-1]

    def turned(share: float) -> float:
        return (_angle(_pair(before, after, share)) - corners[before]) % 360

    return _pair(before, after, _solved(turned, (hue_deg - corners[before]) % 360, 0.001, 0.999))


def _pair(first: str, second: str, share: float) -> Drives:
    """Two channels of which the stronger burns at full drive."""
    return {first: min(1.0, 2 * (1 - share)), second: min(1.0, 2 * share)}


def _angle(drives: Drives) -> float:
    colour = chromaticity(GALLERY.spectrum(drives, 25.0), NM)
    return float(polar(colour.u_prime, colour.v_prime)[0][0])


def _scenes(mixes: dict[int, Drives], rng: Generator) -> tuple[list[Row], list[Row]]:
    """What two zones give at full output, and their three scenes, recalled from cold and after full output."""
    units = {"Walls": ("PT-0107", GALLERY.unit(rng)), "Centre": ("PT-0122", GALLERY.unit(rng))}
    scenes: dict[str, dict[str, tuple[int | str, float, Drives]]] = {
        "Opening hours": {"Walls": (4000, 1.0, mixes[4000]), "Centre": (3500, 0.6, mixes[3500])},
        "Evening": {"Walls": (2700, 0.4, mixes[2700]), "Centre": (3500, 0.08, mixes[3500])},
        "Lantern walk": {"Walls": (CANDLE_K, 0.5, CANDLE), "Centre": ("", 1.0, LANTERN)},
    }
    full: list[Row] = []
    for zone, setting in (("Walls", 2700), ("Walls", CANDLE_K), ("Centre", 3500)):
        serial, unit = units[zone]
        seen, _ = measure(unit, mixes[setting], NM, rng)
        full.append({"zone": zone, "serial": serial, "setting": float(setting), "level": 100.0, **seen})
    rows: list[Row] = []
    for scene, zones in scenes.items():
        for zone, (set_to, level, drives) in zones.items():
            serial, unit = units[zone]
            for recall, warmer_K in RECALLS.items():
                seen, _ = measure(unit, _dimmed(drives, level), NM, rng, warmer_K=warmer_K)
                at: Row = {"scene": scene, "zone": zone, "serial": serial, "setting": set_to, "level": 100 * level}
                rows.append({**at, "recall": recall, **seen})
    return full, rows


def _alone(mixes: dict[int, Drives], rng: Generator) -> list[Row]:
    """Each channel alone at full drive, and at its drive in two settings of white."""
    unit = GALLERY.unit(rng)
    settings: Iterable[tuple[float | str, Drives]] = [
        ("", dict.fromkeys(GALLERY.strings, 1.0)), (CANDLE_K, CANDLE), (4000, mixes[4000])
    ]  # fmt: skip
    rows: list[Row] = []
    for setting, drives in settings:
        for name, drive in drives.items():
            seen, _ = measure(unit, {name: drive}, NM, rng)
            rows.append({"serial": "CH-00", "setting": setting, "channel": name, "percent": 100 * drive, **seen})
    return rows


def _kept(channel: str, hours: Iterable[int], rng: Generator) -> dict[int, float]:
    """Light of one channel of one unit kept over the hours, in per cent: a small rise, then decay (as IES TM-21)."""
    rate, rise = spread(RATES[channel] * decay_per_h(INSIDE_C), 0.1, rng), spread(0.008, 0.2, rng)
    kept = {}
    for hour in hours:
        noise = 0.05 * rng.standard_normal() if hour else 0.0
        kept[hour] = 100 * (1 + rise * (1 - math.exp(-hour / 600))) * math.exp(-rate * hour) + noise
    return kept


def _packages(rng: Generator) -> dict[float, dict[str, dict[int, float]]]:
    """Light of white LED packages kept over the hours, in per cent, by case temperature and unit."""
    sets: dict[float, dict[str, dict[int, float]]] = {}
    for celsius in PACKAGE_C:
        for number in range(1, PACKAGES + 1):
            decay, rise = spread(decay_per_h(celsius), 0.06, rng), spread(0.005, 0.2, rng)
            kept = {}
            for hours in PACKAGE_HOURS:
                noise = 0.1 * rng.standard_normal() if hours else 0.0
                kept[hours] = 100 * (1 + rise * (1 - math.exp(-hours / 500))) * math.exp(-decay * hours) + noise
            sets.setdefault(celsius, {})[f"{celsius:.0f}-{number:02d}"] = kept
    return sets


def _inside(serial: str, rng: Generator) -> Row:
    """What the white packages of one luminaire meet at full output."""
    ambient = round(25 + 0.2 * rng.standard_normal(), 1)
    case = ambient - 25 + INSIDE_C + 0.4 * rng.standard_normal()
    return {"serial": serial, "ambient": ambient, "level": 100.0, "drive": float(INSIDE_MA), "case": case}


def _over_hours(drives: Drives, rng: Generator) -> list[Row]:
    """Flux and chromaticity of five luminaires at 4000 K over the hours: red decays a little more than the rest."""
    rows: list[Row] = []
    for number in range(1, 6):
        unit, serial = GALLERY.unit(rng), f"PP-{number:02d}"
        decay, red_loss = spread(decay_per_h(INSIDE_C), 0.06, rng), spread(RED_LOSS_PER_H, 0.15, rng)
        for hours in OVER_HOURS:
            kept = {name: math.exp(-rate * decay * hours) for name, rate in RATES.items()}
            seen, _ = measure(unit.aged(kept, math.exp(-red_loss * hours)), drives, NM, rng)
            rows.append({"serial": serial, "hours": float(hours), **seen})
    return rows
