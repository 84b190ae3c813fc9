"""Elimination of the terms within tasters, for many sets of variance ratios at once.

With A the products and B the borders of one taster's block and D the diagonal matrix of
variance ratios, eliminating the block takes B' C B with C = (D^-1 + A)^-1 from the
cross-products and adds log det(I + A D) to the log-determinant. Tasters with the same A
share C. Where many do, the sum over them of all products of two rows of B is made once, so
that the work no longer grows with the number of tasters.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_cells import NestedBlocks

SHARED_LIMIT = 4_000_000  # numbers in the shared table of products: 32 MB
WORK_LIMIT = 4_000_000  # numbers in a temporary array

Slopes = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Reduction:
    """What elimination takes away, for each of K sets of ratios.

    ``products`` (K, d, d) is subtracted from the cross-products; ``logdet`` (K,) and
    ``logdet_slopes`` (K, terms) belong to the log-determinant. ``slopes(G)`` gives
    the trace of G times the derivative of the remaining cross-products by each ratio.
    """

    products: FloatArray
    logdet: FloatArray
    logdet_slopes: FloatArray
    slopes: Slopes


class Elimination(Protocol):
    """A set of tasters whose blocks can be eliminated."""

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        ...

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        ...


def make_eliminations(blocks: NestedBlocks, terms: int) -> list[Elimination]:
    """Sort the tasters into those that share tables and those that do not."""
    size = blocks.term_of.shape[1]
    width = blocks.borders.shape[2]
    which, first = _same_designs(blocks)
    members = np.bincount(which)
    fits = (size * width) ** 2 // 4 <= SHARED_LIMIT
    shared = (2 * members > size) & (members > 1) & fits
    found: list[Elimination] = []
    for design in np.flatnonzero(shared):
        mine = which == design
        found.append(
            SharedBlocks.make(
                blocks.products[first[design]],
                blocks.borders[mine],
                _membership(blocks.term_of[first[design]], terms),
            )
        )
    rest = np.flatnonzero(~shared[which])
    if len(rest) > 0:
        designs, local = np.unique(which[rest], return_inverse=True)
        if _is_star(blocks, terms) and len(designs) > 32:
            found.append(StarBlocks.make(blocks, rest))
        else:
            found.append(
                StackedBlocks(
                    blocks.products[first[designs]],
                    blocks.borders[rest],
                    local.astype(np.intp),
                    np.stack([_membership(blocks.term_of[first[k]], terms) for k in designs]),
                )
            )
    return found


def _same_designs(blocks: NestedBlocks) -> tuple[IntArray, IntArray]:
    """Return the number of each taster's design, and the first taster of each design."""
    seen: dict[bytes, int] = {}
    first: list[int] = []
    which = np.empty(len(blocks.term_of), dtype=np.intp)
    for taster, (block, terms) in enumerate(zip(blocks.products, blocks.term_of, strict=True)):
        key = block.tobytes() + terms.tobytes()
        if key not in seen:
            seen[key] = len(seen)
            first.append(taster)
        which[taster] = seen[key]
    return which, np.array(first, dtype=np.intp)


def _membership(term_of: IntArray, terms: int) -> FloatArray:
    """(q, terms): one where a place belongs to a term; padding belongs to none."""
    return np.asarray(term_of[:, None] == np.arange(terms), dtype=np.float64)


def _is_star(blocks: NestedBlocks, terms: int) -> bool:
    """Whether the block is one taster level at most and one finer term at most."""
    if terms > 2:
        return False
    return terms == 1 or bool(np.all((blocks.term_of == 0).sum(axis=1) == 1))


