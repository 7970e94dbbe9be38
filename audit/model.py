"""The words of an audit: documents, tables, quantities, and the descriptors that plugins register.

Terms follow ISO 19011 (criteria, evidence, findings), the GUM (expanded uncertainty) and JCGM 106
(conformance probability). This module imports neither numpy nor pandas, so that start-up stays cheap.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from audit.figures import Figure
    from audit.tables import Grid, Tables

TEXT, NUMBER, WHOLE, CATEGORY = "str", "float64", "int64", "category"

# The operating point: the state in which something was measured. Blank ("" or NaN) means "not stated".
POINT_FIELDS: dict[str, str] = {
    "product": TEXT,
    "used_in": TEXT,  # the product that contains this package or module
    "test_object": TEXT,
    "serial": TEXT,
    "hours": NUMBER,
    "level_percent": NUMBER,  # the level SET, not the light measured
    "cct_setting_K": NUMBER,
    "hue_setting_deg": NUMBER,
    "saturation_setting_percent": NUMBER,
    "scene": TEXT,
    "zone": TEXT,
    "channel": TEXT,
    "control_value": NUMBER,
    "control_kind": TEXT,
    "ambient_C": NUMBER,
    "case_C": NUMBER,
    "drive_mA": NUMBER,
    "repeat": TEXT,
}
VOLTS = re.compile(r"(?<![A-Za-z])V\b|\bvolt", re.IGNORECASE)  # kinds of control whose values are volts
FIELD_UNITS = {
    "hours": "h",
    "level_percent": "%",
    "cct_setting_K": "K",
    "hue_setting_deg": "°",
    "saturation_setting_percent": "%",
    "ambient_C": "°C",
    "case_C": "°C",
    "drive_mA": "mA",
}
# What a stated field can be at all; the schema of points and the claims sheet hold it.
POINT_BOUNDS: dict[str, tuple[float, float]] = {
    "hours": (0, 1e6),
    "level_percent": (0, 100),
    "cct_setting_K": (500, 100_000),
    "hue_setting_deg": (-360, 360),
    "saturation_setting_percent": (0, 100),
    "ambient_C": (-100, 300),
    "case_C": (-100, 300),
    "drive_mA": (0, 1e6),
}
TEST_OBJECTS = ("package", "module", "light engine", "lamp", "luminaire")

# Table name -> column name -> dtype. The schemas add the rules; this is the one list of columns.
COLUMNS: dict[str, dict[str, str]] = {
    "documents": {
        "document_id": WHOLE,
        "path": TEXT,
        "sha256": TEXT,
        "reader": TEXT,
        "standing": TEXT,
        "product": TEXT,  # how its points got their product, if the document names none
        "test": TEXT,  # documents with one report number are one test
        "sample_origin": TEXT,
    },
    "metadata": {"document_id": WHOLE, "key": TEXT, "value": TEXT, "place_id": WHOLE},
    "points": {"point_id": WHOLE, **POINT_FIELDS},
    "places": {
        "place_id": WHOLE,
        "document_id": WHOLE,
        "sheet": TEXT,
        "row": WHOLE,  # counted from 1; 0 where a place has no row
        "cell": TEXT,
        "raw": TEXT,
    },
    "readings": {
        "point_id": WHOLE,
        "quantity": CATEGORY,
        "value": NUMBER,
        "expanded_uncertainty": NUMBER,  # k = 2, in the unit of the quantity; NaN: not stated
        "resolution": NUMBER,  # one unit of the last printed digit; NaN: computed, not printed
        "origin": TEXT,  # reported or computed
        "definition": TEXT,
        "spectrum_id": WHOLE,  # -1: not from a spectrum
        "place_id": WHOLE,
    },
    "spectra": {
        "spectrum_id": WHOLE,
        "point_id": WHOLE,
        "grid_id": WHOLE,
        "row": WHOLE,
        "kind": TEXT,
        "unit": TEXT,
        "place_id": WHOLE,
    },
    "observations": {
        "rule": TEXT,
        "tier": TEXT,
        "subject": TEXT,
        "document": TEXT,
        "place": TEXT,
        "message": TEXT,
        "ask": TEXT,
        "made_by": TEXT,
    },
}

# What a finding carries, in the order in which reports give it.
FINDING_COLUMNS = (
    "product",
    "claim_id",
    "quantity",
    "operating_point",
    "verdict",
    "side",
    "reasons",
    "value",
    "unit",
    "limit",
    "relation",
    "expanded_uncertainty",
    "probability",
    "margin",
    "margin_u",
    "margin_to",
    "statistic",
    "definition",
    "method",
    "evidence",
    "points",
    "units",
    "message",
    "ask",
    "strongest",
    "claim",
)
TIERS = ("refer", "major", "minor", "note")
VERDICTS = ("contradicted", "overreaching", "inconclusive", "supported", "unevidenced")
RELATIONS = ("at_least", "at_most", "between", "within", "is")  # `is` names a class, the others limit a number
STATISTICS = ("each unit", "mean of units")
REASONS = (
    "limit within uncertainty",
    "limit unconfirmed",
    "no limit stated",
    "past test duration",
    "too few units",
    "untested settings",
    "other conditions",
    "other test object",
    "record inadequate",
    "too dark to judge",
    "sources disagree",
    "definition not stated",
    "sample not stated",
    "applicability not stated",
)


# Progress of long work: what is being done, how many of it are done, and of how many.
Tell = Callable[[str, int, int], None]


def told_to_nobody(what: str, done: int, of: int) -> None:
    """Tell no one of progress."""


@dataclass(frozen=True)
class Document:
    """One file handed in. `path` is relative to the audited folder and is what a person is shown."""

    path: str
    file: Path
    size: int
    sha256: str  # "" of one that is too large to be read
    # What a person says should stand in a cell, to try it out: (sheet, address) -> text there, right text.
    corrections: Mapping[tuple[str, str], tuple[str, str]] = field(default_factory=dict, hash=False)
    # heading -> meaning, from columns.toml: what a person says of the document, no part of it
    answers: Mapping[str, str] = field(default_factory=dict, compare=False)

    def read_bytes(self) -> bytes:
        return self.file.read_bytes()

    @classmethod
    def nowhere(cls) -> Document:
        """Stand in where something is observed that belongs to no single document."""
        return cls("", Path(), 0, "")


class Refusal(Exception):
    """A document, or a part of it, can't be read: what is wrong, where, and what to do about it."""

    def __init__(self, message: str, place: str = "", ask: str = ""):
        super().__init__(message)
        self.message, self.place, self.ask = message, place, ask


