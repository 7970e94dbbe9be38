"""Steps about a centre as entities to be judged: by the probability that the true chromaticity lies in the region.

An assessor of steps brings where each light lies (audit.quantities.steps.InSteps); which readings stand for the
claim, which disagree, and the verdicts are worked out here as for any other quantity.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from audit.assess import judge_entities
from audit.book import Book, Rows
from audit.case import Case
from audit.chromaticities import PARTNER, Lights
from audit.claims import Claim
from audit.matching import Match
from audit.outcome import Judged, Law
from audit.quantities.steps import InSteps
from audit.select import Entities, Selection, select, single

Floats = NDArray[np.float64]
OUTRANKED = "printed; steps are worked out from x and y of the same light"


def selected(book: Book, found: Match, lights: Lights, limits: tuple[float, float], slack: float) -> Selection:
    """Return which lights stand for the claim; those shown beside them have their reason.

    `slack`: the difference of one spectrum's computed and printed value that resampling explains.
    """
    chosen = select(book, lights.rows, found.fixed, *limits, slack)
    partners = dict.fromkeys(lights.partners[lights.at(chosen.kept)].tolist(), PARTNER)
    return replace(chosen, shown=lights.shown | chosen.shown | partners)


def single_lights(
    case: Case,
    claim: Claim,
    found: Match,
    lights: Lights,
    places: InSteps,
    per_unit: Floats,
    printed: Mapping[int, bool],
) -> tuple[Selection, Judged | None]:
    """Return the verdict at each light, and at each printed number of steps where there is no light.

    places: where the lights lie, aligned with them; NaN where they can't be counted, which is left undefined.
    per_unit (n,): steps for a change of 1 in x and y. printed: its rows -> whether their definition is stated.
    """
    limits = (claim.lower, claim.upper)
    slack = per_unit * case.book.known["x"].recompute_allowance
    book = case.book.standing_for(
        lights.rows, places.steps, places.u, lights.assumed, case.book.resolution[lights.rows] * per_unit
    )
    chosen = selected(book, found, lights, limits, float(np.nanmax(slack, initial=0.0)))
    alone, chosen = _printed(book, found, chosen, printed, limits)
    if not len(chosen.kept):
        return chosen, None
    entities = lights.entities(single(book, replace(chosen, kept=chosen.kept[: len(chosen.kept) - len(alone)])))
    own = single(book, replace(chosen, kept=alone))
    at = lights.at(np.array([rows[0] for rows in entities.rows], np.int64))
    offset = np.concatenate([places.offset[at], np.stack([own.value, np.zeros(len(alone))], -1)])
    spread = np.concatenate([places.spread[at], own.u[:, None, None] ** 2 * np.eye(2)])
    whole = _joined(entities, own)
    undefined = np.isnan(whole.value)
    undefined[len(at) :] |= ~np.array([printed[row] for row in alone.tolist()], bool)
    return chosen, judged_in_steps(case, whole, InSteps(offset, spread), limits, undefined)


def judged_in_steps(
    case: Case,
    entities: Entities,
    places: InSteps,
    limits: tuple[float, float],
    undefined: NDArray[np.bool_] | None = None,
) -> Judged:
    """Return the verdict at each entity by the probability that its true place lies inside the region."""

    def law_of(u: NDArray[np.float64], places: InSteps) -> Law:
        return Law(u, places.probability, of=lambda which: law_of(u[which], InSteps(*(each[which] for each in places))))

    return judge_entities(case, entities, law_of(entities.u, places), limits, undefined)


def _printed(
    book: Book, found: Match, chosen: Selection, printed: Mapping[int, bool], limits: tuple[float, float]
) -> tuple[Rows, Selection]:
    """Return the printed steps that stand for themselves, and the selection with them at its end.

    Beside a light of the same test and point they are shown, and disagree with it where they lie on the other side.
    """
    rows = np.array(sorted(printed), np.int64)
    point = book.groups(np.concatenate([chosen.kept, rows]), found.fixed)
    lit: dict[tuple[int, int], list[int]] = {}
    for row, number in zip(chosen.kept.tolist(), point.tolist(), strict=False):
        lit.setdefault((int(book.test[row]), number), []).append(row)
    inside = (book.value >= limits[0]) & (book.value <= limits[1])
    alone, shown, disagreeing = [], dict(chosen.shown), dict(chosen.disagreeing)
    for row, number in zip(rows.tolist(), point[len(chosen.kept) :].tolist(), strict=True):
        beside = lit.get((int(book.test[row]), number), [])
        if not beside and (printed[row] or not lit):
            alone.append(row)
            continue
        shown[row] = OUTRANKED if beside else "printed without saying what it counts; shown, not used"
        for light in beside if printed[row] and len(beside) == 1 else ():
            apart = abs(book.value[light] - book.value[row]) > (book.resolution[light] + book.resolution[row]) / 2
            if apart and inside[light] != inside[row]:
                disagreeing[light] = row
    kept = np.array([*chosen.kept.tolist(), *alone], np.int64)
    numbers = dict(zip([*chosen.kept.tolist(), *rows.tolist()], point.tolist(), strict=True))
    return np.array(alone, np.int64), Selection(kept, shown, disagreeing, {row: numbers[row] for row in kept.tolist()})


def _joined(one: Entities, other: Entities) -> Entities:
    columns = ("value", "u", "assumed", "rival", "rival_value")
    both = {name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in columns}
    return Entities(**both, rows=[*one.rows, *other.rows])
