"""Steps put to a claim: about listed, stated and own centres, and between the two units furthest apart.

What the claim leaves open is put to every admissible definition; the verdict over them is audit.verdict's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from audit import wording
from audit.assess import Assessment, Candidate
from audit.book import TOLERANCES, UNIT_FIELDS, Rows
from audit.case import Case
from audit.chromaticities import Lights, lights
from audit.claims import Claim
from audit.definitions import Meaning
from audit.matching import Match, blocked_reasons, match, narrowed
from audit.numbers import Span
from audit.quantities import white_point
from audit.quantities.steps import (
    CIRCLE_BASIS,
    Centre,
    InSteps,
    ansi_centre,
    iec_centre,
    in_circle_steps,
    in_ellipse_steps,
    sample_centre,
    stated_centre,
    worst_pair,
)
from audit.regions import judged_in_steps, selected, single_lights
from audit.select import Entities, Selection, split
from audit.step_definitions import (
    ADMISSIBLE,
    ANSI_2008,
    CIRCLE,
    ELLIPSE,
    IEC,
    MEAN,
    PAIR,
    STATED,
    StepDefinition,
    meant,
    parse,
)

Floats = NDArray[np.float64]
STEPS = "chromaticity_steps"
REGION = "probability that the true chromaticity lies in the region: bivariate normal, x and y without correlation"
REPEATED = "units of one setting and test compared by repeatability, a default of the register"
FURTHEST = (
    "the pair furthest apart was chosen for its distance: chance alone parts units, the more of them the further, and "
    "its probability stands for all pairs without being corrected for that"
)
NO_SHARE = (
    "Of units counted from their own mean or from one another no share of production is stated: the region isn't fixed "
    "beforehand"
)
NO_PAIR = "No two units, told apart by serial numbers, were measured at one setting: nothing to compare"
NO_ELLIPSE = "ellipses belong to listed or stated centres; use the u'v' circle"
NO_PARTNER = "x is given without the y of the same light, or steps without saying what they count"


def assess_steps(case: Case, claim: Claim, scale: float) -> Assessment:
    """Put the chromaticities, or printed steps, to the claim under every admissible way of counting."""
    book = case.book
    found = match(book, claim, ("x", STEPS))
    of_x = book.quantity[found.rows] == "x"
    own = lights(book, claim.product, found.rows[of_x], scale)
    stated = parse(claim.definition)
    definitions = list(ADMISSIBLE) if stated is None else meant(stated)
    candidates = [_candidate(case, claim, found, own, found.rows[~of_x], each) for each in definitions]
    if stated is None or stated.is_open:
        candidates = [each for each in candidates if _counts(each)] or candidates[:1]
    if stated is None:
        refused = f"'{claim.definition}' isn't understood as a way of counting steps; shown by an admissible one"
        candidates = [each.undecided(refused) for each in candidates]
    kept = [each.chosen.kept for each in candidates if each.judged is not None]
    if kept:
        found = narrowed(book, claim, found, np.unique(np.concatenate(kept)))
    return Assessment(found, candidates, tuple(each.text for each in ADMISSIBLE))


def _counts(candidate: Candidate) -> bool:
    """Whether any step at all could be counted."""
    return candidate.judged is not None and bool(np.isfinite(candidate.judged.entities.value).any())


def _candidate(
    case: Case, claim: Claim, found: Match, own: Lights, printed: np.ndarray, definition: StepDefinition
) -> Candidate:
    """Put the claim to its limits by one way of counting."""
    among = definition.centre in (MEAN, PAIR)
    if among and math.isfinite(claim.population_percent):
        return _none(claim, definition, ("sample not stated",), NO_SHARE)
    # No ellipse belongs to the mean of a sample: the centre says so.
    if among and len(own.rows) and not (definition.centre == MEAN and definition.shape == ELLIPSE):
        return _among_units(case, claim, found, own, definition)
    return _about_centres(case, claim, found, own, printed, definition)


def _none(claim: Claim, definition: StepDefinition, reasons: tuple[str, ...], detail: str) -> Candidate:

    meaning = Meaning(definition.text, claim.lower, claim.upper)
    nothing = Selection(np.array([], np.int64), {}, {}, {})
    return Candidate(meaning, nothing, None, reasons, detail=detail)


def _about_centres(
    case: Case, claim: Claim, found: Match, own: Lights, printed: np.ndarray, definition: StepDefinition
) -> Candidate:
    """Count each light from the centre of its nominal CCT, or from the stated one."""
    nominal, note = _nominals(case, claim, found, own, definition)
    n = len(own.rows)
    offset, spread = np.full((n, 2), np.nan), np.full((n, 2, 2), np.nan)
    per_unit, names, told, notes = np.zeros(n), list[str](), list[str](), [note]
    for value in np.unique(nominal):
        centre = _centre(definition, float(value))
        if isinstance(centre, str):
            told.append(centre)
            continue
        here = np.flatnonzero(np.isclose(nominal, value, equal_nan=True))
        places = _counted(definition, centre, own.x[here], own.y[here], own.u_x[here], own.u_y[here])
        offset[here], spread[here] = places
        slope = _counted(definition, centre, own.x[here], own.y[here], 1.0, 1.0).spread
        per_unit[here] = np.nan_to_num(np.sqrt(np.trace(slope, axis1=-2, axis2=-1)))
        (told if definition.shape == ELLIPSE and centre.form is None else names).append(_named(definition, centre))
        notes.append(centre.note)
    stated = _stated(case, printed, definition)
    chosen, judged = single_lights(case, claim, found, own, InSteps(offset, spread), per_unit, stated)
    single = np.unique(nominal)
    meant = definition._replace(nominal_K=float(single[0])) if len(single) == 1 else definition
    meaning = Meaning(meant.text, claim.lower, claim.upper)
    counted = [f"Counted from {wording.listing(names, len(names))}"] if names else []
    if judged is None:
        inadequate = ("record inadequate",) if len(found.rows) else tuple(blocked_reasons(found))
        return Candidate(meaning, chosen, None, inadequate, detail=NO_PARTNER * bool(len(found.rows)))
    return Candidate(meaning, chosen, judged, notes=_notes(definition, notes), detail="; ".join(counted + told))


def _among_units(case: Case, claim: Claim, found: Match, own: Lights, definition: StepDefinition) -> Candidate:
    """Count the units of one setting and test from their own mean, or the two furthest apart from one another."""
    book, limits = case.book, (claim.lower, claim.upper)
    chosen = selected(book, found, own, (-math.inf, math.inf), 0.0)
    nominal, note = _nominals(case, claim, found, own, definition)
    rows, offsets, spreads, told, kept, notes = [], [], [], [], [], [note]
    for units, repeat in _groups(case, found, chosen.kept):
        at = [own.at(unit) for unit in units]
        x, y = (np.array([each[unit].mean() for unit in at]) for each in (own.x, own.y))
        spread_of = (own.repeat_x, own.repeat_y) if repeat else (own.u_x, own.u_y)
        u_x, u_y = (np.array([each[unit].max() for unit in at]) for each in spread_of)
        centre: Centre | str = sample_centre(x, y)
        if definition.centre == PAIR:
            centre = _centre(definition, float(nominal[at[0][0]]))
        if isinstance(centre, str):
            told.append(centre)
            continue
        places = _counted(definition, centre, x, y, u_x, u_y)
        kept += [row for unit in units for row in unit.tolist()]
        if definition.centre == PAIR:
            first, second, _ = worst_pair(x, y, centre.form)
            rows.append(np.concatenate([own.both(units[each]) for each in (first, second)]))
            offsets.append(places.offset[[first]] - places.offset[[second]])
            spreads.append(places.spread[[first]] + places.spread[[second]])
            told.append(
                f"furthest apart of {len(units)}: units {_serial(case, units[first])} and "
                f"{_serial(case, units[second])}"
            )
            notes += [centre.note, FURTHEST if len(units) > 2 else ""]
        else:
            n = len(units)
            rows += [own.both(unit) for unit in units]
            offsets.append(places.offset)
            # Each unit is part of the mean that it is counted from.
            spreads.append((1 - 2 / n) * places.spread + places.spread.sum(axis=0) / n**2)
            told.append(f"{centre.name}: x = {centre.x:.4f}, y = {centre.y:.4f}")
    meaning = Meaning(definition.text, *limits)
    if not rows:
        return _none(claim, definition, ("too few units",), "; ".join(dict.fromkeys(told)) or NO_PAIR)
    places = InSteps(np.concatenate(offsets), np.concatenate(spreads))
    nothing = np.full(len(rows), -1)
    entities = Entities(places.steps, places.u, np.ones(len(rows), bool), nothing, np.full(len(rows), np.nan), rows)
    judged = judged_in_steps(case, entities, places, limits)
    chosen = replace(chosen, kept=np.array(kept, np.int64))
    return Candidate(
        meaning, chosen, judged, notes=_notes(definition, notes), detail=wording.listing(list(dict.fromkeys(told)))
    )


def _groups(case: Case, found: Match, kept: Rows) -> Iterator[tuple[list[Rows], bool]]:
    """Yield the units (their readings of x) at each setting of each test, and that repeatability tells them apart.

    Where every test at a setting has one unit (a file for each), they are compared across the tests.
    """
    book = case.book
    for here in split(kept, book.groups(kept, {*found.fixed, *UNIT_FIELDS})):
        tests = [split(test, book.unit[test]) for test in split(here, book.test[here])]
        compared = [(units, True) for units in tests if len(units) > 1]
        across = split(here, book.unit[here])
        yield from compared or ([(across, False)] if len(across) > 1 else [])


def _nominals(case: Case, claim: Claim, found: Match, own: Lights, definition: StepDefinition) -> tuple[Floats, str]:
    """Return the nominal CCT in K of each light (n,), and where it comes from if nobody states it.

    From the definition, else the claim's one CCT setting, else that of the reading, else the quadrangle of ANSI
    C78.377 that holds the mean of the chromaticities at that setting; NaN where none does.
    """
    n, book = len(own.rows), case.book
    if definition.centre == MEAN or (definition.centre in (STATED, PAIR) and definition.shape == CIRCLE):
        return np.full(n, np.nan), ""
    if math.isfinite(definition.nominal_K):
        return np.full(n, definition.nominal_K), ""
    edition = "2008" if definition.centre == ANSI_2008 else "2015/2017"
    listed = white_point.quadrangles(edition).nominal_K
    setting = book.field("cct_setting_K", own.rows).astype(float)
    claimed = claim.conditions.get("cct_setting_K")
    if isinstance(claimed, Span) and claimed.low == claimed.high:
        setting = np.full(n, claimed.low)
    blank = np.flatnonzero(np.isnan(setting))
    for here in split(blank, book.groups(own.rows[blank], {*found.fixed, *UNIT_FIELDS})):
        setting[here] = white_point.nominal_cct(own.x[here].mean(), own.y[here].mean(), edition)
    nearest = listed[np.abs(np.nan_to_num(setting)[:, None] - listed).argmin(axis=1)] if n else setting
    close = np.abs(nearest - setting) <= np.array([TOLERANCES["cct_setting_K"](value) for value in setting])
    taken = f"nominal CCT by the quadrangle of ANSI C78.377-{edition} that holds the mean of the chromaticities"
    return np.where(close, nearest, setting), taken if len(blank) else ""


def _centre(definition: StepDefinition, nominal_K: float) -> Centre | str:
    """Return the centre that a definition names, or why there is none."""
    try:
        if definition.centre == MEAN:
            return Centre("mean of the sample", 1 / 3, 1 / 3, refused=NO_ELLIPSE)
        if definition.centre == STATED:
            return stated_centre(definition.x, definition.y, None if math.isnan(nominal_K) else nominal_K)
        if definition.centre == PAIR and definition.shape == CIRCLE:
            return Centre("", 1 / 3, 1 / 3)  # distances within the plane: any point serves
        if math.isnan(nominal_K):
            return "no nominal CCT is stated and the chromaticities lie in no quadrangle of ANSI C78.377: which centre?"
        if definition.centre in (IEC, PAIR):
            return iec_centre(nominal_K)
        return ansi_centre(nominal_K, definition.centre.rpartition("-")[2])
    except ValueError as error:
        return str(error)


def _named(definition: StepDefinition, centre: Centre) -> str:
    """How the sentence names a centre, or why its ellipse isn't there."""
    if definition.shape == ELLIPSE and centre.form is None:
        return f"{centre.name}: {centre.refused}"
    return centre.name + (f" (x = {centre.x:g}, y = {centre.y:g})" * (definition.centre != STATED))


