"""Matrix products in pieces that stay in cache, on one core.

A linear-algebra library may spread one middling product over all cores; on a host that does other
things too, the cores then wait for each other and a product of a tenth of a millisecond takes
ten. Pieces this small are left alone, and cost nothing where the machine is idle.
"""

import numpy as np

from twobowls.statistics.arrays import FloatArray

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
