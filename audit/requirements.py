"""Requirement sets: tables of the claims' shape whose source is a law, a standard or a project's own specification.

Beside the columns of a claims sheet (`requirement_id` is another heading for `claim_id`) a row may have `clause`,
`group` (requirements that are met together or not at all), `applies_if` (see audit/applies.py) and `status`: what
the limit rests on, VERIFIED, COMPUTED or MEMORY. A MEMORY limit decides nothing. A limit that depends on what is
declared has no `value` but `limit_from`: the name of a LimitRule of its set.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from audit.answer_lines import Fault
from audit.applies import Condition, conditions_of, understood
from audit.claims import MARKS, Claim, SheetReader, fold, product_key
from audit.model import Document, LimitRule, Quantity, Question, Refusal, RequirementSet
from audit.recorder import Recorder
from audit.sheets import Sheet, is_workbook, read_sheets, text_of

STATUSES = ("VERIFIED", "COMPUTED", "MEMORY")
SPELLINGS = {"requirement_id": "claim_id"}
ONE_SIDED = ("at_least", "at_most")
OTHER = "other"  # what a question that a sheet only implies is answered with, if none of its answers is true


@dataclass(frozen=True)
class Requirement:
    """One row of a set, before it is put to a product. `claim.claim_id` is unique among the sets of an audit."""

    claim: Claim
    of: RequirementSet
    requirement_id: str
    clause: str
    group: str
    conditions: tuple[Condition, ...]
    limit_from: LimitRule | None = None

    @property
    def needs(self) -> list[str]:
        """The keys of the questions that must be answered before it can be judged."""
        asked = [condition.key for condition in self.conditions]
        return list(dict.fromkeys((*asked, *(self.limit_from.needs if self.limit_from else ()))))


@dataclass(frozen=True)
class Asked:
    """A set that was asked for, and the document that its table is."""

    of: RequirementSet
    document: Document


def asked_for(names: Iterable[str], known: Sequence[RequirementSet], folder: Path) -> list[Asked]:
    """Return the sets that `names` names, each once: a registered set's name, or the path of a sheet.

    A path is taken from where the command runs, else from the audited folder. Raises Refusal for any other name.
    """
    found: dict[str, Asked] = {}
    for name in names:
        asked = _registered(name, known) or _own_sheet(name, folder)
        if asked is None:
            raise _unknown(name, known)
        twin = found.setdefault(product_key(asked.of.name), asked)
        if twin.document.file.resolve() != asked.document.file.resolve():
            raise Refusal(
                f"two requirement sets are called '{asked.of.name}': {twin.document.path} and {asked.document.path}",
                ask="give one of the files another name",
            )
    return list(found.values())


def _registered(name: str, known: Sequence[RequirementSet]) -> Asked | None:
    for each in known:
        if product_key(each.name) == product_key(name):
            return Asked(each, _document(each.table, each.name))
    return None


def _own_sheet(name: str, folder: Path) -> Asked | None:
    for path in (Path(name), folder / name):
        try:
            if not path.is_file():
                continue
        except (OSError, ValueError):  # no such name can be a file's
            continue
        inside = path.resolve().is_relative_to(folder.resolve())
        shown = (
            path.resolve().relative_to(folder.resolve()).as_posix() if inside else f"{path.name} (beside the folder)"
        )
        title = f"the requirements of '{path.name}'"
        return Asked(RequirementSet(path.stem, title, path.name, "", path), _document(path, shown))
    return None


def _document(file: Path, shown: str) -> Document:
    try:
        with file.open("rb") as stream:
            return Document(shown, file, file.stat().st_size, hashlib.file_digest(stream, "sha256").hexdigest())
    except OSError:  # what is wrong with it is said when its table is read
        return Document(shown, file, 0, "")


def _unknown(name: str, known: Sequence[RequirementSet]) -> Refusal:
    names = {each.name.casefold(): each.name for each in known}
    close = difflib.get_close_matches(name.casefold(), names, n=1, cutoff=0.4)
    listed = ", ".join(sorted(names.values())) or "none"
    return Refusal(
        f"there is no requirement set and no file '{name}'",
        ask=(f"did you mean '{names[close[0]]}'? " if close else "")
        + f"The sets are: {listed}; a sheet of your own is named by its path",
    )


def read_requirements(asked: Asked, known: Mapping[str, Quantity], notes: Recorder) -> list[Requirement]:
    """Return the requirements of a set; what can't be read is observed in `notes` with its cell."""
    document = asked.document
    try:
        if not document.file.is_file():
            raise Refusal("its table isn't there", ask="install again what brings it, or take it out")
        sheets = [sheet for sheet in read_sheets(document) if len(sheet.rows) > 1 and _headings(sheet) >= MARKS]
        if not sheets:
            raise Refusal(
                "no sheet has requirements below the headings requirement_id, quantity and relation in its first row",
                ask="give it the shape of a claims sheet",
            )
        rows = [row for sheet in sheets for row in _SheetReader(document, sheet, known, notes, asked.of).requirements()]
    except (Refusal, OSError) as error:
        refusal = error if isinstance(error, Refusal) else Refusal(str(error), ask="check that you may read it")
        _not_read(asked, refusal, notes)
        return []
    return _once(_with_questions(rows), notes)


