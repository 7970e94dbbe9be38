"""What a heading means: its words looked up in the vocabulary, its unit split off and converted.

The register's names, symbols and titles and the operating-point fields are known by themselves;
vocabulary.csv adds the spellings of the trade. A spelling with several meanings is never guessed:
a stated unit may settle it (Tc in K or in °C), else the heading is ambiguous and the sender is asked.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from audit.answers import IGNORE
from audit.model import NUMBER, POINT_FIELDS, VOLTS
from audit.register import nearest, quantity_register
from audit.units import IDENTITY, Conversion, conversion, is_unit
from audit.units import fold as fold_unit
from plugins.ingest.spectral_words import is_energy_per_nm, power_per_nm
from plugins.ingest.vocabulary import Entry, vocabulary_lines

FIELD_UNITS = {
    "hours": "h", "level_percent": "%", "cct_setting_K": "K", "hue_setting_deg": "deg",
    "saturation_setting_percent": "%", "ambient_C": "°C", "case_C": "°C", "drive_mA": "mA",
}  # fmt: skip
CONTROL_VOLTAGE = "control voltage"  # the kind of a control whose values are volts and that isn't named
DOCUMENT_KEYS = (
    "standing", "report_number", "laboratory", "accreditation", "method", "instrument", "instrument_serial", "supply",
    "date", "date_received", "date_tested", "date_issued", "manufacturer", "client", "sample_origin", "title",
    "operator", "remark", "channel_count", "driver", "dimmer", "dimming_curve", "physical_minimum",
)  # fmt: skip
READING, UNCERTAINTY, STATE, DOCUMENT = "reading", "uncertainty", "state", "document"
WAVELENGTH, SPECTRAL, LISTED = "wavelength", "spectral", "listed"
HOUSE_K = 2.0  # of expanded uncertainties that state no other
COVERAGE_FACTOR = "coverage_factor"  # k of the uncertainties beside it
AMBIGUOUS, REFUSED, UNKNOWN = "ambiguous", "refused", "unknown"
PAIRED = "paired"  # two coordinates in one cell
# What a spelling with several meanings means in a column of a table, as a key of an instrument's export (whose
# model and serial are the instrument's), and as a key of a report (where it stays ambiguous).
COLUMN, EXPORT, REPORT = "column", "export", "report"
LAYOUT_MEANS = {COLUMN: ("product", "serial"), EXPORT: ("instrument", "instrument_serial", "date"), REPORT: ()}
USED = (READING, UNCERTAINTY, STATE, DOCUMENT, WAVELENGTH, SPECTRAL, COVERAGE_FACTOR)

# Marks that look alike and that Unicode's own folding (NFKC) leaves apart.
LOOKALIKES = str.maketrans(dict.fromkeys("′’‘`´ʹʼ", "'") | dict.fromkeys("⊿△∆▵", "Δ") | {"ɸ": "φ", "″": "''"})
FULL_WIDTH = str.maketrans("（）［］｛｝／，：", "()[]{}/,:")
SEPARATORS = re.compile(r"[\s_\-‐‑–—−.,:;#*\"()\[\]{}«»“”„]+")
COORDINATE = re.compile(r"(?<![^\W\d_])([xyzuvXYZUV])(?![^\W\d_])")
BRACKETS = re.compile(r"(?P<words>.+?)\s*[(\[{](?P<inner>[^()\[\]{}]*(?:\([^()]*\)[^()\[\]{}]*)?)[)\]}]")
COVERAGE = re.compile(r"[(\[,;\s]*\bk\s*=\s*(\d+(?:\.\d+)?)[)\]]?")
LONGEST = 200  # characters: a longer text is no heading
UNCERTAINTY_WORDS = r"(?P<kind>expanded|standard)?\s*(?P<relative>relative)?\s*uncertainty"
UNCERTAINTIES = (
    re.compile(r"(?P<letter>[Uu])(?P<relative>_?rel)?\s*\((?P<of>[^()]*(?:\([^()]*\)[^()]*)*)\)"),
    re.compile(r"(?P<letter>U)(?P<relative>_?rel)?[ _](?P<of>.+)"),
    re.compile(rf"{UNCERTAINTY_WORDS}\s+(?:of|in|for)?\s*(?P<of>.+)", re.IGNORECASE),
    re.compile(rf"(?P<of>.+?)[\s,]+{UNCERTAINTY_WORDS}", re.IGNORECASE),
)
FACTOR_OF = re.compile(r"k\s*\((?P<of>[^()]*(?:\([^()]*\)[^()]*)*)\)")
EDITION = re.compile(
    r"\b(?:ANSI[/ ]?)?(?:IES[ -]?)?(?:(TM)-?(30)(-\d\d)?|(CIE) ?(224|13\.3)([:-]\d{4})?)(?![\d.])", re.IGNORECASE
)
# Regulation (EU) 2019/2015, Annex V: "..., expressed in W", "... in W", "..., rounded to the nearest 100 K".
EXPRESSED = re.compile(r"(?P<words>.+?),? (?:expressed )?in (?P<unit>\S+)", re.IGNORECASE)
ROUNDED = re.compile(r",? rounded to .+", re.IGNORECASE)
PAIR = re.compile(
    r"(?:[^()\[\]]*(?:chroma|colou?r|coord|CIE|farb|色)[^()\[\]]*[\s(\[])?[(\[]?"
    r"(?:(x) ?(?:,|/|;|&|and) ?(y)|(u'?) ?(?:,|/|;|&|and) ?(v'?))[)\]]?",
    re.IGNORECASE,
)
FOOTNOTE = re.compile(r"\s*(?:[*†‡]+|[¹²³⁴-⁹]+\))$")
LIFE = re.compile(
    r"(?P<calculated>calculated\s+)?(?:reported\s+)?(?P<definition>L\d{2}(?:B\d{1,2})?(?:[CF]\d{1,2})?)"
    r"(?:\s*\(\d+\s?k\))?\s*(?:life|lifetime|hours)?",
    re.IGNORECASE,
)
STATISTIC_WORD = (
    "rated|nominal(?:es|e)?|nom|declared|claimed|target|typical|typ|average|avg|mean|median|min(?:imum)?|max(?:imum)?"
)
STATISTICS = (
    re.compile(rf"(?P<word>{STATISTIC_WORD})\.?\s+(?P<of>.+)", re.IGNORECASE),
    re.compile(rf"(?P<of>.+?)\s*[(\s](?P<word>{STATISTIC_WORD})\.?\)?", re.IGNORECASE),
    re.compile(r"(?P<word>Nenn|Bemessungs)-?(?P<of>\w.+)", re.IGNORECASE),
)
HARMLESS = re.compile(r"\b(?:as )?(?:measured|tested|actual|reported|initial)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Meaning:
    """What a heading stands for. `role` is one of the constants above; `unit` the house unit of the target."""

    role: str
    target: str = ""
    unit: str = ""
    conversion: Conversion = IDENTITY
    spelled_unit: str = ""  # the unit that the heading states
    definition: str = ""
    kind: str = ""  # of control, where the heading names it
    relative: bool = False  # an uncertainty in per cent of the value
    coverage: float = HOUSE_K  # k of an uncertainty, in a column of its own or behind the values
    candidates: tuple[str, ...] = ()  # the readings that its words allow, for a person
    targets: tuple[str, ...] = ()  # and the targets among them
    why: str = ""  # why a heading that was recognised can't be used
    choices: tuple[str, ...] = ()  # the meanings that a line of columns.toml may give it
    settled: str = ""  # which rule settled a heading that was open, in words for a person
    answer: str = ""  # the heading in columns.toml by which a person settled it

    @property
    def number(self) -> bool:
        """Whether the cells under this heading are numbers."""
        return self.role in (READING, UNCERTAINTY, COVERAGE_FACTOR) or POINT_FIELDS.get(self.target) == NUMBER

    @functools.cached_property
    def per_cent(self) -> bool:
        """Whether a bare number under this heading is one of per cent."""
        return fold_unit(self.spelled_unit or self.unit) == "%"

    @property
    def open(self) -> bool:
        """Whether a person has to say what it means before it can be used."""
        return self.role in (AMBIGUOUS, REFUSED)


@functools.lru_cache(maxsize=16_384)
def fold(text: str) -> str:
    """Return a heading without blanks, dashes and brackets and with one form of every look-alike; case is kept."""
    return SEPARATORS.sub("", unicodedata.normalize("NFKC", text.translate(LOOKALIKES)))


def fold_case(text: str) -> str:
    """Return a heading folded in case too, but for coordinates that stand alone: Y is no y, U no u."""
    parts = COORDINATE.split(unicodedata.normalize("NFKC", text.translate(LOOKALIKES)))
    return SEPARATORS.sub("", "".join(part if index % 2 else part.casefold() for index, part in enumerate(parts)))


def house_unit(target: str) -> str:
    """Return the unit that values of this target are kept in, "" for text."""
    known = quantity_register()
    if target in known:
        return known[target].unit
    return "nm" if target == "spd_wavelength" else FIELD_UNITS.get(target, "")


def role_of(target: str) -> str:
    """Return the role of a vocabulary target; LookupError for a target that nothing knows."""
    if target in quantity_register():
        return READING
    if target in POINT_FIELDS:
        return STATE
    if target in DOCUMENT_KEYS:
        return DOCUMENT
    if target == COVERAGE_FACTOR:
        return COVERAGE_FACTOR
    return {"spd_wavelength": WAVELENGTH, "spd_value": SPECTRAL, "listed": LISTED}[target]


@functools.cache
def vocabulary() -> tuple[Mapping[str, tuple[Entry, ...]], Mapping[str, tuple[Entry, ...]]]:
    """Return spelling -> meanings twice: case kept (x is no X), and case folded for all other headings."""
    lines = list(vocabulary_lines())
    for quantity in quantity_register().values():
        lines += [(spelling, Entry(quantity.name)) for spelling in (quantity.name, quantity.symbol, quantity.title)]
    lines += [(field, Entry(field)) for field in POINT_FIELDS]
    exact: dict[str, dict[str, Entry]] = {}
    folded: dict[str, dict[str, Entry]] = {}
    for spelling, entry in lines:
        if key := fold(spelling):
            exact.setdefault(key, {}).setdefault(entry.target, entry)
            folded.setdefault(fold_case(spelling), {}).setdefault(entry.target, entry)
    return _frozen(exact), _frozen(folded)


def _frozen(table: Mapping[str, Mapping[str, Entry]]) -> dict[str, tuple[Entry, ...]]:
    return {key: tuple(found.values()) for key, found in table.items()}


def lookup(words: str) -> tuple[Entry, ...]:
    """Return the meanings of these words, several where the words alone don't settle it."""
    exact, folded = vocabulary()
    return exact.get(fold(words)) or folded.get(fold_case(words), ())


