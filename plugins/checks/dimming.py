"""How much light is left when it is dimmed, and how low does it go?

What it answers
    The light of every unit at every setting, relative to its own full output; the lowest light that was measured,
    as it is measured and as it is perceived.
Why it matters
    A level that is set is no light: 50 % of an arc level is 3 % of the light. "Dims to 1 %" is ten times the light
    of 1 % as it is perceived, 0.01 % measured.
Evidence needed
    Luminous flux, else illuminance, else peak intensity of one unit at several settings in one test, among them full
    output: level 100 %, 10 V of a control voltage, arc level 254. For "stable": readings at the lowest level over 60 s.
Method
    Light = 100 reading / reading at full output of the same unit, test and other settings. A limit is brought to the
    basis that the claim states (square law). The lowest light counts against a claim only where the setting was the
    control's lowest (1 %, 1 V, arc level 1 or a stated physical minimum); else the light may go lower than was tried.
What it can't know
    Whether it is stable without a record in time; which light a setting between those measured gives; whether units
    without serial are one; how the eye that looks is adapted.
Sources
    IEC 62386-102 (arc levels); IEC 60929, Annex E (control voltage); IES Lighting Handbook (square law, MEMORY).
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, hookimpl, quantity_register
from audit.model import POINT_FIELDS, VOLTS

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from audit.assess import Assessment, Candidate
    from audit.case import Case
    from audit.claims import Claim

NAME = "dimming"
LIGHT, LOWEST = "relative_light_output", "dimmed_light_minimum"
MEASURED_AS = ("luminous_flux", "illuminance", "peak_intensity")  # the first that a unit has at several settings
LEVEL, ARC = "level", "arc level"
ARC_WORDS = re.compile(r"\barc\b|\bDALI\b", re.IGNORECASE)
# Full output: the least setting that is it (a level to the tolerance of matching; IEC 60929; IEC 62386-102).
FULL = {LEVEL: 99.0, "V": 9.95, ARC: 254.0}
BOTTOM = {LEVEL: 1.0, "V": 1.0, ARC: 1.0}  # the lowest setting of a control, or below
# What may differ within the series of one unit; a scene sets the level, current and temperature of a lamp follow it.
VARY = ("level_percent", "control_value", "scene", "drive_mA", "case_C", "hours", "ambient_C", "repeat")
SERIES = ("test", *(name for name in POINT_FIELDS if name not in VARY), "inspection", "room", "by")
STABLE_H = 60 / 3600  # a record in time that says "stable" is at least this long
SAME_TIME_H = 48.0  # readings nearer than this belong to one inspection of a lamp that ages


def derive(evidence: Evidence) -> Tables:
    """Return the light of every unit at every setting relative to its own full output, and the lowest of each."""
    computed = Computed(evidence, NAME)
    light = series(evidence)
    unknown = light["unknown"].to_numpy(object)
    ask = "ask for the light of the same unit at full output"
    computed.remark(light, unknown, "full_output_not_known", "minor", "Light", ask, of=("reading", "readings"))
    light = light[unknown == ""]
    computed.add(light, {LIGHT: light["percent"].to_numpy(float)})
    least = lowest(light)
    computed.add(least, {LOWEST: least["percent"].to_numpy(float)})
    _from_perceived(computed)
    return computed.tables()


def series(evidence: Evidence) -> pd.DataFrame:
    """Return the readings of light at a stated setting, of units with more than one setting in one test.

    Columns: those of the readings and points, document_id, test, the number of its `series` (one unit in one test),
    `setting` in the unit of the control, `by` (LEVEL, V, ARC or the kind of control), `percent` of the light at full
    output, and `unknown`: why that isn't known, or "".
    """
    light = evidence.readings[evidence.readings["quantity"].isin(MEASURED_AS)].copy()
    light["quantity"] = light["quantity"].astype(str)
    light = light.merge(evidence.places[["place_id", "document_id"]], on="place_id").merge(evidence.points)
    light["test"] = light["document_id"].map(evidence.documents.set_index("document_id")["test"])
    _set(light)
    light = light[light["setting"].notna()].sort_values("place_id", kind="stable")
    if light["setting"].nunique() < 2:
        light = light.iloc[:0]
    light["series"] = light.groupby(list(SERIES), dropna=False, sort=True).ngroup()
    light["rank"] = np.array([MEASURED_AS.index(name) for name in light["quantity"]], int)
    settings = light.groupby(["series", "rank"])["setting"].transform("nunique")
    light = light[settings > 1]
    light = light[light["rank"] == light.groupby("series")["rank"].transform("min")].copy()
    full = light["setting"] >= np.array([FULL.get(name, np.inf) for name in light["by"]], float)
    whole = light["value"].where(full).groupby(light["series"]).transform("mean")
    light["percent"] = 100 * light["value"] / whole.where(whole > 0)
    alike = light.groupby(["series", "setting", "hours", "repeat"], dropna=False)["value"].transform("nunique") == 1
    mixed = ((light["serial"] == "") & ~alike).groupby(light["series"]).transform("any")
    why = ["units without serial are mixed: whose full output is whose can't be told", "no reading at full output"]
    light["unknown"] = np.select([mixed, light["percent"].isna()], why, "")
    return light.reset_index(drop=True)


def _set(light: pd.DataFrame) -> None:
    """Add what was set, by what, in how warm a room, and at which inspection of a lamp that ages."""
    from audit.lights import rooms

    kind = light["control_kind"]
    names = [
        ARC if ARC_WORDS.search(text) else "V" if VOLTS.search(text) else text or "control" for text in kind.tolist()
    ]
    level = light["level_percent"].notna()
    # As everywhere, a light of which nothing is said was measured at full output.
    otherwise = light[["control_value", "hue_setting_deg", "saturation_setting_percent"]].notna().any(axis=1)
    plain = ~level & ~otherwise & (light["scene"] == "")
    light["by"] = np.where(level | plain, LEVEL, names)
    light["setting"] = np.where(plain, 100.0, light["level_percent"].where(level, light["control_value"]))
    light["room"] = rooms(light["ambient_C"])
    light["inspection"] = np.floor((light["hours"].fillna(0.0) + SAME_TIME_H / 2) / SAME_TIME_H)


def lowest(light: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of `series` with the lowest light of each unit, a row each, `percent` the mean at that setting.

    `tried`: the lowest setting that was; `stable_s`: seconds over which the light was read without moving beyond its
    repeatability, 0 without a record of 60 s.
    Light at level 0 and arc level 0, which are "off", is none that the control dims to.
    """
    lit = light[(light["percent"] > 0) & ((light["setting"] > 0) | (light["by"] == "V"))]
    lit = lit.sort_values("setting", kind="stable")
    at = lit.groupby(["series", "setting"])
    lit = lit.assign(
        tried=lit.groupby("series")["setting"].transform("min"),
        percent=at["percent"].transform("mean"),
        moved=at["percent"].transform("max") - at["percent"].transform("min"),
        lasted=at["hours"].transform("max") - at["hours"].transform("min"),
    )
    least = lit.loc[lit.groupby("series")["percent"].idxmin()]
    still = (least["moved"] <= noise(least["percent"].to_numpy(float))) & (least["lasted"] >= STABLE_H * (1 - 1e-6))
    return least.assign(stable_s=np.where(still, 3600 * least["lasted"], 0.0))


