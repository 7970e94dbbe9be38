"""The fixed sentences that every report prints: what its words mean, and how far it may be relied on."""

from __future__ import annotations

# Worst first, the order in which claims are shown.
VERDICTS: dict[str, str] = {
    "contradicted": ("A measurement made under the claimed conditions misses the limit by more than its uncertainty."),
    "overreaching": (
        "Nothing handed in contradicts the claim, but it goes further than the documents do. "
        "More documents may settle it."
    ),
    "inconclusive": "The claim was measured, but the measurement cannot tell on which side of the limit it is.",
    "unevidenced": "Nothing handed in bears on the claim: no reported value, and none that can be computed.",
    "supported": "The measurements cover the claim and meet it, with their uncertainty taken into account.",
}

REASONS: dict[str, str] = {
    "limit within uncertainty": "The value lies so close to the limit that its uncertainty spans it.",
    "limit unconfirmed": "The limit itself could not be confirmed from its published source.",
    "no limit stated": "The claim states nothing that a measurement could miss.",
    "past test duration": "The claim speaks of more hours than the test covers or lets one extrapolate to.",
    "too few units": "Fewer units were measured than the claim needs.",
    "untested settings": "Part of the claimed range of settings was not measured.",
    "other conditions": "The quantity was measured, but not under the claimed conditions.",
    "other test object": "The evidence is on another object, such as an LED package, not the luminaire.",
    "record inadequate": "The document does not say enough about the measurement to rest a verdict on it.",
    "too dark to judge": "At this level there was too little light for the measurement to be trusted.",
    "sources disagree": "Two values of one thing lie on different sides of the limit.",
    "definition not stated": "The number can mean more than one thing, and the meanings differ in their verdict.",
    "sample not stated": "The documents do not say how the measured units were chosen.",
    "applicability not stated": "Whether the requirement applies depends on what only a person can answer.",
}

TIERS: dict[str, str] = {
    "refer": "Safety or law: a competent person decides.",
    "major": "Something that could not be read, or a measured disagreement.",
    "minor": "A question that touches no claim.",
    "note": "Good to know.",
}

CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "A decision aid",
        "This report compares documents with claims. It comes without warranty; verify what you rely on. "
        "Local codes and the judgement of licensed practice come first.",
    ),
    (
        "Observations, not motives",
        "The report states what the documents show and never why. "
        "Identical data, for example, may have an innocent cause.",
    ),
    (
        "Egress and emergency lighting",
        "Nothing here clears a luminaire for escape routes. "
        "That is for a competent person and the authority having jurisdiction.",
    ),
    (
        "Flicker",
        "Figures of light modulation are no medical finding. "
        "Where people sensitive to flicker or to light use the room, ask someone qualified.",
    ),
    (
        "Blue-light hazard",
        "A risk group needs the size of the source and the viewing distance as well as the spectrum. "
        "A spectrum alone settles none.",
    ),
    (
        "Electrical safety",
        "Listing, certification and construction were not looked at.",
    ),
)
