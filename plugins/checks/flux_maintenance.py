"""How much of its light was kept after so many hours?

What it answers
    Luminous flux maintenance Φ/Φ0 of each unit at each hour, worked out where a document prints the flux alone; and
    whether printed maintenance is what it says: the flux divided by that of the same unit at 0 h.
Why it matters
    A claim such as 96 % at 3,000 h stands on this ratio, and so does every projection of a life. Divided by the flux at
    1,000 h, after the rise of the first hours, it looks better or worse than it is.
Evidence needed
    Luminous flux, or its maintenance, of units told apart by serial numbers, with the hours of operation and 0 h.
Method
    flux(t) / flux(0) of one unit of one test in one state; only where 0 h was read once. Printed maintenance is
    compared with the printed flux by rounding alone. A first value that isn't 100 % is told.
What it can't know
    Whether a first reading was taken of a seasoned or of a new unit, where the document doesn't say so.
Sources
    ANSI/IES LM-80 and LM-84 (maintenance is relative to the initial reading); readings of each unit are normalised by
    themselves (rule R15 of audit/quantities/data/tm21_rules.csv).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Document, Evidence, Recorder, Tables, hookimpl, quantity_register, wording

if TYPE_CHECKING:
    import pandas as pd

NAME = "flux_maintenance"
FLUX, RATIO = "luminous_flux", "flux_ratio"
NOISE = 1e-9  # of a ratio in per cent: binary fractions
MOST_PLACES = 3
START_ASK = "divide each unit's flux by its own at 0 h, or say what 100 % is"


def derive(evidence: Evidence) -> Tables:
    """Return Φ/Φ0 in % of each unit over the hours, and where printed maintenance isn't flux(t) / flux(0)."""
    from audit.tables import frame

    notes = Recorder(Document.nowhere())
    found = _series(evidence)
    flux, ratio = (found[found["quantity"] == name] for name in (FLUX, RATIO))
    computed = _ratios(flux)
    _remark_start(notes, ratio)
    _remark_differing(notes, ratio, computed)
    _remark_without_start(notes, flux, ratio)
    printed = set(zip(ratio["unit"], ratio["hours"], strict=True))
    pairs = zip(computed["unit"], computed["hours"], strict=True)
    new = computed[np.array([pair not in printed for pair in pairs], bool)]
    rows = [
        (point, RATIO, value, np.nan, np.nan, "computed", "", -1, place)
        for point, value, place in zip(new["point_id"], new["ratio"], new["place_id"], strict=True)
    ]
    observations = frame("observations", [tuple(note.values()) for note in notes.observations])
    return Tables({"readings": frame("readings", rows), "observations": observations})


def _series(evidence: Evidence) -> pd.DataFrame:
    """Return the readings of flux and maintenance at stated hours; `unit` numbers a unit of one test in one state."""
    import pandas as pd

    from audit.book import grouped
    from audit.model import POINT_FIELDS

    readings = evidence.readings[evidence.readings["quantity"].isin([FLUX, RATIO])]
    readings = readings.merge(evidence.places[["place_id", "document_id", "sheet", "row", "cell"]], on="place_id")
    readings = readings.merge(evidence.documents[["document_id", "path", "test"]], on="document_id")
    readings = readings.merge(evidence.points, on="point_id")
    readings = readings[readings["hours"].notna()].reset_index(drop=True)
    fields = {name: readings[name].to_numpy() for name in POINT_FIELDS}
    state = grouped(fields, {"hours"})
    readings["unit"] = pd.MultiIndex.from_arrays([state, readings["test"]]).factorize(sort=True)[0]
    return readings


def _ratios(flux: pd.DataFrame) -> pd.DataFrame:
    """Return flux with `ratio` in % and its `slack` by rounding, for units read once at 0 h and later again."""
    start = flux[flux["hours"] == 0].drop_duplicates("unit", keep=False)
    start = start[start["value"] > 0].set_index("unit")
    later = flux.loc[flux["hours"] > 0, "unit"]
    flux = flux[flux["unit"].isin(start.index) & flux["unit"].isin(later)]
    first, resolution = (flux["unit"].map(start[name]) for name in ("value", "resolution"))
    ratio = 100 * flux["value"] / first
    half = (flux["resolution"].fillna(0) + ratio / 100 * resolution.fillna(0)) / 2
    return flux.assign(ratio=ratio, slack=100 * half / first)


