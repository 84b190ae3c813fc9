"""Does one taster's marking tell coffees apart: an analysis of variance of a single taster.

Marks of one taster on one scale; repeats and rounds give the error. Knows no other taster.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import expit, fdtrc, fdtri, gammaincinv

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.intervals import Interval

_TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Discriminating:
    """How well a taster's marks tell coffees apart.

    ``f`` compares the coffees with the taster's own error, on ``df`` degrees of freedom, with
    its ``p_value``. ``signal`` is the share of the variance of a single mark that is the
    coffee's (0 to 1). ``probability`` is the posterior probability that the marks follow the
    coffees at all, from even odds and a share of signal that may be anything from 0 to 1.
    """

    f: float
    df: tuple[int, int]
    p_value: float
    signal: Interval
    probability: float


def repeatability(marks: FloatArray, cells: IntArray, level: float) -> tuple[Interval, int] | None:
    """Return the standard deviation between hidden repeats, and its degrees of freedom.

    Parameters
    ----------
    marks : ndarray, shape (n,)
        Marks of one taster.
    cells : ndarray of int, shape (n,)
        Which coffee in which round; the same number means a hidden repeat.
    level : float
        Coverage of the chi-squared interval.

    Returns
    -------
    (Interval, int) or None
        On the scale of the marks; None without repeats.

    Notes
    -----
    The pooled standard deviation within cells, as in ISO 11132; limits from the chi-squared
    distribution of its square.

    Examples
    --------
    >>> sd, df = repeatability(np.array([40.0, 46, 70, 70]), np.array([0, 0, 1, 1]), 0.90)
    >>> print(f"{sd.estimate:.1f} ({sd.low:.1f} to {sd.high:.1f}) on {df}")
    3.0 (1.7 to 13.2) on 2
    """
    _, which, sizes = np.unique(cells, return_inverse=True, return_counts=True)
    df = int(marks.size - sizes.size)
    if df == 0:
        return None
    means = np.bincount(which, weights=marks) / sizes
    total = float(((marks - means[which]) ** 2).sum())
    tails = 2 * gammaincinv(df / 2, np.array([(1 + level) / 2, (1 - level) / 2]))
    low, high = np.sqrt(total / tails)
    return Interval((total / df) ** 0.5, float(low), float(high), level), df


def discriminating(
    marks: FloatArray, coffees: IntArray, rounds: IntArray, level: float
) -> Discriminating | None:
    """Return how well a taster's marks tell coffees apart.

    Parameters
    ----------
    marks : ndarray, shape (n,)
        Marks of one taster.
    coffees, rounds : ndarray of int, shape (n,)
        Which coffee and which round each mark belongs to.
    level : float
        Coverage of the interval of the signal.

    Returns
    -------
    Discriminating or None
        None with one coffee, or where nothing is left to measure the error by.

    Notes
    -----
    Marks are rounds plus coffees plus error, by least squares; the error holds repeats and how
    a coffee changes over the rounds for this taster. With ``n0`` the effective number of marks
    a coffee, F over ``1 + n0 * signal / (1 - signal)`` has the F distribution, exactly when
    coffees are marked equally often; limits and the posterior probability come from there.

    Examples
    --------
    >>> marks = np.array([20.0, 26, 50, 44, 71, 70])
    >>> result = discriminating(marks, np.array([0, 0, 1, 1, 2, 2]), np.zeros(6, int), 0.90)
    >>> round(result.f, 1), result.df, round(result.probability, 2)
    (92.7, (2, 3), 0.93)
    """
    round_columns, coffee_columns = _indicators(rounds), _indicators(coffees)
    free = coffee_columns - round_columns @ np.linalg.pinv(round_columns) @ coffee_columns
    left = marks - round_columns @ np.linalg.pinv(round_columns) @ marks
    df = int(np.linalg.matrix_rank(free, tol=1e-8))
    fitted = free @ np.linalg.pinv(free, rcond=1e-10) @ left
    df_error = marks.size - np.linalg.matrix_rank(round_columns) - df
    if df < 1 or df_error < 1:
        return None
    effective = float((free**2).sum()) / df
    error = float(((left - fitted) ** 2).sum()) / df_error
    between = float((fitted**2).sum()) / df
    floor = _TINY * (1 + float(np.abs(marks).max()) ** 2)
    f = float(max(between, 0.0) / max(error, floor))
    return Discriminating(
        f=f,
        df=(df, int(df_error)),
        p_value=float(fdtrc(df, df_error, f)),
        signal=_signal(f, df, int(df_error), effective, level),
        probability=_probability(f, df, int(df_error), effective),
    )


def _indicators(labels: IntArray) -> FloatArray:
    return np.asarray(labels[:, None] == np.unique(labels)[None, :], dtype=float)


def _signal(f: float, df: int, df_error: int, effective: float, level: float) -> Interval:
    def share(ratio: float) -> float:
        signal = max(ratio - 1, 0.0) / effective
        return signal / (1 + signal)

    tail = (1 + level) / 2
    low = f / float(fdtri(df, df_error, tail))
    high = f * float(fdtri(df_error, df, tail))
    return Interval(share(f), share(low), share(high), level)


def _probability(f: float, df: int, df_error: int, effective: float) -> float:
    """Weigh "no signal" against a uniform share of signal, each with prior one half."""
    share, weights = _unit_nodes()
    spread = 1 + effective * share / (1 - share)
    top = np.log1p(df * f / df_error) - np.log1p(df * f / (df_error * spread))
    log_ratio = -0.5 * df * np.log(spread) + 0.5 * (df + df_error) * top
    peak = float(log_ratio.max())
    return float(expit(peak + np.log(weights @ np.exp(log_ratio - peak))))


@lru_cache(maxsize=1)
def _unit_nodes() -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(120)
    return (nodes + 1) / 2, weights / 2
