"""Where a point on a map may lie: ellipses from resampled maps.

Maps have two axes; resampled ones are turned onto the first map before they are compared.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri

from twobowls.statistics.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """An ellipse that holds a point at a level, on a map with two axes.

    ``centre`` is the point on the map, ``radii`` the half axes, the longer first, ``angle`` the
    direction of the longer one, counter-clockwise from the first axis of the map, in radians
    from 0 up to pi. ``resamples`` is how many resampled maps had the point.
    """

    centre: tuple[float, float]
    radii: tuple[float, float]
    angle: float
    level: float
    resamples: int

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


def region(centre: FloatArray, cloud: FloatArray, level: float, drawn: int) -> Region | None:
    """Return the ellipse of a point from a cloud of resampled points.

    Parameters
    ----------
    centre : ndarray, shape (2,)
        The point on the map itself.
    cloud : ndarray, shape (resamples, 2)
        The point on each resampled map, NaN where it was not there.
    level : float
        Coverage of the ellipse.
    drawn : int
        How many tasters the resamples draw from, 4 or more for an ellipse.

    Returns
    -------
    Region or None
        None with fewer than four tasters, or when fewer than ten resampled maps had the point.

    Notes
    -----
    Second moments of the cloud around the point itself, so that a leaning of the resamples
    counts as uncertainty, times ``J / (J-1)``; the size is Hotelling's for J tasters, not
    chi-squared, which few tasters would make far too small.

    Examples
    --------
    >>> cloud = np.random.default_rng(1).normal(size=(500, 2)) * [2.0, 1.0]
    >>> ellipse = region(np.zeros(2), cloud, 0.90, 1000)
    >>> [round(radius, 1) for radius in ellipse.radii]
    [4.2, 2.2]
    """
    there = cloud[~np.isnan(cloud).any(axis=1)]
    if len(there) < 10 or drawn < 4:
        return None
    off = there - centre
    values, vectors = np.linalg.eigh(off.T @ off / len(off) * drawn / (drawn - 1))
    size = 2 * (drawn - 1) / (drawn - 2) * float(fdtri(2, drawn - 2, level))
    radii = np.sqrt(np.maximum(values, 0) * size)
    return Region(
        centre=(float(centre[0]), float(centre[1])),
        radii=(float(radii[1]), float(radii[0])),
        angle=float(np.arctan2(vectors[1, 1], vectors[0, 1]) % np.pi),
        level=level,
        resamples=len(there),
    )


def turned_onto(target: FloatArray, other: FloatArray) -> FloatArray:
    """Return the rotation (or reflection) that lays one map of the same points onto another.

    Parameters
    ----------
    target, other : ndarray, shape (points, axes)
        Maps of the same points; rows with NaN in either are left out.

    Returns
    -------
    ndarray, shape (axes, axes)
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
    both = ~(np.isnan(target).any(axis=1) | np.isnan(other).any(axis=1))
    u, _, vt = np.linalg.svd(other[both].T @ target[both])
    return np.asarray(u @ vt)
