"""Which readings bear on a claim: by product, test object and operating point, within one table of tolerances.

A reading with a blank field matches a stated one only for level 100 % and ambient 25 °C, and that is said.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from audit.book import TOLERANCES, WHOLE, Book, Rows, serial_key, tolerated
from audit.claims import Claim
from audit.model import NUMBER, POINT_FIELDS
from audit.numbers import Span

Mask = NDArray[np.bool_]

RATED: Mapping[str, Span | str] = {
    "level_percent": Span(100.0, 100.0),
    "ambient_C": Span(25.0, 25.0),
    "hours": Span(0.0, 0.0),
    "channel": "",
    "zone": "",
    "scene": "",
}
RATED_SAID = "full output, 25 °C, initial, all channels and the whole product"
SETTINGS = (
    "level_percent",
    "cct_setting_K",
    "hue_setting_deg",
    "saturation_setting_percent",
    "scene",
    "zone",
    "channel",
    "control_value",
    "control_kind",
    "serial",
    "repeat",
)
ENDS_SUFFICE = ("hours", "ambient_C", "case_C")
BLANK, PAST, OTHER = "not stated", "past the longest test", "other"
PARTS = ("package", "module")  # what a blank test object never means


@dataclass(frozen=True)
class Match:
    """What bears on one claim. Rows index evidence.readings."""

    rows: Rows  # match every field that the claim states
    pool: Rows  # the same quantity, product and object under any condition
    parts: Rows  # the same quantity on a package or module that is used in the product
    silent: Rows  # simulations and data sheets: neither support nor contradict
    stated: Mapping[str, str | Span] = field(default_factory=dict)  # the claim's fields and those implied
    said: list[str] = field(default_factory=list)  # what was taken for granted
    gaps: dict[str, list[float]] = field(default_factory=dict)  # field of a claimed range -> values to test
    blocking: dict[str, str] = field(default_factory=dict)  # where no row matches: field -> BLANK, PAST or OTHER

    @property
    def fixed(self) -> set[str]:
        """Fields in which all matching rows agree with the claim, so that they don't tell points apart."""
        return {name for name, wanted in self.stated.items() if isinstance(wanted, str) or wanted.low == wanted.high}


def match(book: Book, claim: Claim, quantities: Sequence[str] = ()) -> Match:
    """Return the readings that bear on a claim, and what stands between the others and the claim.

    `quantities`: those whose readings bear on it, where they aren't of the claimed quantity itself.
    """
    of_each = [book.rows(claim.product, name) for name in quantities or (claim.quantity.name,)]
    own, parts = (np.concatenate(rows) for rows in zip(*of_each, strict=True))
    silent = own[~book.bears[own]]
    own, parts = own[book.bears[own]], parts[book.bears[parts]]
    if claim.test_object in PARTS:
        own, parts = np.concatenate([own, parts]), parts[:0]
    objects = book.field("test_object", own).astype(str)
    # A blank object stays in the pool: it may be the claimed one, and the maker is asked.
    inside = np.isin(objects, ["", claim.test_object]) if claim.test_object else ~np.isin(objects, PARTS)
    pool, parts = own[inside], np.concatenate([own[~inside], parts])
    stated, said = _stated(claim)
    fits = {name: _fits(book, name, wanted, pool, name in claim.conditions) for name, wanted in stated.items()}
    matching = np.logical_and.reduce([*fits.values(), np.ones(len(pool), bool)])
    rows = pool[matching]
    said += _taken(book, stated, rows)
    blocking = {} if len(rows) else _blocking(book, stated, fits, pool)
    gaps = _gaps(book, claim, rows) if len(rows) else {}
    return Match(rows, pool, parts, silent, stated, said, gaps, blocking)


def narrowed(book: Book, claim: Claim, found: Match, rows: Rows) -> Match:
    """Return the same with those matching readings alone that can be used, and what they leave uncovered."""
    return replace(found, rows=rows, gaps=_gaps(book, claim, rows) if len(rows) else {})


def _stated(claim: Claim) -> tuple[dict[str, str | Span], list[str]]:
    """Return the fields that readings have to agree with, the claim's own and those implied, and what to say of it."""
    stated: dict[str, str | Span] = dict(claim.conditions)
    said = []
    if claim.quantity.conditions == "rated":
        stated = dict(RATED) | stated
        if any(name not in claim.conditions for name in RATED):
            said.append(f"where the claim is silent, taken at {RATED_SAID}")
    elif "channel" not in stated:
        # One channel alone is a part of the light, never the product's.
        stated["channel"] = ""
    if claim.test_object:
        stated["test_object"] = claim.test_object
    for name in ("channel", "zone"):
        if str(stated.get(name, "")).casefold() in WHOLE:
            stated[name] = ""
    if "serial" in stated:
        stated["serial"] = serial_key(str(stated["serial"]))
    return stated, said


