"""Phrases by which a report speaks of itself: methods and editions, accreditation, ambient, supply, laboratory.

Each function takes a text and returns what it says, or nothing. Nothing is concluded from a word alone:
"ISO/IEC 17025" doesn't make a report an accredited one, and a rated ambient isn't the one of the test.

Methods are written in one way ("ANSI/IES LM-79-19"), so that editions can be compared; how each was spelled
stays in its place. Source of the names: the designations that the standards bear (ANSI/IES LM-79-19,
CIE S 025/E:2015, EN 13032-4:2015+A1:2019, CIE 13.3-1995); status of the habits of writing them: MEMORY.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from audit.numbers import parse_number
from audit.units import conversion

IES = re.compile(
    r"\b(?:ANSI\s*/?\s*)?(?:IES(?:NA)?[\s-]*)?(LM|TM)[-‐‑–\s]?(79|80|82|84|85|21|28|30)"
    r"(?:\s?[-‐‑–:]\s?(?:20)?(\d\d)|\s20(\d\d))?(?![\d.]|-\d)",
    re.IGNORECASE,
)
CIE = re.compile(
    r"\bCIE\s*(S\s*02[56]|13\.3|15|84|121|127|177|224)(?:\s*/\s*E)?(?:\s*[:-]\s*(\d{4}))?(?![\d.])", re.IGNORECASE
)
EUROPEAN = re.compile(
    r"\b(?:(?:BS|DIN|NF|UNE|NEN|CEI)\s+)?(EN\s+IEC|IEC\s*/?\s*T[RS]|IEC|EN)\s*"
    r"(13032-\d|6\d{4}(?:-\d+)*)(?:\s*[:-]\s*(\d{4}))?(?:\s*\+\s*A(\d)(?::(\d{4}))?)?(?![\d.])",
    re.IGNORECASE,
)
# Free text names the method that was used where it says so, or where it holds nothing but methods.
USED = re.compile(
    r"\b(?:accord\w*|acc|per|to|methods?|standards?|procedure|tested|measured|report|nach|gemäß)\b", re.IGNORECASE
)
NOT_USED = re.compile(r"\b(?:not|no|without|deviat\w*|except\w*|see|refer|unlike|instead|nicht)\b", re.IGNORECASE)

# What is all that a cell says settles the standing; the same words inside a sentence don't.
STANDING_TITLES: Mapping[str, re.Pattern[str]] = {
    "accredited report": re.compile(r"accredited\s+(?:laboratory\s+)?(?:test\s+)?report", re.IGNORECASE),
    "simulation": re.compile(
        r"(?:(?:optical|photometric|ray[- ]?tracing|lighting)\s+)?simulation(?:\s+(?:report|results?|data))?"
        r"|simulated\s+(?:values?|data|results?|photometry)(?:,?\s*not\s+measured)?"
        r"|(?:all\s+)?values\s+(?:are\s+)?(?:simulated|from\s+simulation)(?:,?\s*not\s+measured)?",
        re.IGNORECASE,
    ),
    "data sheet": re.compile(
        r"(?:product|technical)\s+data\s?sheet|cut\s?sheet|product\s+information\s+sheet"
        r"|(?:product\s+)?specification\s+sheet|technisches\s+datenblatt",
        re.IGNORECASE,
    ),
}
CLAIMED, HINTED, DENIED = "claimed", "hinted", "denied"
ACCREDITED = re.compile(r"\baccredit(?:ed|ation)\b|\bakkreditiert", re.IGNORECASE)
ISO_17025 = re.compile(r"\bISO(?:\s*/\s*IEC)?[\s/-]*17025\b", re.IGNORECASE)
NUMBERED = re.compile(r"\b(?:no|nr|number|certificate|id)\b\.?\s*[:#]?\s*\S*\d", re.IGNORECASE)
DENIES = re.compile(
    r"\b(?:not|non|no accreditation|none|without|outside|beyond|except\w*|excluded|pending|applied|expired|withdrawn"
    r"|suspended|nicht)\b",
    re.IGNORECASE,
)

NUMBER = r"[+\-−]?\d+(?:[.,]\d+)?"
MORE_OR_LESS = r"(?:\s*(?:±|\+/-|\+-)\s*\d+(?:[.,]\d+)?)?"
CELSIUS, FAHRENHEIT = r"°\s*C|℃|deg(?:rees?)?\.?\s*C(?:elsius)?|C", r"°\s*F|℉|deg(?:rees?)?\.?\s*F(?:ahrenheit)?"
TEMPERATURE = rf"\(?\s*({NUMBER}){MORE_OR_LESS}\s*\)?\s*(?:({CELSIUS})|({FAHRENHEIT}))(?!\w){MORE_OR_LESS}"
AMBIENT = re.compile(
    r"(?:\bambient(?:\s+air)?(?:\s+temp(?:erature\b|\.)?)?|\broom\s+temp(?:erature\b|\.)?|\b(?-i:T_?a(?:mb)?)\b)"
    rf"\s*(?:of|at|was|is|:|=|,)?\s*{TEMPERATURE}",
    re.IGNORECASE,
)
# The marking ta, a rating, a range and a limit are not what the laboratory's room had.
NO_AMBIENT = re.compile(
    r"\b(?:rated|max\w*|min\w*|operating|operation|storage|range|up|from|between|case|suitable|for\s+use)\b|\.\.|…",
    re.IGNORECASE,
)

SUPPLY = re.compile(
    r"(?P<volts>\d+(?:[.,]\d+)?)\s*V\s*(?P<kind>AC|DC|~)?(?:[\s,/@;]*(?:at\s+)?(?P<hertz>\d+(?:[.,]\d+)?)\s*Hz)?",
    re.IGNORECASE,
)
NO_SUPPLY = re.compile(r"\b(?:rated|range)\b|\d\s*(?:-|–|to|/|…|\.\.+)\s*\d+\s*V", re.IGNORECASE)
SUPPLIED = re.compile(r"\b(?:supply|supplied|mains|powered|test\s+voltage|(?:tested|operated)\s+at)\b", re.IGNORECASE)

REPORT_NUMBER = re.compile(
    r"(?:test\s+)?report\s*(?:no\b\.?|number\b|nr\b\.?|#|id\b|ref(?:erence)?\b\.?)\s*[:#]?\s*"
    r"(?P<number>[^\W_](?:[\w./-]*[^\W_])?(?: \d[\w./-]*)?)(?:\s+(?:dated|of|,).*)?",
    re.IGNORECASE,
)

LABORATORY = re.compile(r"\b(?:laborator(?:y|ies)|labs?|prüflabor|laboratoire)\b", re.IGNORECASE)
LONGEST_NAME = 80
# A cell of these words alone names no laboratory; one of the others speaks of something else.
GENERIC = frozenset(
    {"a", "an", "the", "of", "for", "and", "&", "our", "test", "testing", "tested", "photometric", "photometry",
     "lighting", "light", "optical", "optics", "colour", "color", "laboratory", "laboratories", "lab", "labs",
     "prüflabor", "laboratoire", "independent", "accredited", "third-party", "report"}
)  # fmt: skip
NO_NAME = frozenset(
    {"temperature", "humidity", "conditions", "ambient", "sample", "samples", "data", "instrument", "by", "at", "in",
     "is", "was", "not", "signature", "head", "see", "manager", "engineer", "standard", "room", "stamp"}
)  # fmt: skip


def methods(text: str) -> list[str]:
    """Return the methods and editions that a text names, in one way of writing; without edition if none stands."""
    return list(dict.fromkeys(name for _, name in sorted(_methods(text))))


def _methods(text: str) -> Iterator[tuple[int, str]]:
    for match in IES.finditer(text):
        edition = match[3] or match[4]
        yield match.start(), f"ANSI/IES {match[1].upper()}-{match[2]}" + (f"-{edition}" if edition else "")
    for match in CIE.finditer(text):
        name = " ".join(match[1].upper().replace("S0", "S 0").split())
        mark = "/E:" if name.startswith("S") else "-" if name == "13.3" else ":"
        yield match.start(), f"CIE {name}" + (f"{mark}{match[2]}" if match[2] else "")
    for match in EUROPEAN.finditer(text):
        body = " ".join(match[1].upper().replace("/", " ").split())
        amendment = (f"+A{match[4]}" + (f":{match[5]}" if match[5] else "")) if match[4] else ""
        yield match.start(), f"{body} {match[2]}" + (f":{match[3]}" if match[3] else "") + amendment


def methods_used(text: str) -> list[str]:
    """Return the methods that a free text says were used; [] where it only mentions or excludes them."""
    found = methods(text)
    if not found or NOT_USED.search(text):
        return []
    rest = text
    for pattern in (IES, CIE, EUROPEAN):
        rest = pattern.sub(" ", rest)
    return found if USED.search(rest) or not re.search(r"\w", rest.replace("and", "")) else []


def without_designations(text: str) -> str:
    """Return a text of the same length with the names of methods blotted out: the colon in S 025/E:2015 ends no key."""
    for pattern in (IES, CIE, EUROPEAN):
        text = pattern.sub(lambda match: "·" * len(match[0]), text)
    return text


def without_edition(method: str) -> str:
    """Return the method that a name with or without its edition stands for."""
    return re.sub(r"(?<=LM-\d\d)-\d\d$|(?<=TM-\d\d)-\d\d$|(?:/E)?:\d{4}.*$|(?<=13\.3)-\d{4}$", "", method)


def standing_title(text: str) -> str:
    """Return the standing that a text states by being its title, "" for any other text."""
    bare = text.strip(" .:")
    return next((standing for standing, title in STANDING_TITLES.items() if title.fullmatch(bare)), "")


def accreditation(text: str, keyed: bool = False) -> str:
    """Return whether a text claims accreditation for the laboratory, only hints at it, denies it, or is silent.

    `keyed`: the text stands under a key that says "accreditation".
    """
    named = ISO_17025.search(text)
    if not keyed and not ACCREDITED.search(text):
        return HINTED if named else ""
    if DENIES.search(text) or text.strip().casefold() in ("no", "none"):
        return DENIED
    return CLAIMED if named or NUMBERED.search(text) or (keyed and re.search(r"\d", text)) else HINTED


def temperature(text: str) -> float | None:
    """Return the one temperature that a text is, in °C; a tolerance beside it is left out."""
    match = re.fullmatch(TEMPERATURE, text.strip(), re.IGNORECASE)
    return _celsius(match[1], bool(match[3])) if match else None


def ambient(text: str) -> float | None:
    """Return the ambient temperature of a test that a free text states, in °C; None for ratings and ranges."""
    match = AMBIENT.search(text)
    return _celsius(match[1], bool(match[3])) if match and not NO_AMBIENT.search(text) else None


def _celsius(number: str, fahrenheit: bool) -> float | None:
    printed = parse_number(number.replace(",", "."))
    if printed is None:
        return None
    return round(conversion("°F", "°C").apply(printed.value), 6) if fahrenheit else printed.value


def supply(text: str) -> str:
    """Return a supply of one voltage as "230 V AC, 50 Hz", "" where a text is anything else (a range, two)."""
    match = SUPPLY.fullmatch(text.strip(" .()"))
    return _supply(match) if match else ""


def supply_used(text: str) -> str:
    """Return the supply that a free text says the test had, "" for ratings and ranges."""
    found = list(SUPPLY.finditer(text))
    usable = len(found) == 1 and SUPPLIED.search(text) and not NO_SUPPLY.search(text)
    return _supply(found[0]) if usable else ""


def _supply(match: re.Match[str]) -> str:
    kind = (match["kind"] or "").upper().replace("~", "AC")
    volts = f"{match['volts'].replace(',', '.')} V" + (f" {kind}" if kind else "")
    return volts + (f", {match['hertz'].replace(',', '.')} Hz" if match["hertz"] else "")


def report_number(text: str) -> str:
    """Return the number in a cell that says "Report no. LR-0431", "" for a sentence that mentions a report."""
    match = REPORT_NUMBER.fullmatch(text.strip())
    return match["number"] if match and re.search(r"\d", match["number"]) else ""


def laboratory_name(text: str) -> str:
    """Return a cell that is a laboratory's name ("Fenside Photometric Laboratory"), "" for any other text."""
    words = text.replace(",", " ").replace("(", " ").replace(")", " ").casefold().split()
    named = [word for word in words if word not in GENERIC]
    if not named or len(text) > LONGEST_NAME or len(words) > 8 or re.search(r"[\d:;?!=|]", text):
        return ""
    capital = any(word[0].isupper() for word in text.split() if word.casefold() in named)
    return text.strip() if LABORATORY.search(text) and capital and not NO_NAME & set(words) else ""
