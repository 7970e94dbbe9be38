"""What a laboratory reads of a luminaire in one state: the figures of the model with noise, as it would print them."""

from __future__ import annotations

import numpy as np
from led_model import NM, Drives, Luminaire, Spectrum, flux
from numpy.random import Generator

from audit.quantities.chromaticity import chromaticity
from audit.quantities.rendition import rendition

Row = dict[str, "str | float"]

NOISE, DARK = 0.0015, 2e-5  # of each reading of a spectrum: share of it, and of the highest at the bench's full range


def measure(
    unit: Luminaire,
    drives: Drives,
    nm: Spectrum,
    rng: Generator,
    share: float = 1.0,
    warmer_K: float = 0.0,
) -> tuple[Row, Spectrum]:
    """What the laboratory reports of a unit in one state, and its spectrum on `nm` in mW/nm as printed.

    `share`: the light, of that at full output, for which the bench keeps its range: what is dark is less certain by
    as much. `warmer_K`: how much warmer its LEDs are than when they burn alone in a room at 25 °C.
    """
    ambient = round(25 + 0.2 * rng.standard_normal(), 1)
    light = unit.spectrum(drives, ambient + warmer_K) * (1 + 0.001 * rng.standard_normal())
    noise = NOISE * light * rng.standard_normal(NM.size) + DARK * light.max() / share * rng.standard_normal(NM.size)
    power_mW = np.round(1e3 * np.interp(nm, NM, light + noise), 4)
    lumens = flux(light)
    power = unit.power(drives) * (1 + 0.0004 * rng.standard_normal())
    colour, rendered = chromaticity(power_mW, nm), rendition(power_mW, nm)
    u_xy = 0.0013 + 0.0002 * (1 / share - 1)
    row: Row = {
        "ambient": ambient,
        "flux": lumens,
        "U_flux": 0.018 * lumens,
        "power": power,
        "U_power": 0.003 * power,
        "efficacy": lumens / power,
        "U_efficacy": 0.0183 * lumens / power,
        "pf": unit.driver.power_factor(power),
        "thd": unit.driver.thd_percent(power),
        "x": float(colour.x[0]),
        "U_x": u_xy,
        "y": float(colour.y[0]),
        "U_y": u_xy,
        "u_prime": float(colour.u_prime[0]),
        "v_prime": float(colour.v_prime[0]),
        "cct": float(colour.cct_K[0]),
        "duv": float(colour.duv[0]),
        "ra": float(rendered.ra[0]),
    }
    return row, power_mW
