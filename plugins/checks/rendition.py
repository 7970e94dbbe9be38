"""How do colours look in this light: the colour rendering and fidelity indices?

What it answers
    Ra and R1 to R15, Rf, Rg and the sixteen hue-angle bins (fidelity, chroma and hue shift) of every spectrum.
Why it matters
    Ra averages eight pastels; a claim on red or on all hues needs R9, Rf and the bins.
Evidence needed
    Spectra from 380 to 780 nm in steps of 5 nm or finer, or with ends that have fallen to nothing.
Method
    CIE 13.3 test colour method; CIE 224 colour fidelity with the TM-30 gamut and bin measures; sums at 1 nm.
    R15 never enters Ra. Ra is remarked on where the source lies more than 5.4e-3 in u, v from its reference.
What it can't know
    Whether people like the colours, and how any one pigment looks: the samples are few and fixed. A spectrum
    whose narrow peaks were lost in measuring gives indices that are wrong without a sign of it.
Sources
    CIE 13.3-1995; CIE 224:2017; ANSI/IES TM-30-20. The tolerance 5.4e-3 is MEMORY.
"""

from __future__ import annotations

import numpy as np

from audit import Check, Computed, Evidence, Tables, hookimpl, quantity_register

NAME = "rendition"
TOLERANCE = 5.4e-3  # CIE 13.3-1995, 5.3 (MEMORY)
BINS = range(1, 17)
GIVES = (
    "ra",
    *(f"r{i}" for i in range(1, 16)),
    "rf",
    "rg",
    *(f"{kind}_h{j}" for kind in ("rf", "rcs", "rhs") for j in BINS),
)


def derive(evidence: Evidence) -> Tables:
    """Return the computed readings of all spectra, and why some are missing."""
    from audit.quantities.rendition import rendition

    computed = Computed(evidence, NAME)
    for rows, grid in computed.spectra():
        result = rendition(grid.power, grid.wavelength_nm)
        values = {"ra": result.ra, "rf": result.rf, "rg": result.rg}
        values |= {f"r{i}": result.ri[:, i - 1] for i in range(1, 16)}
        for kind in ("rf", "rcs", "rhs"):
            values |= {f"{kind}_h{j}": getattr(result, f"{kind}_h")[:, j - 1] for j in BINS}
        computed.add(rows, {name: values[name] for name in GIVES})
        nothing = np.full(len(rows), "", dtype=object)
        computed.remark(
            rows,
            result.refused.get("rf", nothing),
            "rendition_refused",
            "minor",
            "colour rendition",
            "ask for the spectrum from 380 to 780 nm in steps of 5 nm or finer",
        )
        computed.remark(rows, _far_from_reference(result.delta_c), "rendition_noted", "note", "Ra and Ri", "")
    return computed.tables()


def _far_from_reference(delta_c: np.ndarray) -> np.ndarray:
    """One text for all spectra (n,) that lie further from their reference than CIE 13.3 allows, with the range."""
    far = delta_c > TOLERANCE
    if not far.any():
        return np.full(len(delta_c), "", dtype=object)
    least, most = delta_c[far].min(), delta_c[far].max()
    spread = f"{least:.4f}" if least == most else f"{least:.4f} to {most:.4f}"
    text = f"the source lies {spread} from its reference in u, v, more than {TOLERANCE:g} (MEMORY): they mean less"
    return np.where(far, text, "").astype(object)


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "colour rendition from the spectrum",
            needs=("spectra",),
            gives=tuple(quantity_register()[name] for name in GIVES),
            derive=derive,
            sources=("CIE 13.3-1995", "CIE 224:2017", "ANSI/IES TM-30-20"),
        )
    ]
