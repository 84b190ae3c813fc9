"""How likely a category is, and how that changes: the two links of cumulative models.

Everything is a function of the two edges of a row's category on the latent scale; nothing
here knows about coffees, tasters or parameters.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import log, pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, log_expit, log_ndtr, ndtr

Array = NDArray[np.float64]
LinkName = Literal["probit", "logit"]

# Stands for an edge at infinity: far enough that densities vanish, near enough that its
# square times zero is zero.
FAR = 1e9
_HALF_LOG_2PI = 0.5 * log(2.0 * pi)
# A difference of two probabilities that keeps this share of the larger has lost three digits of
# sixteen at most; below that, and where probabilities end, logarithms are worth their cost.
_KEPT, _LEAST = 1e-3, 1e-280


@dataclass(frozen=True, slots=True)
class Link:
    """A symmetric latent distribution with a log-concave density.

    ``slope`` and ``curve`` are f'/f and f''/f of the density f, and ``sd`` is the standard
    deviation of the latent noise.
    """

    name: LinkName
    sd: float
    cdf: Callable[[Array], Array]
    log_cdf: Callable[[Array], Array]
    log_density: Callable[[Array], Array]
    slope: Callable[[Array], Array]
    curve: Callable[[Array], Array]


def _normal_log_density(x: Array) -> Array:
    return -0.5 * x * x - _HALF_LOG_2PI


def _logistic_log_density(x: Array) -> Array:
    # exp(-|x|) / (1 + exp(-|x|))^2, without a second evaluation of the distribution
    size = np.abs(x)
    return np.asarray(-size - 2.0 * np.log1p(np.exp(-size)))


def _logistic_slope(x: Array) -> Array:
    return -np.tanh(0.5 * x)


def _logistic_curve(x: Array) -> Array:
    tanh = np.tanh(0.5 * x)
    return np.asarray(1.5 * tanh * tanh - 0.5)


LINKS: dict[str, Link] = {
    "probit": Link(
        "probit", 1.0, ndtr, log_ndtr, _normal_log_density, np.negative, lambda x: x * x - 1.0
    ),
    "logit": Link(
        "logit",
        pi / sqrt(3.0),
        expit,
        log_expit,
        _logistic_log_density,
        _logistic_slope,
        _logistic_curve,
    ),
}


@dataclass(frozen=True, slots=True)
class Slopes:
    """Log-probability of each row's category, with its first derivatives.

    ``upper`` and ``lower`` are the edges; ``a`` and ``b`` the densities there over the
    probability, so that the derivatives in the edges are ``a`` and ``-b``.
    """

    value: Array
    upper: Array
    lower: Array
    a: Array
    b: Array

    @property
    def eta(self) -> Array:
        """The derivative in the linear predictor, which moves both edges down."""
        return self.b - self.a


@dataclass(frozen=True, slots=True)
class Curves:
    """Second derivatives of the log-probability in the edges.

    ``eta`` is that in the linear predictor, never above zero.
    """

    aa: Array
    ab: Array
    bb: Array
    eta: Array


@dataclass(frozen=True, slots=True)
class Bends:
    """Derivatives, in each edge, of the second derivative in the linear predictor."""

    a: Array
    b: Array

    @property
    def eta(self) -> Array:
        """The third derivative in the linear predictor."""
        return -(self.a + self.b)


def log_shares(link: Link, upper: Array, lower: Array) -> Array:
    """Return log F(upper) - F(lower), exact far out in either tail.

    Parameters
    ----------
    link : Link
        The latent distribution.
    upper, lower : array of any one shape
        Edges of the category, upper above lower; FAR and -FAR for none.

    Notes
    -----
    Rows on the upper side are mirrored, so that the difference is always taken between two
    lower-tail probabilities; on the log scale where they are nearly the same or vanish.

    Examples
    --------
    >>> at = log_shares(LINKS["probit"], np.array([FAR, 0.5]), np.array([40.0, -0.5]))
    >>> [round(float(each), 3) for each in at]
    [-804.608, -0.96]
    """
    mirror = upper + lower > 0.0
    high, low = np.where(mirror, -lower, upper), np.where(mirror, -upper, lower)
    whole = link.cdf(high)
    share = whole - link.cdf(low)
    hard = ~((share > _KEPT * whole) & (share > _LEAST))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        value = np.asarray(np.log(share))
        if hard.any():
            top, bottom = link.log_cdf(high[hard]), link.log_cdf(low[hard])
            value[hard] = top + np.log(-np.expm1(bottom - top))
    return value


def slopes(link: Link, upper: Array, lower: Array) -> Slopes:
    """Return log F(upper) - F(lower) and its slopes, exact far out in either tail.

    Parameters
    ----------
    link : Link
        The latent distribution.
    upper, lower : array of any one shape
        Edges of the category, upper above lower; FAR and -FAR for none.

    Examples
    --------
    >>> far_out = slopes(LINKS["probit"], np.array([FAR]), np.array([40.0]))
    >>> round(float(far_out.value[0]), 3)
    -804.608
    """
    value = log_shares(link, upper, lower)
    with np.errstate(invalid="ignore", over="ignore"):
        a = np.exp(link.log_density(upper) - value)
        b = np.exp(link.log_density(lower) - value)
    return Slopes(value, upper, lower, a, b)


def curves(link: Link, at: Slopes) -> Curves:
    """Return the second derivatives at the same edges.

    Examples
    --------
    >>> at = slopes(LINKS["logit"], np.array([1.0]), np.array([-1.0]))
    >>> bool(curves(LINKS["logit"], at).eta[0] < 0.0)
    True
    """
    a, b = at.a, at.b
    # far beyond all data they may be no numbers, which those who look there see to
    with np.errstate(invalid="ignore", over="ignore"):
        aa, ab, bb = a * (link.slope(at.upper) - a), a * b, -b * (link.slope(at.lower) + b)
        # edges very close together lose it to rounding, which must not turn its sign
        return Curves(aa, ab, bb, eta=np.minimum(aa + 2.0 * ab + bb, 0.0))


def bends(link: Link, at: Slopes) -> Bends:
    """Return the third derivatives at the same edges, as far as they are needed.

    Examples
    --------
    >>> at = slopes(LINKS["logit"], np.array([1.0]), np.array([-1.0]))
    >>> bool(abs(bends(LINKS["logit"], at).eta[0]) < 1e-12)
    True
    """
    a, b = at.a, at.b
    slope_a, slope_b = link.slope(at.upper), link.slope(at.lower)
    twice_a, twice_b = 2.0 * a, 2.0 * b
    # a times the sum of the edge's own third derivative and those shared with the other edge
    own_a = link.curve(at.upper) - a * (3.0 * slope_a - twice_a)
    own_b = link.curve(at.lower) + b * (3.0 * slope_b + twice_b)
    lean_a, lean_b = slope_a - twice_a, slope_b + twice_b
    return Bends(
        a=a * (own_a + b * (2.0 * lean_a + lean_b)), b=b * (a * (lean_a + 2.0 * lean_b) - own_b)
    )
