"""Do tasters order the coffees alike: Friedman's test, Kendall's W and rank-sum contrasts.

Rank 1 is the lowest. Complete tables here; ``incomplete_ranks`` has the others, ``rank_trend``
the test of an order predicted beforehand.
"""

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, fdtrc, ndtr, ndtri

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, numbers, whole
from twobowls.statistics.multiplicity import holm
from twobowls.statistics.rank_permutations import (
    chance_of_spread,
    doubled_ranks,
    shuffled_spreads,
)

HowP = Literal["exact", "shuffled", "F"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FriedmanTest:
    """The result of Friedman's test on ranks.

    ``statistic`` is corrected for ties, with ``df`` degrees of freedom and its chi-squared
    ``p_chi_squared``; ``f`` is Iman and Davenport's F with ``f_df`` and ``p_f``. ``p_value`` is
    the best of what was possible, ``how`` says which: the exact chance over all orders, the
    share of shuffled tables, or the F approximation. ``concordance`` is Kendall's W, 0 to 1,
    corrected for ties, ``mean_correlation`` the mean Spearman correlation of all pairs of
    tasters (NaN when only one told anything apart).
    """

    tasters: int
    rank_sums: tuple[float, ...]
    statistic: float
    df: int
    p_chi_squared: float
    f: float
    f_df: tuple[int, int]
    p_f: float
    p_value: float
    how: HowP
    concordance: float
    mean_correlation: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RankContrast:
    """Two columns compared by their rank sums.

    ``difference`` is the rank sum of column ``a`` minus that of ``b``. ``p_value`` is for this
    pair alone, ``p_holm`` for all pairs by Holm's steps, ``p_range`` for all pairs by the
    studentised range (Nemenyi).
    """

    a: int
    b: int
    difference: float
    p_value: float
    p_holm: float
    p_range: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RankContrasts:
    """All pairs of columns, and the least significant difference of two rank sums.

    ``least_difference`` is for one pair (ISO 8587), ``least_difference_all`` for all pairs at
    once; both at ``alpha``, two-sided, and without ties, as printed in tables.
    """

    alpha: float
    least_difference: float
    least_difference_all: float
    contrasts: tuple[RankContrast, ...]


def friedman_test(
    table: ArrayLike, *, rng: np.random.Generator | None = None, draws: int = 9999
) -> FriedmanTest:
    """Test whether tasters order the coffees alike.

    Parameters
    ----------
    table : array_like, shape (tasters, coffees)
        Scores or ranks, one row a taster; every row is ranked anew, ties get the mean rank.
    rng : numpy.random.Generator or None
        Where there are too many orders to go through, shuffle with this; without it the F
        approximation is used.
    draws : int
        Number of shuffled tables.

    Returns
    -------
    FriedmanTest

    Raises
    ------
    InputError
        When there is a gap, fewer than two tasters or coffees, or no taster told any two
        coffees apart.

    Notes
    -----
    With J tasters, p coffees and rank sums R: ``12 sum(R^2) / (J p (p+1)) - 3 J (p+1)``,
    divided by ``1 - sum(t^3 - t) / (J p (p^2 - 1))`` over groups of t ties. W is the statistic
    over J (p - 1); F is ``(J-1) S / (J (p-1) - S)``.

    References
    ----------
    Friedman 1937, JASA 32:675-701; Iman & Davenport 1980, Communications in Statistics
    A9:571-595; ISO 8587.

    Examples
    --------
    >>> result = friedman_test([[1, 2, 3], [1, 3, 2], [1, 2, 3], [2, 1, 3]])
    >>> result.rank_sums, round(result.p_value, 4), result.how
    ((5.0, 8.0, 11.0), 0.125, 'exact')
    """
    ranks = _ranked(table)
    tasters, coffees = ranks.shape
    statistic = _statistic(ranks)
    df = coffees - 1
    f, p_f = _iman_davenport(statistic, tasters, df)
    p_value, how = _best_p(ranks, p_f, rng, draws)
    w = statistic / (tasters * df)
    return FriedmanTest(
        tasters=tasters,
        rank_sums=_sums(ranks),
        statistic=statistic,
        df=df,
        p_chi_squared=float(chdtrc(df, statistic)),
        f=f,
        f_df=(df, df * (tasters - 1)),
        p_f=p_f,
        p_value=p_value,
        how=how,
        concordance=w,
        mean_correlation=_mean_correlation(ranks),
        cautions=_cautions(ranks),
    )


def rank_contrasts(table: ArrayLike, *, alpha: float = 0.05) -> RankContrasts:
    """Compare every two coffees by their rank sums.

    Parameters
    ----------
    table : array_like, shape (tasters, coffees)
        Scores or ranks, one row a taster.
    alpha : float
        Two-sided risk of the least differences.

    Returns
    -------
    RankContrasts
        Pairs in the order of the columns, counted from 0.

    Raises
    ------
    InputError
        As for ``friedman_test``; or when alpha is out of range.

    Notes
    -----
    Without ties the difference of two rank sums has variance ``J p (p+1) / 6``; with ties the
    variance within each row takes its place. Look at the overall test first.

    References
    ----------
    ISO 8587 (least significant difference of rank sums); Hollander & Wolfe 1999,
    Nonparametric Statistical Methods, section 7.3 (all pairs).

    Examples
    --------
    >>> result = rank_contrasts([[1, 2, 3, 4]] * 10 + [[1, 2, 4, 3]] * 2)
    >>> round(result.least_difference, 2), result.contrasts[0].difference
    (12.4, -12.0)
    """
    ranks = _ranked(table)
    risk = between("alpha", alpha, 0, 1)
    tasters, coffees = ranks.shape
    spread = float(np.sqrt(2 * (ranks / 2).var(axis=1, ddof=1).sum()))
    untied = float(np.sqrt(tasters * coffees * (coffees + 1) / 6))
    sums = np.array(_sums(ranks))
    pairs = list(combinations(range(coffees), 2))
    z = np.array([sums[a] - sums[b] for a, b in pairs]) / spread
    alone = 2 * ndtr(-np.abs(z))
    together, quantile = _studentised_range(np.abs(z) * np.sqrt(2), coffees, risk)
    return RankContrasts(
        alpha=risk,
        least_difference=float(ndtri(1 - risk / 2)) * untied,
        least_difference_all=quantile / 2**0.5 * untied,
        contrasts=tuple(
            RankContrast(
                a=a,
                b=b,
                difference=float(sums[a] - sums[b]),
                p_value=float(p),
                p_holm=float(p_holm),
                p_range=float(p_range),
            )
            for (a, b), p, p_holm, p_range in zip(pairs, alone, holm(alone), together, strict=True)
        ),
    )


def _ranked(table: ArrayLike) -> NDArray[np.int64]:
    scores = numbers("table", table, (None, None))
    if min(scores.shape) < 2:
        raise InputError(
            "table",
            f"{scores.shape[0]} × {scores.shape[1]} is too small",
            "Give two tasters and two coffees or more",
        )
    ranks = doubled_ranks(scores)
    if (ranks == ranks[:, :1]).all():
        raise InputError(
            "table", "no taster told any two coffees apart", "There is nothing to test"
        )
    return ranks


def _sums(ranks: NDArray[np.int64]) -> tuple[float, ...]:
    return tuple(float(total) / 2 for total in ranks.sum(axis=0))


def _statistic(ranks: NDArray[np.int64]) -> float:
    """Return Friedman's statistic; the variances within rows carry the correction for ties."""
    halves = ranks / 2
    tasters, coffees = halves.shape
    off = halves.sum(axis=0) - tasters * (coffees + 1) / 2
    within = halves.var(axis=1).sum()
    return float((coffees - 1) * (off @ off) / (coffees * within))


def _mean_correlation(ranks: NDArray[np.int64]) -> float:
    """Return the mean Spearman correlation of all pairs of tasters who told anything apart."""
    off = ranks - ranks.mean(axis=1, keepdims=True)
    length = np.sqrt((off**2).sum(axis=1))
    unit = off[length > 0] / length[length > 0, None]
    count = len(unit)
    if count < 2:
        return float("nan")
    return float(((unit.sum(axis=0) ** 2).sum() - count) / (count * (count - 1)))


def _iman_davenport(statistic: float, tasters: int, df: int) -> tuple[float, float]:
    room = tasters * df - statistic
    if room < 1e-9:  # all tasters agree on everything
        return float("inf"), 0.0
    f = (tasters - 1) * statistic / room
    return f, float(fdtrc(df, df * (tasters - 1), f))


def _best_p(
    ranks: NDArray[np.int64], p_f: float, rng: np.random.Generator | None, draws: int
) -> tuple[float, HowP]:
    exact = chance_of_spread(ranks)
    if exact is not None:
        return exact, "exact"
    if rng is None:
        return p_f, "F"
    count = whole("draws", draws, 99)
    seen = (ranks.sum(axis=0) ** 2).sum()
    beyond = int((shuffled_spreads(ranks, count, rng) >= seen).sum())
    return (beyond + 1) / (count + 1), "shuffled"


def _studentised_range(q: FloatArray, columns: int, alpha: float) -> tuple[FloatArray, float]:
    from scipy.stats import studentized_range

    tails = studentized_range.sf(q, columns, np.inf)
    return np.clip(tails, 0, 1), float(studentized_range.isf(alpha, columns, np.inf))


def _cautions(ranks: NDArray[np.int64]) -> tuple[str, ...]:
    idle = int((ranks == ranks[:, :1]).all(axis=1).sum())
    texts = []
    if idle:
        texts.append(f"{idle} of {count_of(len(ranks), 'taster')} told no two coffees apart.")
    return tuple(texts)