@functools.lru_cache(maxsize=16_384)
def resolve(heading: str, layout: str = COLUMN) -> Meaning:
    """Return what a heading means. See LAYOUT_MEANS for `layout`."""
    if len(heading) > LONGEST:
        return Meaning(UNKNOWN)
    text = " ".join(heading.translate(FULL_WIDTH).split())
    coverage = COVERAGE.search(text)
    bare = (text[: coverage.start()] + text[coverage.end() :]).strip() if coverage else text
    bare = FOOTNOTE.sub("", ROUNDED.sub("", bare))
    if (factor := FACTOR_OF.fullmatch(bare)) and (of := _plain(factor["of"], COLUMN)).role == READING:
        return Meaning(COVERAGE_FACTOR, of.target)
    found = _uncertainty(bare, float(coverage[1]) if coverage else 0.0) or _plain(bare, layout)
    pair = PAIR.fullmatch(bare.translate(LOOKALIKES)) if found.role in (UNKNOWN, REFUSED) else None
    if coverage and found.role == READING:
        return replace(found, coverage=float(coverage[1]))
    return _paired(*filter(None, pair.groups())) if pair else found


def _paired(first: str, second: str) -> Meaning:
    """Two coordinates in one cell; a pair of u, v without primes doesn't say which diagram it belongs to."""
    targets = {"x": "x", "y": "y", "u'": "u_prime", "v'": "v_prime"}
    found = tuple(targets.get(name, "") for name in (first, second))
    return Meaning(PAIRED, targets=found) if all(found) else Meaning(UNKNOWN)


