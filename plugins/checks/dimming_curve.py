"""Which way does the light go when it is dimmed?

What it answers
    The curve that the light follows over the settings, travel of the control that changes nothing, light that falls
    while the setting rises, and the efficacy along the way.
Why it matters
    A control whose last tenth does nothing, or whose first step drops to a third, can't be set by hand; and a driver
    that takes half its power for a tenth of the light saves little.
Evidence needed
    The light of one product at four settings or more, among them full output; its power there for the efficacy.
Method
    The mean of the units at each setting beside the linear, square and logarithmic curve (0.1 % to 100 %), the
    nearest by the rms distance. Travel is dead where the light stays within its repeatability although that curve
    would have moved it twice as far; not below 1 V of a control voltage nor below a stated physical minimum, where
    standing still is how it's meant. Arc levels are put beside the light that a stated curve gives them, never
    beside an assumed one.
What it can't know
    What happens between the settings measured, how the light gets from one to the next, and whether it flickers there.
Sources
    IEC 62386-102 (logarithmic curve) and 62386-207 (linear curve); IEC 60929, Annex E (1 V is the minimum). The
    square curve: common practice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Tables, hookimpl, wording
from audit.tables import frame
from plugins.checks.dimming import ARC, LEVEL, LIGHT, LOWEST, MEASURED_AS, SERIES, noise, series

if TYPE_CHECKING:
    import pandas as pd

    from audit.case import Case
    from audit.quantities.dimming import Fit

NAME = "dimming_curve"
ENDS = {LEVEL: (0.0, 100.0), "V": (1.0, 10.0), ARC: (1.0, 254.0)}  # of the travel that the curves are about
SAID = {LEVEL: "{} % level", "V": "{} V", ARC: "arc level {}"}
NAMED_CURVES = {"logarithmic": re.compile(r"(?i)\blog|62386-102"), "linear": re.compile(r"(?i)\blinear|62386-207")}
FEW = 4  # settings that tell a curve
SHOWN = 4  # settings at which the efficacy is told
Row = tuple[str, ...]


def judge(case: Case) -> Tables:
    """Return what the light of every product does over its settings: a curve, and what of its travel does nothing."""
    points = case.evidence.points
    if points[["level_percent", "control_value"]].nunique().max() < FEW - 1:  # a blank level may be another one
        return Tables({"observations": frame("observations", [])})
    light = series(case.evidence)
    light = light[(light["unknown"] == "") & light["by"].isin(list(ENDS))]
    keys = ["document_id", *(name for name in SERIES if name not in ("test", "serial"))]
    touched = {claim.product for claim in case.claims if claim.quantity.name in (LIGHT, LOWEST)}
    paths = case.evidence.documents.set_index("document_id")["path"]
    rows: list[Row] = []
    for _, own in light.groupby(keys, dropna=False, sort=True):
        product, document = str(own["product"].iloc[0]), str(paths[own["document_id"].iloc[0]])
        tier = "minor" if product in touched else "note"
        place = case.evidence.places.set_index("place_id").loc[own["place_id"].iloc[0]]
        where = f"row {place['row']}" if place["row"] else ""
        for rule, message, ask in _told(case, own):
            rows.append((rule, tier if ask else "note", product, document, where, message, ask, NAME))
    return Tables({"observations": frame("observations", rows)})


def _told(case: Case, own: pd.DataFrame) -> Iterator[tuple[str, str, str]]:
    """Yield rule, message and question about the light of one product in one document under one control."""
    from audit.quantities import dimming

    by, stops = str(own["by"].iloc[0]), _physical_minimum(case, own)
    mean = own.groupby("setting")["percent"].mean()
    setting, light = mean.index.to_numpy(float), mean.to_numpy(float)
    if len(setting) < FEW:
        return
    fit = dimming.nearest_curve(dimming.travel(setting, ENDS[by]), light)
    who = _who(own)
    yield "dimming_curve", _curve(case, own, setting, light, by, fit) + who, ""
    spread = noise(light) + _digit(own)  # a coarse last digit hides what moves less than it
    meant = setting < max(ENDS["V"][0] if by == "V" else 0.0, stops)
    moving = (setting > 0) & ~meant
    if fit is not None and moving.sum() >= 2:
        expected = dimming.CURVES[fit.curve](dimming.travel(setting, ENDS[by]))
        ends = dimming.dead_travel(setting[moving], light[moving], expected[moving], spread[moving])
        for end, still in zip(("low", "high"), ends, strict=True):
            if still.there:
                span = SAID[by].format(f"{wording.plain(still.start)} to {wording.plain(still.end)}")
                message = (
                    f"at the {end} end of the control the light stands still: from {span} it stays at "
                    f"{np.interp(still.start, setting, light):.3g} % of full output"
                )
                yield "dead_travel", message + who, "is that travel of the control meant to change nothing?"
    falls = dimming.reversals(light, spread)
    if len(falls):
        at = int(falls[0])
        top = int(np.argmax(light[:at]))
        message = (
            f"the light falls while the setting rises: {light[top]:.3g} % of full output at "
            f"{SAID[by].format(wording.plain(setting[top]))}, {light[at]:.3g} % at "
            f"{SAID[by].format(wording.plain(setting[at]))}"
        )
        yield "light_falls", message + who, "were these settings noted as they were set?"


def _digit(own: pd.DataFrame) -> np.ndarray:
    """The last printed digit at each setting, in per cent of full output."""
    full = 100 * own["value"].where(own["value"] > 0) / own["percent"]
    digit = (100 * own["resolution"].fillna(0.0) / full).groupby(own["setting"]).max()
    return np.asarray(digit.fillna(0.0), float)


def _curve(case: Case, own: pd.DataFrame, setting: np.ndarray, light: np.ndarray, by: str, fit: Fit | None) -> str:
    """The curve that the light follows, and the efficacy along it, in words."""
    from audit.quantities.dimming import perceived

    low = int(np.flatnonzero(light > 0)[0]) if (light > 0).any() else 0
    text = (
        f"from full output down to {SAID[by].format(wording.plain(setting[low]))} the light goes to {light[low]:.3g} % "
        f"measured, {float(perceived(light[low])):.3g} % perceived"
    )
    if fit is not None:
        residual = {name: f"{value:.2g}" for name, value in fit.residual.items()}
        text += f"; the {fit.curve} curve is nearest (rms residual {residual.pop(fit.curve)} % of full output; "
        text += ", ".join(f"{name} {value}" for name, value in residual.items()) + ")"
    return text + _beside_the_stated_curve(case, own) + _efficacy(case, own, by)


def _beside_the_stated_curve(case: Case, own: pd.DataFrame) -> str:
    """How far arc levels give another light than the curve that the document states; nothing without one."""
    from audit.quantities import dimming

    if own["by"].iloc[0] != ARC:
        return ""
    stated = _facts(case, own, "dimming_curve")
    known = [name for text in stated for name, words in NAMED_CURVES.items() if words.search(text)]
    if len(set(known)) != 1:
        return "; which curve its arc levels follow isn't stated, so they say nothing of light by themselves"
    curve = dimming.arc_light if known[0] == "logarithmic" else dimming.arc_light_linear
    wanted = curve(own["setting"].to_numpy(float))
    far = own["percent"].to_numpy(float) - wanted
    worst = int(np.nanargmax(np.abs(far)))
    level, light = wording.plain(own["setting"].iloc[worst]), own["percent"].iloc[worst]
    return (
        f"; beside the {known[0]} curve that is stated, it is farthest off at arc level {level}: {light:.3g} % instead "
        f"of {wanted[worst]:.3g} %"
    )


def _efficacy(case: Case, own: pd.DataFrame, by: str) -> str:
    """Light per power at some settings relative to that at full output, where the same points have their power."""
    readings = case.evidence.readings
    power = readings[(readings["quantity"] == "input_power") & (readings["value"] > 0)]
    both = own.merge(power[["point_id", "value"]].drop_duplicates("point_id"), on="point_id", suffixes=("", " W"))
    both["per"] = both["percent"] / both["value W"]
    along = both.groupby("setting")["per"].mean()
    full = both[both["percent"] > 99]["per"].mean()
    along = along[along.index < both["setting"].max()] if len(both) else along
    if not len(along) or not full > 0:
        return ""
    at = np.unique(np.linspace(len(along) - 1, 0, SHOWN).round().astype(int))[::-1]
    told = [f"{100 * along.iloc[i] / full:.0f} % at {SAID[by].format(wording.plain(along.index[i]))}" for i in at]
    return f"; light per power, relative to full output: {wording.listing(told)}"


def _physical_minimum(case: Case, own: pd.DataFrame) -> float:
    """The setting that the document states as the physical minimum, 0 where it states none for this control."""
    from audit.numbers import parse_value

    unit = {LEVEL: "%", ARC: ""}.get(str(own["by"].iloc[0]))
    values = [value for text in _facts(case, own, "physical_minimum") if (value := parse_value(text)) is not None]
    return max((value.value for value in values if value.unit == unit), default=0.0)


def _facts(case: Case, own: pd.DataFrame, key: str) -> list[str]:
    told = case.evidence.metadata
    return list(told[(told["key"] == key) & (told["document_id"] == own["document_id"].iloc[0])]["value"])


def _who(own: pd.DataFrame) -> str:
    units = sorted(set(own["serial"]) - {""})
    setting = own["cct_setting_K"].iloc[0]
    words = [f"mean of {len(units)} units" if len(units) > 1 else f"unit {units[0]}" if units else ""]
    words.append(f"{wording.plain(setting)} K setting" if setting == setting else "")
    said = ", ".join(filter(None, words))
    return f" ({said})" if said else ""


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "the curve of the light over the settings of its control",
            needs=(*MEASURED_AS, "input_power"),
            judge=judge,
            sources=("IEC 62386-102", "IEC 62386-207", "IEC 60929 Annex E"),
        )
    ]
