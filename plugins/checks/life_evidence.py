"""What each piece of evidence says of a lumen maintenance life: projected, measured on luminaires, or printed.

Every piece bounds the life from below and above, in h: a projection inside its limit from both sides by one number,
one past its limit from below alone. `lumen_maintenance`, the check, puts the claim to those bounds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit import wording
from audit.quantities.in_situ import InSitu, interpolate, same_current
from audit.quantities.maintenance import Tm21, scatter_h
from audit.quantities.projection import three_figures
from plugins.checks.maintenance_sets import Source, Tested

if TYPE_CHECKING:
    from audit.book import Book, Rows
    from audit.model import Rule

EDITION = "ANSI/IES TM-21-11 with Addendum B (later editions not read)"
NEVER_COVERED = "it covers neither optics nor driver nor abrupt failures"
MEASURED_NOTE = (
    "readings of the product itself count inside their hours alone, the mean of units by its uncertainty; nothing is "
    "projected from them (TM-28 wasn't read)"
)
IN_SITU_ASK = "the case temperature of the LEDs inside the luminaire (in-situ temperature test) and their drive current"


@dataclass(frozen=True)
class Said:
    """What one piece of evidence says of the life: at least `low`, at most `high`, both in h; `value` stands for it.

    `value` is NaN where nothing is said, and `reasons` say why it says no more; `units` stand behind it. Of readings of
    the product itself: `tested_h`, up to where they go (-inf for a projection), so that a claim inside is open for want
    of certainty and not of hours; `slack_h`, how near an hour is the same hour; `probability` and `meets` at the hour
    claimed, `assumed` where they rest on an assumed uncertainty. `printed`: a life without the readings behind it.
    """

    rows: Rows
    low: float
    high: float
    value: float
    units: int
    told: str
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    ask: str = ""
    printed: bool = False
    tested_h: float = -math.inf
    slack_h: float = 0.0
    probability: float = math.nan
    meets: bool = False
    assumed: bool = False

    def verdict(self, lower: float, upper: float) -> str:
        """Return the verdict on a life between these limits in h; an open side is -inf or inf."""
        if lower <= self.low + self.slack_h and self.high <= upper:
            return "supported"
        if self.high < lower or self.low > upper:
            return "contradicted"
        return "inconclusive" if max(lower, 0.0) <= self.tested_h + self.slack_h else "overreaching"


@dataclass(frozen=True)
class Inside:
    """What the LEDs meet inside the luminaire: temperature in °C and current in mA, NaN: not stated; and from where.

    None of it is asked where the claim is about the LED itself (`of_part`): then NaN means every tested temperature.
    """

    case_C: float
    drive_mA: float
    where: str = ""
    of_part: bool = False
    u_C: float = math.nan  # standard uncertainty of case_C, NaN: not known


def projected(source: Source, inside: Inside, p: float) -> list[Said]:
    """Return what TM-21 says of one LED under the conditions inside the luminaire; of a part alone, of every set."""
    if inside.of_part and math.isnan(inside.case_C):
        return [_projected(source, inside, each.case_C, p, (each,)) for each in source.sets]
    return [_projected(source, inside, inside.case_C, p, source.sets)]


def _projected(source: Source, inside: Inside, case_C: float, p: float, sets: tuple[Tested, ...]) -> Said:
    alone = len(sets) == 1 and inside.of_part and math.isnan(inside.case_C)
    if alone:
        case_C = 0.0 if math.isnan(case_C) else case_C  # one set as it is: no temperature is asked of it
    tested_C = [case_C if alone else each.case_C for each in sets]
    found = interpolate(case_C, tested_C, [each.projection for each in sets], [source.drive_mA] * len(sets))
    used = [sets[i] for i in sorted({int(found.lower), int(found.upper)} - {-1})] or list(sets)
    rows = np.concatenate([each.behind for each in used])
    free_current = inside.of_part and math.isnan(inside.drive_mA)
    above = "" if free_current else str(same_current(inside.drive_mA, source.drive_mA).texts)
    refused = str(found.refused)
    missing = [f"{_at(each)}: {text}" for each in used for text in each.missing]
    notes, units = (*_notes(found, used, p), *_at_the_edge(inside, tested_C)), sum(each.units for each in used)
    if refused or above:
        told = "; ".join(filter(None, (f"{source.product}: {refused}" if refused else "", above, *missing)))
        ask = f"Is there evidence for the {source.product} that covers this: {refused or above}?"
        told = "; ".join((told, *_at_the_edge(inside, tested_C)))
        if not inside.of_part and (math.isnan(inside.case_C) or math.isnan(inside.drive_mA)):
            ask = f"Please send {IN_SITU_ASK}."
        reasons = _reasons(inside, found, used, source, above)
        return Said(rows, -math.inf, math.inf, math.nan, units, told, reasons, notes, ask)
    lp, reported, basis = float(found.lp(p)), float(found.reported(p)), str(found.basis(p))
    high = math.inf if basis in ("limit", "duration") else reported
    told = f"{found.notation(p)} by TM-21 from the {_names(source, used)}"
    if not inside.of_part:
        told += f", at {case_C:.10g} °C and {inside.drive_mA:.10g} mA in the luminaire ({inside.where})"
    if basis == "limit" and math.isfinite(lp):
        told += f"; calculated {three_figures(lp)} h"
    told = "; ".join([told, *_at_the_edge(inside, tested_C), *missing]) + (
        "" if inside.of_part else f"; {NEVER_COVERED}"
    )
    ask = f"Is there a test of more than {float(found.duration_h):,.10g} h, or will the claim be lowered to its limit?"
    reasons = ("past test duration",) if high > reported else ()
    return Said(rows, reported, high, reported, units, told, reasons, notes, ask)


def _at_the_edge(inside: Inside, tested_C: Sequence[float]) -> tuple[str, ...]:
    """Say where only its uncertainty tells the temperature inside from the hottest tested one: its value decides."""
    tested = [each for each in tested_C if not math.isnan(each)]
    expanded = wording.COVERAGE_FACTOR * inside.u_C
    if not tested or not abs(inside.case_C - max(tested)) < expanded:
        return ()
    side = "inside" if inside.case_C <= max(tested) else "outside"
    return (
        f"the case temperature of {inside.case_C:.10g} ± {expanded:.2g} °C can't be told from the hottest tested "
        f"{max(tested):.10g} °C: taken as {side} by its value",
    )


def _reasons(inside: Inside, found: InSitu, used: list[Tested], source: Source, above: str) -> tuple[str, ...]:
    """Why a source carries nothing, in words of the closed list."""
    if not inside.of_part and (math.isnan(inside.case_C) or math.isnan(inside.drive_mA)):
        return ("other test object",)  # nothing ties the LEDs to the luminaire
    reasons: set[str] = set()
    if above:
        reasons.add("record inadequate" if math.isnan(source.drive_mA) else "other conditions")
    stated = any(not math.isnan(each.case_C) for each in source.sets)
    if int(found.upper) < 0 and stated:
        reasons.add("other conditions")
    elif int(found.upper) >= 0:
        reasons |= {reason for each in used for reason in each.reasons}
    return tuple(sorted(reasons or {"record inadequate"}))


def _at(tested: Tested) -> str:
    """A set by what it was tested at: 85 °C, 350 mA."""
    parts = [f"{tested.case_C:.10g} °C" * (not math.isnan(tested.case_C))]
    parts += [f"{tested.drive_mA:.10g} mA" * (not math.isnan(tested.drive_mA))]
    return ", ".join(filter(None, parts)) or "conditions not stated"


def _names(source: Source, used: list[Tested]) -> str:
    sets = " and ".join(f"{_at(each)} ({wording.counted(each.units, 'unit')})" for each in used)
    return f"{'sets' if len(used) > 1 else 'set'} of {source.product} at {sets}"


def _notes(found: InSitu, used: list[Tested], p: float) -> tuple[str, ...]:
    """How a projection came about, set by set, with what rests on rules from memory."""
    notes = [f"projected by {EDITION}, decided by the calculated value as TM-21 does, without an uncertainty"]
    for each in used:
        fitted = each.projection
        if math.isnan(float(fitted.alpha)):
            continue
        text = f"set at {_at(each)}: alpha {float(fitted.alpha):.4g} /h, B {float(fitted.B):.4g}, n {each.units}"
        text += f", D {float(fitted.duration_h):,.10g} h"
        if isinstance(fitted, Tm21):
            first, last = (float(hour) for hour in fitted.window_h)
            text += f", readings from {first:,.10g} h to {last:,.10g} h ({int(fitted.used.sum())})"
            text += f", limit {float(fitted.multiplier):g} D" * (not math.isnan(float(fitted.multiplier)))
            error = float(scatter_h(fitted, p))
            if not math.isnan(error):
                text += f"; standard error of L{p:g} by the scatter of its means {three_figures(error)} h, not included"
        notes.append(text)
    if int(found.alone) < 0 and not math.isnan(float(found.ea_eV)):
        notes.append(f"interpolated to {float(found.case_C):.10g} °C, activation energy {float(found.ea_eV):.3g} eV")
    remarks = str(found.remarks(p))
    return (*notes, remarks) if remarks else tuple(notes)


def measured(book: Book, tested: Tested, claimed_h: float, p: float, rule: Rule, scale: float) -> Said:
    """Return what readings of the product itself say, inside their hours: the mean of units at each hour against p.

    Up to which hour every mean lies above `p` percent with the confidence of the rule, and from which one it lies
    below. Between two readings nothing is taken for granted: the earlier one counts.
    """
    from audit import decide
    from audit.book import TOLERANCES

    projection = tested.projection
    assert isinstance(projection, Tm21)
    if np.isnan(projection.mean).all():
        told = f"{tested.product}: {projection.refused}"
        ask = "Please send the readings of each unit at each hour, told apart by serial numbers."
        return Said(tested.rows, -math.inf, math.inf, math.nan, tested.units, told, ("record inadequate",), ask=ask)
    there = np.isfinite(projection.mean) & (projection.hours > 0)
    hours, mean = projection.hours[there], 100 * projection.mean[there]
    u = np.array([_u_of_mean(book, tested.rows, hour, scale) for hour in hours])
    probability = decide.conformance_probability(mean, u, p, math.inf)
    verdicts = decide.verdicts(probability, mean >= p, rule)
    sure = int(np.argmin(verdicts == "supported")) if (verdicts != "supported").any() else len(hours)
    below = hours[verdicts == "contradicted"]
    slack = TOLERANCES["hours"](claimed_h)
    low, high = (float(hours[sure - 1]) if sure else 0.0), (float(below[0]) if len(below) else math.inf)
    last = float(hours[-1]) if len(hours) else 0.0
    until = hours <= claimed_h + slack
    open_ = np.flatnonzero(until & (verdicts == "inconclusive"))
    at = int(open_[0]) if len(open_) else sure - 1 if low + slack >= claimed_h else -1
    told = f"{tested.product} itself ({wording.counted(tested.units, 'unit')}) was read to {last:,.10g} h"
    told += f", where the mean was {mean[-1]:.1f} % of the start" if len(mean) else ""
    if math.isfinite(high):
        told += f"; at {high:,.10g} h it had fallen below {p:g} %"
    return Said(
        tested.rows,
        low,
        math.nextafter(high, 0.0),
        high if high <= claimed_h else low,
        tested.units,
        "; ".join([told, *tested.missing]),
        ("past test duration",),
        (MEASURED_NOTE,),
        f"Is there a test of {claimed_h:,.10g} h, or will the claim be lowered to what was tested?",
        tested_h=last,
        slack_h=slack,
        probability=float(probability[at]) if at >= 0 else math.nan,
        meets=bool((mean[until] >= p).all()),
        assumed=bool(book.u.assumed[tested.rows].any()),
    )


def _u_of_mean(book: Book, rows: Rows, hour: float, scale: float) -> float:
    """Standard uncertainty in % of the mean of the readings nearest to an hour."""
    from audit.decide import mean_uncertainty

    away = np.abs(book.field("hours", rows).astype(float) - hour)
    near = rows[away == np.nanmin(away)]
    factor = np.where(book.u.assumed[near], scale, 1.0)
    return mean_uncertainty(factor * book.u.total[near], factor * book.u.repeat[near])


def bracketed(pieces: Sequence[Said]) -> list[Said]:
    """Return printed lives of one LED at several temperatures as one piece: each bounds the life from its own side."""
    if len(pieces) < 2:
        return list(pieces)
    low, high = max(piece.low for piece in pieces), min(piece.high for piece in pieces)
    nearest = next((piece for piece in pieces if piece.low == low and math.isfinite(low)), pieces[0])
    ends = [end for end in (low, high) if math.isfinite(end)]
    return [
        replace(
            nearest,
            rows=np.concatenate([piece.rows for piece in pieces]),
            low=low,
            high=high,
            value=ends[0] if ends else math.nan,
            told="; ".join(piece.told for piece in pieces),
        )
    ]


def reported(book: Book, row: int, inside: Inside | None) -> Said:
    """Return what a printed life says. Of an LED (`inside` given) it bounds the life at a cooler or hotter place.

    A life printed with ">" is one that is at least as long.
    """
    from audit.numbers import BOUND, parse_value

    document, _, raw = book.where(row)
    printed, value, point = parse_value(raw), float(book.value[row]), book.stated(row)
    beyond = printed is not None and printed.kind == BOUND
    whole = Said(
        np.array([row]),
        value,
        math.inf if beyond else value,
        value,
        1,
        f"a life of {'over ' * beyond}{value:,.10g} h is printed in '{document}', without the readings behind it",
        ("past test duration",) * beyond,
        (f"as printed; whether it stays inside the limits of {EDITION} can't be checked from it",),
        printed=True,
    )
    if inside is None or (inside.of_part and math.isnan(inside.case_C)):
        return whole
    whole = replace(whole, told=f"{whole.told}, for {point.get('product', 'the LEDs')}; {NEVER_COVERED}")
    nothing = replace(whole, low=-math.inf, high=math.inf, value=math.nan)
    if not inside.of_part and (math.isnan(inside.case_C) or math.isnan(inside.drive_mA)):
        return replace(nothing, reasons=("other test object",), ask=f"Please send {IN_SITU_ASK}.")
    case_C, drive_mA = (float(point.get(name, math.nan)) for name in ("case_C", "drive_mA"))
    any_current = inside.of_part and math.isnan(inside.drive_mA)
    hotter = case_C >= inside.case_C and (any_current or same_current(inside.drive_mA, drive_mA).inside)
    cooler = case_C <= inside.case_C and (any_current or same_current(drive_mA, inside.drive_mA).inside)
    if hotter and cooler:
        return whole
    ask = f"Does the printed life hold at {inside.case_C:.10g} °C and {inside.drive_mA:.10g} mA, as in the luminaire?"
    if hotter:  # where it is cooler the life is at least as long
        return replace(whole, high=math.inf, reasons=("other conditions",), ask=ask)
    if cooler and not beyond:
        return replace(whole, low=-math.inf, reasons=("other conditions",), ask=ask)
    unstated = math.isnan(case_C) or math.isnan(drive_mA)
    return replace(nothing, reasons=("record inadequate" if unstated else "other conditions",), ask=ask)
