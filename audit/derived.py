"""How a check turns kernel results into computed readings: every value keeps its spectrum, point and place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from audit import wording
from audit.model import Document, Evidence, Grid, Tables, frame
from audit.recorder import PLACE, Recorder, place_text

if TYPE_CHECKING:
    import pandas as pd

MOST_PLACES = 3


class Computed:
    """Collects the computed readings and remarks of one check."""

    def __init__(self, evidence: Evidence, check: str):
        self.evidence, self.check = evidence, check
        self._quantities: list[tuple[str, int]] = []  # name and count of values, aligned with _columns
        self._columns: list[tuple[np.ndarray, ...]] = []  # point_id, value, spectrum_id, place_id
        self._notes = Recorder(Document.nowhere())

    def spectra(self) -> Iterator[tuple[pd.DataFrame, Grid]]:
        """Yield the spectra on each grid: their rows of the spectra table and the Grid, aligned."""
        for grid_id, rows in self.evidence.spectra.groupby("grid_id", sort=True):
            rows = rows.sort_values("row")
            grid = self.evidence.grids[int(grid_id)]
            whole = len(rows) == len(grid.power)
            yield rows, grid if whole else Grid(grid.wavelength_nm, grid.power[rows["row"].to_numpy()])

    def add(self, rows: pd.DataFrame, values: Mapping[str, np.ndarray]) -> None:
        """Add quantity -> values (n,), one per row of the spectra; NaN (refused) gives no reading."""
        point, spectrum, place = (rows[name].to_numpy() for name in ("point_id", "spectrum_id", "place_id"))
        for quantity, value in values.items():
            known = ~np.isnan(value)
            self._quantities.append((quantity, int(known.sum())))
            self._columns.append((point[known], value[known], spectrum[known], place[known]))

    def remark(self, rows: pd.DataFrame, texts: np.ndarray, rule: str, tier: str, what: str, ask: str) -> None:
        """Observe texts (n,), "" where there is nothing to say: once per text, with count and first places."""
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
                    f"{what} of {wording.counted(len(here), 'spectrum', 'spectra')}: {text}",
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
        point, value, spectrum, place = (np.concatenate(parts) for parts in zip(*self._columns, strict=True))
        names = list(dict.fromkeys(name for name, _ in self._quantities))
        codes = np.repeat([names.index(name) for name, _ in self._quantities], [n for _, n in self._quantities])
        readings = pd.DataFrame(
            {
                "point_id": point,
                "quantity": pd.Categorical.from_codes(codes, names),
                "value": value,
                "expanded_uncertainty": np.nan,
                "resolution": np.nan,
                "origin": "computed",
                "definition": "",
                "spectrum_id": spectrum,
                "place_id": place,
            }
        )
        return Tables({"readings": readings, "observations": notes})
