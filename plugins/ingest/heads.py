"""Headings of several rows as one: groups over the columns that they head, settings above spectra, units below.

What a group's name adds is never dropped in silence: a name that says nothing is left out, one that means something
with the heading is joined to it, and any other makes a heading that nobody knows, so that its column is asked about.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from audit.numbers import parse_number
from audit.sheets import Sheet
from audit.units import fold, is_unit
from plugins.ingest import kinds
from plugins.ingest.cells import NOTHING, number
from plugins.ingest.headings import LISTED, STATE, UNCERTAINTY, UNKNOWN, resolve
from plugins.ingest.kinds import texts_of
from plugins.ingest.labels import field_token, identifies, label_of
from plugins.ingest.parts import parted
from plugins.ingest.spectral_words import COUNTS

if TYPE_CHECKING:
    from plugins.ingest.blocks import Region

SPECTRAL = re.compile(r"/\s*nm\W*$|nm-1$|nm⁻¹$")
FOOTNOTE = re.compile(r"\s*(?:[*†‡]+|(?<=\))[¹²³⁴]+|\(\d\))$")
DASHES = ("-", "–", "—")
IN_NO_GROUP = "under which group of headings is unclear"
IN_NO_SETTING = "setting in doubt"
IN_DOUBT = "unit in doubt"  # behind headings, for layouts to ask about
# Names of groups of columns that add nothing to the headings below them.
GROUPS = re.compile(
    r"(?:(?:photometric|electrical|electric|colou?r(?:imetric)?|chromaticity|spectral|optical|radiometric|thermal|"
    r"light|cie(?: ?1931| ?1976| ?13\.3)?|rendering|rendition|quality|test|measured|measurement|measurements|results?|"
    r"data|values?|parameters?|characteristics?|properties|quantities|coordinates?|photometry|colorimetry|sample|unit|"
    r"identification|tm-?30|and|of|the|input|[/&,()-])\s*)+",
    re.IGNORECASE,
)


def head_rows(sheet: Sheet, row: int, floor: int, spectral: bool) -> list[int]:
    """Return the rows of headings: the one found, groups above it, and parts of headings or units below it.

    `spectral`: they head spectra, whose units are others.
    """
    rows = [row]
    if row > floor and _groups(sheet, row - 1, row):
        rows.insert(0, row - 1)
    last = row
    while last + 1 < len(sheet.rows) and last - row < 2 and _continues(sheet, row, last + 1, spectral):
        last += 1
        rows.append(last)
    return rows


def _groups(sheet: Sheet, above: int, row: int) -> bool:
    """Whether the row above holds names of groups of columns, each over the blank cells at its right."""
    upper, lower = texts_of(sheet, above), texts_of(sheet, row)
    upper += [""] * (len(lower) - len(upper))
    filled = [index for index, text in enumerate(upper) if text]
    if not filled or any(parse_number(text) or len(text) > 60 for text in upper) or len(upper) > len(lower):
        return False
    spans = [at for at in filled if at + 1 < len(lower) and not upper[at + 1] and lower[at] and lower[at + 1]]
    loose = any(upper[at] and not lower[at] for at in filled)
    if len(filled) == 1:
        name, covered = upper[filled[0]], lower[filled[0] :]
        grouping = GROUPS.fullmatch(name) or label_of(name).whole
        return bool(filled[0] and spans and (grouping or any(kinds.known(f"{name} {text}") for text in covered)))
    if len(filled) > 1 and lower[0] and all(at == 0 or not (lower[at - 1] or upper[at - 1]) for at in filled):
        return False  # titles of tables side by side
    if len(filled) > 1 and not upper[0] and all(label_of(upper[at]).whole for at in filled):
        return True
    return loose or bool(spans and (not upper[0] or len(filled) > 2))


def _continues(sheet: Sheet, header: int, row: int, spectral: bool) -> bool:
    """Whether a row below the headings holds units, or the second part of headings that span columns."""
    upper, lower = texts_of(sheet, header), texts_of(sheet, row)
    if len(lower) > len(upper) and any(lower[len(upper) :]):
        return False
    lower = _without_dashes([*lower, *[""] * (len(upper) - len(lower))])
    filled = [index for index, text in enumerate(lower) if text]
    if is_unit_row(lower, spectral):
        return True
    times, parts = Counter(upper), parted(upper, lower)
    below = {*parts, *(index for index in filled if not upper[index] or times[upper[index]] > 1)}
    spanned = [index for index in filled if index in below or _spans(upper, lower, index)]
    carried = _carried(upper)
    if spanned and all(parse_number(lower[index]) for index in filled):  # hours or levels below "Hours" or "Level (%)"
        group = [carried[index] for index in filled]
        return len(set(group)) == 1 and len(filled) > 1 and resolve(group[0]).role == STATE and not lower[0]
    if not spanned or any(parse_number(lower[index]) for index in filled):
        return False
    fits = [index for index in filled if index in spanned and label_of(lower[index]).whole]
    fits += [index for index in filled if kinds.known(lower[index]) or is_unit(lower[index].strip("[]()"))]
    fits += [index for index in spanned if identifies(lower[index]) and kinds.known(carried[index])]
    fits += [index for index in parts if lower[index]]
    return len(set(fits)) * 2 > len(filled) and (not lower[0] or 0 in fits)


def _spans(upper: Sequence[str], lower: Sequence[str], at: int) -> bool:
    """Whether a heading reaches over the next column, of which it is no heading yet."""
    return at + 1 < len(upper) and bool(upper[at] and not upper[at + 1] and lower[at + 1])


def is_unit_row(texts: Sequence[str], spectral: bool = False) -> bool:
    """Whether cells are units (lm, K, [W]; mW/nm of spectra) and nothing else; the first may say so in a word."""
    cells = [text.strip("[](){} ") for text in texts]
    if cells and (cells[0].casefold() in kinds.UNIT_WORDS or not is_unit(cells[0])):
        first, cells = cells[0].casefold(), cells[1:]
        if first not in kinds.UNIT_WORDS:
            return False
    stated = [unit for unit in cells if unit not in ("", "1", *DASHES, "/")]
    return bool(stated) and all(
        is_unit(unit) or (spectral and (SPECTRAL.search(unit) or COUNTS.fullmatch(unit))) for unit in stated
    )


def _carried(texts: Sequence[str], spans: Sequence[tuple[int, int]] = ()) -> list[str]:
    """Return a row of group names with each carried over the blank cells at its right."""
    found, last = [], ""
    for text in texts:
        last = text or last
        found.append(last)
    for first, end in spans:
        found[first : end + 1] = [found[first]] * (end + 1 - first)
    return found


def join_heads(sheet: Sheet, region: Region) -> Iterator[str]:
    """Yield the heading of each column; names of groups reach over the blank cells at their right."""
    width = region.right - region.left
    layers = []
    for row in region.heads:
        texts = texts_of(sheet, row)[region.left : region.right]
        layers.append([*texts, *[""] * (width - len(texts))])
    if region.states:
        layers[0] = [_spectrum_head(sheet, region, at, text) for at, text in enumerate(layers[0])]
    if len(layers) == 1:
        yield from map(bare, layers[0])
        return
    units = layers.pop() if is_unit_row(layers[-1], spectral=region.kind == kinds.LONG) else [""] * width
    if units[0] and is_unit(units[0]) and resolve(layers[0][0]).role == STATE and not resolve(layers[0][0]).number:
        units = [text and IN_DOUBT for text in layers[0]]  # they stand one column too far to the left
    merged = {(span.top, span.left): span.right for span in sheet.spans if span.top == span.bottom}
    while len(layers) > 1:
        row = region.heads[len(layers) - 2]
        spans = [(left - region.left, right - region.left) for (top, left), right in merged.items() if top == row]
        lower = layers.pop()
        layers[-1] = _stack(layers[-1], lower, spans)
    for text, unit in zip(layers[0], units, strict=True):
        yield with_unit(bare(text), unit.strip("[](){} "))


def bare(text: str) -> str:
    """Return a heading without the mark of a footnote, where it means something only without it."""
    short = FOOTNOTE.sub("", text)
    return short if short != text and resolve(text).role == UNKNOWN != resolve(short).role else text


def _spectrum_head(sheet: Sheet, region: Region, at: int, text: str) -> str:
    """Return the heading of a spectrum's column with what the rows above state for it: "SA-01 50 % [mW/nm]"."""
    if at == 0:
        return text
    parts = []
    for row, meaning in region.states.items():
        texts = texts_of(sheet, row)
        if row in region.grouped:  # a name reaches over the blank cells at its right
            texts = _carried([*texts, *[""] * (region.right - len(texts))])
        own = texts[at + region.left] if at + region.left < len(texts) else ""
        if not own or meaning.role == LISTED:
            continue
        if SPECTRAL.search(own):
            text = text or own
            continue
        label, found = label_of(own), number(own, meaning) if meaning.role == STATE and meaning.number else NOTHING
        if not math.isnan(found.value):
            parts.append(field_token(meaning.target, found.value))
        elif label.whole and (meaning.role != STATE or meaning.number or meaning.answer):
            parts += [field_token(*stated) for stated in label.fields.items()]
        elif meaning.target == "serial":
            parts.append(own)
        elif meaning.role == STATE and not meaning.number:  # the heading's words would be lost: it says its field
            parts.append(field_token(meaning.target, own))
        else:
            return f"{own} ({IN_NO_SETTING})"
    return " ".join(filter(None, [*parts, f"[{text}]" if "/nm" in text.replace(" ", "") else text]))


