"""Words that state an operating point where a heading or a cell should: `3000K 50%`, `1000 h`, `unit 3`, `Average`.

They stand in headings, in the first cells of rows, in titles above a table, in names of sheets and files.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from audit.model import NUMBER, POINT_FIELDS
from plugins.ingest.headings import READING, resolve

# Rows and columns that sum up others are no unit's measurement.
SUMMARIES = frozenset({"average", "avg", "avg.", "ave", "ave.", "mean", "median", "med", "med.", "min", "min.",
                       "minimum", "max", "max.", "maximum", "sd", "s.d.", "std", "std.", "std dev", "std. dev.",
                       "std.dev.", "std deviation", "stdev", "stdev.", "stdev.s", "stdev.p", "stddev",
                       "standard deviation", "σ", "sigma", "cv", "cov", "rsd", "sum", "total", "spread", "range",
                       "count", "mittelwert", "mittel", "streuung", "standardabweichung", "moyenne", "écart type",
                       "écart-type", "media", "promedio", "desviación", "mediana", "gemiddelde", "x̄", "平均", "平均值",
                       "最大", "最小", "最大值", "最小值", "标准差"})  # fmt: skip
POINTED = re.compile(r"[\s._:-]+")  # Std. Dev., Std.Dev and std_dev are one word
BARE_SUMMARIES = frozenset(POINTED.sub("", word) for word in SUMMARIES)
# Columns and rows that are no measurement: what somebody wished, declared or decided.
CLAIMED = re.compile(
    r"\b(?:rated|nominal|nom|target|limits?|spec(?:ification)?s?|typ(?:ical)?|declared|claimed|required?|requirements?|"
    r"tolerances?|design|catalogu?e|data ?sheet|pass|fail|verdict|criteri(?:on|a)|deviation|difference|delta|change|"
    r"uncertainty|warranty|humidity|thd|u95|soll|sollwert|nennwert)\b",
    re.IGNORECASE,
)
UNCERTAIN = re.compile(r"±.*|[uU]_?(?:95)?\s*(?:\([^()]*(?:k\s*=|%)[^()]*\)|\[%\]|,?\s*k\s*=.*)|U_?95|.*\bk\s*=\s*\d.*")
MEASURED = frozenset({"measured", "measurement", "result", "results", "value", "values", "tested", "test result",
                      "actual", "measured value", "test value", "reading", "messwert", "wert", "ist", "istwert",
                      "valeur", "valor", "valore", "waarde", "测量值", "实测值"})  # fmt: skip
# Headings of what labels such as 3000K/50% stand for.
SETTING_HEADS = frozenset({"setting", "settings", "condition", "conditions", "test condition", "state",
                           "operating point", "einstellung", "einstellungen", "betriebspunkt", "réglage"})  # fmt: skip
# Headings of the column that holds row labels, or the corner of a table with quantities down: they say nothing.
CORNERS = frozenset({"", "parameter", "parameters", "quantity", "quantities", "item", "property", "characteristic",
                     "metric", "test item", "test parameter", "description", "symbol", "größe", "messgröße", "grösse",
                     "messgrösse", "grandeur", "paramètre", "parámetro", "magnitud", "parametro", "grootheid", "参数",
                     "项目", "measurement", "name", "label", "sample / parameter", "parameter / sample",
                     *SETTING_HEADS})  # fmt: skip
UNIT_HEADINGS = frozenset({"unit", "units", "unit of measurement", "unit of measure", "einheit", "unité", "unités",
                           "unidad", "unidades", "unità", "eenheid", "单位", "[unit]", "dimension"})  # fmt: skip

NUMERAL = r"(\d{1,3}(?:[,.'’    ]\d{3})+|\d+(?:[.,]\d+)?)"
TEMPERATURE = r"[\s_:=@]*(?:temperature|temp\.?)?[\s:=@]*(-?\d+(?:[.,]\d+)?)\s*(?:°\s*C|℃|ºC|deg\s?C|C)\b"
SETTINGS = (
    ("ambient_C", re.compile(rf"\b(?:t_?a|t_?amb|ambient){TEMPERATURE}", re.IGNORECASE)),
    ("case_C", re.compile(rf"\b(?:t_?sp?|t_?c|tmp|case|solder(?: point)?){TEMPERATURE}", re.IGNORECASE)),
    ("cct_setting_K", re.compile(r"(?<![\w.,±])(\d{1,2}[ ,.]\d{3}|\d{4,5})\s*(?:K|kelvin)\b")),
    ("level_percent", re.compile(r"(?<![\w.,±])(\d{1,3}(?:[.,]\d+)?)\s*(?:%|percent\b|per cent\b|pct\b)")),
    ("hours", re.compile(rf"(?<![\w.,±]){NUMERAL}\s*(k?)(?:h(?:rs?|ours?)?\b\.?|Std\b\.?)", re.IGNORECASE)),
    ("drive_mA", re.compile(r"(?<![\w.,±])(\d+(?:[.,]\d+)?)\s*mA\b")),
)
TOKEN = re.compile(r"\{(\w+)=([^{}]*)\}")  # see field_token
LEAST_K, MOST_K, STEP_K = 1000.0, 20_000.0, 50.0  # settings are round; 3262 K is a measured value
MOST_PERCENT = 100.0
SERIAL_WORDS = (
    r"unit|sample|specimen|serial(?:\s*(?:no|number|nr)\b\.?)?|dut|s/n|sn|luminaire|lamp|module|prüfling|muster|led|"
    r"éch(?:antillon)?|muestra|campione|样品"
)
SERIAL = re.compile(
    rf"(?:\b|_)(?:{SERIAL_WORDS})(?:[\s:#._№-]+(?:n[or](?![\w-])\.?|#)?\s*|(?=\d))([A-Za-z]{{0,5}}[-_/]?\d[\w/-]*|(?-i:[A-Z]))(?!\w)",
    re.IGNORECASE,
)
IDENTIFIER = re.compile(r"#?\s*(?=[\w/.-]*\d)[A-Za-z]{0,6}[\w/-]{0,16}|[A-Z]")
MOST_WORDS = 3  # beside the settings: a longer line is prose
PROSE = re.compile(r"\d\s*%|[±<>=≤≥]")
PREFIX = re.compile(
    r"^(?:(?:table|tab\.?|figure|fig\.?|tabelle|tableau|tabla|annex|appendix)\s*[\w.]{1,5}\s*[:.–-]?|"
    r"\d+(?:\.\d+)+[.)]?|\d+[.)])\s+",
    re.IGNORECASE,
)
SUFFIX = re.compile(
    r"[\s,]*(?:\b(?:over|against|versus|vs\.?|by|per|of (?:each|the|all)|for (?:each|the|all)|during|in|after|at)\b.*|"
    r"\((?:n|N)\s*=\s*\d+\))$",
    re.IGNORECASE,
)
SPECTRAL_UNIT = re.compile(r"\s*[\[(]([^\[\]()]*/\s*nm[^\[\]()]*|[^\[\]()]*nm-1)[\])]\s*$", re.IGNORECASE)
SERIAL_WORD = re.compile(r"^(?:unit|sample|specimen|serial|dut|no\.?|s/n|sn|#)[\s:#.]+", re.IGNORECASE)
FILLERS = re.compile(
    r"\b(?:after|at|set(?:ting)?|to|level|cct|dimm(?:ed|ing)?|dim|output|full|initial|aged|ageing|aging|and|with|for|of|"
    r"ts|tc|ta|if|i_?f|time|t|nach|bei|après|à|table|tab|test|point|set|data|results?|measurements?|report|photometry|"
    r"photometric|colou?r|colorimetric|electrical|spectr(?:um|a|al)|part|sheet|page|step|position|channel)\b|[@,;:=()\[\]/|_–—-]",
    re.IGNORECASE,
)
NO_LIGHT = re.compile(
    r"(?:reflect(?:ance|ivity|ion)s?|transmi(?:ttance|ssion)s?|absor(?:bance|ptance|ption)|remission\w*|reflexion\w*|"
    r"réflectance|reflectancia|colou?r[- ]matching functions?|cmfs?|responsivit(?:y|ies)|sensitivit(?:y|ies))\b",
    re.IGNORECASE,
)
LEADS = re.compile(r"(?:(?<![a-z])(?:at|after|bei|nach|après|tras|dopo|na)|@)$", re.IGNORECASE)
START = frozenset({"initial", "start", "new", "initially", "anfang", "neu", "inicial", "iniziale", "初始"})


@dataclass(frozen=True)
class Label:
    """What a text states: operating-point fields, and the words that are left over."""

    fields: Mapping[str, Any] = field(default_factory=dict)
    words: str = ""  # the text without its settings: the quantity of "Flux (lm) @ 1000 h"
    rest: str = ""  # the words without fillers such as "after" or "set to"
    marked: bool = False  # whether "at", "@" or "after" leads to the settings

    @property
    def whole(self) -> bool:
        """Whether the text states an operating point and nothing else."""
        return bool(self.fields) and not self.rest


def not_light(text: str) -> str:
    """Return the word by which a text says that spectra are those of a surface or a filter, "" where none does."""
    found = NO_LIGHT.search(text)
    return found[0] if found else ""


@functools.lru_cache(maxsize=65_536)
def is_summary(text: str) -> bool:
    """Whether a label names a statistic of other rows or columns."""
    return POINTED.sub("", text.casefold()) in BARE_SUMMARIES


@functools.lru_cache(maxsize=65_536)
def claims(text: str) -> bool:
    """Whether a label heads what was declared, decided or is uncertain (Rated, Limit, U (k=2)): no unit's name."""
    words = text.split()
    named = any(character.isdigit() for character in text) or len(words) > MOST_WORDS
    return bool(UNCERTAIN.fullmatch(text) or (CLAIMED.search(text) and not named))


