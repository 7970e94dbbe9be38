"""A physical model of white LED luminaires: spectra and electrical figures of made-up products.

A white LED is a blue pump and two phosphor bands, a coloured one a single band; a luminaire is some strings of them
on one driver, which gives each its own current. Every figure follows from it: flux is the spectrum weighted with
V(λ), power is that of the strings through the driver's losses, power factor comes from the driver's input filter.
The sizes of spreads and losses are chosen to be plausible, not taken from a publication.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from audit.quantities.tables import VISIBLE, WAVELENGTH_NM, observer_2deg

Spectrum = NDArray[np.float64]  # W/nm on NM
Drives = Mapping[str, float]  # of each string, as a share of its full current; one that isn't named is off

NM = WAVELENGTH_NM[VISIBLE]
V_LAMBDA = observer_2deg()[VISIBLE, 1]  # V(λ) is the y colour-matching function of CIE 1931
DECAY_85_PER_H, ACTIVATION_K, ZERO_C_IN_K = 5.2e-6, 3500.0, 273.15
HEAT = 0.002  # share of its light that a white LED loses per kelvin
K_M = 683.0  # lm/W (SI brochure, 9th edition, 2019, 2.3.1)


@dataclass(frozen=True)
class Led:
    """A phosphor-converted white LED behind its optic. Bands: peak in nm, height against the pump's.

    `efficiency` is radiant power leaving the luminaire per electrical power of the string at little current,
    `droop` the share of it that full current costs.
    """

    pump_nm: float
    green_nm: float
    green: float
    red_nm: float
    red: float
    efficiency: float
    droop: float = 0.10

    def spectrum(self, power_W: float, drive: float, celsius: float) -> Spectrum:
        """Radiant power per nm for `power_W` into the string at `drive` (1: full current)."""
        # More current fills the pump's bands (shorter wavelength) and bleaches the phosphors a little.
        bleached = 1 - 0.02 * drive
        shape = _pump(self.pump_nm - 0.8 * drive) + bleached * (
            self.green * _band(self.green_nm, 38, 62) + self.red * _band(self.red_nm, 38, 50)
        )
        efficiency = self.efficiency * (1 - self.droop * drive) * (1 - HEAT * (celsius - 25))
        return np.asarray(efficiency * power_W * shape / shape.sum())

    def aged(self, kept: float, red_kept: float) -> Led:
        """The same string after hours in which it kept these shares of its light and of its red phosphor's yield."""
        return replace(self, efficiency=self.efficiency * kept, red=self.red * red_kept)

    def unit(self, rng: Generator) -> Led:
        """One LED string of the production, with its spread."""
        return replace(
            self,
            pump_nm=self.pump_nm + 0.6 * rng.standard_normal(),
            green=spread(self.green, 0.01, rng),
            red=spread(self.red, 0.01, rng),
            efficiency=spread(self.efficiency, 0.01, rng),
        )


@dataclass(frozen=True)
class Colour:
    """A coloured LED behind its optic: one band, its half widths in nm on the short and the long side.

    `efficiency` and `droop` as of `Led`; `heat`: the share of its light that it loses per kelvin.
    """

    peak_nm: float
    short_nm: float
    long_nm: float
    efficiency: float
    heat: float
    droop: float = 0.10

    def spectrum(self, power_W: float, drive: float, celsius: float) -> Spectrum:
        """Radiant power per nm; see Led.spectrum."""
        shape = _band(self.peak_nm, self.short_nm, self.long_nm)
        efficiency = self.efficiency * (1 - self.droop * drive) * (1 - self.heat * (celsius - 25))
        return np.asarray(efficiency * power_W * shape / shape.sum())

    def aged(self, kept: float, red_kept: float) -> Colour:
        """The same string after hours; one without a red phosphor beside another, its colour stays."""
        return replace(self, efficiency=self.efficiency * kept)

    def unit(self, rng: Generator) -> Colour:
        """One LED string of the production, with its spread."""
        peak = self.peak_nm + 0.6 * rng.standard_normal()
        return replace(self, peak_nm=peak, efficiency=spread(self.efficiency, 0.02, rng))


@dataclass(frozen=True)
class Driver:
    """The electronics: losses, and the input filter that takes reactive power and distorts the current."""

    efficiency: float
    idle_W: float
    reactive_var: float
    harmonics_W: float  # what the harmonic currents would carry at full voltage

    def power(self, strings_W: float) -> float:
        return strings_W / self.efficiency + self.idle_W

    def thd_percent(self, power_W: float) -> float:
        return 100 * self.harmonics_W / math.hypot(power_W, self.reactive_var)

    def power_factor(self, power_W: float) -> float:
        """Active over apparent power, with displacement and distortion."""
        return power_W / math.hypot(power_W, self.reactive_var, self.harmonics_W)


@dataclass(frozen=True)
class Luminaire:
    """`full_W` is what each string takes at its full current; below `least_drive` the driver switches a string off."""

    product: str
    strings: Mapping[str, Led | Colour]
    full_W: Mapping[str, float]
    driver: Driver
    least_drive: float = 0.0

    def spectrum(self, drives: Drives, celsius: float) -> Spectrum:
        """Spectrum of all strings at their drives."""
        lit = {name: drive for name, drive in drives.items() if drive >= self.least_drive}
        parts = [self.strings[name].spectrum(self.full_W[name] * drive, drive, celsius) for name, drive in lit.items()]
        return np.asarray(sum(parts, np.zeros(NM.size)))

    def power(self, drives: Drives) -> float:
        """Input power in W."""
        return self.driver.power(sum(self.full_W[name] * drive for name, drive in drives.items()))

    def aged(self, kept: Mapping[str, float], red_kept: float) -> Luminaire:
        """The same luminaire after hours in which each string kept a share of its light; see Led.aged."""
        return replace(self, strings={name: led.aged(kept[name], red_kept) for name, led in self.strings.items()})

    def unit(self, rng: Generator) -> Luminaire:
        """One luminaire of the production, with the spread of its parts."""
        driver = replace(self.driver, efficiency=spread(self.driver.efficiency, 0.004, rng))
        return replace(self, driver=driver, strings={name: led.unit(rng) for name, led in self.strings.items()})


def flux(light: Spectrum) -> float:
    """Luminous flux in lm of a spectrum in W/nm."""
    return K_M * float(light @ V_LAMBDA)


def decay_per_h(celsius: float) -> float:
    """Decay rate of the packages' light at a case temperature: Arrhenius from the rate at 85 °C (sizes chosen)."""
    return DECAY_85_PER_H * math.exp(ACTIVATION_K * (1 / (85 + ZERO_C_IN_K) - 1 / (celsius + ZERO_C_IN_K)))


def spread(value: float, relative: float, rng: Generator) -> float:
    """A value scattered normally by a relative standard deviation."""
    return value * (1 + relative * rng.standard_normal())


def _pump(peak_nm: float) -> Spectrum:
    """The peaked band of a blue LED, g + 2 g^5 (the form of Ohno, 2005), wider on the long side."""
    g = np.exp(-(((NM - peak_nm) / np.where(peak_nm > NM, 19.0, 24.0)) ** 2))
    return np.asarray((g + 2 * g**5) / 3)


def _band(peak_nm: float, short_nm: float, long_nm: float) -> Spectrum:
    """A phosphor band with its half widths at half height on the short and the long side."""
    return np.asarray(np.exp2(-(((NM - peak_nm) / np.where(peak_nm > NM, short_nm, long_nm)) ** 2)))
