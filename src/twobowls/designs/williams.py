"""Williams squares: every bowl at every place, every bowl after every other equally often.

Knows how to build and to count them; does not know who tastes.
"""

import numpy as np
from numpy.typing import NDArray

from twobowls.errors import InputError

IntArray = NDArray[np.int64]


def williams_square(bowls: int) -> IntArray:
    """Build the Williams square (even number of bowls) or pair of squares (odd number).

    Parameters
    ----------
    bowls : int
        How many bowls there are, at least 1.

    Returns
    -------
    ndarray of int, shape (rows, bowls)
        One serving order a row, bowls numbered from 0. There are ``bowls`` rows for an even
        number (and for 1) and ``2 * bowls`` for an odd one. In every column each bowl stands
        equally often; each ordered pair of bowls is adjacent once (even) or twice (odd).

    Raises
    ------
    InputError
        When there is no bowl.

    Notes
    -----
    The first row zigzags, 0 1 t-1 2 t-2 ...; the others add 1, 2, ... modulo t. For odd t
    the mirror image of each row is added. E. J. Williams, Experimental designs balanced for
    the estimation of residual effects of treatments, Australian Journal of Scientific
    Research A 2 (1949) 149-168 (cited from memory; the squares are verified by counting).

    Examples
    --------
    >>> williams_square(4) + 1
    array([[1, 2, 4, 3],
           [2, 3, 1, 4],
           [3, 4, 2, 1],
           [4, 1, 3, 2]])
    """
    if bowls < 1:
        raise InputError("bowls", f"{bowls} is too few", "Give at least one bowl")
    steps = np.arange(bowls)
    zigzag = np.where(steps % 2 == 1, (steps + 1) // 2, -(steps // 2)) % bowls
    rows = (zigzag[None, :] + steps[:, None]) % bowls
    if bowls % 2 == 0 or bowls == 1:
        return rows
    return np.vstack([rows, rows[:, ::-1]])


def position_counts(orders: IntArray, bowls: int) -> IntArray:
    """Count how often each bowl stands at each place.

    Parameters
    ----------
    orders : ndarray of int, shape (seats, bowls)
        One serving order a row.
    bowls : int
        How many bowls there are.

    Returns
    -------
    ndarray of int, shape (bowls, bowls)
        Row: bowl; column: place.

    Examples
    --------
    >>> position_counts(np.array([[0, 1], [0, 1]]), 2)
    array([[2, 0],
           [0, 2]])
    """
    counts = np.zeros((bowls, bowls), dtype=np.int64)
    np.add.at(counts, (orders, np.broadcast_to(np.arange(bowls), orders.shape)), 1)
    return counts


def carry_over_counts(orders: IntArray, bowls: int) -> IntArray:
    """Count how often each bowl is followed directly by each other.

    Parameters
    ----------
    orders : ndarray of int, shape (seats, bowls)
        One serving order a row.
    bowls : int
        How many bowls there are.

    Returns
    -------
    ndarray of int, shape (bowls, bowls)
        Row: the bowl before; column: the bowl after. The diagonal is 0.

    Examples
    --------
    >>> carry_over_counts(williams_square(4), 4)
    array([[0, 1, 1, 1],
           [1, 0, 1, 1],
           [1, 1, 0, 1],
           [1, 1, 1, 0]])
    """
    counts = np.zeros((bowls, bowls), dtype=np.int64)
    np.add.at(counts, (orders[:, :-1], orders[:, 1:]), 1)
    return counts
