"""Fixed points that stand for a standard normal distribution in several dimensions.

A rank-1 lattice, shifted, mapped to normal numbers, mirrored (so that odd moments vanish) and
whitened (so that the covariance is the identity). The same points every time: a result can be
reproduced to the last digit.
"""

from functools import lru_cache

import numpy as np

from twobowls.statistics.arrays import FloatArray

# Generating vectors, component by component with the Korobov P2 criterion, weights 1/(2j),
# no component twice; a test derives the first of them anew.
GENERATORS = {
    31: (1, 12, 9, 14, 5, 7, 3, 4, 11, 8, 6, 2, 15, 10),
    61: (1, 17, 25, 29, 23, 5, 13, 7, 21, 10, 14, 19, 9, 11),
    127: (1, 35, 50, 60, 40, 19, 45, 24, 29, 55, 62, 13, 9, 11),
    251: (1, 70, 119, 87, 51, 27, 109, 15, 64, 57, 37, 46, 21, 99),
    509: (1, 151, 232, 87, 244, 68, 99, 227, 200, 193, 60, 24, 215, 118),
    1021: (1, 374, 428, 453, 240, 42, 149, 394, 311, 502, 183, 69, 350, 158),
    2039: (1, 462, 711, 140, 548, 362, 576, 65, 169, 118, 995, 416, 445, 401),
    4093: (1, 1210, 1542, 1785, 378, 656, 846, 975, 1249, 224, 1142, 1455, 62, 260),
}
SIZES = tuple(GENERATORS)
MOST_DIMENSIONS = 14
_SHIFT_ROOTS = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43)


@lru_cache(maxsize=64)
def normal_points(size: int, dimensions: int) -> FloatArray:
    """Return 2 ``size`` points: (2 size, dimensions), mean zero and covariance the identity.

    Parameters
    ----------
    size : int
        One of `SIZES`.
    dimensions : int
        1 to 14.

    References
    ----------
    Sloan and Reztsov (2002), Mathematics of Computation 71, 263-273 (component-by-component
    construction; from memory).

    Examples
    --------
    >>> points = normal_points(127, 3)
    >>> points.shape, bool(np.allclose(points.T @ points / 254, np.eye(3)))
    ((254, 3), True)
    """
    from scipy.special import ndtri

    shift = np.sqrt(np.array(_SHIFT_ROOTS[:dimensions], dtype=float)) % 1.0
    vector = np.array(GENERATORS[size][:dimensions])
    uniform = (np.outer(np.arange(size), vector) / size + shift) % 1.0
    half = ndtri(np.clip(uniform, 1e-12, 1.0 - 1e-12))
    values, vectors = np.linalg.eigh(half.T @ half / size)
    white = half @ (vectors / np.sqrt(values)) @ vectors.T
    points = np.concatenate([white, -white])
    points.flags.writeable = False
    return points
