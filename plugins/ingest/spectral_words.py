"""What the heading of spectral values says that they are: power per wavelength, or something that is no light.

A spectrum of light is power over wavelength, absolute or relative. Raw counts have the detector's own sensitivity in
them, photons weigh blue less than power does, and a weighting function, a reflectance or a photometric value is none.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from audit.answers import IGNORE, answer_line, question
from audit.model import Document
from audit.units import fold

POWER_WORDS = re.compile(
    r"(?:(?:spectral|radiant|optical|total|relative|rel\.?|absolute|normali[sz]ed|measured|light|output|emitted|"
    r"spektrale[rs]?)\s+)*"
    r"(?:power|flux|intensity|irradiance|radiance|exitance|leistung|puissance|potencia|potenza|vermogen)"
    r"(?:\s+(?:distribution|density|spectrum))?",
    re.IGNORECASE,
)
SYMBOL = re.compile(r"[ESPLIMFΦφ]_?e?(?:\s*\(\s*(?:λ|lambda)\s*\)|,?_?λ)")  # E(λ), Φe,λ: case matters, s(λ) weighs
ENERGY = re.compile(r"\(?[mµunkpM]?[WJ](?![a-ln-z]).*", re.DOTALL)
PER_NM = re.compile(r"/(?!.*\d{3}\s*nm).*\bnm\b|/.*\d?nm\W*$|nm\W*-1\W*$")
PHOTOMETRIC = re.compile(r"(?<![^\W\d_])[mkµ]?(?:lm|lx|lux|cd)\b")
COUNTS = re.compile(
    r"\[?\b(?:(?:raw|dark|sample|detector|ad|adc)\s+)*counts?\b(?:\s*/\s*m?s)?\]?|\bAD[CU]\b|\braw\s+signal\b",
    re.IGNORECASE,
)
MOLES = r"(?<![^\W\d_])[mµunp]?mol\b|(?<![^\W\d_])[mµu]?einsteins?\b"
PHOTONS = re.compile(rf"{MOLES}|\bphotons?\b|\bquant(?:a|um)\b|\b[py]pfd?\b|\bs\.q\.irrad", re.IGNORECASE)
# A title may hold a laboratory's name, so that one word alone says less there than in a heading.
TITLE_PHOTONS = re.compile(
    rf"{MOLES}|\bphoton\s+(?:flux|irradiance|radiance|intensity|spectr\w+|distribution)", re.IGNORECASE
)
TITLE_COUNTS = re.compile(r"\braw\s+(?:counts|signal)\b|\bcounts\b", re.IGNORECASE)
LAMBDA = r"\s*'?\s*\(\s*(?:λ|lambda)\s*\)"
WEIGHTS = re.compile(
    rf"(?<!\w)[VKRTAB]{LAMBDA}|[ρταβ]{LAMBDA}|\bV'?[\s_-]?(?:lambda\b|λ)|\b[xyz][\s_-]?bar(?![^\W\d_])|[xyz]\u0304|ȳ|"
    r"luminous efficiency|luminosity function|\b(?:photopic|scotopic|mesopic|melanopic|erythropic|chloropic|cyanopic|"
    r"rhodopic)\b|\baction spectr\w+|\bweight(?:ing|ed)\b|\bhazard\b|\bs_?mel\b|\b[lms][\s-]cones?\b",
    re.IGNORECASE,
)


class Doubt(NamedTuple):
    """Why values over wavelengths aren't taken as light: the rule, and the word that says it."""

    rule: str
    word: str

    def __str__(self) -> str:
        return f"'{self.word}' means {BECAUSE[self.rule]}"

    def remedy(self, document: Document, headings: Sequence[str] = ()) -> str:
        """Return what to do; `headings` are those of columns that columns.toml can answer for."""
        if self.rule != UNCALIBRATED or not headings:
            return REMEDIES[self.rule]
        choices = (("spd_value", IF_CALIBRATED), (IGNORE, ""))
        lines = [answer_line(heading, *choice) for heading in headings for choice in choices]
        which = "for each of them the line that is true" if len(headings) > 1 else ""
        return f"hand in the calibrated spectrum, or {question(document, lines, which)}"


UNCALIBRATED, OF_PHOTONS, NO_LIGHT = "spectrum_uncalibrated", "spectrum_of_photons", "not_light"
IF_CALIBRATED = "if its values were calibrated to spectral power"
REMEDIES = {
    UNCALIBRATED: "hand in the calibrated spectrum; if this one is, say its unit (W/nm) in the heading",
    OF_PHOTONS: "ask for the spectrum as power per wavelength (W/nm, or relative)",
    NO_LIGHT: "hand in the spectrum of the light source; if these are one, take that word out of the heading",
}
BECAUSE = {
    UNCALIBRATED: "that they are uncalibrated, so that the detector's sensitivity is still in them",
    OF_PHOTONS: "photons, and photon spectra aren't converted to power here",
    NO_LIGHT: "that they are no light source's spectrum",
}


def power_per_nm(heading: str) -> str:
    """Return the unit of a heading that is power or flux per wavelength (Power [W/nm], Flux in mW/nm), else ""."""
    words = SYMBOL.match(heading) or POWER_WORDS.match(heading)
    if not words:
        return ""
    unit = re.sub(r"^in\s", "", heading[words.end() :].strip(" ,/:")).strip()
    if re.fullmatch(r"[\[({].*[\])}]", unit):
        unit = unit[1:-1].strip()
    return unit if is_energy_per_nm(unit) else ""


def is_energy_per_nm(unit: str) -> bool:
    """Whether a unit is one of power or energy per wavelength: W/nm, mW/(sr nm), W·m-2·nm-1."""
    folded = fold(unit)
    return bool(ENERGY.fullmatch(folded) and PER_NM.search(folded))


def is_power(heading: str) -> bool:
    """Whether a heading that means something else in a table (Power, Flux) names a spectrum beside wavelengths."""
    text = heading.strip()
    words = SYMBOL.match(text) or POWER_WORDS.match(text)
    return words is not None and not PHOTOMETRIC.search(text[words.end() :])


def doubt_of(heading: str) -> Doubt | None:
    """Return why the values under a heading aren't spectral power, None where nothing says so."""
    photometric = PHOTOMETRIC.search(heading) if PER_NM.search(fold(heading)) else None
    for rule, found in (
        (UNCALIBRATED, COUNTS.search(heading)),
        (OF_PHOTONS, PHOTONS.search(heading.replace("μ", "µ"))),
        (NO_LIGHT, WEIGHTS.search(heading) or photometric),
    ):
        if found:
            return Doubt(rule, found[0].strip("[] "))
    return None


def doubt_of_title(title: str) -> Doubt | None:
    """Return why the values below a title aren't spectral power, None where nothing says so."""
    for rule, pattern in ((UNCALIBRATED, TITLE_COUNTS), (OF_PHOTONS, TITLE_PHOTONS)):
        if found := pattern.search(title.replace("μ", "µ")):
            return Doubt(rule, found[0])
    return None


def without_counts(heading: str) -> str:
    """Return a heading without the words that say counts: what is left may name the unit."""
    return COUNTS.sub("", heading).replace("()", "").strip(" ,;-")
