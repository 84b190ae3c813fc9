"""Exact chances of rank sums when every order is equally likely within a taster.

Ties stay as they are: each taster's own ranks, midranks among them, are shuffled. Ranks are
held as doubled whole numbers, so that midranks add up exactly.
"""

from functools import lru_cache
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.arrays import FloatArray

_Ints = NDArray[np.int64]

_MOST_COLUMNS = 7
_MOST_SUMS = 2_000_000


def doubled_ranks(table: FloatArray) -> _Ints:
    """Rank every row from low to high, ties sharing the mean rank; return the ranks doubled.

    Parameters
    ----------
    table : ndarray, shape (tasters, coffees)
        Scores or ranks.

    Returns
    -------
    ndarray of int, shape (tasters, coffees)

    Examples
    --------
    >>> doubled_ranks(np.array([[10.0, 30.0, 30.0]])).tolist()
    [[2, 5, 5]]
    """
    below = (table[:, None, :] < table[:, :, None]).sum(axis=2)
    equal = (table[:, None, :] == table[:, :, None]).sum(axis=2)
    return np.asarray(2 * below + equal + 1, dtype=np.int64)


def chance_of_spread(ranks: _Ints) -> float | None:
    """Return the exact chance of rank sums at least as spread as those seen.

    Parameters
    ----------
    ranks : ndarray of int, shape (tasters, coffees)
        Doubled ranks.

    Returns
    -------
    float or None
        None when the table is too large to go through every order.

    Notes
    -----
    The chance of every multiset of rank sums is carried on from taster to taster. Columns are
    exchangeable under the hypothesis, so sums are kept sorted, which saves a factor of up to
    the factorial of the number of coffees.

    Examples
    --------
    >>> round(chance_of_spread(2 * np.array([[1, 2, 3]] * 3)), 4)
    0.0278
    """
    if ranks.shape[1] > _MOST_COLUMNS:
        return None
    sums, chances = np.sort(ranks[:1], axis=1), np.ones(1)
    for row in ranks[1:]:
        orders = _orders(tuple(sorted(row.tolist())))
        if len(sums) * len(orders) > _MOST_SUMS:
            return None
        sums, chances = _added(sums, chances, orders)
    seen = (ranks.sum(axis=0) ** 2).sum()
    return float(chances[(sums**2).sum(axis=1) >= seen].sum())


def chance_of_trend(ranks: _Ints, predicted: _Ints) -> float | None:
    """Return the exact chance of a sum of products at least as large as the one seen.

    Parameters
    ----------
    ranks : ndarray of int, shape (tasters, coffees)
        Doubled ranks.
    predicted : ndarray of int, shape (coffees,)
        Doubled predicted ranks.

    Returns
    -------
    float or None
        None when there are too many coffees to go through every order.

    Examples
    --------
    >>> round(chance_of_trend(2 * np.array([[1, 2, 3]] * 2), 2 * np.array([1, 2, 3])), 4)
    0.0278
    """
    if ranks.shape[1] > _MOST_COLUMNS + 1:
        return None
    chances, least = np.ones(1), 0
    for row in ranks:
        low, part = _products(tuple(sorted(row.tolist())), tuple(predicted.tolist()))
        chances, least = np.convolve(chances, part), least + low
    seen = int((ranks * predicted).sum()) - least
    return float(min(chances[max(seen, 0) :].sum(), 1.0))


def shuffled_spreads(ranks: _Ints, draws: int, rng: np.random.Generator) -> _Ints:
    """Return sums of squared rank sums of randomly shuffled tables.

    Parameters
    ----------
    ranks : ndarray of int, shape (tasters, coffees)
        Doubled ranks.
    draws : int
        How many tables.
    rng : numpy.random.Generator
        Where the randomness comes from.

    Returns
    -------
    ndarray of int, shape (draws,)

    Examples
    --------
    >>> ranks = 2 * np.array([[1, 2], [1, 2]])
    >>> sorted(set(shuffled_spreads(ranks, 50, np.random.default_rng(1)).tolist()))
    [72, 80]
    """
    batch = max(1, 200_000 // ranks.size)
    spreads = []
    for start in range(0, draws, batch):
        many = np.broadcast_to(ranks, (min(batch, draws - start), *ranks.shape))
        spreads.append((rng.permuted(many, axis=2).sum(axis=1) ** 2).sum(axis=1))
    return np.concatenate(spreads)


@lru_cache(maxsize=256)
def _orders(row: tuple[int, ...]) -> _Ints:
    """Return every order of a row; with ties each order that looks different, once."""
    return np.array(sorted(set(permutations(row))), dtype=np.int64)


def _added(sums: _Ints, chances: FloatArray, orders: _Ints) -> tuple[_Ints, FloatArray]:
    new = np.sort((sums[:, None, :] + orders[None, :, :]).reshape(-1, sums.shape[1]), axis=1)
    base = int(new.max()) + 1
    codes = new @ (base ** np.arange(new.shape[1], dtype=np.int64))
    _, first, which = np.unique(codes, return_index=True, return_inverse=True)
    weights = np.repeat(chances / len(orders), len(orders))
    return new[first], np.asarray(np.bincount(which, weights=weights), dtype=np.float64)


@lru_cache(maxsize=256)
def _products(row: tuple[int, ...], predicted: tuple[int, ...]) -> tuple[int, FloatArray]:
    """Return the smallest sum of products over all orders, and the chance of each from there."""
    sums = _orders(row) @ np.array(predicted, dtype=np.int64)
    low = int(sums.min())
    return low, np.asarray(np.bincount(sums - low) / sums.size)
