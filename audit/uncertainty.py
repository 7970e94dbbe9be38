"""The standard uncertainty of every reading: stated by its document, propagated from x and y, or assumed.

Expanded uncertainties have k = 2 (JCGM 100:2008, 6.2). A stated one counts for its reading, else for the
same quantity at the same point of the same test, else the largest stated in that test. CCT, Duv, u', v', dominant and
complementary wavelength and purity take theirs from x and y by first-order propagation (JCGM 100:2008, 5.1.2), and x
and y worked out from u' and v' theirs from these; the error of a setting, from what was measured at it, since what is
set has none. What remains is assumed from the quantity register, times the factor of the document's standing. Half a
printed digit, rectangular, is added.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.model import Evidence, Quantity
from audit.standings import STANDINGS
from audit.wording import COVERAGE_FACTOR

Floats = NDArray[np.float64]
PURITY = ("dominant_wavelength", "complementary_wavelength", "excitation_purity")
PROPAGATED = ("cct", "duv", "u_prime", "v_prime", *PURITY)
# The error of a setting -> what was measured; in the same unit, or in per cent of what was set.
SETTING_ERRORS = {"cct_setting_error": ("cct", False), "relative_cct_setting_error": ("cct", True)}


class Uncertainties(NamedTuple):
    """Per reading, aligned with evidence.readings, each (n,): standard uncertainties in the unit.

    `total` is against a nominal value or another laboratory, `repeat` the part that differs between readings
    of one laboratory; NaN where nothing is known. `assumed`: rests on a default of the register. `basis`: where
    `total` comes from, in words.
    """

    total: Floats
    repeat: Floats
    assumed: NDArray[np.bool_]
    basis: NDArray[np.object_]


def uncertainties(evidence: Evidence, known: dict[str, Quantity]) -> Uncertainties:
    """Return the standard uncertainties of all readings."""
    readings = _with_test(evidence)
    stated, basis = _stated(readings, known)
    factor = readings["standing"].map({name: standing.factor for name, standing in STANDINGS.items()}).to_numpy(float)
    value = np.abs(readings["value"].to_numpy())
    absolute = _default(readings, known, value, "uncertainty") * factor
    repeat = _default(readings, known, value, "repeatability") * factor
    assumed = np.isnan(stated)
    total = np.where(assumed, absolute, stated)
    basis[assumed] = [f"assumed, standing: {standing}" for standing in readings["standing"].to_numpy()[assumed]]
    rounding = readings["resolution"].fillna(0.0).to_numpy() / 2 / np.sqrt(3)
    total_u = np.hypot(total / COVERAGE_FACTOR, rounding)
    repeat_u = np.hypot(np.where(np.isnan(repeat), 0.0, repeat) / COVERAGE_FACTOR, rounding)
    _propagate(readings, total_u, repeat_u, rounding, assumed, basis)
    _lend(readings, total_u, repeat_u, assumed, basis)
    basis[np.isnan(total_u)] = "not known"
    return Uncertainties(total_u, np.fmin(repeat_u, total_u), assumed & ~np.isnan(total_u), basis)


def _with_test(evidence: Evidence) -> pd.DataFrame:
    documents = evidence.documents.set_index("document_id")
    owner = evidence.places.set_index("place_id")["document_id"].reindex(evidence.readings["place_id"]).to_numpy()
    readings = evidence.readings.reset_index(drop=True).copy()
    readings["document_id"] = owner
    readings["test"] = documents["test"].reindex(owner).to_numpy()
    readings["standing"] = documents["standing"].reindex(owner).to_numpy()
    return readings


def _stated(readings: pd.DataFrame, known: dict[str, Quantity]) -> tuple[Floats, NDArray[np.object_]]:
    """Return the expanded uncertainty that each reading's own document or test states, else NaN, and its basis.

    From elsewhere in the test the largest counts: as a share of the value for quantities whose uncertainty goes with
    the value, or a flux of 5 % would lend its own to that of 100 %.
    """
    own = readings["expanded_uncertainty"]
    basis = np.where(own.notna(), "stated", "").astype(object)
    if own.notna().any():
        value = readings["value"].abs().where(lambda size: size > 0)
        goes_with_value = readings["quantity"].map({name: q.uncertainty_relative > 0 for name, q in known.items()})
        scale = value.where(goes_with_value.astype(bool), 1.0)
        share = own / scale
        for keys, words in (
            (["test", "point_id", "quantity"], "stated for this operating point"),
            (["test", "quantity"], "stated elsewhere in this test"),
        ):
            largest = share.groupby([readings[key] for key in keys], observed=True).transform("max") * scale
            basis[(own.isna() & largest.notna()).to_numpy()] = words
            own = own.fillna(largest)
    return np.asarray(own, float), basis


def _default(readings: pd.DataFrame, known: dict[str, Quantity], value: Floats, kind: str) -> Floats:
    names = list(readings["quantity"].cat.categories)
    code = readings["quantity"].cat.codes.to_numpy()
    fixed = np.array([getattr(known[name], f"{kind}_absolute") for name in names], float)[code]
    relative = np.array([getattr(known[name], f"{kind}_relative") for name in names], float)[code] / 100 * value
    return np.asarray(np.where(np.isnan(fixed) & (relative > 0), relative, fixed + relative))


def _propagate(
    readings: pd.DataFrame,
    total: Floats,
    repeat: Floats,
    rounding: Floats,
    assumed: NDArray[np.bool_],
    basis: NDArray[np.object_],
) -> None:
    """Fill in place what is taken from x and y of the same light; where these are worked out, from u' and v'.

    The same spectrum's come first, then any of the same test and operating point.
    """
    quantity = readings["quantity"].astype(str).to_numpy(object)
    worked_out = ((readings["origin"] == "computed") & (readings["spectrum_id"] < 0)).to_numpy()
    wanted = assumed & (np.isin(quantity, PROPAGATED) | (np.isin(quantity, ("x", "y")) & worked_out))
    if not wanted.any():
        return
    value = readings["value"].to_numpy()
    for names, spreads in ((("x", "y"), _from_xy), (("u_prime", "v_prime"), _from_uv_prime)):
        sources = [np.flatnonzero((quantity == name) & ~worked_out) for name in names]
        targets = wanted if names[0] == "x" else wanted & worked_out
        for keys in (["test", "point_id", "spectrum_id"], ["test", "point_id"]):
            light = readings.groupby(keys, sort=False).ngroup().to_numpy()
            first, second = (_at(light, rows) for rows in sources)
            rows = np.flatnonzero(targets & (first >= 0) & (second >= 0))
            if not len(rows):
                continue
            one, other = first[rows], second[rows]
            for spread in (total, repeat):
                propagated = spreads(value[one], value[other], spread[one], spread[other], set(quantity[rows]))
                for name in propagated:
                    here = quantity[rows] == name
                    spread[rows[here]] = np.hypot(propagated[name][here], rounding[rows[here]])
            assumed[rows] = assumed[one] | assumed[other]
            basis[rows] = [
                f"propagated, {names[0]} {from_one}, {names[1]} {from_other}"
                for from_one, from_other in zip(basis[one], basis[other], strict=True)
            ]
            wanted[rows] = targets[rows] = False


def _at(light: NDArray[np.int64], rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return for each reading the one of `rows` that is of the same light, -1 where none is."""
    found = np.full(light.max() + 1, -1)
    found[light[rows]] = rows
    return found[light]


