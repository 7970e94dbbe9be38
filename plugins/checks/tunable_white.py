"""Does tunable white reach both its ends as white, and does each setting give what it says?

What it answers
    The range of CCT that every unit reaches as white; measured against set CCT at every setting; whether CCT rises with
    its setting; the worst Duv, rendition, flux and power over all settings, each with the setting where it is.
Why it matters
    The ends of a range are where light leaves the locus, loses colour rendition and flux; a mean, or the middle
    setting, shows none of that. Light off the locus is tinted, not white: it is no part of the range.
Evidence needed
    CCT and Duv (printed, or spectra) of units at settings that they state, at full output, the ends among them.
Method
    A setting is white if its Duv lies within the tolerance that the claim's definition states ("Duv within 0.003":
    about 0), else within 0.006 of Duv(T) of ANSI C78.377. The end of a unit's range is that of its white settings; the
    probability of it is that of the best single setting, CCT and Duv taken as independent, being directions along and
    across the locus. A missed end contradicts only where that end was set. Set against measured: CCT less its setting.
    CCT goes back where it falls below that of an earlier setting by more than the expanded repeatability of both.
What it can't know
    What lies between tested settings, and which step the control takes there; whether the tested settings are the
    ends of the control where they aren't stated in kelvin.
Sources
    ANSI C78.377 (tolerance and Duv(T)); CIE 15:2018, 9.5 (CCT, Duv); JCGM 106:2012. Setting errors: common practice.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from audit import Check, Computed, Evidence, Tables, hookimpl, quantity_register, wording
from audit.tables import frame

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    from audit.assess import Assessment
    from audit.book import Rows
    from audit.case import Case
    from audit.claims import Claim
    from audit.outcome import Judged

NAME = "tunable_white"
ERROR, RELATIVE = "cct_setting_error", "relative_cct_setting_error"
LOW, HIGH = "white_range_low", "white_range_high"
SETTINGS = ("cct_setting_K", "control_value", "control_kind", "repeat", "serial")
# quantity -> how far a value is from the best, for the worst over settings; the target of Duv and Rg is in the middle
WORST: Mapping[str, Callable[[NDArray[np.float64]], NDArray[np.float64]]] = {
    "duv": np.abs,
    "ra": np.negative,
    "r9": np.negative,
    "rf": np.negative,
    "rg": lambda value: np.abs(value - 100),
    "luminous_flux": np.negative,
    "input_power": np.positive,
}
DEFINITION = re.compile(r"(?:duv\s*)?(?:within\s*)?(?:±|\+/-)?\s*(0?\.\d+)", re.IGNORECASE)
ANSI = re.compile(r"(?:ansi\s*)?c78\.377(?:[-\s]?20(?:15|17))?", re.IGNORECASE)


class White(NamedTuple):
    """Which Duv is white: the tolerance, about the target line of ANSI C78.377 or about 0, and how that is said."""

    tolerance: float
    about_target: bool
    words: str


@dataclass(frozen=True)
class Whites:
    """Settings of units (n, k), NaN where a unit has fewer: CCT, u, the probability of being white, whether it is."""

    cct: NDArray[np.float64]
    u: NDArray[np.float64]
    probability: NDArray[np.float64]
    inside: NDArray[np.bool_]

    def units(self, which: NDArray[np.intp]) -> Whites:
        """Return the settings of these units alone."""
        return Whites(self.cct[which], self.u[which], self.probability[which], self.inside[which])

    def cdf(self, low_end: bool, limit: ArrayLike) -> NDArray[np.float64]:
        """Return the probability (n,) that the end of the range is at most `limit`, scalar or (n,)."""
        from audit.decide import normal_cdf

        below = normal_cdf(self.cct, self.u, np.broadcast_to(np.asarray(limit, float), len(self.cct))[:, None])
        reached = np.nan_to_num((below if low_end else 1 - below) * self.probability).max(axis=1)
        return np.asarray(reached if low_end else 1 - reached)

    def ends(self, low_end: bool) -> NDArray[np.intp]:
        """Return which setting ends each unit's range (n,): of the white ones, else that nearest to white."""
        sign = 1.0 if low_end else -1.0
        white = np.where(self.inside, sign * self.cct, np.inf)
        nearest = np.where(np.isnan(self.probability), -1.0, self.probability).argmax(axis=1)
        return np.asarray(np.where(self.inside.any(axis=1), white.argmin(axis=1), nearest))


