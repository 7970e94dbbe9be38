"""Make the measured documents of the sample folders: `led_model` holds the physics, the laboratories the layouts.

Run `python sample_reports/make_samples.py` in the installed environment. The same script writes the same
bytes: the random numbers are seeded and drawn in a fixed order, and the workbooks carry no clock. What the
laboratory sees carries its noise, and is rounded and given expanded uncertainties (k = 2) as a laboratory
prints them; their sizes are chosen to be plausible. Claims, READMEs and expected verdicts are written by hand.
"""

from __future__ import annotations

from pathlib import Path

import make_cafe
import make_gallery
import numpy as np
from bench import measure
from laboratories import german_photometry, spectra_down_with_units
from led_model import NM, Driver, Led, Luminaire
from paper import Row

SEED = 417
STORE_ROOM = Luminaire(
    product="Withyline 12",
    strings={"white": Led(pump_nm=452.8, green_nm=534, green=0.653, red_nm=612, red=0.622, efficiency=0.53)},
    full_W={"white": 26.0},
    driver=Driver(efficiency=0.91, idle_W=0.3, reactive_var=5.5, harmonics_W=2.6),
)


def write(folder: Path) -> list[Path]:
    """Write the documents of all samples below `folder`; return their paths."""
    return [
        *_write_store_room(folder / "store_room"),
        *make_gallery.write(folder / "gallery"),
        *make_cafe.write(folder / "cafe"),
    ]


def _write_store_room(folder: Path) -> list[Path]:
    rng = np.random.default_rng(SEED)
    nm = NM[::5]
    rows: list[Row] = []
    spectra = []
    for number in (12, 27, 31, 58):
        seen, power_mW = measure(STORE_ROOM.unit(rng), {"white": 1.0}, nm, rng)
        rows.append({"serial": f"WL12-{number:04d}", **seen})
        spectra.append(power_mW)
    return [
        german_photometry(folder / "LR-0417 photometry.csv", rows),
        spectra_down_with_units(folder / "LR-0417 spectra.xls", rows, nm, spectra),
    ]


if __name__ == "__main__":
    for written in write(Path(__file__).parent):
        print(f"{written.stat().st_size:>9,} bytes  {written}")
