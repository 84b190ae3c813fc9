"""One number with its interval, and the exact interval of a share."""

from dataclasses import dataclass

from scipy.special import betaincinv, gammaincinv

from twobowls.statistics.inputs import between, whole


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate and its interval at a level (0.90: nine in ten such intervals hold the truth).

    Units are those of the number described. ``low`` and ``high`` may be infinite where the
    data put no bound on that side.
    """

    estimate: float
    low: float
    high: float
    level: float

    def __contains__(self, value: float) -> bool:
        """Return whether the value lies in the interval, ends included."""
        return self.low <= value <= self.high


def exact_share(successes: int, trials: int, level: float = 0.90) -> Interval:
    """Return a share with its exact (Clopper-Pearson) interval.

    Parameters
    ----------
    successes, trials : int
        How many of how many; ``0 <= successes <= trials``, ``trials >= 1``.
    level : float
        Coverage of the two-sided interval, between 0 and 1.

    Returns
    -------
    Interval
        On the scale of shares, 0 to 1.

    Raises
    ------
    InputError
        When a count or the level is out of range.

    Notes
    -----
    Clopper & Pearson 1934, through quantiles of the beta distribution. Coverage is never under
    the level; it is over it for most true shares.

    Examples
    --------
    >>> share = exact_share(7, 10, 0.95)
    >>> print(f"{share.estimate:.2f} ({share.low:.4f} to {share.high:.4f})")
    0.70 (0.3475 to 0.9333)
    """
    n = whole("trials", trials, 1)
    k = whole("successes", successes, 0, n)
    tail = (1 - between("level", level, 0, 1)) / 2
    low = float(betaincinv(k, n - k + 1, tail)) if k > 0 else 0.0
    return Interval(k / n, low, exact_upper(k, n, tail), level)


def exact_upper(successes: int, trials: int, risk: float) -> float:
    """Return the exact one-sided upper limit of a share.

    Parameters
    ----------
    successes, trials : int
        How many of how many.
    risk : float
        Of the share lying above, between 0 and 1.

    Returns
    -------
    float
        The share at which so few successes or fewer have a chance of ``risk``.

    Examples
    --------
    >>> round(exact_upper(0, 10, 0.05), 4) == round(1 - 0.05 ** 0.1, 4)
    True
    """
    if successes >= trials:
        return 1.0
    return float(betaincinv(successes + 1, trials - successes, 1 - risk))


def chi_square_quantile(probability: float, df: float) -> float:
    """Return a quantile of the chi-squared distribution, without the cost of ``scipy.stats``.

    Parameters
    ----------
    probability : float
        Between 0 and 1.
    df : float
        Degrees of freedom, above 0.

    Returns
    -------
    float

    Examples
    --------
    >>> round(chi_square_quantile(0.95, 3), 3)
    7.815
    """
    return float(2 * gammaincinv(df / 2, probability))
