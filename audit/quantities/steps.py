"""Colour consistency in steps: by the ellipses of IEC 60081 and by the circle in CIE 1976 u', v'.

An n-step region is n times the one-step region about its centre, so n is a radius: two units inside it may lie
2n apart, and a number of steps means nothing without its centre. Ellipses exist only at the six listed centres.
Their coefficients may be moved to a stated centre of the same nominal CCT, which the centre's ``note`` says;
anywhere else ``refused`` says why there is only the circle.

Sources: IEC 60081, Annex D (ellipses; secondary, see the data file); CIE TN 001:2014 (circle). The radius of the
one-step circle, 0.0011, is MEMORY; the ellipses, drawn in u', v', have mean radii of 0.00096 to 0.0012.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from . import bivariate, tables, white_point
from .chromaticity import uv_prime_by_xy, xy_to_uv_prime
from .purity import in_gamut
from .spectra import Mask
from .tables import Array

#: Radius of the one-step circle in u', v' (MEMORY, our setting), and how a finding names it.
CIRCLE_STEP = 0.0011
CIRCLE_BASIS = "one step = 0.0011 in u', v' (CIE TN 001:2014 names the circle; the radius is MEMORY)"
#: Rows of the distance matrix worked on at a time when the worst pair is sought.
BLOCK = 512


class Form(NamedTuple):
    """One-step ellipse in CIE 1931 x, y: n^2 = g11 dx^2 + 2 g12 dx dy + g22 dy^2."""

    g11: float
    g12: float
    g22: float


@dataclass(frozen=True)
class Centre:
    """What steps are counted from, in CIE 1931 x, y.

    ``name`` as a finding says it; ``form``: the one-step ellipse there, None with the reason in ``refused`` where
    there is none; ``note``: what has to be said beside a number of steps by ellipse.
    """

    name: str
    x: float
    y: float
    form: Form | None = None
    note: str = ""
    refused: str = ""


class InSteps(NamedTuple):
    """Where true chromaticities lie about a centre, in the plane where one step is the unit circle.

    ``offset`` (..., 2) as measured, ``spread`` (..., 2, 2) its covariance. NaN where there is no number of steps.
    """

    offset: Array
    spread: Array

    @property
    def steps(self) -> Array:
        """Distance from the centre as measured (...)."""
        return np.asarray(np.hypot(self.offset[..., 0], self.offset[..., 1]))

    @property
    def u(self) -> Array:
        """Standard uncertainty of that distance to first order (...); on the centre itself of either axis.

        For display: a distance is no normal variable, judge by ``probability``.
        """
        steps = self.steps
        with np.errstate(invalid="ignore", divide="ignore"):
            along = np.where(steps[..., None] > 0, self.offset / steps[..., None], np.sqrt(0.5))
        return np.asarray(np.sqrt(np.einsum("...i,...ij,...j->...", along, self.spread, along)))

    def probability(self, steps: ArrayLike) -> Array:
        """Probability that the true chromaticity lies within ``steps`` of the centre (JCGM 106:2012, 7.1)."""
        return bivariate.disc_probability(self.offset, self.spread, np.maximum(steps, 0.0))


class Pair(NamedTuple):
    """The two units furthest apart: their indices and distance in steps; -1, -1, NaN below two units."""

    first: int
    second: int
    steps: float


def form_from_axes(a: float, b: float, theta_deg: float) -> Form:
    """Form of the ellipse with semi-axes ``a``, ``b`` in x, y, the first turned ``theta_deg`` degrees from x."""
    c, s = math.cos(math.radians(theta_deg)), math.sin(math.radians(theta_deg))
    return Form(c**2 / a**2 + s**2 / b**2, c * s * (a**-2 - b**-2), s**2 / a**2 + c**2 / b**2)


def axes(form: Form) -> tuple[float, float, float]:
    """Semi-axes a >= b in x, y and the angle of the first from x in degrees, 0 to 180."""
    values, vectors = np.linalg.eigh([[form.g11, form.g12], [form.g12, form.g22]])
    a, b = values**-0.5
    return float(a), float(b), float(np.degrees(np.arctan2(vectors[1, 0], vectors[0, 0])) % 180)


#: One-step ellipse about the ANSI centre of 2700 K in a public data sheet of an LED package (table 9, 3-step
#: semi-axes 0.00810 and 0.00420 at 53.70 degrees; VERIFIED). The sheets' ellipses of other CCTs could not be read.
DATA_SHEET_2700_K = Centre("LED data sheet, 2700 K", 0.4578, 0.4101, form_from_axes(0.00810 / 3, 0.00420 / 3, 53.70))


def iec_centre(nominal_K: float) -> Centre:
    """Centre and ellipse of IEC 60081 for ``nominal_K`` in K; ValueError where it isn't one of the six."""
    nominal, columns = tables.load("iec60081_ellipses")
    row = np.flatnonzero(nominal == nominal_K)
    if not row.size:
        listed = ", ".join(f"{K:.0f}" for K in nominal)
        raise ValueError(f"IEC 60081 has no ellipse of {nominal_K:g} K, only of {listed} K; state one of these")
    _, x, y, *form = (float(entry) for entry in columns[row[0]])
    return Centre(f"IEC 60081 F {nominal_K:.0f}", x, y, Form(*form))


