"""The cards of the page, one per claim or requirement: its figures in words, a staff to see them on, its evidence."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from audit import wording
from audit.wording import operating_point
from plugins.outputs import text

MOST_EVIDENCE = 25  # rows under one claim
CHECKING_DIGITS = 6
MOST_IDENTITIES = 3  # of readings behind a finding, to copy; findings.json has them all
STAFF = 228.0  # its length, in pixels where it isn't scaled
STAFF_ROOM = 0.22  # how much of what has to be seen is added at either end
OURS = {"Conformance probability", "Margin", "Question to send"}  # headings of the working whose words are ours

Row = Mapping[str, Any]


def claim_card(finding: Row, anchor: str, claim: Row, library: Mapping[tuple[Any, ...], float]) -> dict[str, Any]:
    """Return a finding with its figures in words; what decided it stands first in its evidence.

    `library`: what tells a reading -> the value that a second opinion gives for it.
    """
    evidence = sorted(finding["evidence"], key=lambda each: (each["role"] != "deciding", each["role"] != "disagrees"))
    margin_u = finding["margin_u"]
    away = "" if margin_u is None else text.typeset(f"{round(margin_u, 1) or 0.0:.1f}\u00a0u")
    return {
        **finding,
        "anchor": anchor,
        "verdict_words": finding["criterion"]["outcome"] if finding["criterion"] else finding["verdict"],
        "title": text.quantity_title(finding["quantity"]),
        "value_words": text.value_words(finding),
        "limit_words": text.limit_words(finding),
        "margin_words": text.margin_words(finding),
        "margin_under": ", ".join(filter(None, (f"to {finding['margin_to']}" if finding["margin_to"] else "", away))),
        # Where nothing measured stands on a side of the limit, a chance would be a model's alone.
        "chance_words": text.probability_words(finding["probability"]) if finding["side"] else "",
        "chance_under": "as far as measured" if finding["verdict"] == "overreaching" else "",
        "point_words": operating_point(finding["operating_point"]),
        "names": text.names_in(finding),
        "staff": staff(finding),
        "rests_on": evidence[0] if evidence else None,
        "working": working(finding, claim),
        "evidence": [evidence_row(each, library) for each in evidence[:MOST_EVIDENCE]],
        "more_evidence": max(len(evidence) - MOST_EVIDENCE, 0),
    }


def staff(finding: Row) -> dict[str, Any]:
    """Return where value, uncertainty and limits of a finding lie on its staff, in pixels; {} where there is no value.

    Keys: value; low and high, the ends of value ± U; limits; ground, the stretch (start, end) that the claim admits.
    """
    value, expanded = finding["value"], finding["expanded_uncertainty"] or 0.0
    limits = [float(each) for each in text.limits_of(finding)]
    seen = [*limits, *([] if value is None else [value - expanded, value + expanded])]
    if value is None or not limits or not all(map(math.isfinite, seen)):
        return {}
    room = STAFF_ROOM * (max(seen) - min(seen)) or 0.1 * abs(value) or 1.0
    start, length = min(seen) - room, max(seen) - min(seen) + 2 * room

    def at(place: float) -> float:
        return float(round(STAFF * (place - start) / length, 1))

    posts = [at(each) for each in limits]
    admitted = {"at_least": (posts[0], STAFF), "at_most": (0.0, posts[-1])}
    ground = admitted.get(finding["relation"], (posts[0], posts[-1]))
    return {
        "value": at(value),
        "low": at(value - expanded),
        "high": at(value + expanded),
        "limits": posts,
        "ground": ground,
    }


def evidence_row(evidence: Row, library: Mapping[tuple[Any, ...], float]) -> dict[str, Any]:
    """Return a piece of evidence with its value, and another library's, to the digits that checking by hand takes."""
    value, expanded = evidence["value"], evidence["expanded_uncertainty"]
    figure = "" if value is None else checkable(value)
    figure += f" ± {text.number(float(f'{expanded:.3g}'))}" if figure and expanded else ""
    other = library.get(text.reading_key(evidence)) if library else None
    return {
        **evidence,
        "value_words": wording.with_unit(figure, text.quantity_unit(evidence["quantity"])) if figure else "",
        "library_words": "" if other is None else checkable(other),
        "point_words": operating_point(evidence["operating_point"]),
    }


def checkable(value: float) -> str:
    """Return a value to the digits that checking by hand takes."""
    return text.number(float(f"{value:.{CHECKING_DIGITS}g}"))


def working(finding: Row, claim: Row) -> dict[str, str]:
    """Return how the verdict was reached as heading -> words, only what there is to say."""
    criterion, margin_u = finding["criterion"], finding["margin_u"]
    margin_u = "" if margin_u is None else text.typeset(f"{round(margin_u, 1) or 0.0:.1f} standard uncertainties")
    sizes = (wording.counted(finding["units"], "unit"), wording.counted(finding["points"], "operating point"))
    measured = ", ".join(sizes) if finding["points"] else ""
    rows = {
        "Question to send": finding["ask"],
        "Method": finding["method"],
        "Statistic": finding["statistic"],
        "Definition": finding["definition"],
        "Measured": measured,
        "Conformance probability": text.probability_words(finding["probability"]),
        "Margin": margin_u,
        ("Laid down in" if criterion else "Claim made in"): claim.get("source", ""),
        "Status of the limit": f"{criterion['status']} {criterion['read_in']}".strip() if criterion else "",
        "Note on the claim": claim.get("note", ""),
        "Identity": finding["identity"],
        "Decided by": "; ".join(_deciding_identities(finding)[:MOST_IDENTITIES]),
    }
    return {heading: words for heading, words in rows.items() if words}


def _deciding_identities(finding: Row) -> Sequence[str]:
    return list(dict.fromkeys(each["identity"] for each in finding["evidence"] if each["role"] == "deciding"))
