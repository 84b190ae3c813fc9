"""Integrating one unknown out numerically: where its density lies, and nodes over that."""

from collections.abc import Callable
from functools import cache

import numpy as np

from twobowls.statistics.picks_table import Array

_COARSE = 7
_FLAT = 0.2
_GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


def place_nodes(
    log_density: Callable[[float], float], low: float, high: float, count: int = 13
) -> tuple[Array, Array]:
    """Return quadrature nodes over the bulk of a density with one mode, and log weights.

    Parameters
    ----------
    log_density : function
        Of one number, up to a constant.
    low, high : float
        Nothing beyond these counts.
    count : int
        How many nodes.

    Returns
    -------
    nodes, log_weights : array (count,)
        For a sum of exp(log_weight + log_density(node)) times what is averaged.

    Examples
    --------
    >>> nodes, logs = place_nodes(lambda x: -0.5 * (x - 3) ** 2, -10.0, 10.0)
    >>> weights = np.exp(logs - 0.5 * (nodes - 3) ** 2)
    >>> round(float(weights @ nodes / weights.sum()), 2)
    3.0
    """
    density = cache(log_density)
    grid = np.linspace(low, high, _COARSE).tolist()
    best = int(np.argmax([density(x) for x in grid]))
    mode = _top(density, grid[max(best - 1, 0)], grid[min(best + 1, _COARSE - 1)])
    sd = _width(density, mode, low, high)
    mode = _vertex(density, mode, sd, low, high)
    start, end = max(low, mode - 3.5 * sd), min(high, mode + 4.5 * sd)
    nodes, weights = np.polynomial.legendre.leggauss(count)
    half = 0.5 * (end - start)
    return start + half * (nodes + 1.0), np.log(half * weights)


def _vertex(
    density: Callable[[float], float], mode: float, sd: float, low: float, high: float
) -> float:
    """Return the top of the parabola through three points, kept between the outer two."""
    left, right = max(low, mode - sd), min(high, mode + sd)
    if not left < mode < right:
        return mode
    fall_left = (density(mode) - density(left)) / (mode - left)
    fall_right = (density(mode) - density(right)) / (right - mode)
    bend = (fall_left + fall_right) / (right - left)
    if not (np.isfinite(bend) and bend > 0.0):
        return mode
    slope = fall_left - bend * (mode - left)
    return float(np.clip(mode + 0.5 * slope / bend, left, right))


def _top(density: Callable[[float], float], low: float, high: float) -> float:
    """Search a bracket by golden sections until the density hardly varies inside it."""
    inner = [high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)]
    for _ in range(60):
        top = max(density(inner[0]), density(inner[1]))
        if top - min(density(low), density(high)) < _FLAT:
            break
        if density(inner[0]) >= density(inner[1]):
            high = inner[1]
            inner = [high - _GOLDEN * (high - low), inner[0]]
        else:
            low = inner[0]
            inner = [inner[1], low + _GOLDEN * (high - low)]
    return float(max((low, high, *inner), key=density))


def _width(density: Callable[[float], float], mode: float, low: float, high: float) -> float:
    """Return how far from the mode the log density has dropped by a half, the larger side.

    Right to a quarter, on the large side.
    """
    return max(_reach(density, mode, -1.0, mode - low), _reach(density, mode, 1.0, high - mode))


def _reach(density: Callable[[float], float], mode: float, side: float, limit: float) -> float:
    def dropped(distance: float) -> bool:
        return density(mode) - density(mode + side * distance) >= 0.5

    far = limit
    if far <= 0.0 or not dropped(far):
        return far
    while dropped(0.5 * far) and far > 1e-9 * limit:
        far *= 0.5
    return 0.75 * far if dropped(0.75 * far) else far
