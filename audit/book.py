"""The evidence of an audit as columns, made once and read by every claim.

What belongs to an operating point is kept once per point; `field` and `effective` look it up for readings.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Collection, Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.claims import product_key
from audit.derived import beside
from audit.model import NUMBER, POINT_FIELDS, VOLTS, Evidence, Quantity
from audit.recorder import PLACE, place_text
from audit.standings import STANDINGS
from audit.uncertainty import uncertainties

Rows = NDArray[np.int64]
Column = NDArray[Any]

IN_POINTS = "control_value in points"  # of a control whose stated kind isn't volts: DMX, arc levels, per cent


class Tolerance(NamedTuple):
    """How far a field may lie from a stated value: `absolute` in its unit, or `share` of the value; the smaller."""

    absolute: float = math.inf
    share: float = math.inf

    def __call__(self, value: Any) -> Any:
        """Return it for values of any shape, in their unit."""
        near = self.absolute + 0.0 * value
        return near if math.isinf(self.share) else np.minimum(near, self.share * value)


# Within which a stated field is the same condition as another.
TOLERANCES: Mapping[str, Tolerance] = {
    "hours": Tolerance(48.0),
    "level_percent": Tolerance(1.0, 0.05),
    "cct_setting_K": Tolerance(share=0.01),
    "hue_setting_deg": Tolerance(2.0),
    "saturation_setting_percent": Tolerance(1.0),
    "control_value": Tolerance(0.1),  # volts, of which a whole one is a tenth of the travel, and kinds unsaid
    IN_POINTS: Tolerance(1.0),
    "ambient_C": Tolerance(2.0),
    "case_C": Tolerance(2.0),
    "drive_mA": Tolerance(share=0.01),
}
BLANK_MEANS = {"level_percent": 100.0, "ambient_C": 25.0}  # no other blank field is taken for anything
# What sets the light by other means than a level: beside one of them a blank level isn't full output.
OUTPUT_SETTINGS = ("control_value", "hue_setting_deg", "saturation_setting_percent", "scene")
WHOLE = ("all", "all channels", "full", "mixed", "total", "whole")  # channels and zones that are no part
UNIT_FIELDS = ("serial", "repeat")  # what tells readings at one setting apart
NO_SERIAL = "a unit without serial"


class Book:
    """Readings as arrays (n,), aligned with evidence.readings; rows are indices into them."""

    def __init__(self, evidence: Evidence, known: dict[str, Quantity]):
        readings, points = evidence.readings, evidence.points
        documents = evidence.documents.set_index("document_id")
        self.evidence, self.known = evidence, known
        self.value = readings["value"].to_numpy(float)
        self.u = uncertainties(evidence, known)
        self.computed = (readings["origin"] == "computed").to_numpy()
        self.quantity = readings["quantity"].to_numpy(object)
        self.definition = readings["definition"].to_numpy(object)
        self.resolution = readings["resolution"].fillna(0.0).to_numpy(float)
        self._place_at = pd.Index(evidence.places["place_id"]).get_indexer(readings["place_id"])
        self.document = evidence.places["document_id"].to_numpy()[self._place_at]
        self.test = pd.factorize(documents["test"].reindex(self.document), sort=True)[0]
        self.sample_origin = documents["sample_origin"].reindex(self.document).to_numpy(object)
        bears = {name: standing.bears for name, standing in STANDINGS.items()}
        self.bears = documents["standing"].reindex(self.document).map(bears).to_numpy(bool)
        self.step = _steps(evidence)
        self.spectral = np.isfinite(self.step)  # comes from a spectrum
        self._at = pd.Index(points["point_id"]).get_indexer(readings["point_id"])
        self._fields: dict[str, Column] = {
            name: points[name].to_numpy(float if kind == NUMBER else object) for name, kind in POINT_FIELDS.items()
        }
        self._effective = _effective(self._fields)
        self.state = self.groups(np.arange(len(readings)))
        self.unit = np.where(self._effective["serial"] == "", NO_SERIAL, self._effective["serial"])[self._at]
        self._index = self._indexed(readings)
        self._beside: dict[tuple[str, ...], pd.DataFrame] = {}
        self._stated: dict[int, dict[str, float | str]] = {}
        self._paths = documents["path"].to_dict()
        self._standings = documents["standing"].to_dict()
        self._places = [evidence.places[name].to_numpy(object) for name in (*PLACE, "raw")]

    def field(self, name: str, rows: Rows) -> Column:
        """Return an operating-point field of these readings; blank is "" or NaN."""
        column: Column = self._fields[name][self._at[rows]]
        return column

    def effective(self, name: str, rows: Rows) -> Column:
        """Return the same as it is matched: a blank level taken as 100 %, a blank ambient temperature as 25 °C, serial
        numbers folded, a channel or zone that means all of them left blank."""
        column: Column = self._effective[name][self._at[rows]]
        return column

    def beside(self, *names: str) -> pd.DataFrame:
        """Return readings of several quantities of one light side by side (audit.derived.beside); not to be changed."""
        if names not in self._beside:
            self._beside[names] = beside(self.evidence, names)
        return self._beside[names]

    def longest(self, rows: Rows) -> float:
        """Return the most hours that any of these readings was tested for; none stated is 0."""
        return float(np.nan_to_num(self.field("hours", rows).astype(float)).max(initial=0.0))

    def stated(self, row: int) -> dict[str, float | str]:
        """Return the operating-point fields that a reading states."""
        point = int(self._at[row])
        if point not in self._stated:
            self._stated[point] = stated_fields({name: column[point] for name, column in self._fields.items()})
        return self._stated[point]

    def standing(self, row: int) -> str:
        """Return the standing of the document that a reading stands in."""
        return str(self._standings[self.document[row]])

    def where(self, row: int) -> tuple[str, str, str]:
        """Return the document, the place in it and the raw text of a reading."""
        at = self._place_at[row]
        sheet, number, cell, raw = (column[at] for column in self._places)
        return self._paths[self.document[row]], place_text(sheet, number, cell), raw

    def cell(self, row: int) -> tuple[str, str]:
        """Return the sheet and the address of the cell in which a reading stands."""
        at = self._place_at[row]
        return self._places[0][at], self._places[2][at]

    def rows(self, product: str, quantity: str) -> tuple[Rows, Rows]:
        """Return the readings of a quantity on a product, and on the packages and modules used in it."""
        key = (product_key(product), quantity)
        return self._index[0].get(key, NO_ROWS), self._index[1].get(key, NO_ROWS)

    def groups(self, rows: Rows, alike: Collection[str] = ()) -> Rows:
        """Number readings (n,) so that those at one operating point of one product share a number.

        Fields in `alike` don't tell points apart: a claim states them, and all rows agree with it. The others are
        apart where a gap exceeds half their tolerance, so that a series of settings doesn't run into one.
        """
        points, inverse = np.unique(self._at[rows], return_inverse=True)
        number = grouped({name: column[points] for name, column in self._effective.items()}, alike)
        return np.asarray(number[inverse], np.int64)

    def standing_for(self, rows: Rows, value: Column, u: Column, assumed: Column, resolution: Column) -> Book:
        """Return the same book in which these readings stand for what was worked out from them, all arrays (n,)."""
        other = copy.copy(self)
        total, known = self.u.total.copy(), self.u.assumed.copy()
        total[rows], known[rows] = u, assumed
        other.u = self.u._replace(total=total, assumed=known)
        other.value, other.resolution = self.value.copy(), self.resolution.copy()
        other.value[rows], other.resolution[rows] = value, resolution
        return other

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


def stated_fields(values: Mapping[str, Any]) -> dict[str, float | str]:
    """Return the operating-point fields among `values` that are stated."""
    return {
        name: float(values[name]) if kind == NUMBER else str(values[name])
        for name, kind in POINT_FIELDS.items()
        if values[name] == values[name] and values[name] != ""
    }


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


def _effective(fields: Mapping[str, Column]) -> dict[str, Column]:
    """Return the fields of the points as they are matched; see Book.effective."""
    effective = dict(fields)
    for name, blank in BLANK_MEANS.items():
        effective[name] = np.where(np.isnan(fields[name]), blank, fields[name])
    otherwise = np.zeros(len(fields["level_percent"]), bool)
    for name in OUTPUT_SETTINGS:
        otherwise |= fields[name] != "" if POINT_FIELDS[name] != NUMBER else ~np.isnan(fields[name])
    # A stated drive current is the product's own; several of them set its light.
    currents = pd.Series(fields["drive_mA"]).groupby(fields["product"]).transform("nunique").to_numpy()
    otherwise |= currents > 1
    effective["level_percent"] = np.where(otherwise, fields["level_percent"], effective["level_percent"])
    effective["serial"] = np.array([serial_key(text) for text in fields["serial"]], dtype=object)
    for name in ("channel", "zone"):
        parts = ["" if text.casefold().strip() in WHOLE else text for text in fields[name]]
        effective[name] = np.array(parts, dtype=object)
    return effective


def tolerated(name: str, values: Column, kind: Column | str = "") -> Column:
    """Return how far readings may lie from these values (n,) of a field; `kind` of control, one for all or (n,)."""
    own: Column = TOLERANCES[name](values)
    if name != "control_value":
        return own
    in_points = [bool(text) and not VOLTS.search(text) for text in np.broadcast_to(kind, len(own)).tolist()]
    return np.where(np.array(in_points, bool), TOLERANCES[IN_POINTS](values), own)


def serial_key(text: str) -> str:
    """Return a serial number without case, blanks, dashes and the leading zeros of a plain number: 007 is 7."""
    folded = product_key(text)
    return folded.lstrip("0") or "0" if folded.isdigit() else folded


def grouped(fields: Mapping[str, Column], alike: Collection[str] = ()) -> Rows:
    """Number operating points (n,), given field by field, so that those of one product that agree share a number.

    See Book.groups, which does it for readings.
    """
    number = pd.factorize(fields["product"])[0].astype(np.int64)
    for name, column in fields.items():
        if name not in alike and not _same(column):
            codes = _apart(name, column, number, fields["control_kind"])
            number = pd.factorize(number * (codes.max(initial=0) + 1) + codes)[0]
    return np.asarray(number, np.int64)


def _same(values: Column) -> bool:
    """Return whether all values are equal, or all of them blank, so that they tell no points apart."""
    first = values[:1]
    return bool(((values == first) | ((values != values) & (first != first))).all())


def _apart(name: str, values: Column, within: Rows, kind: Column) -> Rows:
    """Number the values so that those of different groups differ; `within` numbers the groups already apart, `kind`
    (n,) is that of the control."""
    if name not in TOLERANCES:
        return np.asarray(pd.factorize(values)[0])
    values = values.astype(float)
    if name == "hue_setting_deg":
        values = values % 360
    order = np.lexsort((values, within))
    sorted_values = values[order]
    gap = np.diff(sorted_values)
    limit = tolerated(name, sorted_values[:-1], kind[order][:-1]) / 2
    both_blank = np.isnan(sorted_values[1:]) & np.isnan(sorted_values[:-1])
    starts = np.concatenate([[0], np.cumsum(~((gap <= limit) | both_blank) | (np.diff(within[order]) != 0))])
    codes = np.empty(len(values), np.int64)
    codes[order] = starts.astype(np.int64)[: len(values)]
    if name == "hue_setting_deg":
        _close_the_circle(values, within, codes)
    return codes


def _close_the_circle(hue: Column, within: Rows, codes: Rows) -> None:
    """Join, in each group, the hues just below 360 degrees to those just above 0."""
    for group in np.unique(within):
        rows = np.flatnonzero((within == group) & ~np.isnan(hue))
        if len(rows):
            first, last = rows[np.argmin(hue[rows])], rows[np.argmax(hue[rows])]
            if hue[first] + 360 - hue[last] <= TOLERANCES["hue_setting_deg"](0) / 2:
                codes[codes == codes[last]] = codes[first]