def resolve_answer(answer: str) -> Meaning:
    """Return the meaning that a line of columns.toml gives: a name of the register or a field, with or without unit.

    The words of a heading will do too, if they mean one thing. Raises ValueError, with the nearest name, otherwise.
    """
    if answer.casefold() == IGNORE:
        return Meaning(LISTED, IGNORE)
    name, bracket, unit = answer.partition("[")
    try:
        found = (
            _choose((Entry(name.strip()),), unit.strip(" ]"), COLUMN)
            if bracket
            else _choose((Entry(answer),), "", COLUMN)
        )
    except LookupError:
        found = resolve(answer)
    if found.role == REFUSED:
        raise ValueError(found.why)
    if found.role not in USED:
        close = nearest(name, quantity_register())
        hint = f"is '{close}' meant? " if close else ""
        raise ValueError(
            f"'{answer[:60]}' means no single quantity or operating-point column: {hint}"
            "`claimlight explain` lists the names"
        )
    return found


def _uncertainty(text: str, coverage: float) -> Meaning | None:
    for words, unit in ((text, ""), *_splits(text)):
        for pattern in UNCERTAINTIES:
            match = pattern.fullmatch(words)
            if not match:
                continue
            parts = match.groupdict()
            of = _plain(f"{parts['of']} [{unit}]" if unit and fold_unit(unit) != "%" else parts["of"], COLUMN)
            if of.role != READING:
                continue
            standard = parts.get("letter") == "u" or (parts.get("kind") or "").lower() == "standard"
            found = replace(of, role=UNCERTAINTY, coverage=coverage or (1.0 if standard else HOUSE_K))
            if parts["relative"]:
                return replace(found, relative=True, spelled_unit="%")
            return _relative(found) if fold_unit(unit) == "%" else found
    return None


