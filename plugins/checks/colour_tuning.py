"""Do hue and saturation follow their settings, all the way round?

What it answers
    Measured beside set hue and saturation; dominant wavelength and purity at every hue; the order and evenness of a
    full turn; how far the flux holds while hue turns; the area of colours that the hues span.
Why it matters
    A wheel that leaps through the greens and creeps through the reds can't be matched to a stage or to its neighbour; a
    turn that dims on its way shows as a pulse.
Evidence needed
    Chromaticity of a unit at stated hue and saturation settings: 0 % for its white, 100 % for its most saturated light,
    hues no further apart than 60 degrees; flux at the same settings.
Method
    Hue: CIE 1976 u, v hue-angle about equal-energy white, or about the unit's own light at 0 %, as the definition of
    the claim says; none within 0.04 of that white. Saturation: distance from the unit's own light at 0 %, over that of
    the same hue at 100 %. Evenness: the largest difference between a step of hue-angle and the step set. A full turn:
    no gap above 60 degrees between the hues tested (all chosen, no standard lays them down). Dominant wavelength and
    purity: about equal-energy white.
What it can't know
    How a hue setting was meant: no standard relates a colour wheel to an angle in a chromaticity diagram, so without a
    definition in the claim set and measured hue decide nothing. What lies between tested hues.
Sources
    CIE 15:2018 (CIE 1976 UCS, hue-angle; dominant wavelength, excitation purity). Evenness and flux ratio: common
    practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, hookimpl, quantity_register, wording
from audit.tables import frame

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from audit.assess import Assessment
    from audit.case import Case
    from audit.claims import Claim
    from audit.quantities.tuning import Turn

NAME = "colour_tuning"
HUE, SATURATION, EVENNESS = "hue_setting_error", "saturation_setting_error", "hue_step_error"
FLUX_RATIO, AREA = "hue_flux_ratio", "gamut_area"
DEFINITIONS = ("about equal-energy white", "about the unit's own white")
WHITE_PERCENT, FULL_PERCENT = 1.0, 99.0  # saturation settings up to, and from, which a light is white, or full colour
OF_A_TURN = (EVENNESS, FLUX_RATIO, AREA)
HUES_SHOWN = 12


@dataclass(frozen=True)
class Round:
    """The lights of one unit at one saturation, one per hue in the order set: rows of the table, and their means."""

    rows: pd.DataFrame
    set_deg: NDArray[np.float64]
    u_prime: NDArray[np.float64]
    v_prime: NDArray[np.float64]
    hues: tuple[NDArray[np.float64], NDArray[np.float64]]  # by each definition

    def turn(self, definition: int) -> Turn | None:
        """Return the turn by one definition; None where a light has no hue."""
        from audit.quantities.tuning import turn

        return None if np.isnan(self.hues[definition]).any() else turn(self.set_deg, self.hues[definition])


def derive(evidence: Evidence) -> Tables:
    """Return errors of hue and saturation settings, and of every full turn its evenness, flux ratio and area."""
    from audit.quantities.mixing import gamut
    from audit.quantities.tuning import angle_between, is_full_turn

    computed = Computed(evidence, NAME)
    if evidence.points["hue_setting_deg"].isna().all():
        return computed.tables()
    found = coloured(evidence)
    set_hue = found["hue_setting_deg"].to_numpy(float)
    for number, definition in enumerate(DEFINITIONS):
        computed.add(found, {HUE: angle_between(found[f"hue {number}"], set_hue)}, definition=definition)
    computed.add(found, {SATURATION: _saturation(found) - found["saturation_setting_percent"].to_numpy(float)})
    firsts, uneven, areas = [], [], []
    for lights in rounds(found):
        if not is_full_turn(lights.set_deg):
            continue
        turns = (lights.turn(number) for number in range(len(DEFINITIONS)))
        uneven.append([each.uneven_deg if each else np.nan for each in turns])
        full = lights.rows["saturation_setting_percent"].iloc[0] >= FULL_PERCENT
        areas.append(gamut(lights.u_prime, lights.v_prime)[1] if full else np.nan)
        firsts.append(lights.rows.iloc[:1])
    if firsts:
        import pandas as pd

        rows = pd.concat(firsts)
        computed.add(rows, {AREA: np.array(areas)})
        for number, definition in enumerate(DEFINITIONS):
            computed.add(rows, {EVENNESS: np.array(uneven)[:, number]}, definition=definition)
    _flux_ratios(evidence, computed)
    return computed.tables()


def coloured(evidence: Evidence) -> pd.DataFrame:
    """Return the lights at stated hues with their hue-angle and radius by each definition, and the number of the turn.

    Columns beside those of `at_points`: set (0 to 360), round, "white u" and "white v" (the unit's own light at 0 %),
    "hue 0", "radius 0", "hue 1", "radius 1".
    """
    from audit.lights import at_points, chromaticities, only, series
    from audit.quantities.tuning import EQUAL_ENERGY, polar

    evidence = only(evidence, "hue_setting_deg", "saturation_setting_percent")
    found = at_points(evidence, chromaticities(evidence))
    found["unit"] = series(found, ("hue_setting_deg", "saturation_setting_percent", "cct_setting_K", "repeat"))
    white = found["saturation_setting_percent"] <= WHITE_PERCENT
    whites = found[white].groupby("unit")[["u_prime", "v_prime"]].mean()
    found = found[found["hue_setting_deg"].notna()].reset_index(drop=True)
    u, v = (found[name].to_numpy(float) for name in ("u_prime", "v_prime"))
    own = whites.reindex(found["unit"]).to_numpy(float)
    found["white u"], found["white v"] = own.T
    for number, middle in enumerate((np.array(EQUAL_ENERGY), own)):
        found[f"hue {number}"], found[f"radius {number}"] = polar(u, v, middle)
    found["round"] = series(found, ("hue_setting_deg", "repeat"))
    found["set"] = found["hue_setting_deg"] % 360
    return found


def _saturation(found: pd.DataFrame) -> NDArray[np.float64]:
    """Return the measured saturation (n,) in per cent; NaN at both ends of the scale, which are what defines it."""
    setting, radius = found["saturation_setting_percent"], found["radius 1"]
    keys = [found["unit"], found["set"]]
    fullest = radius.where(setting >= FULL_PERCENT).groupby(keys).transform("mean").to_numpy(float)
    between = (setting > WHITE_PERCENT) & (setting < FULL_PERCENT)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(fullest > 0, 100 * radius.to_numpy(float) / fullest, np.nan)
    return np.where(between, share, np.nan)


def rounds(found: pd.DataFrame) -> Iterator[Round]:
    """Yield the lights of every unit and saturation in the order of their hues; of one hue read twice, the mean."""
    from audit.quantities.tuning import polar

    found = found[found["u_prime"].notna() & (found["saturation_setting_percent"].fillna(100.0) > WHITE_PERCENT)]
    found = found.sort_values(["round", "set", "place_id"], kind="stable")
    key = found.groupby(["round", "set"], sort=True)
    mean, once = key[["u_prime", "v_prime"]].mean().to_numpy(float), found[~found.duplicated(["round", "set"])]
    set_deg = once["set"].to_numpy(float)
    about_energy = polar(mean[:, 0], mean[:, 1])[0]
    about_own = polar(mean[:, 0], mean[:, 1], once[["white u", "white v"]].to_numpy(float))[0]
    starts = np.flatnonzero(np.diff(once["round"].to_numpy(), prepend=-1))
    for rows in np.split(np.arange(len(once)), starts[1:]):
        if len(rows) > 2:
            hues = (about_energy[rows], about_own[rows])
            yield Round(once.iloc[rows], set_deg[rows], mean[rows, 0], mean[rows, 1], hues)


def _flux_ratios(evidence: Evidence, computed: Computed) -> None:
    """Add the flux ratio of every full turn whose flux was measured."""
    from audit.lights import lights, only, series
    from audit.quantities.tuning import is_full_turn

    found = lights(only(evidence, "hue_setting_deg"), ("luminous_flux",))
    found = found[found["saturation_setting_percent"].fillna(FULL_PERCENT) > WHITE_PERCENT].reset_index(drop=True)
    found["round"], found["set"] = series(found, ("hue_setting_deg", "repeat")), found["hue_setting_deg"] % 360
    hues = found.groupby(["round", "set"], sort=True)["luminous_flux"].mean().reset_index()
    ratio = {
        number: own["luminous_flux"].max() / own["luminous_flux"].min()
        for number, own in hues.groupby("round", sort=False)
        if len(own) > 2 and own["luminous_flux"].min() > 0 and is_full_turn(own["set"].to_numpy(float))
    }
    first = found[found["round"].isin(list(ratio))].sort_values(["round", "set"], kind="stable")
    first = first[~first.duplicated("round")]
    computed.add(first, {FLUX_RATIO: first["round"].map(ratio).to_numpy(float)})


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Assess a claim by its readings; what is of a full turn is of every hue, so that no hue need match."""
    from audit.assess import assess as by_readings
    from audit.quantities.tuning import LARGEST_GAP_SAID, LEAST_RADIUS_SAID

    name, chosen = claim.quantity.name, []
    if name in (HUE, EVENNESS):
        chosen.append(LEAST_RADIUS_SAID)
    if name in OF_A_TURN:
        chosen.append(LARGEST_GAP_SAID)
        claim = replace(claim, conditions={key: at for key, at in claim.conditions.items() if key != "hue_setting_deg"})
    assessment = by_readings(case, claim, scale)
    noted = [replace(each, notes=(*each.notes, *chosen)) for each in assessment.candidates]
    return replace(assessment, candidates=noted)


def judge(case: Case) -> Tables:
    """Return, per product, the hues as measured, and what is out of order in their turns."""
    from audit.lights import bearing

    if case.evidence.points["hue_setting_deg"].isna().all():
        return Tables({"observations": frame("observations", [])})
    found = coloured(case.evidence)
    found = found[bearing(case.evidence, found)]
    turns: dict[str, list[Round]] = {}
    for lights in rounds(found):
        turns.setdefault(str(lights.rows["product"].iloc[0]), []).append(lights)
    rows = [row for product in sorted(turns) for row in (*_hues(case, turns[product]), *_order(case, turns[product]))]
    return Tables({"observations": frame("observations", rows)})


def _hues(case: Case, turns: list[Round]) -> Iterator[tuple[str, ...]]:
    """The hues of the first unit at its fullest colour: dominant wavelength and purity; what isn't a full turn."""
    from audit.quantities.chromaticity import uv_prime_to_xy
    from audit.quantities.purity import purity
    from audit.quantities.tuning import LARGEST_GAP_DEG, is_full_turn

    shown = max(turns, key=lambda each: float(each.rows["saturation_setting_percent"].fillna(100.0).iloc[0]))
    result = purity(*uv_prime_to_xy(shown.u_prime, shown.v_prime))
    words = []
    for hue, nm, opposite, pe in zip(
        shown.set_deg, result.dominant_nm, result.complementary_nm, result.excitation_purity, strict=True
    ):
        if pe == pe:
            named = f"{nm:.0f} nm" if nm == nm else f"purple, complementary {opposite:.0f} nm"
            words.append(f"{wording.plain(hue)}° is {named}, purity {100 * pe:.0f} %")
    if words:
        told = f"hues as measured, about equal-energy white (unit {_unit(shown)}): {wording.listing(words, HUES_SHOWN)}"
        yield _observed(case, shown, "hues_measured", "note", told, "")
    yield from _white(case, turns)
    if not any(is_full_turn(each.set_deg) for each in turns):
        yield _observed(
            case,
            shown,
            "no_full_turn",
            "minor",
            f"hues were tested at {wording.listing([wording.plain(hue) for hue in shown.set_deg], HUES_SHOWN)} degrees "
            "only: evenness, order, flux and gamut of a full turn can't be told",
            f"ask for hues all the way round, no further apart than {LARGEST_GAP_DEG:.0f} degrees",
        )


def _white(case: Case, turns: list[Round]) -> Iterator[tuple[str, ...]]:
    """The white at 0 % saturation that lies furthest from the Planckian locus."""
    from audit.quantities.chromaticity import cct_duv, uv_prime_to_xy
    from audit.quantities.tuning import DUV_TOLERANCE

    whites = np.array([each.rows[["white u", "white v"]].to_numpy(float)[0] for each in turns])
    cct, duv = cct_duv(*uv_prime_to_xy(*whites.T))
    if np.isnan(duv).all():
        return
    at = int(np.nanargmax(np.abs(duv)))
    tinted = abs(duv[at]) > DUV_TOLERANCE
    yield _observed(
        case,
        turns[at],
        "white_of_the_turn",
        "minor" if tinted else "note",
        f"at 0 % saturation unit {_unit(turns[at])} gives {cct[at]:.0f} K, Duv {duv[at]:+.4f}"
        + (
            f": further from the Planckian locus than {DUV_TOLERANCE:g}, the tolerance of ANSI C78.377"
            if tinted
            else ""
        ),
        "is that the white that 0 % saturation is meant to give?" if tinted else "",
    )


def _order(case: Case, turns: list[Round]) -> Iterator[tuple[str, ...]]:
    """Whether hues run back, or the whole turn runs the other way, by the unit that is worst."""
    from audit.quantities.tuning import is_full_turn

    repeatability = 2**0.5 * case.known[HUE].repeatability_absolute  # of a difference, expanded
    worst: tuple[float, Round, int] | None = None
    other_way = None
    for lights in turns:
        found = lights.turn(0) if is_full_turn(lights.set_deg) else None
        if found is None:
            continue
        other_way = other_way or (lights if found.reversed else None)
        at = int(found.step_deg.argmin())
        if found.step_deg[at] < -repeatability and (worst is None or found.step_deg[at] < worst[0]):
            worst = (float(found.step_deg[at]), lights, at)
    if worst is not None:
        step, lights, at = worst
        after = lights.set_deg[(at + 1) % len(lights.set_deg)]
        yield _observed(
            case,
            lights,
            "hue_runs_back",
            "major",
            f"set from {wording.plain(lights.set_deg[at])} to {wording.plain(after)} degrees, unit {_unit(lights)} "
            f"runs back by {-step:.1f} degrees of hue-angle about equal-energy white, against the turn",
            "are these settings exchanged in the report, or does the product turn back there?",
        )
    if other_way is not None:
        yield _observed(
            case,
            other_way,
            "hue_turns_the_other_way",
            "minor",
            f"as the hue setting rises, the hue-angle of unit {_unit(other_way)} falls all the way round: red, blue, "
            "green, yellow",
            "which way is the hue setting meant to run?",
        )


def _observed(case: Case, lights: Round, rule: str, tier: str, message: str, ask: str) -> tuple[str, ...]:
    first = lights.rows.iloc[0]
    path = case.evidence.documents.set_index("document_id")["path"][first["document_id"]]
    return (rule, tier, str(first["product"]), str(path), "", message, ask, NAME)


def _unit(lights: Round) -> str:
    return str(lights.rows["serial"].iloc[0]) or "without serial"


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "hue and saturation against their settings; a full turn of hue",
            needs=("x", "y", "u_prime", "v_prime", "luminous_flux"),
            gives=tuple(quantity_register()[name] for name in (HUE, SATURATION, EVENNESS, FLUX_RATIO, AREA)),
            derive=derive,
            assess=assess,
            judge=judge,
            sources=("CIE 15:2018", "common practice"),
        )
    ]