def _stack(upper: list[str], lower: list[str], spans: Sequence[tuple[int, int]]) -> list[str]:
    """Join two rows of headings column by column."""
    lower, parts = _without_dashes(lower), parted(upper, lower)
    carried = _carried(upper, spans)
    for at in range(1, len(carried)):
        if at - 1 in parts and not upper[at] and at not in parts:  # the parts of a quantity end here
            end = next((index for index in range(at, len(upper)) if upper[index]), len(upper))
            carried[at:end] = [""] * (end - at)
    if _unclear(upper, carried, lower):
        return [
            f"{part} ({IN_NO_GROUP})" if lower.count(part) > 1 else own or part
            for own, part in zip(upper, lower, strict=True)
        ]
    joined = [
        _combined(own or (group if part else ""), part) for own, group, part in zip(upper, carried, lower, strict=True)
    ]
    for at, part in parts.items():
        joined[at] = with_unit(part.of(carried[at]), part.unit)
    return joined


def _without_dashes(texts: Sequence[str]) -> list[str]:
    """Return a second row of headings with the dashes blank that say "nothing to add"."""
    return ["" if text in DASHES else text for text in texts]


def _unclear(upper: Sequence[str], carried: Sequence[str], lower: Sequence[str]) -> bool:
    """Whether a group's name may stand in the middle of its columns: one that other groups have stands before it."""
    first = next((at for at, text in enumerate(upper) if text), 0)
    later = [part for at, part in enumerate(lower) if at >= first and carried[at]]
    return any(part in later and resolve(part).role != STATE for part in lower[:first] if part)


