"""How many tasters a discrimination test needs, and what it can see with those at hand.

Power of an exact test is saw-toothed in the number of answers: one more answer can lower it,
because the count needed jumps. So every size comes twice: the first number that reaches the
power, and the stable one from which it is never lost again.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from twobowls.errors import InputError
from twobowls.statistics.binomial import at_least, at_most, largest_count, smallest_count
from twobowls.statistics.inputs import between, whole
from twobowls.statistics.psychometric import method

_MOST = 200_000

_Powers = Callable[[NDArray[np.int64]], NDArray[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialsNeeded:
    """How many answers reach the power asked for.

    ``first`` is the smallest number of answers whose power is reached, as printed in the
    standards; from ``stable`` on every number of answers reaches it. ``power_at_first`` and
    ``power_at_stable`` are the exact powers there.
    """

    first: int
    stable: int
    power_at_first: float
    power_at_stable: float


def power_of_difference(key: str, trials: int, discriminators: float, alpha: float = 0.05) -> float:
    """Return the chance that a discrimination test finds a difference.

    Parameters
    ----------
    key : str
        The method.
    trials : int
        Number of answers.
    discriminators : float
        Share of tasters who truly tell the coffees apart, 0 to 1 (for a d′ use
        ``psychometric.discriminators(key, proportion_correct(key, d))``).
    alpha : float
        Risk of finding a difference where there is none.

    Returns
    -------
    float
        0 where not even every answer right is enough.

    Raises
    ------
    InputError
        When the method is not known or a number is out of range.

    Examples
    --------
    >>> round(power_of_difference("triangle", 66, 0.30), 3)
    0.951
    """
    n = np.array([whole("trials", trials, 1, _MOST)])
    return float(_difference(key, discriminators, alpha)(n)[0])


def trials_for_difference(
    key: str, discriminators: float, *, alpha: float = 0.05, power: float = 0.90
) -> TrialsNeeded:
    """Return the number of answers a discrimination test needs.

    Parameters
    ----------
    key : str
        The method.
    discriminators : float
        Share of tasters who truly tell the coffees apart, above 0.
    alpha : float
        Risk of finding a difference where there is none.
    power : float
        Chance of finding the difference.

    Returns
    -------
    TrialsNeeded

    Raises
    ------
    InputError
        When the method is not known, a number is out of range, or no panel is large enough.

    Notes
    -----
    Exact binomial power. ISO 4120 and ISO 10399 print the first number.

    Examples
    --------
    >>> needed = trials_for_difference("triangle", 0.30, power=0.90)
    >>> needed.first, needed.stable
    (53, 57)
    """
    kind = method(key)
    share = kind.guess + between("discriminators", discriminators, 0, 1) * (1 - kind.guess)
    risk, chance = between("alpha", alpha, 0, 1), between("power", power, 0, 1)
    rough = _rough(kind.guess, share, risk, chance)
    return _needed(_difference(key, discriminators, risk), chance, rough)


def power_of_preference(trials: int, share: float, alpha: float = 0.05) -> float:
    """Return the chance that a two-sided paired comparison finds a preference.

    Parameters
    ----------
    trials : int
        Number of answers.
    share : float
        Share of people who would choose the one coffee, 0 to 1.
    alpha : float
        Two-sided risk.

    Returns
    -------
    float

    Raises
    ------
    InputError
        When a number is out of range.

    Examples
    --------
    >>> round(power_of_preference(60, 0.7), 3)
    0.838
    """
    n = np.array([whole("trials", trials, 1, _MOST)])
    return float(_preference(share, alpha)(n)[0])


def trials_for_preference(
    share: float, *, alpha: float = 0.05, power: float = 0.90
) -> TrialsNeeded:
    """Return the number of answers a two-sided paired comparison needs.

    Parameters
    ----------
    share : float
        Share of people who would choose the one coffee; not one half.
    alpha : float
        Two-sided risk.
    power : float
        Chance of finding the preference.

    Returns
    -------
    TrialsNeeded

    Raises
    ------
    InputError
        When a number is out of range or no panel is large enough.

    Examples
    --------
    >>> trials_for_preference(0.7, power=0.80).first
    49
    """
    p = between("share", share, 0, 1)
    if p == 0.5:
        raise InputError("share", "0.5 is no preference", "Give a share above or below one half")
    risk, chance = between("alpha", alpha, 0, 1), between("power", power, 0, 1)
    rough = _rough(0.5, max(p, 1 - p), risk / 2, chance)
    return _needed(_preference(p, risk), chance, rough)


def trials_for_similarity(
    key: str, limit: float, *, beta: float = 0.05, power: float = 0.90, truth: float = 0.0
) -> TrialsNeeded:
    """Return the number of answers a test for similarity needs.

    Parameters
    ----------
    key : str
        The method.
    limit : float
        The share of discriminators one is not willing to miss.
    beta : float
        Risk of calling the coffees similar when that share can tell them apart.
    power : float
        Chance of calling them similar when the share is ``truth``.
    truth : float
        The true share of discriminators, under ``limit``; 0 for equal coffees.

    Returns
    -------
    TrialsNeeded

    Raises
    ------
    InputError
        When the method is not known, a number is out of range, or no panel is large enough.

    Examples
    --------
    >>> trials_for_similarity("triangle", 0.30, beta=0.05, power=0.90).first
    54
    """
    guess = method(key).guess
    top = between("limit", limit, 0, 1)
    low = between("truth", truth, 0, top, ends=True)
    if low == top:
        raise InputError("truth", f"{low:g} is the limit itself", "Give a share under the limit")
    risk, chance = between("beta", beta, 0, 1), between("power", power, 0, 1)
    at_limit, at_truth = (guess + share * (1 - guess) for share in (top, low))

    def powers(n: NDArray[np.int64]) -> NDArray[np.float64]:
        most = largest_count(n, at_limit, risk)
        return np.where(most < 0, 0.0, at_most(most, n, at_truth))

    return _needed(powers, chance, _rough(at_truth, at_limit, 1 - chance, 1 - risk))


def _difference(key: str, discriminators: float, alpha: float) -> _Powers:
    guess = method(key).guess
    gain = between("discriminators", discriminators, 0, 1, ends=True)
    risk = between("alpha", alpha, 0, 1)

    def powers(n: NDArray[np.int64]) -> NDArray[np.float64]:
        count = smallest_count(n, guess, risk)
        return np.where(count < 0, 0.0, at_least(count, n, guess + gain * (1 - guess)))

    return powers


def _preference(share: float, alpha: float) -> _Powers:
    p = between("share", share, 0, 1, ends=True)
    risk = between("alpha", alpha, 0, 1)

    def powers(n: NDArray[np.int64]) -> NDArray[np.float64]:
        count = smallest_count(n, 0.5, risk / 2)
        both = at_least(count, n, p) + at_least(count, n, 1 - p)
        return np.where(count < 0, 0.0, both)

    return powers


def _rough(low: float, high: float, alpha: float, power: float) -> float:
    """Return the number of trials by the normal approximation, to know how far to look."""
    top = max(ndtri(1 - alpha), 0.0) * (low * (1 - low)) ** 0.5
    other = max(ndtri(power), 0.0) * (high * (1 - high)) ** 0.5
    return float((top + other) / (high - low)) ** 2


def _needed(powers: _Powers, power: float, rough: float) -> TrialsNeeded:
    # Half as many again and 150 more lie beyond the last tooth of the saw: its teeth are at most
    # as wide as the trials a count takes, and the margin is many teeth.
    last = int(1.5 * rough) + 150
    if last > _MOST:
        raise InputError(
            "discriminators",
            "the effect is so small that no panel would be large enough",
            "Give a larger effect, or accept a higher risk",
        )
    trials = np.arange(1, last + 1)
    reached = powers(trials)
    enough = reached >= power
    first = int(np.argmax(enough))
    failing = np.flatnonzero(~enough)
    stable = int(failing[-1]) + 1 if failing.size else 0
    if not enough.any() or stable >= last:
        raise InputError(
            "power", f"{power:g} is not reached with {last} answers", "Accept a lower power"
        )
    return TrialsNeeded(
        first=int(trials[first]),
        stable=int(trials[stable]),
        power_at_first=float(reached[first]),
        power_at_stable=float(reached[stable]),
    )
