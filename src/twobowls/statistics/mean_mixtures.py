"""Means of coffees and all their differences as mixtures of normals; and from fit to fit.

Knows no marks and no picks.
"""

from itertools import combinations

import numpy as np

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.ratings_mixtures import (
    mixture_above,
    mixture_mean_sd,
    mixture_quantiles,
)
from twobowls.statistics.ratings_results import Contrast, Estimate, LevelMean, Population, RatingFit

_FLAT = 1e-9
_Sure = tuple[Estimate, float]

# Means that are all but equal in every draw differ by a variance that is lost in rounding that of
# the means themselves. Below this share of it a difference is held to be rounding, not certainty.
_ROUNDING = 1e-12
_TINY = 1e-24


def mixture_means(
    names: tuple[str, ...],
    weights: FloatArray,
    means: FloatArray,
    covariances: FloatArray,
    level: float,
) -> tuple[tuple[LevelMean, ...], tuple[Contrast, ...]]:
    """Return C named means and every two of them compared.

    Parameters
    ----------
    names : tuple of str (C,)
        In order.
    weights, means, covariances : FloatArray
        (K,), (K, C) and (K, C, C): a mixture of K normals.
    level : float
        Of the intervals.

    Examples
    --------
    >>> means, contrasts = mixture_means(
    ...     ("A", "B"), np.ones(1), np.array([[60.0, 50.0]]), np.eye(2)[None] * 50, 0.90
    ... )
    >>> round(contrasts[0].probability, 3), contrasts[0].estimate.se
    (0.841, 10.0)
    """
    found = _estimates(weights, means, covariances, level)
    pairs = zip(combinations(names, 2), found[len(names) :], strict=True)
    return (
        tuple(
            LevelMean(level=name, estimate=estimate)
            for name, (estimate, _) in zip(names, found, strict=False)
        ),
        tuple(
            Contrast(a=a, b=b, estimate=estimate, probability=probability)
            for (a, b), (estimate, probability) in pairs
        ),
    )


def transport(own: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return the symmetric map that turns one covariance into another.

    Examples
    --------
    >>> transport(np.array([[4.0]]), np.array([[9.0]]))
    array([[1.5]])
    """
    root = covariance_root(wanted)
    values, vectors = np.linalg.eigh(root @ own @ root)
    small = _FLAT * max(float(values[-1]), 1e-300)
    inverse = np.where(values > small, 1.0 / np.sqrt(np.maximum(values, small)), 0.0)
    return np.asarray(root @ ((vectors * inverse) @ vectors.T) @ root)


def fit_moments(
    fit: RatingFit, population: Population, coffees: tuple[str, ...]
) -> tuple[FloatArray, FloatArray]:
    """Return a population's means (C,) and their covariance, from the errors of all pairs."""
    means = fit.table if population == "table" else fit.people
    of = {each.level: each.estimate for each in means.coffees}
    mean = np.array([of[name].mean for name in coffees])
    square = np.array([of[name].se ** 2 for name in coffees])
    covariance = np.diag(square)
    place = {name: number for number, name in enumerate(coffees)}
    for each in means.contrasts:
        a, b = place[each.a], place[each.b]
        shared = (square[a] + square[b] - each.estimate.se**2) / 2
        covariance[a, b] = covariance[b, a] = shared
    values, vectors = np.linalg.eigh(covariance)
    return mean, np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T)


def covariance_root(covariances: FloatArray) -> FloatArray:
    """Return the symmetric roots of covariances (..., k, k).

    Examples
    --------
    >>> covariance_root(np.diag([4.0, 9.0])).diagonal()
    array([2., 3.])
    """
    values, vectors = np.linalg.eigh(covariances)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))[..., None, :]) @ vectors.mT)


def _estimates(
    weights: FloatArray, means: FloatArray, covariances: FloatArray, level: float
) -> list[_Sure]:
    """Return the means, then all differences, each with its chance of being above zero."""
    size = means.shape[1]
    first, second = np.triu_indices(size, 1)
    lines = np.concatenate([np.eye(size), np.eye(size)[first] - np.eye(size)[second]])
    mean = means @ lines.T
    variance = np.einsum("li,kij,lj->kl", lines, covariances, lines)
    parts = np.einsum("li,kii->kl", lines**2, covariances)
    sd = np.sqrt(np.maximum(variance, _ROUNDING * parts + _TINY))
    above = mixture_above(weights, mean, sd)
    centre, spread = mixture_mean_sd(weights, mean, sd)
    low = mixture_quantiles(weights, mean, sd, 0.5 - level / 2)
    high = mixture_quantiles(weights, mean, sd, 0.5 + level / 2)
    return [
        (Estimate(mean=float(m), se=float(s), interval=(float(a), float(b))), float(p))
        for m, s, a, b, p in zip(centre, spread, low, high, above, strict=True)
    ]
