"""Draws of tasters' stretches and of how much they differ: Gibbs sampling, many chains at once.

Levels are integrated out beforehand. In turn are drawn: how far stretches differ and the factor
of the noise, all stretches integrated out; the stretches, which are independent once coffees are
known; the coffees, which are normal once stretches are; and a common factor of stretches over
coffees, which the marks cannot tell. Knows precisions and sums, no marks.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.ratings_priors import SCALES

DEVIATION_SCALE = SCALES[frozenset({"stretch"})]
NOISE_LOG_SD = 0.6  # of the error variance about what the fits hold
_BURN_IN, _SWEEPS = 14, (32, 64)  # the fewest; and how many sensations share
_STEPS = 4  # of deviation and noise, each sweep
_CHAINS = (8, 64)
_NUMBERS = 40_000  # chains times tasters; more tasters have fewer chains
_FARTHEST = 4.0  # in z: marks that are all alike would have the noise vanish
_LEAST = 1e-3  # deviation: as good as none


@dataclass(frozen=True, slots=True)
class StretchParts:
    """P sensations of T tasters, levels integrated out.

    ``weight`` (P, T, C, C) is each taster's precision across coffees, ``pull`` (P, T, C) that
    times the means, ``precision`` (P, C) the coffees' prior one (coffees that a part lacks have
    1 and no marks), ``quadratic`` the marks' own sum of squares in the same precisions,
    ``rank`` how many differences there are.
    """

    weight: FloatArray
    pull: FloatArray
    precision: FloatArray
    quadratic: float
    rank: int


@dataclass(frozen=True, slots=True)
class StretchDraws:
    """N draws: stretches (N, T), their deviation (N,) and the factor of the noise (N,)."""

    stretch: FloatArray
    deviation: FloatArray
    noise: FloatArray


def across(weights: FloatArray) -> FloatArray:
    """Return the precision matrices of (T, C) independent numbers once their level is free.

    Examples
    --------
    >>> across(np.array([[1.0, 1.0]]))[0].tolist()
    [[0.5, -0.5], [-0.5, 0.5]]
    """
    total = weights.sum(axis=1)[:, None, None]
    diagonal = weights[:, :, None] * np.eye(weights.shape[1])
    return np.asarray(diagonal - weights[:, :, None] * weights[:, None, :] / total)


def draw_stretches(parts: StretchParts, rng: np.random.Generator) -> StretchDraws:
    """Draw from the posterior, some thousands of times.

    Stretches are normal about one, with a deviation that is half-normal beforehand; the noise
    is log-normal about what the fits hold.

    Parameters
    ----------
    parts : StretchParts
        The marks of all sensations.
    rng : numpy.random.Generator
        Source of chance.

    References
    ----------
    van Dyk and Park (2008), JASA 103, 790-796 (a draw that leaves out what is drawn next), and
    Liu and Sabatti (2000), Biometrika 87, 353-369 (the common factor); both from memory.

    Examples
    --------
    >>> own = across(np.full((2, 3), 0.5))
    >>> means = np.array([[30.0, 50, 70], [40, 50, 60]])
    >>> parts = StretchParts(
    ...     weight=own[None],
    ...     pull=np.einsum("icd,id->ic", own, means)[None],
    ...     precision=np.full((1, 3), 0.01),
    ...     quadratic=500.0,
    ...     rank=4,
    ... )
    >>> one, two = draw_stretches(parts, np.random.default_rng(1)).stretch.mean(axis=0)
    >>> round(float(one / two), 1)
    2.0
    """
    chains = _Chains(parts, rng)
    kept, (least, shared) = [], _SWEEPS
    for sweep in range(_BURN_IN + max(least, shared // chains.count)):
        chains.sweep()
        if sweep >= _BURN_IN:
            kept.append((chains.stretch, chains.deviation(), chains.noise()))
    stretch, deviation, noise = zip(*kept, strict=True)
    return StretchDraws(np.concatenate(stretch), np.concatenate(deviation), np.concatenate(noise))


class _Chains:
    """The state of M chains.

    ``z`` (M, 2) of deviation and noise is standard normal beforehand; ``stretch`` (M, T),
    ``coffee`` (M, P, C).
    """

    def __init__(self, parts: StretchParts, rng: np.random.Generator) -> None:
        self.parts, self.rng = parts, rng
        self.count, self.tasters, self.coffees = parts.pull.shape
        self.size = int(np.clip(_NUMBERS // self.tasters, *_CHAINS))
        # steps of all sizes from a third of the standard deviation that many differences leave
        self.least = float(np.log(0.3 / max(parts.rank, 1) ** 0.5))
        self.flat = _taster_rows(parts.weight)
        self.drawn = _taster_rows(parts.pull)
        self.z = np.zeros((self.size, 2))
        self.stretch = np.ones((self.size, self.tasters))
        self.coffee = np.zeros((self.size, self.count, self.coffees))
        self._draw_coffees()

    def deviation(self) -> FloatArray:
        """Return the deviation of stretches of each chain: (M,)."""
        return deviations(self.z[:, 0])

    def noise(self) -> FloatArray:
        """Return the factor of the noise of each chain: (M,)."""
        return np.asarray(np.exp(NOISE_LOG_SD * self.z[:, 1]))

    def sweep(self) -> None:
        """Draw everything once."""
        self._draw_stretches()
        self._draw_coffees()
        self._scale()

    def _draw_stretches(self) -> None:
        """Draw deviation and noise by Metropolis steps, stretches left out; then these."""
        outer = (self.coffee[..., :, None] * self.coffee[..., None, :]).reshape(self.size, -1)
        power = outer @ self.flat.T
        along = self.coffee.reshape(self.size, -1) @ self.drawn.T
        height = self._height(self.z, power, along)
        for _ in range(_STEPS):
            reach = np.exp(self.rng.uniform(self.least, 0.7, (self.size, 2)))
            z = self.z + reach * self.rng.standard_normal((self.size, 2))
            new = self._height(z, power, along)
            taken = np.log(self.rng.uniform(size=self.size)) < new - height
            self.z[taken], height[taken] = z[taken], new[taken]
        noise, ridge = self.noise()[:, None], self.deviation()[:, None] ** -2.0
        precision = power / noise + ridge
        mean = (along / noise + ridge) / precision
        self.stretch = mean + self.rng.standard_normal(mean.shape) / np.sqrt(precision)

    def _height(self, z: FloatArray, power: FloatArray, along: FloatArray) -> FloatArray:
        """Log density (M,) of deviation and noise, given coffees, without the stretches.

        ``power`` (M, T) and ``along`` (M, T) are the square of the coffees in each taster's
        precision, and their product with the taster's means.
        """
        noise = np.exp(NOISE_LOG_SD * z[:, 1:])
        ridge = deviations(z[:, :1]) ** -2.0
        precision = power / noise + ridge
        found = (along / noise + ridge) ** 2 / precision - np.log(precision / ridge) - ridge
        left = self.parts.quadratic / noise[:, 0] + self.parts.rank * NOISE_LOG_SD * z[:, 1]
        height = 0.5 * (found.sum(axis=1) - left - (z * z).sum(axis=1))
        return np.asarray(np.where(np.abs(z).max(axis=1) < _FARTHEST, height, -np.inf))

    def _draw_coffees(self) -> None:
        scaled = self.stretch / self.noise()[:, None]
        shape = (self.size, self.count, self.coffees, self.coffees)
        system = ((scaled * self.stretch) @ self.flat).reshape(shape)
        place = np.arange(self.coffees)
        system[..., place, place] += self.parts.precision
        pull = (scaled @ self.drawn).reshape(self.coffee.shape)
        back = np.linalg.inv(np.linalg.cholesky(system))
        drawn = np.einsum("mpij,mpj->mpi", back, pull) + self.rng.standard_normal(pull.shape)
        self.coffee = np.einsum("mpji,mpj->mpi", back, drawn)

    def _scale(self) -> None:
        """Multiply stretches and divide coffees by a factor, which leaves the marks as likely.

        A Metropolis step; the power of the factor is the volume that the step changes.
        """
        deviation = self.deviation()
        step = self.rng.standard_normal(self.size) * 1.5 * deviation / self.tasters**0.5
        factor = np.exp(step)[:, None]
        ridge = deviation**-2.0
        held = (self.parts.precision * self.coffee**2).sum(axis=(1, 2))
        off = ((self.stretch * factor - 1.0) ** 2 - (self.stretch - 1.0) ** 2).sum(axis=1)
        gain = -0.5 * ridge * off - 0.5 * held * (factor[:, 0] ** -2.0 - 1.0)
        gain += step * (self.tasters - self.count * self.coffees)
        taken = np.log(self.rng.uniform(size=self.size)) < gain
        self.stretch[taken] *= factor[taken]
        self.coffee[taken] /= factor[taken][:, :, None]


def _taster_rows(values: FloatArray) -> FloatArray:
    """From (P, T, ...) to a row a taster: (T, all else)."""
    return np.ascontiguousarray(np.moveaxis(values, 1, 0).reshape(values.shape[1], -1))


def deviations(z: FloatArray) -> FloatArray:
    """Map z, standard normal beforehand, to the deviation of stretches.

    Examples
    --------
    >>> round(float(deviations(np.zeros(1))[0]), 3)
    0.337
    """
    from scipy.special import ndtr, ndtri

    unit = -ndtri(0.5 * ndtr(-np.asarray(z)))
    return np.asarray(np.maximum(DEVIATION_SCALE * unit, _LEAST))
