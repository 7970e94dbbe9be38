"""Do scenes come out as they were set, zone by zone, and come back when they are recalled?

What it answers
    Set against measured CCT and level in every zone of every scene; how far colour and flux of a scene differ from one
    recall to the next; zones of a scene that nobody measured.
Why it matters
    A scene is agreed on by eye, once; afterwards it's recalled a thousand times, and each zone is seen beside another.
Evidence needed
    Readings that name their scene and zone; for recalls, those of one unit under a number of each repeat; for levels,
    the flux of the same zone at full output, too.
Method
    Recall: the largest distance in CIE 1976 u', v' between any two recalls of one scene by one unit in one zone, and
    the spread of flux over their mean; what was read several times in one recall counts by its mean. Level: the
    relative light output, against full output of the same unit, zone and settings.
What it can't know
    What happened between recalls: whether the scene was left, and the unit cooled or warmed; the largest of many
    distances grows with their number by chance alone.
Sources
    CIE 15:2018 (CIE 1976 UCS). Recalls and their spread: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, hookimpl, quantity_register, wording
from audit.tables import frame

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from audit.case import Case

NAME = "scenes"
LIGHT = "relative_light_output"
DISTANCE, SPREAD = "scene_recall_distance", "scene_recall_flux"
SETTINGS_SHOWN = 6


def derive(evidence: Evidence) -> Tables:
    """Return how far recalls of scenes lie apart, and ask about scenes read several times without a recall's number."""
    from audit.lights import at_points, chromaticities, lights, only
    from audit.quantities.chromaticity import uv_prime_to_xy
    from audit.quantities.steps import CIRCLE_STEP, worst_pair

    computed = Computed(evidence, NAME)
    if (evidence.points["scene"] == "").all():
        return computed.tables()
    evidence = only(evidence, "scene")
    colours = at_points(evidence, chromaticities(evidence))
    colours["x"], colours["y"] = uv_prime_to_xy(colours["u_prime"].to_numpy(float), colours["v_prime"].to_numpy(float))
    _remark_unnumbered(computed, colours)
    first, recalls = _recalls(colours, ["x", "y"])
    far = [worst_pair(*each.T).steps * CIRCLE_STEP for each in recalls]
    computed.add(first, {DISTANCE: np.array(far)})
    first, recalls = _recalls(lights(evidence, ("luminous_flux",)), ["luminous_flux"])
    spread = [100 * np.ptp(each) / each.mean() if each.mean() > 0 else np.nan for each in recalls]
    computed.add(first, {SPREAD: np.array(spread)})
    return computed.tables()


def _recalls(found: pd.DataFrame, values: list[str]) -> tuple[pd.DataFrame, list[NDArray[np.float64]]]:
    """Return the recalls of each scene by one unit in one zone, two or more: the first, and values (recalls, names)."""
    from audit.lights import series

    found = found[(found["scene"] != "") & (found["repeat"] != "")].dropna(subset=values).reset_index(drop=True)
    found["recalled"] = series(found, ("repeat",))
    key = ["recalled", "repeat"]
    found = found.sort_values([*key, "place_id"], kind="stable")
    found[values] = found.groupby(key)[values].transform("mean")
    once = found[~found.duplicated(key)]
    once = once[once.duplicated("recalled", keep=False)]
    starts = np.flatnonzero(~once.duplicated("recalled").to_numpy())
    recalls = np.split(once[values].to_numpy(float), starts[1:]) if len(starts) else []
    return once.iloc[starts], recalls


def _remark_unnumbered(computed: Computed, found: pd.DataFrame) -> None:
    """Ask which recall each of several readings of one scene belongs to."""
    blank = found[(found["scene"] != "") & (found["repeat"] == "")].reset_index(drop=True)
    twice = blank.duplicated(["test", "point_id"], keep=False).to_numpy()
    texts = np.where(twice, "a scene was read several times, without a number of the recall", "").astype(object)
    ask = "which recall does each of them belong to? Give each recall a number under 'repeat'"
    computed.remark(blank, texts, "recall_not_stated", "minor", "Scene", ask, of=("reading", "readings"))


