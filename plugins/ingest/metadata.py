"""What a document says about itself: laboratory, accreditation, methods, report number, dates, ambient, standing.

Facts come from keys with values and from free text above tables or in comments. A fact under a key outranks
one found in free text; what a document states once for all rows is used for those rows alone that state nothing
of their own, and said so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from audit.answers import USED, answer_line, question
from audit.numbers import parse_number
from audit.sheets import text_of
from audit.standings import NOT_STATED, STANDINGS
from plugins.ingest import dates, phrases
from plugins.ingest.headings import AMBIGUOUS, DOCUMENT, REPORT, STATE, resolve

if TYPE_CHECKING:
    from plugins.ingest.notebook import Notebook

FILLERS = frozenset({"", "-", "--", "---", "–", "—", "n/a", "n.a.", "na", "unknown", "not stated", "tbd", "?"})
LONGEST_TEXT = 2000  # characters: a longer text is no header line
SEGMENTS = re.compile(r"[\n\r\t;|]+|\s{3,}")
KEY_MARK = re.compile(r"\s*[:=]\s*")
AMBIENT = "ambient"
# What a header states of the product and the test is also said of the document as a whole.
STATE_KEYS = {"product": "model", "serial": "serial", "ambient_C": AMBIENT}
# A document has one of each: where it states several, none is used.
SINGLE = ("standing", "report_number", "laboratory", "sample_origin", AMBIENT)
DATE_KEYS = ("date", "date_received", "date_tested", "date_issued", "date_created")
# No metadata but reasons to ask: words of accreditation that say too little, and such that deny it.
HINT, DENIAL = "standing_hint", "standing_denial"

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
    "module": ("led module", "led board", "light source module", "led-modul", "led modul", "modul"),
    "light engine": ("led light engine", "engine"),
    "lamp": (
        "led lamp",
        "bulb",
        "retrofit lamp",
        "integrated lamp",
        "integrated led lamp",
        "lampe",
        "led-lampe",
        "led lampe",
    ),
    "luminaire": (
        "led luminaire",
        "light fixture",
        "fixture",
        "luminaires",
        "light fitting",
        "fitting",
        "leuchte",
        "led-leuchte",
        "led leuchte",
        "leuchten",
    ),
}
STATE_STANDING = (
    f"add a line 'Standing' with one of these: {', '.join(word for word in STANDINGS if word != NOT_STATED)}"
)
MAKERS_OWN = {"maker's laboratory": STANDING_SPELLINGS["maker's laboratory"]}


class Fact(NamedTuple):
    """One thing that a document says about itself. `keyed`: it stands under a key that says what it is."""

    key: str
    value: str
    keyed: bool = True


def plain(text: str) -> str:
    """Return a word with one kind of apostrophe, dash and blank, in lower case."""
    for mark in "’‘`´′":
        text = text.replace(mark, "'")
    return " ".join(text.replace("–", "-").replace("‑", "-").replace("_", " ").casefold().split())


def one_of(text: str, spellings: Mapping[str, Iterable[str]]) -> str | None:
    """Return the word of a closed list that this text spells, or None."""
    wanted = {plain(text), plain(text.partition("(")[0])}  # "accredited report (ISO/IEC 17025)"
    return next((word for word, usual in spellings.items() if word in wanted or wanted & set(usual)), None)


def facts_of_pair(key: str, cell: object) -> list[Fact]:
    """Return what a value says under a key; `key` is a target of the vocabulary (report_number, method ...)."""
    text = " ".join(text_of(cell).split())
    if text.casefold() in FILLERS and key != "standing":  # "not stated" is one of the standings
        return []
    if key == "method":
        return [Fact(key, method) for method in phrases.methods(text)] or [Fact(key, text)]
    if key == "supply":
        return [Fact(key, phrases.supply(text) or text)]
    if key == AMBIENT:
        return [Fact(key, _celsius(phrases.temperature(text)) or text)]
    if key == "report_number" and (not re.search(r"\d", text) or phrases.methods(text)):
        return [Fact("title", text)]  # "Report: LM-79-19 test report" tells no number
    if key == "accreditation":
        return [Fact(key, text), *_accredited(text, keyed=True)]
    if key == "laboratory":
        own = one_of(text, MAKERS_OWN)
        return [Fact(key, text), *([Fact("standing", own, keyed=False)] if own else []), *_accredited(text)]
    return [Fact(key, text)]


def facts_of_text(text: str) -> list[Fact]:
    """Return what free text says: its parts as keys with values, and the phrases that are unambiguous."""
    if len(text) > LONGEST_TEXT:
        return []
    found: list[Fact] = []
    for segment in filter(None, (part.strip() for part in SEGMENTS.split(text))):
        keyed = _keyed(segment)
        said = {fact.key for fact in keyed}
        found += keyed + [fact for fact in _free(segment) if fact.key not in said]
    return list(dict.fromkeys(found))


def _keyed(segment: str) -> list[Fact]:
    """Return the facts of a text such as "Report no.: LR-0431"."""
    mark = KEY_MARK.search(phrases.without_designations(segment))
    if not mark:
        return []
    value, meaning = segment[mark.end() :], resolve(segment[: mark.start()], REPORT)
    if meaning.role == DOCUMENT:
        return facts_of_pair(meaning.target, value)
    if meaning.role == STATE and STATE_KEYS.get(meaning.target) == AMBIENT:
        degrees = phrases.temperature(value if re.search(r"[CF℃℉]", value) else f"{value} {meaning.spelled_unit}")
        return [Fact(AMBIENT, _celsius(degrees))] if degrees is not None else []
    if meaning.role in (STATE, AMBIGUOUS):
        targets = meaning.targets or (meaning.target,)
        return [fact for target in targets if target in STATE_KEYS for fact in facts_of_pair(STATE_KEYS[target], value)]
    return []


def _free(segment: str) -> list[Fact]:
    values = {
        "report_number": phrases.report_number(segment),
        "laboratory": phrases.laboratory_name(segment),
        AMBIENT: _celsius(phrases.ambient(segment)),
        "supply": phrases.supply_used(segment),
    }
    found = [Fact(key, value, keyed=False) for key, value in values.items() if value]
    found += [Fact("method", method, keyed=False) for method in phrases.methods_used(segment)]
    return found + _standing(segment)


def _standing(text: str) -> list[Fact]:
    title = phrases.standing_title(text)
    return [Fact("standing", title, keyed=False)] if title else _accredited(text)


def _accredited(text: str, keyed: bool = False) -> list[Fact]:
    said = phrases.accreditation(text, keyed)
    if said == phrases.CLAIMED:
        return [Fact("accreditation", text, keyed=False), Fact("standing", "accredited report", keyed=False)]
    return [Fact({phrases.HINTED: HINT, phrases.DENIED: DENIAL}[said], text)] if said else []


def _celsius(degrees: float | None) -> str:
    return "" if degrees is None else f"{degrees:g} °C"


class Statements:
    """The facts of one document, each value once with its place, until they are settled."""

    def __init__(self) -> None:
        self._said: dict[str, dict[str, tuple[int, str, bool]]] = {}  # key -> value -> place, its words, keyed

    def add(self, fact: Fact, place: int, words: str) -> None:
        """Keep a fact; `place` is the id of its place, `words` the place as a person says it."""
        values = self._said.setdefault(fact.key, {})
        if fact.value and (fact.value not in values or (fact.keyed and not values[fact.value][2])):
            values[fact.value] = (place, words, fact.keyed)

    def settle(self, notebook: Notebook) -> None:
        """Write what is settled into the metadata, use the ambient, and remark on what is open."""
        hints, denials = self._said.pop(HINT, {}), self._said.pop(DENIAL, {})
        self._settle_dates(notebook)
        self._settle_methods()
        self._settle_standing(notebook, hints, denials)
        for key, values in self._said.items():
            keyed = {value: place for value, place in values.items() if place[2]}
            chosen = keyed or values
            if key in SINGLE and len(chosen) > 1:
                _differ(notebook, key, chosen, bool(keyed))
                if key != "standing" or not (kept := _proves_nothing(chosen)):
                    continue
                chosen = {kept: chosen[kept]}
            for value, (place, _, _) in chosen.items():
                notebook.recorder.metadata(key, value, place)
            if key == AMBIENT:
                _use_ambient(notebook, *chosen.items())

    def _settle_methods(self) -> None:
        """A method without its edition is the same one that is named with it elsewhere."""
        values = self._said.get("method", {})
        full = {phrases.without_edition(value) for value in values if phrases.without_edition(value) != value}
        self._said["method"] = {value: place for value, place in values.items() if value not in full}

    def _settle_dates(self, notebook: Notebook) -> None:
        document = notebook.recorder.document
        raw = {key: self._said[key] for key in DATE_KEYS if key in self._said}
        answer = document.answers.get("dates", "")
        order = answer or dates.order_of(value for values in raw.values() for value in values)
        for key, values in raw.items():
            self._said[key] = {dates.settled(value, order) or value: place for value, place in values.items()}
            open_ones = {value: place for value, place in values.items() if dates.open_readings(value)}
            if not open_ones:
                continue
            value, (place, words, _) = next(iter(open_ones.items()))
            if answer:
                notebook.recorder.metadata(USED, answer_line("dates", answer), place)
            elif not order:
                readings = " or ".join(dates.open_readings(value))
                lines = [answer_line("dates", each) for each in dates.ORDERS]
                notebook.remark(
                    "date_ambiguous",
                    "minor",
                    f"{key.replace('_', ' ')} '{value}' may be {readings}: kept as it stands",
                    question(document, lines),
                    subject=key,
                    place=words,
                )

    def _settle_standing(self, notebook: Notebook, hints: Mapping[str, Any], denials: Mapping[str, Any]) -> None:
        values = self._said.setdefault("standing", {})
        keyed = {value for value, place in values.items() if place[2]}
        inferred = [value for value in values if value not in keyed and not (denials and value == "accredited report")]
        unclear = denials or hints
        if not keyed:
            self._said["standing"] = {value: values[value] for value in inferred}
        if len(inferred) == 1 and not keyed:
            _, words, _ = values[inferred[0]]
            message = f"its wording says that it is this: {inferred[0]}; its standing is taken from that"
            notebook.remark("standing_from_wording", "note", message, "nothing, if that is right", place=words)
        elif not inferred and not keyed and unclear:
            text, (_, words, _) = next(iter(unclear.items()))
            message = f"'{text[:120]}' doesn't make this an accredited report: its standing is '{NOT_STATED}'"
            notebook.remark("standing_unclear", "minor", message, STATE_STANDING, subject="standing", place=words)
        elif keyed and (others := set(inferred) - keyed):
            message = f"the standing stated is {', '.join(keyed)}, but its wording says {', '.join(sorted(others))}"
            place = values[inferred[0]][1]
            notebook.remark("standing_unclear", "minor", message, STATE_STANDING, subject="standing", place=place)


def _differ(notebook: Notebook, key: str, values: Mapping[str, tuple[int, str, bool]], keyed: bool) -> None:
    name = key.replace("_", " ")
    if key == AMBIENT:  # every row keeps what its own header states
        if count := notebook.recorder.unstated("ambient_C"):
            message = f"{count} operating point(s) have no ambient: the document states several ({', '.join(values)})"
            ask = "add a column 'ambient_C' to the table that states none"
            places = "; ".join(words for _, words, _ in values.values())
            notebook.remark("ambient_unclear", "minor", message, ask, subject="ambient_C", place=places)
        return
    kept = _proves_nothing(values) if key == "standing" else ""
    taken = f"'{kept}', so that nothing in it is evidence" if kept else NOT_STATED
    shown = ", ".join(value[:60] for value in list(values)[:5]) + (" ..." if len(values) > 5 else "")
    notebook.remark(
        "document_not_one",
        "major" if keyed or kept else "minor",
        f"this document states more than one {name} ({shown}), which belongs to a document as a whole;"
        f" it's taken as {taken}",
        f"split it into one document for each {name}",
        subject=key,
        place="; ".join(words for _, words, _ in list(values.values())[:5]),
    )


def _proves_nothing(standings: Iterable[str]) -> str:
    """Return the first standing that is no evidence (data sheet, simulation): its rows must not pass as measured."""
    return next((word for word in standings if word in STANDINGS and not STANDINGS[word].bears), "")


def _use_ambient(notebook: Notebook, stated: tuple[str, tuple[int, str, bool]]) -> None:
    """Give the ambient that a document states once to the operating points that state none."""
    value, (_, words, _) = stated
    printed = parse_number(value.removesuffix(" °C"))
    count = notebook.recorder.fill("ambient_C", printed.value) if printed else 0
    if count:
        message = f"the ambient of {value} stated for the document is used for {count} operating point(s) without one"
        notebook.remark("ambient_from_header", "note", message, "nothing, if it holds for them all", place=words)