def derive(evidence: Evidence) -> Tables:
    """Return measured less set CCT, in K and in per cent of the set one, at every setting of white."""
    from audit.lights import lights, only

    computed = Computed(evidence, NAME)
    rows = lights(only(evidence, "cct_setting_K"), ("cct",))
    rows = rows[(rows["cct_setting_K"] > 0) & ~(rows["saturation_setting_percent"] > 0)]
    error = rows["cct"].to_numpy(float) - rows["cct_setting_K"].to_numpy(float)
    computed.add(rows, {ERROR: error, RELATIVE: 100 * error / rows["cct_setting_K"].to_numpy(float)})
    return computed.tables()


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Assess a claim: errors by their readings; an end of the range by CCT and Duv of all settings of each unit."""
    from audit.assess import Assessment, Candidate
    from audit.assess import assess as by_readings
    from audit.definitions import Meaning
    from audit.matching import blocked_reasons, match
    from audit.select import Selection

    if claim.quantity.name not in (LOW, HIGH) or not claim.has_limit:
        return by_readings(case, claim, scale)
    found = match(case.book, replace(claim, quantity=replace(case.known["cct"], conditions="rated")))
    settings = settings_of(case, found.pool)
    if not len(settings):
        return by_readings(case, claim, scale)
    settings = settings[settings["cct row"].isin(found.rows)]
    meaning, nothing = Meaning(claim.definition, claim.lower, claim.upper), Selection(found.rows[:0], {}, {}, {})
    if not len(settings):
        return Assessment(found, [Candidate(meaning, nothing, None, tuple(blocked_reasons(found)))])
    white, settled = white_of(claim.definition)
    low_end = claim.quantity.name == LOW
    wanted = claim.upper if low_end and math.isfinite(claim.upper) else claim.lower
    wanted = wanted if math.isfinite(wanted) else claim.upper
    judged, reached, missing = _judged(case, claim, settings, white, scale, wanted)
    if not reached:
        found = replace(found, gaps={"cct_setting_K": [wanted]})
    kept = np.array([row for rows in judged.entities.rows for row in rows.tolist()], np.int64)
    chosen = replace(nothing, kept=kept, point={row: number for number, row in enumerate(kept.tolist())})
    notes = [f"a setting is white with {white.words}; CCT and Duv taken as independent, the best setting counts"]
    if missing:
        notes.append(f"not set to that end, and left out: {wording.listing(missing)}")
    notes += _tinted(settings, white)
    reached_K = judged.entities.value
    beyond = settings["cct"] < reached_K.min() if low_end else settings["cct"] > reached_K.max()
    detail = "; ".join(_tinted(settings[beyond], white))
    return Assessment(found, [Candidate(meaning, chosen, judged, settled=settled, notes=tuple(notes), detail=detail)])


def white_of(definition: str) -> tuple[White, str]:
    """Return which Duv a definition calls white, and the reason why nothing is settled where it isn't understood."""
    from audit.quantities.tuning import DUV_TOLERANCE

    words = definition.strip()
    stated = DEFINITION.fullmatch(words)
    if stated:
        return White(float(stated[1]), False, f"Duv within ±{stated[1]}, as the claim says"), ""
    taken = "" if words else " (the claim states no tolerance)"
    target = White(DUV_TOLERANCE, True, f"Duv within {DUV_TOLERANCE:g} of Duv(T) of ANSI C78.377{taken}")
    return target, "" if not words or ANSI.fullmatch(words) else "definition not stated"


def settings_of(case: Case, rows: Rows) -> pd.DataFrame:
    """Return these readings of CCT with the Duv of the same light; `unit` numbers the units."""
    from audit.book import serial_key
    from audit.lights import at_points, series

    book = case.book
    found = at_points(case.evidence, case.book.beside("cct", "duv"))
    found = found[found["cct row"].isin(rows) & ~(found["saturation_setting_percent"] > 0)].copy()
    keys = found["serial"].map({serial: serial_key(serial) for serial in found["serial"].unique()})
    found["unit"] = series(found.assign(serial=keys), tuple(name for name in SETTINGS if name != "serial"))
    found["u cct"], found["u duv"] = (book.u.total[found[f"{name} row"].to_numpy(np.int64)] for name in ("cct", "duv"))
    found["assumed"] = book.u.assumed[found["cct row"].to_numpy(np.int64)]
    return found


