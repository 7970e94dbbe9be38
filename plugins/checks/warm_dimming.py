"""Which way does the colour go when the light is dimmed, and is it that of an incandescent lamp?

What it answers
    The path of CCT and Duv against the light measured, where the colour follows the dimmer; the distance from an
    incandescent lamp dimmed to the same light; which dim readings are too uncertain to be judged.
Why it matters
    "Warm dim" is sold by its two ends. Between them the white may leave the locus, and a lamp that goes from 3,000 K
    to 1,800 K over the first half of the travel looks like nothing that anyone remembers.
Evidence needed
    Chromaticity, or CCT and Duv, of one unit at several settings, and its light there relative to full output.
Method
    Both claimed ends are claims on the CCT at a level and are judged there. The incandescent lamp is a Planckian
    radiator of the product's own CCT at full output, cooler by as much as the light says (Planck's law times V(λ)), at
    every level; the power law of lamps (CCT ~ light^0.1235) is told from half to full output only. The distance is
    judged where a claim names it. A reading below 10 % of the light is too dark for a claim where its stated standard
    uncertainty is more than a third of the width that the claim leaves.
What it can't know
    How a lamp with another filament or a coloured bulb would go; how the light passes from one setting to the next.
    No standard sets a tolerance for warm dimming.
Sources
    CIE 15:2018 (Planckian radiator, CIE 1976 UCS); Wikipedia, "Lamp rerating" (power law near rated voltage);
    the third of the width: common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, beside, hookimpl, quantity_register
from audit.model import POINT_FIELDS
from plugins.checks.dimming import LIGHT, VARY

if TYPE_CHECKING:
    import pandas as pd

    from audit.assess import Assessment
    from audit.case import Case
    from audit.claims import Claim

NAME = "warm_dimming"
DISTANCE = "incandescent_distance"
# One unit in one test; another scene is another colour.
UNIT = ("test", *(name for name in POINT_FIELDS if name not in VARY or name == "scene"), "inspection")
POINT = (*UNIT, "level_percent", "control_value")  # of which light and colour may stand in different rows
FULL_PERCENT = 99.0
WARMER = 0.95  # a CCT below this share of its own at full output, or above its inverse, follows the dimmer


def derive(evidence: Evidence) -> Tables:
    """Return the distance of every light at every level from an incandescent lamp dimmed as far."""
    from audit.quantities.incandescent import distance

    computed = Computed(evidence, NAME)
    if evidence.points[["level_percent", "control_value"]].nunique().max() < 2:
        return computed.tables()
    path = paths(evidence)
    unknown = np.where(path["share"].isna(), "how much light it gives there isn't stated", "").astype(object)
    ask = "ask for the light at these settings relative to full output"
    computed.remark(path, unknown, "light_not_known", "note", "Colour when dimmed", ask, of=("reading", "readings"))
    _remark_paths(computed, path)
    path = path[path["full_cct"].notna() & path["share"].notna()]
    u_prime, v_prime, cct, share = (path[name].to_numpy(float) for name in ("u_prime", "v_prime", "full_cct", "share"))
    # Along each axis of the plane, as a distance takes it.
    spread = np.hypot(path["u_prime U"].to_numpy(float), path["v_prime U"].to_numpy(float)) / np.sqrt(2)
    computed.add(path, {DISTANCE: distance(u_prime, v_prime, cct, share)}, {DISTANCE: spread})
    return computed.tables()


def paths(evidence: Evidence) -> pd.DataFrame:
    """Return the chromaticities of units that were measured at several settings of a dimmer in one test.

    Columns: those of `chromaticities` and of the points, `unit` (a number), `share` (0 to 1) of the light at full
    output, NaN where it isn't known, `cct` and `duv`, and `full_cct`, the unit's own at full output or NaN.
    """
    from audit.quantities.chromaticity import cct_duv, uv_prime_to_xy

    light = _placed(evidence, _lights(evidence))
    light = light[light["u_prime"].notna() & (light["level_percent"].notna() | light["control_value"].notna())].copy()
    light["unit"] = light.groupby(list(UNIT), dropna=False).ngroup()
    settings = light.groupby("unit")[["level_percent", "control_value"]].transform("nunique").max(axis=1)
    light = light[settings > 1].copy()
    share = evidence.readings[
        (evidence.readings["quantity"] == LIGHT) & (evidence.readings["definition"] != "perceived")
    ].merge(evidence.places[["place_id", "document_id"]], on="place_id")
    share = _placed(evidence, share).sort_values("origin", ascending=False)  # reported before computed
    share = share.drop_duplicates(list(POINT))[[*POINT, "value"]].assign(share=lambda rows: rows["value"] / 100)
    light = light.merge(share.drop(columns="value"), on=list(POINT), how="left")
    x, y = uv_prime_to_xy(light["u_prime"].to_numpy(float), light["v_prime"].to_numpy(float))
    light["cct"], light["duv"] = cct_duv(x, y)
    full = light["cct"].where(light["share"] >= FULL_PERCENT / 100)
    light["full_cct"] = full.groupby(light["unit"]).transform("mean")
    return light


def _lights(evidence: Evidence) -> pd.DataFrame:
    """Return the chromaticities of lights, and those of lights of which CCT and Duv alone are printed."""
    import pandas as pd

    from audit.lights import chromaticities
    from audit.quantities.planckian import point

    known = chromaticities(evidence)
    if evidence.readings["point_id"][evidence.readings["quantity"] == "cct"].isin(known["point_id"]).all():
        return known
    others, keys = beside(evidence, ("cct", "duv")), ["point_id", "document_id"]
    others = others[~pd.MultiIndex.from_frame(others[keys]).isin(pd.MultiIndex.from_frame(known[keys]))].copy()
    u, v = point(others["cct"].to_numpy(float), others["duv"].to_numpy(float))
    others["u_prime"], others["v_prime"] = u, 1.5 * v
    return pd.concat([known, others[[name for name in known if name in others]]], ignore_index=True)


def _placed(evidence: Evidence, rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with their operating point, test and inspection."""
    rows = rows.merge(evidence.points, on="point_id")
    rows["test"] = rows["document_id"].map(evidence.documents.set_index("document_id")["test"])
    rows["inspection"] = np.floor((rows["hours"].fillna(0.0) + 24.0) / 48.0)
    return rows


