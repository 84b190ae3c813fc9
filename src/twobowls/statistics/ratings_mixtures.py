"""Many one-dimensional mixtures of normals at once: means, quantiles, probabilities.

The posterior of an effect, given the variances, is normal; over the variances it is a
mixture with the nodes' weights. Here Q quantities share K nodes.
"""

import numpy as np

from twobowls.statistics.arrays import FloatArray


def mixture_mean_sd(
    weights: FloatArray, means: FloatArray, sds: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return means and standard deviations of Q mixtures.

    Parameters
    ----------
    weights : FloatArray
        (K,) summing to one.
    means, sds : FloatArray
        (K, Q).

    Examples
    --------
    >>> mean, sd = mixture_mean_sd(np.array([0.5, 0.5]), np.array([[-1.0], [1.0]]), np.ones((2, 1)))
    >>> float(mean[0]), round(float(sd[0]), 4)
    (0.0, 1.4142)
    """
    mean = _weighted(weights, means)
    variance = _weighted(weights, sds**2 + (means - mean) ** 2)
    return mean, np.sqrt(variance)


def mixture_above(weights: FloatArray, means: FloatArray, sds: FloatArray) -> FloatArray:
    """Return the probability that each of Q mixtures is above zero: (Q,)."""
    from scipy.special import ndtr

    return _weighted(weights, ndtr(means / sds))


def mixture_quantiles(
    weights: FloatArray, means: FloatArray, sds: FloatArray, probability: float
) -> FloatArray:
    """Return a quantile of each of Q mixtures: (Q,), to about eight digits.

    The distribution function is made nearly straight by the normal quantile function, and its
    root found by Newton steps kept inside a shrinking bracket.

    Examples
    --------
    >>> one = np.ones((1, 1))
    >>> round(float(mixture_quantiles(np.ones(1), 0 * one, one, 0.95)[0]), 4)
    1.6449
    """
    from scipy.special import ndtr, ndtri

    goal = float(ndtri(probability))
    corners = means + goal * sds
    low, high = corners.min(axis=0), corners.max(axis=0)
    mean, sd = mixture_mean_sd(weights, means, sds)
    x = np.clip(mean + goal * sd, low, high)
    for _ in range(60):
        standard = (x - means) / sds
        share = np.clip(_weighted(weights, ndtr(standard)), 1e-300, 1.0 - 1e-16)
        density = _weighted(weights, np.exp(-0.5 * standard**2) / sds)
        reached = ndtri(share)
        under = reached < goal
        low, high = np.where(under, x, low), np.where(under, high, x)
        # the slope of `reached` is density / phi(reached); sqrt(2 pi) cancels
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            target = x - (reached - goal) * np.exp(-0.5 * reached**2) / density
        outside = ~((target >= low) & (target <= high))
        target = np.where(outside, 0.5 * (low + high), target)
        if np.all(np.abs(target - x) <= 1e-5 * sd):  # Newton squares what is left
            return target
        x = target
    return x


def node_quantiles(weights: FloatArray, values: FloatArray, probability: float) -> FloatArray:
    """Return a quantile of weighted points (K, Q), linear between their middles: (Q,)."""
    order = np.argsort(values, axis=0)
    ordered = np.take_along_axis(values, order, axis=0)
    shares = weights[order]
    middles = np.cumsum(shares, axis=0) - 0.5 * shares
    return np.array(
        [np.interp(probability, middles[:, q], ordered[:, q]) for q in range(values.shape[1])]
    )


def _weighted(weights: FloatArray, values: FloatArray) -> FloatArray:
    """Sum over nodes; a plain loop, for a product this thin would wake all cores for nothing."""
    return np.asarray(np.einsum("k,kq->q", weights, values))
