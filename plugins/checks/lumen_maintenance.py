"""How long does the light last: does the evidence carry a claimed lumen maintenance life?

What it answers
    Whether a life such as L80 of 50,000 h follows from readings of LEDs over hours (LM-80) and what they meet in the
    luminaire, from readings of the luminaire itself, or from a printed TM-21 sheet; and the longest life that does.
Why it matters
    Lives are claimed that no test has lasted for. TM-21 says how far a test may be projected, and where it ends.
Evidence needed
    Flux maintenance of 10 units and more over 6,000 h and more, at known case temperatures and one drive current, of
    LEDs that a document says are used in the luminaire; the case temperature and current inside it.
Method
    TM-21 for each set: the mean of the units, least squares of ln(flux) over the last 5,000 h or the last half, at most
    6 or 5.5 times the test; between two temperatures by Arrhenius with the smaller limit, nothing above the hottest or
    the largest current. Decided by the calculated value, as TM-21 does; its scatter is told. Readings of the luminaire
    itself count inside their hours alone, by their uncertainty. By below 50, Cz and the life of a whole luminaire go
    further than any mean: they can be contradicted by it, never supported. Each LED in the luminaire is judged; the
    worst counts.
What it can't know
    How many of the products made reach a life: fits are of means, and a share of production is judged by units that
    were read so long, as a claim on flux_ratio. Failures of driver, optics and joints; what happens past the limit of
    extrapolation; whether the LEDs sold are those tested.
Sources
    ANSI/IES TM-21-11 with Addendum B; ANSI/IES LM-80; the status of each rule is in
    audit/quantities/data/tm21_rules.csv. TM-28 and TM-35 weren't read and aren't used.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from audit import Check, hookimpl, quantity_register
from audit.quantities.projection import check_percent
from plugins.checks.life_evidence import Inside, Said, bracketed, measured, projected, reported
from plugins.checks.maintenance_sets import (
    PRINTED,
    UNIT_STATE,
    Source,
    Tested,
    at_current,
    printed_sets,
    sources,
    tested_sets,
)

if TYPE_CHECKING:
    from audit.assess import Assessment, Candidate
    from audit.case import Case
    from audit.claims import Claim
    from audit.matching import Match
    from audit.outcome import Judged

NAME, LIFE, RATIO, TEMPERATURE = "lumen_maintenance", "lumen_maintenance_life", "flux_ratio", "case_temperature"
CRITERION = re.compile(
    r"L ?(?P<p>\d{1,2}(?:\.\d+)?) ?(?:B ?(?P<by>\d{1,2}))? ?(?P<abrupt>[CF] ?\d{1,2})?(?P<whole>\W+whole luminaire)?",
    re.IGNORECASE,
)
SHARE = (
    "a mean of units gives no share of production; claimed as luminous flux maintenance (flux_ratio) at these hours, "
    "it is judged by the units that were read so long"
)
MEAN_B = 50.0  # half of the units below p: what a mean can speak for
INSIDE_FIELDS = ("hours", "case_C", "drive_mA")  # a life's own hours, and limits rather than states to match


class Criterion(NamedTuple):
    """What a life ends with: the light falls to `p` percent; `by` percent of units below it; the words as claimed.

    `whole`: abrupt failures or everything in the luminaire count too.
    """

    words: str
    p: float
    by: float = MEAN_B
    whole: bool = False

    @property
    def mean(self) -> str:
        """The same of the mean of units alone."""
        return f"L{self.p:g}"


@dataclass(frozen=True)
class Evidence:
    """What bears on the life claimed of one product."""

    found: Match
    own: Sequence[Tested]  # the product itself over hours
    parts: Sequence[Source]  # LEDs used in it
    inside: Inside
    lives: np.ndarray  # rows of printed lives of the product itself
    part_lives: np.ndarray
    in_situ: np.ndarray  # rows of the case temperature inside
    unlinked: tuple[str, ...] = ()  # LEDs that no document says are used in it


def criteria(claim: Claim) -> tuple[list[Criterion], str]:
    """Return what the claimed life may mean, and why it stays open: Lp[By][Cz]; all usual ones for a blank."""
    text = " ".join(claim.definition.split())
    usual = [Criterion(name, float(name[1:])) for name in claim.quantity.definitions]
    match = CRITERION.fullmatch(text)
    if not match:
        return usual, "definition not stated" if text else ""
    p, by = float(match["p"]), float(match["by"] or MEAN_B)
    try:
        check_percent(p)
    except ValueError:
        return usual, "definition not stated"
    if not 0 < by <= MEAN_B:
        return usual, "definition not stated"
    return [Criterion(text, p, by, bool(match["abrupt"] or match["whole"]))], ""


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Put what bears on a life to its limits, under each criterion that the claim leaves open."""
    from audit.assess import Assessment

    evidence = gather(case, claim)
    found, settled = criteria(claim)
    if claim.lower <= 0 and math.isinf(claim.upper):
        settled = "no limit stated"  # at 0 h every product keeps all its light, by definition
    return Assessment(evidence.found, [_candidate(case, claim, evidence, each, settled, scale) for each in found])


