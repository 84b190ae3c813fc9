"""What a fit of line-scale ratings returns. Plain frozen data; nothing here computes."""

from dataclasses import dataclass, field
from typing import Literal

Population = Literal["table", "people"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A posterior (or estimate) of one number on the scale of the data.

    ``interval`` holds the central interval at the fit's ``level``.
    """

    mean: float
    se: float
    interval: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelMean:
    """The mean of one level of a factor: a coffee, or a coffee in a round.

    ``scales`` are the standard deviations of a few normals about the mean that together are the
    posterior (`scale_mixtures`); none: one normal.
    """

    level: str
    estimate: Estimate
    scales: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """Coffee ``a`` minus coffee ``b``; ``probability`` is that of ``a`` being above ``b``."""

    a: str
    b: str
    estimate: Estimate
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CoffeeInRound:
    """The mean of a coffee in one round."""

    coffee: str
    round: str
    estimate: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """All coffees and all contrasts for one population.

    ``table`` is these tasters (their own leanings count as they are), ``people`` is people
    like these (the tasters are a sample).
    """

    population: Population
    coffees: tuple[LevelMean, ...]
    contrasts: tuple[Contrast, ...]
    rounds: tuple[CoffeeInRound, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingFit:
    """One sensation on one scale, fitted.

    ``variance`` has the variance of each random term by name (``taster``,
    ``taster:coffee``, ...), ``residual`` among them: posterior means with a weak prior, REML
    estimates with a flat one. ``variance_interval`` has the matching intervals (weak prior
    only). ``reml_deviance`` is minus twice the restricted log-likelihood (flat prior only).
    ``covariance`` is the posterior covariance of the coffee means of ``people``, row-major in
    the order of ``people.coffees``. ``share_above`` maps (a, b) to the share of people like
    these who would put ``a`` above ``b`` in a single fair comparison, free of residual noise.
    ``weights`` has the tasters whose marks count for less than a steady taster's because they
    scatter more, with how much they count in the mean over what the marks leave open (weak prior
    only); ``residual`` is a steady taster's.
    ``cautions`` are sentences that must be shown beside the numbers.
    """

    rows: int
    tasters: int
    prior: Literal["weak", "flat"]
    level: float
    fixed: tuple[str, ...]
    random: tuple[str, ...]
    variance: dict[str, float]
    variance_interval: dict[str, tuple[float, float]] = field(default_factory=dict)
    reml_deviance: float | None = None
    people: Means
    table: Means
    covariance: tuple[tuple[float, ...], ...]
    share_above: dict[tuple[str, str], float] = field(default_factory=dict)
    weights: dict[str, float] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
