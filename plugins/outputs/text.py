"""Values and limits as a person reads them, and the order in which things are shown.

Every writer shares these words. A text that came from a document passes `visible` before it is shown.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from audit import quantity_register, wording
from audit.model import TIERS
from plugins.outputs.glossary import VERDICTS

# Control characters, bidirectional overrides, invisible blanks and lone surrogates: on a page or in a
# terminal they hide, reorder or forge what is read. Joiners stay, since emoji and some scripts need them.
UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff\ud800-\udfff]")
SHORT_ESCAPES = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}

RELATION_WORDS = {"at_least": "at least ", "at_most": "at most "}
RELATION_SIGNS = {"at_least": "≥ ", "at_most": "≤ "}


def visible(text: str) -> str:
    """Return `text` with every character that hides or reorders text written as a visible escape."""
    return UNSAFE.sub(lambda found: SHORT_ESCAPES.get(found[0], f"\\u{ord(found[0]):04x}"), text)


def typeset(words: str) -> str:
    """Return figures in words with true minus signs, and with an uncertainty kept whole on its line."""
    return re.sub(r"(?<!\S)-(?=[\d.])", "−", words).replace("± ", "±\u00a0")


def number(value: float | None, decimals: int | None = None) -> str:
    """Return a number as text; without `decimals`, its shortest form of at most 10 significant digits."""
    if value is None or not math.isfinite(value):
        return "none"
    if decimals is None:
        return f"{value or 0.0:.10g}"
    return wording.fixed(value, decimals)


def decimals_for(value: float, uncertainty: float | None, quantity: str, limits: Sequence[float] = ()) -> int:
    """Return the decimals to print a value of a quantity with; three where a third party's has no register entry."""
    entry = quantity_register().get(quantity)
    return wording.decimals_for(value, uncertainty, entry.decimals if entry else 3, limits)


def limits_of(finding: Mapping[str, Any]) -> list[float]:
    """Return the limits of a finding as a list: none, one, or a lower and an upper one."""
    limit = finding["limit"]
    return [] if limit is None else list(limit) if isinstance(limit, list | tuple) else [limit]


def value_words(item: Mapping[str, Any], with_uncertainty: bool = True) -> str:
    """Return the value of a finding or a reading, such as `2987 ± 30 K`; "" where it has none."""
    value, uncertainty = item["value"], item["expanded_uncertainty"]
    if value is None or not math.isfinite(value):
        return ""
    limits = limits_of(item) if "limit" in item else []
    decimals = decimals_for(value, uncertainty, item["quantity"], limits)
    text = number(value, decimals)
    if with_uncertainty and uncertainty and math.isfinite(uncertainty):
        text += f" ± {number(uncertainty, decimals)}"
    return wording.with_unit(text, item["unit"])


def limit_words(finding: Mapping[str, Any], relations: Mapping[str, str] = RELATION_WORDS) -> str:
    """Return the limit, such as `at least 90` or `2700 to 3300 K`; "" where the claim has none."""
    limits = " to ".join(number(limit) for limit in limits_of(finding))
    return wording.with_unit(relations.get(finding["relation"], "") + limits, finding["unit"]) if limits else ""


def margin_words(finding: Mapping[str, Any]) -> str:
    """Return the margin with its sign and unit; "" where there is none."""
    margin = finding["margin"]
    if margin is None or not math.isfinite(margin):
        return ""
    decimals = decimals_for(margin, finding["expanded_uncertainty"], finding["quantity"], [0.0])
    text = number(margin, decimals)
    return wording.with_unit(text if text.startswith("-") else f"+{text}", finding["unit"])


def probability_words(probability: float | None) -> str:
    """Return a probability in per cent, never rounded to a certainty; "" where there is none."""
    if probability is None or not math.isfinite(probability):
        return ""
    percent = 100.0 * probability
    return "below 0.1 %" if percent < 0.1 else "above 99.9 %" if percent > 99.9 else f"{percent:.1f} %"


def quantity_title(name: str) -> str:
    """Return what a quantity is called in full; a quantity of a third party, its name without underscores."""
    entry = quantity_register().get(name)
    return entry.title if entry else name.replace("_", " ")


def quantity_unit(name: str) -> str:
    """Return the unit of a quantity; a third party's stands with its values only, so "" here."""
    entry = quantity_register().get(name)
    return entry.unit if entry else ""


def quantity_symbol(name: str) -> str:
    """Return the symbol of a quantity, "" where it has none."""
    entry = quantity_register().get(name)
    return entry.symbol if entry else ""


def quantity_name(name: str) -> str:
    """Return the short name of a quantity: its symbol or, where it has none, its title."""
    return quantity_symbol(name) or quantity_title(name)


