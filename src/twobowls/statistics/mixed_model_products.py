"""Matrix products in pieces that stay in cache, on one core.

A linear-algebra library may spread one middling product over all cores; on a host that does other
things too, the cores then wait for each other and a product of a tenth of a millisecond takes
ten. Pieces this small are left alone, and cost nothing where the machine is idle.
"""

from typing import NamedTuple

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray

PIECE = 200_000  # multiplications


def product(first: FloatArray, second: FloatArray) -> FloatArray:
    """Multiply (n, m) by (m, k), some rows at a time.

    Examples
    --------
    >>> product(np.eye(3), np.arange(6.0).reshape(3, 2)).tolist()
    [[0.0, 1.0], [2.0, 3.0], [4.0, 5.0]]
    """
    rows = max(4, PIECE // max(1, second.size))
    if len(first) <= rows:
        return np.asarray(first @ second)
    result = np.empty((len(first), second.shape[1]))
    for start in range(0, len(first), rows):
        np.matmul(first[start : start + rows], second, out=result[start : start + rows])
    return result


def gram(first: FloatArray, second: FloatArray) -> FloatArray:
    """Multiply the transpose of (n, m) by (n, k), some rows at a time.

    Examples
    --------
    >>> gram(np.ones((5, 1)), np.arange(5.0)[:, None]).tolist()
    [[10.0]]
    """
    rows = max(4, PIECE // max(1, first.shape[1] * second.shape[1]))
    total = np.zeros((first.shape[1], second.shape[1]))
    for start in range(0, len(first), rows):
        total += first[start : start + rows].T @ second[start : start + rows]
    return total


class SumsByNumber(NamedTuple):
    """What levels with the same number of marks add up to; see `sums_by_number`."""

    values: FloatArray
    members: FloatArray
    tables: FloatArray
    look: IntArray


def sums_by_number(counts: FloatArray, borders: FloatArray) -> SumsByNumber:
    """Add up the outer products of levels' border rows, once for each number of marks.

    Parameters
    ----------
    counts : (tasters, q)
        Marks of each level; zero for padding.
    borders : (tasters, q, d)
        A row for each level.

    Returns
    -------
    SumsByNumber
        ``values`` (U,) the different numbers, zero first; ``members`` (U,) how many levels have
        each, padding not counted; ``tables`` (U, d d) the sums; ``look`` (tasters, q) which of
        ``values`` a level has.

    Examples
    --------
    >>> found = sums_by_number(np.array([[2.0, 0.0], [2.0, 1.0]]), np.ones((2, 2, 1)))
    >>> found.values.tolist(), found.members.tolist(), found.look.tolist()
    ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], [[2, 0], [2, 1]])
    """
    values, look = np.unique(np.append(0.0, counts.ravel()), return_inverse=True)
    look = look[1:].astype(np.intp)
    members = np.bincount(look, minlength=len(values)).astype(np.float64)
    members[0] = 0.0
    width = borders.shape[2]
    flat = borders.reshape(-1, width)
    order = np.argsort(look, kind="stable")
    stops = np.searchsorted(look[order], np.arange(len(values) + 1))
    tables = np.empty((len(values), width * width))
    for value in range(len(values)):
        mine = flat[order[stops[value] : stops[value + 1]]]
        tables[value] = gram(mine, mine).ravel()
    return SumsByNumber(values, members, tables, look.reshape(counts.shape))
