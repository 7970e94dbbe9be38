"""Where does the light lie: chromaticity, correlated colour temperature and distance from the Planckian locus?

What it answers
    x, y, u', v', CCT and Duv of every spectrum handed in, so that claims on them need no trust in a printout.
Why it matters
    A white that is 0.003 off the locus, or 100 K from its neighbour, is seen side by side.
Evidence needed
    Spectra that cover the visible range.
Method
    Sums of the CIE 1931 2-degree observer at 1 nm; CCT and Duv by the nearest point of the Planckian locus
    summed at 1 nm, c2 = 1.4388e-2 m K; no CCT beyond 0.05 from the locus.
What it can't know
    Whether the spectrum is of the unit and setting that it names, and how good it is: stray light, a wavelength
    scale that is off, and light outside its range pass through. Light that changes with direction or time is
    what the instrument saw of it.
Sources
    CIE 15:2018 clauses 7 and 9; CIE 1976 UCS; ANSI C78.377 (sign of Duv).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, hookimpl, quantity_register

if TYPE_CHECKING:
    from audit.assess import Assessment
    from audit.case import Case
    from audit.claims import Claim

NAME = "chromaticity"
FIELDS = {"x": "x", "y": "y", "u_prime": "u_prime", "v_prime": "v_prime", "cct": "cct_K", "duv": "duv"}


def derive(evidence: Evidence) -> Tables:
    """Return the computed readings of all spectra, and why some are missing."""
    from audit.quantities.chromaticity import chromaticity

    computed = Computed(evidence, NAME)
    for rows, grid in computed.spectra():
        result = chromaticity(grid.power, grid.wavelength_nm)
        computed.add(rows, {name: getattr(result, field) for name, field in FIELDS.items()})
        nothing = np.full(len(rows), "", dtype=object)
        no_xy = result.refused.get("x", nothing)
        no_cct = np.where(no_xy == "", result.refused.get("cct_K", nothing), "")
        computed.remark(
            rows,
            no_xy,
            "spectrum_refused",
            "major",
            "chromaticity",
            "ask the laboratory for a sound spectrum",
        )
        computed.remark(rows, no_cct, "cct_refused", "note", "CCT and Duv", "")
        computed.remark(rows, result.notes.get("x", nothing), "spectrum_noted", "note", "chromaticity", "")
    return computed.tables()


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Assess a claim by its readings, where there was light enough; one on Duv also by what its channels can mix."""
    from audit.assess import assess as by_readings
    from plugins.checks.mixing import assess_duv
    from plugins.checks.warm_dimming import where_light_suffices

    by = assess_duv if claim.quantity.name == "duv" else by_readings
    return where_light_suffices(case, claim, by(case, claim, scale))


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "chromaticity, CCT and Duv from the spectrum",
            needs=("spectra",),
            gives=tuple(quantity_register()[name] for name in FIELDS),
            derive=derive,
            assess=assess,
            sources=("CIE 15:2018 clauses 7 and 9", "CIE 1976 UCS", "c2 = 1.4388e-2 m K (ITS-90)"),
        )
    ]
