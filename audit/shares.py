"""Claims about a share of production: units drawn at random, exact binomial limits."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from audit import decide, wording
from audit.assess import Candidate
from audit.book import NO_SERIAL, Book
from audit.claims import Claim
from audit.definitions import Meaning
from audit.matching import Match
from audit.model import Rule
from audit.outcome import MEETS, MISSES, Judged, Outcome, gap_reasons, named_units, worst_of


def judge_share(book: Book, claim: Claim, found: Match, candidate: Candidate, rule: Rule) -> Outcome:
    """Judge a claimed share by its units: a unit counts by its worst point, inside if p >= 0.5.

    Units in doubt are named. Where limits are narrower than the uncertainty can tell (p stays below 0.5 although the
    unit lies inside as measured), or sources disagree on a unit, it is counted both ways; if the verdict then changes,
    it is inconclusive.
    """
    meaning, chosen, judged = candidate.meaning, candidate.chosen, candidate.judged
    assert judged is not None, "a share is judged of readings"
    if judged.simulated is not None:
        return _by_model(claim, candidate, judged, judged.simulated, rule)
    entities = judged.entities
    unit_of = book.unit[chosen.kept]
    units = named_units(unit_of)
    likely = np.where(np.isnan(judged.probability), judged.inside, judged.probability >= 0.5)
    blurred = judged.inside & ~likely
    disputed = (entities.rival >= 0) | judged.undefined
    inside, doubtful, either_way = [], [], []
    for unit in units:
        own = unit_of == unit
        inside.append(bool((likely | blurred)[own].all()))
        words = set(judged.verdicts[own])
        if words != {"supported"} and "contradicted" not in words:
            doubtful.append(unit)
        either_way.append(bool((blurred | disputed)[own].any()))

    def judged_with(count: int) -> decide.Share:
        return decide.share(count, len(units), claim.population_percent, rule.confidence)

    result = judged_with(sum(inside))
    least = sum(good and not open_ for good, open_ in zip(inside, either_way, strict=True))
    most = sum(good or open_ for good, open_ in zip(inside, either_way, strict=True))
    verdict, reasons = result.verdict, ["too few units"] if result.verdict == "overreaching" else []
    if judged_with(least).verdict != judged_with(most).verdict:
        verdict = "inconclusive"
        reasons = ["sources disagree" if (entities.rival >= 0).any() else "limit within uncertainty"]
        if judged.undefined.any():
            reasons = ["definition not stated"]
    if found.gaps and verdict != "contradicted":
        longest = book.longest(chosen.kept)
        verdict, reasons = "overreaching", sorted({*reasons, *gap_reasons(found.gaps, longest)})
    origins = sorted(set(book.sample_origin[chosen.kept]))
    if "" in origins or NO_SERIAL in units:
        reasons.append("sample not stated")
    observed = 100 * result.inside / result.units
    reached = observed >= claim.population_percent
    worst = worst_of(book, judged, judged.verdicts, "contradicted", (meaning.lower, meaning.upper))
    return Outcome(
        verdict,
        reasons,
        MEETS if reached else MISSES,
        value=observed,
        margin=(result.lower if verdict != "contradicted" else result.upper) - claim.population_percent,
        margin_to="supported" if verdict != "supported" else "overreaching",
        unit="% of units",
        limit=claim.population_percent,
        rows=entities.rows[worst],
        selection=chosen,
        rival=int(entities.rival[worst]),
        rival_value=float(entities.rival_value[worst]),
        points=len(entities.value),
        units=len(units),
        failing=len(units) - result.inside,
        assumed=bool(entities.assumed.any()),
        meaning=meaning,
        detail=_detail(claim, meaning, rule, result, doubtful, origins)
        + (f". {candidate.detail}" * bool(candidate.detail)),
        notes=candidate.notes,
    )


def _by_model(
    claim: Claim, candidate: Candidate, judged: Judged, simulated: NDArray[np.float64], rule: Rule
) -> Outcome:
    """The outcome by units that a model simulated: its verdicts, and the point with the smallest share of those."""
    contradicted = judged.verdicts == "contradicted"
    verdict = "contradicted" if contradicted.any() else "overreaching"
    worst = int(np.where(contradicted == contradicted.any(), simulated[:, 0], np.inf).argmin())
    share, error = (100 * float(value) for value in simulated[worst])
    return Outcome(
        verdict,
        list(judged.reasons.get(worst, ())),
        MISSES if verdict == "contradicted" else "",
        value=share,
        u=error,
        margin=share + NormalDist().inv_cdf(rule.confidence) * error - claim.population_percent,
        margin_to="overreaching" if verdict == "contradicted" else "contradicted",
        unit="% of units",
        limit=claim.population_percent,
        rows=judged.entities.rows[worst],
        selection=candidate.chosen,
        points=len(simulated),
        failing=int(contradicted.sum()),
        assumed=bool(judged.entities.assumed.any()),
        meaning=candidate.meaning,
        detail=candidate.detail,
        notes=candidate.notes,
        method=candidate.method,
        ask=candidate.ask,
    )


def _detail(
    claim: Claim, meaning: Meaning, rule: Rule, result: decide.Share, doubtful: list[str], origins: list[str]
) -> str:
    text = (
        f"{result.inside} of {wording.counted(result.units, 'unit')} inside "
        f"({wording.limits(claim, meaning.lower, meaning.upper)}); with {100 * rule.confidence:g} % confidence the "
        f"share is at least {result.lower:.1f} % and at most {result.upper:.1f} %"
    )
    if result.verdict == "overreaching":
        text += f"; {result.units_needed} units with no further failure would carry the claim"
    if doubtful:
        text += f"; in doubt: {wording.listing(doubtful)}"
    stated = [f"'{origin}'" for origin in origins if origin]
    return text + (f"; units drawn: {wording.listing(stated)}" if stated else "; how the units were drawn isn't stated")
