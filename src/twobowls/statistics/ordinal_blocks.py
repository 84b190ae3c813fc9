"""The sparse shape of the random effects: independent blocks with a common border.

Tasters do not touch each other's effects, nor do the taster-by-coffee effects inside them:
their curvature is block-diagonal. Factors crossed with those (bowls, coffees) form a border.
Which factor goes where is decided by the cost. Nothing here knows about categories.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.ordinal_inputs import Array, Codes

_MOST_CELLS = 60_000_000


@dataclass(frozen=True, slots=True)
class Layout:
    """Where each random effect sits in one long vector: G blocks of d, then the border.

    ``at[r][i]`` is the place of row i's level of factor r; ``places[r][l]`` that of level l.
    Blocks shorter than d are padded; padded places belong to no factor and stay zero.
    """

    at: tuple[Codes, ...]
    places: tuple[Codes, ...]
    inner: tuple[int, ...]
    blocks: int
    width: int
    border: int

    @property
    def size(self) -> int:
        """Length of the vector of random effects."""
        return self.blocks * self.width + self.border

    def spread_out(self, by_factor: Array) -> Array:
        """Return one value a place from one value a factor."""
        out = np.zeros(self.size)
        for value, places in zip(by_factor, self.places, strict=True):
            out[places] = value
        return out

    def collect(self, rows: Array) -> Array:
        """Sum a value a row over the places the row touches: Z'x."""
        out = np.zeros(self.size)
        for at in self.at:
            out += np.bincount(at, rows, minlength=self.size)
        return out

    def collect_by(self, rows: Array, kind: Codes, kinds: int) -> Array:
        """Sum a value a row over places and the row's kind: (size, kinds)."""
        out = np.zeros(self.size * kinds)
        for at in self.at:
            out += np.bincount(at * kinds + kind, rows, minlength=out.size)
        return out.reshape(self.size, kinds)

    def collect_columns(self, rows: Array) -> Array:
        """Sum an (n, p) matrix over places: (size, p)."""
        return np.column_stack([self.collect(column) for column in rows.T])

    def gather(self, effects: Array) -> Array:
        """Return each row's sum of effects: Zu."""
        out = np.zeros(self.at[0].size)
        for at in self.at:
            out += effects[at]
        return out


@dataclass(frozen=True, slots=True)
class Factored:
    """A positive definite matrix of the layout's shape, ready to solve with.

    ``inner`` has the inverses of the blocks alone, ``link`` those times the part that joins
    them to the border, ``border`` the inverse of what is then left of the border.
    """

    layout: Layout
    log_det: float
    inner: Array
    link: Array
    border: Array

    def solve(self, right: Array) -> Array:
        """Return the solution of H x = right for right (size,) or (size, p)."""
        layout = self.layout
        columns = right.reshape(layout.size, -1)
        split = layout.blocks * layout.width
        if layout.width == 1 and layout.border == 0:
            return np.asarray(self.inner.reshape(-1, 1) * columns).reshape(right.shape)
        head = columns[:split].reshape(layout.blocks, layout.width, -1)
        solved = self.inner @ head
        if layout.border == 0:
            return np.asarray(solved.reshape(right.shape))
        carried = np.tensordot(self.link, head, axes=([0, 1], [0, 1]))
        tail = self.border @ (columns[split:] - carried)
        solved = solved - self.link @ tail
        return np.concatenate([solved.reshape(split, -1), tail]).reshape(right.shape)

    def inverse(self) -> "Inverse":
        """Return the inverse's entries that rows and variances need."""
        if not self.layout.border:
            return Inverse(self.layout, self.inner, self.link, self.border)
        reach = self.link @ self.border
        inner = self.inner + reach @ self.link.transpose(0, 2, 1)
        return Inverse(self.layout, inner, -reach, self.border)


@dataclass(frozen=True, slots=True)
class Inverse:
    """Entries of an inverse: inside the blocks, from blocks to border, inside the border."""

    layout: Layout
    inner: Array
    reach: Array
    border: Array

    def diagonal(self) -> Array:
        """Return the diagonal, one value a place."""
        inner = np.diagonal(self.inner, axis1=1, axis2=2)
        return np.concatenate([inner.ravel(), np.diagonal(self.border)])

    def between(self, r: int, s: int) -> Array:
        """Return, for each row, the entry between its levels of factors r and s."""
        layout = self.layout
        split = layout.blocks * layout.width
        at_r, at_s = layout.at[r], layout.at[s]
        if r in layout.inner and s in layout.inner:
            return np.asarray(self.inner.ravel()[at_r * layout.width + at_s % layout.width])
        if r in layout.inner:
            return np.asarray(self.reach.ravel()[at_r * layout.border + at_s - split])
        if s in layout.inner:
            return self.between(s, r)
        return np.asarray(self.border[at_r - split, at_s - split])


def assemble(layout: Layout, rows: Array, scale: Array) -> Factored:
    """Factor I + T Z' diag(rows) Z T.

    Parameters
    ----------
    layout : Layout
        The shape.
    rows : array (n,)
        Curvature of each row, none negative.
    scale : array (R,)
        Standard deviation of each random factor: the diagonal of T.
    """
    blocks, width, border = layout.blocks, layout.width, layout.border
    split = blocks * width
    inner = np.zeros(split * width)
    inner[np.arange(split) * width + np.arange(split) % width] = 1.0
    link = np.zeros(split * border)
    corner = np.eye(border).ravel()
    for r, at_r in enumerate(layout.at):
        for s, at_s in enumerate(layout.at):
            value = rows * (scale[r] * scale[s])
            if r in layout.inner and s in layout.inner:
                place = at_r * width + at_s % width
                inner += np.bincount(place, value, minlength=inner.size)
            elif r in layout.inner:
                link += np.bincount(at_r * border + at_s - split, value, minlength=link.size)
            elif s not in layout.inner:
                place = (at_r - split) * border + at_s - split
                corner += np.bincount(place, value, minlength=corner.size)
    return _factor(
        layout,
        inner.reshape(blocks, width, width),
        link.reshape(blocks, width, border),
        corner.reshape(border, border),
    )


