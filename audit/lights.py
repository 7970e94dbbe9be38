"""The lights of the evidence: what was measured of one light side by side, at its operating point and in its test.

For checks that compare lights with each other or with their settings. A light is a spectrum, or what one document
prints of one operating point (see `audit.derived.beside`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.book import TOLERANCES, WHOLE
from audit.derived import beside
from audit.model import POINT_FIELDS, Evidence

if TYPE_CHECKING:
    import pandas as pd

SAME_ROOM_K = 5.0  # ambient temperatures within half of this from 25 °C are one, and so on
FULL_PERCENT = 99.0  # a stated level from here is full output, as the tolerance of levels has it


def lights(evidence: Evidence, names: Sequence[str]) -> pd.DataFrame:
    """Return the lights that have all these quantities: the columns of `beside`, of the operating point, and `test`.

    Of one operating point in one test, those from spectra count before those printed, and these before those worked out
    from other readings; the light of a single channel is left out.
    """
    return at_points(evidence, beside(evidence, names))


def only(evidence: Evidence, *fields: str) -> Evidence:
    """Return the evidence with the readings alone whose operating point states one of the fields."""
    stated = evidence.points[list(fields)]
    points = evidence.points["point_id"][(stated.notna() & (stated != "")).any(axis=1)]
    return replace(evidence, readings=evidence.readings[evidence.readings["point_id"].isin(points)])


def at_points(evidence: Evidence, found: pd.DataFrame) -> pd.DataFrame:
    """Return lights (columns of `beside`) with their operating points and tests, as `lights` does."""
    found = found.merge(evidence.points, on="point_id")
    found["test"] = found["document_id"].map(evidence.documents.set_index("document_id")["test"])
    found["rank"] = np.where(found["spectrum_id"] >= 0, 0, np.where(found["origin"] == "reported", 1, 2))
    best = found.groupby(["test", "point_id"])["rank"].transform("min")
    whole = found["channel"].str.casefold().isin(("", *WHOLE))
    return found[(found["rank"] == best) & whole].reset_index(drop=True)


def chromaticities(evidence: Evidence) -> pd.DataFrame:
    """Return u', v' of every light: printed or of its spectrum, else from x, y.

    Columns: point_id, spectrum_id, document_id, origin, place_id, u_prime, v_prime, and "u_prime U" and "v_prime U",
    their expanded uncertainties where they are stated.
    """
    import pandas as pd

    from audit.quantities.chromaticity import propagate, xy_to_uv_prime
    from audit.quantities.steps import possible

    known = beside(evidence, ("u_prime", "v_prime"))
    others = beside(evidence, ("x", "y"))
    keys = ["point_id", "spectrum_id", "document_id"]
    # What was worked out from x and y doesn't carry their uncertainty.
    worked_out = ((known["origin"] == "computed") & (known["spectrum_id"] < 0)).to_numpy()
    having_xy = pd.MultiIndex.from_frame(known[keys]).isin(pd.MultiIndex.from_frame(others[keys]))
    known = known[~(worked_out & having_xy)]
    others = others[~pd.MultiIndex.from_frame(others[keys]).isin(pd.MultiIndex.from_frame(known[keys]))].copy()
    others["u_prime"], others["v_prime"] = xy_to_uv_prime(others["x"].to_numpy(float), others["y"].to_numpy(float))
    others.loc[~possible(others["x"].to_numpy(float), others["y"].to_numpy(float)), ["u_prime", "v_prime"]] = np.nan
    spread = propagate(*(others[name].to_numpy(float) for name in ("x", "y", "x U", "y U")))
    others["u_prime U"], others["v_prime U"] = spread["u_prime"], spread["v_prime"]
    columns = [*keys, "origin", "place_id", "u_prime", "v_prime", "u_prime U", "v_prime U"]
    return pd.concat([known[columns], others[columns]], ignore_index=True)


def series(found: pd.DataFrame, varying: Collection[str]) -> np.ndarray:
    """Number lights (n,) so that those of one test share a number that differ at most in the `varying` fields.

    Their ambient temperatures may differ as those of a room do from reading to reading.
    """
    keys = ["test", *(name for name in POINT_FIELDS if name not in varying and name != "ambient_C")]
    return np.asarray(found.groupby([*keys, rooms(found["ambient_C"])], dropna=False, sort=False).ngroup())


def rooms(ambient_C: pd.Series) -> pd.Series:
    """Return how warm a room is, in steps of SAME_ROOM_K from 25 °C (n,); what isn't stated is 25 °C."""
    return np.round((ambient_C.fillna(25.0) - 25.0) / SAME_ROOM_K)


def whole_and_new(found: pd.DataFrame) -> np.ndarray:
    """Whether lights (n,) are the whole product's at full output, new and at 25 °C; what isn't stated is taken so."""
    return np.asarray(
        found["zone"].str.casefold().isin(("", *WHOLE))
        & ~found["test_object"].isin(["package", "module"])
        & ~(found["level_percent"] < FULL_PERCENT)
        & ~(found["hours"] > 0)
        & ~((found["ambient_C"] - 25.0).abs() > TOLERANCES["ambient_C"](25.0))
    )


def bearing(evidence: Evidence, found: pd.DataFrame) -> np.ndarray:
    """Whether lights (n,) stand in documents that bear on a verdict: no simulation and no data sheet."""
    from audit.standings import STANDINGS

    standing = found["document_id"].map(evidence.documents.set_index("document_id")["standing"])
    return np.asarray(standing.map({name: each.bears for name, each in STANDINGS.items()}), bool)
