"""Standard deviations that are not known: where they may lie, and points laid over that.

Every one of them is handled through z, a standard normal number before the data, so that zero
is no edge. Those of random factors have half-normal priors; spreads of levels that are compared
have a prior with more room near zero. Knows nothing of categories.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from twobowls.statistics.normal_points import normal_points
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.spread_prior import spread

MOST_SCALES = 14

HEIGHTS = np.linspace(-4.0, 6.0, 81)
# A grid of evenly spaced points sums a smooth density to high accuracy; it ends where the
# log density has fallen this far below its top.
_FALL = 6.5
_GRID = {1: 11, 2: 7}
_HALF_THE_POINTS = 31
_WIDER = 1.15


def deviation(z: Array, scale: float | Array) -> Array:
    """Map z, standard normal under the prior, to a standard deviation.

    Examples
    --------
    >>> [round(float(each), 2) for each in deviation(np.array([-2.0, 0.0, 2.0]), 2.0)]
    [0.06, 1.35, 4.56]
    """
    return np.asarray(-ndtri(0.5 * ndtr(-z)) * scale)


def deviation_slope(z: Array, scale: float | Array) -> Array:
    """Return how a standard deviation grows with its z.

    Examples
    --------
    >>> side = deviation(np.array([1.001]), 2.0) - deviation(np.array([0.999]), 2.0)
    >>> bool(np.isclose(deviation_slope(np.array([1.0]), 2.0), side / 0.002))
    True
    """
    unit = deviation(z, 1.0)
    return np.asarray(0.5 * np.exp(0.5 * (unit**2 - z**2)) * scale)


def ratio_to_z(ratio: Array) -> Array:
    """Return z for standard deviations over their scale; minus infinity for none.

    Examples
    --------
    >>> z = np.array([-1.0, 0.5, 3.0])
    >>> bool(np.allclose(ratio_to_z(deviation(z, 1.0)), z))
    True
    """
    return np.asarray(-ndtri(2.0 * ndtr(-np.abs(ratio))))


@dataclass(frozen=True, slots=True)
class Axis:
    """Where one z lies: its mode, how far it spreads on either side, and its ends."""

    scale: float
    mode: float
    below: float
    above: float
    low: float
    high: float


def candidates(scale: float) -> Array:
    """Return the spreads at which `find_axis` wants a log density, (81,).

    Examples
    --------
    >>> round(float(candidates(2.0).max()), 1)
    11.9
    """
    return spread(HEIGHTS, scale)


def find_axis(log_likelihood: Array, scale: float) -> Axis:
    """Describe one z by the likelihood of its standard deviation.

    Parameters
    ----------
    log_likelihood : array (81,)
        At `candidates`, or at a `deviation` of `HEIGHTS`; the prior is added here.
    scale : float
        Of the prior.

    Examples
    --------
    >>> axis = find_axis(0.0 * candidates(1.0), 1.0)
    >>> round(axis.mode, 2), round(axis.below, 1), round(axis.above, 1)
    (0.0, 1.0, 1.0)
    """
    heights = np.where(np.isfinite(log_likelihood), log_likelihood, -np.inf) - 0.5 * HEIGHTS**2
    best = int(np.argmax(heights))
    mode, weights = float(HEIGHTS[best]), np.exp(heights - heights[best])
    inside = HEIGHTS[heights > heights[best] - _FALL]
    return Axis(
        scale=scale,
        mode=mode,
        below=_width(HEIGHTS[: best + 1] - mode, weights[: best + 1]),
        above=_width(HEIGHTS[best:] - mode, weights[best:]),
        low=float(inside[0]),
        high=float(inside[-1]),
    )


def _width(away: Array, weights: Array) -> float:
    return max(float(np.sqrt(weights @ away**2 / weights.sum())), float(HEIGHTS[1] - HEIGHTS[0]))


def lay_points(axes: Sequence[Axis]) -> tuple[Array, Array]:
    """Lay points over several z at once.

    Parameters
    ----------
    axes : sequence of D
        Up to two make a grid; more are covered by fixed points of a normal with its own
        width on either side of every mode.

    Returns
    -------
    z : array (K, D)
        The first of them varies slowest.
    log_weights : array (K,)
        What to add to the log density at each, constants aside.

    Examples
    --------
    >>> axis = find_axis(0.0 * candidates(1.0), 1.0)
    >>> z, logs = lay_points([axis] * 2)
    >>> weights = np.exp(logs - 0.5 * (z**2).sum(axis=1))
    >>> z.shape, np.round(weights @ z**2 / weights.sum(), 1)
    ((49, 2), array([1., 1.]))
    """
    count = len(axes)
    if count in _GRID:
        lines = [np.linspace(axis.low, axis.high, _GRID[count]) for axis in axes]
        z = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, count)
        return z, np.zeros(z.shape[0])
    if not count:
        return np.zeros((1, 0)), np.zeros(1)
    points = normal_points(_HALF_THE_POINTS, count)
    below, above = (np.array([getattr(axis, name) for axis in axes]) for name in ("below", "above"))
    widths = _WIDER * np.where(points < 0.0, below, above)
    z = np.array([axis.mode for axis in axes]) + widths * points
    return z, np.asarray(0.5 * (points**2).sum(axis=1) + np.log(widths).sum(axis=1))
