"""Chromaticity, correlated colour temperature and Duv of spectra, and their uncertainty.

Method: tristimulus values of the CIE 1931 2-degree observer summed at 1 nm from 360 nm to 830 nm
(CIE 15:2018, clause 7), u' and v' (CIE 1976 UCS), CCT and Duv as in ``planckian``.

A spectrum that starts later than 380 nm or ends earlier than 780 nm is taken as zero outside its grid. Its
chromaticity is refused where holding the end values over the missing part instead would move x or y by
more than 5e-4 (our setting): then what was not measured decides the result.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from . import planckian
from .grid import Wavelengths, held_ends, resampling_matrix
from .spectra import CHROMATICITY_LIMIT, Mask, Spectra, Texts, add, only_used, screen, texts
from .tables import Array, observer_2deg


@dataclass(frozen=True)
class Chromaticity:
    """Chromaticity of n spectra; every array has shape (n,), NaN where the metric is refused.

    ``x``, ``y``: CIE 1931; ``u_prime``, ``v_prime``: CIE 1976; ``cct_K`` in K; ``duv``: signed distance from
    the Planckian locus in CIE 1960 (u, v). ``refused`` and ``notes``: field name to (n,) texts, "" where
    there is none; only fields with at least one text appear.
    """

    x: Array
    y: Array
    u_prime: Array
    v_prime: Array
    cct_K: Array
    duv: Array
    refused: dict[str, Texts]
    notes: dict[str, Texts]


def chromaticity(power: ArrayLike, wavelength_nm: ArrayLike) -> Chromaticity:
    """Chromaticity of the spectra ``power`` (n, m), or (m,) for one, on ``wavelength_nm`` (m,) in nm.

    ``power`` may be in any unit per nm. Raises ValueError for a faulty grid or shape; a spectrum that can't
    be judged is refused on its own. No CCT and Duv further than 0.05 from the locus (CIE 15:2018, 9.5) nor
    outside 1,000 K to 20,000 K.
    """
    spectra = screen(power, wavelength_nm)
    x, y, refused = _xy(spectra)
    u_prime, v_prime = xy_to_uv_prime(x, y)
    foot = planckian.nearest(u_prime, v_prime * 2 / 3)
    off_locus = _off_locus(foot)
    of_cct = np.where(refused != "", refused, off_locus)
    cct_K, duv = np.where(of_cct == "", [1e6 / foot.mired, foot.duv], np.nan)
    fields = ("x", "y", "u_prime", "v_prime")
    return Chromaticity(
        x,
        y,
        u_prime,
        v_prime,
        cct_K,
        duv,
        refused=only_used({**dict.fromkeys(fields, refused), "cct_K": of_cct, "duv": of_cct}),
        notes=only_used(
            {
                **dict.fromkeys(fields, np.where(refused == "", spectra.notes, "")),
                **dict.fromkeys(("cct_K", "duv"), np.where(of_cct == "", spectra.notes, "")),
            }
        ),
    )


def cct_duv(x: ArrayLike, y: ArrayLike) -> tuple[Array, Array]:
    """CCT in K and Duv of the CIE 1931 chromaticities ``x``, ``y`` (any one shape). NaN in, NaN out.

    NaN too beyond |Duv| 0.05 and outside 1,000 K to 20,000 K. Exact to 0.01 K below 10,000 K and 1e-7 in Duv
    for the locus as ``planckian`` defines it.
    """
    u_prime, v_prime = xy_to_uv_prime(x, y)
    foot = planckian.nearest(u_prime, v_prime * 2 / 3)
    known = _on_locus(foot)
    return np.where(known, 1e6 / foot.mired, np.nan), np.where(known, foot.duv, np.nan)


def xy_to_uv_prime(x: ArrayLike, y: ArrayLike) -> tuple[Array, Array]:
    """u' and v' of the CIE 1976 UCS diagram (IEV 845-23-073) from CIE 1931 ``x`` and ``y``, any one shape."""
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    denominator = -2 * x + 12 * y + 3
    return 4 * x / denominator, 9 * y / denominator


def uv_prime_to_xy(u_prime: ArrayLike, v_prime: ArrayLike) -> tuple[Array, Array]:
    """CIE 1931 x and y from CIE 1976 ``u_prime`` and ``v_prime``, any one shape (inverse of IEV 845-23-073)."""
    u, v = np.asarray(u_prime, dtype=np.float64), np.asarray(v_prime, dtype=np.float64)
    denominator = 6 * u - 16 * v + 12
    return 9 * u / denominator, 4 * v / denominator


def uv_prime_by_xy(x: ArrayLike, y: ArrayLike) -> Array:
    """Derivatives of u' (first row) and v' by ``x`` and ``y``, any one shape: (..., 2, 2)."""
    x, y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
    rows = [[12 + 48 * y, -48 * x], [18 * y, 27 - 18 * x]]
    matrix = np.stack([np.stack(row, -1) for row in rows], -2)
    return np.asarray(matrix / ((-2 * x + 12 * y + 3) ** 2)[..., None, None])


def propagate(
    x: ArrayLike, y: ArrayLike, u_x: ArrayLike, u_y: ArrayLike, correlation: ArrayLike = 0.0
) -> dict[str, Array]:
    """Standard uncertainties of u_prime, v_prime, cct (K) and duv at ``x``, ``y`` from those of x and y.

    First-order propagation with the exact derivatives (JCGM 100:2008, 5.2.2, eq. 16); ``correlation`` is the
    coefficient between x and y. All arguments broadcast to one shape. NaN where CCT and Duv are refused.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    u_x, u_y, r = np.asarray(u_x), np.asarray(u_y), np.asarray(correlation)
    u_by, v_by = np.moveaxis(uv_prime_by_xy(x, y), (-2, -1), (0, 1))
    u_prime, v_prime = xy_to_uv_prime(x, y)
    foot = planckian.nearest(u_prime, v_prime * 2 / 3)
    kelvin = np.where(_on_locus(foot), -1e6 / foot.mired**2, np.nan)
    sensitivities = {
        "u_prime": u_by,
        "v_prime": v_by,
        "cct": [kelvin * (foot.mired_by_u * u + foot.mired_by_v * v * 2 / 3) for u, v in zip(u_by, v_by, strict=True)],
        "duv": [foot.duv_by_u * u + foot.duv_by_v * v * 2 / 3 for u, v in zip(u_by, v_by, strict=True)],
    }
    sensitivities["duv"] = [np.where(np.isnan(kelvin), np.nan, by) for by in sensitivities["duv"]]
    return {
        name: np.sqrt((by_x * u_x) ** 2 + (by_y * u_y) ** 2 + 2 * r * by_x * u_x * by_y * u_y)
        for name, (by_x, by_y) in sensitivities.items()
    }


