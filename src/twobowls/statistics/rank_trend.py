"""Did the tasters follow an order that was predicted beforehand: Page's test.

For training: solutions of known strength, or coffees whose order the host knows.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from twobowls.errors import InputError
from twobowls.statistics.inputs import numbers
from twobowls.statistics.rank_permutations import chance_of_trend, doubled_ranks


@dataclass(frozen=True, slots=True, kw_only=True)
class PageTest:
    """The result of Page's test of a predicted order.

    ``statistic`` is L, the sum of products of predicted ranks and rank sums, with its
    ``expected`` value and standard deviation ``sd`` (corrected for ties) when tasters only
    guess. ``p_normal`` is the one-sided normal chance, ``p_value`` the exact one where all
    orders can be gone through (``how``).
    """

    tasters: int
    statistic: float
    expected: float
    sd: float
    p_normal: float
    p_value: float
    how: Literal["exact", "normal"]


def page_test(table: ArrayLike, predicted: ArrayLike) -> PageTest:
    """Test whether tasters follow a predicted order, from low to high.

    Parameters
    ----------
    table : array_like, shape (tasters, coffees)
        Scores or ranks, one row a taster; every row is ranked anew, ties get the mean rank.
    predicted : array_like, shape (coffees,)
        Predicted scores or ranks of the columns; only their order counts.

    Returns
    -------
    PageTest

    Raises
    ------
    InputError
        When there is a gap, shapes do not match, there are fewer than two coffees, or nothing
        is predicted (all the same) or told apart.

    Notes
    -----
    Under guessing L has mean ``J p (p+1)^2 / 4`` and variance ``sum of the variances within
    rows times the variance of the predicted ranks times (p - 1)``. The exact chance leaves
    every taster's ties as they are.

    References
    ----------
    Page 1963, JASA 58:216-230; ISO 8587.

    Examples
    --------
    >>> result = page_test([[1, 2, 3], [1, 3, 2], [1, 2, 3]], [1, 2, 3])
    >>> result.statistic, round(result.p_value, 4)
    (41.0, 0.0324)
    """
    scores = numbers("table", table, (None, None))
    order = numbers("predicted", predicted, (scores.shape[1],))
    if scores.shape[1] < 2:
        raise InputError("table", "one coffee has no order", "Give two coffees or more")
    if (order == order[0]).all():
        raise InputError("predicted", "all are the same", "Predict which comes first")
    ranks, expected_ranks = doubled_ranks(scores), doubled_ranks(order[None, :])[0]
    if (ranks == ranks[:, :1]).all():
        raise InputError(
            "table", "no taster told any two coffees apart", "There is nothing to test"
        )
    tasters, coffees = ranks.shape
    statistic = float((ranks * expected_ranks).sum()) / 4
    mean = tasters * coffees * (coffees + 1) ** 2 / 4
    within = (ranks / 2).var(axis=1, ddof=1).sum()
    sd = float(np.sqrt(within * ((expected_ranks / 2).var() * coffees)))
    p_normal = float(ndtr(-(statistic - mean) / sd))
    exact = chance_of_trend(ranks, expected_ranks)
    return PageTest(
        tasters=tasters,
        statistic=statistic,
        expected=mean,
        sd=sd,
        p_normal=p_normal,
        p_value=p_normal if exact is None else exact,
        how="normal" if exact is None else "exact",
    )