def _counted(
    definition: StepDefinition, centre: Centre, x: Floats, y: Floats, u_x: Floats | float, u_y: Floats | float
) -> InSteps:
    if definition.shape == ELLIPSE:
        return in_ellipse_steps(x, y, u_x, u_y, 0.0, centre)
    return in_circle_steps(x, y, u_x, u_y, 0.0, centre.x, centre.y)


def _stated(case: Case, printed: Rows, definition: StepDefinition) -> dict[int, bool]:
    """Return the printed steps that may be counted this way, and whether they say so themselves.

    One that says nothing, or leaves its centre open, may be; one that says otherwise may not.
    """
    told = {}
    for row in printed.tolist():
        own = parse(case.book.definition[row]) or StepDefinition()
        agrees = all(
            mine in ("", theirs) or mine != mine or (name == "nominal_K" and theirs != theirs)
            for name, mine, theirs in zip(own._fields, own, definition, strict=True)
        )
        if agrees:
            told[row] = not own.is_open
    return told


def _notes(definition: StepDefinition, notes: Sequence[str]) -> tuple[str, ...]:
    basis = CIRCLE_BASIS if definition.shape == CIRCLE else ""
    return tuple(dict.fromkeys(note for note in (REGION, basis, *notes) if note))


def _serial(case: Case, unit: Rows) -> str:
    return str(case.book.field("serial", unit[:1])[0])