def numeral(text: str) -> float:
    """Return a numeral with thousands marks of any habit; three digits after a mark are thousands."""
    if re.fullmatch(r"\d{1,3}(?:[^\d]\d{3})+", text):
        return float(re.sub(r"\D", "", text))
    return float(text.replace(",", "."))


@functools.lru_cache(maxsize=65_536)
def label_of(text: str) -> Label:
    """Return what a label, title or name states: settings by their units, a serial by a word before it."""
    fields: dict[str, Any] = {}
    marked = False
    for target, pattern in (*SETTINGS, ("serial", SERIAL)):
        match = pattern.search(text)
        value = None if match is None else match[1] if target == "serial" else _setting(target, match)
        if match and value is not None:
            fields[target] = value
            before = text[: match.start()].rstrip()
            marked = marked or bool(LEADS.search(before))
            text = f"{LEADS.sub('', before)} {text[match.end() :]}"
    words = " ".join(text.split()).strip(" ,;:|/_–—-@").replace("()", "").strip()
    return Label(fields, words, " ".join(FILLERS.sub(" ", text).split()).strip(" .#"), marked)


def _setting(target: str, match: re.Match[str]) -> float | None:
    value = numeral(match[1])
    if target == "cct_setting_K":
        return value if LEAST_K <= value <= MOST_K and value % STEP_K == 0 else None
    if target == "level_percent":
        return value if value <= MOST_PERCENT else None
    return value * 1000 if target == "hours" and match[2] else value


