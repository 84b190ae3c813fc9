"""Picks that say the same, counted once: pairs put the other way round, tasters with one table.

What is fitted to the gathered rows is what would be fitted to all of them, to rounding.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.picks_table import Array, Codes, PickTable

__all__ = ["GatheredPicks", "gather_pairs", "gather_tasters"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GatheredPicks:
    """Counted rows, in order of their taster.

    Attributes
    ----------
    first, second : array (m,)
        The two coffees of the row.
    taster : array (m,)
        Whose row it is, counted from 0 without a gap.
    counts : array (3, m)
        Answers for the first, for the second, and "the same".
    alike : array (T,)
        How many tasters with the very same rows each taster stands for.
    """

    first: Codes
    second: Codes
    taster: Codes
    counts: Array
    alike: Array


def gather_pairs(table: PickTable, *, order: bool) -> GatheredPicks:
    """Add up rows of the same pair, whoever picked.

    Parameters
    ----------
    table : PickTable
        All rows.
    order : bool
        Whether it matters which of the two was put first.

    Examples
    --------
    >>> from twobowls.statistics.picks_table import tabulate_picks
    >>> table = tabulate_picks(["A", "B"], ["B", "A"], [3, 1], [2, 0], [0, 4])
    >>> gather_pairs(table, order=False).counts.ravel().tolist()
    [3.0, 3.0, 4.0]
    """
    return _add_up(table, np.zeros_like(table.taster), order=order)


def gather_tasters(table: PickTable, *, order: bool) -> GatheredPicks:
    """Add up each taster's rows of the same pair, and count tasters with the same rows once.

    Parameters
    ----------
    table : PickTable
        All rows.
    order : bool
        Whether it matters which of the two was put first.

    Examples
    --------
    >>> from twobowls.statistics.picks_table import tabulate_picks
    >>> who = ["Ada", "Bo", "Cy"]
    >>> table = tabulate_picks(["A", "B", "A"], ["B", "A", "B"], [1, 0, 0], [0, 1, 1], None, who)
    >>> found = gather_tasters(table, order=False)
    >>> found.alike.tolist(), found.counts[:2].tolist()
    ([2.0, 1.0], [[1.0, 0.0], [0.0, 1.0]])
    """
    rows = _add_up(table, table.taster, order=order)
    says = np.vstack([rows.first, rows.second, rows.counts])
    _, kind = np.unique(says, axis=1, return_inverse=True)
    starts = np.searchsorted(rows.taster, np.arange(int(rows.taster[-1]) + 1))
    lengths = np.diff(np.append(starts, rows.taster.size))
    kept, alike = _alike(kind.ravel(), starts, lengths)
    own = np.concatenate([np.arange(starts[t], starts[t] + lengths[t]) for t in kept.tolist()])
    return GatheredPicks(
        first=rows.first[own],
        second=rows.second[own],
        taster=np.repeat(np.arange(kept.size), lengths[kept]),
        counts=rows.counts[:, own],
        alike=alike,
    )


def _add_up(table: PickTable, who: Codes, *, order: bool) -> GatheredPicks:
    first, second = table.first, table.second
    counts = np.array([table.for_first, table.for_second, table.same])
    turned = np.zeros(first.size, dtype=bool) if order else first > second
    counts = np.where(turned, counts[[1, 0, 2]], counts)
    first, second = np.where(turned, second, first), np.where(turned, first, second)
    size = len(table.coffees)
    kinds, at = np.unique((who * size + first) * size + second, return_inverse=True)
    taster = kinds // size**2
    return GatheredPicks(
        first=kinds // size % size,
        second=kinds % size,
        taster=taster,
        counts=np.array([np.bincount(at, each, minlength=kinds.size) for each in counts]),
        alike=np.ones(int(taster[-1]) + 1),
    )


def _alike(kind: Codes, starts: Codes, lengths: Codes) -> tuple[Codes, Array]:
    """Return one taster of each sort, in order, and how many are of that sort."""
    kept, alike = [], []
    for length in np.unique(lengths).tolist():
        some = np.flatnonzero(lengths == length)
        rows = kind[starts[some][:, None] + np.arange(length)]
        _, first, count = np.unique(rows, axis=0, return_index=True, return_counts=True)
        kept.append(some[first])
        alike.append(count)
    every = np.concatenate(kept)
    order = np.argsort(every)
    return every[order], np.concatenate(alike)[order].astype(np.float64)