@dataclass(frozen=True)
class Quantity:
    """An entry of the quantity register (audit/quantities/register.csv)."""

    name: str
    symbol: str
    title: str
    unit: str
    direction: str = ""  # "higher" or "lower" is better; "" where neither is
    statistic: str = "each unit"
    conditions: str = "any"  # "rated": blank claim fields mean full output, 25 °C, initial, whole product
    least: float = float("-inf")  # what the quantity can be at all
    most: float = float("inf")
    # or "distance": the length of a vector in a plane, never normal near nothing; or "class": a name that is a number
    distribution: str = "normal"
    definitions: tuple[str, ...] = ()  # admissible meanings; more than one must be stated by the claim
    uncertainty_absolute: float = float("nan")  # expanded, k = 2, in the unit
    uncertainty_relative: float = 0.0  # expanded, k = 2, per cent of the value, added to the absolute part
    repeatability_absolute: float = float("nan")
    repeatability_relative: float = 0.0
    uncertainty_status: str = ""
    recompute_allowance: float = float("nan")  # computed against reported of one spectrum, beyond rounding
    decimals: int = 1  # the trade's printed resolution
    source: str = ""
    formula: str = ""  # how it follows from what is measured, for a person


@dataclass(frozen=True)
class Rule:
    """How a probability becomes a verdict. `confidence` is one-sided (JCGM 106:2012, 8.3)."""

    confidence: float = 0.95
    name: str = "guarded"  # or "simple": the measured side alone decides (JCGM 106:2012, 8.2)

    def __post_init__(self) -> None:
        if self.name not in ("guarded", "simple") or not 0.5 < self.confidence < 1:
            raise ValueError("a rule is 'guarded' or 'simple', with a confidence above 0.5 and below 1")