def judge(case: Case) -> Tables:
    """Return, per product, what its scenes were set to and what was measured, and the zones that are missing."""
    there = (case.evidence.points["scene"] != "").any()
    rows = [*_set_and_measured(case), *_zones_missing(case)] if there else []
    return Tables({"observations": frame("observations", rows)})


def _set_and_measured(case: Case) -> Iterator[tuple[str, ...]]:
    """Per product and scene, set and measured CCT and level of each zone, of the unit furthest from its setting."""
    from audit.lights import bearing, lights, only

    ccts = lights(only(case.evidence, "scene"), ("cct",))
    ccts = ccts[bearing(case.evidence, ccts) & (ccts["cct_setting_K"] > 0)].copy()
    ccts["off"] = (ccts["cct"] / ccts["cct_setting_K"] - 1).abs()
    levels = _levels(case)
    levels["off"] = (levels["measured"] - levels["level_percent"]).abs()
    keys = ["product", "scene", "zone"]
    told: dict[tuple[str, str], list[str]] = {}
    paths: dict[tuple[str, str], int] = {}
    for found, measured, wanted, unit in (
        (ccts, "cct", "cct_setting_K", "K"),
        (levels, "measured", "level_percent", "%"),
    ):
        furthest = found.sort_values("off", kind="stable").groupby(keys, sort=True).tail(1).sort_values(keys)
        for at in furthest.to_dict("records"):
            key = (at["product"], at["scene"])
            where = (f"zone {at['zone']}" if at["zone"] else "") + (f" (unit {at['serial']})" if at["serial"] else "")
            text = f"{at[measured]:.{0 if unit == 'K' else 1}f} {unit} for {wording.plain(at[wanted])} {unit} set"
            told.setdefault(key, []).append((where.strip() + ": " if where else "") + text)
            paths.setdefault(key, int(at["document_id"]))
    documents = case.evidence.documents.set_index("document_id")["path"]
    for (product, scene), words in sorted(told.items()):
        message = f"scene {scene}, furthest from its settings: {wording.listing(words, SETTINGS_SHOWN)}"
        path = str(documents[paths[product, scene]])
        yield ("scene_as_measured", "note", product, path, "", message, "", NAME)


def _levels(case: Case) -> pd.DataFrame:
    """Return the light of scenes at a set level; `measured`: in per cent of full output of the unit and zone."""
    from audit.lights import FULL_PERCENT, bearing, lights, only

    readings = case.evidence.readings
    as_measured = replace(case.evidence, readings=readings[readings["definition"] != "perceived"])
    found = lights(only(as_measured, "scene"), (LIGHT,)).rename(columns={LIGHT: "measured"})
    return found[bearing(case.evidence, found) & (found["level_percent"] < FULL_PERCENT)].copy()


def _zones_missing(case: Case) -> Iterator[tuple[str, ...]]:
    """Ask for the zones that other scenes of a product were measured in, and this one wasn't."""
    points = case.evidence.points
    points = points[(points["scene"] != "") & (points["zone"] != "")]
    for product, own in points.groupby("product", sort=True):
        zones = set(own["zone"])
        for scene, here in own.groupby("scene", sort=True):
            missing = sorted(zones - set(here["zone"]))
            if missing:
                yield (
                    "scene_zone_missing",
                    "minor",
                    str(product),
                    "",
                    "",
                    f"scene {scene} was not measured in zone {wording.listing(missing)}, in which other scenes were",
                    "ask for the scene in every zone, or whether the zone is off in it",
                    NAME,
                )


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "scenes against their settings, and from recall to recall",
            needs=("x", "y", "u_prime", "v_prime", "luminous_flux", "cct"),
            gives=tuple(quantity_register()[name] for name in (DISTANCE, SPREAD)),
            derive=derive,
            judge=judge,
            sources=("CIE 15:2018", "common practice"),
        )
    ]
