"""Do tasters order the coffees alike when nobody tasted them all: Skillings and Mack's test.

With equal blocks and no ties it is Durbin's test; with complete rows, Friedman's.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, fdtrc

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import whole
from twobowls.statistics.rank_permutations import doubled_ranks


@dataclass(frozen=True, slots=True, kw_only=True)
class IncompleteRankTest:
    """The result of a rank test on rows with gaps.

    ``standardised`` holds one number a coffee: how far its ranks lie above (positive) or below
    the middle of the rows it was in, in standard deviations under guessing. ``statistic`` has
    ``df`` degrees of freedom and the chi-squared ``p_value``; ``f`` with ``f_df`` and ``p_f``
    is the better approximation in small tables; ``p_shuffled`` the share of tables shuffled
    within tasters that are as extreme (None without a generator).
    """

    tasters: int
    standardised: tuple[float, ...]
    statistic: float
    df: int
    p_value: float
    f: float
    f_df: tuple[int, int]
    p_f: float
    p_shuffled: float | None


def incomplete_rank_test(
    table: ArrayLike, *, rng: np.random.Generator | None = None, draws: int = 9999
) -> IncompleteRankTest:
    """Test whether tasters order the coffees alike, each having tasted some of them.

    Parameters
    ----------
    table : array_like, shape (tasters, coffees)
        Scores or ranks, one row a taster, NaN where a coffee was not tasted. Rows with fewer
        than two coffees say nothing and are left out.
    rng : numpy.random.Generator or None
        Shuffle with this for ``p_shuffled``.
    draws : int
        Number of shuffled tables.

    Returns
    -------
    IncompleteRankTest

    Raises
    ------
    InputError
        When an entry is infinite or text, a coffee has no company, or the coffees fall into
        groups that no taster connects.

    Notes
    -----
    A row of k coffees adds ``sqrt(12 / (k+1)) * (rank - (k+1)/2)`` to each of its coffees; the
    statistic is the quadratic form of the sums in the inverse of their covariance under
    guessing, taken from the ranks of each row, ties included.

    References
    ----------
    Skillings & Mack 1981, Technometrics 23:171-177; Durbin 1951, British Journal of
    Psychology 4:85-90; Conover 1999, Practical Nonparametric Statistics (the F form).

    Examples
    --------
    >>> gap = float("nan")
    >>> rows = [[1, 2, gap], [gap, 1, 2], [1, gap, 2], [1, 2, gap], [gap, 1, 2], [1, gap, 2]]
    >>> result = incomplete_rank_test(rows)
    >>> round(result.statistic, 3), result.df
    (5.333, 2)
    """
    rows = _rows(table)
    present = ~np.isnan(rows)
    scores, inverse, rank = _scores(rows, present)
    off = scores.sum(axis=0)
    statistic = float(off @ inverse @ off)
    tasters, coffees = rows.shape
    if rank < coffees - 1:
        raise InputError(
            "table", "the coffees fall into groups that no taster connects", "Test each by itself"
        )
    room = int(present.sum()) - tasters
    f, f_df = _f(statistic, rank, room)
    sd = np.sqrt(np.diagonal(_covariance(scores, present)))
    return IncompleteRankTest(
        tasters=tasters,
        standardised=tuple(float(z) for z in off / sd),
        statistic=statistic,
        df=rank,
        p_value=float(chdtrc(rank, statistic)),
        f=f,
        f_df=f_df,
        p_f=float(fdtrc(*f_df, f)) if np.isfinite(f) and f_df[1] > 0 else 0.0,
        p_shuffled=None
        if rng is None
        else _shuffled(scores, present, inverse, statistic, whole("draws", draws, 99), rng),
    )


def _rows(table: ArrayLike) -> FloatArray:
    try:
        rows = np.asarray(table, dtype=float)
    except (TypeError, ValueError):
        raise InputError(
            "table", "not every entry is a number", "Give numbers, NaN for a gap, in equal rows"
        ) from None
    if rows.ndim != 2 or np.isinf(rows).any():
        raise InputError("table", "it is not a table of finite numbers", "Give a row a taster")
    rows = rows[(~np.isnan(rows)).sum(axis=1) >= 2]
    if len(rows) < 2:
        raise InputError(
            "table", "fewer than two tasters compared coffees", "Give two such rows or more"
        )
    alone = np.flatnonzero(np.isnan(rows).all(axis=0))
    if alone.size:
        raise InputError(
            "table",
            f"nobody compared coffee {alone[0] + 1} with another",
            "Leave that coffee out",
        )
    return np.asarray(rows)


def _scores(rows: FloatArray, present: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray, int]:
    """Return the weighted, centred ranks (0 in gaps), the inverse covariance and its rank."""
    scores = np.zeros_like(rows)
    for row, here, out in zip(rows, present, scores, strict=True):
        ranks = doubled_ranks(row[here][None, :])[0] / 2
        k = int(here.sum())
        out[here] = np.sqrt(12 / (k + 1)) * (ranks - (k + 1) / 2)
    if not scores.any():
        raise InputError(
            "table", "no taster told any two coffees apart", "There is nothing to test"
        )
    covariance = _covariance(scores, present)
    rank = int(np.linalg.matrix_rank(covariance, tol=1e-9 * np.abs(covariance).max()))
    inverse = np.linalg.pinv(covariance, rcond=1e-10, hermitian=True)
    return scores, np.asarray(inverse, dtype=np.float64), rank


def _covariance(scores: FloatArray, present: NDArray[np.bool_]) -> FloatArray:
    """Return the covariance of the sums when every order within a row is equally likely."""
    size = present.sum(axis=1)
    spread = (scores**2).sum(axis=1) / (size - 1)
    here = present.astype(float)
    return np.asarray(np.diag(spread @ here) - (here.T * (spread / size)) @ here)


def _f(statistic: float, df: int, room: int) -> tuple[float, tuple[int, int]]:
    f_df = (df, room - df)
    left = room - statistic
    if left < 1e-9 or f_df[1] < 1:
        return float("inf"), f_df
    return (statistic / df) / (left / f_df[1]), f_df


def _shuffled(
    scores: FloatArray,
    present: NDArray[np.bool_],
    inverse: FloatArray,
    seen: float,
    draws: int,
    rng: np.random.Generator,
) -> float:
    off = np.zeros((draws, scores.shape[1]))
    for row, here in zip(scores, present, strict=True):
        many = np.broadcast_to(row[here], (draws, int(here.sum())))
        off[:, here] += rng.permuted(many, axis=1)
    spreads = np.einsum("dc,ce,de->d", off, inverse, off)
    return float(((spreads >= seen - 1e-9).sum() + 1) / (draws + 1))