def _judged(
    case: Case, claim: Claim, settings: pd.DataFrame, white: White, scale: float, wanted: float
) -> tuple[Judged, bool, list[str]]:
    """Put the end of every unit's range to the limits; whether that end was set, and the units left out as not set."""
    from audit import decide
    from audit.book import TOLERANCES
    from audit.outcome import Judged, Law
    from audit.select import Entities

    low_end = claim.quantity.name == LOW
    groups = [own for _, own in settings.groupby("unit", sort=True)]
    whites = _whites(groups, white, scale)
    slack = TOLERANCES["cct_setting_K"](wanted)
    set_there = np.array(
        [(own["cct_setting_K"] <= wanted + slack if low_end else own["cct_setting_K"] >= wanted - slack).any()
         for own in groups]
    )  # fmt: skip

    def law_of(of: Whites) -> Law:
        u = _end(of.u, of.ends(low_end))
        return Law(u, lambda limit: of.cdf(low_end, limit), of=lambda which: law_of(of.units(which)))

    limits = (claim.lower, claim.upper)
    reached = set_there | (law_of(whites).between(*limits) >= case.rule.confidence)
    kept = np.flatnonzero(reached) if reached.any() else np.arange(len(groups))
    whites, own = whites.units(kept), [groups[unit] for unit in kept]
    law, ends = law_of(whites), whites.ends(low_end)
    probability = law.between(*limits)
    value = _end(whites.cct, ends)
    inside = decide.meets(value, *limits) & whites.inside.any(axis=1)
    verdicts = decide.verdicts(probability, inside, case.rule)
    if not reached.any():
        verdicts = np.where(verdicts == "supported", verdicts, "overreaching")
    n = len(own)
    entities = Entities(
        value,
        law.u,
        np.array([bool(group["assumed"].any()) for group in own]),
        np.full(n, -1),
        np.full(n, np.nan),
        [group["cct row"].to_numpy(np.int64)[[end]] for group, end in zip(own, ends, strict=True)],
    )
    # Where no setting is white enough, no limit could be claimed, and none turns the verdict.
    surely_white = bool((np.nan_to_num(whites.probability).max(axis=1) > case.rule.confidence).all())
    judged = Judged(
        entities,
        law if surely_white else Law(law.u, None),
        probability,
        inside,
        verdicts,
        np.zeros(n, bool),
        strongest=None if surely_white else (-math.inf, math.inf),
    )
    left = sorted({str(groups[unit]["serial"].iloc[0]) or "without serial" for unit in {*range(len(groups))} - {*kept}})
    return judged, bool(reached.any()), left


def _whites(groups: list[pd.DataFrame], white: White, scale: float) -> Whites:
    """Return the settings of units side by side."""
    from audit.decide import conformance_probability, meets
    from audit.quantities.tuning import duv_limits

    most = max(map(len, groups))
    cct, u, duv, u_duv = np.full((4, len(groups), most), np.nan)
    for number, own in enumerate(groups):
        factor = np.where(own["assumed"], scale, 1.0)
        cct[number, : len(own)], duv[number, : len(own)] = own["cct"], own["duv"]
        u[number, : len(own)], u_duv[number, : len(own)] = own["u cct"] * factor, own["u duv"] * factor
    low, high = duv_limits(cct, white.tolerance, white.about_target)
    return Whites(cct, u, conformance_probability(duv, u_duv, low, high), meets(duv, low, high))


def _end(values: NDArray[np.float64], ends: NDArray[np.intp]) -> NDArray[np.float64]:
    return np.asarray(np.take_along_axis(values, ends[:, None], axis=1)[:, 0])


def _tinted(settings: pd.DataFrame, white: White) -> list[str]:
    """The settings whose light is past the tolerance, in words."""
    from audit.quantities.tuning import duv_limits

    low, high = duv_limits(settings["cct"].to_numpy(float), white.tolerance, white.about_target)
    past = settings[(settings["duv"] < low) | (settings["duv"] > high)].sort_values(["cct_setting_K", "serial"])
    if not len(past):
        return []
    told = [f"{_where(row)}: Duv {row['duv']:+.4f}" for row in past.to_dict("records")]
    return [f"past the tolerance, and no part of the range: {wording.listing(told)}"]


def judge(case: Case) -> Tables:
    """Return, per product, the settings at which CCT goes back, and the worst of every quantity over the settings."""
    rows = [*_order(case), *_worst(case)]
    return Tables({"observations": frame("observations", rows)})


