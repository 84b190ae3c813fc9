"""Intensity and liking of a coffee together: the ellipse on the pad.

Each scale's own fit says how uncertain it is, and how long its tails are; what is added here is
how the two errors go together, as the tasters' paired deviations tell.
"""

from dataclasses import dataclass
from functools import cached_property
from math import atan2, sqrt

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.mixed_model_levels import encode
from twobowls.statistics.ratings_columns import RatingColumns
from twobowls.statistics.ratings_pairs import leaning_correlation, slip_correlation
from twobowls.statistics.ratings_results import Population, RatingFit
from twobowls.statistics.scale_mixtures import PairSpread


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """An ellipse on the pad: x is intensity, y is liking.

    ``angle_rad`` turns the first (longer) semi-axis away from the x axis, anticlockwise.
    """

    centre: tuple[float, float]
    semi_axes: tuple[float, float]
    angle_rad: float


@dataclass(frozen=True, kw_only=True)
class JointMean:
    """The posterior of one coffee's mean (intensity, liking): centre and covariance.

    ``scales`` are those of the two means' own posteriors (`LevelMean`), which make the ellipse
    smaller in the middle and larger far out than one normal would.
    """

    coffee: str
    intensity: float
    liking: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    scales: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())

    @cached_property
    def _spread(self) -> PairSpread:
        (x, shared), (_, y) = self.covariance
        size = sqrt(x * y)
        return PairSpread(*self.scales, shared / size if size > 0.0 else 0.0)

    def ellipse(self, level: float = 0.90) -> Ellipse:
        """Return the credible ellipse that holds the pair of means with probability ``level``.

        Examples
        --------
        >>> round_ = JointMean(coffee="A", intensity=60, liking=70, covariance=((4, 0), (0, 1)))
        >>> ellipse = round_.ellipse(0.90)
        >>> [round(each, 3) for each in ellipse.semi_axes], round(abs(ellipse.angle_rad), 3)
        ([4.292, 2.146], 0.0)
        """
        if not 0.0 < level < 1.0:
            raise InputError("level", f"{level:g} is not between 0 and 1", "Give a share like 0.9")
        values, vectors = np.linalg.eigh(np.array(self.covariance))
        axes = self._spread.reach(level) * np.sqrt(np.maximum(values, 0.0))
        x, y = vectors[:, 1] if vectors[0, 1] >= 0.0 else -vectors[:, 1]
        return Ellipse(
            centre=(self.intensity, self.liking),
            semi_axes=(float(axes[1]), float(axes[0])),
            angle_rad=atan2(float(y), float(x)),
        )

    def level_at(self, intensity: float, liking: float) -> float:
        """Return the level of the ellipse through a pair of means.

        Examples
        --------
        >>> round_ = JointMean(coffee="A", intensity=60, liking=70, covariance=((4, 0), (0, 1)))
        >>> round(round_.level_at(64.292, 70), 2)
        0.9
        """
        away = np.array([intensity - self.intensity, liking - self.liking])
        square = float(away @ np.linalg.solve(np.array(self.covariance), away))
        return self._spread.level(sqrt(square))


def joint_means(
    fit_intensity: RatingFit,
    fit_liking: RatingFit,
    columns_i: RatingColumns,
    columns_l: RatingColumns,
    population: Population = "people",
) -> tuple[JointMean, ...]:
    """Join the fits of the two scales of one sensation.

    Parameters
    ----------
    fit_intensity, fit_liking : RatingFit
        Fits of the two scales.
    columns_i, columns_l : RatingColumns
        The marks they were fitted to; rows need not match.
    population : {"people", "table"}
        Whose means.

    Returns
    -------
    tuple of JointMean
        For each coffee in both fits. Variances are the fits' own. What the two errors share
        comes from the tasters: with people, a taster's leanings and slips; with the table,
        slips alone. Their variances in a coffee's mean are those of the fits; their
        correlation is that of paired deviations (`ratings_pairs`). What a bowl does
        to a coffee, and the prior, are held to do so on each scale by itself.

    Notes
    -----
    In simulations (`benchmarks/calibration`) the 90 % ellipses held 89 to 93 % of true pairs, those
    of 50 % 47 to 53 %.

    Examples
    --------
    >>> from twobowls.statistics.ratings import fit_ratings
    >>> taster, coffee = [t for t in "abcd" for _ in "AB"], list("AB" * 4)
    >>> strong = RatingColumns(y=[60, 30, 70, 45, 50, 28, 66, 40], taster=taster, coffee=coffee)
    >>> liked = RatingColumns(y=[70, 50, 80, 60, 62, 50, 75, 57], taster=taster, coffee=coffee)
    >>> both = joint_means(fit_ratings(strong), fit_ratings(liked), strong, liked)
    >>> both[0].coffee, both[0].covariance[0][1] > 0
    ('A', True)
    """
    told = leaning_correlation if population == "people" else slip_correlation
    correlation = told(columns_i, columns_l, _weights(fit_intensity, fit_liking))
    intensity = _by_coffee(fit_intensity, columns_i, population)
    liking = _by_coffee(fit_liking, columns_l, population)
    joined = []
    for coffee, x in intensity.items():
        if coffee not in liking:
            continue
        y = liking[coffee]
        shared = correlation * sqrt(x.own * y.own)
        joined.append(
            JointMean(
                coffee=coffee,
                intensity=x.mean,
                liking=y.mean,
                covariance=((x.variance, shared), (shared, y.variance)),
                scales=(x.scales, y.scales),
            )
        )
    return tuple(joined)


def _weights(first: RatingFit, second: RatingFit) -> dict[str, float]:
    """How much a pair of marks of each taster counts: who is careless may be so on one scale."""
    names = first.weights.keys() | second.weights.keys()
    return {
        name: sqrt(first.weights.get(name, 1.0) * second.weights.get(name, 1.0)) for name in names
    }


@dataclass(frozen=True, slots=True)
class _Mean:
    """One coffee on one scale. ``own`` is that part of the variance which tasters bring."""

    mean: float
    variance: float
    own: float
    scales: tuple[float, ...]


def _by_coffee(fit: RatingFit, columns: RatingColumns, population: Population) -> dict[str, _Mean]:
    coffee, taster = encode("coffee", columns.coffee), encode("taster", columns.taster)
    counts = np.array([fit.weights.get(name, 1.0) for name in taster.levels])
    marks = np.bincount(coffee.codes, counts[taster.codes])
    pairs = np.unique(coffee.codes * len(taster.levels) + taster.codes)
    tasters = np.bincount(pairs // len(taster.levels))
    leanings = sum(
        size
        for name, size in fit.variance.items()
        if "taster" in name.split(":") and "round" not in name.split(":")
    )
    found = {}
    for k, each in enumerate(getattr(fit, population).coffees):
        whole = each.estimate.se**2
        own = fit.variance["residual"] / marks[k]
        if population == "people":
            own += leanings / tasters[k]
        found[each.level] = _Mean(each.estimate.mean, whole, min(own, whole), each.scales)
    return found
