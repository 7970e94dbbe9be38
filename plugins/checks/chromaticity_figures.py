"""How do the spectra look, and where does each light lie among loci, quadrangles and steps?

What it answers
    Nothing by a verdict: it shows the spectra of a product, and each light in u', v' with its uncertainty.
Why it matters
    One look tells whether a white lies to one side, scatters, or comes from another lamp.
Evidence needed
    x and y of the product, printed or from spectra.
Method
    Spectra with their highest value at 1; lights beside the Planckian and daylight loci, the quadrangle of the nominal
    CCT that they are nearest to, and steps about its centre. Uncertainty outlines: k = 2, x and y uncorrelated.
What it can't know
    Which centre and which steps the maker means; the finding on a claim says which were judged.
Sources
    CIE 15:2018; ANSI C78.377 (quadrangles); IEC 60081 (ellipses); CIE TN 001:2014 (circle).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from audit import Axis, Check, Figure, Mark, Tables, hookimpl, wording
from plugins.checks.diagrams import loci, outlines, view

if TYPE_CHECKING:
    from audit.case import Case

NAME = "chromaticity_figures"
SHOWN = ("x", "y", "u_prime", "v_prime", "cct", "duv", "nominal_cct", "chromaticity_steps")  # claims the figures name
EDITION = "2015/2017"  # of the quadrangles in the figures
STEPS = (3, 7)  # about the centre
NEAR = 0.15  # share by which a light's CCT may differ from the nominal one that it is shown with
FEW = 6  # spectra that are drawn one by one
MOST_LIGHTS = 60  # in one diagram
EVERY_NM = 2.0  # in which the range of more is drawn


def judge(case: Case) -> Tables:
    """Return the figures of each product, its spectra and chromaticities; claims are judged like all others."""
    from audit.shown import products

    figures: list[Figure] = []
    for product in products(case):
        lights = _Lights(case, product)
        if len(lights.rows):
            figures += [*_spectra(case, lights), *_diagrams(lights)]
    return Tables(figures=figures)


class _Lights:
    """The lights of a product, arrays (n,): rows of their x, u' and v', CCT, Duv, the nominal CCT each is near."""

    def __init__(self, case: Case, product: str):
        from audit.pairs import paired
        from audit.quantities.chromaticity import cct_duv, xy_to_uv_prime
        from audit.quantities.outlines import uncertainty
        from audit.quantities.white_point import quadrangles
        from audit.shown import bearing, claims_on, names

        book = case.book
        self.rows, rows_y = paired(book.evidence, bearing(case, product, "x"), bearing(case, product, "y"))
        x, y = book.value[self.rows], book.value[rows_y]
        self.u, self.v = xy_to_uv_prime(x, y)
        self.cct, self.duv = cct_duv(x, y)
        self.x, self.y = x, y
        expanded_x, expanded_y = (wording.COVERAGE_FACTOR * book.u.total[rows] for rows in (self.rows, rows_y))
        self.rings = uncertainty(x, y, expanded_x, expanded_y)  # NaN where one of them isn't known
        aim = book.field("cct_setting_K", self.rows).astype(float)
        aim = np.where(np.isnan(aim), self.cct, aim)
        listed = quadrangles(EDITION).nominal_K
        nearest = listed[np.abs(1 / np.nan_to_num(aim, nan=1.0)[:, None] - 1 / listed).argmin(axis=1)]
        self.nominal = np.where(np.abs(self.cct / nearest - 1) < NEAR, nearest, np.nan)
        self.product, self.claims = product, claims_on(case, product, SHOWN)
        self.words = names(book, self.rows)
        self.units = wording.counted(len(set(book.unit[self.rows])), "unit")
        self.basis = sorted(set(book.u.basis[self.rows]))


def _spectra(case: Case, lights: _Lights) -> Iterator[Figure]:
    """Yield the spectra, each with its peak at 1: one by one, or the range of many and some of them."""
    numbers = case.evidence.readings["spectrum_id"].to_numpy()[lights.rows]
    measured = np.flatnonzero(numbers >= 0)
    if not len(measured):
        return
    table = case.evidence.spectra.set_index("spectrum_id").loc[numbers[measured]]
    curves = []
    for grid_id, row in zip(table["grid_id"], table["row"], strict=True):
        grid = case.evidence.grids[grid_id]
        curves.append((grid.wavelength_nm, grid.power[row] / grid.power[row].max()))
    low, high = max(nm[0] for nm, _ in curves), min(nm[-1] for nm, _ in curves)
    marks, chosen = [], np.arange(len(curves))
    if len(curves) > FEW:
        scale = np.arange(low, high + 1e-9, EVERY_NM)
        every = np.array([np.interp(scale, nm, power) for nm, power in curves])
        words = f"lowest to highest of all {len(curves)}"
        marks.append(Mark("band", words, scale, every.min(axis=0), "measured", to_y=every.max(axis=0)))
        order = np.argsort(lights.cct[measured], kind="stable")
        chosen = order[[0, len(order) // 2, -1]]
    for index in chosen:
        nm, power = curves[index]
        marks.append(Mark("line", lights.words[measured[index]], nm, power, "measured"))
    told = [f"{lights.words[measured[i]]} is highest at {curves[i][0][curves[i][1].argmax()]:.0f} nm" for i in chosen]
    yield Figure(
        "spectra",
        "Spectra",
        Axis("wavelength", "nm", low, high),
        Axis("spectral power, highest value 1", low=0.0, high=1.05),
        marks,
        f"{wording.counted(len(curves), 'spectrum', 'spectra')} of {lights.units} from {low:g} nm to {high:g} nm, "
        f"each divided by its highest value. {'; '.join(told)}.",
        lights.product,
        lights.claims,
    )


def _diagrams(lights: _Lights) -> Iterator[Figure]:
    """Yield the diagram of all lights, where they are not near one nominal CCT, and one from close by.

    From close by it is the nominal CCT from whose centre a light lies furthest away.
    """
    from audit.quantities.outlines import circle, ellipse, quadrangle
    from audit.quantities.steps import CIRCLE_STEP, ansi_centre, circle_steps
    from audit.quantities.white_point import in_quadrangle

    everywhere = np.ones(len(lights.rows), bool)
    corners, steps, told = {}, {}, []
    away = np.hypot(lights.u - lights.u.mean(), lights.v - lights.v.mean()) / CIRCLE_STEP
    for nominal in np.unique(lights.nominal[~np.isnan(lights.nominal)]).tolist():
        here, centre = lights.nominal == nominal, ansi_centre(nominal, EDITION)
        corners[nominal] = quadrangle(nominal, EDITION)
        away[here] = circle_steps(lights.x[here], lights.y[here], centre.x, centre.y)
        inside = int(in_quadrangle(lights.x[here], lights.y[here], nominal, EDITION).sum())
        steps[nominal] = away[here].max()
        told.append(
            f"{nominal:.0f} K: CCT {_range(lights.cct[here], 0)} K, Duv {_range(lights.duv[here], 4)}, "
            f"{inside} of {here.sum()} in the quadrangle, up to {steps[nominal]:.1f} u′v′ circle steps from its centre"
        )
    if len(corners) != 1:
        marks = [outlines("quadrangles of ANSI C78.377", list(corners.values()), "limit")] if corners else []
        words = "; ".join(told) or f"u′ {_range(lights.u, 4)}, v′ {_range(lights.v, 4)}, near no nominal CCT"
        yield _diagram(lights, everywhere, away, "chromaticity", "Chromaticity", marks, words)
    if not corners:
        return
    furthest = max(steps, key=lambda nominal: steps[nominal])
    centre = ansi_centre(furthest, EDITION)
    named = " and ".join(map(str, STEPS))
    marks = [
        outlines(f"quadrangle of {furthest:.0f} K, ANSI C78.377", [corners[furthest]], "limit"),
        outlines(f"{named} steps by u′v′ circle", [circle(centre, n) for n in STEPS], "projection"),
    ]
    if centre.form:
        words = f"{named} steps by ellipse{f' ({centre.note})' if centre.note else ''}"
        marks.append(outlines(words, [outline for n in STEPS if (outline := ellipse(centre, n)) is not None], "fit"))
    here = lights.nominal == furthest
    title = "Chromaticity" if len(corners) == 1 else f"Chromaticity near {furthest:.0f} K"
    yield _diagram(
        lights, here, away, f"chromaticity-{furthest:.0f}", title, marks, told[list(corners).index(furthest)]
    )


def _diagram(
    lights: _Lights, near: np.ndarray, away: np.ndarray, name: str, title: str, regions: list[Mark], told: str
) -> Figure:
    """One diagram of the lights that are `near` (n,) with the loci, as large as the lights and the regions.

    Of many those are shown that lie furthest `away` (n,) from their centre.
    """
    here = np.flatnonzero(near)
    here = np.sort(here[np.argsort(-away[here], kind="stable")[:MOST_LIGHTS]])
    rings = lights.rings[here]
    rings = rings[~np.isnan(rings).any(axis=(1, 2))]
    u = np.concatenate([lights.u[here], rings[..., 0].ravel(), *(mark.x for mark in regions)])
    v = np.concatenate([lights.v[here], rings[..., 1].ravel(), *(mark.y for mark in regions)])
    x, y = view(u, v)
    marks = [*regions, *loci(x, y)]
    if len(rings):
        marks.append(outlines("expanded uncertainty of x and y, k = 2", list(rings), "measured"))
    labels = [
        f"{lights.words[i]}: u′ {lights.u[i]:.4f}, v′ {lights.v[i]:.4f}"
        + ("" if np.isnan(lights.cct[i]) else f", CCT {lights.cct[i]:.0f} K, Duv {wording.fixed(lights.duv[i], 4)}")
        for i in here
    ]
    count = wording.counted(int(near.sum()), "light")
    count = lights.units if count.split()[0] == lights.units.split()[0] else f"{count} of {lights.units}"
    count = count if len(here) == near.sum() else f"the {len(here)} furthest out of {count}"
    marks.append(Mark("points", count, lights.u[here], lights.v[here], "measured", labels=labels))
    return Figure(
        name,
        title,
        x,
        y,
        marks,
        f"{count} in CIE 1976 u′, v′, with the expanded uncertainty of x and y ({'; '.join(lights.basis)}). {told}.",
        lights.product,
        lights.claims,
        equal=True,
    )


def _range(values: np.ndarray, decimals: int) -> str:
    least, most = (wording.fixed(float(end), decimals) for end in (values.min(), values.max()))
    return least if least == most else f"{least} to {most}"


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "spectra and chromaticities as figures",
            needs=("spectra", "x", "y"),
            judge=judge,
            sources=("CIE 15:2018", "ANSI C78.377", "IEC 60081", "CIE TN 001:2014"),
        )
    ]
