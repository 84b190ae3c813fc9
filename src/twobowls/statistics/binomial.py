"""Binomial tails and the counts that mark their ends, for whole arrays of trials at once.

Impossible counts come back as -1 here; the modules that face people turn them into None.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc

_Ints = NDArray[np.int64]


def at_least(count: ArrayLike, trials: ArrayLike, share: ArrayLike) -> NDArray[np.float64]:
    """Return the chance of at least so many right of so many trials.

    Parameters
    ----------
    count, trials, share : array_like, broadcast together
        The count, the number of trials and the share right; counts under 1 have chance 1, counts
        over the trials chance 0.

    Returns
    -------
    ndarray of float

    Examples
    --------
    >>> float(at_least(9, 10, 0.5).round(4))
    0.0107
    """
    k, n, p = np.broadcast_arrays(
        np.asarray(count, dtype=float), np.asarray(trials, dtype=float), np.asarray(share, float)
    )
    inner = betainc(np.clip(k, 1, np.maximum(n, 1)), np.maximum(n - k + 1, 1), p)
    return np.asarray(np.where(k < 1, 1.0, np.where(k > n, 0.0, inner)))


def at_most(count: ArrayLike, trials: ArrayLike, share: ArrayLike) -> NDArray[np.float64]:
    """Return the chance of at most so many right of so many trials.

    Parameters
    ----------
    count, trials, share : array_like, broadcast together
        As for ``at_least``.

    Returns
    -------
    ndarray of float

    Examples
    --------
    >>> float(at_most(1, 10, 0.5).round(4))
    0.0107
    """
    k, n = np.asarray(count, dtype=float), np.asarray(trials, dtype=float)
    return at_least(n - k, n, 1 - np.asarray(share, dtype=float))


def smallest_count(trials: ArrayLike, share: float, chance: float) -> _Ints:
    """Return the smallest count that is reached or passed with at most the given chance.

    Parameters
    ----------
    trials : array_like of int, shape (n,) or scalar
        Numbers of trials.
    share : float
        Share right under the hypothesis.
    chance : float
        The largest chance allowed (alpha).

    Returns
    -------
    ndarray of int
        Counts; -1 where not even every answer right is rare enough.

    Examples
    --------
    >>> smallest_count([2, 10], 1 / 3, 0.05).tolist()
    [-1, 7]
    """
    n = np.asarray(trials, dtype=np.int64)
    low, high = np.zeros_like(n), n + 1  # at_least(low) > chance, at_least(high) = 0
    while (high - low > 1).any():
        middle = (low + high) // 2
        rare = at_least(middle, n, share) <= chance
        low, high = np.where(rare, low, middle), np.where(rare, middle, high)
    return np.asarray(np.where(high > n, -1, high))


def largest_count(trials: ArrayLike, share: float, chance: float) -> _Ints:
    """Return the largest count that is not passed with at most the given chance.

    Parameters
    ----------
    trials : array_like of int, shape (n,) or scalar
        Numbers of trials.
    share : float
        Share right under the hypothesis.
    chance : float
        The largest chance allowed (beta).

    Returns
    -------
    ndarray of int
        Counts; -1 where not even no answer right is rare enough.

    Examples
    --------
    >>> int(largest_count(60, 1 / 3 + 0.3 * 2 / 3, 0.05))
    25
    """
    n = np.asarray(trials, dtype=np.int64)
    wrong = smallest_count(n, 1 - share, chance)
    return np.asarray(np.where(wrong < 0, -1, n - wrong))
