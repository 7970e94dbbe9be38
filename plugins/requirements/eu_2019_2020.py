"""EU 2019/2020: what the ecodesign regulation asks of the colour and function of light sources.

Rows: eu_2019_2020.csv, Annex II points 1 and 2 and Table 4. The limits of on-mode power and of lumen maintenance depend
on what is declared: the maker's own claims, else the answers in applies.toml. The number of units (10), the mean over
them and the tolerances of Annex IV, Table 6, are for market surveillance: a maker may not use them, and no row here
does.
Source: Commission Regulation (EU) 2019/2020, text consolidated to 2021-09-01; rows that weren't read there are MEMORY.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from audit import LimitRule, Question, RequirementSet, hookimpl

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
    Question("place", "Is it placed on the market, or put into service, in the European Union?", YES_OR_NO),
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
    Question(
        "directional",
        "Is at least 80 % of its light inside a cone of 120° (Article 2, directional light source)?",
        ("no", "yes"),
    ),
    Question("colour_tuneable", "Can its colour be set far from white (colour-tuneable light source)?", ("no", "yes")),
    Question("high_luminance", "Is it an LED source of high luminance (HLLS)?", ("no", "yes")),
    Question("anti_glare", "If it is directional, has it an anti-glare shield?", ("no", "yes")),
    Question("declared_flux", "What useful luminous flux is declared?", unit="lm", claimed="useful_luminous_flux"),
    Question("declared_ra", "Which Ra is declared?", unit="", claimed="ra"),
    Question(
        "declared_life",
        "What L70B50 life is declared?",
        unit="h",
        claimed="lumen_maintenance_life",
        definitions=("L70B50", "L70 B50", "L70"),
    ),
)
# Annex II, Table 1: threshold efficacy in lm/W and end loss in W. MEMORY
TABLE_1 = {"LED": (120.0, 1.5), "OLED": (65.0, 1.5)}
# Annex II, Table 2: (directional, on the mains) -> basic C, and what is added to it. MEMORY
BASIC_C = {("no", "no"): 1.0, ("no", "yes"): 1.08, ("yes", "no"): 1.15, ("yes", "yes"): 1.23}
COLOUR_TUNEABLE, ANTI_GLARE = 0.10, 0.20


def largest_power(answers: Mapping[str, Any]) -> float:
    """Return the largest on-mode power in W that Annex II point 1(a) allows an LED or OLED source."""
    from audit.quantities.declared_limits import DIRECTIONAL, largest_on_mode_power

    is_directional = answers["directional"] == "yes"
    c = BASIC_C[answers["directional"], answers["mains"]]
    c += COLOUR_TUNEABLE * (answers["colour_tuneable"] == "yes")
    c += ANTI_GLARE * (is_directional and answers["anti_glare"] == "yes")
    f = DIRECTIONAL if is_directional else 1.0
    efficacy, end_loss = TABLE_1[answers["technology"]]
    return float(largest_on_mode_power(answers["declared_flux"], answers["declared_ra"], efficacy, end_loss, c, f))


def least_maintenance(answers: Mapping[str, Any]) -> float:
    """Return the least flux maintenance in % after the endurance test, by Table 4."""
    from audit.quantities.declared_limits import least_flux_maintenance

    return float(least_flux_maintenance(answers["declared_life"]))


LIMITS = (
    LimitRule(
        "largest on-mode power",
        "Ponmax = C (L + Φuse / (F η)) R",
        ("declared_flux", "declared_ra", "technology", "directional", "mains", "colour_tuneable", "anti_glare"),
        largest_power,
    ),
    LimitRule(
        "least flux maintenance",
        "100 exp(3000 ln 0.7 / L70), at most 96.0",
        ("declared_life",),
        least_maintenance,
    ),
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
                "Left out: the on-mode power of other sources than LED and OLED and of those of high luminance; "
                "excitation purity of colour-tuneable sources; information and packaging.",
                "Annex IV judges ten units by their mean with tolerances that only authorities may use; here each "
                "requirement is put to the units handed in, without those tolerances.",
            ),
            LIMITS,
        )
    ]