def gather(case: Case, claim: Claim) -> Evidence:
    """Return what bears on the life of the claimed product: its own readings, those of its LEDs, and printed lives."""
    from audit.claims import product_key
    from audit.matching import PARTS, match

    book, of_part = case.book, claim.test_object in PARTS
    conditions = {name: wanted for name, wanted in claim.conditions.items() if name not in INSIDE_FIELDS}
    base = replace(claim, conditions=conditions, definition="")
    ratio, life, heat, *printed = (
        match(book, replace(base, quantity=case.known[name])) for name in (RATIO, LIFE, TEMPERATURE, *PRINTED)
    )
    key = product_key(claim.product)

    def linked(rows: np.ndarray) -> np.ndarray:
        return np.array([product_key(name) == key for name in book.field("used_in", rows)], bool)

    led_rows, sheet_rows, life_rows = (
        own if of_part else parts[linked(parts)]
        for own, parts in (
            (ratio.rows, ratio.parts),
            (_joined([each.rows for each in printed]), _joined([each.parts for each in printed])),
            (life.rows, life.parts),
        )
    )
    own = [] if of_part else tested_sets(book, ratio.rows)
    sets = tested_sets(book, led_rows)
    names = np.asarray(case.evidence.readings["quantity"].astype(str), object)
    read = {each.product for each in sets}
    sets += [each for each in printed_sets(book, sheet_rows, names) if each.product not in read]
    known = {each.product for each in sets}
    part_lives = np.array([row for row in life_rows.tolist() if book.stated(row).get("product") not in known], np.int64)
    inside, in_situ = _inside(case, claim, heat.rows, of_part)
    loose = ratio.parts[~linked(ratio.parts)]
    everything = (ratio, life, *printed)
    found = replace(
        ratio,
        rows=_joined([each.rows for each in everything]),
        pool=_joined([each.pool for each in everything]),
        parts=_joined([each.parts for each in everything]),
        silent=_joined([each.silent for each in everything]),
        said=list(dict.fromkeys(word for each in everything for word in each.said)),
        gaps={},
        blocking=ratio.blocking if len(ratio.pool) else life.blocking,
    )
    return Evidence(
        found,
        own,
        sources(sets),
        inside,
        life.rows[:0] if of_part else life.rows,
        part_lives,
        in_situ,
        tuple(sorted({str(name) for name in book.field("product", loose)})),
    )


def _joined(rows: Sequence[np.ndarray]) -> np.ndarray:
    return np.concatenate([np.asarray(each, np.int64) for each in rows])


def _inside(case: Case, claim: Claim, rows: np.ndarray, of_part: bool) -> tuple[Inside, np.ndarray]:
    """Return what the LEDs meet: as claimed, else as read in the luminaire: hottest place, largest current."""
    book = case.book
    claimed = {name: getattr(claim.conditions.get(name), "high", math.nan) for name in INSIDE_FIELDS[1:]}
    read = {"case_C": book.value[rows], "drive_mA": book.field("drive_mA", rows).astype(float)}
    values = {
        name: claimed[name]
        if math.isfinite(claimed[name]) or of_part
        else float(np.nanmax(read[name]))
        if np.isfinite(read[name]).any()
        else math.nan
        for name in claimed
    }
    used = rows[:0] if of_part or math.isfinite(claimed["case_C"]) else rows
    hottest = int(used[np.argmax(book.value[used])]) if len(used) else -1
    where = f"'{book.where(hottest)[0]}'" if len(used) else "as claimed"
    u = float(book.u.total[hottest]) if len(used) else math.nan
    return Inside(values["case_C"], values["drive_mA"], where, of_part, u), used


