"""Exchanging treatments between blocks, one pair at a time, cheaply.

The inner loop of `twobowls.designs.blocks`: lists and floats, because the steps are tiny.
"""

from collections.abc import Sequence
from math import exp, sqrt

import numpy as np


class Exchange:
    """Blocks under improvement.

    Parameters
    ----------
    blocks : sequence of sequences of int
        The treatments of each block, numbered from 0.
    replications : sequence of int
        How many times each treatment occurs.

    Notes
    -----
    ``shared[i][j]`` is the sum over blocks with i and j of 1 / (k sqrt(r_i r_j)); the
    canonical efficiency factors are 1 minus its eigenvalues. Their sum does not change by an
    exchange, so they are closest to equal where the sum of squares of ``shared`` is smallest.
    Only treatments whose place matters are moved: those that occur once are all alike, and
    those that are in every block have nowhere to go.

    Examples
    --------
    >>> exchange = Exchange([[0, 1, 2], [0, 1, 3], [2, 3, 4], [2, 3, 4]], [2, 2, 3, 3, 2])
    >>> exchange.anneal(np.random.default_rng(1), 500)
    >>> sorted(len(set(block)) for block in exchange.blocks)
    [3, 3, 3, 3]
    """

    def __init__(self, blocks: Sequence[Sequence[int]], replications: Sequence[int]) -> None:
        self.blocks = [list(block) for block in blocks]
        self.root = [1 / sqrt(r) for r in replications]
        self.free = [r < len(blocks) for r in replications]
        self.movable = any(1 < r < len(blocks) for r in replications)
        self.places = [
            (block, place)
            for block, treatments in enumerate(self.blocks)
            for place in range(len(treatments))
        ]
        self.shared = [[0.0] * len(replications) for _ in replications]
        for treatments in self.blocks:
            for i in treatments:
                for j in treatments:
                    self.shared[i][j] += self._weight(i, j, len(treatments))
        typical = len(self.blocks) / len(self.places)
        self.heat = 2 * (typical / (len(self.places) / len(replications))) ** 2

    def anneal(self, rng: np.random.Generator, swaps: int) -> None:
        """Try random swaps, taking fewer and fewer that make it worse.

        Parameters
        ----------
        rng : numpy.random.Generator
            Source of chance.
        swaps : int
            How many to try.
        """
        if not self.movable:
            return
        picks = rng.integers(len(self.places), size=(swaps, 2)).tolist()
        chances = rng.random(swaps).tolist()
        for step, ((first, second), chance) in enumerate(zip(picks, chances, strict=True)):
            one, two = self.places[first], self.places[second]
            if not self._may_swap(one, two):
                continue
            worse = self._swap(one, two)
            heat = self.heat * (1 - step / swaps) ** 2
            if worse > 1e-12 and (heat <= 0 or chance >= exp(-worse / heat)):
                self._swap(one, two)

    def _may_swap(self, one: tuple[int, int], two: tuple[int, int]) -> bool:
        here, there = self.blocks[one[0]], self.blocks[two[0]]
        a, b = here[one[1]], there[two[1]]
        return self.free[a] and self.free[b] and a not in there and b not in here

    def _swap(self, one: tuple[int, int], two: tuple[int, int]) -> float:
        """Swap the treatments at two places and return by how much the squares have grown."""
        (x, i), (y, j) = one, two
        a, b = self.blocks[x][i], self.blocks[y][j]
        grown = self._move(a, x, i, -1.0) + self._move(b, y, j, -1.0)
        self.blocks[x][i], self.blocks[y][j] = b, a
        return grown + self._move(b, x, i, 1.0) + self._move(a, y, j, 1.0)

    def _move(self, treatment: int, block: int, place: int, sign: float) -> float:
        """Add a treatment's meetings in a block, or take them away."""
        others = self.blocks[block]
        row = self.shared[treatment]
        grown = 0.0
        for index, other in enumerate(others):
            if index != place:
                change = sign * self._weight(treatment, other, len(others))
                grown += change * (2 * row[other] + change)
                row[other] += change
                self.shared[other][treatment] += change
        return grown

    def _weight(self, i: int, j: int, size: int) -> float:
        return self.root[i] * self.root[j] / size
