"""Intensity and liking of a coffee together: the ellipse on the pad.

Each scale's own fit says how uncertain it is; what is added here is how the two errors go
together, learned from the tasters' paired deviations.
"""

from dataclasses import dataclass
from math import atan2, log, sqrt

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_levels import encode
from twobowls.statistics.ratings_columns import RatingColumns
from twobowls.statistics.ratings_results import Means, Population, RatingFit

PRIOR_PAIRS = 4.0  # a correlation of zero is held as if four pairs had shown it


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """An ellipse on the pad: x is intensity, y is liking.

    ``angle_rad`` turns the first (longer) semi-axis away from the x axis, anticlockwise.
    """

    centre: tuple[float, float]
    semi_axes: tuple[float, float]
    angle_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointMean:
    """The posterior of one coffee's mean (intensity, liking): centre and covariance."""

    coffee: str
    intensity: float
    liking: float
    covariance: tuple[tuple[float, float], tuple[float, float]]

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
        reach = sqrt(-2.0 * log(1.0 - level))  # square root of the chi-squared quantile, 2 df
        axes = reach * np.sqrt(np.maximum(values, 0.0))
        x, y = vectors[:, 1] if vectors[0, 1] >= 0.0 else -vectors[:, 1]
        return Ellipse(
            centre=(self.intensity, self.liking),
            semi_axes=(float(axes[1]), float(axes[0])),
            angle_rad=atan2(float(y), float(x)),
        )


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
        Whose means: with people, a taster's leaning altogether counts as error, so that
        paired deviations are from the coffee's mean; with the table they are from the coffee's
        and the taster's.

    Returns
    -------
    tuple of JointMean
        For each coffee in both fits. Variances are the fits' own; the correlation r is that
        of the paired taster-by-coffee deviations over n degrees of freedom, drawn
        towards zero by n / (n + 4).

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
    correlation = paired_correlation(columns_i, columns_l, population)
    intensity = _by_coffee(getattr(fit_intensity, population))
    liking = _by_coffee(getattr(fit_liking, population))
    joined = []
    for coffee, (x, sx) in intensity.items():
        if coffee not in liking:
            continue
        y, sy = liking[coffee]
        shared = correlation * sx * sy
        joined.append(
            JointMean(
                coffee=coffee, intensity=x, liking=y, covariance=((sx**2, shared), (shared, sy**2))
            )
        )
    return tuple(joined)


def _by_coffee(means: Means) -> dict[str, tuple[float, float]]:
    return {each.level: (each.estimate.mean, each.estimate.se) for each in means.coffees}


def paired_correlation(
    columns_i: RatingColumns, columns_l: RatingColumns, population: Population = "people"
) -> float:
    """Correlation of the two scales' taster-by-coffee deviations, drawn towards zero."""
    first, second = _cell_means(columns_i), _cell_means(columns_l)
    keys = sorted(first.keys() & second.keys())
    if len(keys) < 2:
        return 0.0
    pairs = np.array([[first[key], second[key]] for key in keys])
    tasters = encode("taster", [key[0] for key in keys]).codes
    coffees = encode("coffee", [key[1] for key in keys]).codes
    design = [np.eye(coffees.max() + 1)[coffees]]
    if population == "table":
        design.append(np.eye(tasters.max() + 1)[tasters])
    columns = np.concatenate(design, axis=1)
    fitted, _, rank, _ = np.linalg.lstsq(columns, pairs, rcond=None)
    deviations: FloatArray = pairs - columns @ fitted
    degrees = len(keys) - int(rank)
    products = deviations.T @ deviations
    size = sqrt(max(float(products[0, 0] * products[1, 1]), 0.0))
    if degrees < 1 or size <= 1e-12:
        return 0.0
    return float(products[0, 1]) / size * degrees / (degrees + PRIOR_PAIRS)


def _cell_means(columns: RatingColumns) -> dict[tuple[str, str], float]:
    """Mean mark of each taster for each coffee."""
    taster, coffee = encode("taster", columns.taster), encode("coffee", columns.coffee)
    codes = taster.codes * len(coffee.levels) + coffee.codes
    size = len(taster.levels) * len(coffee.levels)
    counts = np.bincount(codes, minlength=size)
    sums = np.bincount(codes, np.asarray(columns.y, dtype=float), size)
    return {
        (taster.levels[k // len(coffee.levels)], coffee.levels[k % len(coffee.levels)]): float(
            sums[k] / counts[k]
        )
        for k in np.flatnonzero(counts)
    }