def _remark_start(notes: Recorder, ratio: pd.DataFrame) -> None:
    """Observe units whose maintenance doesn't begin with 100 % at 0 h, and what it is divided by instead."""
    first = ratio.sort_values("hours", kind="stable").drop_duplicates("unit")
    whole = np.abs(ratio["value"] - 100) <= ratio["resolution"].fillna(0) / 2 + NOISE
    at_100 = set(ratio.loc[whole, "unit"])
    begins = np.abs(first["value"] - 100) <= first["resolution"].fillna(0) / 2 + NOISE
    otherwise = first[(first["hours"] == 0) & ~begins]
    for document, rows in otherwise.groupby("path", sort=True):
        units = set(rows["unit"])
        hours = sorted(set(ratio.loc[whole & ratio["unit"].isin(units), "hours"])) if units <= at_100 else []
        base = f": it is 100 % at {hours[0]:,.10g} h" if len(hours) == 1 else ""
        said = f"{rows['value'].min():.10g} % to {rows['value'].max():.10g} %" if len(rows) > 1 else ""
        text = f"maintenance at 0 h isn't 100 % but {said or wording.plain(rows['value'].iloc[0]) + ' %'}{base}"
        _observe(notes, "maintenance_not_from_start", "minor", str(document), rows, text, START_ASK)
    late = first[(first["hours"] > 0) & begins]
    for document, rows in late.groupby("path", sort=True):
        text = f"maintenance is 100 % at {rows['hours'].min():,.10g} h, and 0 h isn't given: is that hour the start?"
        _observe(notes, "maintenance_not_from_start", "major", str(document), rows, text, START_ASK)


def _remark_differing(notes: Recorder, ratio: pd.DataFrame, computed: pd.DataFrame) -> None:
    """Observe printed maintenance that the printed flux of the same unit doesn't give."""
    both = ratio.merge(computed[["unit", "hours", "ratio", "slack"]], on=["unit", "hours"])
    excess = np.abs(both["value"] - both["ratio"]) - both["slack"] - both["resolution"].fillna(0) / 2
    apart = both[excess > NOISE]
    for document, rows in apart.groupby("path", sort=True):
        worst = rows.loc[(rows["value"] - rows["ratio"]).abs().idxmax()]
        text = (
            f"printed maintenance isn't flux(t) / flux(0): {worst['value']:.10g} % at {worst['hours']:,.10g} h, where "
            f"the printed flux gives {worst['ratio']:.2f} %"
        )
        _observe(notes, "maintenance_doesnt_follow", "major", str(document), rows, text, "which of the two is right?")


def _remark_without_start(notes: Recorder, flux: pd.DataFrame, ratio: pd.DataFrame) -> None:
    """Observe units whose flux was read over hours, but not, or more than once, at 0 h."""
    series = flux[flux.groupby("unit")["hours"].transform("nunique") > 1]
    starts = series["unit"].map((series["hours"] == 0).groupby(series["unit"]).sum())
    open_ = series[(starts != 1) & ~series["unit"].isin(ratio["unit"])].drop_duplicates("unit")
    for document, rows in open_.groupby("path", sort=True):
        text = "flux over hours without one reading at 0 h, so what was kept isn't known"
        ask = "send the flux at 0 h of each unit, told apart by serial numbers"
        _observe(notes, "flux_without_start", "minor", str(document), rows, text, ask)


def _observe(notes: Recorder, rule: str, tier: str, document: str, rows: pd.DataFrame, text: str, ask: str) -> None:
    from audit.recorder import PLACE, place_text

    units = rows.drop_duplicates("unit")
    places = [place_text(*place) for place in units[list(PLACE)].head(MOST_PLACES).itertuples(index=False)]
    where = "; ".join(places) + (" ..." if len(units) > MOST_PLACES else "")
    told = f"{text} ({wording.counted(len(units), 'unit')})"
    notes.observe(rule, tier, told, ask=ask, subject=RATIO, document=document, place=where, by=NAME)


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "luminous flux maintenance of each unit",
            needs=("readings", FLUX),
            gives=(quantity_register()[RATIO],),
            derive=derive,
            sources=("ANSI/IES LM-80; LM-84",),
        )
    ]