def noise(percent: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far two measurements of one light may lie apart, in per cent of full output (n,).

    Root two of the repeatability that the register assumes for the relative light output.
    """
    quantity = quantity_register()[LIGHT]
    repeat = quantity.repeatability_absolute + quantity.repeatability_relative / 100 * np.abs(percent)
    return np.asarray(np.sqrt(2) * repeat)


def _from_perceived(computed: Computed) -> None:
    """Add the light measured that printed figures of perceived light say."""
    from audit.quantities.dimming import measured

    readings = computed.evidence.readings
    for name in (LIGHT, LOWEST):
        printed = readings[(readings["quantity"] == name) & (readings["definition"] == "perceived")]
        if len(printed):
            computed.add(printed, {name: measured(printed["value"].to_numpy(float))})


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Assess a claim on the light at a setting by its readings; one on the lowest light by how low was tried, too."""
    from audit.assess import assess as by_readings

    assessment = by_readings(case, claim, scale)
    if claim.quantity.name != LOWEST or not case.book.computed[assessment.found.rows].any():
        return assessment
    own = [case.book.rows(claim.product, name)[0] for name in MEASURED_AS]
    readings = case.evidence.readings.iloc[np.sort(np.concatenate(own))]
    light = series(replace(case.evidence, readings=readings))
    least = lowest(light[light["unknown"] == ""]).drop_duplicates("point_id").set_index("point_id")
    candidates = [_as_tried(case, claim, candidate, least, scale) for candidate in assessment.candidates]
    return replace(assessment, candidates=candidates)


def _as_tried(case: Case, claim: Claim, candidate: Candidate, least: pd.DataFrame, scale: float) -> Candidate:
    """Weigh each lowest light by whether the control was at its lowest, and say whether it is known to be stable."""
    from audit.assess import judge_entities, law_of

    if candidate.judged is None:
        return candidate
    book, entities = case.book, candidate.judged.entities
    points = case.evidence.readings["point_id"].to_numpy()
    tried = [
        int(points[rows[0]]) if book.computed[rows[0]] and points[rows[0]] in least.index else -1
        for rows in entities.rows
    ]
    open_ended = np.array([point >= 0 and not _at_bottom(case, claim, least.loc[point]) for point in tried], bool)
    unit = np.array([book.unit[rows[0]] for rows in entities.rows], dtype=object)
    # A light above another of the same unit isn't its lowest.
    kept = np.array(
        [not (open_ended[i] and (entities.value[unit == unit[i]] < entities.value[i]).any()) for i in range(len(unit))]
    )
    at = np.flatnonzero(kept)
    entities = replace(
        entities,
        **{name: getattr(entities, name)[at] for name in ("value", "u", "assumed", "rival", "rival_value")},
        rows=[entities.rows[i] for i in at],
    )
    limits = (candidate.meaning.lower, candidate.meaning.upper)
    judged = judge_entities(case, entities, law_of(claim, entities, scale), limits, candidate.judged.undefined[at])
    further = open_ended[at] & ((judged.verdicts != "supported") | np.isfinite(limits[0]))
    reasons = {int(i): ("untested settings",) for i in np.flatnonzero(further)}
    judged = replace(judged, verdicts=np.where(further, "overreaching", judged.verdicts), reasons=reasons)
    lasted = [least.loc[tried[i]]["stable_s"] for i in at if tried[i] >= 0]
    notes = (*candidate.notes, _stability(lasted)) if lasted else candidate.notes
    return replace(candidate, judged=judged, notes=notes)


def _stability(lasted: list[float]) -> str:
    shortest = min(lasted)
    if shortest > 0:
        return f"stable: read over {shortest:.0f} s at that level without moving beyond its repeatability"
    return "lowest level measured: no record in time of 60 s or more says that it is stable"


def _at_bottom(case: Case, claim: Claim, row: pd.Series) -> bool:
    """Whether the control can't be set lower: at its lowest setting, or at the physical minimum that is stated."""
    from audit.numbers import parse_value

    if row["tried"] <= min(BOTTOM.get(row["by"], -np.inf), claim.upper if row["by"] == LEVEL else np.inf):
        return True
    told = case.evidence.metadata
    told = told[(told["key"] == "physical_minimum") & (told["document_id"] == row["document_id"])]
    values = [value for text in told["value"] if (value := parse_value(text)) is not None]
    unit = "%" if row["by"] == LEVEL else ""
    return any(value.unit == unit and row["tried"] <= value.value for value in values)


@hookimpl
def register_checks() -> list[Check]:
    known = quantity_register()
    return [
        Check(
            NAME,
            "light when dimmed, relative to full output",
            needs=(*MEASURED_AS, LIGHT, LOWEST),
            gives=(known[LIGHT], known[LOWEST]),
            derive=derive,
            assess=assess,
            sources=("IEC 62386-102", "IEC 60929 Annex E", "IES Lighting Handbook, square law (MEMORY)"),
        )
    ]
