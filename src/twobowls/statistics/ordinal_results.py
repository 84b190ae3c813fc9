"""What a fit of category ratings returns. Plain frozen data; nothing here computes much."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.inputs import between, one_of
from twobowls.statistics.mixtures import Mixture
from twobowls.statistics.ordinal_link import LinkName
from twobowls.statistics.ordinal_optimise import Target, Top
from twobowls.statistics.ratings_results import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomMode:
    """The most likely value of one level's random effect, and its conditional sd.

    Both are on the latent scale, given the estimates of everything else.
    """

    level: str
    mode: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How far the levels of a fixed factor spread: posterior mean and standard deviation.

    A standard deviation around the levels' common middle, on the latent scale.
    """

    mean: float
    se: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrdinalFit:
    """A cumulative (mixed) model, fitted.

    The latent scale has noise of standard deviation 1 (probit) or pi / sqrt(3) (logit);
    a rating falls in category j or below when thresholds[j] minus the linear predictor
    exceeds the noise, so a positive effect means higher ratings.

    Attributes
    ----------
    link : {"probit", "logit"}
        Distribution of the latent noise.
    ratings, rows : int
        How many ratings, and how many distinct rows they were counted into.
    categories : tuple of str
        Lowest first.
    coefficients, standard_errors : dict
        By name: the thresholds' parameters (``1|2``, ... or ``first``, ``spacing``), then
        effects (``coffee=B``: that level less the reference). Maximum likelihood with a flat
        prior; posterior mean and standard deviation with a weak one.
    random_sd, random_sd_error : dict
        Standard deviation of each random factor on the latent scale, and its error. An sd of
        zero is a boundary: the error is then that of a quadratic fit there.
    spreads : dict
        How far the levels of each fixed factor spread, with a weak prior; empty with a flat one.
    modes : dict
        Conditional modes of the random effects by factor.
    log_likelihood : float
        Of the ratings, at the top of the (penalised) likelihood, all constants included.
    parameters : int
        Thresholds, effects and standard deviations together.
    posterior : Mixture
        Of all parameters in the order of ``names``.
    cautions : tuple of str
        Sentences that must be shown beside the numbers.
    """

    link: LinkName
    thresholds: str
    quadrature: int
    prior: str
    level: float
    ratings: int
    rows: int
    categories: tuple[str, ...]
    coefficients: dict[str, float]
    standard_errors: dict[str, float]
    random_sd: dict[str, float]
    random_sd_error: dict[str, float]
    spreads: dict[str, Spread]
    modes: dict[str, tuple[RandomMode, ...]]
    log_likelihood: float
    parameters: int
    posterior: Mixture = field(repr=False)
    cautions: tuple[str, ...] = ()
    target: Target = field(repr=False)
    top: Top = field(repr=False)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all parameters: thresholds, effects, then the random factors' sds."""
        return (*self.coefficients, *(f"sd {each}" for each in self.random_sd))

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Covariance of all parameters, in the order of ``names``."""
        return self.posterior.covariance

    @property
    def aic(self) -> float:
        """Akaike's criterion; only for flat-prior fits to the same ratings."""
        return 2.0 * self.parameters - 2.0 * self.log_likelihood

    def interval(self, name: str, level: float | None = None) -> Estimate:
        """Return one parameter with its Wald (flat) or posterior (weak) interval.

        Parameters
        ----------
        name : str
            One of ``names``.
        level : float, optional
            The fit's when left out.

        Raises
        ------
        InputError
            For an unknown name, or a level that is not between 0 and 1.

        Examples
        --------
        >>> from twobowls.statistics.ordinal import fit_ordinal
        >>> coffee = ["A"] * 6 + ["B"] * 6
        >>> fit = fit_ordinal([1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4], {"coffee": coffee},
        ...                   prior="flat")
        >>> [round(end, 2) for end in fit.interval("coffee=B").interval]
        [0.77, 3.44]
        """
        one_of("name", name, self.names)
        if level is not None:
            between("level", level, 0, 1)
        direction = np.zeros(len(self.names))
        direction[self.names.index(name)] = 1.0
        return self.posterior.estimate(direction, self.level if level is None else level)
