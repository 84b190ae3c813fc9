"""What fits of picks return. Plain frozen data; nothing here computes much."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.inputs import one_of
from twobowls.statistics.mixtures import Mixture
from twobowls.statistics.ratings_results import Contrast, Estimate, LevelMean

Array = NDArray[np.float64]
Dependence = Literal["independent", "tasters", "spread"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PicksFit:
    """Bradley-Terry abilities of k coffees, with Davidson's ties.

    Abilities are log-odds: a coffee one above another is picked e times as often. They are
    measured from the middle of the coffees at hand.

    Attributes
    ----------
    coffees : tuple of str
        In order.
    tie : Estimate or None
        Log of Davidson's nu: at 0, two equal coffees are called the same one time in three.
        None when ties were counted as halves, or there were none.
    order : Estimate or None
        What being put first adds to the log-odds, where asked for.
    spread : Estimate or None
        Standard deviation, in log-odds, of what one taster adds to one coffee; with
        ``dependence="tasters"``.
    dispersion : float
        Pearson's chi-squared over its degrees of freedom, between rows.
    deviance, residual_df : float, int
        Against shares of each row's own.
    log_likelihood : float
        Of the answers at the estimates, without counting constants.
    posterior : Mixture
        Of the k centred abilities.
    """

    coffees: tuple[str, ...]
    picks: int
    prior: str
    dependence: Dependence
    level: float
    tie: Estimate | None
    order: Estimate | None
    spread: Estimate | None
    dispersion: float
    deviance: float
    residual_df: int
    log_likelihood: float
    cautions: tuple[str, ...]
    posterior: Mixture = field(repr=False)

    @property
    def abilities(self) -> tuple[LevelMean, ...]:
        """Every coffee's ability above the middle of all."""
        lines = np.eye(len(self.coffees))
        return _levels(self.posterior, self.coffees, lines, self.level)

    @property
    def covariance(self) -> Array:
        """Covariance of the centred abilities, (k, k), of rank k - 1."""
        return self.posterior.covariance

    def against(self, reference: str) -> tuple[LevelMean, ...]:
        """Return every coffee's ability above a reference coffee, which itself has 0.

        Raises
        ------
        InputError
            For an unknown coffee.

        Examples
        --------
        >>> from twobowls.statistics.picks import fit_picks, tabulate_picks
        >>> fit = fit_picks(tabulate_picks(["A"], ["B"], [9], [3]), prior="flat")
        >>> [round(each.estimate.mean, 2) for each in fit.against("B")]
        [1.1, 0.0]
        >>> [round(each.estimate.mean, 2) for each in fit.abilities]
        [0.55, -0.55]
        >>> fit.contrasts[0].a, fit.contrasts[0].b, round(fit.contrasts[0].probability, 2)
        ('A', 'B', 0.95)
        """
        one_of("reference", reference, self.coffees)
        lines = np.eye(len(self.coffees))
        lines = lines - lines[self.coffees.index(reference)]
        return _levels(self.posterior, self.coffees, lines, self.level)

    @property
    def contrasts(self) -> tuple[Contrast, ...]:
        """Every two coffees: ability of ``a`` less that of ``b``."""
        return compare_all(self.posterior, self.coffees, self.level)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointFit:
    """Coffee means on the mark scale, from marks and picks together.

    Attributes
    ----------
    coffees : tuple of str
        In order.
    means : tuple of LevelMean
        On the mark scale.
    contrasts : tuple of Contrast
        Every two coffees, ``a`` less ``b``; ``probability`` that ``a`` lies above.
    slope : Estimate
        Log-odds of a pick for every unit on the mark scale.
    tie : Estimate or None
        Log of Davidson's nu, as in ``PicksFit``.
    picks : int
        How many picks were joined.
    gain : float
        Mean variance of the contrasts with picks over that without: 1 when they taught nothing.
    posterior : Mixture
        Of the k means.
    """

    coffees: tuple[str, ...]
    level: float
    means: tuple[LevelMean, ...]
    contrasts: tuple[Contrast, ...]
    slope: Estimate
    tie: Estimate | None
    picks: int
    gain: float
    cautions: tuple[str, ...]
    posterior: Mixture = field(repr=False)

    @property
    def covariance(self) -> Array:
        """Covariance of the means, (k, k)."""
        return self.posterior.covariance


def _levels(
    posterior: Mixture, names: Sequence[str], lines: Array, level: float
) -> tuple[LevelMean, ...]:
    return tuple(
        LevelMean(level=name, estimate=posterior.estimate(line, level))
        for name, line in zip(names, lines, strict=True)
    )


def level_means(posterior: Mixture, names: Sequence[str], level: float) -> tuple[LevelMean, ...]:
    """Return each of k numbers as a named estimate.

    Examples
    --------
    >>> from twobowls.statistics.mixtures import single
    >>> level_means(single([50.0, 60.0], np.eye(2)), ["A", "B"], 0.9)[1].estimate.mean
    60.0
    """
    return _levels(posterior, names, np.eye(len(names)), level)


def compare_all(posterior: Mixture, names: Sequence[str], level: float) -> tuple[Contrast, ...]:
    """Return every pairwise difference of k numbers, with its probability of being positive.

    Examples
    --------
    >>> from twobowls.statistics.mixtures import single
    >>> contrast, = compare_all(single([50.0, 60.0], np.eye(2)), ["A", "B"], 0.9)
    >>> contrast.estimate.mean, contrast.probability < 0.001
    (-10.0, True)
    """
    lines = np.eye(len(names))
    return tuple(
        Contrast(
            a=names[i],
            b=names[j],
            estimate=posterior.estimate(lines[i] - lines[j], level),
            probability=posterior.chance_above(lines[i] - lines[j]),
        )
        for i, j in combinations(range(len(names)), 2)
    )
