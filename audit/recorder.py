"""A reader's notebook: points, places, readings, spectra and observations of one document, kept as tables."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from audit.model import COLUMNS, POINT_FIELDS, TEXT, Document
from audit.tables import Coded, Grid, Rows, Tables, is_blank

if TYPE_CHECKING:
    import numpy as np

FIELD_AT = {name: index for index, name in enumerate(POINT_FIELDS)}
BLANK_POINT = tuple("" if kind == TEXT else math.nan for kind in POINT_FIELDS.values())
PLACE = ("sheet", "row", "cell")  # the columns that place_text takes, in its order


def place_text(sheet: str, row: int, cell: str) -> str:
    """Return a place as a person says it: sheet 'x', row 12, cell C12; line 12 where a document has no cells."""
    if row and not sheet and not cell:
        return f"line {row}"
    parts = [
        f"sheet '{sheet}'" if sheet else "",
        f"row {row}" if row else "",
        f"{'cells' if ':' in cell else 'cell'} {cell}" if cell else "",
    ]
    return ", ".join(part for part in parts if part)


class Recorder:
    """Collects what a reader finds in one document. Ids are local; the engine renumbers them.

    Identical operating points share one id where they are given one by one, so a row of ten metrics costs one point.
    """

    def __init__(self, document: Document):
        self.document = document
        self._points: dict[tuple[Any, ...], int] = {}
        self._rows = {name: Rows(name) for name in COLUMNS}
        self._grids: dict[bytes, tuple[int, np.ndarray, list[np.ndarray]]] = {}

    def point(self, **fields: Any) -> int:
        """Return the id of the operating point with these fields; what isn't given is "not stated"."""
        point = list(BLANK_POINT)
        for name, value in fields.items():
            if name not in FIELD_AT:
                raise TypeError(f"not an operating-point field: {name}")
            if value == value:  # another NaN than that of BLANK_POINT would be another point
                point[FIELD_AT[name]] = value
        key, rows = tuple(point), self._rows["points"]
        number = self._points.setdefault(key, len(rows))
        if number == len(rows):
            rows.add((number, *key))
        return number

    def points(self, count: int, fields: Mapping[str, Any]) -> np.ndarray:
        """Return the ids (count,) of operating points; a field is one value for all of them, or a column of Rows."""
        rows = self._rows["points"]
        ids = _counted(len(rows), count)
        rows.extend(count, [ids, *({**dict(zip(POINT_FIELDS, BLANK_POINT, strict=True)), **fields}.values())])
        return ids

    def unstated(self, field: str) -> int:
        """Return how many different operating points don't state a field."""
        at = 1 + FIELD_AT[field]
        blank = ([repr(value) for value in row[1:]] for row in self._rows["points"] if is_blank(row[at]))
        return len(set(map(tuple, blank)))

    def fill(self, field: str, value: Any) -> int:
        """Give the points that don't state a field this value; return how many different ones there were."""
        count = self.unstated(field)
        if count:
            self._rows["points"].fill(field, value)
        return count

    def place(self, *, sheet: str = "", row: int = 0, cell: str = "", raw: str = "") -> int:
        """Return the id of a place in the document. Rows count from 1; `raw` is the text that stands there."""
        places = self._rows["places"]
        places.add((len(places), 0, sheet, row, cell, raw))
        return len(places) - 1

    def places(self, sheet: str, rows: np.ndarray, cells: list[str], raws: list[str]) -> np.ndarray:
        """Return the ids (n,) of places on one sheet: rows (n,), addresses and texts of their cells."""
        places = self._rows["places"]
        ids = _counted(len(places), len(cells))
        places.extend(len(cells), [ids, 0, sheet, rows, cells, raws])
        return ids

    def readings(
        self,
        points: np.ndarray,
        quantity: Coded,
        value: np.ndarray,
        places: np.ndarray,
        expanded_uncertainty: np.ndarray,
        resolution: np.ndarray,
        definition: Coded,
    ) -> None:
        """Keep reported values (n,), as `reading` does one."""
        columns = [points, quantity, value, expanded_uncertainty, resolution, "reported", definition, -1, places]
        self._rows["readings"].extend(len(value), columns)

    def reading(
        self,
        point: int,
        quantity: str,
        value: float,
        place: int,
        *,
        expanded_uncertainty: float = math.nan,
        resolution: float = math.nan,
        definition: str = "",
    ) -> None:
        """Keep one reported value, in the unit of the quantity register; uncertainties expanded, k = 2."""
        self._rows["readings"].add(
            (point, quantity, value, expanded_uncertainty, resolution, "reported", definition, -1, place)
        )

    def spectra(
        self,
        wavelength_nm: np.ndarray,
        power: np.ndarray,
        points: Sequence[int],
        places: Sequence[int],
        *,
        kind: str = "",
        unit: str = "",
    ) -> None:
        """Keep spectra on their own grid: wavelength_nm (m,), power (n, m), one point and place per row."""
        grid = Grid(wavelength_nm, power)  # refuses what no kernel may see
        key = grid.wavelength_nm.tobytes()
        grid_id, _, blocks = self._grids.setdefault(key, (len(self._grids), grid.wavelength_nm, []))
        row = sum(len(block) for block in blocks)
        blocks.append(grid.power)
        spectra = self._rows["spectra"]
        for offset, (point, place) in enumerate(zip(points, places, strict=True)):
            spectra.add((len(spectra), point, grid_id, row + offset, kind, unit, place))

    def metadata(self, key: str, value: str, place: int) -> None:
        """Keep what the document says about itself: laboratory, report number, standing, instrument."""
        self._rows["metadata"].add((0, key, value, place))

    def observe(
        self,
        rule: str,
        tier: str,
        message: str,
        *,
        ask: str = "",
        subject: str = "",
        document: str | None = None,
        place: str = "",
        by: str = "",
    ) -> None:
        """Keep something seen that a person should know; see audit.model.TIERS for the tiers.

        `document` is this recorder's own unless another is named.
        """
        path = self.document.path if document is None else document
        self._rows["observations"].add((rule, tier, subject, path, place, message, ask, by))

    def adopt(self, observations: Iterable[Mapping[str, Any]]) -> None:
        """Take over observations made elsewhere, rows of that table as mappings."""
        for row in observations:
            self._rows["observations"].add(tuple(row[name] for name in COLUMNS["observations"]))

    @property
    def observations(self) -> list[dict[str, str]]:
        """What was observed so far, a mapping per observation."""
        return [dict(zip(COLUMNS["observations"], row, strict=True)) for row in self._rows["observations"]]

    def tables(self) -> Tables:
        """Return the tables in which anything was collected."""
        import numpy as np

        tables = {name: rows for name, rows in self._rows.items() if len(rows)}
        grids = {number: Grid(wavelength, np.vstack(blocks)) for number, wavelength, blocks in self._grids.values()}
        return Tables(tables, grids)


def _counted(first: int, count: int) -> np.ndarray:
    import numpy as np

    return np.arange(first, first + count)
