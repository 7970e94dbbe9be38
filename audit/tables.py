"""Tables of an audit as frames or lists of rows, and the spectra's numbers beside them."""

from __future__ import annotations

from collections import UserDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.model import CATEGORY, COLUMNS, TEXT

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

    from audit.figures import Figure


def frame(table: str, rows: Sequence[tuple[Any, ...]]) -> pd.DataFrame:
    """Return rows (in the order of COLUMNS[table]) as a frame with that table's dtypes, also when empty.

    Raises TypeError or ValueError where a value is none of its column's kind.
    """
    import numpy as np
    import pandas as pd

    columns = COLUMNS[table]
    if wrong := {*map(len, rows)} - {len(columns)}:
        raise ValueError(f"a row of {table} has {min(wrong)} values, not {len(columns)}")
    data: dict[str, Any] = {}
    for index, (name, dtype) in enumerate(columns.items()):
        cells = [row[index] for row in rows]  # zip(*rows) would make an iterator for each row
        if dtype == CATEGORY:
            data[name] = pd.Categorical(pd.array(cells, dtype=TEXT))
        else:  # arrays, not series: those would be aligned and copied, at four times the cost of a small document
            data[name] = pd.array(cells, dtype=TEXT) if dtype == TEXT else np.array(cells, dtype=dtype)
    return pd.DataFrame(data, copy=False)


class Tables(UserDict[str, Any]):
    """Table name -> DataFrame: what read, derive and judge return.

    `grids` holds the spectra's numbers, `figures` what judge shows.

    A table may be handed in as a list of its rows, tuples in the order of COLUMNS: it becomes a frame when it's asked
    for. Most documents are too small to be worth frames of their own, so that gather takes the lists (`data`) of all.
    """

    def __init__(
        self,
        frames: Mapping[str, pd.DataFrame | list[tuple[Any, ...]]] | None = None,
        grids: Mapping[int, Grid] | None = None,
        figures: Sequence[Figure] = (),
    ):
        super().__init__(frames or {})
        self.grids: dict[int, Grid] = dict(grids or {})
        self.figures: list[Figure] = list(figures)

    def __getitem__(self, name: str) -> Any:
        table = self.data[name]
        if isinstance(table, list):
            table = self.data[name] = frame(name, table)
        return table

    def column(self, table: str, column: str) -> Iterable[Any]:
        """Return the values of one column, none where the table is missing, and make no frame for it."""
        kept = self.data.get(table, [])
        if not isinstance(kept, list):
            return list(kept[column])
        index = list(COLUMNS[table]).index(column)
        return [row[index] for row in kept]


@dataclass(frozen=True)
class Grid:
    """Spectra that share their wavelengths: wavelength_nm (m,) increasing, power (n, m), both finite."""

    wavelength_nm: np.ndarray
    power: np.ndarray

    def __post_init__(self) -> None:
        import numpy as np

        wavelength, power = self.wavelength_nm, self.power
        if wavelength.ndim != 1 or power.ndim != 2 or power.shape[1] != wavelength.size:
            raise ValueError(f"a grid needs wavelengths (m,) and power (n, m), got {wavelength.shape}, {power.shape}")
        if not np.isfinite(wavelength).all() or (np.diff(wavelength) <= 0).any():
            raise ValueError("wavelengths must be finite numbers, each larger than the one before")
        if not np.isfinite(power).all():
            raise ValueError("power must be finite numbers")