def _fits(book: Book, name: str, wanted: str | Span, pool: Rows, by_claim: bool) -> Mask:
    """Whether each row of the pool agrees with one stated field."""
    values = book.effective(name, pool)
    if isinstance(wanted, str):
        return np.asarray(values == wanted, bool)
    values = values.astype(float)
    kinds = book.field("control_kind", pool)
    low, high = (
        end + sign * tolerated(name, np.full(len(pool), end), kinds) for end, sign in zip(wanted, (-1, 1), strict=True)
    )
    if name == "hue_setting_deg":
        return np.asarray((values - low) % 360 <= high - low)
    rounding = 1e-9 * np.maximum(np.abs(low), np.abs(high))
    inside = (values >= low - rounding) & (values <= high + rounding)
    # "Initial" is our own addition to a claim: a report that states no hours is of new units.
    return np.asarray(inside if by_claim or name != "hours" else inside | np.isnan(values))


def _taken(book: Book, stated: Mapping[str, str | Span], rows: Rows) -> list[str]:
    said = []
    for name, blank, words in (("level_percent", "100 %", "level"), ("ambient_C", "25 °C", "ambient temperature")):
        missing = np.isnan(book.field(name, rows).astype(float)) if name in stated else np.array([], bool)
        if missing.any():
            said.append(f"{missing.sum()} of {len(rows)} readings state no {words}: taken as {blank}")
    return said


def _blocking(book: Book, stated: Mapping[str, str | Span], fits: Mapping[str, Mask], pool: Rows) -> dict[str, str]:
    """The fields that keep every reading of the pool out: those that no reading meets, else all that some miss."""
    never = {name: mask for name, mask in fits.items() if not mask.any()} or {
        name: mask for name, mask in fits.items() if not mask.all()
    }
    found = {}
    for name in never:
        values, wanted = book.effective(name, pool)[~fits[name]], stated[name]
        is_number = POINT_FIELDS[name] == NUMBER
        blank = np.isnan(values.astype(float)) if is_number else values == ""
        if blank.all():
            found[name] = BLANK
        elif isinstance(wanted, Span) and name == "hours" and wanted.high > np.nanmax(values.astype(float)):
            found[name] = PAST
        else:
            found[name] = OTHER
    return found


def _gaps(book: Book, claim: Claim, rows: Rows) -> dict[str, list[float]]:
    """Return, per claimed range that the matching readings don't cover, the values that should be tested.

    A range is covered if both ends are tested and no gap exceeds a third of it: CCT in mired, the others as
    they are; for hours and temperatures the ends suffice.
    """
    gaps = {}
    for name, wanted in claim.conditions.items():
        if not isinstance(wanted, Span) or wanted.low == wanted.high:
            continue
        tested = book.effective(name, rows).astype(float)
        if name == "hue_setting_deg":
            tested = _along_the_circle(tested, wanted)
        tested = np.unique(tested)
        kind = str(book.field("control_kind", rows[:1])[0])
        slack = tolerated(name, np.array(wanted), kind) + 1e-9 * np.abs(wanted)
        missing = [end for end, near in zip(wanted, slack, strict=True) if not (np.abs(tested - end) <= near).any()]
        if name not in ENDS_SUFFICE:
            missing += _inner_gaps(name, np.array([wanted.low, *tested, wanted.high]), kind)
        if missing:
            gaps[name] = sorted({end % 360 if name == "hue_setting_deg" else end for end in missing})
    return gaps


def _along_the_circle(hue: NDArray[np.float64], wanted: Span) -> NDArray[np.float64]:
    """Return hues counted on from the start of the range; a whole turn begins and ends at the same hue."""
    slack = TOLERANCES["hue_setting_deg"](0)
    counted = wanted.low - slack + (hue - wanted.low + slack) % 360
    ends = counted[counted <= wanted.low + slack] + 360 if wanted.high - wanted.low >= 360 - slack else counted[:0]
    return np.concatenate([counted, ends])


def _inner_gaps(name: str, values: NDArray[np.float64], kind: str) -> list[float]:
    """Values to test inside the gaps; a gap may exceed a third of the range by the tolerance of a setting."""
    reciprocal = name == "cct_setting_K"
    scale = np.sort(1e6 / values if reciprocal else values)
    third = (scale[-1] - scale[0]) / 3
    found = []
    for left, right in itertools.pairwise(scale):
        slack = float(tolerated(name, np.array([right]), kind)[0])  # 1 % of a CCT is 1 % of its mired value as well
        pieces = math.ceil((right - left - slack) / third)
        found += [left + (right - left) * piece / pieces for piece in range(1, pieces)]
    return [float(f"{1e6 / value if reciprocal else value:.3g}") for value in found]


def blocked_reasons(found: Match) -> list[str]:
    """Return why no reading is at the claimed conditions, in words of the closed list of reasons."""
    if not len(found.pool):
        return ["other test object"]
    reasons = set()
    for name, kind in found.blocking.items():
        if kind == BLANK:
            reasons.add("record inadequate")
        elif kind == PAST:
            reasons.add("past test duration")
        elif name == "test_object":
            reasons.add("other test object")
        else:
            reasons.add("untested settings" if name in SETTINGS else "other conditions")
    return sorted(reasons) or ["definition not stated"]
