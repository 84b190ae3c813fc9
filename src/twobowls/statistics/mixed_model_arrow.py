"""Elimination for many tasters whose designs all differ, in any terms: the largest first.

A taster's mark belongs to one level of each term, so that the block of the term with the most
levels is diagonal and can be divided out by itself. What is left are the other, coarser columns
of that taster, a taster level and a few rounds: a small matrix each. With n the counts of the
finer levels and f their variance ratio, L the products of coarser columns and finer ones, A those
of coarser columns, and D the coarser columns' ratios, the block takes

    B' C B = sum of f / (1 + f n) b b' + E' R (I + R M R)^-1 R E,   R^2 = D,
    M = A - L diag(f / (1 + f n)) L',   E = B_coarse - L diag(f / (1 + f n)) B_fine.

The first sum is made as in `mixed_model_star`: once for each different number of marks.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_basis import Within
from twobowls.statistics.mixed_model_products import gram, sums_by_number
from twobowls.statistics.mixed_model_reduction import Reduction


@dataclass(frozen=True, slots=True)
class Sorted:
    """Blocks of the chosen tasters, the m coarser columns apart from the q finer levels.

    ``counts`` (tasters, q), ``links`` (tasters, m, q), ``inner`` (tasters, m, m), ``borders``
    (tasters, m + q, d) with the coarser first, ``shares`` (tasters, m, terms) of the coarser.
    Padding has zeros everywhere.
    """

    counts: FloatArray
    links: FloatArray
    inner: FloatArray
    borders: FloatArray
    shares: FloatArray


def finest(blocks: Within) -> int | None:
    """Return the term with the most levels, or None where columns are no term's own.

    A term that is a slope has one column a taster, and is never it unless alone.
    """
    if blocks.turn is not None:
        return None
    return int(np.argmax((blocks.shares > 0.0).sum(axis=1).max(axis=0)))


def sort_blocks(blocks: Within, rows: IntArray, fine: int) -> Sorted:
    """Bring each taster's coarser columns and finer levels to places of their own."""
    shares = blocks.shares[rows]
    finer = shares[:, :, fine] > 0.0
    coarser = (shares > 0.0).any(axis=2) & ~finer
    first, has_first = _packed(coarser)
    second, has_second = _packed(finer)
    taster = np.arange(len(rows))[:, None]
    products = blocks.products[rows]
    counts = products[taster, second, second] * has_second
    links = products[taster[:, :, None], first[:, :, None], second[:, None, :]]
    inner = products[taster[:, :, None], first[:, :, None], first[:, None, :]]
    place = np.concatenate([first, second], axis=1)
    borders = blocks.borders[rows[:, None], place]
    borders *= np.concatenate([has_first, has_second], axis=1)[:, :, None]
    return Sorted(
        counts,
        links * has_first[:, :, None] * has_second[:, None, :],
        inner * has_first[:, :, None] * has_first[:, None, :],
        borders,
        shares[taster, first] * has_first[:, :, None],
    )


def _packed(chosen: NDArray[np.bool_]) -> tuple[IntArray, NDArray[np.bool_]]:
    """Places of the chosen columns (tasters, most), and which of them are no padding."""
    most = int(chosen.sum(axis=1).max(initial=0))
    place = np.argsort(~chosen, axis=1, kind="stable")[:, :most]
    return place, np.take_along_axis(chosen, place, axis=1)


