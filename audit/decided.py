"""Decisions beside what they are about: which still fit, which are stale, and what a correction would change.

Nothing here alters a finding. Corrections are tried out on documents read a second time, for information only.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from audit import wording
from audit.book import Book
from audit.case import Case
from audit.decisions import CORRECTED, Decision, observe_decision
from audit.identities import BETWEEN, Identity, changed_parts, identified_findings, reading_identity
from audit.recorder import Recorder

FINDING, READING, OBSERVATION = "finding", "reading", "observation"
MOST_NAMED = 3
MOST_TOLD = 20  # decisions told one by one in an observation each; the report lists the others too
COPY = "copy the identity from the report again, or take the row out"
RENEW = "look at it again: if the decision still holds, give the row the new identity, else take it out"

Row = Mapping[str, Any]
Cell = tuple[str, str]  # sheet and address
Corrections = Mapping[str, Mapping[Cell, tuple[str, str]]]  # document -> cell -> text there, right text
JudgeAgain = Callable[[Corrections], tuple[Case, Sequence[Row]]]
Complaint = tuple[Decision, str, str, str]  # rule, what is wrong with it, what to do


@dataclass
class Known:
    """What decisions can be about: stem -> tail -> kind; for printed readings, stem -> document, cell and raw text."""

    kinds: dict[str, dict[str, str]] = field(default_factory=lambda: defaultdict(dict))
    cells: dict[str, tuple[str, Cell, str]] = field(default_factory=dict)

    def find(self, text: str) -> Identity | None:
        """Return an identity as a person wrote it, perhaps the stem alone, or None if its stem isn't known."""
        parts = text.split(BETWEEN)
        for cut in range(len(parts), 0, -1):  # what stands in a cell may hold the mark between the parts
            stem = BETWEEN.join(parts[:cut])
            if stem in self.kinds:
                return Identity(stem, BETWEEN.join(parts[cut:]))
        return None

    def now(self, stem: str) -> list[str]:
        """Return the identities that a stem has in this audit."""
        return [Identity(stem, tail).text for tail in self.kinds[stem]]


@dataclass(frozen=True)
class Fitted:
    """A decision and the identity that it names: `kind` "" and the reason in `stale` where it fits nothing now."""

    decision: Decision
    identity: Identity
    kind: str
    stale: str = ""

    @property
    def corrects(self) -> bool:
        """Whether it gives the right text of a cell."""
        return bool(self.kind) and self.decision.decision == CORRECTED