def _candidate(
    case: Case, claim: Claim, evidence: Evidence, criterion: Criterion, settled: str, scale: float
) -> Candidate:
    """Judge one criterion by all pieces of evidence that bear on it."""
    from audit.assess import Candidate
    from audit.definitions import Meaning
    from audit.matching import blocked_reasons
    from audit.select import Selection

    meaning = Meaning(criterion.words, claim.lower, claim.upper)
    pieces, disputed, others = _pieces(case, claim, evidence, criterion, scale)
    shown = dict.fromkeys(evidence.in_situ.tolist(), "case temperature and current inside the luminaire")
    shown |= {row: "shown beside it" for piece in others for row in piece.rows.tolist()}
    kept = _joined([np.array([], np.int64), *(piece.rows for piece in pieces)])
    chosen = Selection(kept, shown, {}, {})
    if not pieces or math.isfinite(claim.population_percent):
        reasons, detail, ask = tuple(blocked_reasons(evidence.found)), "", ""
        if pieces:
            reasons, detail = ("record inadequate",), SHARE
        elif evidence.unlinked:
            leds = ", ".join(evidence.unlinked)
            reasons = ("other test object",)
            detail = f"{leds} was tested over hours, and no document says that it is used in {claim.product}"
            ask = f"Which LEDs are used in {claim.product}, at which case temperature and current?"
        return Candidate(meaning, chosen, None, reasons, settled, detail=detail, ask=ask)
    ordered = sorted(pieces, key=lambda piece: (not math.isnan(piece.value), piece.value))
    judged = _judged(case, claim, criterion, ordered, disputed)
    open_ = [piece for piece, verdict in zip(ordered, judged.verdicts, strict=True) if verdict != "supported"]
    further = _further(claim, criterion)
    detail = "; ".join(dict.fromkeys(piece.told for piece in (*ordered, *others)))
    if settled == "no limit stated":
        detail = f"at 0 h every product keeps 100 % by definition, so the claim says nothing; {detail}"
    elif further:
        detail = f"{further}; {detail}"
    ask = next((piece.ask for piece in open_ if piece.ask), "")
    if further and not any(piece.reasons for piece in open_):
        ask = f"What shows {criterion.words}: failures and the life of each unit, or a test of the whole luminaire?"
    return Candidate(
        meaning,
        chosen,
        judged,
        settled=settled,
        detail=detail,
        ask=ask,
        method=tuple(dict.fromkeys(note for piece in (*ordered, *others) for note in piece.notes)),
    )


def _pieces(
    case: Case, claim: Claim, evidence: Evidence, criterion: Criterion, scale: float
) -> tuple[list[Said], bool, list[Said]]:
    """Return the pieces that decide, whether they contradict one another, and those shown beside them.

    The product itself decides inside its hours; a projection of its LEDs that misses there disputes it. Past them the
    LEDs decide. Of two tests of the product at one setting the one that lasted long enough counts.
    """
    book = case.book
    claimed = claim.lower if math.isfinite(claim.lower) else claim.upper
    own = [measured(book, each, claimed, criterion.p, case.rule, scale) for each in evidence.own]
    setting = book.groups(np.array([piece.rows[0] for piece in own], np.int64), UNIT_STATE).tolist()

    def named(rows: np.ndarray) -> list[int]:
        return [row for row in rows.tolist() if book.definition[row] in ("", criterion.mean, criterion.words)]

    lives = [reported(book, row, None) for row in named(evidence.lives)]
    parts = [
        said
        for source in at_current(evidence.parts, evidence.inside.drive_mA)
        for said in projected(source, evidence.inside, criterion.p)
    ]
    printed: dict[object, list[Said]] = {}
    for row in named(evidence.part_lives):
        printed.setdefault(book.stated(row).get("product"), []).append(reported(book, row, evidence.inside))
    for pieces in printed.values():
        parts += pieces if evidence.inside.of_part and math.isnan(evidence.inside.case_C) else bracketed(pieces)
    verdicts = [piece.verdict(claim.lower, claim.upper) for piece in own]
    decided = {number for number, verdict in zip(setting, verdicts, strict=True) if verdict != "overreaching"}
    kept = [
        piece
        for piece, number, verdict in zip(own, setting, verdicts, strict=True)
        if verdict != "overreaching" or number not in decided
    ]
    deciding = [*kept, *lives] if decided or lives else []
    against = [piece for piece in parts if piece.verdict(claim.lower, claim.upper) == "contradicted"]
    if deciding:
        disputed = "supported" in verdicts and bool(against)
        chosen = [*deciding, *against]
    else:
        chosen, disputed = parts or own, False
    beside = [piece for piece in (*own, *parts) if not any(piece is each for each in chosen)]
    return chosen, disputed, beside


