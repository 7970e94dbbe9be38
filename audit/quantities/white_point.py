"""White points of ANSI C78.377: quadrangles, nominal CCT, targets and limits, by edition.

Each nominal CCT has a quadrangle about its centre in CIE 1931 x, y, with straight edges: target CCT and Duv
with their tolerances. Edition 2008 takes one target Duv along a quadrangle; editions 2015 and 2017, alike,
let it follow Duv(T) and add 2200 K and 2500 K. The corners are those published, to four decimals; of 2200 K and
2500 K none were, theirs are computed (``corners_status``). Published neighbours of the later editions differ by
up to 0.0002 where they meet (4000 K and 4500 K, for one), so that a chromaticity may lie in the crack.

The standard itself was not opened: the tables are secondary, see the heading of each file in ``data/``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import bivariate, tables
from .chromaticity import xy_to_uv_prime
from .spectra import Mask
from .tables import Array

#: Editions as results name them; "2015" and "2017" alone are understood too.
EDITIONS = ("2008", "2015/2017")


@dataclass(frozen=True)
class Quadrangles:
    """The k quadrangles of one edition, by rising nominal CCT.

    CCTs in K and Duv (k,); centres in CIE 1931 x, y and, computed from these, in CIE 1976 u', v' (k,);
    ``corners`` (k, 4, 2) in x, y: low CCT +Duv, high CCT +Duv, high CCT -Duv, low CCT -Duv;
    ``corners_status`` (k,): VERIFIED, read in a publication, or COMPUTED.
    """

    edition: str
    nominal_K: Array
    target_cct_K: Array
    cct_tolerance_K: Array
    target_duv: Array
    duv_tolerance: Array
    centre_x: Array
    centre_y: Array
    centre_u_prime: Array
    centre_v_prime: Array
    corners: Array
    corners_status: tuple[str, ...]


def quadrangles(edition: str) -> Quadrangles:
    """The quadrangles of ``edition``; ValueError where it isn't one of ``EDITIONS``."""
    for known in EDITIONS:
        if edition.strip() in (known, *known.split("/")):
            return _quadrangles(known)
    raise ValueError(f"ANSI C78.377 has no edition {edition!r} here; state one of {' or '.join(EDITIONS)}")


def label(nominal: float, edition: str) -> str:
    """How a result names the quadrangle: standard, edition, nominal CCT."""
    table = quadrangles(edition)
    return f"ANSI C78.377-{table.edition}, {table.nominal_K[_row(nominal, table)]:.0f} K"


def centre(nominal: float, edition: str) -> tuple[float, float]:
    """Centre in CIE 1931 x, y of the quadrangle of ``nominal`` K; ValueError where the edition has none."""
    table = quadrangles(edition)
    row = _row(nominal, table)
    return float(table.centre_x[row]), float(table.centre_y[row])


def duv_limits(nominal: ArrayLike, edition: str) -> tuple[Array, Array]:
    """Lowest and highest Duv of the quadrangles of ``nominal`` K, any shape, at their target CCT."""
    table = quadrangles(edition)
    rows = _rows(nominal, table)
    target, tolerance = _pick(table.target_duv, rows), _pick(table.duv_tolerance, rows)
    return target - tolerance, target + tolerance


def target_duv(cct_K: ArrayLike) -> Array:
    """Duv(T) of the target line of editions 2015 and 2017, ``cct_K`` in K, any shape.

    57700 / T^2 - 44.6 / T + 0.00854 from 2870 K, 0 below. The formula is MEMORY; confirmed by computation: with
    it all ten published centres come out to four decimals.
    """
    cct_K = np.asarray(cct_K, dtype=np.float64)
    above = 57700 / cct_K**2 - 44.6 / cct_K + 0.00854
    return np.where(np.isnan(cct_K), np.nan, np.where(cct_K < 2870, 0.0, above))


def in_quadrangle(x: ArrayLike, y: ArrayLike, nominal: ArrayLike, edition: str) -> Mask:
    """Whether the chromaticities ``x``, ``y`` lie in the quadrangle of ``nominal`` K; all broadcast.

    An edge counts as inside. False for NaN. ValueError where the edition has no such nominal CCT.
    """
    table = quadrangles(edition)
    x, y, nominal = np.broadcast_arrays(*(np.asarray(item, dtype=np.float64) for item in (x, y, nominal)))
    return bivariate.in_polygon(np.stack([x, y], -1), _pick(table.corners, _rows(nominal, table)))


