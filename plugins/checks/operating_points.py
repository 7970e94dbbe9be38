"""Where along its operating points does a claimed quantity meet its limit?

What it answers
    How a claimed quantity runs over CCT setting, level, hours or temperature, beside what is claimed of it.
Why it matters
    A finding names its worst point; whether that is a stray unit or the whole warm end is seen in the figure.
Evidence needed
    Readings of the quantity at several values of one field of the operating point.
Method
    The points that claims rest on, each put to its limit with its uncertainty as in the findings; beside them those
    that differ from the claim in that one field alone. Nothing is decided here.
What it can't know
    What lies between the points, and states that nobody measured.
Sources
    JCGM 106:2012 (conformance probability).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit import Axis, Check, Figure, Mark, Tables, hookimpl, wording

if TYPE_CHECKING:
    from audit.book import Book, Rows
    from audit.case import Case
    from audit.claims import Claim

NAME = "operating_points"
# Fields that a quantity may run over, the likeliest first, and their units.
FIELDS = {
    "cct_setting_K": "K",
    "level_percent": "%",
    "hours": "h",
    "ambient_C": "°C",
    "case_C": "°C",
    "drive_mA": "mA",
    "control_value": "",
    "saturation_setting_percent": "%",
}
MOST_STEPS = 10  # values of the field that stand side by side; more are drawn to scale
MOST_POINTS = 100  # more are drawn as the lowest and highest at each value
ROLES = {"supported": "inside", "contradicted": "outside", "inconclusive": "doubtful"}
WORDS = {
    "inside": "inside the limit, uncertainty counted",
    "outside": "outside the limit, uncertainty counted",
    "doubtful": "undecided, the limit is within the uncertainty",
    "measured": "measured, no limit claimed here",
}


@dataclass(frozen=True)
class _Point:
    x: float
    value: float
    expanded: float
    role: str
    words: str


def judge(case: Case) -> Tables:
    """Return a figure per product and claimed quantity that was measured at several operating points."""
    from audit.claims import product_key
    from audit.shown import products

    shown = {product_key(product) for product in products(case)}
    groups: dict[tuple[str, str], list[Claim]] = {}
    for claim in case.claims:
        if claim.has_limit and product_key(claim.product) in shown:
            groups.setdefault((product_key(claim.product), claim.quantity.name), []).append(_as_measured(claim))
    return Tables(figures=[figure for claims in groups.values() if (figure := _figure(case, claims))])


def _as_measured(claim: Claim) -> Claim:
    """Return the claim with its limits on what is measured: of light that it states as perceived."""
    from audit.definitions import TRANSFORMS, meanings

    first = next(iter(meanings(claim)), None)
    if first is None or first.definition not in TRANSFORMS:
        return claim
    return replace(claim, lower=first.lower, upper=first.upper)


def _figure(case: Case, claims: Sequence[Claim]) -> Figure | None:
    """The figure of one quantity of one product, None where there is nothing to run over."""
    field = _field(case, claims)
    if not field:
        return None
    points, under = _points(case, claims, field)
    steps = _steps(field, [point.x for point in points])
    if len(steps) < 2:
        return None
    quantity = claims[0].quantity
    side_by_side = len(steps) <= MOST_STEPS and field != "hours"
    place = {step: float(number) if side_by_side else step for number, step in enumerate(steps)}
    drawn = _thinned(points, steps)
    placed = _placed(drawn, steps, place, side_by_side)
    marks = _limits(claims, under, field, place, 0.45 if side_by_side else 0.0)
    known = [(x, point) for x, point in placed if point.expanded > 0]
    if known:
        ends = [[point.value + sign * point.expanded for _, point in known] for sign in (-1, 1)]
        title = "expanded uncertainty, k = 2"
        marks.append(Mark("whiskers", title, [x for x, _ in known], ends[0], "reference", to_y=ends[1]))
    for role, words in WORDS.items():
        here = [(x, point) for x, point in placed if point.role == role]
        if here:
            xs, ys = [x for x, _ in here], [point.value for _, point in here]
            marks.append(Mark("points", words, xs, ys, role, labels=[point.words for _, point in here]))
    name = quantity.title + (f" {quantity.symbol}" if quantity.symbol not in quantity.title else "")
    x_words, unit = wording.FIELD_WORDS[field], FIELDS[field]
    ticks = [(place[step], wording.plain(float(f"{step:.6g}"))) for step in steps] if side_by_side else []
    return Figure(
        f"{quantity.name}-over-{field}".replace("_", "-"),
        f"{quantity.title[0].upper()}{quantity.title[1:]} over {x_words}",
        Axis(x_words, unit, -0.6, len(steps) - 0.4, ticks=ticks) if side_by_side else Axis(x_words, unit),
        Axis(name, quantity.unit),
        marks,
        _told(claims, under, points, steps, field, name) + _left_out(len(points), len(drawn)),
        claims[0].product,
        [claim.claim_id for claim in claims],
    )


def _field(case: Case, claims: Sequence[Claim]) -> str:
    """The field to run over: one that the claims state, else the one with the most values where they hold."""
    from audit.matching import match

    found = [match(case.book, claim) for claim in claims]

    def counts(rows: Rows) -> dict[str, int]:
        return {name: len(_steps(name, case.book.effective(name, rows).astype(float))) for name in FIELDS}

    pool = counts(np.unique(np.concatenate([each.pool for each in found])))
    stated = [name for name in FIELDS if pool[name] > 1 and any(name in claim.conditions for claim in claims)]
    if stated:
        return stated[0]
    for count in (counts(np.unique(np.concatenate([each.rows for each in found]))), pool):
        most = max(FIELDS, key=lambda name: count[name])
        if count[most] > 1:
            return most
    return ""


def _points(case: Case, claims: Sequence[Claim], field: str) -> tuple[list[_Point], dict[str, list[_Point]]]:
    """All points, and those that each claim rests on by its id."""
    from audit.matching import match
    from audit.numbers import Span

    book, under, taken = case.book, {}, np.array([], np.int64)
    for claim in claims:
        rows = _as_defined(book, claim, match(book, claim).rows)
        under[claim.claim_id] = _judged(case, claim, np.setdiff1d(rows, taken), field)
        taken = np.union1d(taken, rows)
    others: list[_Point] = []
    for claim in claims:
        values = book.effective(field, match(book, claim).pool).astype(float)
        values = values[~np.isnan(values)]
        if len(values):
            wide = replace(claim, conditions={**claim.conditions, field: Span(values.min(), values.max())})
            rows = np.setdiff1d(_as_defined(book, claim, match(book, wide).rows), taken)
            others += _judged(case, replace(claim, lower=-math.inf, upper=math.inf), rows, field)
            taken = np.union1d(taken, rows)
    return [point for points in (*under.values(), others) for point in points], under


def _as_defined(book: Book, claim: Claim, rows: Rows) -> Rows:
    """Return the readings that state no definition, or one by which the claim is judged."""
    from audit.definitions import MEASURED, TRANSFORMS, meanings

    if not claim.quantity.definitions:
        return rows
    names = {MEASURED if each.definition in TRANSFORMS else each.definition for each in meanings(claim)}
    kept: Rows = rows[np.isin(book.definition[rows].astype(str), ["", *names])]
    return kept


def _judged(case: Case, claim: Claim, rows: Rows, field: str) -> list[_Point]:
    """Readings, or means of units, put to the limits of a claim; without limits they are only measured."""
    from audit.assess import judge_entities, law_of
    from audit.select import means, select, single
    from audit.shown import names

    if not len(rows):
        return []
    book, quantity, limits = case.book, claim.quantity, (claim.lower, claim.upper)
    chosen = select(book, rows, (), *limits, quantity.recompute_allowance)
    of_units = (claim.statistic or quantity.statistic) == "mean of units" and math.isnan(claim.population_percent)
    entities = means(book, chosen, (), *limits) if of_units else single(book, chosen)
    roles = judge_entities(case, entities, law_of(claim, entities, 1.0), limits).verdicts
    words = dict(zip(chosen.kept.tolist(), names(book, chosen.kept), strict=True))
    points = []
    for value, u, role, members in zip(entities.value, entities.u, roles, entities.rows, strict=True):
        x = float(np.mean(book.effective(field, members).astype(float)))
        if math.isnan(x):
            continue
        who = (
            f"mean of {len(members)}, {wording.plain(round(x, 3))} {FIELDS[field]}"
            if of_units
            else words[int(members[0])]
        )
        told = f"{who}: {wording.measured(value, quantity, u, [end for end in limits if math.isfinite(end)])}"
        role = ROLES[str(role)] if claim.has_limit else "measured"
        points.append(_Point(x, float(value), wording.COVERAGE_FACTOR * float(np.nan_to_num(u)), role, told))
    return points


def _steps(field: str, values: Sequence[float] | np.ndarray) -> list[float]:
    """The values of a field that matching tells apart, each by the mean of those that it doesn't."""
    from audit.book import TOLERANCES

    ordered = np.sort(np.asarray(values, float)[~np.isnan(np.asarray(values, float))])
    if not len(ordered):
        return []
    breaks = [i + 1 for i, gap in enumerate(np.diff(ordered)) if gap > TOLERANCES[field](ordered[i]) / 2]
    return [float(group.mean()) for group in np.split(ordered, breaks)]


