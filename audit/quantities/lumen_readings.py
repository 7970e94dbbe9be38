"""Readings of a lumen-maintenance test made ready for a projection: means of all units of a set at each time.

A set is the units of one case temperature and one drive current (ANSI/IES LM-80). Each unit is divided by its own
reading at 0 h, then the units are averaged at each time (rule R15 of ``tm21_rules``). NaN is a unit not read at a
time; a unit or a time without any reading is padding and isn't there. Whatever is missing is listed: a mean of
fewer units is never taken in silence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .spectra import Mask, Texts, add, texts
from .tables import Array
from .tm21_rules import TOLERANCE_H, point_h

#: A mean above this isn't a ratio to the value at 0 h but a percentage or a flux (our setting).
HIGHEST_RATIO = 1.5
#: Readings at 0 h that differ more than this from 1 say that the data weren't ratios yet (our setting).
RATIO_NOISE = 5e-4


@dataclass(frozen=True)
class Means:
    """Means of s sets at t times; ``hours`` and ``units`` have one row where all sets share it.

    ``hours`` (s or 1, t) in h, NaN at a time without a reading; ``mean`` (s, t), ratio to 0 h, NaN where refused;
    ``units`` (s or 1, t): how many stand behind each mean; ``lost`` (s, u): units without a reading at the set's
    last time; ``missing`` (s, u, t): readings that are missing in between; ``refused`` and ``notes`` (s,): "" where
    there is none.
    """

    hours: Array
    mean: Array
    units: NDArray[np.intp]
    lost: Mask
    missing: Mask
    refused: Texts
    notes: Texts


def means(hours: Array, flux: Array) -> Means:
    """Means of the readings ``flux`` (s, u, t), as ratios or in any unit if 0 h was read, at ``hours`` (t,) in h."""
    s, u, t = flux.shape
    fault = fault_of(hours) if flux.size else "there is no reading; give the hours and the flux of every unit"
    if fault:
        nothing = np.full((s, t), np.nan)
        refused = np.full(s, fault, dtype=object)
        none = np.zeros((s, u), dtype=bool), np.zeros((s, u, t), dtype=bool)
        return Means(nothing, nothing, np.zeros((s, t), dtype=np.intp), *none, refused, texts(s))
    notes = texts(s)
    whole = not np.isnan(flux.min())
    at = hours[None, :]
    if not whole:
        at, flux = _pool(hours, flux, notes)
    start = flux[:, :, 0] if hours[0] == 0 else np.ones((s, u))
    with np.errstate(all="ignore"):
        mean, units = _whole_means(flux, start) if whole else _means_with_gaps(flux, start)
    at = np.where(units > 0, at, np.nan)
    no = np.zeros((1, 1, 1), dtype=bool)
    lost, missing = np.broadcast_to(no[0], (s, u)), np.broadcast_to(no, (s, u, t))
    if not whole:
        lost, missing = _gaps(flux, units)
        _list_gaps(notes, at, lost, missing, start, flux)
    refused = _refusals(at, mean, units, flux)
    mean[refused != ""] = np.nan
    _note_normalisation(notes, refused, hours, start)
    return Means(at, mean, units, lost, missing, refused, notes)


def fault_of(hours: Array) -> str:
    """What is wrong with a column of elapsed hours, "" where nothing is."""
    if not np.isfinite(hours).all() or (hours < 0).any():
        return "an elapsed time is blank or negative; give hours from 0 upwards"
    steps = np.diff(hours)
    for i in np.flatnonzero(steps <= 0):
        if steps[i] == 0:
            return f"{in_hours(hours[i])} stands twice; say which reading is which time"
        return f"the hours go back from {in_hours(hours[i])} to {in_hours(hours[i + 1])}; check their order"
    return ""


def in_hours(hours: float) -> str:
    """Hours in words: one decimal only where there is one."""
    return f"{round(float(hours), 1):,.10g} h"


def _pool(hours: Array, flux: Array, notes: Texts) -> tuple[Array, Array]:
    """Take the readings of one 1,000 h point together where no unit has two of them.

    Units read in turn, each at its own exact time, have one reading each within 48 h of the point; the mean of
    their elapsed times then stands for the set. Returns hours (s, t) and flux (s, u, t).
    """
    at, flux = np.tile(hours, (len(flux), 1)), flux.copy()
    nearest = np.array([point_h(hour) for hour in hours])
    near = (nearest > 0) & (np.abs(hours - nearest) <= TOLERANCE_H)
    for point in np.unique(nearest[near]):
        columns = np.flatnonzero(near & (nearest == point))
        if columns.size < 2:
            continue
        read = ~np.isnan(flux[:, :, columns])
        in_turn = (read.sum(axis=2) <= 1).all(axis=1) & (read.any(axis=1).sum(axis=1) > 1)
        for i in np.flatnonzero(in_turn):
            block, own = flux[i][:, columns], read[i]
            once = np.where(own.any(axis=1), np.where(own, block, 0.0).sum(axis=1), np.nan)
            at[i, columns[0]] = (own @ hours[columns]).sum() / own.sum()
            flux[i][:, columns] = np.nan
            flux[i, :, columns[0]] = once
            times = ", ".join(in_hours(hour) for hour in hours[columns][own.any(axis=0)])
            append(notes, i, f"units read at {times} are taken together at {in_hours(at[i, columns[0]])}")
    return at, flux


def _whole_means(flux: Array, start: Array) -> tuple[Array, NDArray[np.intp]]:
    count = flux.shape[1]
    return ((1 / start)[:, None, :] @ flux)[:, 0, :] / count, np.full((1, flux.shape[2]), count)


def _means_with_gaps(flux: Array, start: Array) -> tuple[Array, NDArray[np.intp]]:
    """A unit without a reading at 0 h can't be normalised and stays out; ``_list_gaps`` names it."""
    counted = ~(np.isnan(flux) | np.isnan(start)[:, :, None])
    weight = np.where(np.isnan(start), 0.0, 1 / start)
    units = counted.sum(axis=1)
    return (weight[:, None, :] @ np.where(counted, flux, 0.0))[:, 0, :] / np.where(units, units, np.nan), units