def xy_uncertainty(
    x: ArrayLike, y: ArrayLike, u_u_prime: ArrayLike, u_v_prime: ArrayLike
) -> tuple[Array, Array, Array]:
    """Standard uncertainties of ``x`` and ``y`` and their correlation, from those of u' and v' without one.

    First order with the exact derivatives (JCGM 102:2011, 6.2). All arguments broadcast to one shape. NaN in, NaN out.
    """
    u = np.stack(np.broadcast_arrays(np.asarray(u_u_prime, float), np.asarray(u_v_prime, float)), -1)
    root = np.linalg.inv(uv_prime_by_xy(x, y)) * u[..., None, :]
    u_x, u_y = np.moveaxis(np.hypot(root[..., 0], root[..., 1]), -1, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mixed = (root[..., 0, :] * root[..., 1, :]).sum(axis=-1) / (u_x * u_y)
    return u_x, u_y, np.where((u_x == 0) | (u_y == 0), 0.0, mixed)


@lru_cache(maxsize=32)
def _weights(grid: Wavelengths) -> tuple[Array, Array]:
    """Power to X, Y, Z (m, 3), and what held end values would add to them (2, 3)."""
    observer = observer_2deg()
    return resampling_matrix(grid).T @ observer, held_ends(grid, observer)


def _xy(spectra: Spectra) -> tuple[Array, Array, Texts]:
    """x and y (n,), NaN where refused, and the reasons (n,)."""
    refused = spectra.refused.copy()
    if (refused != "").all():
        nothing = np.full(len(refused), np.nan)
        return nothing, nothing, refused
    weights, ends = _weights(spectra.grid)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        xyz = spectra.power @ weights
        xy = _project(xyz)
        moved = np.abs(_project(xyz + spectra.ends @ ends) - xy).max(axis=1)
    good = refused == ""
    dark = good & ~((xyz[:, 1] > 0) & (xyz.sum(axis=1) > 0))
    add(refused, dark, "there is no light between 360 nm and 830 nm; measure the visible range")
    text = "the missing part of 380 nm to 780 nm may move x or y by more than 0.0005; ask for the whole spectrum"
    add(refused, good & ~dark & (moved > CHROMATICITY_LIMIT), text)
    xy[refused != ""] = np.nan
    return xy[:, 0], xy[:, 1], refused


def _project(xyz: Array) -> Array:
    total: Array = xyz.sum(axis=1, keepdims=True)
    return xyz[:, :2] / total


def _in_range(foot: planckian.Foot) -> Mask:
    hottest, coldest = 1e6 / planckian.CCT_RANGE_K[1], 1e6 / planckian.CCT_RANGE_K[0]
    # a Planckian radiator at the very end of the range must not fall out by rounding
    inside: Mask = (foot.mired >= hottest - 1e-6) & (foot.mired <= coldest + 1e-6)
    return inside


def _on_locus(foot: planckian.Foot) -> Mask:
    near: Mask = np.abs(foot.duv) <= planckian.DUV_LIMIT
    return _in_range(foot) & near


def _off_locus(foot: planckian.Foot) -> Texts:
    """Why a chromaticity has no CCT, (n,), "" where it has one or is itself NaN."""
    reasons = texts(len(foot.mired))
    outside = ~np.isnan(foot.mired) & ~_in_range(foot)
    add(reasons, outside, "no CCT outside 1,000 K to 20,000 K; judge the chromaticity itself")
    for i in np.flatnonzero(~outside & (np.abs(foot.duv) > planckian.DUV_LIMIT)):
        reasons[i] = f"no CCT beyond |Duv| 0.05, here {foot.duv[i]:+.4f} (CIE 15:2018); judge the chromaticity itself"
    return reasons
