"""What a correlation from a few pairs says: its posterior, exact in small samples.

Pairs are taken as a sample from a bivariate normal distribution. Knows no tasters.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import hyp2f1

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, numbers, whole
from twobowls.statistics.intervals import Interval

_NEAREST_ONE = 0.99999  # a sample correlation of 1 says "very near 1", not "exactly 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Correlation:
    """A correlation: its posterior median and interval, from a uniform prior on -1 to 1.

    ``sample`` is the plain correlation of the pairs, which few pairs push to the ends.
    ``probability`` is the posterior probability that the true correlation is positive.
    """

    pairs: int
    sample: float
    interval: Interval
    probability: float


def correlation(x: ArrayLike, y: ArrayLike, *, level: float = 0.90) -> Correlation:
    """Return the correlation of two variables, with an interval that is honest in few pairs.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        The pairs; two or more, neither variable constant.
    level : float
        Coverage of the central posterior interval.

    Returns
    -------
    Correlation

    Raises
    ------
    InputError
        When there is a gap, lengths differ, there are fewer than two pairs, or a variable is
        constant.

    Notes
    -----
    The exact density of the sample correlation (Hotelling 1953) as a likelihood, and a uniform
    prior. With two pairs only the sign is known; its chance is ``1/2 + arcsin(rho) / pi``.

    References
    ----------
    Hotelling 1953, Journal of the Royal Statistical Society B 15:193-232; Jeffreys 1961,
    Theory of Probability (uniform prior of a correlation).

    Examples
    --------
    >>> result = correlation([1, 2, 3, 4, 5], [2, 1, 4, 3, 5])
    >>> r = result.interval
    >>> print(f"{result.sample:.2f}: {r.estimate:.2f} ({r.low:.2f} to {r.high:.2f})")
    0.80: 0.58 (-0.15 to 0.90)
    """
    one = numbers("x", x, (None,))
    other = numbers("y", y, (one.size,))
    between("level", level, 0, 1)
    if one.size < 2:
        raise InputError("x", "one pair has no correlation", "Give two pairs or more")
    return correlation_from(_pearson(one, other), one.size, level=level)


def correlation_from(sample: float, pairs: int, *, level: float = 0.90) -> Correlation:
    """Return what a sample correlation of so many pairs says.

    Parameters
    ----------
    sample : float
        Correlation of the pairs. Where both means are known (to be zero), taken about those.
    pairs : int
        How many; one more than there are where both means are known.
    level : float
        Coverage of the central posterior interval.

    Returns
    -------
    Correlation

    Raises
    ------
    InputError
        When it is no correlation, or of fewer than two pairs.

    Examples
    --------
    >>> result = correlation_from(0.8, 12)
    >>> f"{result.interval.low:.2f} to {result.interval.high:.2f}"
    '0.39 to 0.89'
    """
    sample = between("sample", sample, -1, 1, ends=True)
    whole("pairs", pairs, 2)
    between("level", level, 0, 1)
    weights = _posterior(sample, pairs)
    rho = _grid()[0]
    total = np.cumsum(weights)
    tail = (1 - level) / 2
    low, median, high = np.interp([tail, 0.5, 1 - tail], total, rho)
    return Correlation(
        pairs=pairs,
        sample=sample,
        interval=Interval(float(median), float(low), float(high), level),
        probability=float(weights[rho > 0].sum() + weights[rho == 0].sum() / 2),
    )


def _pearson(x: FloatArray, y: FloatArray) -> float:
    a, b = x - x.mean(), y - y.mean()
    for field, off, values in (("x", a, x), ("y", b, y)):
        if np.abs(off).max() <= 1e-12 * (1 + np.abs(values).max()):
            raise InputError(field, "all values are the same", "Give values that differ")
    return float(np.clip(a @ b / np.sqrt((a @ a) * (b @ b)), -1, 1))


def _posterior(r: float, pairs: int) -> FloatArray:
    rho, width = _grid()
    near = float(np.clip(r, -_NEAREST_ONE, _NEAREST_ONE))
    if pairs == 2:
        density = 0.5 + np.sign(r) * np.arcsin(rho) / np.pi
    else:
        log = 0.5 * (pairs - 1) * np.log1p(-rho * rho) - (pairs - 1.5) * np.log1p(-rho * near)
        hyper = hyp2f1(0.5, 0.5, pairs - 0.5, (1 + rho * near) / 2)
        density = np.exp(log - log.max()) * hyper
    weights = density * width
    return np.asarray(weights / weights.sum())


@lru_cache(maxsize=1)
def _grid() -> tuple[FloatArray, FloatArray]:
    """Correlations evenly spaced in Fisher's z, and the width each stands for."""
    z = np.linspace(-9, 9, 3601)
    rho = np.tanh(z)
    return rho, 1 - rho * rho