def _relative(found: Meaning) -> Meaning:
    """A percentage is relative where the quantity isn't one itself; there it could mean either."""
    if found.unit in ("%", "1", "index"):
        why = "per cent of the value, or percentage points?"
        choices = (f"relative uncertainty of {found.target}", f"uncertainty of {found.target}")
        return replace(found, role=AMBIGUOUS, candidates=choices, choices=choices, why=why)
    return replace(found, relative=True, spelled_unit="%")


def _splits(text: str) -> Iterator[tuple[str, str]]:
    """Yield (words, unit) for each way in which a heading may carry its unit."""
    if match := EXPRESSED.fullmatch(text):
        yield match["words"], match["unit"]
    if match := BRACKETS.fullmatch(text):
        yield match["words"], match["inner"].strip()
    for mark in (" / ", "/", ","):
        words, found, unit = text.partition(mark)
        if found and is_unit(unit):
            yield words.strip(), unit.strip()
    tokens = text.replace("_", " ").split()
    for count in (1, 2):
        unit = " ".join(tokens[-count:])
        if len(tokens) > count and is_unit(unit) and fold_unit(unit) not in ("1", "-", "–"):
            yield " ".join(tokens[:-count]), unit


def _plain(text: str, layout: str) -> Meaning:
    if entries := lookup(text):
        found = _choose(entries, "", layout)
        return replace(found, spelled_unit=text) if found.role == SPECTRAL and is_energy_per_nm(text) else found
    if per_nm := power_per_nm(text):
        return Meaning(SPECTRAL, "spd_value", spelled_unit=per_nm)
    for words, unit in _splits(text):
        if is_unit(unit) and (entries := lookup(words)):
            found = _choose(entries, unit, layout)
            return (_statistic(text, layout) if found.role == REFUSED else None) or found  # min: minutes, or least
    return _with_definition(text, layout) or _statistic(text, layout) or Meaning(UNKNOWN)


