"""Elimination in closed form for many tasters whose designs all differ.

With a taster term and one finer term (or the finer term alone) each block is an arrow with a
diagonal inside, so that nothing need be factorised. The finer term's share depends on a level
only through its number of marks, and there are few different numbers; so its cross-products are
added up once for each number, and an evaluation passes over the levels only to form each taster's
own row.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_basis import Within
from twobowls.statistics.mixed_model_products import gram, sums_by_number
from twobowls.statistics.mixed_model_reduction import Reduction


@dataclass(frozen=True, slots=True)
class StarBlocks:
    """Many tasters with designs of their own; a taster term and one finer term, or just one.

    Attributes
    ----------
    values, members : FloatArray
        (U,) the different numbers of marks of a finer level (zero first, for padding), and how
        many levels have each.
    tables : FloatArray
        (U, d d) sums over those levels of the outer products of their border rows.
    look : IntArray
        (tasters, q) which of ``values`` a level has.
    borders : FloatArray
        (tasters, q, d) of the finer levels.
    centres : FloatArray or None
        (tasters, d) the border of the taster level itself; None when there is one term only.
    """

    values: FloatArray
    members: FloatArray
    tables: FloatArray
    look: IntArray
    borders: FloatArray
    centres: FloatArray | None

    @classmethod
    def make(cls, blocks: Within, rows: IntArray) -> "StarBlocks":
        """Take the finer levels of the chosen tasters out of their padded blocks."""
        fine = blocks.shares.shape[2] - 1
        counts = np.diagonal(blocks.products, axis1=1, axis2=2)[rows][:, fine:]
        borders = blocks.borders[rows, fine:]  # the only copy, in one piece
        sums = sums_by_number(counts, borders)
        centres = blocks.borders[rows, 0] if fine == 1 else None
        return cls(*sums, borders, centres)

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        tasters, size, width = self.borders.shape
        return int(tasters * (3 * size + 4 * width))

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        nodes, width = len(ratios), self.borders.shape[2]
        fine = ratios[:, -1:]
        grown = 1.0 + self.values * fine
        kept = self.values / grown
        taken = ((fine / grown) @ self.tables).reshape(nodes, width, width)
        logdet = np.log(grown) @ self.members
        within = kept @ self.members
        if self.centres is None:

            def own_slopes(weights: FloatArray) -> FloatArray:
                return -self._inside(weights, grown)[:, None]

            return Reduction(taken, logdet, lambda: within[:, None], own_slopes)
        coarse = ratios[:, :1]
        own = self.centres - self._sums(kept * fine)
        weight = kept[:, self.look].sum(axis=2)
        scale = 1.0 + coarse * weight
        for k in range(nodes):
            taken[k] += gram(own[k] * (coarse[k] / scale[k])[:, None], own[k])
        logdet = logdet + np.log(scale).sum(axis=1)

        @cache
        def squares() -> FloatArray:
            return np.asarray((kept * kept)[:, self.look].sum(axis=2))

        def logdet_slopes() -> FloatArray:
            fine_part = within - (coarse / scale * squares()).sum(axis=1)
            return np.stack([(weight / scale).sum(axis=1), fine_part], axis=1)

        @cache
        def outer() -> FloatArray:
            return np.asarray(own / scale[:, :, None])

        def slopes(weights: FloatArray) -> FloatArray:
            leaned = outer() @ weights
            lengths = np.einsum("ktd,ktd->kt", leaned, outer())
            crossed = np.einsum("ktd,ktd->k", leaned, self._sums(kept / grown))
            inside = self._inside(weights, grown) - 2.0 * coarse[:, 0] * crossed
            inside += coarse[:, 0] ** 2 * np.einsum("kt,kt->k", squares(), lengths)
            return np.asarray(-np.stack([lengths.sum(axis=1), inside], axis=1))

        return Reduction(taken, logdet, logdet_slopes, slopes)

    def _sums(self, factors: FloatArray) -> FloatArray:
        """Sum each taster's border rows times a factor of their number: (K, tasters, d)."""
        chosen = factors[:, self.look].transpose(1, 0, 2)
        return np.ascontiguousarray((chosen @ self.borders).transpose(1, 0, 2))

    def _inside(self, weights: FloatArray, grown: FloatArray) -> FloatArray:
        """Sum over finer levels of b' W b over the square of their growth: (K,)."""
        traces = weights.reshape(len(weights), -1) @ self.tables.T
        return np.asarray(np.einsum("ku,ku->k", traces, 1.0 / grown**2))