def is_unasked(document: Document, head: bytes, notes: Recorder) -> bool:
    """Whether a document is a sheet of requirements, which is no evidence: it is observed that nobody asked for it."""
    if not is_workbook(head) and b"requirement_id" not in head.lower():
        return False
    try:
        first_rows = [[fold(text_of(cell)) for cell in sheet.rows[0]] for sheet in read_sheets(document) if sheet.rows]
    except Refusal:
        return False  # a reader will be asked, and will refuse it
    if not any({"requirement_id", "quantity", "relation"} <= set(row) for row in first_rows):
        return False
    notes.observe(
        "requirements_not_asked_for",
        "minor",
        f"'{document.path}' is a sheet of requirements, and nothing is judged against it",
        ask=f"name it with --against '{document.path}'",
        subject=document.path,
        document=document.path,
        by="requirements",
    )
    return True


def keys_of(sets: Iterable[RequirementSet]) -> set[str]:
    """Return the keys of all questions of requirement sets."""
    return {question.key for each in sets for question in each.questions}


def _headings(sheet: Sheet) -> set[str]:
    return {SPELLINGS.get(name, name) for name in (fold(text_of(cell)) for cell in sheet.rows[0])}


class _SheetReader(SheetReader):
    noun = "requirement"
    more = ("clause", "group", "applies_if", "status", "limit_from")
    spellings = SPELLINGS

    def __init__(
        self, document: Document, sheet: Sheet, known: Mapping[str, Quantity], notes: Recorder, of: RequirementSet
    ):
        super().__init__(document, sheet, 0, known, notes)
        self.of = of

    def requirements(self) -> Iterator[Requirement]:
        """Yield the rows that are sound; a condition or status that can't be read costs its row."""
        for row, claim in self.rows():
            clause, group, applies_if, status, limit_from = (self._more(row, name) for name in self.more)
            try:
                conditions = conditions_of(applies_if)
                _refuse_unasked(conditions, self.of.questions)
            except Fault as fault:
                self.refuse(row, "applies_if", claim.claim_id, fault.message, fault.ask)
                continue
            word, _, rest = status.partition(" ")
            if word and word.upper() not in STATUSES:
                told = f"its status is '{status[:40]}'"
                self.refuse(row, "status", claim.claim_id, told, f"begin it with {' or '.join(STATUSES)}, or clear it")
                continue
            status = f"{word.upper()} {rest}".strip() or claim.limit_status
            name = "".join(self.of.name.split())
            claim_id = claim.claim_id
            try:
                rule = self._rule(limit_from, claim)
            except Fault as fault:
                self.refuse(row, "limit_from", claim_id, fault.message, fault.ask)
                continue
            claim = replace(claim, claim_id=f"{name}-{claim_id}", limit_status=status)
            yield Requirement(claim, self.of, claim_id, clause, group, conditions, rule)

    def _rule(self, name: str, claim: Claim) -> LimitRule | None:
        """Return the rule that gives a row's limit, None where the row states it. Raises Fault."""
        if not name:
            return None
        rules = {rule.name: rule for rule in self.of.limits}
        if name not in rules:
            raise Fault(f"its set has no rule '{name[:40]}' for limits", "write the limit into value")
        if claim.has_limit or claim.relation not in ONE_SIDED:
            raise Fault("a limit that is worked out is at_least or at_most, without a value", "clear value")
        return rules[name]

    def _more(self, row: int, column: str) -> str:
        return self.text(row, column) if column in self.columns else ""


def _refuse_unasked(conditions: Iterable[Condition], questions: Sequence[Question]) -> None:
    """Refuse conditions on what a set with questions of its own doesn't ask, or on answers that it doesn't know."""
    known = {question.key: question for question in questions}
    for condition in conditions if known else ():
        question = known.get(condition.key)
        if question is None:
            raise Fault(f"its set asks no question '{condition.key}'", f"write one of {', '.join(known)}")
        for value in condition.values:
            understood(question, value)


def _with_questions(rows: Sequence[Requirement]) -> list[Requirement]:
    """Return the rows with the questions of their set; where it has none, made from the conditions of all rows."""
    if not rows or rows[0].of.questions:
        return list(rows)
    conditions: dict[str, list[Condition]] = {}
    for condition in (condition for row in rows for condition in row.conditions):
        conditions.setdefault(condition.key, []).append(condition)
    questions = []
    for key, found in conditions.items():
        values = dict.fromkeys(value for condition in found for value in condition.values)
        choices = () if any(condition.sign != "=" for condition in found) else (*values, OTHER)
        questions.append(Question(key, f"{key.replace('_', ' ')}: which is true of the product?", choices))
    of = replace(rows[0].of, questions=tuple(questions))
    return [replace(row, of=of) for row in rows]


def _once(rows: Sequence[Requirement], notes: Recorder) -> list[Requirement]:
    """Return the rows whose id no row of another sheet of the set has; the others are observed."""
    first: dict[str, Requirement] = {}
    for row in rows:
        twin = first.setdefault(row.requirement_id, row)
        if twin is not row:
            notes.observe(
                "requirement_not_read",
                "major",
                f"requirement {row.requirement_id} isn't judged: {twin.claim.place} has that id already",
                ask="give every requirement an id of its own",
                subject=row.requirement_id,
                document=row.claim.document,
                place=row.claim.place,
                by="requirements",
            )
    return list(first.values())


def _not_read(asked: Asked, refusal: Refusal, notes: Recorder) -> None:
    notes.observe(
        "requirements_not_read",
        "major",
        f"nothing is judged against '{asked.of.name}': {refusal.message}",
        ask=refusal.ask,
        subject=asked.of.name,
        document=asked.document.path,
        place=refusal.place,
        by="requirements",
    )
