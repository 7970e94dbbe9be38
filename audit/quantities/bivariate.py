"""How probable is it that a point lies inside a region of the plane: bivariate normal over polygon and disc.

A measured point with its covariance is the distribution of the true one (JCGM 101:2008, 6.4.8); the
conformance probability of a region is the mass inside it (JCGM 106:2012, 7.1). Both regions are worked out
along the principal axes of the covariance:

* convex polygon: signed triangles between the point and each edge, each of them a pair of Owen's T functions
  (D. B. Owen, Ann. Math. Statist. 27 (1956) 1075-1090), exact to rounding;
* disc about the origin: conditional on the less uncertain axis the mass is a difference of two normal
  probabilities; the integral over that axis is Gauss-Legendre quadrature over the part where the mass is
  neither 0 nor 1, good to 1e-9. An ellipse is a disc in coordinates of its own (see ``steps``).

Where a covariance has no area (an uncertainty of zero, a correlation of 1 or -1) the mass lies on a line or in
a point; that limit is taken exactly, and a boundary counts as inside. NaN in, NaN out; so does an uncertainty
below zero or a correlation beyond 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .spectra import Mask
from .tables import Array

#: A point this near to a boundary, in the unit of the plane, lies on it; far below any printed digit.
ON_BOUNDARY = 1e-9
#: Ratio of the variances along the principal axes below which the mass is taken to lie on a line.
FLAT = 1e-12
#: Standard deviations beyond which the normal distribution is taken as spent (mass 1e-15).
TAIL = 8.0
#: Points worked on at a time: bounds the memory of the quadrature.
CHUNK = 4096

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)


def covariance(u_x: ArrayLike, u_y: ArrayLike, correlation: ArrayLike = 0.0) -> Array:
    """Covariance matrices (..., 2, 2) from standard uncertainties and correlation, broadcast to one shape.

    NaN throughout where an uncertainty is negative or the correlation lies outside -1 to 1.
    """
    u_x, u_y, r = np.broadcast_arrays(*(np.asarray(item, dtype=np.float64) for item in (u_x, u_y, correlation)))
    possible = (u_x >= 0) & (u_y >= 0) & (np.abs(r) <= 1)
    u_x, u_y = np.where(possible, u_x, np.nan), np.where(possible, u_y, np.nan)
    mixed = np.where(possible, r, np.nan) * u_x * u_y
    return np.stack([np.stack([u_x**2, mixed], -1), np.stack([mixed, u_y**2], -1)], -2)


def in_polygon(point: ArrayLike, corners: ArrayLike) -> Mask:
    """Whether points (..., 2) lie inside or on convex polygons (..., k, 2); False for NaN.

    The corners go round in either direction.
    """
    away = np.asarray(corners, dtype=np.float64) - np.asarray(point, dtype=np.float64)[..., None, :]
    return np.asarray((_inward(away)[0] >= -ON_BOUNDARY).all(axis=-1))


def polygon_probability(point: ArrayLike, matrix: ArrayLike, corners: ArrayLike) -> Array:
    """Probability that the true points lie inside convex polygons.

    ``point`` (..., 2), ``matrix`` (..., 2, 2) its covariance, ``corners`` (..., k, 2); all broadcast.
    """
    away = np.asarray(corners, dtype=np.float64) - np.asarray(point, dtype=np.float64)[..., None, :]
    small, large, axes = _principal(np.asarray(matrix, dtype=np.float64))
    away = away @ axes
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        scale = np.stack(np.broadcast_arrays(small, large), -1)[..., None, :]
        p = np.where(small > 0, _standard_polygon(away / scale), _line_in_polygon(away, large))
    return _settled(p, np.isnan(away).any(axis=(-2, -1)) | np.isnan(large))


def disc_probability(point: ArrayLike, matrix: ArrayLike, radius: ArrayLike) -> Array:
    """Probability that the true points lie inside a disc of ``radius`` (...) about the origin.

    ``point`` (..., 2), ``matrix`` (..., 2, 2) its covariance, ``radius`` in the unit of the plane; all broadcast.
    """
    small, large, axes = _principal(np.asarray(matrix, dtype=np.float64))
    across, along = np.moveaxis((np.asarray(point, dtype=np.float64)[..., None, :] @ axes)[..., 0, :], -1, 0)
    radius = np.asarray(radius, dtype=np.float64)
    broadcast = np.broadcast_arrays(across, np.abs(along), small, large, radius)
    shape, items = broadcast[0].shape, [item.ravel() for item in broadcast]
    p = np.empty(items[0].size)
    with np.errstate(divide="ignore", invalid="ignore"):
        for start in range(0, p.size, CHUNK):
            part = [item[start : start + CHUNK] for item in items]
            p[start : start + CHUNK] = np.where(part[2] > 0, _disc(*part), _line_in_disc(*part))
    return _settled(p, np.asarray(np.isnan(items).any(axis=0))).reshape(shape)


def _principal(matrix: Array) -> tuple[Array, Array, Array]:
    """Standard deviations along the minor and the major axis (...), and the axes as columns (..., 2, 2).

    The minor one is exactly 0 where the covariance has no area; both are NaN where the matrix is.
    """
    unknown = np.asarray(np.isnan(matrix).any(axis=(-2, -1)))
    variances, axes = np.linalg.eigh(np.where(unknown[..., None, None], np.eye(2), matrix))
    variances = np.where(unknown[..., None], np.nan, np.maximum(variances, 0.0))
    minor, major = variances[..., 0], variances[..., 1]
    return np.where(minor <= FLAT * major, 0.0 * major, np.sqrt(minor)), np.sqrt(major), axes


def _inward(away: Array) -> tuple[Array, Array]:
    """Distance of the point inward from each edge (..., k), and how it grows with the second coordinate."""
    ahead = np.roll(away, -1, axis=-2)
    edge = ahead - away
    cross = away[..., 0] * ahead[..., 1] - away[..., 1] * ahead[..., 0]
    turn = np.sign(cross.sum(axis=-1, keepdims=True)) / np.hypot(edge[..., 0], edge[..., 1])
    return turn * cross, turn * edge[..., 0]


def _standard_polygon(away: Array) -> Array:
    """Mass of the standard bivariate normal in polygons whose corners are ``away`` (..., k, 2) from the mean."""
    from scipy.special import owens_t

    ahead = np.roll(away, -1, axis=-2)
    edge = ahead - away
    length = np.hypot(edge[..., 0], edge[..., 1])
    height = (away[..., 0] * ahead[..., 1] - away[..., 1] * ahead[..., 0]) / length
    h = np.abs(height)
    start, end = ((corner * edge).sum(axis=-1) / length for corner in (away, ahead))
    angle = np.arctan2(end, h) - np.arctan2(start, h)
    triangle = angle / (2 * np.pi) - (owens_t(h, end / h) - owens_t(h, start / h))
    # an edge that runs through the mean spans no triangle
    return np.asarray(np.abs(np.where(h > 0, np.sign(height) * triangle, 0.0).sum(axis=-1)))


def _line_in_polygon(away: Array, large: Array) -> Array:
    """The same where all mass lies on the line through the mean along the second axis."""
    from scipy.special import ndtr

    inward, growth = _inward(away)
    across = np.abs(growth) > ON_BOUNDARY
    reach = -inward / np.where(across, growth, 1.0)
    low = np.where(across & (growth > 0), reach, -np.inf).max(axis=-1)
    high = np.where(across & (growth < 0), reach, np.inf).min(axis=-1)
    missed = (~across & (inward < -ON_BOUNDARY)).any(axis=-1) | (high < low)
    inside = (inward >= -ON_BOUNDARY).all(axis=-1)
    on_line = np.where(missed, 0.0, ndtr(high / large) - ndtr(low / large))
    return np.where(large > 0, on_line, inside.astype(np.float64))


def _disc(across: Array, along: Array, small: Array, large: Array, radius: Array) -> Array:
    """Mass in discs, (n,): mean at ``across`` (minor axis) and ``along`` >= 0 (major axis), both deviations > 0."""
    from scipy.special import ndtr

    # half widths on the minor axis within which the disc holds all, and beyond which none, of the major axis
    whole = _half_chord(radius, along + TAIL * large)
    some = _half_chord(radius, np.maximum(along - TAIL * large, 0.0))
    p = np.zeros_like(across)
    for mean in (across, -across):  # the two halves of the disc, mirrored onto the positive one
        p += ndtr((whole - mean) / small) - ndtr(-mean / small)
        low, high = (np.arcsin(np.clip(mean + t * small, whole, some) / radius) for t in (-TAIL, TAIL))
        half = (high - low)[:, None] / 2
        theta = low[:, None] + half * (_NODES + 1)
        chord, z = radius[:, None] * np.cos(theta), (radius[:, None] * np.sin(theta) - mean[:, None]) / small[:, None]
        held = ndtr((chord - along[:, None]) / large[:, None]) - ndtr((-chord - along[:, None]) / large[:, None])
        density = np.exp(-0.5 * z * z) / (np.sqrt(2 * np.pi) * small[:, None])
        p += (density * held * chord * half) @ _WEIGHTS
    return np.where(radius > 0, p, 0.0)


def _half_chord(radius: Array, distance: Array) -> Array:
    return np.sqrt(np.maximum(radius * radius - distance * distance, 0.0))


def _line_in_disc(across: Array, along: Array, small: Array, large: Array, radius: Array) -> Array:
    """The same where all mass lies on the line through the mean along the major axis; ``small`` is 0."""
    from scipy.special import ndtr

    chord = _half_chord(radius, np.abs(across) + small)
    on_line = ndtr((chord - along) / large) - ndtr((-chord - along) / large)
    inside = np.hypot(across, along) <= radius + ON_BOUNDARY
    return np.where(large > 0, on_line, inside.astype(np.float64))


def _settled(p: Array, unknown: Mask) -> Array:
    return np.where(unknown, np.nan, np.clip(p, 0.0, 1.0))
