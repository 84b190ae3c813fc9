"""Elimination of the terms within tasters, for many sets of variance ratios at once.

With A the products and B the borders of one taster's block and D the diagonal matrix of
variance ratios, eliminating the block takes B' C B with C = (D^-1 + A)^-1 from the
cross-products and adds log det(I + A D) to the log-determinant. Tasters with the same A
share C. Where many do, the sum over them of all products of two rows of B is made once, so
that the work no longer grows with the number of tasters.
"""

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Protocol

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_arrow import ArrowBlocks, finest
from twobowls.statistics.mixed_model_basis import MANY_DESIGNS, Within
from twobowls.statistics.mixed_model_products import product
from twobowls.statistics.mixed_model_reduction import Reduction
from twobowls.statistics.mixed_model_star import StarBlocks

SHARED_LIMIT = 4_000_000  # numbers in the shared table of products: 32 MB
WORK_LIMIT = 500_000  # numbers in a temporary array: it should stay in cache


class Elimination(Protocol):
    """A set of tasters whose blocks can be eliminated."""

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        ...

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        ...


def make_eliminations(blocks: Within) -> list[Elimination]:
    """Sort the tasters into those that share tables and those that do not."""
    size, width = blocks.borders.shape[1:]
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
                blocks.shares[first[design]],
            )
        )
    rest = np.flatnonzero(~shared[which])
    if len(rest) > 0:
        designs, local = np.unique(which[rest], return_inverse=True)
        fine = finest(blocks)
        if _is_star(blocks) and len(designs) > MANY_DESIGNS:
            found.append(StarBlocks.make(blocks, rest))
        elif fine is not None and len(designs) > MANY_DESIGNS:
            found.append(ArrowBlocks.make(blocks, rest, fine))
        else:
            found.append(
                StackedBlocks(
                    blocks.products[first[designs]],
                    blocks.borders[rest],
                    local.astype(np.intp),
                    blocks.shares[first[designs]],
                )
            )
    return found


def _same_designs(blocks: Within) -> tuple[IntArray, IntArray]:
    """Return the number of each taster's design, and the first taster of each design."""
    tasters = len(blocks.products)
    rows = np.concatenate(
        [blocks.products.reshape(tasters, -1), blocks.shares.reshape(tasters, -1)], axis=1
    )
    marks = rows @ np.sqrt(np.arange(2.0, 2.0 + rows.shape[1]))
    _, first, which = np.unique(np.round(marks, 9), return_index=True, return_inverse=True)
    alike = np.all(rows == rows[first[which]], axis=1)
    if not alike.all():  # two designs with one fingerprint: leave those tasters to themselves
        odd = np.flatnonzero(~alike)
        which[odd] = len(first) + np.arange(len(odd))
        first = np.concatenate([first, odd])
    return which.astype(np.intp), first.astype(np.intp)


def _is_star(blocks: Within) -> bool:
    """Whether the block is one taster level at most and one finer term at most, no slope."""
    terms = blocks.shares.shape[2]
    if terms > 2 or blocks.turn is not None:
        return False
    if terms == 1:
        return True
    lone = bool(np.all(blocks.shares[:, :, 0].sum(axis=1) == 1.0))
    counts = np.diagonal(blocks.products, axis1=1, axis2=2)[:, 1:]
    return lone and bool(np.allclose(blocks.products[:, 0, 1:], counts))