@dataclass(frozen=True)
class Habit:
    """How figures, dates and paper are shown to a reader; see audit.habit. By itself: decimal point, year first, A4."""

    name: str = ""
    decimal: str = "."
    date: str = "{0:%Y-%m-%d}"
    number_date: str = "yyyy-mm-dd"  # the same as a number format of spreadsheets
    paper: str = "A4"  # as style sheets name it
    beside: Mapping[str, str] = field(default_factory=dict, hash=False)  # our unit -> the one set beside it


@dataclass(frozen=True)
class Reader:
    """Turns one kind of document into tables. The most confident `recognise` wins."""

    name: str
    title: str
    recognise: Callable[[Document, bytes], float]
    read: Callable[[Document], Tables]


@dataclass(frozen=True)
class Check:
    """Answers one question that an auditor asks; the sole giver of its quantities."""

    name: str
    title: str
    needs: tuple[str, ...] = ()  # tables and quantities that derive reads; without any of them it isn't called
    gives: tuple[Quantity, ...] = ()
    scope: str = "product"
    derive: Callable[[Evidence], Tables] | None = None
    # How a claim on its quantities is put to its limits; None: readings against numbers. See audit.assess.Assessor.
    assess: Callable[[Any, Any, float], Any] | None = None
    judge: Callable[[Any], Tables] | None = None  # takes an audit.case.Case; for observations, figures, own findings
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Question:
    """What decides whether requirements apply, or where their limits lie, put to the person who audits.

    Without choices, it asks for a date; with a `unit`, for a number above 0. What the maker claims of the quantity
    `claimed`, by one of `definitions` where it has any, answers it too.
    """

    key: str
    text: str
    choices: tuple[str, ...] = ()
    several: bool = False  # an answer may name more than one choice, with commas between
    unit: str | None = None  # "" for a bare number
    claimed: str = ""
    definitions: tuple[str, ...] = ()


@dataclass(frozen=True)
class LimitRule:
    """A limit that a set works out from what is declared: `limit` takes the answers to the questions `needs`.

    It returns a number in the unit of the row's quantity; answers to choices and dates come as text, numbers as float.
    """

    name: str
    formula: str
    needs: tuple[str, ...]
    limit: Callable[[Mapping[str, Any]], float]


@dataclass(frozen=True)
class RequirementSet:
    """The requirements of a law, a standard or a project: a table of the claims' shape, and what is to be said of it.

    `table` is read when the set is asked for; audit/requirements.py says its columns. The first of `cautions` is
    printed with every result, the others tell what the set can't say.
    """

    name: str
    title: str
    publication: str
    edition: str
    table: Path
    questions: tuple[Question, ...] = ()
    cautions: tuple[str, ...] = ()
    limits: tuple[LimitRule, ...] = ()  # that rows of the table name under `limit_from`


@dataclass(frozen=True)
class Writer:
    """One form of report. `filename` is None for text that goes to the terminal."""

    name: str
    title: str
    filename: str | None
    write: Callable[[Report], bytes]


@dataclass(frozen=True)
class Evidence:
    """The validated tables of one audit; see COLUMNS. `grids[grid_id]` holds the spectra's numbers."""

    documents: pd.DataFrame
    metadata: pd.DataFrame
    points: pd.DataFrame
    places: pd.DataFrame
    readings: pd.DataFrame
    spectra: pd.DataFrame
    observations: pd.DataFrame
    grids: Mapping[int, Grid] = field(default_factory=dict)


@dataclass(frozen=True)
class Report:
    """Everything a writer may show. Writers compute nothing."""

    folder: str
    tool: Mapping[str, str]
    rule: Rule
    inputs: Sequence[Mapping[str, str]]
    claims: Sequence[Mapping[str, Any]]
    findings: Sequence[Mapping[str, Any]]
    observations: Sequence[Mapping[str, Any]]
    readings: Sequence[Mapping[str, Any]]
    methods: Sequence[str]
    missing: Sequence[str] = ()
    decisions: Sequence[Mapping[str, Any]] = ()
    spectra: Sequence[Mapping[str, Any]] = ()  # `grid` and `row` in it hold the numbers
    habit: Habit = Habit()
    way: str = ""  # from the report's folder to the audited one, for links; "" where there is none
    figures: Sequence[Figure] = ()
    second_opinion: Mapping[str, Any] | None = None  # library and rows; see audit.second_opinion
    memory: Sequence[Mapping[str, Any]] = ()  # what rests on unconfirmed values, and the claims that it bears on
