"""The evidence of an audit as columns, made once and read by every claim.

What belongs to an operating point is kept once per point; `field` and `effective` look it up for readings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.claims import product_key
from audit.model import NUMBER, POINT_FIELDS, Evidence, Quantity
from audit.recorder import PLACE, place_text
from audit.standings import STANDINGS
from audit.uncertainty import uncertainties

Rows = NDArray[np.int64]
Column = NDArray[Any]

# How far a stated field may lie from another and still be the same condition: unit of the field in and out.
TOLERANCES: Mapping[str, Callable[[float], float]] = {
    "hours": lambda value: 48.0,
    "level_percent": lambda value: 1.0 if value >= 20 else 0.05 * value,
    "cct_setting_K": lambda value: 0.01 * value,
    "hue_setting_deg": lambda value: 2.0,
    "saturation_setting_percent": lambda value: 1.0,
    "control_value": lambda value: 1.0,
    "ambient_C": lambda value: 2.0,
    "case_C": lambda value: 2.0,
    "drive_mA": lambda value: 0.01 * value,
}
BLANK_MEANS = {"level_percent": 100.0, "ambient_C": 25.0}  # no other blank field is taken for anything
UNIT_FIELDS = ("serial", "repeat")  # what tells readings at one setting apart


class Book:
    """Readings as arrays (n,), aligned with evidence.readings; rows are indices into them."""

    def __init__(self, evidence: Evidence, known: dict[str, Quantity]):
        readings, points = evidence.readings, evidence.points
        documents = evidence.documents.set_index("document_id")
        self.evidence, self.known = evidence, known
        self.value = readings["value"].to_numpy(float)
        self.u = uncertainties(evidence, known)
        self.computed = (readings["origin"] == "computed").to_numpy()
        self.definition = readings["definition"].to_numpy(object)
        self.resolution = readings["resolution"].fillna(0.0).to_numpy(float)
        self._place_at = pd.Index(evidence.places["place_id"]).get_indexer(readings["place_id"])
        self.document = evidence.places["document_id"].to_numpy()[self._place_at]
        self.test = pd.factorize(documents["test"].reindex(self.document))[0]
        self.sample_origin = documents["sample_origin"].reindex(self.document).to_numpy(object)
        bears = {name: standing.bears for name, standing in STANDINGS.items()}
        self.bears = documents["standing"].reindex(self.document).map(bears).to_numpy(bool)
        self.step = _steps(evidence)
        self._at = pd.Index(points["point_id"]).get_indexer(readings["point_id"])
        self._fields: dict[str, Column] = {
            name: points[name].to_numpy(float if kind == NUMBER else object) for name, kind in POINT_FIELDS.items()
        }
        self._effective = self._fields | {
            name: np.where(np.isnan(self._fields[name]), blank, self._fields[name])
            for name, blank in BLANK_MEANS.items()
        }
        self.setting, self.state = (codes[self._at] for codes in _states(self._effective, len(points)))
        self.unit = self._units()
        self._index = self._indexed(readings)
        self._stated: dict[int, dict[str, float | str]] = {}
        self._paths = documents["path"].to_dict()
        self._places = [evidence.places[name].to_numpy(object) for name in (*PLACE, "raw")]

    def field(self, name: str, rows: Rows) -> Column:
        """Return an operating-point field of these readings; blank is "" or NaN."""
        column: Column = self._fields[name][self._at[rows]]
        return column

    def effective(self, name: str, rows: Rows) -> Column:
        """Return the same with a blank level taken as 100 % and a blank ambient temperature as 25 °C."""
        column: Column = self._effective[name][self._at[rows]]
        return column

    def stated(self, row: int) -> dict[str, float | str]:
        """Return the operating-point fields that a reading states."""
        point = int(self._at[row])
        if point not in self._stated:
            values = {name: column[point] for name, column in self._fields.items()}
            self._stated[point] = {
                name: float(value) if POINT_FIELDS[name] == NUMBER else str(value)
                for name, value in values.items()
                if value == value and value != ""
            }
        return self._stated[point]

    def where(self, row: int) -> tuple[str, str, str]:
        """Return the document, the place in it and the raw text of a reading."""
        at = self._place_at[row]
        sheet, number, cell, raw = (column[at] for column in self._places)
        return self._paths[self.document[row]], place_text(sheet, number, cell), raw

    def rows(self, product: str, quantity: str) -> tuple[Rows, Rows]:
        """Return the readings of a quantity on a product, and on the packages and modules used in it."""
        key = (product_key(product), quantity)
        return self._index[0].get(key, NO_ROWS), self._index[1].get(key, NO_ROWS)

    def _units(self) -> NDArray[np.object_]:
        """The unit tested, by its serial; readings without one are one unit per test."""
        serial = self._fields["serial"][self._at]
        blank = np.array([f"a unit without serial in test {number + 1}" for number in self.test], dtype=object)
        return np.where(serial == "", blank, serial) if len(serial) else serial

    def _indexed(self, readings: pd.DataFrame) -> tuple[dict[tuple[str, str], Rows], dict[tuple[str, str], Rows]]:
        """(product key, quantity) -> rows on the product itself; the same -> rows on parts that it contains."""
        quantity = readings["quantity"].cat
        own = np.array([product_key(name) for name in self._fields["product"]], dtype=object)
        whole = np.array([product_key(name) for name in self._fields["used_in"]], dtype=object)
        is_part = (whole != "") & (whole != own)
        all_rows = np.arange(len(readings))
        return (
            _by_key(own[self._at], quantity, all_rows),
            _by_key(whole[self._at], quantity, all_rows[is_part[self._at]]),
        )


NO_ROWS: Rows = np.array([], np.int64)


def _by_key(product: NDArray[np.object_], quantity: pd.Series, rows: Rows) -> dict[tuple[str, str], Rows]:
    codes, products = pd.factorize(product[rows])
    combined = codes * len(quantity.categories) + quantity.codes.to_numpy()[rows]
    order = np.argsort(combined, kind="stable")
    starts = np.flatnonzero(np.diff(combined[order], prepend=-1))
    names = quantity.categories
    return {
        (products[combined[group[0]] // len(names)], names[combined[group[0]] % len(names)]): rows[group]
        for group in np.split(order, starts[1:])
        if len(group)
    }


def _steps(evidence: Evidence) -> NDArray[np.float64]:
    """The wavelength step of the spectrum behind each reading; inf where there is none."""
    step = {number: float(np.diff(grid.wavelength_nm).max()) for number, grid in evidence.grids.items()}
    of_spectrum = evidence.spectra.set_index("spectrum_id")["grid_id"].map(step)
    return np.asarray(of_spectrum.reindex(evidence.readings["spectrum_id"]).fillna(np.inf), float)


def _states(fields: Mapping[str, Column], count: int) -> tuple[Rows, Rows]:
    """Number the settings (every field but unit and repeat) and the states (every field) of points that are alike."""
    alike = {
        name: _alike(column.astype(float), TOLERANCES[name]) if name in TOLERANCES else pd.factorize(column)[0]
        for name, column in fields.items()
    }
    setting = _numbered([codes for name, codes in alike.items() if name not in UNIT_FIELDS], count)
    return setting, _numbered([setting, *(alike[name] for name in UNIT_FIELDS)], count)


def _alike(values: NDArray[np.float64], tolerance: Callable[[float], float]) -> Rows:
    """Number values so that those within the tolerance of their group's smallest share a number; so do NaN."""
    found, inverse = np.unique(values, return_inverse=True)
    group = np.zeros(len(found), np.int64)
    first = 0
    for i in range(1, len(found)):
        if not found[i] - found[first] <= tolerance(found[first]):
            first = i
        group[i] = first
    return np.asarray(group[inverse])


def _numbered(keys: Sequence[Rows], count: int) -> Rows:
    """Number points (count,) so that those with equal keys share a number."""
    number = np.zeros(count, np.int64)
    for key in keys:
        number = pd.factorize(number * (key.max(initial=0) + 1) + key)[0]
    return number
