"""How far tasters agree: intraclass correlations, and the likeness of two tables (RV).

Tables are complete: rows are coffees, columns are tasters (or sensations). Knows no tasting.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc, fdtri

from twobowls.counting import count_of, counts_are
from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, numbers, whole
from twobowls.statistics.intervals import Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class IntraclassCorrelations:
    """The six intraclass correlations of Shrout and Fleiss, with F-based intervals.

    ``single_*`` is the reliability of one taster's mark, ``mean_*`` that of the mean of all
    tasters. ``*_one_way``: tasters are not told apart; ``*_random``: tasters are a sample and
    their levels count as disagreement; ``*_fixed``: these tasters only, levels set aside.
    ``coffees``, ``tasters``, ``within`` and ``residual`` are mean squares; ``p_value`` is that
    of the coffees' F against the residual.
    """

    single_one_way: Interval
    single_random: Interval
    single_fixed: Interval
    mean_one_way: Interval
    mean_random: Interval
    mean_fixed: Interval
    coffees: float
    tasters: float
    within: float
    residual: float
    p_value: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLikeness:
    """The RV coefficient of two tables with the same rows.

    ``rv`` is 0 for unrelated, 1 for the same map up to turning and size. By chance alone it is
    ``expected``, more than 0 in small tables; ``standardised`` is the distance from there in
    standard deviations. ``p_value`` is the share of shuffled rows with an RV as high.
    """

    rv: float
    expected: float
    standardised: float
    p_value: float
    draws: int


def intraclass_correlations(table: ArrayLike, *, level: float = 0.90) -> IntraclassCorrelations:
    """Return how reliable the marks are, in the six forms of Shrout and Fleiss.

    Parameters
    ----------
    table : array_like, shape (coffees, tasters)
        Marks, complete; two coffees and two tasters or more.
    level : float
        Coverage of the intervals.

    Returns
    -------
    IntraclassCorrelations

    Raises
    ------
    InputError
        When there is a gap, the table is too small, all marks are equal, or the coffees' means
        are: their reliability has no lower end.

    Notes
    -----
    From the mean squares of a two-way table. The interval of the random form uses the
    Satterthwaite degrees of freedom of the paper. A negative estimate means less agreement
    than chance would give; it is not cut at 0.

    References
    ----------
    Shrout & Fleiss 1979, Psychological Bulletin 86:420-428.

    Examples
    --------
    >>> rows = "9 2 5 8/6 1 3 2/8 4 6 8/7 1 2 6/10 5 6 9/6 2 4 7".split("/")
    >>> marks = [[float(mark) for mark in row.split()] for row in rows]
    >>> icc = intraclass_correlations(marks)
    >>> [round(v.estimate, 2) for v in (icc.single_one_way, icc.single_random, icc.single_fixed)]
    [0.17, 0.29, 0.71]
    """
    marks = numbers("table", table, (None, None))
    between("level", level, 0, 1)
    n, k = marks.shape
    if min(n, k) < 2:
        raise InputError(
            "table", f"{n} × {k} is too small", "Give two coffees and two tasters or more"
        )
    squares = _mean_squares(marks)
    if squares["coffees"] + squares["residual"] <= 1e-12 * (1 + np.abs(marks).max() ** 2):
        raise InputError("table", "no mark differs between coffees", "There is nothing to compare")
    if squares["coffees"] <= 1e-12 * squares["residual"]:
        raise InputError(
            "table", "the means of all coffees are alike", "There is nothing for marks to agree on"
        )
    one_way = _from_f(squares["coffees"], squares["within"], n, n * (k - 1), k, level)
    fixed = _from_f(squares["coffees"], squares["residual"], n, (n - 1) * (k - 1), k, level)
    random = _random(squares, n, k, level)
    f = squares["coffees"] / squares["residual"] if squares["residual"] > 0 else np.inf
    few = "Fewer than five coffees: the intervals are wide, and rightly so."
    return IntraclassCorrelations(
        single_one_way=one_way,
        single_random=random,
        single_fixed=fixed,
        mean_one_way=_of_mean(one_way, k),
        mean_random=_of_mean(random, k),
        mean_fixed=_of_mean(fixed, k),
        p_value=float(fdtrc(n - 1, (n - 1) * (k - 1), f)) if np.isfinite(f) else 0.0,
        cautions=(few,) * (n < 5),
        **squares,
    )


def rv_coefficient(
    x: ArrayLike,
    y: ArrayLike,
    rng: np.random.Generator,
    *,
    draws: int = 999,
    standardise: bool = False,
) -> TableLikeness:
    """Return how alike two tables lay out the same coffees.

    Parameters
    ----------
    x : array_like, shape (coffees, p)
        One taster's (or round's) marks: coffees by sensations.
    y : array_like, shape (coffees, q)
        Another's, with the coffees in the same order; q may differ from p.
    rng : numpy.random.Generator
        For the shuffled rows.
    draws : int
        Number of shuffles.
    standardise : bool
        Give every column variance 1 first; otherwise columns are only centred.

    Returns
    -------
    TableLikeness

    Raises
    ------
    InputError
        When there is a gap, the rows do not match, there are fewer than four, or a table (or a
        column, with ``standardise``) is constant.

    Notes
    -----
    ``tr(XX'YY') / sqrt(tr((XX')^2) tr((YY')^2))``. Expectation and variance over all shuffles
    are exact (Kazi-Aoual, Hitier, Sabatier & Lebreton 1995).

    References
    ----------
    Robert & Escoufier 1976, Applied Statistics 25:257-265; Josse, Pagès & Husson 2008,
    Computational Statistics & Data Analysis 53:82-91.

    Examples
    --------
    >>> x = [[1, 2], [2, 1], [3, 5], [4, 4], [5, 7]]
    >>> likeness = rv_coefficient(x, [[2], [3], [4], [5], [6]], np.random.default_rng(1))
    >>> round(likeness.rv, 3)
    0.869
    """
    one = _centred("x", x, standardise)
    other = _centred("y", y, standardise)
    if len(one) != len(other):
        raise InputError(
            "y", f"it has {count_of(len(other), 'row')}, x has {len(one)}", "Give the same coffees"
        )
    count = whole("draws", draws, 99)
    a, b = one @ one.T, other @ other.T
    a, b = a / np.linalg.norm(a), b / np.linalg.norm(b)
    rv = float((a * b).sum())
    mean, variance = _moments(a, b)
    orders = rng.permuted(np.tile(np.arange(len(a)), (count, 1)), axis=1)
    shuffled = [float((a * b[np.ix_(order, order)]).sum()) for order in orders]
    beyond = int((np.array(shuffled) >= rv - 1e-12).sum())
    return TableLikeness(
        rv=rv,
        expected=mean,
        standardised=(rv - mean) / variance**0.5,
        p_value=(beyond + 1) / (count + 1),
        draws=count,
    )


def _mean_squares(marks: FloatArray) -> dict[str, float]:
    n, k = marks.shape
    rows, columns, grand = marks.mean(axis=1), marks.mean(axis=0), marks.mean()
    residual = marks - rows[:, None] - columns[None, :] + grand
    return {
        "coffees": float(k * ((rows - grand) ** 2).sum() / (n - 1)),
        "tasters": float(n * ((columns - grand) ** 2).sum() / (k - 1)),
        "within": float(((marks - rows[:, None]) ** 2).sum() / (n * (k - 1))),
        "residual": float((residual**2).sum() / ((n - 1) * (k - 1))),
    }


def _from_f(top: float, bottom: float, n: int, df: int, k: int, level: float) -> Interval:
    """Return ``(F - 1) / (F + k - 1)`` at F and at its confidence limits."""
    if bottom <= 0:
        return Interval(1.0, 1.0, 1.0, level)
    tail = (1 + level) / 2
    f = top / bottom
    low = f / float(fdtri(n - 1, df, tail))
    high = f * float(fdtri(df, n - 1, tail))
    estimate, lower, upper = ((v - 1) / (v + k - 1) for v in (f, low, high))
    return Interval(estimate, lower, upper, level)


def _random(squares: dict[str, float], n: int, k: int, level: float) -> Interval:
    b, j, e = squares["coffees"], squares["tasters"], squares["residual"]
    icc = (b - e) / (b + (k - 1) * e + k * (j - e) / n)
    if e <= 0:
        return Interval(icc, 0.0, 1.0, level)  # no residual, so no degrees of freedom to go by
    spread = n * (1 + (k - 1) * icc) - k * icc
    df = ((k - 1) * (n - 1) * (k * icc * j / e + spread) ** 2) / (
        (n - 1) * (k * icc * j / e) ** 2 + spread**2
    )
    up = float(fdtri(n - 1, df, (1 + level) / 2))
    down = float(fdtri(df, n - 1, (1 + level) / 2))
    rest = k * j + (k * n - k - n) * e
    low = n * (b - up * e) / (up * rest + n * b)
    high = n * (down * b - e) / (rest + n * down * b)
    return Interval(icc, low, high, level)


def _of_mean(single: Interval, k: int) -> Interval:
    """Step a single taster's reliability up to that of the mean (Spearman-Brown)."""
    each = (single.estimate, single.low, single.high)
    estimate, low, high = (k * v / (1 + (k - 1) * v) for v in each)
    return Interval(estimate, low, high, single.level)


