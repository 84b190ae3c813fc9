"""Tables of tasters by coffees: one mean each, and what everybody but one would say.

Gaps are NaN. Additive in tasters and coffees, so a missing mark moves nobody's level.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from twobowls.counting import entries_for
from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.inputs import numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class CoffeeTable:
    """One mean a taster and coffee: ``means`` has tasters down, coffees across, NaN for gaps."""

    tasters: tuple[str, ...]
    coffees: tuple[str, ...]
    means: FloatArray


def coffee_table(
    tasters: Sequence[str],
    coffees: Sequence[str],
    marks: ArrayLike,
    *,
    rounds: Sequence[str] | None = None,
) -> CoffeeTable:
    """Gather single marks into one mean a taster and coffee.

    Parameters
    ----------
    tasters, coffees : sequence of str, shape (n,)
        Who marked what.
    marks : array_like, shape (n,)
        The marks, on one scale.
    rounds : sequence of str, shape (n,), or None
        The round of each mark; differences between rounds are taken out by least squares.

    Returns
    -------
    CoffeeTable
        Tasters and coffees in the order of their first mark.

    Raises
    ------
    InputError
        When lengths differ, a mark is missing, or nothing is given.

    Examples
    --------
    >>> table = coffee_table(["Ada", "Ada", "Ada", "Bo"], ["x", "x", "y", "y"], [10, 20, 40, 50])
    >>> table.means.round(6).tolist()
    [[15.0, 40.0], [nan, 50.0]]
    """
    y = numbers("marks", marks, (None,))
    who, names = label_codes("tasters", tasters, y.size)
    what, kinds = label_codes("coffees", coffees, y.size)
    when, _ = label_codes("rounds", ["one"] * y.size if rounds is None else rounds, y.size)
    means = np.full((len(names), len(kinds)), np.nan)
    for i, own in enumerate(rows_of(who, len(names))):
        seen, means_of_seen = _means(y[own], what[own], when[own])
        means[i, seen] = means_of_seen
    return CoffeeTable(tasters=tuple(names), coffees=tuple(kinds), means=means)


def label_codes(field: str, labels: Sequence[str], size: int) -> tuple[IntArray, list[str]]:
    """Return labels as numbers, in the order of their first appearance.

    Parameters
    ----------
    field : str
        What the labels are called where they were given.
    labels : sequence of str, shape (n,)
        The labels.
    size : int
        How many there should be.

    Returns
    -------
    ndarray of int, shape (n,), and list of str
        The numbers from 0, and the labels they stand for.

    Raises
    ------
    InputError
        When there are more or fewer labels than marks.

    Examples
    --------
    >>> codes, names = label_codes("coffees", ["b", "a", "b"], 3)
    >>> codes.tolist(), names
    ([0, 1, 0], ['b', 'a'])
    """
    values = [str(label) for label in labels]
    if len(values) != size:
        raise InputError(field, entries_for(len(values), size, "mark"), "Give one for every mark")
    names = list(dict.fromkeys(values))
    place = {name: i for i, name in enumerate(names)}
    return np.array([place[value] for value in values], dtype=np.intp), names


def rows_of(codes: IntArray, count: int) -> list[IntArray]:
    """Return where each number from 0 up to ``count`` stands, in one pass over the codes.

    Examples
    --------
    >>> [rows.tolist() for rows in rows_of(np.array([1, 0, 1]), 2)]
    [[1], [0, 2]]
    """
    order = np.argsort(codes, kind="stable")
    return np.split(order, np.searchsorted(codes[order], np.arange(1, count)))


def _means(y: FloatArray, what: IntArray, when: IntArray) -> tuple[IntArray, FloatArray]:
    coffees, columns = np.unique(what, return_inverse=True)
    coffee = np.eye(coffees.size)[columns]
    late, place = np.unique(when, return_inverse=True)
    drift = np.eye(late.size)[place]
    design = np.hstack([coffee, drift - drift.mean(axis=0)])
    fitted = np.linalg.pinv(design, rcond=1e-10) @ y
    return coffees, np.asarray(fitted[: coffees.size])


class Rest:
    """What everybody but one says of the coffees, additive in tasters and coffees.

    Parameters
    ----------
    means : ndarray, shape (tasters, coffees)
        NaN for gaps.
    weights : ndarray, shape (tasters,), or None
        How much each taster counts; all alike when None.

    Examples
    --------
    >>> rest = Rest(np.array([[10.0, 30.0], [20.0, 50.0], [30.0, 60.0]]))
    >>> own, others = rest.without(0)
    >>> own.tolist(), others.round(6).tolist()
    ([10.0, 30.0], [25.0, 55.0])
    """

    def __init__(self, means: FloatArray, weights: FloatArray | None = None) -> None:
        self.means = means
        self.seen = ~np.isnan(means)
        self.weights = np.ones(len(means)) if weights is None else weights
        here = self.seen.astype(float)
        filled = np.where(self.seen, means, 0.0)
        size = np.maximum(here.sum(axis=1), 1)
        self.level = filled.sum(axis=1) / size
        off = (filled - self.level[:, None]) * here
        inner = np.eye(means.shape[1]) - here[:, None, :] / size[:, None, None]
        self.parts = self.weights[:, None, None] * here[:, :, None] * inner
        self.sums = self.weights[:, None] * off
        self.whole, self.total = self.parts.sum(axis=0), self.sums.sum(axis=0)
        self.error = self._error(off, here, size)
        self.shares = here / size[:, None]
        self.count, self.all_levels = int(self.seen.any(axis=1).sum()), float(self.level.sum())
        self.all_shares = self.shares.sum(axis=0)
        self.tasted, self.counts = self.seen.sum(axis=0), self.weights @ self.seen
        # several figures of one taster are asked for in turn
        self.latest: tuple[int, FloatArray] | None = None

    def _error(self, off: FloatArray, here: FloatArray, size: FloatArray) -> float:
        """Return the variance of a single taster's coffee around the additive fit."""
        effects = np.linalg.pinv(self.whole, rcond=1e-10, hermitian=True) @ self.total
        left = (off - effects + ((here @ effects) / size)[:, None]) * here
        used = here[here.any(axis=1) & (self.weights > 0)]
        rank = np.linalg.matrix_rank(self.whole, tol=1e-8)
        df = self.weights @ (size - 1) - rank * min(1.0, float(self.weights.mean()))
        return float(self.weights @ (left**2).sum(axis=1) / df) if df > 1e-9 and len(used) else 0.0

    def profile(self, taster: int) -> FloatArray:
        """Return the coffees as the others see them, around 0 (meaningless where none did)."""
        if self.latest is None or self.latest[0] != taster:
            left = self.whole - self.parts[taster]
            inverse = np.linalg.pinv(left, rcond=1e-10, hermitian=True)
            self.latest = taster, np.asarray(inverse @ (self.total - self.sums[taster]))
        return self.latest[1]

    def without(self, taster: int) -> tuple[FloatArray, FloatArray]:
        """Return the taster's own coffees and the others' mean of them, where both tasted."""
        shared, effects = self.shared(taster), self.profile(taster)
        others = self.count - int(self.seen[taster].any())
        levels = self.all_levels - float(self.level[taster])
        own = float((self.all_shares - self.shares[taster]) @ effects)
        level = (levels - own) / others if others else 0.0
        return self.means[taster, shared], level + effects[shared]

    def shared(self, taster: int) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Return which coffees the taster has in common with at least one other."""
        count = self.tasted - self.seen[taster]
        return np.asarray(self.seen[taster] & (count > 0))

    def noise(self, taster: int) -> float:
        """Return the variance of the others' mean of a coffee that is their own noise."""
        counts = self.counts - self.weights[taster] * self.seen[taster]
        counts = counts[self.shared(taster)]
        return self.error * float((1 / np.maximum(counts, 1e-9)).mean()) if counts.size else 0.0

    def reliability(self, taster: int) -> float:
        """Return the share of the variance of the others' mean that is not their noise."""
        _, others = self.without(taster)
        if others.size < 2:
            return 0.0
        spread = float(others.var(ddof=1))
        return max(0.0, 1 - self.noise(taster) / spread) if spread > 1e-12 else 0.0
