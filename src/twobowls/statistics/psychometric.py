"""The discrimination methods, and how often a taster is right when coffees differ by d′.

d′ is the distance between two coffees in units of the spread of one taster's perception
(equal-variance normal model of Thurstone). Knows no data.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import numbers, one_of

_ROOT_2, _ROOT_3, _ROOT_6 = 2**0.5, 3**0.5, 6**0.5
_FARTHEST = 40.0  # beyond this d′ every method is right with probability 1 to machine precision


@dataclass(frozen=True, slots=True)
class Method:
    """One way to ask whether two coffees differ.

    ``guess`` is the share of right answers by guessing; ``task`` is what the taster is asked.
    """

    key: str
    name: str
    guess: float
    standard: str
    task: str


METHODS = MappingProxyType(
    {
        method.key: method
        for method in (
            Method("triangle", "triangle", 1 / 3, "ISO 4120", "Three bowls: which one is odd?"),
            Method(
                "duo-trio", "duo-trio", 1 / 2, "ISO 10399", "Which of two is like the reference?"
            ),
            Method("2-afc", "paired comparison", 1 / 2, "ISO 5495", "Which of two has more?"),
            Method("3-afc", "three-bowl choice", 1 / 3, "ISO 13301", "Which of three has most?"),
            Method("tetrad", "tetrad", 1 / 3, "ASTM E3009", "Four bowls: make two groups of two."),
        )
    }
)


def method(key: str) -> Method:
    """Return a discrimination method by its key.

    Parameters
    ----------
    key : str
        One of ``triangle``, ``duo-trio``, ``2-afc``, ``3-afc``, ``tetrad``; capitals, blanks and
        hyphens do not matter.

    Returns
    -------
    Method

    Raises
    ------
    InputError
        When there is no such method.

    Examples
    --------
    >>> method("duo-trio").guess
    0.5
    >>> method("3-AFC").key, method("Duo trio").key
    ('3-afc', 'duo-trio')
    """
    known = _SPELLINGS.get(_letters(key), key) if isinstance(key, str) else key
    return METHODS[one_of("method", known, METHODS)]


def _letters(name: str) -> str:
    """Return the letters and digits of a name, small: what no spelling of it changes."""
    return "".join(each for each in name.casefold() if each.isalnum())


_SPELLINGS = {_letters(key): key for key in METHODS}


def proportion_correct(key: str, d_prime: ArrayLike) -> FloatArray:
    """Return the share of right answers expected at a given d′.

    Parameters
    ----------
    key : str
        The method: ``triangle``, ``duo-trio``, ``2-afc``, ``3-afc`` or ``tetrad``.
    d_prime : array_like, any shape
        Distance between the coffees in units of perceptual noise. Negative values matter only
        to ``2-afc`` and ``3-afc`` (the other coffee has more).

    Returns
    -------
    ndarray, the shape of ``d_prime``
        Shares, 0 to 1.

    Raises
    ------
    InputError
        When the method is not known or a d′ is not a number.

    Notes
    -----
    2-AFC and duo-trio have closed forms; the others are one-dimensional integrals, taken with
    Gauss-Legendre quadrature to machine precision.

    References
    ----------
    Ennis 1993, Journal of Sensory Studies 8:353-370 (2-AFC, 3-AFC, triangle, duo-trio);
    Ennis, Ennis, Palen & O'Mahony 1998, British Journal of Mathematical and Statistical
    Psychology 51:205-215 (tetrad).

    Examples
    --------
    >>> proportion_correct("triangle", [0, 1, 2]).round(3).tolist()
    [0.333, 0.418, 0.605]
    """
    d = _distances(d_prime)
    return np.clip(_CURVES[method(key).key](d), 0.0, 1.0)


def slope(key: str, d_prime: ArrayLike) -> FloatArray:
    """Return how fast the share of right answers grows with d′.

    Parameters
    ----------
    key : str
        The method.
    d_prime : array_like, any shape
        Where to take the derivative.

    Returns
    -------
    ndarray, the shape of ``d_prime``
        Derivative of the share of right answers, per unit of d′.

    Raises
    ------
    InputError
        When the method is not known or a d′ is not a number.

    Examples
    --------
    >>> float(slope("2-afc", 0).round(4))
    0.2821
    """
    return _SLOPES[method(key).key](_distances(d_prime))


def d_prime(key: str, proportion: ArrayLike) -> FloatArray:
    """Return the d′ at which a share of answers is right.

    Parameters
    ----------
    key : str
        The method.
    proportion : array_like, any shape
        Shares of right answers, 0 to 1.

    Returns
    -------
    ndarray, the shape of ``proportion``
        d′, at least 0: a share at or below guessing gives 0, a share of 1 gives infinity.

    Raises
    ------
    InputError
        When the method is not known or a share is outside 0 to 1.

    Notes
    -----
    Newton steps inside a shrinking bracket, until d′ no longer changes in double precision.
    For a paired comparison with a side to it see ``signed_d_prime``.

    Examples
    --------
    >>> float(d_prime("2-afc", 0.75).round(3))
    0.954
    """
    share = np.asarray(proportion, dtype=float)
    numbers("proportion", share.reshape(-1), (None,))
    if ((share < 0) | (share > 1)).any():
        worst = float(share[(share < 0) | (share > 1)].flat[0])
        raise InputError("proportion", f"{worst:g} is out of range", "Give shares from 0 to 1")
    kind = method(key)
    if kind.key == "2-afc":
        with np.errstate(divide="ignore"):
            return np.asarray(np.maximum(_ROOT_2 * ndtri(share), 0.0))
    return np.asarray(
        np.where(share <= kind.guess, 0.0, np.where(share >= 1, np.inf, _inverted(kind, share)))
    )


def signed_d_prime(share_for_a: ArrayLike) -> FloatArray:
    """Return d′ of a paired comparison with its direction.

    Parameters
    ----------
    share_for_a : array_like, any shape
        Shares of answers for the first coffee, 0 to 1.

    Returns
    -------
    ndarray
        Positive where the first coffee has more, negative where the second has; infinite at
        shares of 0 and 1.

    Examples
    --------
    >>> signed_d_prime([0.25, 0.5, 0.75]).round(3).tolist()
    [-0.954, 0.0, 0.954]
    """
    return np.asarray(_ROOT_2 * ndtri(np.asarray(share_for_a, dtype=float)))


def discriminators(key: str, proportion: ArrayLike) -> FloatArray:
    """Return the share of tasters who truly tell the coffees apart.

    Parameters
    ----------
    key : str
        The method.
    proportion : array_like
        Shares of right answers, 0 to 1.

    Returns
    -------
    ndarray
        ``(p - guess) / (1 - guess)``, not below 0: the others are taken to guess.

    Raises
    ------
    InputError
        When the method is not known.

    Notes
    -----
    Abbott's formula, as in ISO 4120 and ISO 10399 (the share called p_d there).

    Examples
    --------
    >>> float(discriminators("triangle", 0.6).round(3))
    0.4
    """
    guess = method(key).guess
    return np.asarray(np.maximum((np.asarray(proportion, dtype=float) - guess) / (1 - guess), 0.0))


def _distances(values: ArrayLike) -> FloatArray:
    d = np.asarray(values, dtype=float)
    numbers("d_prime", d.reshape(-1), (None,))
    return np.asarray(np.clip(d, -_FARTHEST, _FARTHEST))


def _inverted(kind: Method, share: FloatArray) -> FloatArray:
    target = np.clip(share, kind.guess, 1.0)
    low, high = np.zeros_like(target), np.full_like(target, _FARTHEST)
    d = np.full_like(target, 1.0)
    for _ in range(200):
        miss = _CURVES[kind.key](d) - target
        low, high = np.where(miss < 0, d, low), np.where(miss < 0, high, d)
        rate = _SLOPES[kind.key](d)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = d - miss / rate
        inside = np.isfinite(step) & (step > low) & (step < high)
        new = np.where(inside, step, (low + high) / 2)
        if np.array_equal(new, d) or (np.abs(new - d) <= 4e-16 * (1 + d)).all():
            break
        d = new
    return d


@lru_cache(maxsize=1)
def _nodes() -> tuple[FloatArray, FloatArray]:
    """Quadrature nodes and weights for the standard normal density on (0, 9)."""
    x, w = np.polynomial.legendre.leggauss(96)
    u = 4.5 * (x + 1)
    weights = w * _density(u)
    return u, weights * (0.5 / weights.sum())


def _density(z: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi))


def _expected(function: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Average a function of a standard normal variable; its last axis is the variable."""
    u, w = _nodes()
    return np.asarray((function(u) + function(-u)) @ w)