def ansi_centre(nominal_K: float, edition: str) -> Centre:
    """Centre of the ANSI C78.377 quadrangle of ``nominal_K`` in K, with the ellipse moved there if there is one.

    ValueError where the edition has no such nominal CCT.
    """
    name, (x, y) = white_point.label(nominal_K, edition), white_point.centre(nominal_K, edition)
    return Centre(name, x, y, *_moved(nominal_K, x, y))


def stated_centre(x: float, y: float, nominal_K: float | None = None) -> Centre:
    """Centre that a claim states, with the ellipse of its stated nominal CCT in K moved there if there is one.

    No ellipse where the point lies in no ANSI quadrangle of that nominal CCT. ValueError where no light has this
    chromaticity.
    """
    name = f"stated centre x = {x:g}, y = {y:g}"
    if not in_gamut(x, y):
        raise ValueError(f"{name}: no light has this chromaticity; ask for the centre in CIE 1931 x, y")
    if nominal_K is None:
        why = "ellipse steps need the nominal CCT of the centre; state it, or use the u'v' circle"
        return Centre(name, x, y, refused=why)
    form, note, refused = _moved(nominal_K, x, y)
    if form and not _belongs(x, y, nominal_K):
        note, form = "", None
        where = f"the centre lies in no ANSI C78.377 quadrangle of {nominal_K:g} K"
        refused = f"{where}; ask which is meant, or use the u'v' circle"
    return Centre(name, x, y, form, note, refused)


def sample_centre(x: ArrayLike, y: ArrayLike) -> Centre:
    """Mean of the sample's chromaticities (n,), NaN left out; circle only. ValueError without a unit."""
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    known = possible(x, y)
    if not known.any():
        raise ValueError("no unit has a chromaticity x and y; hand in readings of x and y")
    refused = "ellipses belong to listed or stated centres, not to the mean of a sample; use the u'v' circle"
    name = f"mean of the sample, n = {known.sum()}"
    return Centre(name, float(x[known].mean()), float(y[known].mean()), refused=refused)


def possible(x: ArrayLike, y: ArrayLike) -> Mask:
    """Whether ``x``, ``y`` can be chromaticity coordinates at all: x >= 0, y > 0, x + y <= 1. False for NaN."""
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    real: Mask = (x >= 0) & (y > 0) & (x + y <= 1 + bivariate.ON_BOUNDARY)
    return real


def ellipse_steps(x: ArrayLike, y: ArrayLike, centre: Centre) -> Array:
    """Steps by ellipse from ``centre`` of CIE 1931 ``x``, ``y``, any one shape.

    NaN for NaN, for coordinates that can't be (``possible``), and throughout where ``centre.refused`` says why.
    """
    offset = _offset(x, y, centre)
    return np.hypot(offset[..., 0], offset[..., 1])


def circle_steps(x: ArrayLike, y: ArrayLike, centre_x: ArrayLike, centre_y: ArrayLike) -> Array:
    """Steps by u'v' circle of CIE 1931 ``x``, ``y`` from ``centre_x``, ``centre_y``; all broadcast.

    NaN for NaN and for coordinates that can't be.
    """
    offset = (_u_v_prime(x, y) - _u_v_prime(centre_x, centre_y)) / CIRCLE_STEP
    return np.hypot(offset[..., 0], offset[..., 1])


def in_ellipse_steps(
    x: ArrayLike, y: ArrayLike, u_x: ArrayLike, u_y: ArrayLike, correlation: ArrayLike, centre: Centre
) -> InSteps:
    """Where CIE 1931 ``x``, ``y`` lie about ``centre`` in steps by ellipse; all broadcast.

    ``u_x``, ``u_y``: standard uncertainties of x and y, ``correlation`` the coefficient between them. NaN as in
    ``ellipse_steps``.
    """
    root = _root(centre.form)
    return InSteps(_offset(x, y, centre), root @ bivariate.covariance(u_x, u_y, correlation) @ root.T)


