"""A report such as the engine hands to the writers: a gallery downlight for a museum on a salt marsh."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from audit import Axis, Figure, Mark
from audit.model import Report, Rule
from audit.tables import Grid

PRODUCT = "Saltern 90 downlight"
PHOTOMETRY, SPECTRA = "LR-0417 photometry.xlsx", "LR-0417 spectra.csv"

MakeFinding = Callable[..., dict[str, Any]]
MakeReport = Callable[..., Report]


def evidence(
    document: str, place: str, raw: str, value: float, role: str, unit: str, setting: float, origin: str = "reported"
) -> dict[str, Any]:
    return {
        "document": document,
        "place": place,
        "raw": raw,
        "value": value,
        "expanded_uncertainty": None,
        "uncertainty_from": "stated",
        "origin": origin,
        "standing": "accredited report",
        "operating_point": {"serial": unit, "cct_setting_K": setting},
        "role": role,
        "identity": f"{document} | {place} | {raw}",
    }


def measured(printed: str, deciding: float, unit: str, other: float, setting: float = 2700.0) -> list[dict[str, Any]]:
    """Return a printed value that is only shown, the computed one that decides, and one of another unit."""
    cell, outranked = "sheet 'Colour', row 18, cell G18", "reported; the computed value outranks it"
    own, next_row = ("row 17, cells E17:OO17", "0.000121, ..."), ("row 12, cells E12:OO12", "0.000118, ...")
    return [
        evidence(PHOTOMETRY, cell, printed, float(printed), outranked, unit, setting),
        evidence(SPECTRA, *own, deciding, "deciding", unit, setting, "computed"),
        evidence(SPECTRA, *next_row, other, "also tested", "5", setting, "computed"),
    ]


def finding(**changes: Any) -> dict[str, Any]:
    """Return a supported finding with the keys of the engine, in their order, after `changes`."""
    standard: dict[str, Any] = {
        "product": PRODUCT,
        "claim_id": "G01",
        "quantity": "ra",
        "operating_point": {"serial": "4", "cct_setting_K": 2700.0, "level_percent": 100.0},
        "verdict": "supported",
        "side": "meets as measured",
        "reasons": [],
        "value": 92.4171,
        "unit": "index",
        "limit": 90.0,
        "relation": "at_least",
        "expanded_uncertainty": 1.0,
        "probability": 0.99999931,
        "margin": 1.59461,
        "margin_u": 3.189220,
        "margin_to": "inconclusive",
        "statistic": "each unit",
        "definition": "CIE 13.3-1995",
        "method": "Each unit, the worst of 25 points decides. Computed from the spectrum by CIE 13.3-1995; "
        "U = 1.0 assumed for an accredited report (MEMORY, chosen); supported at half and at twice.",
        "evidence": measured("92.4", 92.4171, "4", 93.0512),
        "points": 25,
        "units": 5,
        "message": "All 25 points meet the limit; the lowest is unit 4 at the 2700 K setting with 92.4.",
        "ask": "",
        "strongest": [],
        "claim": "General colour rendering index at least 90, every unit and every setting",
        "identity": f"{changes.get('claim_id', 'G01')} | 3f9a01-01c27b-77aa12",
        "decisions": [],
        "if_corrected": None,
        "criterion": None,
    }
    found = standard | changes
    return found | {"evidence": [{"quantity": found["quantity"], **each} for each in found["evidence"]]}


def five_verdicts() -> list[dict[str, Any]]:
    return [
        finding(),
        finding(
            claim_id="G02",
            evidence=measured("-0.0047", -0.004712, "3", -0.0046021, 4000.0),
            method="Each unit, the worst of 25 points decides. Computed from the spectrum by CIE 15:2018; "
            "uncertainty propagated from U(x) and U(y) of the report.",
            quantity="duv",
            operating_point={"serial": "3", "cct_setting_K": 4000.0, "level_percent": 100.0},
            verdict="contradicted",
            side="misses as measured",
            value=-0.004712,
            unit="1",
            limit=[-0.003, 0.003],
            relation="within",
            expanded_uncertainty=0.0006,
            probability=0.00000001,
            margin=-0.0012186,
            margin_u=-4.062,
            definition="",
            claim="Distance from the Planckian locus within ±0.003 over the whole range, 2700 K to 6500 K",
            message="5 of 25 points miss the limit, all at the 4000 K setting; the furthest is unit 3.",
            ask="How are the two channels mixed from 3500 K to 4500 K, and is ±0.003 meant there?",
        ),
        finding(
            claim_id="G03",
            evidence=measured("89", 88.964, "4", 89.412),
            method="Each unit, the worst of 25 points decides. Computed from the spectrum by CIE 224:2017; "
            "U = 1.0 assumed (MEMORY, chosen); inconclusive at half of it, inconclusive at twice.",
            quantity="rf",
            verdict="inconclusive",
            side="misses as measured",
            reasons=["limit within uncertainty"],
            value=88.964,
            limit=89.0,
            probability=0.4713,
            margin=-0.78648,
            margin_u=-1.573,
            claim="Colour fidelity index Rf at least 89",
            message="The lowest value lies 0.04 below the limit, with an expanded uncertainty of 1.0.",
            ask="Which expanded uncertainty does the laboratory state for Rf of unit 4 at the 2700 K setting?",
        ),
        finding(
            claim_id="G04",
            evidence=[
                evidence(
                    PHOTOMETRY,
                    f"sheet 'Flux', row {row}, cell D{row}",
                    raw,
                    float(raw),
                    "other conditions",
                    unit,
                    3000.0,
                )
                for row, raw, unit in ((4, "1251", "1"), (5, "1239", "2"), (6, "1255", "3"))
            ],
            method="Mean of units, IES LM-79-19; U of the report.",
            quantity="luminous_flux",
            operating_point={"cct_setting_K": 3000.0, "ambient_C": 25.0},
            verdict="overreaching",
            reasons=["other conditions", "too few units"],
            value=1248.3,
            unit="lm",
            limit=1200.0,
            expanded_uncertainty=37.4,
            probability=None,
            margin=None,
            margin_u=None,
            statistic="mean of units",
            claim="Luminous flux at least 1200 lm at 45 °C ambient",
            message="Flux was measured at 25 °C only; the claim speaks of 45 °C.",
            ask="Is there a measurement at 45 °C ambient?",
        ),
        finding(
            claim_id="G05",
            quantity="pst_lm",
            operating_point={},
            verdict="unevidenced",
            side="",
            value=None,
            unit="1",
            limit=1.0,
            relation="at_most",
            expanded_uncertainty=None,
            probability=None,
            margin=None,
            margin_u=None,
            definition="",
            method="",
            evidence=[],
            points=0,
            units=0,
            claim="Short-term light modulation index at most 1 at every dimming level",
            message="No document handed in states or lets one compute a light modulation index.",
            ask="Please send the waveform or the PstLM report for 100 %, 50 % and 10 %.",
        ),
    ]


def observation(**changes: str) -> dict[str, Any]:
    standard: dict[str, Any] = {
        "rule": "cell_not_a_number",
        "tier": "major",
        "subject": "input power",
        "document": PHOTOMETRY,
        "place": "sheet 'Electrical', row 7, cell D7",
        "message": "the cell holds “11,8 W?” where a number is expected; the value was left out",
        "ask": "Have the laboratory confirm the input power of unit 3 and enter it as a number.",
        "made_by": "tabular",
        "identity": f"{changes.get('rule', 'cell_not_a_number')} | 1a2b3c | 4d5e6f",
        "decisions": [],
    }
    return standard | changes


def decision(**changes: Any) -> dict[str, Any]:
    standard: dict[str, Any] = {
        "identity": "G02 | 3f9a01-01c27b-77aa12",
        "decision": "rejected",
        "value": "",
        "reason": "the maker withdrew this claim in the letter of 12 May",
        "person": "R. Glasswort",
        "date": "2026-05-31",
        "about": "finding",
        "bears_on": ["G02"],
        "stale": "",
        "document": "decisions.csv",
        "place": "row 2",
    }
    return standard | changes


def some_decisions() -> list[dict[str, Any]]:
    """Return a decision on a finding, on a reading and on an observation, and one that is stale."""
    return [
        decision(),
        decision(
            identity=f"{PHOTOMETRY} | sheet 'Colour', row 18, cell G18 | 89",
            decision="corrected",
            value="89.9",
            reason="a digit fell off, says the laboratory",
            about="reading",
            bears_on=["G03"],
            place="row 3",
        ),
        decision(
            identity="emergency_mode | 1a2b3c | 4d5e6f",
            decision="accepted",
            reason="the escape route has luminaires of its own",
            about="observation",
            bears_on=[],
            place="row 4",
        ),
        decision(
            identity="G01 | 000000-01c27b-77aa12",
            decision="accepted",
            reason="seen in May",
            about="",
            bears_on=[],
            stale="since then changed: the claim",
            place="row 5",
        ),
    ]


def each_tier() -> list[dict[str, Any]]:
    return [
        observation(
            rule="assumed_uncertainty",
            tier="note",
            subject="",
            document=SPECTRA,
            place="",
            ask="",
            message="no uncertainty is stated for Rf; the default for an accredited report was used",
            made_by="decide",
        ),
        observation(),
        observation(
            rule="emergency_mode",
            tier="refer",
            subject="emergency mode",
            place="sheet 'Notes', row 3, cell A3",
            message="the report mentions an emergency mode that no measurement covers",
            ask="Have the authority having jurisdiction say what the escape route needs.",
            made_by="scope",
        ),
        observation(
            rule="column_unknown",
            tier="minor",
            subject="columns",
            place="sheet 'Colour', cells M1:N1",
            message="two columns were not recognised: “visitor comfort”, “tide”",
            ask="Say what these two columns mean, or leave them out.",
        ),
    ]


def figure(**changes: Any) -> Figure:
    standard: dict[str, Any] = {
        "name": "ra-over-cct",
        "title": "Ra over CCT setting",
        "x": Axis("CCT setting", "K"),
        "y": Axis("general colour rendering index Ra", "index"),
        "marks": [
            Mark("line", "G01: at least 90", (2700, 6500), (90, 90), "limit", tags=[(6500, 90, "G01: at least 90")]),
            Mark("points", "inside the limit", (2700, 6500), (92.4, 93.1), "inside", labels=("unit 4: 92.4", "93.1")),
        ],
        "alternative": "Ra rises from 92.4 at 2700 K to 93.1 at 6500 K.",
        "product": PRODUCT,
        "claims": ["G01"],
    }
    return Figure(**(standard | changes))


def reading(**changes: Any) -> dict[str, Any]:
    standard = {
        "product": PRODUCT,
        "quantity": "cct",
        "value": 2987.21,
        "unit": "K",
        "expanded_uncertainty": 30.0,
        "origin": "computed",
        "definition": "",
        "operating_point": {"serial": "1", "cct_setting_K": 3000.0, "level_percent": 100.0},
        "document": SPECTRA,
        "place": "row 2, cells E2:OO2",
        "sheet": "",
        "cell": "E2:OO2",
        "raw": "0.000121, 0.000130 ...",
        "library_value": None,
        "library_difference": None,
    }
    return standard | changes


def comparison(**changes: Any) -> dict[str, Any]:
    standard: dict[str, Any] = {
        "product": PRODUCT,
        "quantity": "ra",
        "unit": "index",
        "spectra": 25,
        "without": 0,
        "value": 92.4171,
        "library_value": 92.4094,
        "difference": -0.0077,
        "last_digit": 1.0,
        "beyond": 0,
        "operating_point": {"serial": "4", "cct_setting_K": 2700.0, "level_percent": 100.0},
        "document": SPECTRA,
        "place": "row 17, cells E17:OO17",
        "sentence": "",
    }
    return standard | changes


def some_spectra(count: int = 4) -> list[dict[str, Any]]:
    """Return spectra on two grids, one every 5 nm and one every 10 nm."""
    grids = [Grid(np.arange(400.0, 421.0, step), np.full((count, int(20 / step) + 1), 0.25)) for step in (5.0, 10.0)]
    return [
        {
            "product": PRODUCT,
            "operating_point": {"serial": str(1 + number), "cct_setting_K": 2700.0, "ambient_C": 25.0},
            "kind": "",
            "unit": "mW/nm",
            "document": SPECTRA,
            "place": f"row {2 + number}, cells E{2 + number}:OO{2 + number}",
            "sheet": "",
            "cell": f"E{2 + number}:OO{2 + number}",
            "grid": grids[number % 2],
            "row": number,
        }
        for number in range(count)
    ]


def some_readings(count: int = 40) -> list[dict[str, Any]]:
    quantities = ("cct", "duv", "ra", "rf")
    values = {"cct": 2987.21, "duv": -0.00112, "ra": 92.4, "rf": 89.7}
    units = {"cct": "K", "duv": "1", "ra": "index", "rf": "index"}
    uncertainties = {"cct": 30.0, "duv": 0.0006, "ra": 1.0, "rf": 1.0}
    names = [quantities[number % 4] for number in range(count)]
    return [
        reading(
            quantity=name,
            value=values[name],
            unit=units[name],
            expanded_uncertainty=uncertainties[name],
            operating_point={"serial": str(1 + number // 8), "cct_setting_K": 2700.0 + 100 * (number % 8)},
            place=f"row {2 + number}, cells E{2 + number}:OO{2 + number}",
        )
        for number, name in enumerate(names)
    ]


def gallery(**changes: Any) -> Report:
    findings = changes.get("findings", five_verdicts())
    told = [each["claim_id"] for each in findings[:2]]
    standard: dict[str, Any] = {
        "folder": "gallery",
        "tool": {"name": "claimlight", "version": "0.1.0"},
        "rule": Rule(),
        "inputs": [
            {
                "path": SPECTRA,
                "sha256": "9f2c" * 16,
                "reader": "spectra and tables",
                "standing": "accredited report",
                "product": PRODUCT,
                "role": "evidence",
                "laboratory": "Fenside Photometric Laboratory",
                "report_number": "LR-0417",
                "method": "ANSI/IES LM-79-19",
                "accreditation": "ISO/IEC 17025, certificate no. FP-0031",
                "date_tested": "2026-04-14",
                "date_issued": "in spring",
            },
            {
                "path": "claims.csv",
                "sha256": "51ab" * 16,
                "reader": "claims sheet",
                "standing": "",
                "product": "",
                "role": "claims",
                "laboratory": "",
                "report_number": "",
                "method": "",
                "accreditation": "",
                "date_tested": "",
                "date_issued": "",
            },
            {
                "path": PHOTOMETRY,
                "sha256": "77e0" * 16,
                "reader": "spectra and tables",
                "standing": "accredited report",
                "product": PRODUCT,
                "role": "evidence",
                "laboratory": "Fenside Photometric Laboratory",
                "report_number": "LR-0417",
                "method": "ANSI/IES LM-79-19",
                "accreditation": "ISO/IEC 17025, certificate no. FP-0031",
                "date_tested": "2026-04-14",
                "date_issued": "in spring",
            },
            {
                "path": "README.md",
                "sha256": "03d4" * 16,
                "reader": "",
                "standing": "",
                "product": "",
                "role": "not read",
                "laboratory": "",
                "report_number": "",
                "method": "",
                "accreditation": "",
                "date_tested": "",
                "date_issued": "",
            },
        ],
        "claims": [
            {
                "claim_id": each["claim_id"],
                "product": each["product"],
                "quantity": each["quantity"],
                "sentence": each["claim"],
                "source": "tender answer, page 6",
                "note": "",
            }
            for each in findings
        ],
        "findings": findings,
        "observations": each_tier(),
        "readings": some_readings(),
        "spectra": some_spectra(),
        "methods": [
            "Colour rendering: CIE 13.3-1995, tolerance 5.4e-3 on the chromaticity distance.",
            "Colour fidelity: CIE 224:2017 and ANSI/IES TM-30-20.",
            "Default uncertainties of Ra and Rf are chosen values (MEMORY).",
        ],
        "missing": [],
        "figures": [figure()],
        "memory": [{"statement": "defaults of the register are MEMORY (chosen)", "claims": told}] if told else [],
    }
    return Report(**(standard | changes))


@pytest.fixture
def make_figure() -> Callable[..., Figure]:
    return figure


@pytest.fixture
def make_finding() -> MakeFinding:
    return finding


@pytest.fixture
def make_report() -> MakeReport:
    return gallery


@pytest.fixture
def report() -> Report:
    return gallery()


@pytest.fixture
def decided() -> Report:
    """The gallery with decisions beside its findings, readings and observations."""
    on_finding, on_reading, on_observation, _ = decisions = some_decisions()
    findings, observations = five_verdicts(), each_tier()
    findings[1]["decisions"], findings[2]["decisions"] = [on_finding], [on_reading]
    findings[2]["if_corrected"] = {
        "verdict": "supported",
        "side": "meets as measured",
        "value": 89.9,
        "message": f"with the correction of {PHOTOMETRY}, sheet 'Colour', row 18, cell G18 to 89.9: supported",
    }
    observations[2]["decisions"] = [on_observation]
    return gallery(findings=findings, observations=observations, decisions=decisions)


@pytest.fixture
def seconded() -> Report:
    """The gallery with a second opinion: on Ra it agrees, on R9 it differs, and on a reading that decides."""
    findings = five_verdicts()
    deciding = next(each for each in findings[0]["evidence"] if each["role"] == "deciding")
    spoken = reading(**{key: deciding[key] for key in ("document", "place", "raw", "quantity", "origin", "value")})
    rows = [
        comparison(),
        comparison(
            quantity="r9", value=52.6, library_value=54.1, difference=1.5, beyond=3, sentence="3 of 25 values differ"
        ),
    ]
    return gallery(
        findings=findings,
        readings=[*some_readings(), {**spoken, "library_value": 92.4094, "library_difference": -0.0077}],
        second_opinion={"library": "colour-science 0.4.7", "rows": rows},
    )


@pytest.fixture
def without_claims() -> Report:
    return gallery(
        claims=[],
        findings=[],
        missing=[
            "a claims sheet (claims.csv or claims.xlsx)",
            "the product that LR-0417 spectra.csv was measured on",
        ],
    )
