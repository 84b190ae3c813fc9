"""Where a point on a map may lie: ellipses from resampled maps.

Maps have two axes; resampled ones are turned onto the first map before they are compared.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri

from twobowls.statistics.arrays import FloatArray

_FEWEST = 10  # resamples with the point, for a spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """An ellipse that holds a point at a level, on a map with two axes.

    ``centre`` is the point on the map, ``radii`` the half axes, the longer first, ``angle`` the
    direction of the longer one, counter-clockwise from the first axis of the map, in radians
    from 0 up to pi.
    """

    centre: tuple[float, float]
    radii: tuple[float, float]
    angle: float
    level: float

    def outline(self, points: int = 72) -> FloatArray:
        """Return points on the ellipse, shape (points, 2), the first again at the end."""
        turn = np.linspace(0, 2 * np.pi, points)
        circle = np.stack([self.radii[0] * np.cos(turn), self.radii[1] * np.sin(turn)])
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.asarray(self.centre + (np.array([[c, -s], [s, c]]) @ circle).T)

    def holds(self, x: float, y: float) -> bool:
        """Return whether a point of the map lies in the ellipse."""
        dx, dy = x - self.centre[0], y - self.centre[1]
        c, s = np.cos(self.angle), np.sin(self.angle)
        along, across = c * dx + s * dy, c * dy - s * dx
        tiny = 1e-300
        return bool(
            (along / max(self.radii[0], tiny)) ** 2 + (across / max(self.radii[1], tiny)) ** 2 <= 1
        )


def spread(offsets: FloatArray, drawn: int) -> FloatArray:
    """Return how far resampled points lie from where they should be.

    Parameters
    ----------
    offsets : ndarray, shape (resamples, points, 2)
        Offsets of every point, NaN where a resample lacks it.
    drawn : int
        How many tasters the resamples draw from.

    Returns
    -------
    ndarray, shape (points, 2, 2)
        Second moments around no offset at all, so that a leaning of the resamples counts as
        uncertainty, times ``J / (J - 1)``; NaN where fewer than ten resamples had the point.

    Examples
    --------
    >>> offsets = np.random.default_rng(1).normal(size=(500, 1, 2)) * [2, 1]
    >>> spread(offsets, drawn=1000)[0].round().tolist()
    [[4.0, -0.0], [-0.0, 1.0]]
    """
    there = ~np.isnan(offsets[..., 0])
    counts = there.sum(axis=0)
    off = np.where(there[..., None], offsets, 0.0)
    moments = np.einsum("bpi,bpj->pij", off, off) / np.maximum(counts, 1)[:, None, None]
    enough = (counts >= _FEWEST)[:, None, None]
    return np.asarray(np.where(enough, moments * drawn / (drawn - 1), np.nan))


def distance(offsets: FloatArray, spreads: FloatArray) -> FloatArray:
    """Return squared distances in units of the spread, shape (points,); NaN where there is none.

    Parameters
    ----------
    offsets : ndarray, shape (points, 2)
        How far each point lies off.
    spreads : ndarray, shape (points, 2, 2)
        As from ``spread``.

    Returns
    -------
    ndarray, shape (points,)

    Examples
    --------
    >>> distance(np.array([[2.0, 0.0]]), np.array([[[4.0, 0.0], [0.0, 1.0]]])).round(3).tolist()
    [1.0]
    """
    known = ~np.isnan(spreads[:, 0, 0])
    wide = np.where(known[:, None, None], spreads, np.eye(2)) + 1e-12 * np.eye(2)
    squares = np.einsum("pi,pij,pj->p", offsets, np.linalg.inv(wide), offsets)
    return np.asarray(np.where(known, squares, np.nan))


def hotelling_size(level: float, drawn: int) -> float:
    """Return the squared distance that holds a point at a level, for normal offsets.

    Parameters
    ----------
    level : float
        Coverage.
    drawn : int
        How many tasters the spread was estimated from, 3 or more.

    Returns
    -------
    float
        Hotelling's, not chi-squared, which few tasters would make far too small.

    Examples
    --------
    >>> round(hotelling_size(0.90, 10_000), 2)
    4.61
    """
    return 2 * (drawn - 1) / (drawn - 2) * float(fdtri(2, drawn - 2, level))


def region(centre: FloatArray, wide: FloatArray, size: float, level: float) -> Region | None:
    """Return the ellipse around a point, or None where its spread is not known.

    Parameters
    ----------
    centre : ndarray, shape (2,)
        The point on the map.
    wide : ndarray, shape (2, 2)
        Its spread.
    size : float
        Squared distance from the centre to the edge, in units of the spread.
    level : float
        Coverage of the ellipse.

    Returns
    -------
    Region or None

    Examples
    --------
    >>> region(np.zeros(2), np.array([[4.0, 0.0], [0.0, 1.0]]), 4.0, 0.90).radii
    (4.0, 2.0)
    """
    if np.isnan(wide).any():
        return None
    values, vectors = np.linalg.eigh(wide)
    radii = np.sqrt(np.maximum(values, 0) * size)
    return Region(
        centre=(float(centre[0]), float(centre[1])),
        radii=(float(radii[1]), float(radii[0])),
        angle=float(np.arctan2(vectors[1, 1], vectors[0, 1]) % np.pi),
        level=level,
    )


def turned_onto(target: FloatArray, other: FloatArray) -> FloatArray:
    """Return the rotation (or reflection) that lays one map of the same points onto another.

    Parameters
    ----------
    target, other : ndarray, shape (..., points, axes)
        Maps of the same points; one of them may be many.

    Returns
    -------
    ndarray, shape (..., axes, axes)
        Multiply ``other`` by it from the right.

    Notes
    -----
    Orthogonal Procrustes rotation (Schönemann 1966), without stretching.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 2], [0, 2]])
    >>> turned_onto(square, square @ [[0, 1], [-1, 0]]).round().astype(int).tolist()
    [[0, -1], [1, 0]]
    """
    u, _, vt = np.linalg.svd(np.swapaxes(other, -1, -2) @ target)
    return np.asarray(u @ vt)