def field_token(field: str, value: Any) -> str:
    """Return a field that stands in a row of its own above spectra, as a part of their joint heading."""
    return f"{{{field}={value}}}"


def settings_of(heading: str) -> tuple[dict[str, Any], str]:
    """Return the operating point that a spectrum's heading names ("unit 2, 3000 K 50 %"), and its spectral unit.

    What is left beside the settings is the unit's name.
    """
    unit = SPECTRAL_UNIT.search(heading)
    text = heading[: unit.start()] if unit else heading
    fields: dict[str, Any] = {
        name: float(value) if POINT_FIELDS[name] == NUMBER else value
        for name, value in TOKEN.findall(text)
        if name in POINT_FIELDS
    }
    text = TOKEN.sub(" ", text)
    for target, pattern in SETTINGS:
        if (match := pattern.search(text)) and (value := _setting(target, match)) is not None:
            fields[target] = value
            text = f"{LEADS.sub('', text[: match.start()].rstrip())} {text[match.end() :]}"
    serial = SERIAL_WORD.sub("", " ".join(text.replace("_", " ").split()).strip(" ,;@/|-")).strip(" ,;@/|-")
    if fields and not FILLERS.sub(" ", serial).strip(" ."):
        serial = ""  # "Spectrum at 3000 K" names no unit
    return fields | ({"serial": serial} if serial else {}), unit[1].strip() if unit else ""


def title_fields(text: str) -> dict[str, Any]:
    """Return what a title states. Prose with a number in it states nothing: humidity 45 % is no level."""
    bare = PREFIX.sub("", text)
    label = label_of(bare)
    if not label.fields or CLAIMED.search(text):
        return {}
    prose = label.rest and (len(label.rest.split()) > MOST_WORDS or PROSE.search(label.rest) or ":" in label.words)
    if prose and resolve(label.words).role != READING:
        return {}
    return {name: value for name, value in label.fields.items() if name != "ambient_C"}  # metadata settles that


def quantities(text: str) -> Iterator[str]:
    """Yield the parts of a title that are the heading of a measured quantity."""
    for part in (text, *re.split(r"\s*[:;|]\s*|\s+[–—-]\s+|[\\\n]", text)):
        bare = PREFIX.sub("", part.strip())
        for words in (bare, SUFFIX.sub("", bare)):
            if len(words) > 1 and resolve(words).role == READING:
                yield words
                break


def name_fields(name: str) -> dict[str, Any]:
    """Return what the name of a sheet or file states beside whatever else it says."""
    text = re.sub(r"[_]+", " ", name)
    return {} if CLAIMED.search(text) else dict(label_of(text).fields)


def identifies(text: str) -> bool:
    """Whether a label looks like a unit's number or serial (3, PT-0003, A), not like a word."""
    return bool(IDENTIFIER.fullmatch(text)) and not is_summary(text)