def _factor(layout: Layout, inner: Array, link: Array, corner: Array) -> Factored:
    if layout.width == 1:
        inverse = 1.0 / inner
        log_det = float(np.log(inner).sum())
    else:
        roots = np.linalg.cholesky(inner)
        log_det = 2.0 * float(np.log(np.diagonal(roots, axis1=1, axis2=2)).sum())
        inverse = np.asarray(np.linalg.inv(inner), dtype=np.float64)
    if not layout.border:
        return Factored(layout, log_det, inverse, link, corner)
    reach = inverse @ link
    left = corner - np.tensordot(link, reach, axes=([0, 1], [0, 1]))
    log_det += 2.0 * float(np.log(np.diagonal(np.linalg.cholesky(left))).sum())
    corner = np.asarray(np.linalg.inv(left), dtype=np.float64)
    return Factored(layout, log_det, inverse, reach, corner)


def lay_out(levels: Sequence[Codes], sizes: Sequence[int]) -> Layout:
    """Choose the cheapest split of the random factors into blocks and border.

    Parameters
    ----------
    levels : sequence of R arrays (n,)
        The level of each row, for each random factor.
    sizes : sequence of int
        How many levels each factor has.

    Raises
    ------
    InputError
        When no split keeps the matrices to a size that a small computer holds.

    Examples
    --------
    >>> tasters, bowls = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    >>> plan = lay_out([tasters, bowls], [2, 2])
    >>> plan.blocks, plan.width, plan.border
    (2, 1, 2)
    >>> tasters = np.repeat(np.arange(20), 3)
    >>> nested = lay_out([tasters, np.arange(60)], [20, 60])
    >>> nested.blocks, nested.width, nested.border
    (20, 4, 0)
    """
    factors = range(len(levels))
    plans = [
        _plan(levels, sizes, tuple(r for r in factors if r not in border))
        for count in range(len(levels) + (len(levels) == 0))
        for border in combinations(factors, count)
    ]
    best = min(plans, key=lambda plan: _cost(plan)[0])
    if _cost(best)[1] > _MOST_CELLS:
        raise InputError(
            "random",
            "These factors cross in too many places to be fitted together",
            "Leave out the factor with the most levels, or fit fewer tasters at a time",
        )
    return _place(levels, sizes, *best)


def lay_out_whole(levels: Sequence[Codes], sizes: Sequence[int]) -> Layout:
    """Lay out the random factors in blocks alone, linked effects in one block, no border.

    Parameters
    ----------
    levels, sizes
        As in `lay_out`.

    Examples
    --------
    >>> tasters, bowls = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    >>> plan = lay_out_whole([tasters, bowls], [2, 2])
    >>> plan.blocks, plan.width, plan.border
    (1, 4, 0)
    """
    return _place(levels, sizes, *_plan(levels, sizes, tuple(range(len(levels)))))


Plan = tuple[tuple[int, ...], Codes, int, int]


def _plan(levels: Sequence[Codes], sizes: Sequence[int], inner: tuple[int, ...]) -> Plan:
    """Return (inner factors, block of each inner level, widest block, border levels)."""
    border = sum(size for r, size in enumerate(sizes) if r not in inner)
    block = _components([levels[r] for r in inner], [sizes[r] for r in inner])
    width = int(np.bincount(block).max()) if block.size else 1
    return inner, block, width, border


def _cost(plan: Plan) -> tuple[float, float]:
    """Return the work of one factorisation and the cells it holds."""
    _, block, width, border = plan
    blocks = int(block.max()) + 1 if block.size else 0
    work = float(blocks) * width * (width + border) ** 2 + float(border) ** 3
    return work, float(blocks) * width * (width + border) + float(border) ** 2


def _components(levels: Sequence[Codes], sizes: Sequence[int]) -> Codes:
    """Return the connected component of every level, factors end to end."""
    starts = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    nodes = [codes + start for codes, start in zip(levels, starts, strict=False)]
    label = np.arange(starts[-1])
    if len(levels) == 1:
        return label
    while True:
        lowest = label.copy()
        for one, other in combinations(nodes, 2):
            least = np.minimum(lowest[one], lowest[other])
            np.minimum.at(lowest, one, least)
            np.minimum.at(lowest, other, least)
        lowest = lowest[lowest]
        if np.array_equal(lowest, label):
            return np.unique(label, return_inverse=True)[1]
        label = lowest


def _place(
    levels: Sequence[Codes],
    sizes: Sequence[int],
    inner: tuple[int, ...],
    block: Codes,
    width: int,
    border: int,
) -> Layout:
    blocks = int(block.max()) + 1 if block.size else 0
    order = np.argsort(block, kind="stable")
    starts = np.searchsorted(block[order], np.arange(blocks))
    slot = np.empty_like(block)
    slot[order] = np.arange(block.size) - starts[block[order]]
    inside = block * width + slot
    places, start, outside = [], 0, blocks * width
    for r, size in enumerate(sizes):
        if r in inner:
            places.append(inside[start : start + size])
            start += size
        else:
            places.append(np.arange(outside, outside + size))
            outside += size
    at = tuple(place[codes] for place, codes in zip(places, levels, strict=True))
    return Layout(at, tuple(places), inner, blocks, width, border)
