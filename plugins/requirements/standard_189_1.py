"""Standard 189.1: the colour rendition that the green-building standard asks of indoor lighting.

Rows: standard_189_1.csv, 8.3.5.3: Rf, Rf,h1, Rg and Rcs,h1 at full output, all together; for a light that can be set,
at each of the nominal CCTs of the clause that it can be set to.
Source: ANSI/ASHRAE/ICC/USGBC/IES Standard 189.1-2017, addendum on 8.3.5.3, as quoted by the source in each row.
"""

from __future__ import annotations

from pathlib import Path

from audit import Question, RequirementSet, hookimpl


@hookimpl
def register_requirements() -> list[RequirementSet]:
    return [
        RequirementSet(
            "Standard 189.1",
            "colour rendition of electric light in green buildings",
            "ANSI/ASHRAE/ICC/USGBC/IES Standard 189.1",
            "2017, addendum on 8.3.5.3",
            Path(__file__).with_name("standard_189_1.csv"),
            (
                Question(
                    "nominal_cct",
                    "To which of these nominal CCTs in kelvin can the light be set? 'fixed': its CCT can't be set.",
                    ("fixed", "2700", "3500", "4000", "5000"),
                    several=True,
                ),
            ),
            (
                "Product-level: indicative. The clause is met by the lighting of a space, not by a luminaire.",
                "It asks this of at least 95 % of the lighting power of a space; exceptions and the rest of the "
                "standard were not looked at.",
            ),
        )
    ]