def nominal_cct(x: ArrayLike, y: ArrayLike, edition: str) -> Array:
    """Nominal CCT in K of the quadrangle that holds each chromaticity, any shape; NaN where none does.

    Of two that hold it (a common edge, a published overlap) the one whose centre is nearer in u', v'.
    """
    table = quadrangles(edition)
    x, y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
    inside = bivariate.in_polygon(np.stack([x, y], -1)[..., None, :], table.corners)
    u_prime, v_prime = xy_to_uv_prime(np.where(np.isnan(x + y), 1.0, x), np.where(np.isnan(x + y), 1.0, y))
    distance = np.hypot(u_prime[..., None] - table.centre_u_prime, v_prime[..., None] - table.centre_v_prime)
    nearest = np.where(inside, distance, np.inf).argmin(axis=-1)
    return np.where(inside.any(axis=-1), table.nominal_K[nearest], np.nan)


def quadrangle_probability(
    x: ArrayLike,
    y: ArrayLike,
    u_x: ArrayLike,
    u_y: ArrayLike,
    correlation: ArrayLike,
    nominal: ArrayLike,
    edition: str,
) -> Array:
    """Probability that the true chromaticity lies in the quadrangle of ``nominal`` K; all broadcast.

    ``u_x``, ``u_y``: standard uncertainties of x and y, ``correlation`` the coefficient between them. Exact for
    the bivariate normal distribution (see ``bivariate``). NaN in, NaN out.
    """
    table = quadrangles(edition)
    x, y, nominal = np.broadcast_arrays(*(np.asarray(item, dtype=np.float64) for item in (x, y, nominal)))
    corners = _pick(table.corners, _rows(nominal, table))
    return bivariate.polygon_probability(np.stack([x, y], -1), bivariate.covariance(u_x, u_y, correlation), corners)


def quadrangle_shares(u_x: ArrayLike, u_y: ArrayLike, nominal: ArrayLike, edition: str) -> Array:
    """Standard uncertainty across the quadrangle of ``nominal`` K as a share of its width; all broadcast.

    The largest over the directions across its edges; ``u_x``, ``u_y`` of x and y, without correlation. NaN in, NaN out.
    """
    table = quadrangles(edition)
    u_x, u_y, nominal = np.broadcast_arrays(*(np.asarray(item, dtype=np.float64) for item in (u_x, u_y, nominal)))
    corners = _pick(table.corners, _rows(nominal, table))
    edge = np.roll(corners, -1, axis=-2) - corners
    across = np.stack([-edge[..., 1], edge[..., 0]], -1) / np.linalg.norm(edge, axis=-1, keepdims=True)
    width = np.ptp(np.einsum("...ei,...ci->...ec", across, corners), axis=-1)
    spread = np.hypot(across[..., 0] * u_x[..., None], across[..., 1] * u_y[..., None])
    return np.asarray((spread / width).max(axis=-1))


@cache
def _quadrangles(edition: str) -> Quadrangles:
    nominal, columns = tables.load(f"ansi_c78377_{edition.replace('/', '_')}")
    x, y = columns[:, 4], columns[:, 5]
    status = tuple("COMPUTED" if computed else "VERIFIED" for computed in columns[:, 14])
    corners = columns[:, 6:14].reshape(-1, 4, 2)
    cct_K, tolerance_K, duv, duv_tolerance = columns[:, :4].T
    u_prime, v_prime = xy_to_uv_prime(x, y)
    return Quadrangles(
        edition, nominal, cct_K, tolerance_K, duv, duv_tolerance, x, y, u_prime, v_prime, corners, status
    )


def _row(nominal: float, table: Quadrangles) -> int:
    if np.isnan(nominal):
        raise ValueError(f"no nominal CCT is stated; state one of ANSI C78.377-{table.edition}")
    return int(_rows(nominal, table))


def _rows(nominal: ArrayLike, table: Quadrangles) -> NDArray[np.intp]:
    """Rows of the nominal CCTs, any shape; -1 for NaN."""
    nominal = np.asarray(nominal, dtype=np.float64)
    same = nominal[..., None] == table.nominal_K
    unlisted = nominal[~same.any(axis=-1) & ~np.isnan(nominal)]
    if unlisted.size:
        listed = ", ".join(f"{K:.0f}" for K in table.nominal_K)
        raise ValueError(
            f"ANSI C78.377-{table.edition} has no nominal CCT of {unlisted[0]:g} K, only {listed} K; "
            "state one of these, or the edition that has it"
        )
    return np.where(np.isnan(nominal), -1, same.argmax(axis=-1))


def _pick(column: Array, rows: NDArray[np.intp]) -> Array:
    """Entries of ``column`` (k, ...) at ``rows``, NaN where the row is -1."""
    missing = (rows < 0).reshape(rows.shape + (1,) * (column.ndim - 1))
    return np.where(missing, np.nan, column[rows])
