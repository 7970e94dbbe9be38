"""What a claim on steps counts: by which shape, about which centre; the trade's free text, by a small grammar.

    shape   IEC ellipse | u'v' circle
    centre  about the IEC 60081 [3000 K] centre | about the ANSI C78.377[-2015] [3000 K] centre |
            about x = 0.4339, y = 0.4033 [3000 K] | about the sample mean | worst pair

Either part may be left open. A text with a word that isn't understood means nothing here.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

ELLIPSE, CIRCLE = "IEC ellipse", "u'v' circle"
IEC, ANSI, STATED, MEAN, PAIR = "IEC 60081", "ANSI C78.377", "stated", "sample mean", "worst pair"
ANSI_2008, ANSI_2015 = f"{ANSI}-2008", f"{ANSI}-2015/2017"
EDITIONS = {"2008": ANSI_2008, "2015": ANSI_2015, "2017": ANSI_2015, "2015/2017": ANSI_2015}

_NUMBER = r"(0?[.,]\d+)"
# Read and taken out of the text in this order.
_SHAPES = {
    ELLIPSE: re.compile(r"\b(?:iec(?: 60081)? )?(?:macadam )?ellipses?\b"),
    CIRCLE: re.compile(r"\bu ?' ?,? ?v ?'(?: circles?)?|\bcircles?\b"),
}
_CENTRES = {
    STATED: re.compile(rf"\bx ?= ?{_NUMBER}[ ,;]+y ?= ?{_NUMBER}"),
    ANSI: re.compile(r"\b(?:ansi )?c78\.377[a-z]?(?:[- ](20\d\d(?:/20\d\d)?)(?! ?k\b))?(?!\w)|\bansi\b"),
    IEC: re.compile(r"\biec(?: 60081)?\b(?: f(?= ?\d))?"),
    MEAN: re.compile(r"\bsample(?:'s)? (?:own )?mean\b|\bown mean\b|\bmean of the (?:sample|units)\b"),
    PAIR: re.compile(r"\bworst pair\b|\bany two units\b"),
}
_NOMINAL = re.compile(r"\b(\d{4})(?: ?k\b)?")
_FILLER = re.compile(r"\b(?:about|around|the|by|from|of|its?|cent(?:re|er)|nominal|in|n-?steps?|steps?)\b|[ ,;.()-]")


class StepDefinition(NamedTuple):
    """How steps are counted. Blank or NaN: left open."""

    shape: str = ""  # ELLIPSE or CIRCLE
    centre: str = ""  # IEC, ANSI (of an edition, or of any), STATED, MEAN, PAIR
    nominal_K: float = math.nan
    x: float = math.nan
    y: float = math.nan

    @property
    def text(self) -> str:
        """As a finding says it; it reads back as the same."""
        nominal = "" if math.isnan(self.nominal_K) else f" {self.nominal_K:.0f} K"
        words = {
            STATED: f"about x = {self.x:g}, y = {self.y:g}" + nominal.replace(" ", ", ", 1),
            MEAN: f"about the {MEAN}",
            PAIR: PAIR,
            "": "",
        }.get(self.centre, f"about the {self.centre}{nominal} centre")
        return " ".join(part for part in (self.shape, words) if part)

    @property
    def is_open(self) -> bool:
        return not self.shape or self.centre in ("", ANSI)


# What a claim that leaves everything open may mean. The worst pair isn't among it: n steps is a radius.
ADMISSIBLE = (
    *(StepDefinition(shape, centre) for shape in (ELLIPSE, CIRCLE) for centre in (IEC, ANSI_2008, ANSI_2015)),
    StepDefinition(CIRCLE, MEAN),
)


def parse(text: str) -> StepDefinition | None:
    """Return what a definition says, None where a part of it isn't understood or contradicts another."""
    rest = " ".join(text.casefold().replace("\u2019", "'").replace("\u2032", "'").split())
    found: dict[str, re.Match[str]] = {}
    shapes = []
    for shape, pattern in _SHAPES.items():
        if match := pattern.search(rest):
            shapes.append(shape)
            rest = rest.replace(match[0], " ", 1)
    for centre, pattern in _CENTRES.items():
        if match := pattern.search(rest):
            found[centre] = match
            rest = rest.replace(match[0], " ", 1)
    nominal = _NOMINAL.search(rest)
    rest = rest.replace(nominal[0], " ", 1) if nominal else rest
    if len(shapes) > 1 or len(found) > 1 or _FILLER.sub("", rest):
        return None
    centre = next(iter(found), "")
    edition = found[ANSI][1] if centre == ANSI else None
    if edition and edition not in EDITIONS:
        return None
    x, y = (float(found[STATED][at].replace(",", ".")) if centre == STATED else math.nan for at in (1, 2))
    return StepDefinition(
        shapes[0] if shapes else "",
        EDITIONS[edition] if edition else centre,
        float(nominal[1]) if nominal else math.nan,
        x,
        y,
    )


def meant(stated: StepDefinition) -> list[StepDefinition]:
    """Return the definitions that a claim may mean: the stated one, or every admissible one that fits it."""
    if not stated.is_open:
        return [stated]
    fitting = [
        each._replace(nominal_K=stated.nominal_K)
        for each in ADMISSIBLE
        if stated.shape in ("", each.shape) and each.centre.startswith(stated.centre)
    ]
    return fitting or [stated._replace(shape=shape) for shape in (ELLIPSE, CIRCLE)]