def _order(case: Case) -> Iterator[tuple[str, ...]]:
    """Per product, the unit whose CCT falls furthest while its setting rises."""
    from audit.lights import bearing, lights, only, series
    from audit.quantities.tuning import falls_back

    found = lights(only(case.evidence, "cct_setting_K"), ("cct",))
    found = found[(found["cct_setting_K"] > 0) & bearing(case.evidence, found)].copy()
    found["U"] = wording.COVERAGE_FACTOR * case.book.u.repeat[found["cct row"].to_numpy(np.int64)]
    found["series"] = series(found, ("cct_setting_K", "control_value", "control_kind", "repeat"))
    keys = dict.fromkeys(("product", "serial", "document_id", "cct row"), "first")
    once = found.groupby(["series", "cct_setting_K"], sort=True).agg({"cct": "mean", "U": "max"} | keys).reset_index()
    worst: dict[str, tuple[float, pd.DataFrame]] = {}
    for _, own in once.groupby("series", sort=False):
        first, later = falls_back(own["cct"].to_numpy(float), own["U"].to_numpy(float))
        if first < 0:
            continue
        pair = own.iloc[[first, later]]
        fall = float(pair["cct"].iloc[0] - pair["cct"].iloc[1])
        if fall > worst.get(pair["product"].iloc[0], (0.0, pair))[0]:
            worst[pair["product"].iloc[0]] = (fall, pair)
    for product, (fall, pair) in sorted(worst.items()):
        (low, before), (high, after) = pair[["cct_setting_K", "cct"]].to_numpy(float)
        document, place, _ = case.book.where(int(pair["cct row"].iloc[1]))
        yield (
            "cct_goes_back",
            "major",
            product,
            document,
            place,
            f"set from {wording.plain(low)} to {wording.plain(high)} K, unit "
            f"{pair['serial'].iloc[0] or 'without serial'} goes back by {fall:.0f} K: from {before:.0f} to "
            f"{after:.0f} K, which is more than its repeatability",
            "are these settings exchanged in the report, or does the product turn back there?",
            NAME,
        )


def _worst(case: Case) -> Iterator[tuple[str, ...]]:
    """Per product with several settings of white, the worst of each quantity at full output, and where it is."""
    from audit.lights import lights, only, whole_and_new

    evidence = only(case.evidence, "cct_setting_K")
    told: dict[str, list[str]] = {}
    spans: dict[str, tuple[float, float, int, str]] = {}
    measured = set(evidence.readings["quantity"].unique())
    for name, badness in WORST.items():
        if name not in measured:
            continue
        found = lights(evidence, (name,))
        found = found[(found["cct_setting_K"] > 0) & ~(found["saturation_setting_percent"] > 0)]
        found = found[whole_and_new(found) & case.book.bears[found[f"{name} row"].to_numpy(np.int64)]]
        for product, own in found.groupby("product", sort=True):
            settings = own["cct_setting_K"]
            if settings.nunique() < 2:
                continue
            at = own.iloc[int(np.argmax(badness(own[name].to_numpy(float))))]
            symbol = case.known[name].symbol
            told.setdefault(product, []).append(
                f"{symbol} {wording.measured(at[name], case.known[name])} at {_where(at.to_dict())}"
            )
            document = case.book.where(int(at[f"{name} row"]))[0]
            spans.setdefault(product, (settings.min(), settings.max(), settings.nunique(), document))
    for product, words in sorted(told.items()):
        low, high, count, document = spans[product]
        yield (
            "worst_over_settings",
            "note",
            product,
            document,
            "",
            f"the worst over {count} settings of white from {wording.plain(low)} to {wording.plain(high)} K, full "
            f"output: {'; '.join(words)}",
            "",
            NAME,
        )


def _where(row: dict[str, object]) -> str:
    """A setting and its unit in words."""
    setting = float(str(row["cct_setting_K"]))
    words = f"{wording.plain(setting)} K" if setting == setting else "a setting that isn't stated"
    return words + (f" (unit {row['serial']})" if row["serial"] else "")


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "tunable white: its range, its settings and the worst over them",
            needs=("cct", "duv"),
            gives=tuple(quantity_register()[name] for name in (ERROR, RELATIVE, LOW, HIGH)),
            derive=derive,
            assess=assess,
            judge=judge,
            sources=("ANSI C78.377", "CIE 15:2018", "JCGM 106:2012"),
        )
    ]
