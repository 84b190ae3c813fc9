"""What is held likely about the standard deviations before any mark is seen.

All scales are shares of the width of the scale (0.20 is 20 points of 100). They are the
project's own choice, wide enough to let the data speak and tight enough to be honest when
the data say nothing. Each deviation but the residual has a half-normal prior, which allows
zero. The reasons:

- *coffee*, *taster* (0.20): coffees on one table, and people's ways with the scale, differ by
  some 5 to 30 points; deviations above half the scale cannot be had on a bounded line.
- *taster:coffee* (0.15): people disagree about a coffee less than they differ altogether.
- *round* (0.10), *coffee:round*, *taster:round* (0.07): cooling moves a sensation, mostly
  for all coffees alike.
- *bowl* (0.05): two bowls of one coffee are brewed alike.
- *taster:bowl* (0.07): where a person stays near a former placing, the slip of that placing stays
  too. What one reading slips by is some 0.05 to 0.15 (*residual*); most of it is made anew by
  those who do not look back, and most of it stays with those who do.
- *position*, *flight* (0.05): first bowls and new flights shift marks by a few points.
- *stretch* (0.50; of slopes over coffees' means taken as shares of the width): most people set
  coffees between half as far and half as far again as others do. It was 0.35 once; but people
  who marked fried potatoes on a line of 15 (``french_fries`` of R's reshape2) differ by 0.6 to
  1.1 in four of five attributes, and where stretches differ by 0.35 or 0.5 the narrower prior drew
  them together too much (`benchmarks/calibration`).
- *residual*: log-normal about 0.10, with a factor of 1.8 a standard deviation. Nobody sets a
  token on an unstructured line twice within a point or two, so zero is left out; it also
  keeps the posterior proper when all marks are equal. A line of 100 is read to a tenth of a point
  at best, which alone gives marks a deviation of 0.03 (a tenth over the root of 12); with less,
  marks without any slip would end in rounding errors.

The deviations are handled through z, a standard normal number before the data: the prior
of z is N(0, 1) for every one of them, so that where the data are silent the posterior of
z is exactly normal, and where they are loud nearly so.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray

SCALES = {
    frozenset({"coffee"}): 0.20,
    frozenset({"taster"}): 0.20,
    frozenset({"taster", "coffee"}): 0.15,
    frozenset({"round"}): 0.10,
    frozenset({"coffee", "round"}): 0.07,
    frozenset({"taster", "round"}): 0.07,
    frozenset({"bowl"}): 0.05,
    frozenset({"taster", "bowl"}): 0.07,
    frozenset({"position"}): 0.05,
    frozenset({"flight"}): 0.05,
    frozenset({"stretch"}): 0.50,
}
OTHER_SCALE = 0.07
RESIDUAL_MEDIAN = 0.10
RESIDUAL_LOG_SD = 0.6
LEAST_RESIDUAL = 0.0003


def prior_scale(term: str) -> float:
    """Return the half-normal scale of a term's deviation, as a share of the scale's width.

    Examples
    --------
    >>> prior_scale("coffee:taster")
    0.15
    """
    return SCALES.get(frozenset(term.split(":")), OTHER_SCALE)


@dataclass(frozen=True, slots=True)
class Deviations:
    """Standard deviations (K, terms + 1), residual last, and their slopes by z."""

    values: FloatArray
    slopes: FloatArray


@dataclass(frozen=True, slots=True)
class DeviationPrior:
    """The priors of a model's deviations on the scale of the marks.

    ``scales`` (terms,) are the half-normal scales, ``median`` that of the residual, which has
    ``least`` besides.
    """

    scales: FloatArray
    median: float
    least: float

    @classmethod
    def for_terms(cls, terms: tuple[str, ...], width: float) -> "DeviationPrior":
        """Look up the scales of some terms and multiply them by the width of the scale."""
        scales = np.array([prior_scale(term) for term in terms]) * width
        return cls(scales, RESIDUAL_MEDIAN * width, LEAST_RESIDUAL * width)

    def deviations(self, z: FloatArray) -> Deviations:
        """Map z (K, terms + 1), standard normal under the prior, to deviations.

        Examples
        --------
        >>> prior = DeviationPrior.for_terms(("coffee",), 100.0)
        >>> [round(float(v), 2) for v in prior.deviations(np.zeros((1, 2))).values[0]]
        [13.49, 10.0]
        """
        from scipy.special import ndtr, ndtri

        inner = z[:, :-1]
        unit = -ndtri(0.5 * ndtr(-inner))
        slips = self.median * np.exp(RESIDUAL_LOG_SD * z[:, -1:])
        residual = np.hypot(slips, self.least)
        slopes = 0.5 * np.exp(0.5 * (unit**2 - inner**2))
        return Deviations(
            np.concatenate([unit * self.scales, residual], axis=1),
            np.concatenate([slopes * self.scales, RESIDUAL_LOG_SD * slips**2 / residual], axis=1),
        )
