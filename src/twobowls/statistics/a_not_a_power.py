"""How many bowls an A-not-A test needs, and what it can see with those at hand.

Exact for Fisher's one-sided test: the chances of all tables that are significant are added up.
"""

import numpy as np
from scipy.special import gammaln, ndtr, ndtri, xlog1py, xlogy

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.discrimination_power import TrialsNeeded
from twobowls.statistics.inputs import between, whole

_MOST = 500
_FARTHEST = 12.0  # the shares of "A" are 0 and 1 beyond, to the last digit


def power_of_a_not_a(
    a_bowls: int,
    d_prime: float,
    *,
    other_bowls: int | None = None,
    lean: float = 0.0,
    alpha: float = 0.05,
) -> float:
    """Return the chance that an A-not-A test finds a difference.

    Parameters
    ----------
    a_bowls : int
        Bowls of A, 1 to 500.
    d_prime : float
        The true distance between the coffees, from -12 to 12.
    other_bowls : int or None
        Bowls of the other coffee; as many as of A when None.
    lean : float
        The criterion c, from -12 to 12; 0 for tasters who favour neither answer.
    alpha : float
        One-sided risk of Fisher's exact test.

    Returns
    -------
    float

    Raises
    ------
    InputError
        When a number is out of range.

    Examples
    --------
    >>> round(power_of_a_not_a(20, 1.0), 2), round(power_of_a_not_a(30, 1.0, other_bowls=10), 2)
    (0.67, 0.59)
    """
    n = whole("a_bowls", a_bowls, 1, _MOST)
    m = n if other_bowls is None else whole("other_bowls", other_bowls, 1, _MOST)
    shares = _shares(d_prime, lean)
    return _power(n, m, shares, between("alpha", alpha, 0, 1))


def bowls_for_a_not_a(
    d_prime: float, *, lean: float = 0.0, alpha: float = 0.05, power: float = 0.80
) -> TrialsNeeded:
    """Return how many bowls of each kind an A-not-A test needs.

    Parameters
    ----------
    d_prime : float
        The distance between the coffees that should not be missed, above 0 and up to 12.
    lean : float
        The criterion c, from -12 to 12. A taster who nearly always gives one answer needs more.
    alpha : float
        One-sided risk of Fisher's exact test.
    power : float
        Chance of finding the difference.

    Returns
    -------
    TrialsNeeded
        Bowls of A, and as many of the other coffee.

    Raises
    ------
    InputError
        When a number is out of range, or more than 500 bowls of each kind would be needed.

    Examples
    --------
    >>> needed = bowls_for_a_not_a(0.6, power=0.80)
    >>> needed.first, needed.stable
    (60, 65)
    """
    between("d_prime", d_prime, 0, _FARTHEST, ends=True)
    shares, risk = _shares(d_prime, lean), between("alpha", alpha, 0, 1)
    chance = between("power", power, 0, 1)
    rough = _rough(shares, risk, chance)
    last = int(min(1.4 * rough + 40, _MOST))
    if rough > _MOST or _power(last, last, shares, risk) < chance:
        raise InputError(
            "d_prime",
            f"{d_prime:g} would take more than {_MOST} bowls of each coffee",
            "Give a larger distance, or accept a higher risk",
        )
    n = range(max(1, int(0.5 * rough) - 10), last + 1)
    powers = np.array([_power(each, each, shares, risk) for each in n])
    return _needed(np.array(n), powers, chance)


def _needed(n: np.ndarray, powers: FloatArray, chance: float) -> TrialsNeeded:
    enough = powers >= chance
    first = int(np.argmax(enough))
    failing = np.flatnonzero(~enough)
    stable = int(failing[-1]) + 1 if failing.size else 0
    return TrialsNeeded(
        first=int(n[first]),
        stable=int(n[stable]),
        power_at_first=float(powers[first]),
        power_at_stable=float(powers[stable]),
    )


def _shares(d_prime: float, lean: float) -> tuple[float, float]:
    """Return the chances that a bowl of A, and one of the other coffee, is called A."""
    d = between("d_prime", d_prime, -_FARTHEST, _FARTHEST, ends=True)
    c = between("lean", lean, -_FARTHEST, _FARTHEST, ends=True)
    return float(ndtr(d / 2 - c)), float(ndtr(-d / 2 - c))


def _rough(shares: tuple[float, float], alpha: float, power: float) -> float:
    """Return the bowls of each kind by the normal approximation, to know where to look.

    Fisher's test is more careful than that by about one bowl over the difference of the shares.
    """
    hit, alarm = shares
    gap, mean = hit - alarm, (hit + alarm) / 2
    if gap < 1e-6:
        return float("inf")
    top = max(ndtri(1 - alpha), 0.0) * (2 * mean * (1 - mean)) ** 0.5
    other = max(ndtri(power), 0.0) * (hit * (1 - hit) + alarm * (1 - alarm)) ** 0.5
    return float(((top + other) / gap) ** 2 + 2 / gap)


def _power(n: int, m: int, shares: tuple[float, float], alpha: float) -> float:
    """Add up the chances of all significant tables: totals called A down, hits across."""
    hits = np.arange(n + 1)
    alarms = np.arange(n + m + 1)[:, None] - hits
    possible = (alarms >= 0) & (alarms <= m)
    alarms = np.clip(alarms, 0, m)
    ways = np.where(possible, _log_choose(n, hits) + _log_choose(m, alarms), -np.inf)
    chances = np.exp(ways - ways.max(axis=1, keepdims=True))
    tails = np.cumsum(chances[:, ::-1], axis=1)[:, ::-1] / chances.sum(axis=1, keepdims=True)
    real = _binomial(n, shares[0])[hits] * _binomial(m, shares[1])[alarms]
    return float(real[possible & (tails <= alpha)].sum())


def _log_choose(n: int, k: np.ndarray) -> FloatArray:
    return np.asarray(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1))


def _binomial(n: int, share: float) -> FloatArray:
    k = np.arange(n + 1)
    return np.asarray(np.exp(_log_choose(n, k) + xlogy(k, share) + xlog1py(n - k, -share)))
