"""TM-30 Annex E: the levels of preference, vividness and fidelity that a specification may ask for.

Rows: tm30_annex_e.csv. A level is several limits, a group: it is met only if all of them are.
Source: ANSI/IES TM-30-20, Annex E, as tabulated by the sources in each row.
"""

from __future__ import annotations

from pathlib import Path

from audit import Question, RequirementSet, hookimpl

LEVELS = ("P1", "P2", "P3", "V1", "V2", "V3", "F1", "F2", "F3")


@hookimpl
def register_requirements() -> list[RequirementSet]:
    return [
        RequirementSet(
            "TM-30 Annex E",
            "colour rendition by design intent: preference, vividness, fidelity",
            "ANSI/IES TM-30",
            "2020, Annex E",
            Path(__file__).with_name("tm30_annex_e.csv"),
            (
                Question(
                    "annex_e",
                    "Which levels are specified: preference P1 to P3, vividness V1 to V3, fidelity F1 to F3?",
                    LEVELS,
                    several=True,
                ),
            ),
            (
                "A level is a recommendation for a design intent; whether it suits the room was not looked at.",
                "Level 1 is the strictest of each intent; intents can exclude each other.",
            ),
        )
    ]
