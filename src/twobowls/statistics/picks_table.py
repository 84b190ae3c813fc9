"""Picks counted: how often each of two coffees was picked, and how often neither.

Owns every message about bad picks. Knows nothing of models.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from twobowls.counting import entries_for
from twobowls.errors import InputError
from twobowls.statistics.doubtful_names import is_missing
from twobowls.statistics.inputs import counts

Codes = NDArray[np.int64]
Array = NDArray[np.float64]
SAME = "same"

__all__ = ["SAME", "PickTable", "count_picks", "tabulate_picks"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PickTable:
    """Picks among k coffees in m counted rows, one a taster and ordered pair.

    Attributes
    ----------
    coffees : tuple of str
        In order; codes below count from 0.
    tasters : tuple of str
        In order; empty when it is not known who picked.
    first, second : array (m,)
        The two coffees of the row, in the order they were put.
    taster : array (m,)
        Who picked; all zero when not known.
    for_first, for_second, same : array (m,)
        How often each answer was given.
    """

    coffees: tuple[str, ...]
    tasters: tuple[str, ...]
    first: Codes
    second: Codes
    taster: Codes
    for_first: Array
    for_second: Array
    same: Array

    @property
    def picks(self) -> int:
        """How many picks there are."""
        return int((self.for_first + self.for_second + self.same).sum())

    @property
    def wins(self) -> Array:
        """How often the row's coffee was picked over the column's, ties as half: (k, k).

        Examples
        --------
        >>> tabulate_picks(["A"], ["B"], [3], [1], [2]).wins
        array([[0., 4.],
               [2., 0.]])
        """
        out = np.zeros((len(self.coffees),) * 2)
        np.add.at(out, (self.first, self.second), self.for_first + 0.5 * self.same)
        np.add.at(out, (self.second, self.first), self.for_second + 0.5 * self.same)
        return out


def count_picks(
    a: Sequence[str],
    b: Sequence[str],
    answer: Sequence[str],
    tasters: Sequence[str] | None = None,
) -> PickTable:
    """Count single picks.

    Parameters
    ----------
    a, b : sequence of str (n,)
        The two coffees put before the taster.
    answer : sequence of str (n,)
        The coffee picked, or ``"same"``.
    tasters : sequence of str (n,), optional
        Who picked; needed to allow for one taster's picks being alike.

    Returns
    -------
    PickTable

    Raises
    ------
    InputError
        When columns differ in length, a pair is of one coffee, or an answer is not in it.

    Examples
    --------
    >>> table = count_picks(["A", "A", "B"], ["B", "B", "A"], ["A", "same", "A"])
    >>> table.wins
    array([[0. , 2.5],
           [0.5, 0. ]])
    """
    a, b, answer = list(a), list(b), list(answer)
    rows = len(answer)
    columns = {"a": a, "b": b, "answer": answer}
    if tasters is not None:
        columns["tasters"] = list(tasters)
    for name, column in columns.items():
        if len(column) != rows:
            raise InputError(
                name, entries_for(len(column), rows, "answer"), "Give one entry for every pick"
            )
    if SAME in a or SAME in b:
        raise InputError(
            "picks", f'A coffee is called "{SAME}", which means a tie', "Give it another name"
        )
    for row, (one, other, picked) in enumerate(zip(a, b, answer, strict=True)):
        if picked not in (one, other, SAME):
            raise InputError(
                "answer",
                f'pick {row + 1} is of "{one}" and "{other}", and "{picked}" is neither',
                f'Give one of the two, or "{SAME}"',
            )
    picked_a = [float(picked == one) for one, picked in zip(a, answer, strict=True)]
    picked_b = [float(picked == other) for other, picked in zip(b, answer, strict=True)]
    ties = [float(picked == SAME) for picked in answer]
    return tabulate_picks(a, b, picked_a, picked_b, ties, tasters)


def tabulate_picks(
    a: Sequence[str],
    b: Sequence[str],
    for_a: ArrayLike,
    for_b: ArrayLike,
    same: ArrayLike | None = None,
    tasters: Sequence[str] | None = None,
) -> PickTable:
    """Take picks that are counted already, one row a pair (or a taster and pair).

    Parameters
    ----------
    a, b : sequence of str (n,)
        The two coffees of each row.
    for_a, for_b : array (n,)
        How often each was picked.
    same : array (n,), optional
        How often neither was.
    tasters : sequence of str (n,), optional
        Who picked.

    Returns
    -------
    PickTable
        Rows of the same taster and ordered pair are added up; empty rows are left out.

    Raises
    ------
    InputError
        When the columns do not fit together or there is not one pick.

    Examples
    --------
    >>> tabulate_picks(["A", "A"], ["B", "C"], [3, 4], [1, 0], [0, 2]).picks
    10
    """
    a, b = list(a), list(b)
    tasters = None if tasters is None else list(tasters)
    rows = len(a)
    if len(b) != rows:
        raise InputError("b", entries_for(len(b), rows, "row"), "Give one coffee for every row")
    if not rows:
        raise InputError("picks", "There is not one pick", "Give at least one")
    numbers = [counts("for_a", for_a, (rows,)), counts("for_b", for_b, (rows,))]
    numbers.append(np.zeros(rows) if same is None else counts("same", same, (rows,)))
    if tasters is not None and len(tasters) != rows:
        raise InputError("tasters", entries_for(len(tasters), rows, "row"), "Name one taster a row")
    coffees, (first, second) = _code("coffee", a, b)
    if (first == second).any():
        row = int(np.flatnonzero(first == second)[0])
        raise InputError(
            "picks", f'row {row + 1} sets "{a[row]}" against itself', "Leave that row out"
        )
    kept = np.flatnonzero(np.sum(numbers, axis=0) > 0)
    if not kept.size:
        raise InputError("picks", "There is not one pick", "Give at least one")
    people: tuple[str, ...] = ()
    who = np.zeros(kept.size, dtype=np.int64)
    if tasters is not None:
        people, (who,) = _code("taster", [tasters[row] for row in kept.tolist()])
    return _add_up(coffees, people, first[kept], second[kept], who, np.array(numbers)[:, kept])


def _code(kind: str, *columns: Iterable[str]) -> tuple[tuple[str, ...], list[Codes]]:
    given = [list(column) for column in columns]
    if any(is_missing(each) for column in given for each in set(column)):
        raise InputError("picks", f"A {kind} has no name", "Name it, or leave the pick out")
    listed = [[str(each) for each in column] for column in given]
    levels = tuple(sorted({each for column in listed for each in column}))
    place = {level: code for code, level in enumerate(levels)}
    return levels, [np.array([place[each] for each in column], np.int64) for column in listed]


def _add_up(
    coffees: tuple[str, ...],
    tasters: tuple[str, ...],
    first: Codes,
    second: Codes,
    who: Codes,
    numbers: Array,
) -> PickTable:
    size = len(coffees)
    key = (who * size + first) * size + second
    kinds, at = np.unique(key, return_inverse=True)
    added = np.array([np.bincount(at, each, minlength=kinds.size) for each in numbers])
    return PickTable(
        coffees=coffees,
        tasters=tasters,
        first=kinds // size % size,
        second=kinds % size,
        taster=kinds // size**2,
        for_first=added[0],
        for_second=added[1],
        same=added[2],
    )