@dataclass(frozen=True, slots=True)
class ArrowBlocks:
    """Many tasters with designs of their own; one finer term and coarser columns.

    ``values`` (U,), ``members`` (U,), ``tables`` (U, d d) and ``look`` (tasters, q) are as in
    `StarBlocks`; ``along`` (m, q, tasters) are the links, ``fine`` the number of the finer term.
    """

    values: FloatArray
    members: FloatArray
    tables: FloatArray
    look: IntArray
    along: FloatArray
    blocks: Sorted
    fine: int

    @classmethod
    def make(cls, blocks: Within, rows: IntArray, fine: int) -> "ArrowBlocks":
        """Sort the columns of the chosen tasters, and add up what needs no taster."""
        found = sort_blocks(blocks, rows, fine)
        sums = sums_by_number(found.counts, found.borders[:, found.links.shape[1] :])
        along = np.ascontiguousarray(np.moveaxis(found.links, 0, -1))
        return cls(*sums, along, found, fine)

    def node_size(self) -> int:
        """How many numbers one set of ratios needs while it is worked on."""
        tasters, coarse, fine = self.blocks.links.shape
        width = self.blocks.borders.shape[2]
        return int(tasters * coarse * (4 * coarse + 3 * fine + 3 * width))

    def reduce(self, ratios: FloatArray) -> Reduction:
        """Eliminate at each of the (K, terms) sets of variance ratios."""
        blocks, width = self.blocks, self.blocks.borders.shape[2]
        fine = ratios[:, self.fine, None]
        grown = 1.0 + self.values * fine
        taken = ((fine / grown) @ self.tables).reshape(len(ratios), width, width)
        felt = (-fine / grown)[:, self.look.T] * self.along[:, None]  # (m, K, q, tasters)
        root = np.sqrt(np.einsum("imj,kj->mki", blocks.shares, ratios))
        left = _left(blocks.inner, felt, self.along)
        half, logs = inverse_roots(root[:, None] * left * root)
        half *= root
        rows = _beside(half, felt) @ blocks.borders
        for k, each in enumerate(rows.reshape(len(ratios), -1, width)):
            taken[k] += gram(each, each)
        logdet = np.log(grown) @ self.members + 2.0 * logs.sum(axis=1)
        slopes = _Slopes(self, grown, felt, root, left, half)
        return Reduction(taken, logdet, slopes.of_logdet, slopes.of_products)


# Below, tasters are the last axis: the sums run over them, thousands long, and m and q are small.


def _left(inner: FloatArray, felt: FloatArray, along: FloatArray) -> FloatArray:
    """Return M: (m, m, K, tasters)."""
    coarse, points, _, tasters = felt.shape
    found = np.empty((coarse, coarse, points, tasters))
    for row in range(coarse):
        for column in range(row + 1):
            own = (felt[row] * along[column]).sum(axis=1) + inner[:, row, column]
            found[row, column] = found[column, row] = own
    return found


def _beside(half: FloatArray, felt: FloatArray) -> FloatArray:
    """Put lower triangles beside their products with what is felt: (K, tasters, m, m + q)."""
    coarse, points, fine, tasters = felt.shape
    found = np.zeros((points, coarse, coarse + fine, tasters))
    for row in range(coarse):
        found[:, row, :coarse] = np.moveaxis(half[row], 0, 1)
        for column in range(row + 1):
            found[:, row, coarse:] += half[row, column][:, None] * felt[column]
    return np.ascontiguousarray(np.moveaxis(found, -1, 1))


