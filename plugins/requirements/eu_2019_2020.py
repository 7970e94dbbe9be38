"""EU 2019/2020: what the ecodesign regulation asks of the colour and function of light sources.

Rows: eu_2019_2020.csv, Annex II point 2 and Table 4. The number of units (10), the mean over them and the tolerances
of Annex IV, Table 6, are for market surveillance: a maker may not use them, and no row here does.
Source: Commission Regulation (EU) 2019/2020, text consolidated to 2021-09-01; rows that weren't read there are MEMORY.
"""

from __future__ import annotations

from pathlib import Path

from audit import Question, RequirementSet, hookimpl

YES_OR_NO = ("yes", "no")
QUESTIONS = (
    Question(
        "object",
        "Is what is placed on the market a light source, or a product that contains one?",
        ("light source", "containing product"),
    ),
    Question(
        "scope",
        "Does it give white light in scope: 0.270 < x < 0.530 and -2.3172 x² + 2.3653 x - 0.2199 < y < "
        "-2.3172 x² + 2.3653 x - 0.1595 (Article 2(1)(a), with its limits of flux)?",
        YES_OR_NO,
    ),
    Question("exempt", "Is it exempt by Annex III?", ("no", "yes")),
    Question("technology", "What makes the light?", ("LED", "OLED", "HID", "other")),
    Question("mains", "Is it made to run directly on the mains?", YES_OR_NO),
    Question(
        "low_cri_use",
        "Is it clearly marked for outdoor, industrial or another use whose lighting standard allows an Ra below 80, "
        "or an HID source above 4000 lm?",
        ("no", "yes"),
    ),
    Question(
        "on_mode_power",
        "In which band lies the on-mode power?",
        ("up to 5 W", "5 to 10 W", "10 to 25 W", "above 25 W"),
    ),
    Question("standby", "Has it a standby mode?", YES_OR_NO),
    Question("networked", "Has it a networked standby mode?", YES_OR_NO),
    Question("placed_on_market", "When was it placed on the market, or will it be?"),
)


@hookimpl
def register_requirements() -> list[RequirementSet]:
    return [
        RequirementSet(
            "EU 2019/2020",
            "ecodesign of light sources: colour and function",
            "Commission Regulation (EU) 2019/2020",
            "consolidated text of 2021-09-01",
            Path(__file__).with_name("eu_2019_2020.csv"),
            QUESTIONS,
            (
                "No conformity assessment: whether a clause is met or missed on this evidence, and nothing more.",
                "Left out: the on-mode power limit of Annex II point 1(a) and lumen maintenance after the endurance "
                "test, whose limits depend on declared values; excitation purity of colour-tuneable sources; "
                "information and packaging.",
                "Annex IV judges ten units by their mean with tolerances that only authorities may use; here each "
                "requirement is put to the units handed in, without those tolerances.",
            ),
        )
    ]