def _combined(group: str, part: str) -> str:
    """Return the heading that a group's name and the heading below it make; a name that says nothing is left out."""
    if not group or not part:
        return group or part
    if is_unit(part.strip("[](){} ")) and kinds.known(group):
        return with_unit(group, part.strip("[](){} "))
    meaning = resolve(group)
    if parse_number(part) and meaning.role == STATE and meaning.unit:
        return f"{part} {meaning.spelled_unit or meaning.unit}"
    joint = f"{group} {part}"
    if not kinds.known(joint) and GROUPS.fullmatch(group) and kinds.known(part):
        return part
    return joint


def with_unit(text: str, unit: str) -> str:
    """Return a heading with the unit that stands elsewhere; two units that differ make it one that is asked about."""
    if not unit or not text or unit in (*DASHES, "/", "1"):
        return text
    meaning = resolve(text)
    if unit == IN_DOUBT:
        return f"{text} ({unit})"
    if meaning.role == UNCERTAINTY and unit == "%":  # of the value
        return f"{text} [{unit}]"
    if meaning.spelled_unit and fold(unit) != fold(meaning.spelled_unit):
        return f"{text} ({unit} in the row below)"  # no unit, so the column is refused and asked about
    wants = (meaning.number or meaning.targets or meaning.role == UNKNOWN) and not meaning.spelled_unit
    return f"{text} [{unit}]" if wants else text