def decide(
    decisions: Sequence[Decision],
    case: Case,
    findings: Sequence[Row],
    observations: Sequence[Row],
    judge_again: JudgeAgain,
    notes: Recorder,
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the findings with `if_corrected`, what each would be if the corrections held, and all decisions told.

    What is stale or can't be used is observed in `notes`. `judge_again` judges the documents with corrections.
    """
    if not decisions:
        return [{**finding, "if_corrected": None} for finding in findings], []
    known = known_identities(case.book, findings, observations)
    complaints: list[Complaint] = []
    fitted = fit(decisions, known, complaints)
    would_be: dict[str, dict[str, Any]] = {}
    if wrong := _corrections(fitted, known):
        again, others = judge_again(wrong)
        complaints += _unread(fitted, known_identities(again.book, (), ()))
        would_be = _would_be(fitted, case, findings, identified_findings(again, others))
    _tell(complaints, notes)
    changed = [{**finding, "if_corrected": would_be.get(finding["claim_id"])} for finding in findings]
    touched = _claims_by_identity(findings)
    return changed, [_told(each, touched) for each in fitted]


def beside(rows: Sequence[Row], decisions: Sequence[Row]) -> list[dict[str, Any]]:
    """Return findings or observations with the decisions on them, or on readings behind them, beside each."""
    by_identity: dict[str, list[Row]] = defaultdict(list)
    for decision in decisions:
        if not decision["stale"]:
            by_identity[decision["identity"]].append(decision)
    result = []
    for row in rows:
        names = dict.fromkeys([row["identity"], *(each["identity"] for each in row.get("evidence", ()))])
        result.append({**row, "decisions": [each for name in names for each in by_identity.get(name, ())]})
    return result


def known_identities(book: Book, findings: Sequence[Row], observations: Sequence[Row]) -> Known:
    """Return the identities of findings, observations and readings. A claim's id goes before a document's name."""
    known = Known()
    for document, cell, place, raw, printed in _places(book):
        identity = reading_identity(document, place, raw)
        known.kinds[identity.stem][identity.tail] = READING
        if printed:
            known.cells[identity.stem] = (document, cell, raw)
    for kind, rows in ((OBSERVATION, observations), (FINDING, findings)):
        for row in rows:
            stem, _, tail = row["identity"].rpartition(BETWEEN)
            known.kinds[stem][tail] = kind
    return known


def _places(book: Book) -> Iterator[tuple[str, Cell, str, str, bool]]:
    """Yield document, cell, place and raw text of every reading, and whether it's printed in that one cell."""
    for row in range(len(book.value)):
        document, place, raw = book.where(row)
        sheet, cell = book.cell(row)
        yield document, (sheet, cell), place, raw, bool(cell) and ":" not in cell and not book.computed[row]


def fit(decisions: Sequence[Decision], known: Known, complaints: list[Complaint]) -> list[Fitted]:
    """Return the decisions that are about something here and those that are stale; what is amiss is a complaint."""
    fitted = [_fit(decision, known) for decision in decisions]
    right: dict[str, set[str]] = defaultdict(set)
    for each in fitted:
        if each.corrects:
            right[each.identity.stem].add(each.decision.value)
    usable = []
    for each in fitted:
        if each.stale:
            complaints.append(_stale(each, known))
        elif each.corrects and (why := _unusable(each, known, right[each.identity.stem])):
            complaints.append((each.decision, "decision_not_read", f"isn't used: {why[0]}", why[1]))
            continue
        usable.append(each)
    return usable


def _fit(decision: Decision, known: Known) -> Fitted:
    identity = known.find(decision.identity)
    if identity is None:
        nowhere = "no finding, reading or observation of this audit has that identity"
        return Fitted(decision, Identity("", decision.identity), "", nowhere)
    tails = known.kinds[identity.stem]
    if identity.tail in tails:
        return Fitted(decision, identity, tails[identity.tail])
    tail, kind = next(iter(tails.items()))
    return Fitted(decision, identity, "", _why_stale(kind, identity.tail, tail))


def _why_stale(kind: str, then: str, now: str) -> str:
    if kind == READING:
        return "another text stands there"
    if kind == OBSERVATION:
        return "the observation says something else"
    return f"since then changed: {'; '.join(changed_parts(then, now)) or 'what it was about'}"


def _stale(found: Fitted, known: Known) -> Complaint:
    now = [f'"{each}"' for each in known.now(found.identity.stem)] if found.identity.stem else []
    new = f"; now it is {wording.listing(now, MOST_NAMED)}" if now else ""
    return found.decision, "decision_stale", f"is stale: {found.stale}{new}", RENEW if now else COPY


def _unusable(found: Fitted, known: Known, right: set[str]) -> tuple[str, str] | None:
    """Return why a correction can't be used and what to do, or None if it can."""
    if found.kind != READING:
        return f"a {found.kind} can't be corrected", "correct the reading it rests on, or accept or reject it"
    if found.identity.stem not in known.cells:
        return "only what is printed in one cell can be corrected", "accept or reject it, or ask for another document"
    if len(right) > 1:
        return f"other rows correct it differently ({wording.listing(sorted(right))})", "keep the one that holds"
    return None


def _corrections(fitted: Sequence[Fitted], known: Known) -> Corrections:
    wrong: dict[str, dict[Cell, tuple[str, str]]] = defaultdict(dict)
    for each in fitted:
        if each.corrects:
            document, cell, raw = known.cells[each.identity.stem]
            wrong[document][cell] = (raw, each.decision.value)
    return wrong


def _unread(fitted: Sequence[Fitted], again: Known) -> Iterator[Complaint]:
    """Yield the corrections with which nothing, or still the old text, is read from the cell."""
    for each in fitted:
        right = each.decision.value
        unread = not set(again.kinds.get(each.identity.stem, ())) - {each.identity.tail}
        if each.corrects and unread and right != each.identity.tail:
            why = f"can't be tried out: '{right}' isn't read from that cell"
            yield each.decision, "decision_not_read", why, "write the text of the cell as it should have been printed"


def _tell(complaints: Sequence[Complaint], notes: Recorder) -> None:
    for decision, rule, what, ask in complaints[:MOST_TOLD]:
        by = f"the decision '{decision.decision}' of {decision.person} ({decision.date}) on {decision.identity}"
        observe_decision(notes, rule, f"{by} {what}", ask, decision.document, decision.place)
    if len(complaints) > MOST_TOLD:
        more, where = len(complaints) - MOST_TOLD, complaints[MOST_TOLD][0]
        what = f"{more} more decisions are stale or can't be used"
        observe_decision(notes, "decision_stale", what, "mend them as those before", where.document, where.place)


def _would_be(
    fitted: Sequence[Fitted], case: Case, findings: Sequence[Row], others: Sequence[Row]
) -> dict[str, dict[str, Any]]:
    """Return claim_id -> the outcome with all corrections, for the findings that they touch."""
    corrected = [each for each in fitted if each.corrects]
    places = [f"{each.identity.stem.replace(BETWEEN, ', ')} to {each.decision.value}" for each in corrected]
    names = {each.decision.identity for each in corrected}
    outcomes = {}
    for before, after in zip(findings, others, strict=True):
        result = _result(after, case)
        if result != _result(before, case) or names & {each["identity"] for each in before["evidence"]}:
            outcomes[before["claim_id"]] = {
                "verdict": after["verdict"],
                "side": after["side"],
                "value": after["value"],
                "message": f"with the correction of {wording.listing(places, MOST_NAMED)}: {result}",
            }
    return outcomes


def _result(finding: Row, case: Case) -> str:
    """Return verdict, side and value of a finding in words."""
    value, limit = finding["value"], finding["limit"]
    words = ""
    if value is not None:
        limits = limit if isinstance(limit, list) else [] if limit is None else [limit]
        places = case.known[finding["quantity"]].decimals
        decimals = wording.decimals_for(value, finding["expanded_uncertainty"], places, limits)
        words = wording.with_unit(wording.fixed(value, decimals), finding["unit"])
    return ", ".join(filter(None, (finding["verdict"], finding["side"], words)))


def _told(found: Fitted, touched: Mapping[str, list[str]]) -> dict[str, Any]:
    """Return a decision as reports show it, with the claims whose findings it bears on."""
    decision = found.decision
    return {
        "identity": decision.identity,
        "decision": decision.decision,
        "value": decision.value,
        "reason": decision.reason,
        "person": decision.person,
        "date": decision.date,
        "about": found.kind,
        "bears_on": [] if found.stale else touched.get(decision.identity, []),
        "stale": found.stale,
        "document": decision.document,
        "place": decision.place,
    }


def _claims_by_identity(findings: Sequence[Row]) -> Mapping[str, list[str]]:
    """Return the claims on whose findings a decision on each identity bears."""
    touched: dict[str, list[str]] = defaultdict(list)
    for finding in findings:
        for name in {finding["identity"], *(each["identity"] for each in finding["evidence"])}:
            touched[name].append(finding["claim_id"])
    return touched
