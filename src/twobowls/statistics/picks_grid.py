"""Integrating one unknown out numerically: where its density lies, and nodes over that."""

from collections.abc import Callable
from functools import cache

import numpy as np

from twobowls.statistics.picks_table import Array

_COARSE = 7
_GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


def place_nodes(
    log_density: Callable[[float], float], low: float, high: float, count: int = 9
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
    >>> round(float(weights @ nodes / weights.sum()), 1)
    3.0
    """
    density = cache(log_density)
    grid = np.linspace(low, high, _COARSE)
    best = int(np.argmax([density(float(x)) for x in grid]))
    mode = _top(density, float(grid[max(best - 1, 0)]), float(grid[min(best + 1, _COARSE - 1)]))
    sd = _width(density, mode, low, high)
    start, end = max(low, mode - 4.5 * sd), min(high, mode + 5.5 * sd)
    nodes, weights = np.polynomial.legendre.leggauss(count)
    half = 0.5 * (end - start)
    return start + half * (nodes + 1.0), np.log(half * weights)


def _top(density: Callable[[float], float], low: float, high: float) -> float:
    """Search a bracket by golden sections."""
    inner = [high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)]
    for _ in range(8):
        if density(inner[0]) >= density(inner[1]):
            high = inner[1]
            inner = [high - _GOLDEN * (high - low), inner[0]]
        else:
            low = inner[0]
            inner = [inner[1], low + _GOLDEN * (high - low)]
    return 0.5 * (low + high)


def _width(density: Callable[[float], float], mode: float, low: float, high: float) -> float:
    """Return how far from the mode the log density has dropped by a half, the larger side."""
    top, widest = density(mode), 0.0
    for side, limit in ((-1.0, mode - low), (1.0, high - mode)):
        near, far = 0.0, limit
        if limit <= 0.0 or top - density(mode + side * limit) < 0.5:
            widest = max(widest, limit)
            continue
        for _ in range(6):
            middle = 0.5 * (near + far)
            dropped = top - density(mode + side * middle)
            near, far = (middle, far) if dropped < 0.5 else (near, middle)
        widest = max(widest, far)
    return widest