def in_circle_steps(
    x: ArrayLike,
    y: ArrayLike,
    u_x: ArrayLike,
    u_y: ArrayLike,
    correlation: ArrayLike,
    centre_x: ArrayLike,
    centre_y: ArrayLike,
) -> InSteps:
    """The same by u'v' circle about ``centre_x``, ``centre_y``; the uncertainties are propagated to u', v'.

    First order with the exact derivatives at ``x``, ``y`` (JCGM 102:2011, 6.2).
    """
    x, y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
    to_uv = uv_prime_by_xy(np.where(possible(x, y), x, np.nan), y) / CIRCLE_STEP
    spread = to_uv @ bivariate.covariance(u_x, u_y, correlation) @ np.swapaxes(to_uv, -1, -2)
    return InSteps((_u_v_prime(x, y) - _u_v_prime(centre_x, centre_y)) / CIRCLE_STEP, spread)


def worst_pair(x: ArrayLike, y: ArrayLike, form: Form | None = None) -> Pair:
    """The two units furthest apart among CIE 1931 ``x``, ``y`` (n,), in steps of ``form``, or of the u'v' circle.

    Units without a chromaticity are passed over.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    plane = _u_v_prime(x, y) / CIRCLE_STEP if form is None else np.stack([x, y], -1) @ _root(form).T
    units = np.flatnonzero(possible(x, y))
    if units.size < 2:
        return Pair(-1, -1, float("nan"))
    points = plane[units]
    # An end of the longest distance lies at least as far from the middle as that leaves for the other end.
    radius = np.hypot(*(points - (points.max(axis=0) + points.min(axis=0)) / 2).T)
    far = int(radius.argmax())
    least = np.hypot(*(points - points[far]).T).max()
    ends = np.flatnonzero(radius >= (least - radius[far]) * (1 - 1e-9))
    best = Pair(int(units[0]), int(units[1]), 0.0)
    for start in range(0, ends.size, BLOCK):
        some = ends[start : start + BLOCK]
        difference = points[some, None] - points[ends]
        distance = np.hypot(difference[..., 0], difference[..., 1])
        i, j = np.unravel_index(distance.argmax(), distance.shape)
        if distance[i, j] > best.steps:
            first, second = sorted((int(units[some[i]]), int(units[ends[j]])))
            best = Pair(first, second, float(distance[i, j]))
    return best


def _moved(nominal_K: float, x: float, y: float) -> tuple[Form | None, str, str]:
    """Form, note and refusal for a centre of ``nominal_K`` at ``x``, ``y`` that isn't itself the listed one."""
    try:
        listed = iec_centre(nominal_K)
    except ValueError as error:
        return None, "", f"{error}, or use the u'v' circle"
    if np.hypot(x - listed.x, y - listed.y) <= bivariate.ON_BOUNDARY:
        return listed.form, "", ""
    return listed.form, f"ellipse of {listed.name} moved to this centre", ""


def _belongs(x: float, y: float, nominal_K: float) -> bool:
    return any(white_point.in_quadrangle(x, y, nominal_K, edition) for edition in white_point.EDITIONS)


def _offset(x: ArrayLike, y: ArrayLike, centre: Centre) -> Array:
    """Offset from the centre (..., 2) in the plane where the one-step ellipse is the unit circle."""
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    real = possible(x, y)
    away = np.stack([np.where(real, x - centre.x, np.nan), np.where(real, y - centre.y, np.nan)], -1)
    return np.asarray(away @ _root(centre.form).T)


def _root(form: Form | None) -> Array:
    """The matrix (2, 2) that turns offsets in x, y into that plane; NaN where there is no ellipse."""
    if form is None:
        return np.full((2, 2), np.nan)
    root = math.sqrt(form.g11)
    return np.array([[root, form.g12 / root], [0.0, math.sqrt(form.g22 - form.g12**2 / form.g11)]])


def _u_v_prime(x: ArrayLike, y: ArrayLike) -> Array:
    """u', v' (..., 2), NaN where x, y can't be chromaticity coordinates."""
    x, y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
    real = possible(x, y)
    return np.stack(xy_to_uv_prime(np.where(real, x, np.nan), np.where(real, y, np.nan)), -1)