def _centred(field: str, values: ArrayLike, standardise: bool) -> FloatArray:
    table = numbers(field, values, (None, None))
    if len(table) < 4:
        raise InputError(
            field, f"{counts_are(len(table), 'row')} too few", "Give four coffees or more"
        )
    off = table - table.mean(axis=0)
    if standardise:
        spread = off.std(axis=0)
        if (spread <= 1e-12 * (1 + np.abs(table).max())).any():
            raise InputError(field, "a column is constant", "Leave that column out")
        off = off / spread
    if np.abs(off).max() <= 1e-12 * (1 + np.abs(table).max()):
        raise InputError(field, "all rows are the same", "There is no layout to compare")
    return np.asarray(off)


def _moments(a: FloatArray, b: FloatArray) -> tuple[float, float]:
    """Return mean and variance of the RV over all shuffles; ``a`` and ``b`` have norm 1."""
    n = len(a)
    beta_a, beta_b = float(np.trace(a)) ** 2, float(np.trace(b)) ** 2
    mean = (beta_a * beta_b) ** 0.5 / (n - 1)
    skew = _shape(a, beta_a) * _shape(b, beta_b)
    variance = 2 * (n - 1 - beta_a) * (n - 1 - beta_b) / ((n + 1) * (n - 1) ** 2 * (n - 2))
    return mean, max(variance * (1 + (n - 3) / (2 * n * (n - 1)) * skew), 1e-300)


def _shape(a: FloatArray, beta: float) -> float:
    n = len(a)
    room = (n - 3) * (n - 1 - beta)
    if room <= 1e-12:
        return 0.0
    fourth = float((np.diagonal(a) ** 2).sum())
    return (n - 1) / room * (n * (n + 1) * fourth - (n - 1) * (beta + 2))
