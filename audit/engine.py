"""The audit of one folder: collect, read, derive, judge. One direction; plugins' errors end here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

import audit
from audit import against, answers, wording
from audit.applies import FILE as APPLIES_FILE
from audit.applies import Answers
from audit.book import Book
from audit.case import Case
from audit.claims import Claim, product_key, read_claims, sheets_with_claims
from audit.collect import collect, head_of
from audit.decided import Corrections, beside, decide
from audit.decisions import is_decisions, read_decisions
from audit.figures import Figure
from audit.gather import Part, gather
from audit.identities import identified_findings, identified_observations
from audit.judge import judge_claim
from audit.model import TIERS, Check, Document, Evidence, Quantity, Refusal, Report, Rule, Tell, told_to_nobody
from audit.plugin_manager import Plugins, load
from audit.reading import observe_nothing_read, read, without_copies
from audit.recorder import Recorder
from audit.report import build_report
from audit.requirements import asked_for, is_unasked, keys_of, read_requirements
from audit.tables import Tables
from audit.validate import validate


@dataclass(frozen=True)
class Audit:
    """The outcome of an audit: what the writers get, the tables behind it, and the exit status.

    exit_status: 0 every claim supported and nothing of tier refer or major; 1 otherwise.
    """

    report: Report
    evidence: Evidence
    plugins: Plugins
    exit_status: int

    @property
    def findings(self) -> Sequence[Mapping[str, Any]]:
        return self.report.findings

    @property
    def observations(self) -> Sequence[Mapping[str, str]]:
        return self.report.observations


def run_audit(
    folder: Path,
    rule: Rule,
    files: tuple[Path, ...] = (),
    sets: tuple[str, ...] = (),
    tell: Tell = told_to_nobody,
    second: bool = False,
) -> Audit:
    """Audit a folder, also against requirement `sets`, by name or path, and tell of progress.

    `second`: put another library's colour quantities beside ours (audit.second_opinion).

    Raises Refusal where there is nothing to audit or no trustworthy way to do it.
    """
    if not folder.is_dir():
        raise Refusal(f"'{folder}' is no folder", ask="name a folder that holds the claims sheet and the documents")
    plugins = load(files)
    known = plugins.quantities()
    asked = asked_for(sets, plugins.requirements, folder)
    notes = Recorder(Document.nowhere())
    for origin, fault in plugins.faults.items():
        notes.observe(
            "plugin_failed",
            "major",
            f"the plugin {origin} can't be used ({fault})",
            ask="update or remove it; whatever it would have read or checked is missing here",
            subject=origin,
            by="plugin_manager",
        )
    documents = collect(folder, notes)
    if not documents and not notes.observations:
        raise Refusal(f"the folder '{folder}' is empty", ask="put the claims sheet and the documents into it")
    settled = [document for document in documents if is_decisions(document)]
    decisions = [decision for document in settled for decision in read_decisions(document, notes)]
    own_sets = {each.document.file.resolve() for each in asked}
    others = [each for each in documents if each not in settled and each.file.resolve() not in own_sets]
    others, lines = answers.read_answers(others, notes)
    others, applicable = Answers.read(others, notes)
    requirements = [row for each in asked for row in read_requirements(each, known, notes)]
    claims, sheets, papers = _claims(others, known, notes)
    papers = without_copies(papers, notes)
    parts = read(papers, plugins.readers, known, notes, tell)
    tell("computing and judging", 0, 0)
    observe_nothing_read(documents, papers, parts, notes)
    answers.remark_unused(lines, [(part.document, part.tables) for part in parts], notes)

    def put(named: Sequence[Claim], gathered: Evidence) -> list[Claim]:
        products = against.products_of([*named, *(row.claim for row in requirements)], gathered)
        found = against.put(requirements, products, named, applicable, notes)
        applicable.remark_unused(keys_of(row.of for row in requirements), keys_of(plugins.requirements), products)
        return found

    case, findings, figures = _judged(parts, claims, put, rule, plugins, notes)
    findings = identified_findings(case, findings)

    def judge_again(corrections: Corrections) -> tuple[Case, list[dict[str, Any]]]:
        silent = Recorder(Document.nowhere())  # what is tried out is observed nowhere
        again = _read_corrected(parts, corrections, plugins, silent)
        return _judged(again, claims, lambda *_: case.claims[len(claims) :], rule, plugins, silent)[:2]

    seen = identified_observations(_ordered_observations(notes.observations))
    findings, told = decide(decisions, case, findings, seen, judge_again, notes)
    findings = beside(findings, told)
    observations = beside(identified_observations(_ordered_observations(notes.observations)), told)
    inside = {each.file.resolve() for each in documents}
    handed_in = [*documents, *(each.document for each in asked if each.document.file.resolve() not in inside)]
    roles = {document.path: "claims" for document in sheets} | {document.path: "decisions" for document in settled}
    roles |= {each.document.path: "requirements" for each in asked}
    roles |= {answers.FILE: "answers", APPLIES_FILE: "answers"}
    opinion = None
    if second:
        from audit.second_opinion import second_opinion

        opinion = second_opinion(case.book, tell)
    report = build_report(
        folder.resolve().name, audit.__version__, case, handed_in, roles, findings, observations, told, figures, opinion
    )
    return Audit(report, case.evidence, plugins, exit_status(case.claims, findings, observations))


def _judged(
    parts: Sequence[Part],
    claims: Sequence[Claim],
    put: Callable[[Sequence[Claim], Evidence], Sequence[Claim]],
    rule: Rule,
    plugins: Plugins,
    notes: Recorder,
) -> tuple[Case, list[dict[str, Any]], list[Figure]]:
    """Gather what was read, derive what can be computed, judge the claims; return the case, findings and figures.

    `put` gives the requirements on the products, as claims that follow the maker's own.
    """
    known = plugins.quantities()
    products = {product_key(claim.product): claim.product for claim in reversed(claims) if claim.product}
    gathered = gather(parts, products, known, notes)
    named = _with_product(claims, products, gathered, notes)
    named = [*named, *put(named, gathered)]
    evidence = derive(gathered, plugins, known, notes)
    case = Case(evidence, Book(evidence, known), named, rule, known, plugins.assessors(), _methods(plugins))
    judged, figures = judge(case, plugins, notes)
    findings = against.with_criteria(judged, named)
    notes.adopt(evidence.observations.to_dict("records"))
    return case, findings, figures


def _read_corrected(parts: Sequence[Part], corrections: Corrections, plugins: Plugins, notes: Recorder) -> list[Part]:
    """Return the parts as they would be if the corrections stood in their documents."""
    known, result = plugins.quantities(), []
    for part in parts:
        wrong = corrections.get(part.document.path)
        again = [replace(part.document, corrections=wrong)] if wrong else []
        result += read(again, plugins.readers, known, notes) if wrong else [part]
    return result


def exit_status(
    claims: Sequence[Claim], findings: Sequence[Mapping[str, Any]], observations: Sequence[Mapping[str, str]]
) -> int:
    """Return 0 if every claim is supported and nothing is of tier refer or major, else 1."""
    clean = bool(claims) and all(finding["verdict"] == "supported" for finding in findings)
    return 0 if clean and not any(row["tier"] in ("refer", "major") for row in observations) else 1


def derive(evidence: Evidence, plugins: Plugins, known: Mapping[str, Quantity], notes: Recorder) -> Evidence:
    """Return the evidence with the readings that the checks compute from it, in the order of their needs.

    A check that needs something has nothing to derive where none of it is there.
    """
    for check in plugins.checks:
        if check.derive is None or not _has_any(evidence, check.needs):
            continue
        try:
            tables = check.derive(evidence)
            found = tables.get("observations", evidence.observations[:0])
            if not len(tables["readings"]) and not len(found):
                continue
            readings = _own_readings(check, tables, known)
            found, _ = validate("observations", found)
        except Exception as error:
            _check_failed(check, error, notes)
            continue
        evidence = replace(
            evidence,
            readings=pd.concat([evidence.readings, readings], ignore_index=True),
            observations=pd.concat([evidence.observations, found], ignore_index=True),
        )
    return evidence


def _has_any(evidence: Evidence, needs: Sequence[str]) -> bool:
    """Whether the evidence holds any of the tables and quantities that a check needs; one without needs always has."""
    if not needs:
        return True
    tables = {name for name in ("readings", "spectra") if len(getattr(evidence, name))}
    return not (tables | set(evidence.readings["quantity"].unique())).isdisjoint(needs)


def _own_readings(check: Check, tables: Tables, known: Mapping[str, Quantity]) -> pd.DataFrame:
    """Return the computed readings of a check, valid and of the quantities that it gives."""
    readings = tables["readings"].copy()
    strangers = set(readings["quantity"]) - {quantity.name for quantity in check.gives}
    if strangers:
        raise TypeError(f"it computed quantities that it doesn't give: {', '.join(sorted(strangers))}")
    readings["quantity"] = readings["quantity"].astype(pd.CategoricalDtype(list(known)))
    sound, faults = validate("readings", readings)
    if faults:
        raise ValueError("; ".join(f"{column} must be {rule}" for column, rule, _ in faults))
    return sound


def judge(case: Case, plugins: Plugins, notes: Recorder) -> tuple[list[dict[str, Any]], list[Figure]]:
    """Return the findings, in the order of the claims, and the checks' figures.

    A check's own judge goes first, matching and decide follow. A requirement that may not apply is asked about.
    """
    giver = plugins.giver()
    known = [claim for claim in case.claims if not against.is_open(claim)]
    findings = {claim.claim_id: against.open_finding(claim) for claim in case.claims if against.is_open(claim)}
    figures: list[Figure] = []
    for check in plugins.checks:
        if check.judge is None:
            continue
        # A check that gives no quantity observes; it sees every claim and answers none.
        mine = tuple(claim for claim in known if not check.gives or giver.get(claim.quantity.name) is check)
        try:
            tables = check.judge(replace(case, claims=mine))
            own = _valid_findings(tables["findings"]) if "findings" in tables else []
            shown = list(tables.figures)
        except Exception as error:
            _check_failed(check, error, notes)
            continue
        findings |= {finding["claim_id"]: finding for finding in own}
        figures += _valid_figures(check, shown, notes)
        notes.adopt(tables.get("observations", case.evidence.observations[:0]).to_dict("records"))
    judged = [findings.get(claim.claim_id) or _judged_claim(case, claim, giver, notes) for claim in case.claims]
    return _valid_findings(pd.DataFrame(judged, dtype=object)), figures


def _judged_claim(case: Case, claim: Claim, giver: Mapping[str, Check], notes: Recorder) -> dict[str, Any]:
    """Return the finding on a claim. Where its check fails to assess it, readings alone judge it, and that is said."""
    name = claim.quantity.name
    try:
        return judge_claim(case, claim)
    except Exception as error:
        if name not in case.assessors:
            raise
        _check_failed(giver[name], error, notes)
        plain = {other: assess for other, assess in case.assessors.items() if other != name}
        return judge_claim(replace(case, assessors=plain), claim)


def _valid_figures(check: Check, shown: Sequence[object], notes: Recorder) -> list[Figure]:
    """Return a check's figures, which have proved themselves when made; anything else is observed."""
    for stranger in (item for item in shown if not isinstance(item, Figure)):
        notes.observe(
            "figure_left_out",
            "note",
            f"the check '{check.name}' gave a {type(stranger).__name__} where a figure is expected; it isn't shown",
            subject=check.name,
            by="engine",
        )
    return [item for item in shown if isinstance(item, Figure)]


