"""How a check turns kernel results into computed readings: every value keeps its spectrum, point and place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from audit import wording
from audit.model import TEXT, Document, Evidence
from audit.pairs import paired
from audit.recorder import PLACE, Recorder, place_text
from audit.tables import Grid, Tables, frame

if TYPE_CHECKING:
    import pandas as pd

MOST_PLACES = 3


class Computed:
    """Collects the computed readings and remarks of one check."""

    def __init__(self, evidence: Evidence, check: str):
        self.evidence, self.check = evidence, check
        self._quantities: list[tuple[str, int, str]] = []  # name, count of values, definition; aligned with _columns
        self._columns: list[tuple[np.ndarray, ...]] = []  # point_id, value, expanded uncertainty, spectrum_id, place_id
        self._notes = Recorder(Document.nowhere())

    def spectra(self) -> Iterator[tuple[pd.DataFrame, Grid]]:
        """Yield the spectra on each grid: their rows of the spectra table and the Grid, aligned."""
        for grid_id, rows in self.evidence.spectra.groupby("grid_id", sort=True):
            rows = rows.sort_values("row")
            grid = self.evidence.grids[int(grid_id)]
            whole = len(rows) == len(grid.power)
            yield rows, grid if whole else Grid(grid.wavelength_nm, grid.power[rows["row"].to_numpy()])

    def add(
        self,
        rows: pd.DataFrame,
        values: Mapping[str, np.ndarray],
        expanded: Mapping[str, np.ndarray] | None = None,
        definition: str = "",
    ) -> None:
        """Add quantity -> values (n,), one per row of the spectra or of `beside`; NaN (refused) gives no reading.

        `expanded`: quantity -> expanded uncertainties (n,) where they follow from stated ones, else NaN.
        `definition`: of a quantity that has several, the one by which these are computed.
        """
        point, spectrum, place = (rows[name].to_numpy() for name in ("point_id", "spectrum_id", "place_id"))
        for quantity, value in values.items():
            known = ~np.isnan(value)
            spread = (expanded or {}).get(quantity, np.full(len(value), np.nan))
            self._quantities.append((quantity, int(known.sum()), definition))
            self._columns.append((point[known], value[known], spread[known], spectrum[known], place[known]))

    def remark(
        self,
        rows: pd.DataFrame,
        texts: np.ndarray,
        rule: str,
        tier: str,
        what: str,
        ask: str,
        of: tuple[str, str] = ("spectrum", "spectra"),
    ) -> None:
        """Observe texts (n,), "" where there is nothing to say: once per text, with count of what and first places."""
        for text in sorted(set(texts.tolist()) - {""}):
            said = rows[texts == text]
            places = self.evidence.places.set_index("place_id").loc[said["place_id"]]
            paths = self.evidence.documents.set_index("document_id")["path"]
            for document_id, here in places.groupby("document_id", sort=True):
                where = "; ".join(
                    place_text(*place) for place in here[list(PLACE)].head(MOST_PLACES).itertuples(index=False)
                )
                self._notes.observe(
                    rule,
                    tier,
                    f"{what} of {wording.counted(len(here), *of)}: {text}",
                    ask=ask,
                    subject=what,
                    document=paths[document_id],
                    place=where + (" ..." if len(here) > MOST_PLACES else ""),
                    by=self.check,
                )

    def tables(self) -> Tables:
        """Return the readings and observations collected."""
        import pandas as pd

        notes = frame("observations", [tuple(note.values()) for note in self._notes.observations])
        if not self._columns:
            return Tables({"readings": frame("readings", ()), "observations": notes})
        point, value, expanded, spectrum, place = (np.concatenate(parts) for parts in zip(*self._columns, strict=True))
        names = list(dict.fromkeys(name for name, *_ in self._quantities))
        counts = [count for _, count, _ in self._quantities]
        codes = np.repeat([names.index(name) for name, *_ in self._quantities], counts)
        definitions = np.repeat(np.array([text for *_, text in self._quantities], object), counts)
        readings = pd.DataFrame(
            {
                "point_id": point,
                "quantity": pd.Categorical.from_codes(codes, names),
                "value": value,
                "expanded_uncertainty": expanded,
                "resolution": np.nan,
                "origin": "computed",
                "definition": pd.array(definitions, dtype=TEXT),
                "spectrum_id": spectrum,
                "place_id": place,
            }
        )
        return Tables({"readings": readings, "observations": notes})


def beside(evidence: Evidence, names: Sequence[str]) -> pd.DataFrame:
    """Return readings of several quantities of one light side by side, a row per light, in the order of their places.

    Columns: point_id, spectrum_id, origin, document_id, place_id (of the first quantity) and, for each name, its value
    and, with the suffixes " U", " digit", " row", its expanded uncertainty, resolution and row in the readings. What
    is of one light `audit.pairs.paired` says; printed and computed are kept apart, but where a light prints the first
    alone, the others that were computed of it stand beside it. Lights that lack one of the quantities are left out.
    """
    import pandas as pd

    of_each = [np.flatnonzero(evidence.readings["quantity"] == name) for name in names]
    is_computed = (evidence.readings["origin"] == "computed").to_numpy()
    printed, computed = ([rows[is_computed[rows] == kind] for rows in of_each] for kind in (False, True))
    parts = [_aligned(evidence, rows) for rows in (printed, computed)]
    if len(names) > 1:
        parts.append(_aligned(evidence, [np.setdiff1d(printed[0], parts[0][0]), *computed[1:]]))
    columns = [np.concatenate(rows) for rows in zip(*parts, strict=True)]
    found = evidence.readings[["point_id", "spectrum_id", "origin", "place_id"]].iloc[columns[0]].reset_index(drop=True)
    found["document_id"] = evidence.places.set_index("place_id")["document_id"].reindex(found["place_id"]).to_numpy()
    kept = [("", "value"), (" U", "expanded_uncertainty"), (" digit", "resolution")]
    numbers = {suffix: evidence.readings[column].to_numpy(float) for suffix, column in kept}
    for name, rows in zip(names, columns, strict=True):
        for suffix, values in numbers.items():
            found[name + suffix] = values[rows]
        found[f"{name} row"] = rows
    return pd.DataFrame(found.sort_values(["document_id", "place_id"], kind="stable").reset_index(drop=True))


def _aligned(evidence: Evidence, columns: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Those rows of each quantity that are of one light with a row of every other, aligned."""
    aligned = [columns[0]]
    for rows in columns[1:]:
        mine, theirs = paired(evidence, aligned[0], rows)
        aligned = [*(each[np.isin(aligned[0], mine)] for each in aligned), theirs]
    return aligned