def _nearest(steps: Sequence[float], x: float) -> float:
    return min(steps, key=lambda step: abs(step - x))


def _thinned(points: list[_Point], steps: Sequence[float]) -> list[_Point]:
    """All points or, of many, the lowest and the highest at each value, at so many values as can be told apart."""
    if len(points) <= MOST_POINTS:
        return points
    at: dict[float, list[_Point]] = {}
    for point in points:
        at.setdefault(_nearest(steps, point.x), []).append(point)
    chosen = sorted(at)
    if len(chosen) > MOST_POINTS // 2:
        chosen = [chosen[i] for i in np.linspace(0, len(chosen) - 1, MOST_POINTS // 2).round().astype(int)]
    ends = [(min(at[step], key=lambda p: p.value), max(at[step], key=lambda p: p.value)) for step in chosen]
    return [point for pair in ends for point in dict.fromkeys(pair)]


def _left_out(every: int, drawn: int) -> str:
    return "" if every == drawn else f" Drawn are the lowest and the highest, {drawn} of {every} points."


def _placed(
    points: Sequence[_Point], steps: Sequence[float], place: Mapping[float, float], side_by_side: bool
) -> list[tuple[float, _Point]]:
    """Where points stand along the axis; those at one value stand beside each other."""
    if not side_by_side:
        return [(point.x, point) for point in points]
    placed = []
    for step in steps:
        here = sorted((p for p in points if _nearest(steps, p.x) == step), key=lambda p: (p.x, p.words))
        gap = min(0.12, 0.7 / len(here))
        placed += [(place[step] + gap * (i - (len(here) - 1) / 2), point) for i, point in enumerate(here)]
    return placed


def _limits(
    claims: Sequence[Claim],
    under: Mapping[str, Sequence[_Point]],
    field: str,
    place: Mapping[float, float],
    margin: float,
) -> list[Mark]:
    """Lines where claims set their limits, over the values of the field that were measured for them, else claimed."""
    from audit.numbers import Span

    steps, marks = list(place), []
    for limits in dict.fromkeys((claim.lower, claim.upper) for claim in claims):
        here = [claim for claim in claims if (claim.lower, claim.upper) == limits]
        reached = [place[_nearest(steps, point.x)] for claim in here for point in under[claim.claim_id]]
        spans = [span for claim in here if isinstance(span := claim.conditions.get(field), Span)]
        reached = reached or [float(np.interp(end, steps, list(place.values()))) for span in spans for end in span]
        ends = (min(reached, default=place[steps[0]]) - margin, max(reached, default=place[steps[-1]]) + margin)
        title = f"{wording.listing([claim.claim_id for claim in here])}: {wording.limits(here[0], *limits)}"
        tags = [(ends[1], max(end for end in limits if math.isfinite(end)), title)]
        for end in limits:
            if math.isfinite(end):
                marks.append(Mark("line", title, ends, (end, end), "limit", tags=tags))
                tags = []
    return marks


def _told(
    claims: Sequence[Claim],
    under: Mapping[str, Sequence[_Point]],
    points: Sequence[_Point],
    steps: Sequence[float],
    field: str,
    name: str,
) -> str:
    """What is to be seen, in words and numbers."""
    decimals = claims[0].quantity.decimals + 1
    parts = []
    for step in steps if len(steps) <= MOST_STEPS else (steps[0], steps[-1]):
        values = [point.value for point in points if _nearest(steps, point.x) == step]
        least, most = (wording.fixed(end, decimals) for end in (min(values), max(values)))
        at = wording.with_unit(wording.plain(float(f"{step:.6g}")), FIELDS[field])
        parts.append(f"{at}: {least}" + (f" to {most}" if least != most else ""))
    said = []
    for claim in claims:
        roles = [point.role for point in under[claim.claim_id]]
        tally = [f"{roles.count(role)} {words}" for role, words in WORDS.items() if role in roles]
        limit = wording.limits(claim, claim.lower, claim.upper)
        said.append(f"{claim.claim_id}, {limit}: {', '.join(tally) or 'no further point at its conditions'}")
    return f"{name} over {wording.FIELD_WORDS[field]}. {'; '.join(parts)}. Of the points: {'; '.join(said)}."


@hookimpl
def register_checks() -> list[Check]:
    return [Check(NAME, "claimed quantities over operating points", judge=judge, sources=("JCGM 106:2012",))]