def _valid_findings(rows: pd.DataFrame) -> list[dict[str, Any]]:
    """Return findings that fit their schema as mappings. Raises ValueError for any that doesn't: a check's defect."""
    if not len(rows):
        return []
    _, faults = validate("findings", rows)
    if faults:
        raise ValueError("; ".join(f"{column} of a finding must be {rule}" for column, rule, _ in faults))
    findings: list[dict[str, Any]] = rows.to_dict("records")
    return findings


def _check_failed(check: Check, error: Exception, notes: Recorder) -> None:
    notes.observe(
        "check_failed",
        "major",
        f"the check '{check.name}' failed ({type(error).__name__}: {error}); its quantities count as reported only",
        ask="report this with the documents; update or remove the plugin if it isn't built in",
        subject=check.name,
        by="engine",
    )


def _claims(
    documents: Sequence[Document], known: Mapping[str, Quantity], notes: Recorder
) -> tuple[list[Claim], list[Document], list[Document]]:
    """Return the claims, the documents they stand in, and the other documents."""
    claims: list[Claim] = []
    sheets: list[Document] = []
    papers: list[Document] = []
    for document in documents:
        try:
            head = head_of(document)
            found = sheets_with_claims(document, head)
            if not found and is_unasked(document, head, notes):
                continue
            (sheets if found else papers).append(document)
            for claim in read_claims(document, found, known, notes):
                twin = next((other for other in claims if other.claim_id == claim.claim_id), None)
                if twin is None:
                    claims.append(claim)
                    continue
                notes.observe(
                    "claim_not_read",
                    "major",
                    f"claim {claim.claim_id} isn't judged: {twin.document} has a claim of that name",
                    ask="give every claim an id of its own",
                    subject=claim.claim_id,
                    document=document.path,
                    place=claim.place,
                    by="claims",
                )
        except Refusal as refusal:
            sheets.append(document)
            notes.observe(
                "claims_not_read",
                "major",
                refusal.message,
                ask=refusal.ask,
                subject=document.path,
                document=document.path,
                place=refusal.place,
                by="claims",
            )
    return claims, sheets, papers