def _further(claim: Claim, criterion: Criterion) -> str:
    """What a claim asks that no mean of units shows, "" where it asks no more."""
    asked = []
    if criterion.by < MEAN_B or claim.statistic == "each unit":
        asked.append(f"{criterion.words} limits the share of units below {criterion.p:g} %")
    if criterion.whole:
        asked.append(f"{criterion.words} counts abrupt failures and the whole luminaire")
    return " and ".join(asked) + ", which no mean of units shows" if asked else ""


def _judged(case: Case, claim: Claim, criterion: Criterion, pieces: Sequence[Said], disputed: bool) -> Judged:
    from audit.model import Rule
    from audit.outcome import Judged, Law
    from audit.select import Entities

    verdicts = np.array([piece.verdict(claim.lower, claim.upper) for piece in pieces], f"<U{len('overreaching')}")
    inside = np.array([verdict == "supported" or piece.meets for piece, verdict in zip(pieces, verdicts, strict=True)])
    reasons = {i: piece.reasons for i, piece in enumerate(pieces) if verdicts[i] == "overreaching"}
    if _further(claim, criterion):
        more = ("other test object" if criterion.whole else "record inadequate",)
        for i in np.flatnonzero(verdicts != "contradicted"):
            reasons[int(i)] = tuple(sorted({*reasons.get(int(i), ()), *more}))
            verdicts[i] = "overreaching"
    missing = np.full(len(pieces), np.nan)
    rival = np.full(len(pieces), -1)
    if disputed:
        rows = next(piece.rows for piece, verdict in zip(pieces, verdicts, strict=True) if verdict == "supported")
        rival[verdicts == "contradicted"] = rows[-1]
    undefined = np.array([(case.book.definition[piece.rows] == "").all() and piece.printed for piece in pieces], bool)
    return Judged(
        Entities(
            np.array([piece.value for piece in pieces]),
            missing,
            np.array([piece.assumed for piece in pieces], bool),
            rival,
            np.where(rival >= 0, max(piece.low for piece in pieces), np.nan),
            [piece.rows for piece in pieces],
        ),
        Law(missing, None),
        np.array([piece.probability for piece in pieces]),
        inside,
        verdicts,
        undefined,
        reasons,
        (_strongest(pieces), math.inf),
        criterion.mean,
        Rule(case.rule.confidence, "simple"),
        sum(piece.units for piece in pieces),
    )


def _strongest(pieces: Sequence[Said]) -> float:
    """The longest life that all pieces carry, rounded down to three figures (TM-21); -inf where they carry none."""
    low = min(piece.low for piece in pieces)
    if not low > 0 or math.isinf(low):
        return -math.inf
    step = 10.0 ** (math.floor(math.log10(low)) - 2)
    return float(math.floor(low / step * (1 + 1e-12)) * step)


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "lumen maintenance life of LEDs and of the product",
            needs=("readings", RATIO, TEMPERATURE),
            gives=(quantity_register()[LIFE],),
            assess=assess,
            sources=("ANSI/IES TM-21-11 with Addendum B", "ANSI/IES LM-80"),
        )
    ]