def _inner_inverse(products: FloatArray, diagonal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return (D^-1 + A)^-1 and log det(I + A D), safe where D has zeros."""
    root = np.sqrt(diagonal)
    scaled = root[..., :, None] * products * root[..., None, :]
    size = products.shape[-1]
    scaled[..., np.arange(size), np.arange(size)] += 1.0
    inverse = np.linalg.inv(scaled)
    diagonals = np.diagonal(np.linalg.cholesky(scaled), axis1=-2, axis2=-1)
    logdet = 2.0 * np.log(diagonals).sum(axis=-1)
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
    shares: FloatArray

    @classmethod
    def make(cls, products: FloatArray, borders: FloatArray, shares: FloatArray) -> "SharedBlocks":
        """Multiply out the borders (members, q, d)."""
        members, size, width = borders.shape
        first, second = _upper(size)
        upper = _upper(width)
        table = np.empty((len(first), len(upper[0])))
        for row, (a, b) in enumerate(zip(first, second, strict=True)):
            outer = borders[:, a].T @ borders[:, b]
            table[row] = outer[upper] if a == b else (outer + outer.T)[upper]
        return cls(products, table, members, width, shares)

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        return 2 * (len(self.products) ** 2 + self.width**2)

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        size = len(self.products)
        inner, logdet = _inner_inverse(self.products, ratios @ self.shares.T)
        first, second = _upper(size)
        taken = _unpacked(product(inner[:, first, second], self.table), self.width)

        @cache
        def left() -> FloatArray:
            return np.asarray(np.eye(size) - self.products @ inner)

        def logdet_slopes() -> FloatArray:
            information = np.einsum("krs,sr->kr", left(), self.products)
            return np.asarray(self.members * information @ self.shares)

        def slopes(weights: FloatArray) -> FloatArray:
            upper = _upper(self.width)
            doubled = np.where(np.equal(*upper), 1.0, 2.0)
            halved = np.where(first == second, 1.0, 0.5)
            packed = product(weights[:, upper[0], upper[1]] * doubled, self.table.T)
            mixed = _unpacked(packed * halved, size)
            rows = np.einsum("krs,krs->kr", left() @ mixed, left())
            return np.asarray(-rows @ self.shares)

        return Reduction(taken, self.members * logdet, logdet_slopes, slopes)


@lru_cache(maxsize=32)
def _upper(size: int) -> tuple[IntArray, IntArray]:
    """Rows and columns of an upper triangle, row by row."""
    first, second = np.triu_indices(size)
    return first.astype(np.intp), second.astype(np.intp)


@lru_cache(maxsize=32)
def _places(size: int) -> IntArray:
    """Where each element of a symmetric matrix stands in its upper triangle: (size size,)."""
    first, second = _upper(size)
    where = np.empty((size, size), dtype=np.intp)
    where[first, second] = where[second, first] = np.arange(len(first))
    return where.ravel()


def _unpacked(packed: FloatArray, size: int) -> FloatArray:
    """Symmetric matrices (K, size, size) from their upper triangles, row by row."""
    return np.take(packed, _places(size), axis=1).reshape(len(packed), size, size)


@dataclass(frozen=True, slots=True)
class StackedBlocks:
    """Tasters one by one, those with the same design sharing an inverse.

    ``products`` is (designs, q, q), ``borders`` (tasters, q, d), ``which`` (tasters,) the
    design of each, ``shares`` (designs, q, terms) as in `Within`.
    """

    products: FloatArray
    borders: FloatArray
    which: IntArray
    shares: FloatArray

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        return int(3 * self.borders.size + 3 * self.products.size)

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        nodes = len(ratios)
        tasters, size, width = self.borders.shape
        diagonal = np.einsum("uqj,kj->kuq", self.shares, ratios)
        inner, logdet = _inner_inverse(self.products, diagonal)
        solved = np.take(inner, self.which, axis=1) @ self.borders
        flat = self.borders.reshape(tasters * size, width)
        taken = flat.T @ solved.reshape(nodes, tasters * size, width)
        members = np.bincount(self.which, minlength=len(self.products)).astype(float)

        @cache
        def left() -> FloatArray:
            return np.asarray(np.eye(size) - self.products @ inner)

        def logdet_slopes() -> FloatArray:
            information = np.einsum("kurs,usr->kur", left(), self.products)
            return np.asarray(np.einsum("kur,urj,u->kj", information, self.shares, members))

        def slopes(weights: FloatArray) -> FloatArray:
            rest = np.take(left(), self.which, axis=1) @ self.borders
            rows = np.einsum("kiqd,kiqd->kiq", rest @ weights[:, None], rest)
            return np.asarray(-np.einsum("kiq,iqj->kj", rows, self.shares[self.which]))

        return Reduction(taken, logdet @ members, logdet_slopes, slopes)
