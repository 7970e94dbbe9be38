"""Where does the light lie: chromaticity, correlated colour temperature and distance from the Planckian locus?

What it answers
    x, y, u', v', CCT and Duv, dominant or complementary wavelength and excitation purity of every spectrum handed in,
    so that claims on them need no trust in a printout; and what a document's own x and y (or u' and v') leave to be
    worked out where it gives no spectrum.
Why it matters
    A white that is 0.003 off the locus, or 100 K from its neighbour, is seen side by side.
Evidence needed
    Spectra that cover the visible range, or x and y, or u' and v'.
Method
    Sums of the CIE 1931 2-degree observer at 1 nm; CCT and Duv by the nearest point of the Planckian locus
    summed at 1 nm, c2 = 1.4388e-2 m K; no CCT beyond 0.05 from the locus. Purity and wavelengths about the
    equal-energy stimulus E; near it the direction, and with it the wavelength, is as uncertain as x and y make it.
What it can't know
    Whether the spectrum is of the unit and setting that it names, and how good it is: stray light, a wavelength
    scale that is off, and light outside its range pass through. Light that changes with direction or time is
    what the instrument saw of it.
Sources
    CIE 15:2018 clauses 7 and 9 (purity: 9.1); CIE 1976 UCS; ANSI C78.377 (sign of Duv).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, hookimpl, quantity_register

if TYPE_CHECKING:
    import pandas as pd

    from audit.assess import Assessment
    from audit.case import Case
    from audit.claims import Claim

NAME = "chromaticity"
FIELDS = {"x": "x", "y": "y", "u_prime": "u_prime", "v_prime": "v_prime", "cct": "cct_K", "duv": "duv"}
PURITY = ("dominant_wavelength", "complementary_wavelength", "excitation_purity")


def derive(evidence: Evidence) -> Tables:
    """Return the computed readings of all spectra, why some are missing, and what x and y without a spectrum give."""
    from audit.quantities.chromaticity import chromaticity
    from audit.quantities.purity import purity

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
        share = purity(result.x, result.y)
        values = (share.dominant_nm, share.complementary_nm, 100 * share.excitation_purity)
        computed.add(rows, dict(zip(PURITY, values, strict=True)))
        computed.remark(rows, share.refused, "purity_refused", "note", "dominant wavelength and purity", "")
    for x_row, y_row in (("x", "y"), ("u_prime", "v_prime")):
        _add_from_coordinates(evidence, computed, (x_row, y_row))
    return computed.tables()


def assess(case: Case, claim: Claim, scale: float) -> Assessment:
    """Assess a claim by its readings, where there was light enough; one on Duv also by what its channels can mix."""
    from audit.assess import assess as by_readings
    from audit.darkness import where_light_suffices
    from plugins.checks.mixing import assess_duv

    by = assess_duv if claim.quantity.name == "duv" else by_readings
    return where_light_suffices(case, claim, by(case, claim, scale))


def _add_from_coordinates(evidence: Evidence, computed: Computed, names: tuple[str, str]) -> None:
    """Work out from printed coordinates what their document doesn't print at that point, where it has no spectrum.

    u' and v' are used only where there is no x and y.
    """
    from audit.pairs import paired
    from audit.quantities.chromaticity import cct_duv, uv_prime_to_xy, xy_to_uv_prime

    quantity = evidence.readings["quantity"]
    one, other = paired(evidence, *(np.flatnonzero(quantity == name) for name in names))
    if not len(one):
        return
    printed = evidence.readings.assign(document=_owner(evidence, evidence.readings))
    light = printed.iloc[one]
    where = list(zip(light["document"], light["point_id"], strict=True))
    spectral = set(zip(_owner(evidence, evidence.spectra), evidence.spectra["point_id"], strict=True))
    given = {
        name: set(zip(rows["document"], rows["point_id"], strict=True)) | spectral
        for name, rows in printed.groupby(quantity, observed=True)
    }
    first, second = (printed["value"].to_numpy()[rows] for rows in (one, other))
    from_xy = names == ("x", "y")
    with np.errstate(divide="ignore", invalid="ignore"):
        x, y = (first, second) if from_xy else uv_prime_to_xy(first, second)
        real = (x >= 0) & (y > 0) & (x + y <= 1)
        x, y = np.where(real, x, np.nan), np.where(real, y, np.nan)
        values = {"x": x, "y": y}
        values |= dict(zip(("u_prime", "v_prime"), xy_to_uv_prime(x, y), strict=True))
        values |= dict(zip(("cct", "duv"), cct_duv(x, y), strict=True))
    second_choice = set() if from_xy else given.get("x", set()) & given.get("y", set())
    for name in values.keys() - set(names):
        known = given.get(name, spectral) | second_choice
        missing = np.array([place not in known for place in where], bool)
        computed.add(light[missing], {name: values[name][missing]})


def _owner(evidence: Evidence, rows: pd.DataFrame) -> np.ndarray:
    """The document of each row of a table with places."""
    owner = evidence.places.set_index("place_id")["document_id"]
    return np.asarray(owner.reindex(rows["place_id"]).to_numpy())


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "chromaticity, CCT, Duv and purity of the light",
            needs=("spectra", "x", "y", "u_prime", "v_prime"),
            gives=tuple(quantity_register()[name] for name in (*FIELDS, *PURITY)),
            derive=derive,
            assess=assess,
            sources=("CIE 15:2018 clauses 7 and 9", "CIE 1976 UCS", "c2 = 1.4388e-2 m K (ITS-90)"),
        )
    ]
