"""How does light, and its colour, follow the dimmer?

What it answers
    Nothing by a verdict: it shows the light over the settings on the measured and the perceived scale beside the usual
    curves, and, where the colour follows the dimmer, its path in u', v' and its CCT beside an incandescent lamp's.
Why it matters
    Travel that does nothing, a last step to a tenth and a white that turns pink on its way down are seen at a glance.
Evidence needed
    Light of units at several settings, full output among them; for the colour their chromaticity there.
Method
    Light as the check `dimming` works it out, the path and the lamp as `warm_dimming` does; the scale of light is
    logarithmic, each mark of it with the perceived figure in brackets (square law). The power law of lamps is drawn
    from half to full output alone.
What it can't know
    What lies between the settings that were measured.
Sources
    IEC 62386-102; IES Lighting Handbook, square law (MEMORY); CIE 15:2018; Wikipedia, "Lamp rerating" (power law).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from audit import Axis, Check, Figure, Mark, Tables, hookimpl, wording
from plugins.checks.diagrams import Route, routes, thinned
from plugins.checks.dimming import LEVEL, LIGHT, LOWEST, MEASURED_AS, series
from plugins.checks.dimming_curve import ENDS, SAID
from plugins.checks.warm_dimming import DISTANCE, moving

if TYPE_CHECKING:
    import pandas as pd

    from audit.case import Case
    from audit.claims import Claim

NAME = "dimming_figures"
OF_COLOUR = ("cct", "duv", "x", "y", "u_prime", "v_prime", DISTANCE)  # claims that the figures of colour name
MOST_UNITS = 5  # drawn one by one; of more those that go furthest down, or furthest from the locus
DECADES = (100.0, 30.0, 10.0, 3.0, 1.0, 0.3, 0.1, 0.03, 0.01)
MOST_POINTS = 100  # of one figure
CURVE = 60  # points of a curve
SETTING = {LEVEL: ("level set", "%"), "V": ("control voltage", "V"), "arc level": ("arc level", "")}


def judge(case: Case) -> Tables:
    """Return the figures of every product whose light was measured at several settings of a dimmer."""
    from audit.lights import bearing
    from audit.shown import products

    points = case.evidence.points
    if points[["level_percent", "control_value"]].nunique().max() < 2:
        return Tables(figures=[])
    shown = products(case)
    light = series(case.evidence)
    light = light[(light["unknown"] == "") & light["by"].isin(list(ENDS)) & (light["percent"] > 0)]
    light = light[bearing(case.evidence, light)]
    paths = moving(case.evidence)
    paths = paths[bearing(case.evidence, paths)]
    figures: list[Figure] = []
    for product in shown:
        for by, own in light[light["product"] == product].groupby("by", sort=True):
            figures += _curve(case, product, str(by), own)
        own = paths[paths["product"] == product]
        if len(own):
            figures += [_path(case, product, own), _over_light(case, product, own)]
    return Tables(figures=figures)


def _curve(case: Case, product: str, by: str, own: pd.DataFrame) -> Iterator[Figure]:
    """Yield the light over the settings of one kind of control, if several were measured."""
    from audit.quantities.dimming import CURVES, perceived, travel
    from audit.shown import claims_on

    if own["setting"].nunique() < 2:
        return
    names = ("unit " + own["serial"]).where(own["serial"] != "", "unit without serial")
    lowest = own.groupby(names)["percent"].min().sort_values(kind="stable")
    limits: dict[float, str] = {}
    for value, said in _limits(case, product):
        limits[value] = f"{limits[value]}; {said}" if value in limits else said
    least = min([float(lowest.iloc[0]), *limits])
    at = ENDS[by][0] + np.ptp(ENDS[by]) * np.linspace(0, 1, CURVE) ** 2  # finer at the low end
    marks = []
    for name, curve in CURVES.items():
        y = curve(travel(at, ENDS[by]))
        kept = y >= least / 2
        marks.append(Mark("line", f"{name} curve", at[kept], y[kept], "reference"))
    low, high = float(own["setting"].min()), float(own["setting"].max())
    for value, words in limits.items():
        marks.append(Mark("line", words, (low, high), (value, value), "limit", tags=((high, value, words),)))
    drawn = own.sort_values(["percent", "place_id"], kind="stable").iloc[thinned(len(own), MOST_POINTS)]
    labels = [
        f"{name}, {SAID[by].format(wording.plain(setting))}: {_both(percent)}"
        for name, setting, percent in zip(names[drawn.index], drawn["setting"], drawn["percent"], strict=True)
    ]
    units = wording.counted(len(lowest), "unit")
    marks.append(Mark("points", f"light of {units}", drawn["setting"], drawn["percent"], "measured", labels=labels))
    bottom = own.loc[own["percent"].idxmin()]
    title, unit = SETTING[by]
    ticks = [(value, f"{value:g} ({float(perceived(value)):.3g})") for value in DECADES if value >= least / 2]
    told = (
        f"{units} of {product}: the light goes down to {_both(bottom['percent'])} of full output, at "
        f"{SAID[by].format(wording.plain(bottom['setting']))}."
    )
    yield Figure(
        f"dimming-curve-{by.casefold().replace(' ', '-')}",
        f"Light over {title}",
        Axis(title, unit),
        Axis("light measured (perceived)", "%", scale="log", ticks=ticks),
        marks,
        " ".join([told, *(f"{words}." for words in limits.values())]),
        product,
        claims_on(case, product, (LIGHT, LOWEST)),
    )


def _both(percent: float) -> str:
    from audit.quantities.dimming import perceived

    return f"{percent:.3g} % measured, {float(perceived(percent)):.3g} % perceived"


def _limits(case: Case, product: str) -> Iterator[tuple[float, str]]:
    """Yield the limits of claims on the lowest light, as light measured, by every meaning that a claim leaves open."""
    from audit.claims import product_key
    from audit.definitions import meanings

    for claim in case.claims:
        if product_key(claim.product) == product_key(product) and claim.quantity.name == LOWEST and claim.has_limit:
            for meaning in meanings(claim):
                if 0 < meaning.upper < np.inf:
                    said = f"{wording.plain(claim.upper)} % {meaning.definition}".rstrip()
                    yield float(meaning.upper), f"{claim.claim_id}: at most {said}"


def _path(case: Case, product: str, paths: pd.DataFrame) -> Figure:
    """The path of the colour in u', v', of the units that go furthest from the locus."""
    from audit.shown import claims_on

    ways = []
    for whole in _units(paths, paths["duv"].abs()):
        own, far = whole.iloc[thinned(len(whole), MOST_POINTS // MOST_UNITS)], whole.loc[whole["duv"].abs().idxmax()]
        u, v = (own[name].to_numpy(float) for name in ("u_prime", "v_prime"))
        words = _unit(own)
        labels = [
            f"{words}, {100 * share:.3g} % of the light: {cct:.0f} K, Duv {duv:+.4f}"
            for share, cct, duv in zip(own["share"], own["cct"], own["duv"], strict=True)
        ]
        ends = [(float(u[i]), float(v[i]), f"{100 * own['share'].iloc[i]:.3g} %") for i in (0, len(u) - 1)]
        furthest = f"{words} is furthest from the locus at {100 * far['share']:.3g} % of its light: {far['duv']:+.4f}"
        ways.append(Route(words, u, v, labels, ends, furthest))
    text = f"{product} in CIE 1976 u′, v′ as it is dimmed"
    shown = paths[["u_prime", "v_prime"]].to_numpy(float)
    claims = claims_on(case, product, OF_COLOUR)
    return routes("colour-when-dimmed", "Colour when dimmed", text, product, claims, shown, ways)


def _over_light(case: Case, product: str, paths: pd.DataFrame) -> Figure:
    """CCT over the light measured, beside the incandescent lamp of the product's own CCT at full output."""
    from audit.quantities.incandescent import POWER_LAW_LEAST, dimmed_cct, power_law_cct
    from audit.shown import claims_on

    full, least = float(paths["full_cct"].mean()), float(paths["share"].min())
    share = np.geomspace(least, 1.0, CURVE)
    lamp = dimmed_cct(full, share)
    near = np.linspace(POWER_LAW_LEAST, 1.0, CURVE // 4)
    marks = [
        Mark("line", f"incandescent lamp of {full:.0f} K", 100 * share, lamp, "reference"),
        Mark("line", "its power law, near full output", 100 * near, power_law_cct(full, near), "projection"),
    ]
    marks += _ends(case, product, paths)
    told = []
    for whole in _units(paths, (paths["cct"] - dimmed_cct(paths["full_cct"], paths["share"])).abs()):
        own = whole.iloc[thinned(len(whole), MOST_POINTS // MOST_UNITS)]
        words, percent, cct = _unit(own), 100 * own["share"].to_numpy(float), own["cct"].to_numpy(float)
        labels = [
            f"{words}, {each:.3g} % of the light: {kelvin:.0f} K" for each, kelvin in zip(percent, cct, strict=True)
        ]
        marks.append(Mark("line", words, percent, cct, "measured"))
        marks.append(Mark("points", words, percent, cct, "measured", labels=labels))
        told.append(f"{words} goes from {cct[-1]:.0f} K to {cct[0]:.0f} K at {percent[0]:.3g} %")
    return Figure(
        "cct-over-light",
        "CCT over light",
        Axis("light measured", "% of full output", scale="log"),
        Axis("CCT", "K"),
        marks,
        f"{product}: {'; '.join(told)}; the lamp has {lamp[0]:.0f} K there.",
        product,
        claims_on(case, product, OF_COLOUR),
    )


def _ends(case: Case, product: str, paths: pd.DataFrame) -> Iterator[Mark]:
    """Yield the limits of claims on the CCT at a level, at the light that was measured there."""
    from audit.numbers import Span

    for claim in _claims_at_levels(case, product):
        level = claim.conditions["level_percent"]
        assert isinstance(level, Span), "a level is a number"
        near = paths[(paths["level_percent"] - level.low).abs() <= 1]
        if len(near) and np.isfinite([claim.lower, claim.upper]).all():
            words = f"{claim.claim_id}: {claim.lower:.0f} K to {claim.upper:.0f} K at {wording.plain(level.low)} % set"
            yield Mark("whiskers", words, [100 * near["share"].mean()], [claim.lower], "limit", to_y=[claim.upper])


def _claims_at_levels(case: Case, product: str) -> Sequence[Claim]:
    from audit.claims import product_key

    own = [claim for claim in case.claims if product_key(claim.product) == product_key(product)]
    return [claim for claim in own if claim.quantity.name == "cct" and "level_percent" in claim.conditions]


def _units(paths: pd.DataFrame, furthest: pd.Series) -> Iterator[pd.DataFrame]:
    """Yield the rows of single units by rising light, of many units those with the largest of `furthest`."""
    order = furthest.groupby(paths["unit"]).max().sort_values(ascending=False, kind="stable").index[:MOST_UNITS]
    for unit in sorted(order):
        yield paths[paths["unit"] == unit].sort_values(["share", "place_id"], kind="stable")


def _unit(own: pd.DataFrame) -> str:
    return f"unit {own['serial'].iloc[0]}" if own["serial"].iloc[0] else "unit without serial"


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "light and colour when dimmed, as figures",
            needs=(*MEASURED_AS, LIGHT),
            judge=judge,
            sources=("IEC 62386-102", "CIE 15:2018", "IES Lighting Handbook, square law (MEMORY)"),
        )
    ]
