"""The parts of one quantity in columns below its name: value, uncertainty, and the uncertainty's coverage factor."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from audit.units import is_unit
from plugins.ingest.headings import BRACKETS, COVERAGE, COVERAGE_FACTOR, READING, resolve
from plugins.ingest.labels import MEASURED, claims, is_summary

VALUE, FACTOR = "value", "k"
EXPANDED, EXPANDED_RELATIVE, STANDARD = "U", "U_rel", "u"
WORDS = (
    (
        EXPANDED_RELATIVE,
        re.compile(
            r"(?i)U_?rel\.?|(?:expanded\s+)?rel(?:ative|\.)?\s+(?:expanded\s+)?uncertainty|incertitude\s+relative|"
            r"relative\s+(?:erweiterte\s+)?(?:mess)?unsicherheit"
        ),
    ),
    (
        STANDARD,
        re.compile(r"(?i)(?-i:u)|standard\s+uncertainty|standard(?:mess)?unsicherheit|incertitude[ -]type"),
    ),
    (
        EXPANDED,
        re.compile(
            r"(?i)±?\s*(?-i:U)(?:_?95)?|±|\+/-|(?:(?:expanded|measurement|meas\.)\s+)*uncertainty|"
            r"(?:(?:erweiterte|erw\.)\s+)?(?:mess)?unsicherheit|incertitude(?:\s+(?:élargie|de mesure))*|"
            r"incertezza(?:\s+(?:estesa|di misura))*|incertidumbre(?:\s+(?:expandida|de medida))*|"
            r"(?:uitgebreide\s+)?(?:meet)?onzekerheid|(?:扩展)?不确定度"
        ),
    ),
)
CONFIDENCE = re.compile(r"[\s,(]*\b95\s*%[\s,)]*")  # of an expanded uncertainty: no unit of it


class Part(NamedTuple):
    """What one of the columns below a quantity's name holds; `factor` is the k that it states, "" if none.

    `kind` is one of the constants above, or the words of a rated value, a limit or a mean.
    """

    kind: str
    factor: str = ""
    unit: str = ""

    def of(self, group: str) -> str:
        """Return the heading that this part has without the row above: "U(Luminous flux (lm)) (k=2)"."""
        if self.kind == VALUE:
            return group
        if self.kind not in (FACTOR, EXPANDED, EXPANDED_RELATIVE, STANDARD):
            return f"{group} {self.kind}"
        return f"{self.kind}({group})" + (f" (k={self.factor})" if self.factor else "")


def part(text: str) -> Part | None:
    """Return which part of a quantity a text names, None where it is anything else."""
    if resolve(text).role == COVERAGE_FACTOR:
        return Part(FACTOR)
    bare, factor = text, COVERAGE.search(text)
    if factor:
        bare = f"{text[: factor.start()]} {text[factor.end() :]}".strip()
    bare = CONFIDENCE.sub(" ", bare).strip()
    words, _, unit = bare.partition(" in ")
    if inner := BRACKETS.fullmatch(bare):
        words, unit = inner["words"], inner["inner"]
    elif is_unit(bare.rpartition(" ")[2]) and " " in bare:
        words, _, unit = bare.rpartition(" ")
    if unit and not is_unit(unit.strip()):
        return None
    if words.casefold() in MEASURED or not words:
        return None if factor or not words else Part(VALUE, unit=unit.strip())
    kind = next((kind for kind, pattern in WORDS if pattern.fullmatch(words.strip())), "")
    if not kind and (claims(text) or is_summary(text)):
        return Part(text)
    return Part(kind, factor[1] if factor else "", unit.strip()) if kind else None


def uncertain(text: str) -> bool:
    """Whether a text heads uncertainties of whatever stands beside it."""
    found = part(text)
    return found is not None and found.kind in (EXPANDED, EXPANDED_RELATIVE, STANDARD)


def parted(upper: Sequence[str], lower: Sequence[str]) -> dict[int, Part]:
    """Return index -> part of the columns that stand, value first, below the name of one measured quantity.

    `upper` are the names, blank over all columns of a quantity but its first; `lower` what stands below them. An
    uncertainty by its letter alone (U may be a voltage) needs the value beside it, or its k.
    """
    found: dict[int, Part] = {}
    for at, group in enumerate(upper):
        if at in found or resolve(group).role != READING:
            continue
        own = {at: part(lower[at]) if lower[at] else Part(VALUE)}
        for index in range(at + 1, len(upper)):
            if upper[index] not in ("", group) or not lower[index] or not (next_one := part(lower[index])):
                break
            own[index] = next_one
        kinds = [each.kind for each in own.values() if each]
        bare = [each for each in own.values() if each and each.kind in (EXPANDED, STANDARD) and not each.factor]
        if None not in own.values() and (VALUE in kinds or not bare) and any(lower[index] for index in own):
            found |= {index: each for index, each in own.items() if each}
    return found
