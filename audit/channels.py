"""The channels of a product, from readings: the light of each when new, its drive in a setting, and its output over
hours of operation."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit import wording
from audit.book import NO_ROWS, TOLERANCES, Book, Rows
from audit.claims import Claim, product_key
from audit.numbers import Span

INITIAL_H = TOLERANCES["hours"](0)  # a reading that states no hours, or so few, is of a new unit
# What tells settings of a product apart; the rest of an operating point doesn't.
SETTING = ("cct_setting_K", "hue_setting_deg", "saturation_setting_percent", "scene", "control_value", "control_kind")
WITHIN_SETTING = ("product", "used_in", "test_object", "serial", "repeat", "hours", "level_percent", "channel", "zone",
                  "ambient_C", "case_C", "drive_mA")  # fmt: skip
UNIT_AND_TIME = ("serial", "repeat", "hours", "level_percent")


@dataclass(frozen=True)
class Mix:
    """The channels of one setting when new. Arrays (c,), in the order of `names`.

    `drive`: share of full drive, NaN where no level is stated together with a setting; `said`: the setting in words,
    "" where the readings state none and each channel was measured at full drive; `lacking`: what a channel still needs;
    `whole`: x and y of the whole product in that setting when new, NaN where not read.
    """

    names: tuple[str, ...]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    flux: NDArray[np.float64]
    drive: NDArray[np.float64]
    said: str
    lacking: tuple[str, ...]
    rows: Rows
    whole: tuple[float, float]


@dataclass(frozen=True)
class Series:
    """Output of one channel over hours: `hours` (times,), `ratio` (units, times) to 0 h, NaN where not read.

    `doubt`: why it may not be the channel's output in the product, "" where it is.
    """

    hours: NDArray[np.float64]
    ratio: NDArray[np.float64]
    rows: Rows
    doubt: str


def mixes(book: Book, claim: Claim) -> list[Mix]:
    """Return the settings inside the claim for which channels were measured when new, each with its channels.

    Flux says which channels there are; of several levels of one channel the highest counts. Its chromaticity may come
    from another setting of the same channel.
    """
    light = {name: _new(book, claim, name) for name in ("x", "y", "luminous_flux")}
    flux = light["luminous_flux"]
    flux = flux[_inside(book, claim, flux)]
    settings = book.groups(flux, WITHIN_SETTING)
    found = [_mix(book, claim, flux[settings == number], light) for number in dict.fromkeys(settings.tolist())]
    stated = [mix for mix in found if mix.said]
    return sorted(stated or found, key=lambda mix: mix.said)


def series(book: Book, claim: Claim, name: str) -> Series | None:
    """Return the output of a channel over hours, from its flux maintenance, else its flux; None where there is none.

    Of a part only what was tested at the case temperature measured in the product, or at one of which that is in doubt.
    """
    for quantity in ("flux_ratio", "luminous_flux"):
        rows, is_part = _of_channels(book, claim.product, quantity)
        rows = rows[_named(book, rows) == product_key(name)]
        rows = rows[~np.isnan(book.field("hours", rows).astype(float))]
        if (book.field("hours", rows).astype(float) > INITIAL_H).any():
            rows, doubt = _comparable(book, claim, rows, is_part)
            found = _series(book, rows, quantity, doubt)
            if found is not None:
                return found
    return None


def of_channel(book: Book, product: str, quantities: Sequence[str], name: str) -> tuple[Rows, bool]:
    """Return the readings of one channel: of the product itself, else of parts used in it, and whether it is these."""
    found = [_of_channels(book, product, quantity) for quantity in quantities]
    is_part = not any(len(rows) and not of_part for rows, of_part in found)
    rows = np.concatenate([NO_ROWS, *(rows for rows, of_part in found if of_part == is_part)])
    return rows[_named(book, rows) == product_key(name)], is_part


def hottest_C(book: Book, product: str) -> tuple[float, float]:
    """Return the highest case temperature read in a product, in °C, and the largest drive current there, in mA; NaN
    where none was read."""
    inside = book.rows(product, "case_temperature")[0]
    inside = inside[book.bears[inside]]
    drive_mA = book.field("drive_mA", inside).astype(float)
    temperature_C, current_mA = (
        float(values.max()) if len(values) else math.nan
        for values in (book.value[inside], drive_mA[~np.isnan(drive_mA)])
    )
    return temperature_C, current_mA


def with_series(book: Book, claim: Claim) -> list[str]:
    """Return the names of the channels that were followed over hours."""
    names: dict[str, str] = {}
    for quantity in ("flux_ratio", "luminous_flux", "decay_constant"):
        rows, _ = _of_channels(book, claim.product, quantity)
        rows = rows[book.field("hours", rows).astype(float) > INITIAL_H]
        names |= {product_key(name): name for name in book.effective("channel", rows)}
    return sorted(names.values())


def _of_channels(book: Book, product: str, quantity: str) -> tuple[Rows, bool]:
    """The readings of single channels: of the product itself, else of the parts used in it, and whether it is these."""
    for rows, is_part in zip(book.rows(product, quantity), (False, True), strict=True):
        rows = rows[book.bears[rows]]
        rows = rows[book.effective("channel", rows) != ""]
        if len(rows):
            return rows, is_part
    return NO_ROWS, False


def _named(book: Book, rows: Rows) -> NDArray[np.object_]:
    return np.array([product_key(name) for name in book.effective("channel", rows)], dtype=object)


def _new(book: Book, claim: Claim, quantity: str) -> Rows:
    rows, _ = _of_channels(book, claim.product, quantity)
    hours = book.field("hours", rows).astype(float)
    new: Rows = rows[np.isnan(hours) | (hours <= INITIAL_H)]
    return new


def _inside(book: Book, claim: Claim, rows: Rows) -> NDArray[np.bool_]:
    """Whether the readings stand in a setting that the claim is about; a claim without one is about every setting."""
    fits = np.ones(len(rows), bool)
    for name in SETTING:
        wanted = claim.conditions.get(name)
        values = book.effective(name, rows)
        if isinstance(wanted, Span):
            numbers = values.astype(float)
            low, high = (end + sign * TOLERANCES[name](end) for end, sign in zip(wanted, (-1, 1), strict=True))
            turned = (numbers - low) % 360 + low if name == "hue_setting_deg" else numbers
            fits &= np.isnan(numbers) | ((turned >= low) & (turned <= high))
        elif wanted:
            fits &= (values == "") | (values == wanted)
    return fits


def _mix(book: Book, claim: Claim, flux: Rows, light: Mapping[str, Rows]) -> Mix:
    point = book.stated(int(flux[0]))
    said = wording.operating_point({name: point[name] for name in SETTING if name in point}, leave_out=())
    names = dict(zip(_named(book, flux).tolist(), book.effective("channel", flux).tolist(), strict=True))
    columns: list[tuple[float, float, float, float]] = []
    lacking, rows = [], [flux]
    for key, name in sorted(names.items()):
        own = flux[_named(book, flux) == key]
        level = book.field("level_percent", own).astype(float)
        if not np.isnan(level).all():
            own = own[level == np.nanmax(level)]
        drive = float(np.nanmax(level)) / 100 if said and not np.isnan(level).any() else math.nan
        xy = []
        for axis in ("x", "y"):
            of_axis = light[axis][_named(book, light[axis]) == key]
            first, *others = book.groups(np.concatenate([own[:1], of_axis]), WITHIN_SETTING).tolist()
            here = of_axis[np.array(others, np.int64) == first]
            of_axis = here if len(here) else of_axis
            computed = of_axis[book.computed[of_axis]]
            of_axis = computed if len(computed) else of_axis
            rows.append(of_axis)
            xy.append(float(book.value[of_axis].mean()) if len(of_axis) else math.nan)
        if math.isnan(xy[0] + xy[1]):
            lacking.append(f"x and y of channel {name} when new")
        columns.append((xy[0], xy[1], float(book.value[own].mean()), drive))
    x, y, lumens, drives = np.array(columns).T
    whole = (math.nan, math.nan)
    if said:
        whole = (_whole(book, claim.product, flux[:1], "x"), _whole(book, claim.product, flux[:1], "y"))
    every = np.unique(np.concatenate(rows))
    return Mix(tuple(names[key] for key in sorted(names)), x, y, lumens, drives, said, tuple(lacking), every, whole)


def _whole(book: Book, product: str, at: Rows, axis: str) -> float:
    """x or y of the whole product when new, in the setting of the reading `at` (1,); NaN where not read."""
    rows = book.rows(product, axis)[0]
    hours = book.field("hours", rows).astype(float)
    new = np.isnan(hours) | (hours <= INITIAL_H)
    rows = rows[book.bears[rows] & new & (book.effective("channel", rows) == "")]
    first, *others = book.groups(np.concatenate([at, rows]), WITHIN_SETTING).tolist()
    rows = rows[np.array(others, np.int64) == first]
    return float(book.value[rows].mean()) if len(rows) else math.nan


def _comparable(book: Book, claim: Claim, rows: Rows, is_part: bool) -> tuple[Rows, str]:
    """The readings of one tested condition, and why it may not be that in the product."""
    doubt = ""
    if is_part:
        hottest, _ = hottest_C(book, claim.product)
        tested = book.field("case_C", rows).astype(float)
        near = np.abs(tested - hottest) <= TOLERANCES["case_C"](hottest)
        rows = rows[near] if near.any() else rows
        if not near.any():
            doubt = "it was tested on a part, not shown to be as warm in the product"
    condition, hours = book.groups(rows, UNIT_AND_TIME), book.field("hours", rows).astype(float)
    followed = np.unique(condition[hours > INITIAL_H])
    if len(followed) > 1:
        doubt = doubt or "it was tested under several conditions, and which is that in the product isn't said"
    rows = rows[condition == condition[hours.argmax()]]
    return rows, doubt


def _series(book: Book, rows: Rows, quantity: str, doubt: str) -> Series | None:
    units, unit = np.unique(book.unit[rows].astype(str), return_inverse=True)
    hours, time = np.unique(book.field("hours", rows).astype(float), return_inverse=True)
    total, count = np.zeros((len(units), len(hours))), np.zeros((len(units), len(hours)))
    np.add.at(total, (unit, time), book.value[rows])
    np.add.at(count, (unit, time), 1)
    with np.errstate(invalid="ignore"):
        ratio = total / count
    if quantity == "flux_ratio":
        ratio /= 100
    else:
        new = hours <= INITIAL_H
        if not new.any():
            return None
        first = ratio[:, new][:, :1]
        ratio = ratio / np.where(first > 0, first, np.nan)
    read = ~np.isnan(ratio)
    kept = read.any(axis=1)
    there = read.any(axis=0)
    if not (hours[there] > INITIAL_H).any():
        return None
    return Series(hours[there], ratio[kept][:, there], rows, doubt)
