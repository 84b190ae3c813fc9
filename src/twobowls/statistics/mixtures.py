"""A posterior as a few weighted normal distributions: means, intervals, probabilities.

What is left after variances have been integrated out on a grid; one component is the plain
normal approximation. Knows nothing of what the numbers mean.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from twobowls.statistics.ratings_results import Estimate

Array = NDArray[np.float64]

_STEPS, _TURNS = 20, 80
_NEAR = 1e-8
_ALMOST_ALL = 1.0 - 1e-16


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """A mixture of G normal distributions of k numbers.

    Parameters
    ----------
    weights : array (G,)
        None negative, summing to one.
    means : array (G, k)
        Centre of each component.
    covariances : array (G, k, k)
        Covariance of each component.

    Examples
    --------
    >>> wide = Mixture(np.array([0.5, 0.5]), np.array([[0.0], [0.0]]), np.array([[[1.0]], [[9.0]]]))
    >>> wide.covariance
    array([[5.]])
    >>> wide.chance_above([1.0])
    0.5
    >>> bounds = wide.interval([1.0], level=0.90)
    >>> [round(each, 3) for each in bounds]
    [-3.846, 3.846]
    """

    weights: Array
    means: Array
    covariances: Array

    @property
    def mean(self) -> Array:
        """The mean, (k,)."""
        return np.asarray(self.weights @ self.means)

    @property
    def covariance(self) -> Array:
        """The covariance, (k, k): within components and between them."""
        apart = self.means - self.mean
        between = (apart * self.weights[:, None]).T @ apart
        return np.asarray(np.tensordot(self.weights, self.covariances, axes=1) + between)

    def along(self, direction: ArrayLike) -> tuple[Array, Array]:
        """Return each component's mean and standard deviation along a direction (k,)."""
        line = np.asarray(direction, dtype=np.float64)
        variance = np.einsum("i,gij,j->g", line, self.covariances, line)
        return self.means @ line, np.sqrt(np.maximum(variance, 0.0))

    def chance_above(self, direction: ArrayLike, value: float = 0.0) -> float:
        """Return the probability that the combination along ``direction`` exceeds ``value``."""
        mean, sd = self.along(direction)
        return float(self.weights @ ndtr((mean - value) / np.maximum(sd, 1e-300)))

    def interval(self, direction: ArrayLike, level: float) -> tuple[float, float]:
        """Return the central interval of the combination along ``direction``."""
        mean, sd = self.along(direction)
        tail = 0.5 * (1.0 - level)
        return self._quantile(mean, sd, tail), self._quantile(mean, sd, 1.0 - tail)

    def mean_and_sd(self, direction: ArrayLike) -> tuple[float, float]:
        """Return mean and standard deviation of the combination along ``direction``."""
        return self._blended(*self.along(direction))

    def _blended(self, mean: Array, sd: Array) -> tuple[float, float]:
        """Return mean and standard deviation of components with these (G,) and (G,)."""
        centre = float(self.weights @ mean)
        return centre, float(np.sqrt(self.weights @ (sd**2 + (mean - centre) ** 2)))

    def estimate(self, direction: ArrayLike, level: float) -> Estimate:
        """Return mean, standard deviation and central interval along ``direction``."""
        centre, sd = self.mean_and_sd(direction)
        return Estimate(mean=centre, se=sd, interval=self.interval(direction, level))

    def project(self, matrix: ArrayLike) -> "Mixture":
        """Return the mixture of ``matrix @ x``; matrix (j, k)."""
        map_ = np.asarray(matrix, dtype=np.float64)
        return Mixture(self.weights, self.means @ map_.T, map_ @ self.covariances @ map_.T)

    def _quantile(self, mean: Array, sd: Array, share: float) -> float:
        """Search between the lowest and the highest component's own quantile.

        The normal quantile function makes the distribution function nearly straight; Newton steps
        to its root, halving steps where those leave the bracket or are many.
        """
        goal = float(ndtri(share))
        own = mean + sd * goal
        low, high = float(own.min()), float(own.max())
        sharp = 1.0 / np.maximum(sd, 1e-300)
        centre, spread = self._blended(mean, sd)
        x = min(max(centre + goal * spread, low), high)
        for turn in range(_TURNS if high > low else 0):
            with np.errstate(over="ignore"):
                away = (x - mean) * sharp
                density = float((self.weights * sharp) @ np.exp(-0.5 * away**2))
            below = float(self.weights @ ndtr(away))
            low, high = (x, high) if below < share else (low, x)
            reached = float(ndtri(min(max(below, 1e-300), _ALMOST_ALL)))
            # sqrt(2 pi) cancels
            rise = density * float(np.exp(0.5 * reached**2))
            target = x - (reached - goal) / rise if 0.0 < rise < np.inf else low
            if turn >= _STEPS or not low < target < high:
                target = 0.5 * (low + high)
            elif abs(target - x) <= _NEAR * spread:  # Newton squares what is left
                return target
            x = target
        return x


def single(mean: ArrayLike, covariance: ArrayLike) -> Mixture:
    """Return one normal distribution as a mixture."""
    centre = np.asarray(mean, dtype=np.float64)
    return Mixture(np.ones(1), centre[None], np.asarray(covariance, dtype=np.float64)[None])


def blend(log_weights: Sequence[float], means: Sequence[Array], covs: Sequence[Array]) -> Mixture:
    """Return the mixture with these unnormalised log weights."""
    logs = np.asarray(log_weights, dtype=np.float64)
    weights = np.exp(logs - logs.max())
    return Mixture(weights / weights.sum(), np.array(means), np.array(covs))