def natural(text: str) -> list[tuple[int, int, str]]:
    """Return a sort key in which C2 comes before C10."""
    return [
        (0, len(digits), digits) if digits else (1, 0, other)
        for digits, other in re.findall(r"0*([0-9]+)|([^0-9]+)", text.casefold())
    ]


def in_order(findings: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return findings by product and claim."""
    return sorted(findings, key=lambda each: (natural(each["product"]), natural(each["claim_id"])))


def by_tier(observations: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return observations, what needs a person first, then by document and place."""
    return sorted(
        observations,
        key=lambda each: (
            TIERS.index(each["tier"]),
            natural(each["document"]),
            natural(each["place"]),
            each["rule"],
            each["message"],
        ),
    )


def report_words(document: Mapping[str, str]) -> str:
    """Return what a document says of its test: LR-0431, Fenside Photometric Laboratory, ANSI/IES LM-79-19."""
    return ", ".join(filter(None, (document["report_number"], document["laboratory"], document["method"])))


def counts(findings: Iterable[Mapping[str, Any]]) -> dict[str, int]:
    """Return verdict -> number of findings, worst first, only those that occur."""
    found = [finding["verdict"] for finding in findings]
    return {verdict: found.count(verdict) for verdict in VERDICTS if verdict in found}


# What a verdict on a requirement is called; the others keep their names.
REQUIREMENT_WORDS = {"contradicted": "missed", "supported": "met"}


def claims_of(findings: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the findings on the maker's own claims."""
    return [finding for finding in findings if not finding["criterion"]]


def requirements_of(findings: Iterable[Mapping[str, Any]]) -> dict[tuple[str, str], list[Mapping[str, Any]]]:
    """Return (requirement set, product) -> its findings, in the order of the set."""
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for finding in findings:
        if finding["criterion"]:
            found.setdefault((finding["criterion"]["set"], finding["product"]), []).append(finding)
    return found


def requirement_counts(findings: Sequence[Mapping[str, Any]]) -> str:
    """Return `11 requirements: 1 missed, 3 unevidenced, 7 met`."""
    parts = [f"{count} {REQUIREMENT_WORDS.get(verdict, verdict)}" for verdict, count in counts(findings).items()]
    return f"{wording.counted(len(findings), 'requirement')}: {', '.join(parts)}"


def group_outcomes(findings: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """Return group -> what is said of it, for requirements that are met together or not at all."""
    criteria = [finding["criterion"] for finding in findings]
    return {each["group"]: each["group_outcome"] for each in criteria if each["group"]}


def open_asks(findings: Iterable[Mapping[str, Any]]) -> list[str]:
    """Return the questions, each once, on which it depends whether requirements apply."""
    return list(dict.fromkeys(each["ask"] for each in findings if "applicability not stated" in each["reasons"]))


def names_in(finding: Mapping[str, Any]) -> list[str]:
    """Return the words in a finding's sentences that others wrote: names aren't figures."""
    point = [value for value in finding["operating_point"].values() if isinstance(value, str)]
    return [finding["product"], finding["claim_id"], *point, *(each["document"] for each in finding["evidence"])]


def reading_key(item: Mapping[str, Any]) -> tuple[Any, ...]:
    """Return what tells a reading, or the evidence taken from it, from the others."""
    return (item["document"], item["place"], item["raw"], item["quantity"], item["origin"], item["value"])


def decision_words(decision: Mapping[str, Any]) -> str:
    """Return a decision in short: corrected to 92.4 by M. Reed, 2026-05-31."""
    right = f" to {decision['value']}" if decision["value"] else ""
    return f"{decision['decision']}{right} by {decision['person']}, {decision['date']}"


def claims_by_reason(findings: Iterable[Mapping[str, Any]]) -> dict[str, list[str]]:
    """Return reason -> the claims whose verdict it explains, in their order."""
    found: dict[str, list[str]] = {}
    for finding in findings:
        for reason in finding["reasons"]:
            found.setdefault(reason, []).append(short_id(finding))
    return found


def short_id(finding: Mapping[str, Any]) -> str:
    """Return what a finding is called below the name of its set: the id of its claim or requirement."""
    name: str = finding["criterion"]["requirement"] if finding["criterion"] else finding["claim_id"]
    return name


def claims_not_judged(observations: Iterable[Mapping[str, str]]) -> int:
    """Return how many claims couldn't be read; each is observed with its cell."""
    return sum(each["rule"] == "claim_not_read" for each in observations)


def joined(parts: Sequence[str]) -> str:
    """Return `a, b and c`."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