def _inner_inverse(products: FloatArray, diagonal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return (D^-1 + A)^-1 and log det(I + A D), safe where D has zeros."""
    root = np.sqrt(diagonal)
    scaled = root[..., :, None] * products * root[..., None, :]
    size = products.shape[-1]
    scaled[..., np.arange(size), np.arange(size)] += 1.0
    inverse = np.linalg.inv(scaled)
    logdet = np.linalg.slogdet(scaled)[1]
    return root[..., :, None] * inverse * root[..., None, :], logdet


@dataclass(frozen=True, slots=True)
class SharedBlocks:
    """Tasters with one and the same design, their borders multiplied out once.

    ``table`` is (q (q + 1) / 2, d (d + 1) / 2): for each pair of places the sum over tasters
    of the outer product of the two border rows and its mirror image; both symmetries are
    used, so that only upper triangles are kept.
    """

    products: FloatArray
    table: FloatArray
    members: int
    width: int
    membership: FloatArray

    @classmethod
    def make(
        cls, products: FloatArray, borders: FloatArray, membership: FloatArray
    ) -> "SharedBlocks":
        """Multiply out the borders (members, q, d)."""
        members, size, width = borders.shape
        first, second = np.triu_indices(size)
        upper = np.triu_indices(width)
        table = np.empty((len(first), len(upper[0])))
        for row, (a, b) in enumerate(zip(first, second, strict=True)):
            outer = borders[:, a].T @ borders[:, b]
            table[row] = outer[upper] if a == b else (outer + outer.T)[upper]
        return cls(products, table, members, width, membership)

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        return 2 * (len(self.products) ** 2 + self.width**2)

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        size = len(self.products)
        inner, logdet = _inner_inverse(self.products, ratios @ self.membership.T)
        first, second = np.triu_indices(size)
        taken = _unpacked(inner[:, first, second] @ self.table, self.width)
        left = np.eye(size) - self.products @ inner
        information = np.einsum("krs,sr->kr", left, self.products)
        doubled = np.where(np.equal(*np.triu_indices(self.width)), 1.0, 2.0)
        halved = np.where(first == second, 1.0, 0.5)

        def slopes(weights: FloatArray) -> FloatArray:
            upper = np.triu_indices(self.width)
            packed = (weights[:, upper[0], upper[1]] * doubled) @ self.table.T
            mixed = _unpacked(packed * halved, size)
            rows = np.einsum("krs,krs->kr", left @ mixed, left)
            return np.asarray(-rows @ self.membership)

        return Reduction(
            taken, self.members * logdet, self.members * information @ self.membership, slopes
        )


def _unpacked(packed: FloatArray, size: int) -> FloatArray:
    """Symmetric matrices (K, size, size) from their upper triangles, row by row."""
    first, second = np.triu_indices(size)
    where = np.empty((size, size), dtype=np.intp)
    where[first, second] = where[second, first] = np.arange(len(first))
    return np.asarray(packed[:, where.ravel()].reshape(len(packed), size, size))


@dataclass(frozen=True, slots=True)
class StackedBlocks:
    """Tasters one by one, those with the same design sharing an inverse.

    ``products`` is (designs, q, q), ``borders`` (tasters, q, d), ``which`` (tasters,) the
    design of each, ``membership`` (designs, q, terms).
    """

    products: FloatArray
    borders: FloatArray
    which: IntArray
    membership: FloatArray

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        return int(3 * self.borders.size + 3 * self.products.size)

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        nodes = len(ratios)
        tasters, size, width = self.borders.shape
        diagonal = np.einsum("uqj,kj->kuq", self.membership, ratios)
        inner, logdet = _inner_inverse(self.products, diagonal)
        solved = np.take(inner, self.which, axis=1) @ self.borders
        flat = self.borders.reshape(tasters * size, width)
        taken = flat.T @ solved.reshape(nodes, tasters * size, width)
        left = np.eye(size) - self.products @ inner
        members = np.bincount(self.which, minlength=len(self.products)).astype(float)
        information = np.einsum("kurs,usr->kur", left, self.products)
        logdet_slopes = np.einsum("kur,urj,u->kj", information, self.membership, members)

        def slopes(weights: FloatArray) -> FloatArray:
            rest = np.take(left, self.which, axis=1) @ self.borders
            rows = np.einsum("kiqd,kiqd->kiq", rest @ weights[:, None], rest)
            return np.asarray(-np.einsum("kiq,iqj->kj", rows, self.membership[self.which]))

        return Reduction(taken, logdet @ members, logdet_slopes, slopes)


@dataclass(frozen=True, slots=True)
class StarBlocks:
    """Many tasters with designs of their own; a taster term and one finer term, or just one.

    The finer term's part of a block is diagonal, so that the whole elimination is in closed
    form: no matrix is factorised. ``counts`` is (cells,), the marks of each finer level;
    ``starts`` (tasters,) says where each taster's cells begin. ``centres`` (tasters, d) are
    the borders of the taster level itself, absent when there is one term only.
    """

    counts: FloatArray
    borders: FloatArray
    starts: IntArray
    centres: FloatArray | None
    spans: IntArray

    @classmethod
    def make(cls, blocks: NestedBlocks, rows: IntArray) -> "StarBlocks":
        """Take the finer levels of the chosen tasters out of their padded blocks."""
        term_of = blocks.term_of[rows]
        fine = term_of.max()
        present = term_of == fine
        diagonal = np.diagonal(blocks.products[rows], axis1=1, axis2=2)
        spans = present.sum(axis=1).astype(np.intp)
        starts = (np.cumsum(spans) - spans).astype(np.intp)
        borders = blocks.borders[rows]
        centres = np.ascontiguousarray(borders[:, 0]) if fine == 1 else None
        return cls(
            np.ascontiguousarray(diagonal[present]), borders[present], starts, centres, spans
        )

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        return int(4 * self.borders.size)

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios, one after another."""
        each = [self._reduce_one(row) for row in ratios]

        def slopes(weights: FloatArray) -> FloatArray:
            return np.concatenate([one.slopes(weights[k]) for k, one in enumerate(each)])

        return Reduction(
            np.concatenate([one.products for one in each]),
            np.concatenate([one.logdet for one in each]),
            np.concatenate([one.logdet_slopes for one in each]),
            slopes,
        )

    def _reduce_one(self, ratios: FloatArray) -> Reduction:
        fine, coarse = ratios[-1], ratios[0]
        grown = 1.0 + self.counts * fine
        kept = self.counts / grown
        shrink = fine / grown
        taken = self.borders.T @ (shrink[:, None] * self.borders)
        logdet = float(np.log(grown).sum())
        if self.centres is None:
            return self._single(taken, logdet, grown, kept)
        weight = np.add.reduceat(kept, self.starts)
        pulled = (self.counts * shrink)[:, None] * self.borders
        own = self.centres - np.add.reduceat(pulled, self.starts, axis=0)
        scale = 1.0 + coarse * weight
        taken += own.T @ ((coarse / scale)[:, None] * own)
        logdet += float(np.log(scale).sum())
        squares = np.add.reduceat(kept * kept, self.starts)
        logdet_slopes = np.array(
            [(weight / scale).sum(), kept.sum() - (coarse / scale * squares).sum()]
        )

        def slopes(weights: FloatArray) -> FloatArray:
            outer = own / scale[:, None]
            inner = self.borders / grown[:, None]
            inner -= coarse * kept[:, None] * np.repeat(outer, self.spans, axis=0)
            return -np.array([[_trace(outer, weights), _trace(inner, weights)]])

        return Reduction(taken[None], np.array([logdet]), logdet_slopes[None], slopes)

    def _single(
        self, taken: FloatArray, logdet: float, grown: FloatArray, kept: FloatArray
    ) -> Reduction:
        def slopes(weights: FloatArray) -> FloatArray:
            return -np.array([[_trace(self.borders / grown[:, None], weights)]])

        return Reduction(taken[None], np.array([logdet]), np.array([[kept.sum()]]), slopes)


def _trace(rows: FloatArray, weights: FloatArray) -> float:
    """Sum over rows r of r' W r."""
    return float(np.sum((rows.T @ rows) * weights))
