"""A posterior as a few normals about one centre, from narrow to wide, and pairs of them.

A posterior whose deviations are integrated out has longer tails than a normal with its variance,
and more in the middle. What its quantiles look like is kept here in a few standard deviations.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from twobowls.statistics.arrays import FloatArray

# How much each of the normals weighs: the wide ones are few, and the tails are theirs alone.
SHARES = np.array([0.25, 0.25, 0.2, 0.13, 0.09, 0.05, 0.02, 0.01])
ANGLES = 16  # over half a turn; the integrand is smooth and periodic
STEPS = 50


def mixture_scales(weights: FloatArray, mean: FloatArray, sd: FloatArray) -> FloatArray:
    """Gather many normals in few: standard deviations (Q, shares), the narrowest first.

    Parameters
    ----------
    weights : FloatArray
        (K,) of the normals, their sum 1.
    mean, sd : FloatArray
        (K, Q) of the normals. What a mean is off the whole's goes into the scale.

    Returns
    -------
    FloatArray
        Root mean squares over the groups of `SHARES`: the variance of the whole is kept.

    Examples
    --------
    >>> found = mixture_scales(np.array([0.5, 0.5]), np.zeros((2, 1)), np.array([[3.0], [1.0]]))
    >>> found.round(1).tolist()
    [[1.0, 1.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0]]
    """
    squares = sd**2 + (mean - weights @ mean) ** 2
    order = np.argsort(squares, axis=0)
    ordered = np.take_along_axis(squares, order, axis=0)
    ends = np.cumsum(weights[order], axis=0)
    sums = np.cumsum(weights[order] * ordered, axis=0)
    bounds = np.cumsum(SHARES)
    found = np.empty((squares.shape[1], len(SHARES)))
    for q in range(squares.shape[1]):
        reached = np.interp(
            bounds, np.append(0.0, ends[:, q] / ends[-1, q]), np.append(0.0, sums[:, q])
        )
        found[q] = np.diff(reached, prepend=0.0) / SHARES
    return np.asarray(np.sqrt(np.maximum(found, 0.0)))


class PairSpread:
    """How far a pair of numbers lies from its mean, in Mahalanobis distances.

    Parameters
    ----------
    first, second : sequence of float
        Standard deviations as `mixture_scales` has them, or none: one normal. Either number
        has its scale by itself.
    correlation : float
        Of the two errors, in the mean over the scales.

    Examples
    --------
    >>> plain, wide = PairSpread((), ()), PairSpread([1.0] * 7 + [6.0], [1.0] * 8)
    >>> round(plain.reach(0.90), 3), round(plain.level(plain.reach(0.90)), 3)
    (2.146, 0.9)
    >>> wide.reach(0.50) < plain.reach(0.50), wide.reach(0.99) > plain.reach(0.99)
    (True, True)
    """

    def __init__(
        self, first: Sequence[float], second: Sequence[float], correlation: float = 0.0
    ) -> None:
        x, own = _relative(first)
        y, other = _relative(second)
        rho = min(max(correlation, -0.999), 0.999)
        # errors with correlation rho along each direction of two independent normals
        along, across = _turn()
        second_error = rho * along + (1.0 - rho**2) ** 0.5 * across
        u, v = x[:, None, None] * along, y[None, :, None] * second_error
        square = (u**2 - 2.0 * rho * u * v + v**2) / (1.0 - rho**2)
        self._squares = np.maximum(square, 1e-300).ravel()
        self._weights = np.repeat(np.outer(own, other).ravel(), ANGLES) / ANGLES

    def level(self, distance: float) -> float:
        """Return the probability of being nearer than a Mahalanobis distance."""
        return 1.0 - float(self._weights @ np.exp(-0.5 * distance**2 / self._squares))

    def reach(self, level: float) -> float:
        """Return the distance within which the pair lies with probability ``level``.

        Newton's method on the log of what lies beyond, as a function of the squared distance;
        it is convex, so that steps from zero on never go too far.
        """
        target, square = np.log1p(-level), 0.0
        for _ in range(STEPS):
            beyond = self._weights * np.exp(-0.5 * square / self._squares)
            whole = float(beyond.sum())
            slope = -0.5 * float((beyond / self._squares).sum()) / whole
            step = (target - np.log(whole)) / slope
            square += step
            if step <= 1e-9 * square:
                break
        return float(np.sqrt(square))


def _relative(scales: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """Scales over the standard deviation of the whole, and their weights."""
    if len(scales) == 0:
        return np.ones(1), np.ones(1)
    values = np.asarray(scales, dtype=np.float64)
    whole = float(np.sqrt(SHARES @ values**2))
    return (values / whole if whole > 0.0 else np.ones(len(values))), SHARES


@lru_cache(maxsize=1)
def _turn() -> tuple[FloatArray, FloatArray]:
    """Cosines and sines (ANGLES,) over half a turn."""
    angles = (np.arange(ANGLES) + 0.5) * np.pi / ANGLES
    return np.cos(angles), np.sin(angles)
