"""Restricted maximum likelihood: the flat-prior fit, with zero variances handled exactly.

The deviance is lme4's (its REML criterion): log det V + log det X'V^-1 X +
(n - p)(1 + log(2 pi y'Py / (n - p))). It is minimised by a projected Newton method over
x = log(1 + m r), where r is a variance ratio and m the mean number of marks a level has: in x
the boundary r = 0 is an ordinary bound at which the slope tells whether zero is the answer.

References
----------
Bates, Mächler, Bolker and Walker (2015), Journal of Statistical Software 67(1).
"""

from dataclasses import dataclass

import numpy as np

from twobowls.errors import TwobowlsError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_kernel import FLOOR, Kernel

STEP = 1e-5
FINISH = 1e-9
MOST_STEPS = 60
TOO_MUCH = 18.0  # of x: a term's deviation ten thousand times the residual one
MUCH = 12.0  # of x: hundreds of times; rounding can keep what goes to infinity from going further


class NoRemainderError(TwobowlsError):
    """The terms fit the values exactly, so that the residual variance would be zero."""


@dataclass(frozen=True, slots=True)
class RemlFit:
    """Where the REML deviance is least.

    ``ratios`` (terms,), the residual ``variance``, the ``deviance``, the ``degrees``
    n - p, and ``covariance``, that of the logarithms of (free ratios, residual
    variance): twice the inverse of the Hessian, with ``free`` naming the ratios above zero.
    """

    ratios: FloatArray
    variance: float
    deviance: float
    degrees: int
    free: IntArray
    covariance: FloatArray


def _deviance(kernel: Kernel, weight: FloatArray, x: FloatArray, degrees: int) -> FloatArray:
    """Return (K, 1 + terms): profiled deviance (without constants) and its slopes in x."""
    ratios = np.expm1(x) / weight
    found = kernel.evaluate(ratios)
    slopes = found.logdet_slopes + degrees * found.rss_slopes / found.rss[:, None]
    value = found.logdet + degrees * np.log(found.rss)
    return np.concatenate([value[:, None], slopes * np.exp(x) / weight], axis=1)


def _with_hessian(
    kernel: Kernel, weight: FloatArray, x: FloatArray, degrees: int
) -> tuple[float, FloatArray, FloatArray]:
    """Return value, slopes and a forward-difference Hessian at one x, in one evaluation."""
    terms = len(x)
    points = np.concatenate([x[None], x + STEP * np.eye(terms)])
    found = _deviance(kernel, weight, points, degrees)
    hessian = (found[1:, 1:] - found[0, 1:]) / STEP
    return float(found[0, 0]), found[0, 1:], (hessian + hessian.T) / 2


def _newton_step(x: FloatArray, slopes: FloatArray, hessian: FloatArray) -> FloatArray:
    """Return a downhill step for the variables that are not held at zero."""
    step = np.zeros_like(x)
    free = np.flatnonzero((x > 0.0) | (slopes < 0.0))
    if len(free) == 0:
        return step
    values, vectors = np.linalg.eigh(hessian[np.ix_(free, free)])
    curved = np.maximum(np.abs(values), 1e-4 * max(1e-8, float(np.abs(values).max())))
    step[free] = -vectors @ ((vectors.T @ slopes[free]) / curved)
    return np.clip(step, -3.0, 3.0)


def _search(kernel: Kernel, weight: FloatArray, x: FloatArray, degrees: int) -> FloatArray:
    for _ in range(MOST_STEPS):
        value, slopes, hessian = _with_hessian(kernel, weight, x, degrees)
        target = np.maximum(x + _newton_step(x, slopes, hessian), 0.0)
        if float(slopes @ (x - target)) < FINISH:
            return target
        if float(x.max()) > TOO_MUCH:
            raise NoRemainderError("There is no remainder.")
        x = _backtrack(kernel, weight, x, target, value, slopes, degrees)
    _check_remainder(kernel, float(kernel.evaluate(np.expm1(x)[None] / weight).rss[0]))
    if float(x.max()) > MUCH:
        raise NoRemainderError("There is no remainder.")
    raise TwobowlsError("The variances did not settle. Please report this with the data.")


def _check_remainder(kernel: Kernel, rss: float) -> None:
    if rss <= 10.0 * FLOOR * (1.0 + float(kernel.products[-1, -1])):
        raise NoRemainderError("There is no remainder.")


def _backtrack(
    kernel: Kernel,
    weight: FloatArray,
    x: FloatArray,
    target: FloatArray,
    value: float,
    slopes: FloatArray,
    degrees: int,
) -> FloatArray:
    """Shorten the step along the projected path until the deviance goes down enough."""
    step = target - x
    for _ in range(30):
        found = float(_deviance(kernel, weight, target[None], degrees)[0, 0])
        if found <= value + 1e-4 * float(slopes @ (target - x)) + 1e-12 * abs(value):
            return target
        step = step / 2.0
        target = np.maximum(x + step, 0.0)
    return target


def fit_reml(kernel: Kernel, rows: int, weight: FloatArray) -> RemlFit:
    """Find the REML estimates.

    Parameters
    ----------
    kernel : Kernel
        The model, its fixed columns of full rank.
    rows : int
        Number of marks.
    weight : FloatArray
        (terms,) mean number of marks of a level of each random term.
    """
    degrees = rows - (kernel.size - kernel.crossed)
    start = np.full(kernel.terms, np.log(2.0))
    x = _search(kernel, weight, start, degrees) if kernel.terms else start
    ratios = np.expm1(x) / weight
    found = kernel.evaluate(ratios[None])
    rss = float(found.rss[0])
    _check_remainder(kernel, rss)
    value = float(found.logdet[0]) + degrees * np.log(rss)
    variance = rss / degrees
    deviance = value + degrees * (1.0 + np.log(2.0 * np.pi / degrees))
    free = np.flatnonzero(x > 0.0).astype(np.intp)
    covariance = _covariance(kernel, ratios, variance, free)
    return RemlFit(ratios, variance, deviance, degrees, free, covariance)


def _covariance(kernel: Kernel, ratios: FloatArray, variance: float, free: IntArray) -> FloatArray:
    """Return the asymptotic covariance of log ratios and log residual variance."""
    size = len(free)
    points = np.repeat(ratios[None], 2 * size + 1, axis=0)
    for k, term in enumerate(free):
        points[2 * k, term] *= np.exp(STEP * 10)
        points[2 * k + 1, term] *= np.exp(-STEP * 10)
    found = kernel.evaluate(points)
    logdet = (found.logdet_slopes * points)[:, free]
    fit = (found.rss_slopes * points)[:, free] / variance
    slopes = logdet + fit
    hessian = np.empty((size + 1, size + 1))
    hessian[:size, :size] = (slopes[0:-1:2] - slopes[1:-1:2]) / (2 * STEP * 10)
    hessian[:size, size] = hessian[size, :size] = -fit[-1]
    hessian[size, size] = found.rss[-1] / variance
    hessian = (hessian + hessian.T) / 2
    return 2.0 * np.asarray(np.linalg.pinv(hessian, hermitian=True))
