"""A or not A: single bowls, each called "A" or "not A" after learning what A tastes like.

One answer a bowl; the bowls of both kinds are independent (one answer a taster, or all answers
of one taster). Knows no tasting; ``a_not_a_power`` says how many bowls are needed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, gammaln, log_ndtr, ndtri, xlog1py, xlogy

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, whole
from twobowls.statistics.intervals import Interval, chi_square_quantile, exact_share

_FARTHEST = 12.0  # no table of answers reaches a likelihood limit beyond this d′


@dataclass(frozen=True, slots=True, kw_only=True)
class ANotATest:
    """The result of an A-not-A test.

    ``hits`` is the share of A bowls called A, ``false_alarms`` the share of other bowls called
    A, each with an exact interval. ``p_value`` is Fisher's exact one-sided one. ``d_prime`` has
    a likelihood interval (negative: the kinds are mixed up); ``lean`` is the criterion c:
    positive when the taster is slow to say A. ``probability`` is the posterior probability
    that A bowls are called A more often, from flat priors.
    """

    hits: Interval
    false_alarms: Interval
    alpha: float
    p_value: float
    different: bool
    d_prime: Interval
    lean: float
    probability: float
    cautions: tuple[str, ...] = ()


def a_not_a_test(
    a_called_a: int,
    a_bowls: int,
    other_called_a: int,
    other_bowls: int,
    *,
    alpha: float = 0.05,
    level: float = 0.90,
) -> ANotATest:
    """Test whether bowls of A are called A more often than bowls of another coffee.

    Parameters
    ----------
    a_called_a, a_bowls : int
        Bowls of A that were called A, of all bowls of A.
    other_called_a, other_bowls : int
        Bowls of the other coffee that were called A, of all of them.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Coverage of the intervals.

    Returns
    -------
    ANotATest

    Raises
    ------
    InputError
        When a count or a level is out of range.

    Notes
    -----
    Equal-variance normal model: hits are ``Phi(d/2 - c)``, false alarms ``Phi(-d/2 - c)``. The
    interval of d′ holds every d′ whose profile deviance, over c, is within the chi-squared
    quantile. A share of 0 or 1 leaves d′ without a bound on that side; ``lean`` then uses half
    an answer more of each kind.

    References
    ----------
    ISO 8588; Macmillan & Creelman 2005, Detection Theory (d′, c and the half-answer rule).

    Examples
    --------
    >>> result = a_not_a_test(14, 20, 6, 20)
    >>> d = result.d_prime
    >>> print(f"{d.estimate:.2f} ({d.low:.2f} to {d.high:.2f}), p = {result.p_value:.3f}")
    1.05 (0.37 to 1.74), p = 0.013
    """
    n = (whole("a_bowls", a_bowls, 1), whole("other_bowls", other_bowls, 1))
    k = (
        whole("a_called_a", a_called_a, 0, n[0]),
        whole("other_called_a", other_called_a, 0, n[1]),
    )
    risk = between("alpha", alpha, 0, 1)
    p_value = _fisher(k, n)
    return ANotATest(
        hits=exact_share(k[0], n[0], level),
        false_alarms=exact_share(k[1], n[1], level),
        alpha=risk,
        p_value=p_value,
        different=p_value <= risk,
        d_prime=_d_prime(k, n, level),
        lean=_lean(k, n),
        probability=_probability(k, n),
        cautions=_cautions(k, n),
    )


def _fisher(k: tuple[int, int], n: tuple[int, int]) -> float:
    """Return the hypergeometric chance of so many hits or more, the margins fixed."""
    total = k[0] + k[1]
    hits = np.arange(max(0, total - n[1]), min(n[0], total) + 1)
    logs = _log_choose(n[0], hits) + _log_choose(n[1], total - hits)
    chances = np.exp(logs - logs.max())
    return float(chances[hits >= k[0]].sum() / chances.sum())


def _log_choose(n: int, k: NDArray[np.int64]) -> NDArray[np.float64]:
    return np.asarray(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1))


def _d_prime(k: tuple[int, int], n: tuple[int, int], level: float) -> Interval:
    hit, alarm = ndtri(k[0] / n[0]), ndtri(k[1] / n[1])
    same = k[0] * n[1] == k[1] * n[0]
    best = 0.0 if same else float(hit - alarm)
    inside = float(np.clip(best, -_FARTHEST, _FARTHEST))
    top = sum(
        float(xlogy(right, right / of) + xlog1py(of - right, -right / of))
        for right, of in zip(k, n, strict=True)
    )
    floor = top - chi_square_quantile(level, 1) / 2
    low, high = _edges(inside, lambda d: _profile(d, k, n) >= floor)
    return Interval(best, low, high, level)


def _edges(inside: float, kept: Callable[[FloatArray], NDArray[np.bool_]]) -> tuple[float, float]:
    """Find, on both sides at once, where the likelihood interval ends."""
    held, lost = np.full(2, inside), np.array([-_FARTHEST, _FARTHEST])
    unbounded = kept(lost)
    for _ in range(32):
        middle = (held + lost) / 2
        ok = kept(middle)
        held, lost = np.where(ok, middle, held), np.where(ok, lost, middle)
    low, high = np.where(unbounded, [-np.inf, np.inf], held)
    return float(low), float(high)


def _profile(d: FloatArray, k: tuple[int, int], n: tuple[int, int]) -> FloatArray:
    """Return the log-likelihood of each d′ at its best criterion.

    The likelihood is concave in c: Newton steps, kept inside a shrinking bracket.
    """
    low, high = np.full_like(d, -2 * _FARTHEST), np.full_like(d, 2 * _FARTHEST)
    c = np.zeros_like(d)
    for _ in range(60):
        slope, bend = _slope_and_bend(d, c, k, n)
        low, high = np.where(slope > 0, c, low), np.where(slope > 0, high, c)
        step = c - slope / np.minimum(bend, -1e-300)
        new = np.where((step >= low) & (step <= high), step, (low + high) / 2)
        if (np.abs(new - c) < 1e-9).all():
            break
        c = new
    return _log_likelihood(d, c, k, n)


def _terms(d: FloatArray, c: FloatArray) -> tuple[FloatArray, FloatArray]:
    said = np.stack([d / 2 - c, -d / 2 - c])
    return said, -said


def _log_likelihood(
    d: FloatArray, c: FloatArray, k: tuple[int, int], n: tuple[int, int]
) -> FloatArray:
    said, not_said = _terms(d, c)
    return np.asarray(k @ log_ndtr(said) + np.subtract(n, k) @ log_ndtr(not_said))


def _slope_and_bend(
    d: FloatArray, c: FloatArray, k: tuple[int, int], n: tuple[int, int]
) -> tuple[FloatArray, FloatArray]:
    """Return the first and second derivative of the log-likelihood in c."""
    said, not_said = _terms(d, c)
    rest = np.subtract(n, k)
    up, down = _mills(not_said), _mills(said)
    slope = rest @ up - k @ down
    bend = -rest @ (up * (not_said + up)) - k @ (down * (said + down))
    return np.asarray(slope), np.asarray(bend)


def _mills(x: FloatArray) -> FloatArray:
    """Return the derivative of ``log Phi``."""
    return np.asarray(np.exp(-0.5 * x * x - log_ndtr(x)) / np.sqrt(2 * np.pi))


def _lean(k: tuple[int, int], n: tuple[int, int]) -> float:
    extreme = any(count in (0, of) for count, of in zip(k, n, strict=True))
    spare = 0.5 if extreme else 0.0
    hit, alarm = (ndtri((count + spare) / (of + 2 * spare)) for count, of in zip(k, n, strict=True))
    return float(0.0 - (hit + alarm) / 2)


def _probability(k: tuple[int, int], n: tuple[int, int]) -> float:
    """Return the chance that the share of hits is the larger, both from uniform priors."""
    p, weights = _unit_nodes()
    a, b = k[0] + 1, n[0] - k[0] + 1
    density = np.exp(xlogy(a - 1, p) + xlog1py(b - 1, -p) - betaln(a, b))
    below = betainc(k[1] + 1, n[1] - k[1] + 1, p)
    return float(np.clip(weights @ (density * below), 0.0, 1.0))


@lru_cache(maxsize=1)
def _unit_nodes() -> tuple[FloatArray, FloatArray]:
    """Quadrature nodes and weights on (0, 1), enough for thousands of answers."""
    nodes, weights = np.polynomial.legendre.leggauss(400)
    return (nodes + 1) / 2, weights / 2


def _cautions(k: tuple[int, int], n: tuple[int, int]) -> tuple[str, ...]:
    texts = []
    if k[0] in (0, n[0]) or k[1] in (0, n[1]):
        texts.append("One kind of bowl always got the same answer: the size of d′ is open there.")
    if min(n) < 6:
        texts.append("Fewer than six bowls of a kind: only a very large difference can show.")
    return tuple(texts)
