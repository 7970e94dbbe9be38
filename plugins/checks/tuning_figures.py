"""What does tunable light do along its settings, and all the way round?

What it answers
    Nothing by a verdict: it shows the path of the white in u', v' as it is set, CCT and Duv against the setting beside
    the ends and the tolerance claimed, and the hues of a turn about the white.
Why it matters
    A chord below the locus, an end that is tinted and a wheel that leaps through the greens are seen at a glance.
Evidence needed
    Chromaticity, or CCT and Duv, of units at several CCT settings; chromaticity at several hues.
Method
    White, tinted and hue-angle are what the checks `tunable_white` and `colour_tuning` take them for.
What it can't know
    What lies between the settings that were measured.
Sources
    CIE 15:2018 (CIE 1976 UCS, hue-angle); ANSI C78.377 (tolerance of Duv).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from audit import Axis, Check, Figure, Mark, Tables, hookimpl, wording
from plugins.checks.colour_tuning import AREA, EVENNESS, FLUX_RATIO, HUE, SATURATION, coloured, rounds
from plugins.checks.diagrams import Route, routes, thinned, view
from plugins.checks.tunable_white import ERROR, HIGH, LOW, RELATIVE, settings_of, white_of

if TYPE_CHECKING:
    import pandas as pd

    from audit.case import Case
    from audit.claims import Claim
    from plugins.checks.colour_tuning import Round

NAME = "tuning_figures"
OF_WHITE = ("cct", "duv", "x", "y", "u_prime", "v_prime", "chromaticity_steps", ERROR, RELATIVE, LOW, HIGH)
OF_HUE = (HUE, SATURATION, EVENNESS, FLUX_RATIO, AREA)
MOST_UNITS = 5  # whose paths are drawn; of more those that lie furthest from the locus
MOST_POINTS = 100  # of one figure; of more the lowest and the highest at each setting


def judge(case: Case) -> Tables:
    """Return the figures of every product that was measured at several settings of white or of hue."""
    from audit.shown import products

    points, figures = case.evidence.points, list[Figure]()
    if max(points[name].nunique() for name in ("cct_setting_K", "hue_setting_deg")) < 2:
        return Tables(figures=[])
    hues = points["hue_setting_deg"].notna().any()
    turns = list(rounds(_seen(case, coloured(case.evidence)))) if hues else []
    for product in products(case):
        whites = _whites(case, product)
        if len(whites) and whites["cct_setting_K"].nunique() > 1:
            figures += [_path(case, product, whites), *_against_settings(case, product, whites)]
        own = [lights for lights in turns if lights.rows["product"].iloc[0] == product]
        if own:
            figures.append(_circle(case, product, own))
    return Tables(figures=figures)


def _seen(case: Case, found: pd.DataFrame) -> pd.DataFrame:
    from audit.lights import bearing

    return found[bearing(case.evidence, found)]


def _whites(case: Case, product: str) -> pd.DataFrame:
    """CCT and Duv of the whole product at full output, new, at each CCT setting."""
    from audit.lights import whole_and_new

    rows, _ = case.book.rows(product, "cct")
    found = settings_of(case, rows)
    found = found[(found["cct_setting_K"] > 0) & found["duv"].notna() & whole_and_new(found)]
    return _seen(case, found).sort_values(["unit", "cct_setting_K", "place_id"], kind="stable")


def _path(case: Case, product: str, whites: pd.DataFrame) -> Figure:
    """The path of the white in u', v', unit by unit."""
    from audit.quantities.planckian import point
    from audit.shown import claims_on

    u, v = point(whites["cct"].to_numpy(float), whites["duv"].to_numpy(float))
    placed = whites.assign(u=u, v=1.5 * v)
    placed = placed[placed["u"].notna()]
    furthest = placed["duv"].abs().groupby(placed["unit"]).max().sort_values(ascending=False, kind="stable")
    ways = []
    for number in sorted(furthest.index[:MOST_UNITS]):
        own = placed[placed["unit"] == number]
        far = own.loc[own["duv"].abs().idxmax()]
        own = own.iloc[thinned(len(own), MOST_POINTS // MOST_UNITS)]
        places, words = own[["u", "v"]].to_numpy(float), _unit(own)
        settings = [f"{wording.plain(each)} K" for each in own["cct_setting_K"]]
        labels = [
            f"{words}, set to {setting}: {cct:.0f} K, Duv {duv:+.4f}"
            for setting, cct, duv in zip(settings, own["cct"], own["duv"], strict=True)
        ]
        tags = [(*places[i].tolist(), f"set {settings[i]}") for i in (0, len(own) - 1)]
        told = f"{words} is furthest from the locus set to {wording.plain(far['cct_setting_K'])} K: {far['duv']:+.4f}"
        ways.append(Route(words, places[:, 0], places[:, 1], labels, tags, told))
    text = f"{product} in CIE 1976 u′, v′ as its white is set, from CCT and Duv"
    shown = placed[["u", "v"]].to_numpy(float)
    claims = claims_on(case, product, OF_WHITE)
    return routes("white-over-setting", "Path of the white over its setting", text, product, claims, shown, ways)


def _against_settings(case: Case, product: str, whites: pd.DataFrame) -> Iterator[Figure]:
    """Yield CCT and Duv against the set CCT, with what is white and what is tinted, for a claimed range of white."""
    from audit.claims import product_key
    from audit.quantities.tuning import duv_limits
    from audit.shown import claims_on

    own = [claim for claim in case.claims if product_key(claim.product) == product_key(product)]
    ranges = [claim for claim in own if claim.quantity.name in (LOW, HIGH) and claim.has_limit]
    if not ranges:
        return
    white, _ = white_of(ranges[0].definition)
    cct, duv, setting = (whites[name].to_numpy(float) for name in ("cct", "duv", "cct_setting_K"))
    low, high = duv_limits(cct, white.tolerance, white.about_target)
    inside = (duv >= low) & (duv <= high)
    ends = (float(setting.min()), float(setting.max()))
    along = np.linspace(*ends, 40)
    edges = duv_limits(along, white.tolerance, white.about_target)
    claims = claims_on(case, product, OF_WHITE)
    who = [f"{_unit(whites.iloc[[i]])}, set to {wording.plain(setting[i])} K" for i in range(len(whites))]
    told = f"{int(inside.sum())} of {len(whites)} lights are white, with {white.words}"
    x = Axis("CCT set", "K")
    for name, title, values, marks, unit, decimals in (
        ("cct", "CCT", cct, [Mark("line", "as set", ends, ends, "reference"), *_ends(ranges, ends)], "K", 0),
        ("duv", "Duv", duv, [Mark("band", white.words, along, edges[0], "limit", to_y=edges[1])], "", 4),
    ):
        points = _points(values, setting, inside, who, unit, decimals)
        text = f"{product}: {title} from {values.min():.{decimals}f} to {values.max():.{decimals}f} {unit}".rstrip()
        yield Figure(
            f"{name}-as-set", f"{title} over set CCT", x, Axis(title, unit), [*marks, *points], f"{text}; {told}.",
            product, claims,
        )  # fmt: skip


def _ends(ranges: Sequence[Claim], ends: tuple[float, float]) -> Iterator[Mark]:
    """Yield the claimed ends of the range."""
    for claim in ranges:
        limit = claim.upper if np.isfinite(claim.upper) else claim.lower
        words = f"{claim.claim_id}: {wording.limits(claim, claim.lower, claim.upper)}"
        yield Mark("line", words, ends, (limit, limit), "limit", tags=((ends[0], limit, words),))


def _points(
    values: np.ndarray, setting: np.ndarray, inside: np.ndarray, who: Sequence[str], unit: str, decimals: int
) -> Iterator[Mark]:
    """Yield the lights that are white and those that are tinted; of many the extremes at each setting."""
    kept = np.arange(len(values))
    if len(values) > MOST_POINTS:
        extremes = [here[pick(values[here])] for each in np.unique(setting)
                    for here in (np.flatnonzero(setting == each),) for pick in (np.argmin, np.argmax)]  # fmt: skip
        kept = np.unique(extremes)
    for role, words in (("inside", "white"), ("outside", "tinted, no part of the range")):
        at = kept[inside[kept] == (role == "inside")]
        if len(at):
            labels = [f"{who[i]}: {values[i]:.{decimals}f} {unit}".rstrip() for i in at]
            yield Mark("points", words, setting[at], values[at], role, labels=labels)


def _circle(case: Case, product: str, turns: Sequence[Round]) -> Figure:
    """The hues of the unit at its fullest colour about the white."""
    from audit.quantities.tuning import EQUAL_ENERGY
    from audit.shown import claims_on

    shown = max(turns, key=lambda each: float(each.rows["saturation_setting_percent"].fillna(100.0).iloc[0]))
    drawn = thinned(len(shown.set_deg), MOST_POINTS)
    u, v = shown.u_prime[drawn], shown.v_prime[drawn]
    set_deg = [f"{wording.plain(each)}°" for each in shown.set_deg[drawn]]
    angles = [f"hue-angle {round(each) % 360}°" if each == each else "no hue" for each in shown.hues[0][drawn]]
    labels = [f"set to {hue}: {angle}, u′ {a:.4f}, v′ {b:.4f}"
              for hue, angle, a, b in zip(set_deg, angles, u, v, strict=True)]  # fmt: skip
    every = max(1, round(len(u) / 12))
    tags = [(float(u[i]), float(v[i]), set_deg[i]) for i in range(0, len(u), every)]
    whites = np.array([EQUAL_ENERGY, shown.rows[["white u", "white v"]].to_numpy(float)[0]])
    words = ("equal-energy white", "the unit's own white, 0 % saturation")
    marks = [Mark("polygon", "lights of the turn, in the order set", u, v, "measured")]
    marks += [
        Mark("points", text, [at[0]], [at[1]], role, labels=[text])
        for at, text, role in zip(whites, words, ("reference", "computed"), strict=True)
        if not np.isnan(at).any()
    ]
    marks.append(Mark("points", f"hues set, {_unit(shown.rows)}", u, v, "measured", labels=labels, tags=tags))
    x, y = view(np.append(u, EQUAL_ENERGY[0]), np.append(v, EQUAL_ENERGY[1]))
    return Figure(
        "hue-circle",
        "Hues of a turn",
        x,
        y,
        marks,
        f"{product}, {_unit(shown.rows)} in CIE 1976 u′, v′ as its hue is set; hue-angle about equal-energy white: "
        f"{wording.listing([f'{hue} set, {angle}' for hue, angle in zip(set_deg, angles, strict=True)], 12)}.",
        product,
        claims_on(case, product, OF_HUE),
        equal=True,
    )


def _unit(own: pd.DataFrame) -> str:
    return f"unit {own['serial'].iloc[0]}" if own["serial"].iloc[0] else "unit without serial"


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "tunable light along its settings, as figures",
            needs=("cct", "duv", "x", "y", "u_prime", "v_prime"),
            judge=judge,
            sources=("CIE 15:2018", "ANSI C78.377"),
        )
    ]
