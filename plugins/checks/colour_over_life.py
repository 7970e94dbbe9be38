"""How far has the colour moved since the lamp was new, and which way?

What it answers
    The shift of every unit in CIE 1976 u', v', in CCT and in Duv at every tested hour, against its own first
    reading; the worst unit, the mean and the direction.
Why it matters
    Two luminaires of one ceiling that age apart are seen side by side; CRI and flux may still be as sold.
Evidence needed
    Chromaticity (x, y or u', v', printed or from spectra) of the same units at 0 h and later, at one setting.
Method
    Differences of one unit inside one test; a unit without a reading within 48 h of 0 h gives no shift. Nothing is
    projected past the last tested hour. The direction is told by the nearest axis of u', v'.
What it can't know
    What later hours bring; whether the units are those of production; a shift that came and went between two readings.
Sources
    IES LM-80 and LM-84 (readings over time); CIE 15:2018 (CIE 1976 UCS). Words for directions: common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, beside, hookimpl, quantity_register, wording
from audit.model import POINT_FIELDS
from audit.recorder import frame

if TYPE_CHECKING:
    import pandas as pd

    from audit.case import Case

NAME = "colour_over_life"
GIVES = ("chromaticity_shift", "cct_shift", "duv_shift")
INITIAL_H = 48.0  # a first reading within the tolerance of hours is initial
SERIES = tuple(name for name in POINT_FIELDS if name not in ("hours", "repeat"))
TOWARDS = ("red", "yellow", "green", "blue")  # +u', +v', -u', -v'


def derive(evidence: Evidence) -> Tables:
    """Return the shifts of every unit against its own initial reading, and where there is no such reading."""
    from audit.quantities.shift import shift

    computed = Computed(evidence, NAME)
    pairs = _pairs(evidence)
    unknown = np.where(pairs["unknown"], "no reading at 0 h to count a shift from", "").astype(object)
    ask = "ask for the initial chromaticity of these units"
    computed.remark(pairs, unknown, "shift_not_known", "minor", "Chromaticity shift", ask, of=("reading", "readings"))
    pairs = pairs[~pairs["unknown"]].reset_index(drop=True)
    if len(pairs):
        moved = shift([0.0, 1.0], *(pairs[[f"first {axis}", axis]].to_numpy(float) for axis in ("u_prime", "v_prime")))
        values = {"chromaticity_shift": moved.distance, "cct_shift": moved.cct_K, "duv_shift": moved.duv}
        computed.add(pairs, {name: value[:, 1] for name, value in values.items()})
    return computed.tables()


def judge(case: Case) -> Tables:
    """Return, per document, product and setting, the mean and the worst shift at the last tested hour and its way."""
    rows = []
    pairs = _pairs(case.evidence)
    paths = case.evidence.documents.set_index("document_id")["path"]
    keys = ["document_id", *(name for name in SERIES if name != "serial")]
    for key, group in pairs[~pairs["unknown"]].groupby(keys, dropna=False, sort=True):
        point = {name: value for name, value in zip(keys[1:], key[1:], strict=True) if value == value and value != ""}
        last = group[group["hours"] == group["hours"].max()]
        du, dv = (last[axis].to_numpy(float) - last[f"first {axis}"].to_numpy(float) for axis in ("u_prime", "v_prime"))
        length = np.hypot(du, dv)
        worst = str(last["serial"].iloc[int(length.argmax())]) or "without serial"
        where = wording.operating_point(point)
        rows.append(
            (
                "colour_moved",
                "note",
                str(point.get("product", "")),
                str(paths[key[0]]),
                "",
                f"after {wording.plain(last['hours'].iloc[0])} h"
                + (f" ({where})" if where else "")
                + f" the {wording.counted(len(last), 'unit')} lie {length.mean():.4f} from where they began on "
                f"average in u'v', at most {length.max():.4f} (unit {worst}); together they moved "
                f"{_way(float(du.mean()), float(dv.mean()))}",
                "",
                NAME,
            )
        )
    return Tables({"observations": frame("observations", rows)})


def _way(du: float, dv: float) -> str:
    """Return the direction of a shift in u', v' in words, by the nearest axis."""
    if np.hypot(du, dv) < 5e-5:
        return "nowhere"
    bearing = float(np.degrees(np.arctan2(dv, du)) % 360)
    return f"towards {TOWARDS[round(bearing / 90) % 4]} ({bearing:.0f}° from +u')"


def _pairs(evidence: Evidence) -> pd.DataFrame:
    """Return later readings of units that were read at more than one hour, each beside the unit's initial one.

    Columns of `beside`, the operating point, u_prime, v_prime and the same as "first ..."; `unknown` where there is no
    initial reading. Of one light read several times at one hour, the spectrum counts before the print, then the mean.
    """
    import pandas as pd

    light = chromaticities(evidence).merge(evidence.points, on="point_id")
    light["test"] = light["document_id"].map(evidence.documents.set_index("document_id")["test"])
    light = light[light["hours"].notna()]
    own = ["test", *SERIES]
    spectral = light["spectrum_id"] >= 0
    light = light[spectral | ~spectral.groupby([light[key] for key in own], dropna=False).transform("any")]
    once = light.groupby([*own, "hours"], dropna=False, sort=True).agg(
        dict.fromkeys(("point_id", "spectrum_id", "document_id", "place_id"), "first")
        | dict.fromkeys(("u_prime", "v_prime"), "mean")
    )
    once = once.reset_index()
    series = once.groupby(own, dropna=False, sort=False)
    for axis in ("u_prime", "v_prime"):
        once[f"first {axis}"] = series[axis].transform("first")
    start, size = series["hours"].transform("min"), series["hours"].transform("size")
    once["unknown"] = start > INITIAL_H
    later = once[(once["hours"] > start) & (size > 1)]
    return pd.DataFrame(later.reset_index(drop=True))


def chromaticities(evidence: Evidence) -> pd.DataFrame:
    """Return u', v' of every light, from printed or computed u', v', else from x, y, with expanded uncertainties (" U")
    where they are stated."""
    import pandas as pd

    from audit.quantities.chromaticity import propagate, xy_to_uv_prime
    from audit.quantities.steps import possible

    known = beside(evidence, ("u_prime", "v_prime"))
    others = beside(evidence, ("x", "y"))
    keys = ["point_id", "spectrum_id", "document_id"]
    there = pd.MultiIndex.from_frame(known[keys])
    others = others[~pd.MultiIndex.from_frame(others[keys]).isin(there)].copy()
    others["u_prime"], others["v_prime"] = xy_to_uv_prime(others["x"].to_numpy(float), others["y"].to_numpy(float))
    others.loc[~possible(others["x"].to_numpy(float), others["y"].to_numpy(float)), ["u_prime", "v_prime"]] = np.nan
    spread = propagate(*(others[name].to_numpy(float) for name in ("x", "y", "x U", "y U")))
    others["u_prime U"], others["v_prime U"] = spread["u_prime"], spread["v_prime"]
    columns = [*keys, "place_id", "u_prime", "v_prime", "u_prime U", "v_prime U"]
    return pd.concat([known[columns], others[columns]], ignore_index=True)


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "colour over life against each unit's own first reading",
            needs=("x", "y", "u_prime", "v_prime"),
            gives=tuple(quantity_register()[name] for name in GIVES),
            derive=derive,
            judge=judge,
            sources=("IES LM-80", "IES LM-84", "CIE 15:2018"),
        )
    ]
