"""Identities: short texts that name one finding, reading or observation, for a person to copy into decisions.csv.

An identity is a stem, which says what is meant, and a tail, which says in what state it was:

    GA-04 | 3f9a01-01c27b-77aa12                        finding: claim_id | claim-result-evidence
    LR-0417 photometry.csv | row 3, cell B3 | 92.0      reading: document | place | text there
    column_unknown | 1a2b3c | 4d5e6f                    observation: rule | where it stands | what it says

So a later audit can tell whether a decision still fits: the stem found with another tail is another state of the
same thing. Names of files don't enter a finding's identity; the bytes of its deciding documents do.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from audit.case import Case
from audit.claims import Claim, product_key

BETWEEN = " | "
DIGEST_CHARACTERS = 6  # a part is compared with the one part it replaces, never searched for
LONGEST_RAW = 80  # of a cell's text; what is longer is cut and told apart by its digest
SIGNIFICANT_DIGITS = 6  # of a value: the noise of another machine's arithmetic is no change
FINDING_PARTS = ("the claim", "the verdict or the value", "the deciding evidence")


class Identity(NamedTuple):
    """What is meant, and the state that it is in."""

    stem: str
    tail: str

    @property
    def text(self) -> str:
        """The identity as a person copies it."""
        return BETWEEN.join(self)


def clean(text: str) -> str:
    """Return text on one line, blanks folded, with characters that don't print as visible escapes.

    What a person copies from a page or a terminal is then what is compared.
    """
    folded = " ".join(text.split())
    return "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in folded)


def reading_identity(document: str, place: str, raw: str) -> Identity:
    """Return the identity of what stands in a place of a document."""
    text = clean(raw) or "(blank)"
    if len(text) > LONGEST_RAW:
        text = f"{text[: LONGEST_RAW // 2]} ... {_digest(text)}"
    return Identity(BETWEEN.join(filter(None, (clean(document), clean(place)))), text)


def finding_identity(finding: Mapping[str, Any], claim: Claim, hashes: Mapping[str, str]) -> Identity:
    """Return the identity of a finding. `hashes`: document path -> SHA-256 of its bytes."""
    result = [finding["verdict"], finding["side"], _number(finding["value"])]
    deciding = [each for each in finding["evidence"] if each["role"] in ("deciding", "disagrees")]
    rests_on = sorted((hashes.get(each["document"], ""), each["place"]) for each in deciding)
    parts = (_claim_words(claim), result, rests_on)
    return Identity(clean(claim.claim_id), "-".join(_digest(repr(part)) for part in parts))


def observation_identity(observation: Mapping[str, str]) -> Identity:
    """Return the identity of an observation."""
    where = [observation[key] for key in ("document", "place", "subject", "made_by")]
    return Identity(BETWEEN.join((observation["rule"], _digest(repr(where)))), _digest(observation["message"]))


def changed_parts(then: str, now: str) -> list[str]:
    """Return what differs between the tails of two findings on one claim, in words; none if one isn't a tail."""
    old, new = then.split("-"), now.split("-")
    if not len(old) == len(new) == len(FINDING_PARTS):
        return []
    return [name for name, before, after in zip(FINDING_PARTS, old, new, strict=True) if before != after]


def identified_findings(case: Case, findings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return findings with their identities and those of the readings behind them."""
    documents = case.evidence.documents
    hashes = dict(zip(documents["path"], documents["sha256"], strict=True))
    claims = {claim.claim_id: claim for claim in case.claims}
    return [
        {
            **finding,
            "evidence": [{**each, "identity": _reading_of(each)} for each in finding["evidence"]],
            "identity": finding_identity(finding, claims[finding["claim_id"]], hashes).text,
        }
        for finding in findings
    ]


def identified_observations(observations: Iterable[Mapping[str, str]]) -> list[dict[str, Any]]:
    """Return observations with their identities."""
    return [{**each, "identity": observation_identity(each).text} for each in observations]


def _reading_of(evidence: Mapping[str, Any]) -> str:
    return reading_identity(evidence["document"], evidence["place"], evidence["raw"]).text


def _claim_words(claim: Claim) -> list[Any]:
    """What a claim says, without the words in which this version says it and without the row it stands in."""
    conditions = [
        (name, wanted if isinstance(wanted, str) else [_number(end) for end in wanted])
        for name, wanted in sorted(claim.conditions.items())
    ]
    limits = [_number(each) for each in (claim.lower, claim.upper, claim.population_percent)]
    texts = [claim.quantity.name, claim.relation, claim.statistic, claim.definition, claim.test_object, claim.note]
    return [product_key(claim.product), texts, limits, conditions]


def _number(value: float | None) -> str:
    return "none" if value is None or math.isnan(value) else f"{value or 0.0:.{SIGNIFICANT_DIGITS}g}"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:DIGEST_CHARACTERS]