def _with_definition(text: str, layout: str) -> Meaning | None:
    """Take away an edition, a definition in brackets, a life's criterion or a harmless word, and look again."""
    if life := LIFE.fullmatch(next((words for words, unit in _splits(text) if is_unit(unit)), text)):
        unit = next((unit for _, unit in _splits(text) if is_unit(unit)), "")
        target = "calculated_life" if life["calculated"] else "lumen_maintenance_life"
        return replace(_choose((Entry(target),), unit, COLUMN), definition=life["definition"].upper())
    if (edition := EDITION.search(text)) and (rest := SEPARATORS.sub(" ", EDITION.sub(" ", text)).strip()):
        year = edition[3] or edition[6]
        name = f"TM-30{year}" if edition[1] else f"CIE {edition[5]}{year}"
        found = _plain(rest, layout)
        return replace(found, definition=name if year else "") if found.role == READING else None
    if (rest := HARMLESS.sub(" ", text).replace("()", "").strip(" ,")) != text and rest:
        return _plain(" ".join(rest.split()), layout)
    match = BRACKETS.fullmatch(text)
    found = _plain(match["words"], layout) if match else Meaning(UNKNOWN)
    if match and found.role == SPECTRAL:
        return replace(found, spelled_unit=match["inner"])
    if not match or found.role not in USED:
        return found if match and found.role in (AMBIGUOUS, LISTED) else None
    known = quantity_register().get(found.target)
    for definition in known.definitions if known else ():
        if fold(definition).casefold() == fold(match["inner"]).casefold():
            return replace(found, definition=definition)
    if not _statistic(text, layout):
        why = f"'{match['inner']}' is neither a unit for it nor a qualifier that is known here"
        return replace(found, role=REFUSED, why=why, choices=(found.target, IGNORE))
    return None


def _statistic(text: str, layout: str) -> Meaning | None:
    """A rated value is a claim and a mean or an extreme no unit's value: recognised, and asked about."""
    match = next(filter(None, (pattern.fullmatch(text) for pattern in STATISTICS)), None)
    found = _plain(match["of"], layout) if match else Meaning(UNKNOWN)
    if not match or found.role != READING:
        return None
    word = match["word"]
    why = f"'{word}' says a rated value or a statistic, which is no measurement of one unit"
    candidates = (f"{word.lower()} value", f"measured {found.target}")
    return replace(found, role=AMBIGUOUS, candidates=candidates, why=why, choices=(found.target, IGNORE))


def _choose(entries: tuple[Entry, ...], unit: str, layout: str) -> Meaning:
    if len(entries) > 1:
        own = LAYOUT_MEANS[layout]
        entries = tuple(entry for entry in entries if entry.target in own) or _settled_by(unit, entries)
    if len(entries) > 1:
        units = ((entry.target, entry.kind or house_unit(entry.target)) for entry in entries)
        candidates = tuple(f"{target} ({unit})".replace(" ()", "") for target, unit in units)
        targets = tuple(entry.target for entry in entries)
        why = "its words have several meanings"
        choices = tuple(dict.fromkeys([*(_choice(entry, unit) for entry in entries), IGNORE]))
        return Meaning(
            AMBIGUOUS, "", spelled_unit=unit, candidates=candidates, targets=targets, why=why, choices=choices
        )
    (target, own_unit, kind) = entries[0]
    if target == "control_value" and unit and not kind and _converts(unit, entries[0]):
        kind = CONTROL_VOLTAGE
    role, house = role_of(target), "V" if VOLTS.search(kind) else house_unit(target)
    meaning = Meaning(role, target, house, spelled_unit=unit or own_unit, kind=kind)
    if role in (LISTED, SPECTRAL):
        return meaning
    if not house:
        return replace(meaning, role=UNKNOWN) if unit and not meaning.number else meaning
    try:
        return replace(meaning, conversion=conversion(unit or own_unit, house))
    except ValueError as error:
        return replace(meaning, role=REFUSED, why=str(error), choices=(f"{target} [{house}]", IGNORE))


def _choice(entry: Entry, unit: str) -> str:
    if entry.target == "listed" or entry.kind:
        return entry.kind or IGNORE
    spelled = unit or entry.unit
    return f"{entry.target} [{spelled}]" if spelled and _converts(spelled, entry) else entry.target


def _settled_by(unit: str, entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Return the entries that the stated unit allows: those of the very unit, else those it converts to."""
    if not unit:
        return entries
    very = tuple(entry for entry in entries if fold_unit(unit) == (entry.unit or house_unit(entry.target)))
    return very or tuple(entry for entry in entries if _converts(unit, entry)) or entries


def _converts(unit: str, entry: Entry) -> bool:
    house = "V" if entry.target == "control_value" else house_unit(entry.target)
    try:
        conversion(unit, house)
    except ValueError:
        return False
    return bool(house)
