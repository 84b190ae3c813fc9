"""How many right answers it takes: the counts printed at the back of the standards.

Computed, not copied: the smallest count whose chance under guessing is at most alpha.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import SupportsInt

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.binomial import largest_count, smallest_count
from twobowls.statistics.inputs import between, whole
from twobowls.statistics.psychometric import method

_MOST = 100_000


@dataclass(frozen=True, slots=True)
class CountTable:
    """Counts by number of trials (rows) and risk (columns); None where no count will do."""

    method: str
    trials: tuple[int, ...]
    risks: tuple[float, ...]
    counts: tuple[tuple[int | None, ...], ...]

    def rows(self) -> list[dict[str, int | None]]:
        """Return the table as one record a number of trials, ready for a data frame.

        Returns
        -------
        list of dict
            Keys ``trials`` and the risks as text.

        Examples
        --------
        >>> minimum_correct_table("triangle", [5, 6], [0.05, 0.001]).rows()
        [{'trials': 5, '0.05': 4, '0.001': None}, {'trials': 6, '0.05': 5, '0.001': None}]
        """
        heads = [f"{risk:g}" for risk in self.risks]
        return [
            {"trials": n, **dict(zip(heads, row, strict=True))}
            for n, row in zip(self.trials, self.counts, strict=True)
        ]

    def __str__(self) -> str:
        """Return the table as text, a hyphen where no count will do."""
        lines = ["trials " + " ".join(f"{risk:>6g}" for risk in self.risks)]
        for n, row in zip(self.trials, self.counts, strict=True):
            cells = " ".join(f"{'-' if count is None else count:>6}" for count in row)
            lines.append(f"{n:>6} {cells}")
        return "\n".join(lines)


def minimum_correct(key: str, trials: int, alpha: float = 0.05) -> int | None:
    """Return the smallest number of right answers that shows a difference.

    Parameters
    ----------
    key : str
        The method: ``triangle``, ``duo-trio``, ``2-afc`` (paired, one-sided), ``3-afc`` or
        ``tetrad``.
    trials : int
        Number of answers, 1 or more.
    alpha : float
        Risk of finding a difference where there is none, between 0 and 1.

    Returns
    -------
    int or None
        None when not even every answer right is enough: taste more.

    Raises
    ------
    InputError
        When the method is not known or a number is out of range.

    References
    ----------
    ISO 4120 (triangle), ISO 10399 (duo-trio), ISO 5495 (paired): table of minimum numbers.

    Examples
    --------
    >>> minimum_correct("triangle", 12)
    8
    >>> minimum_correct("duo-trio", 4) is None
    True
    """
    n = whole("trials", trials, 1, _MOST)
    return _or_none(smallest_count(n, method(key).guess, between("alpha", alpha, 0, 1)))


def minimum_agreeing(trials: int, alpha: float = 0.05) -> int | None:
    """Return the smallest majority that shows a preference in a two-sided paired comparison.

    Parameters
    ----------
    trials : int
        Number of answers, 1 or more.
    alpha : float
        Risk of finding a preference where there is none, between 0 and 1.

    Returns
    -------
    int or None
        None when not even a unanimous table is enough.

    Raises
    ------
    InputError
        When a number is out of range.

    References
    ----------
    ISO 5495, the two-sided table.

    Examples
    --------
    >>> minimum_agreeing(20)
    15
    """
    n = whole("trials", trials, 1, _MOST)
    return _or_none(smallest_count(n, 0.5, between("alpha", alpha, 0, 1) / 2))


def maximum_correct(key: str, trials: int, limit: float = 0.30, beta: float = 0.05) -> int | None:
    """Return the largest number of right answers that still shows similarity.

    Parameters
    ----------
    key : str
        The method.
    trials : int
        Number of answers, 1 or more.
    limit : float
        The share of true discriminators one is not willing to miss, between 0 and 1.
    beta : float
        Risk of calling the coffees similar when that share can tell them apart.

    Returns
    -------
    int or None
        None when not even a table without a right answer is enough.

    Raises
    ------
    InputError
        When the method is not known or a number is out of range.

    References
    ----------
    ISO 4120, ISO 10399: testing for similarity.

    Examples
    --------
    >>> maximum_correct("triangle", 60)
    25
    """
    n = whole("trials", trials, 1, _MOST)
    guess = method(key).guess
    share = guess + between("limit", limit, 0, 1) * (1 - guess)
    return _or_none(largest_count(n, share, between("beta", beta, 0, 1)))


def minimum_correct_table(
    key: str, trials: Iterable[int], alphas: Iterable[float] = (0.05, 0.01, 0.001)
) -> CountTable:
    """Return the table of minimum numbers of right answers.

    Parameters
    ----------
    key : str
        The method.
    trials : iterable of int
        Numbers of answers, one row each.
    alphas : iterable of float
        Risks, one column each.

    Returns
    -------
    CountTable
        None (a hyphen in print) where every answer right is not enough.

    Raises
    ------
    InputError
        When the method is not known or a number is out of range.

    Examples
    --------
    >>> print(minimum_correct_table("duo-trio", [6, 12]))
    trials   0.05   0.01  0.001
         6      6      -      -
        12     10     11     12
    """
    return _table(method(key).key, trials, alphas, method(key).guess, 1.0)


def minimum_agreeing_table(
    trials: Iterable[int], alphas: Iterable[float] = (0.05, 0.01, 0.001)
) -> CountTable:
    """Return the table of minimum majorities in a two-sided paired comparison.

    Parameters
    ----------
    trials : iterable of int
        Numbers of answers, one row each.
    alphas : iterable of float
        Two-sided risks, one column each.

    Returns
    -------
    CountTable

    Raises
    ------
    InputError
        When a number is out of range.

    Examples
    --------
    >>> print(minimum_agreeing_table([6, 12]))
    trials   0.05   0.01  0.001
         6      6      -      -
        12     10     11     12
    """
    return _table("paired, two-sided", trials, alphas, 0.5, 0.5)


def _table(
    name: str, trials: Iterable[int], alphas: Iterable[float], guess: float, tail: float
) -> CountTable:
    rows = tuple(whole("trials", n, 1, _MOST) for n in trials)
    risks = tuple(between("alphas", alpha, 0, 1) for alpha in alphas)
    if not rows or not risks:
        raise InputError(
            "trials" if not rows else "alphas", "the list is empty", "Give at least one number"
        )
    columns = [smallest_count(np.array(rows), guess, tail * risk) for risk in risks]
    return CountTable(
        name, rows, risks, tuple(tuple(map(_or_none, row)) for row in zip(*columns, strict=True))
    )


def _or_none(count: SupportsInt) -> int | None:
    return None if int(count) < 0 else int(count)
