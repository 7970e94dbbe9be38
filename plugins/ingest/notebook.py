"""What a reader writes down while it reads: the recorder, and remarks gathered so that one cause is said once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from audit.model import TEST_OBJECTS, Document
from audit.recorder import Recorder
from audit.sheets import Sheet, address, shown_as_per_cent, text_of
from audit.standings import NOT_STATED, STANDINGS

MAX_PLACES = 3
SPLIT = ("standing", "report_number", "laboratory", "sample_origin")  # one document has one of each

STANDING_SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "accredited report": ("accredited", "accredited laboratory", "accredited lab", "accredited test report",
                          "accredited laboratory report", "iso 17025", "iso/iec 17025"),
    "maker's laboratory": ("makers laboratory", "maker's lab", "manufacturer's laboratory", "manufacturer laboratory",
                           "manufacturer's lab", "manufacturer lab", "in-house laboratory", "in-house lab", "in house"),
    "simulation": ("simulated", "calculation", "calculated", "simulation result"),
    "own measurement with a portable instrument": ("own measurement", "portable instrument", "handheld instrument",
                                                   "hand-held instrument", "field measurement", "site measurement"),
    "data sheet": ("datasheet", "cut sheet", "cutsheet", "leaflet", "product information sheet", "spec sheet"),
    NOT_STATED: ("", "unknown", "-", "n/a"),
}  # fmt: skip
TEST_OBJECT_SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "package": ("led package", "led", "packaged led", "led component"),
    "module": ("led module", "led board", "light source module"),
    "light engine": ("led light engine", "engine"),
    "lamp": ("led lamp", "bulb", "retrofit lamp", "integrated lamp", "integrated led lamp"),
    "luminaire": ("led luminaire", "light fixture", "fixture", "luminaires", "light fitting", "fitting"),
}


def plain(text: str) -> str:
    """Return a word with one kind of apostrophe, dash and blank, in lower case."""
    for mark in "’‘`´′":
        text = text.replace(mark, "'")
    return " ".join(text.replace("–", "-").replace("‑", "-").replace("_", " ").casefold().split())


def one_of(text: str, spellings: Mapping[str, Iterable[str]]) -> str | None:
    """Return the word of a closed list that this text spells, or None."""
    wanted = {plain(text), plain(text.partition("(")[0])}  # "accredited report (ISO/IEC 17025)"
    return next((word for word, usual in spellings.items() if word in wanted or wanted & set(usual)), None)


def where(sheet: Sheet, row: int, column: int | None = None) -> str:
    """Return a place in words, from indices that count from 0: sheet 'x', row 12, cell C12."""
    parts = [f"sheet '{sheet.name}'"] if sheet.name else []
    parts.append(f"row {row + 1}")
    if column is not None:
        parts.append(f"cell {address(row, column)}")
    return ", ".join(parts)


class Notebook:
    """A Recorder for the evidence, and the remarks of one document gathered by cause until `close`."""

    def __init__(self, document: Document):
        self.recorder = Recorder(document)
        self._gathered: dict[tuple[str, str, str, str, str], list[str]] = {}
        self._listed: list[str] = []
        self._unknown: list[str] = []
        self._said: dict[str, dict[str, int]] = {}

    def remark(self, rule: str, tier: str, message: str, ask: str, *, subject: str = "", place: str = "") -> None:
        """Keep a remark; remarks that differ only in their place become one observation."""
        self._gathered.setdefault((rule, tier, message, ask, subject), []).append(place)

    def listed(self, heading: str, cell: object, place: str) -> None:
        """A metric that is known but not used."""
        self._listed.append(f"{heading} ({text_of(cell)}; {place})")

    def unknown(self, heading: str, cell: object, place: str) -> None:
        """A heading that nothing here knows, with an example of what stands under it."""
        example = text_of(cell)
        self._unknown.append(f"'{heading or '(no heading)'}' (such as '{example[:40]}'; {place})")

    def document(self, key: str, cell: object, sheet: Sheet, row: int, column: int) -> None:
        """Keep what a document says about itself, once per different value."""
        value = text_of(cell)
        if key == "standing":
            value = self._standing(value, where(sheet, row, column))
        if value and value not in self._said.setdefault(key, {}):
            raw = text_of(cell)
            self._said[key][value] = self.place(sheet, row, column, raw)

    def place(self, sheet: Sheet, row: int, column: int, raw: str) -> int:
        """Return the id of the place of one cell."""
        return self.recorder.place(sheet=sheet.name, row=row + 1, cell=address(row, column), raw=raw)

    def shown_as_per_cent(self, sheet: Sheet, row: int, column: int) -> bool:
        """Whether the document prints the number of this cell in per cent, by its format."""
        return shown_as_per_cent(self.recorder.document, sheet.name, address(row, column))

    def _standing(self, text: str, place: str) -> str:
        word = one_of(text, STANDING_SPELLINGS)
        if word is None:
            self.remark(
                "standing_unknown",
                "major",
                f"the standing '{text}' isn't one of: {', '.join(STANDINGS)}; taken as '{NOT_STATED}'",
                "write one of these words, as far as the document's origin is known",
                subject="standing",
                place=place,
            )
        return word or NOT_STATED

    def test_object(self, text: str) -> str:
        """Return the test object in the words of the closed list. Raises ValueError for any other."""
        word = one_of(text, TEST_OBJECT_SPELLINGS)
        if word is None:
            raise ValueError(f"the test object '{text}' isn't one of: {', '.join(TEST_OBJECTS)}")
        return word

    def close(self) -> None:
        """Turn what was gathered into metadata and observations."""
        for key, values in self._said.items():
            if key in SPLIT and len(values) > 1:
                self.remark(
                    "document_not_one",
                    "major",
                    f"rows of this document differ in {key.replace('_', ' ')} ({', '.join(values)}), which belongs to"
                    " a document as a whole; it's taken as not stated",
                    f"split it into one document for each {key.replace('_', ' ')}",
                    subject=key,
                )
                continue
            for value, place in values.items():
                self.recorder.metadata(key, value, place)
        for (rule, tier, message, ask, subject), places in self._gathered.items():
            shown = "; ".join(dict.fromkeys(place for place in places[:MAX_PLACES] if place))
            more = f" and {len(places) - MAX_PLACES} more" if len(places) > MAX_PLACES else ""
            times = f" ({len(places)} times)" if len(places) > 1 else ""
            self.recorder.observe(
                rule, tier, message + times, ask=ask, subject=subject, place=shown + more, by="tabular"
            )
        self._lists()

    def _lists(self) -> None:
        if self._unknown:
            self.recorder.observe(
                "column_unknown",
                "minor",
                "not read, because their headings aren't known: " + ", ".join(self._unknown),
                ask="if one of them bears on a claim, give it the name of a quantity or of an operating-point column",
                by="tabular",
            )
        if self._listed:
            self.recorder.observe(
                "metrics_listed",
                "note",
                "known, but not used: " + ", ".join(self._listed),
                ask="nothing, unless a claim rests on one of them",
                by="tabular",
            )