def _triangle(d: FloatArray) -> FloatArray:
    u, w = _nodes()
    shift = d[..., None] * (2 / 3) ** 0.5
    return np.asarray(2 * (ndtr(shift - u * _ROOT_3) + ndtr(-shift - u * _ROOT_3)) @ w)


def _triangle_slope(d: FloatArray) -> FloatArray:
    u, w = _nodes()
    unit = (2 / 3) ** 0.5
    shift = d[..., None] * unit
    rates = _density(shift - u * _ROOT_3) - _density(shift + u * _ROOT_3)
    return np.asarray(2 * unit * rates @ w)


def _duo_trio(d: FloatArray) -> FloatArray:
    near, far = ndtr(d / _ROOT_2), ndtr(d / _ROOT_6)
    return np.asarray(1 - near - far + 2 * near * far)


def _duo_trio_slope(d: FloatArray) -> FloatArray:
    near, far = ndtr(d / _ROOT_2), ndtr(d / _ROOT_6)
    return np.asarray(
        (2 * far - 1) * _density(d / _ROOT_2) / _ROOT_2
        + (2 * near - 1) * _density(d / _ROOT_6) / _ROOT_6
    )


def _two_choice(d: FloatArray) -> FloatArray:
    return np.asarray(ndtr(d / _ROOT_2))