def _from_xy(x: Floats, y: Floats, u_x: Floats, u_y: Floats, wanted: set[str]) -> dict[str, Floats]:
    from audit.quantities import chromaticity, purity

    spreads = chromaticity.propagate(x, y, u_x, u_y)
    if wanted & set(PURITY):
        of_purity = purity.propagate(x, y, u_x, u_y)
        spreads |= of_purity | {"excitation_purity": 100 * of_purity["excitation_purity"]}
    return spreads


def _from_uv_prime(
    u_prime: Floats, v_prime: Floats, u_u_prime: Floats, u_v_prime: Floats, wanted: set[str]
) -> dict[str, Floats]:
    from audit.quantities import chromaticity

    x, y = chromaticity.uv_prime_to_xy(u_prime, v_prime)
    u_x, u_y, correlation = chromaticity.xy_uncertainty(x, y, u_u_prime, u_v_prime)
    return {"x": u_x, "y": u_y} | chromaticity.propagate(x, y, u_x, u_y, correlation)


def _lend(
    readings: pd.DataFrame, total: Floats, repeat: Floats, assumed: NDArray[np.bool_], basis: NDArray[np.object_]
) -> None:
    """Fill in place what the computed errors of settings take from the readings in the same place."""
    quantity = readings["quantity"].to_numpy(object)
    wanted = np.isin(quantity.astype(str), list(SETTING_ERRORS)) & (readings["origin"] == "computed").to_numpy()
    if not wanted.any():
        return
    value = readings["value"].to_numpy()
    light = readings.groupby(["point_id", "spectrum_id", "place_id"], sort=False).ngroup().to_numpy()
    for name, (measured, in_percent) in SETTING_ERRORS.items():
        source = np.full(light.max() + 1, -1)
        rows = np.flatnonzero(quantity == measured)
        source[light[rows]] = rows
        rows = np.flatnonzero(wanted & (quantity == name) & (source[light] >= 0))
        lent = source[light[rows]]
        scale = (100 + value[rows]) / np.abs(value[lent]) if in_percent else np.ones(len(rows))
        for spread in (total, repeat):
            spread[rows] = spread[lent] * scale
        assumed[rows] = assumed[lent]
        basis[rows] = [f"that of the {measured}: {text}" for text in basis[lent]]
