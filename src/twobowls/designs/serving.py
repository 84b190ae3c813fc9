"""Serving orders for any number of seats, as balanced as they can be made.

Complete Williams squares where they fit, a searched remainder where they do not; hidden
repeats kept apart. Does not know codes, coffees or people.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from twobowls.counting import count_of
from twobowls.designs.williams import (
    IntArray,
    carry_over_counts,
    position_counts,
    williams_square,
)
from twobowls.errors import InputError

FloatArray = NDArray[np.float64]

_ALL_ORDERS_UP_TO = 6  # 720 orders; with more bowls a sample of orders stands for all
_SAMPLED_ORDERS = 1200
_ROUNDS_OF_REPAIR = 60
_POSITION_WEIGHT = 10.0  # a place out of balance costs ten neighbours out of balance


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ServingOrders:
    """Serving orders and how balanced they are.

    Attributes
    ----------
    orders : ndarray of int, shape (seats, bowls)
        One order a row, bowls numbered from 0.
    position_counts : ndarray of int, shape (bowls, bowls)
        How often each bowl (row) stands at each place (column).
    carry_over_counts : ndarray of int, shape (bowls, bowls)
        How often each bowl (row) is directly followed by each other (column).
    position_spread, carry_over_spread : int
        Largest minus smallest count; 0 is perfect balance. Pairs that are to be kept apart
        are left out of the carry-over spread.
    adjacent : int
        How many times two bowls that were to be kept apart stand side by side; 0 wherever
        that is possible.
    """

    orders: IntArray
    position_counts: IntArray
    carry_over_counts: IntArray
    position_spread: int
    carry_over_spread: int
    adjacent: int


def serving_orders(
    bowls: int,
    seats: int,
    rng: np.random.Generator | None = None,
    apart: Sequence[tuple[int, int]] = (),
    first: IntArray | None = None,
) -> ServingOrders:
    """Find an order of the bowls for every seat, with the best balance that can be reached.

    Parameters
    ----------
    bowls : int
        How many bowls, at least 1.
    seats : int
        How many orders to make, at least 1 (``first`` not counted).
    rng : numpy.random.Generator, optional
        Source of the random relabelling and search. Without it the result is always the same.
    apart : sequence of pairs of int
        Bowls that should never be neighbours: the two bowls of a hidden repeat.
    first : ndarray of int, shape (earlier seats, bowls), optional
        Orders that have been handed out already. They are kept, count for the balance, and
        come first in the result.

    Returns
    -------
    ServingOrders

    Raises
    ------
    InputError
        For too few bowls or seats, or a pair to keep apart that does not exist.

    Notes
    -----
    Place and first-order carry-over balance as in MacFie, Bratchell, Greenhoff and Vallis,
    Journal of Sensory Studies 4 (1989) 129-148. Whole squares are exactly balanced; any rows
    of a square for an even number of bowls differ by one count at the most. What remains is
    chosen row by row so that each beginning of the list is balanced too (people may stay
    away), then improved by exchanging one order at a time. Bowls to keep apart make exact
    carry-over balance impossible: their neighbours must take up the places.

    Examples
    --------
    >>> found = serving_orders(4, 8)
    >>> found.orders.shape, found.position_spread, found.carry_over_spread
    ((8, 4), 0, 0)
    >>> serving_orders(3, 4, apart=[(0, 1)]).adjacent
    0
    """
    _check(bowls, seats, apart)
    rng = np.random.default_rng(0) if rng is None else rng
    kept = np.empty((0, bowls), dtype=np.int64) if first is None else np.asarray(first)
    whole = [] if apart or len(kept) else _whole_squares(bowls, seats, rng)
    remaining = seats - sum(len(square) for square in whole)
    search = _Search(bowls, apart, rng)
    return _measured(np.vstack([kept, *whole, search.rows(kept, remaining)]), bowls, apart)


def _check(bowls: int, seats: int, apart: Sequence[tuple[int, int]]) -> None:
    if bowls < 1:
        raise InputError("bowls", f"{bowls} is too few", "Give at least one bowl")
    if seats < 1:
        raise InputError("seats", f"{seats} is too few", "Give at least one seat")
    for a, b in apart:
        if a == b or not (0 <= a < bowls and 0 <= b < bowls):
            raise InputError(
                "apart",
                f"({a}, {b}) is not a pair of two of the {count_of(bowls, 'bowl')}",
                f"Give two different numbers from 0 to {bowls - 1}",
            )


def _whole_squares(bowls: int, seats: int, rng: np.random.Generator) -> list[IntArray]:
    """Relabel the bowls anew for each square, so that long lists do not repeat themselves."""
    square = williams_square(bowls)
    return [_shuffled(square, rng) for _ in range(seats // len(square))]


def _shuffled(square: IntArray, rng: np.random.Generator) -> IntArray:
    """Relabel the bowls and shuffle the rows, the mirror images staying behind.

    Each half of a pair of squares is balanced in places by itself, so a list that is cut
    short loses least.
    """
    bowls = square.shape[1]
    labels = rng.permutation(bowls)
    halves = [square[start : start + bowls] for start in range(0, len(square), bowls)]
    return np.vstack([labels[half][rng.permutation(bowls)] for half in halves])


def _measured(orders: IntArray, bowls: int, apart: Sequence[tuple[int, int]]) -> ServingOrders:
    places = position_counts(orders, bowls)
    pairs = carry_over_counts(orders, bowls)
    kept_apart = _pair_mask(bowls, apart)
    counted = pairs[~kept_apart & ~np.eye(bowls, dtype=bool)]
    return ServingOrders(
        orders=orders,
        position_counts=places,
        carry_over_counts=pairs,
        position_spread=int(np.ptp(places)),
        carry_over_spread=int(np.ptp(counted)) if counted.size else 0,
        adjacent=int(pairs[kept_apart].sum()),
    )


def _pair_mask(bowls: int, apart: Sequence[tuple[int, int]]) -> NDArray[np.bool_]:
    mask = np.zeros((bowls, bowls), dtype=bool)
    for a, b in apart:
        mask[a, b] = mask[b, a] = True
    return mask


class _Search:
    """Chooses orders from a pool so that the squared counts of places and pairs stay small."""

    def __init__(
        self, bowls: int, apart: Sequence[tuple[int, int]], rng: np.random.Generator
    ) -> None:
        self.bowls = bowls
        self.mask: NDArray[np.bool_] = _pair_mask(bowls, apart)
        self.rng = rng

    def rows(self, kept: IntArray, count: int) -> IntArray:
        """Return ``count`` orders that go well with those ``kept``."""
        if count == 0:
            return np.empty((0, self.bowls), dtype=np.int64)
        square = williams_square(self.bowls)
        cuttable = count <= len(square) and len(kept) == 0 and not self.mask.any()
        if cuttable and len(square) == self.bowls:
            return _shuffled(square, self.rng)[:count]
        pool = self._pool()
        tries = max(1, min(12, 60 // count))
        found = [self._grown_and_improved(pool, kept, count) for _ in range(tries)]
        if cuttable:
            found += [_shuffled(square, self.rng)[:count] for _ in range(20)]
        return min(found, key=lambda rows: self._badness(np.vstack([kept, rows])))

    def _pool(self) -> IntArray:
        if self.bowls <= _ALL_ORDERS_UP_TO:
            pool = np.array(list(permutations(range(self.bowls))), dtype=np.int64)
        else:
            squares = [_shuffled(williams_square(self.bowls), self.rng) for _ in range(4)]
            drawn = self.rng.random((_SAMPLED_ORDERS, self.bowls)).argsort(axis=1)
            pool = self._repaired(np.vstack([*squares, drawn]))
        touches = self._touches(pool)
        fit: IntArray = pool[touches == touches.min()]
        return fit

    def _touches(self, pool: IntArray) -> IntArray:
        return np.asarray(self.mask[pool[:, :-1], pool[:, 1:]].sum(axis=1), dtype=np.int64)

    def _repaired(self, pool: IntArray) -> IntArray:
        """Swap two random places of each order that has bowls touching, while it helps."""
        touches = self._touches(pool)
        for _ in range(_ROUNDS_OF_REPAIR):
            bad = np.flatnonzero(touches)
            if bad.size == 0:
                break
            changed = pool[bad]
            i, j = self.rng.integers(self.bowls, size=(2, bad.size))
            line = np.arange(bad.size)
            changed[line, i], changed[line, j] = changed[line, j], changed[line, i].copy()
            now = self._touches(changed)
            better = now <= touches[bad]
            pool[bad[better]] = changed[better]
            touches[bad[better]] = now[better]
        return pool

    def _grown_and_improved(self, pool: IntArray, kept: IntArray, count: int) -> IntArray:
        b = self.bowls
        tally = _Tally(pool, b)
        for row in kept:
            tally.add(row, 1)
        chosen = np.empty((count, b), dtype=np.int64)
        for seat in range(count):
            chosen[seat] = tally.best(self.rng)
            tally.add(chosen[seat], 1)
        self._improve(chosen, tally)
        return chosen

    def _improve(self, chosen: IntArray, tally: "_Tally") -> None:
        """Take out one order at a time and put back the one that fits best now.

        What may come back is any order of the pool, or the same one with two bowls swapped.
        """
        for _ in range(8 if len(chosen) <= 40 else 1):
            moved = False
            for seat in self.rng.permutation(len(chosen)):
                old = chosen[seat].copy()
                tally.add(old, -1)
                near = self._swapped(old)
                new = min(tally.best(self.rng), tally.best(self.rng, near), key=tally.cost)
                if tally.cost(new) < tally.cost(old) - 1e-9:
                    chosen[seat] = new
                    moved = True
                tally.add(chosen[seat], 1)
            if not moved:
                break

    def _swapped(self, order: IntArray) -> IntArray:
        """Return the order and all that come of it by one swap, none with more touching."""
        i, j = np.triu_indices(self.bowls, 1)
        near = np.tile(order, (len(i) + 1, 1))
        line = np.arange(len(i))
        near[line, i], near[line, j] = order[j], order[i]
        touches = self._touches(near)
        fit: IntArray = near[touches <= touches[-1]]
        return fit

    def _badness(self, rows: IntArray) -> tuple[int, int]:
        """Places first, then pairs: sums of squared counts."""
        places = position_counts(rows, self.bowls)
        pairs = carry_over_counts(rows, self.bowls)
        return int((places**2).sum()), int((pairs**2).sum())


class _Tally:
    """The counts so far, laid out so that pricing the whole pool is two look-ups."""

    def __init__(self, pool: IntArray, bowls: int) -> None:
        self.pool = pool
        self.bowls = bowls
        self.place_index = pool * bowls + np.arange(bowls)
        self.pair_index = pool[:, :-1] * bowls + pool[:, 1:]
        self.places = np.zeros(bowls * bowls)
        self.pairs = np.zeros(bowls * bowls)

    def add(self, row: IntArray, sign: int) -> None:
        b = self.bowls
        self.places[row * b + np.arange(b)] += sign * _POSITION_WEIGHT
        self.pairs[row[:-1] * b + row[1:]] += sign

    def cost(self, row: IntArray) -> float:
        """Price one more such order: what it adds to the sum of squared counts, halved."""
        b = self.bowls
        place = self.places[row * b + np.arange(b)].sum()
        return float(place + self.pairs[row[:-1] * b + row[1:]].sum())

    def best(self, rng: np.random.Generator, among: IntArray | None = None) -> IntArray:
        """Return one of the cheapest orders of the pool, or of some others, at random."""
        pool, places, pairs = self.pool, self.place_index, self.pair_index
        if among is not None:
            pool = among
            places = among * self.bowls + np.arange(self.bowls)
            pairs = among[:, :-1] * self.bowls + among[:, 1:]
        costs = self.places[places].sum(axis=1) + self.pairs[pairs].sum(axis=1)
        cheapest = np.flatnonzero(costs <= costs.min() + 1e-9)
        return np.asarray(pool[rng.choice(cheapest)])