def inverse_roots(system: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the inverse Cholesky factors of I + S for many small S, and their half log-dets.

    Parameters
    ----------
    system : FloatArray
        (m, m, ...), symmetric.

    Examples
    --------
    >>> found, logs = inverse_roots(np.array([[3.0, 0.0], [0.0, 0.0]]))
    >>> np.diagonal(found).tolist(), round(float(logs), 4)
    ([0.5, 1.0], 0.6931)
    """
    size = len(system)
    lower, back = np.zeros_like(system), np.zeros_like(system)
    logs = np.zeros(system.shape[2:])
    for i in range(size):
        for j in range(i):
            lower[i, j] = (system[i, j] - (lower[i, :j] * lower[j, :j]).sum(axis=0)) * back[j, j]
        square = 1.0 + system[i, i] - (lower[i, :i] ** 2).sum(axis=0)
        logs += 0.5 * np.log(square)
        back[i, i] = 1.0 / np.sqrt(square)
        for j in range(i):
            back[i, j] = -(lower[i, j:i] * back[j:i, j]).sum(axis=0) * back[i, i]
    return back, logs


def _taster_first(values: FloatArray) -> FloatArray:
    """From (m, r, K, tasters) to (K, tasters, m, r)."""
    return np.ascontiguousarray(np.moveaxis(values, (2, 3), (0, 1)))


class _Slopes:
    """What only slopes need, made when they are asked for."""

    def __init__(
        self,
        arrow: ArrowBlocks,
        grown: FloatArray,
        felt: FloatArray,
        root: FloatArray,
        left: FloatArray,
        half: FloatArray,
    ) -> None:
        self.arrow, self.grown = arrow, grown
        self.own = felt, root, left, half

    @cached_property
    def felt(self) -> FloatArray:
        """What the coarser columns feel of the finer levels: (K, tasters, m, q)."""
        return _taster_first(self.own[0].swapaxes(1, 2))

    @cached_property
    def root(self) -> FloatArray:
        """Roots of the coarser columns' ratios: (K, tasters, m)."""
        return np.moveaxis(self.own[1], 0, -1)

    @cached_property
    def left(self) -> FloatArray:
        """M: (K, tasters, m, m)."""
        return _taster_first(self.own[2])

    @cached_property
    def half(self) -> FloatArray:
        """Lower triangles whose squares are R (I + R M R)^-1 R: (K, tasters, m, m)."""
        return _taster_first(self.own[3])

    @cached_property
    def spread(self) -> FloatArray:
        """R (I + R M R)^-1 R: (K, tasters, m, m)."""
        return np.asarray(self.half.mT @ self.half)

    @cached_property
    def solved(self) -> FloatArray:
        """(I + M D)^-1: (K, tasters, m, m)."""
        return np.asarray(np.eye(self.left.shape[-1]) - self.left @ self.spread)

    @cached_property
    def shrunk(self) -> FloatArray:
        """L diag(1 + f n)^-2: (K, tasters, m, q)."""
        return np.asarray(
            self.arrow.blocks.links * (self.grown**-2.0)[:, self.arrow.look][:, :, None]
        )

    @cached_property
    def squares(self) -> FloatArray:
        """L diag(1 + f n)^-2 L': (K, tasters, m, m)."""
        return np.asarray(self.shrunk @ self.arrow.blocks.links.mT)

    @cached_property
    def outer(self) -> FloatArray:
        """Rows of the coarser columns once the block is eliminated: (K, tasters, m, d)."""
        every = np.concatenate([self.solved, self.solved @ self.felt], axis=-1)
        return np.asarray(every @ self.arrow.blocks.borders)

    @cached_property
    def aside(self) -> FloatArray:
        """Rows of the finer levels that stand beside them: (K, tasters, m, d)."""
        return np.asarray(self.shrunk @ self.arrow.blocks.borders[:, self.left.shape[-1] :])

    def of_logdet(self) -> FloatArray:
        """Slopes of the log-determinant: (K, terms)."""
        arrow = self.arrow
        found = np.einsum("kirs,kisr,irj->kj", self.solved, self.left, arrow.blocks.shares)
        found[:, arrow.fine] += (arrow.values / self.grown) @ arrow.members
        found[:, arrow.fine] -= np.einsum("kirs,kirs->k", self.spread, self.squares)
        return np.asarray(found)

    def of_products(self, weights: FloatArray) -> FloatArray:
        """Slopes of the trace of weights (K, d, d) times what is left: (K, terms)."""
        arrow, size = self.arrow, self.root**2
        leaned = self.outer @ weights[:, None]
        products = leaned @ self.outer.mT
        lengths = np.diagonal(products, axis1=2, axis2=3)
        found = np.einsum("kim,imj->kj", lengths, arrow.blocks.shares)
        traces = weights.reshape(len(weights), -1) @ arrow.tables.T
        inside = np.einsum("ku,ku->k", traces, self.grown**-2.0)
        inside -= 2.0 * np.einsum("kim,kimd,kimd->k", size, leaned, self.aside)
        inside += np.einsum("kir,kirs,kis,kirs->k", size, products, size, self.squares)
        found[:, arrow.fine] += inside
        return np.asarray(-found)