def _known(path: pd.DataFrame) -> pd.DataFrame:
    """Return the points of `paths` of which light and colour are known.

    A spectrum's own chromaticity counts before a printed one of the same point.
    """
    path = path[path["share"].notna() & path["cct"].notna() & path["full_cct"].notna()]
    return path.sort_values("spectrum_id", ascending=False).drop_duplicates(list(POINT)).reset_index(drop=True)


def moving(evidence: Evidence) -> pd.DataFrame:
    """Return the known points of `paths` of the units whose colour follows the dimmer."""
    path = _known(paths(evidence)).sort_values(["unit", "share"], kind="stable")
    units = path.groupby("unit")
    ratio = units["cct"].transform("first") / path["full_cct"]
    return path[((ratio < WARMER) | (ratio > 1 / WARMER)) & (units["share"].transform("nunique") > 1)]


def _remark_paths(computed: Computed, path: pd.DataFrame) -> None:
    """Tell, per test, product and setting, the path of the unit that leaves the locus farthest, if its colour moves."""
    path = _known(path)
    texts = np.full(len(path), "", dtype=object)
    for _, group in path.groupby([name for name in UNIT if name != "serial"], dropna=False, sort=True):
        worst = group["unit"][group["duv"].abs().idxmax()]
        own = group[group["unit"] == worst].sort_values("share")
        ratio = float(own["cct"].iloc[0] / own["full_cct"].iloc[0])
        if own["share"].nunique() < 2 or WARMER <= ratio <= 1 / WARMER:
            continue
        serial, units = str(own["serial"].iloc[0]), group["unit"].nunique()
        who = [str(own["product"].iloc[0]), f"unit {serial}" if serial else ""]
        who.append(f"the farthest of {units} from the locus" if units > 1 else "")
        texts[own.index] = f"{_path(own)} ({', '.join(filter(None, who))})"
    computed.remark(path, texts, "colour_when_dimmed", "note", "Colour when dimmed", "", of=("reading", "readings"))


def _path(own: pd.DataFrame) -> str:
    """The path of one unit, rows sorted by their share of the light, in words."""
    from audit.quantities import incandescent

    low, high = own.iloc[0], own.iloc[-1]
    far = own.loc[own["duv"].abs().idxmax()]
    text = (
        f"dimmed to {_percent(low['share'])} of its light the CCT goes from {high['full_cct']:.0f} K to "
        f"{low['cct']:.0f} K; Duv is farthest from the locus at {_percent(far['share'])}: {far['duv']:+.4f}"
    )
    full, share = own["full_cct"].to_numpy(float), own["share"].to_numpy(float)
    lamp = incandescent.dimmed_cct(full, share)
    away = incandescent.distance(own["u_prime"].to_numpy(float), own["v_prime"].to_numpy(float), full, share)
    if np.isnan(away).all():
        return text
    at = int(np.nanargmax(away))
    text += (
        f"; an incandescent lamp of {high['full_cct']:.0f} K is {away[at]:.4f} away in u'v' at most, at "
        f"{_percent(share[at])}, where it has {lamp[at]:.0f} K"
    )
    near = np.flatnonzero(~np.isnan(incandescent.power_law_cct(full, share)) & (share < FULL_PERCENT / 100))
    if len(near):
        law = float(incandescent.power_law_cct(full[near[0]], share[near[0]]))
        text += f"; by the power law it has {law:.0f} K at {_percent(share[near[0]])} (Planckian {lamp[near[0]]:.0f} K)"
    return text


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Assess a claim on the distance from an incandescent lamp by its readings, where there was light enough."""
    from audit.assess import assess as by_readings
    from audit.darkness import where_light_suffices

    return where_light_suffices(case, claim, by_readings(case, claim, scale))


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "colour when dimmed, beside an incandescent lamp",
            needs=("x", "y", "u_prime", "v_prime", "cct", "duv", LIGHT),
            gives=(quantity_register()[DISTANCE],),
            derive=derive,
            assess=assess,
            sources=("CIE 15:2018", "power law of lamps near rated voltage: Wikipedia, Lamp rerating"),
        )
    ]