def _with_product(
    claims: Sequence[Claim], products: Mapping[str, str], evidence: Evidence, notes: Recorder
) -> list[Claim]:
    """Return the claims with one spelling per product; a blank one is the only product of claims or documents."""
    named = [replace(claim, product=products.get(product_key(claim.product), claim.product)) for claim in claims]
    blank = [claim.claim_id for claim in named if not claim.product]
    candidates = list(products.values()) or sorted(set(evidence.points["product"]) - {""})
    if not blank or not candidates:
        return named
    if len(candidates) == 1:
        notes.observe(
            "claim_product_taken",
            "note",
            f"{wording.counted(len(blank), 'claim')} without a product ({wording.listing(blank)}): taken to be about "
            f"'{candidates[0]}', the only one",
            by="claims",
        )
        return [replace(claim, product=claim.product or candidates[0]) for claim in named]
    notes.observe(
        "claim_without_product",
        "major",
        f"{len(blank)} claim(s) name no product, and there are {len(candidates)} "
        f"({wording.listing(candidates)}): {wording.listing(blank)}",
        ask="fill in the column product of the claims sheet",
        by="claims",
    )
    return named


def _methods(plugins: Plugins) -> dict[str, str]:
    return {
        quantity.name: f"computed: {check.title} ({'; '.join(check.sources)})"
        for check in plugins.checks
        for quantity in check.gives
    }


def _ordered_observations(rows: Sequence[Mapping[str, str]]) -> list[dict[str, str]]:
    """Return each observation once, by tier and then by where it stands."""
    unique = {tuple(row.values()): dict(row) for row in rows}
    keys = ("document", "rule", "place", "subject", "message")
    return sorted(unique.values(), key=lambda row: (TIERS.index(row["tier"]), *(row[key] for key in keys)))