def _two_choice_slope(d: FloatArray) -> FloatArray:
    return np.asarray(_density(d / _ROOT_2) / _ROOT_2)


def _three_choice(d: FloatArray) -> FloatArray:
    return _expected(lambda u: ndtr(d[..., None] + u) ** 2)


def _three_choice_slope(d: FloatArray) -> FloatArray:
    def rate(u: FloatArray) -> FloatArray:
        top = d[..., None] + u
        return np.asarray(2 * ndtr(top) * _density(top))

    return _expected(rate)


def _tetrad(d: FloatArray) -> FloatArray:
    def wrong(u: FloatArray) -> FloatArray:
        own, other = ndtr(u), ndtr(u - d[..., None])
        return np.asarray(2 * own * other - other * other)

    return 1 - 2 * _expected(wrong)


def _tetrad_slope(d: FloatArray) -> FloatArray:
    def rate(u: FloatArray) -> FloatArray:
        lower = u - d[..., None]
        return np.asarray(2 * (ndtr(u) - ndtr(lower)) * _density(lower))

    return 2 * _expected(rate)


_CURVES: dict[str, Callable[[FloatArray], FloatArray]] = {
    "triangle": _triangle,
    "duo-trio": _duo_trio,
    "2-afc": _two_choice,
    "3-afc": _three_choice,
    "tetrad": _tetrad,
}
_SLOPES: dict[str, Callable[[FloatArray], FloatArray]] = {
    "triangle": _triangle_slope,
    "duo-trio": _duo_trio_slope,
    "2-afc": _two_choice_slope,
    "3-afc": _three_choice_slope,
    "tetrad": _tetrad_slope,
}