def _gaps(flux: Array, units: NDArray[np.intp]) -> tuple[Mask, Mask]:
    """Which units were lost (s, u), and which readings are missing in between (s, u, t)."""
    read = ~np.isnan(flux)
    t = flux.shape[2]
    last = t - 1 - np.argmax(read[:, :, ::-1], axis=2)
    end = t - 1 - np.argmax((units > 0)[:, ::-1], axis=1)
    there = np.asarray(read.any(axis=2))
    missing: Mask = ~read & there[:, :, None] & (units > 0)[:, None, :]
    missing &= np.arange(t) < last[:, :, None]
    return there & (last < end[:, None]), missing


def _list_gaps(notes: Texts, at: Array, lost: Mask, missing: Mask, start: Array, flux: Array) -> None:
    """Name the units (counted from 1) that were lost, not read at a time, or never read at 0 h."""
    unstarted = np.isnan(start) & ~np.isnan(flux).all(axis=2)
    for i in np.flatnonzero(lost.any(axis=1) | missing.any(axis=(1, 2)) | unstarted.any(axis=1)):
        if unstarted[i].any():
            append(notes, i, f"{_units(unstarted[i])} left out: no reading at 0 h to divide by")
        last = np.where(np.isnan(flux[i]), -1, np.arange(flux.shape[2])).max(axis=1)
        for column in np.unique(last[lost[i]]):
            gone = _units(lost[i] & (last == column))
            append(notes, i, f"{gone} not read after {in_hours(at[i, column])}: ask whether failed or taken out")
        for column in np.flatnonzero(missing[i].any(axis=0)):
            append(notes, i, f"{_units(missing[i][:, column])} not read at {in_hours(at[i, column])}")


def _units(which: Mask) -> str:
    numbers = np.flatnonzero(which) + 1
    return f"unit{'s' if numbers.size > 1 else ''} {', '.join(map(str, numbers))}"


def _refusals(at: Array, mean: Array, units: NDArray[np.intp], flux: Array) -> Texts:
    refused = texts(len(flux))
    counted = np.broadcast_to(units > 0, mean.shape)
    at = np.broadcast_to(at, mean.shape)
    if not (flux.min() > 0 and flux.max() < np.inf):  # the common case in two fast passes
        impossible = (flux <= 0) | np.isinf(flux)
        for i in np.flatnonzero(impossible.any(axis=(1, 2))):
            unit, column = np.argwhere(impossible[i])[0]
            refused[i] = (
                f"unit {unit + 1} reads {flux[i, unit, column]:g} at {in_hours(at[i, column])}; "
                "leave a failed unit blank and say that it failed"
            )
    silent = ~counted.any(axis=1)
    add(refused, silent & (refused == ""), "no unit has a reading, or none at 0 h to divide by; ask for the readings")
    with np.errstate(invalid="ignore"):
        high = (refused == "") & (np.where(counted, mean, 0.0).max(axis=1) > HIGHEST_RATIO)
    for i in np.flatnonzero(high):
        column = int(np.nanargmax(mean[i]))
        refused[i] = (
            f"the mean of the units is {mean[i, column]:.4g} times the value at 0 h at {in_hours(at[i, column])}; "
            "give flux divided by flux at 0 h, 1 for 100 %"
        )
    return refused


def _note_normalisation(notes: Texts, refused: Texts, hours: Array, start: Array) -> None:
    good = refused == ""
    if hours[0] > 0:
        add(notes, good, "no readings at 0 h: the ratios are taken as stated")
        return
    moved = (np.abs(start - 1) > RATIO_NOISE).any(axis=1)
    add(notes, good & moved, "readings at 0 h differ from 1: each unit divided by its own")


def append(to: Texts, i: int | np.intp, text: str) -> None:
    """Append ``text`` to the text at ``i``, parted by a semicolon."""
    to[i] = f"{to[i]}; {text}" if to[i] else text
