"""How far coffees may spread, before any answer: one prior for categories and picks.

The square of the spread over its scale is twice a gamma variate of shape 1/3, so that near zero
the density of the spread is as its power of -1/3, and far out as a half-normal's.

Why not a half-normal itself, whose shape is 1/2: of two coffees that are all alike it lets 1.0 %
be called clear (a probability of 0.99) once the difference is known to a tenth of the noise, and
up to 2 % the more is known, because its density is flat near zero and nothing draws together what
is known well. With a density of power -a there, the share of such claims stays below a bound,
however much is known: 1.02 % for a = 1/4, 0.77 % for a = 1/3, 0.40 % for a = 1/2 (computed by
integration; a test holds it). The first simple fraction below 1 % is taken.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainccinv, gammaincinv, ndtr

Array = NDArray[np.float64]

SHAPE = 1.0 / 3.0
# Of the scale: a smaller spread is as good as none.
_NONE = 1e-4


def spread(z: Array, scale: float | Array) -> Array:
    """Map z, standard normal under the prior, to a spread of levels that are compared.

    Parameters
    ----------
    z : array of any shape
        Standard normal before the data.
    scale : float or array
        Of the half-normal that the prior falls off with.

    Examples
    --------
    >>> [round(float(each), 3) for each in spread(np.array([-2.0, 0.0, 2.0]), 2.0)]
    [0.008, 0.874, 4.088]
    """
    low, high = gammaincinv(SHAPE, ndtr(z)), gammainccinv(SHAPE, ndtr(-np.asarray(z)))
    unit = np.sqrt(2.0 * np.where(np.asarray(z) < 0.0, low, high))
    return np.asarray(np.maximum(unit, _NONE) * scale)
