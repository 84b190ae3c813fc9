"""The sufficient statistics of a linear mixed model with tasters.

Columns that cut across tasters are *dense*: crossed random terms, fixed terms, the response.
Terms that lie within tasters (taster, taster:coffee, ...) are *nested* and can be eliminated
taster by taster, because their cross-products form one small block for each taster and
nothing between tasters: the arrow shape of Henderson's mixed-model equations.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_levels import Cells
from twobowls.statistics.mixed_model_terms import Term


@dataclass(frozen=True, slots=True)
class NestedBlocks:
    """One block a taster; blocks are padded to the same size q.

    Attributes
    ----------
    products : FloatArray
        (tasters, q, q): counts of marks shared by two nested levels.
    borders : FloatArray
        (tasters, q, d): sums of the dense columns over the marks of a nested level.
    term_of : IntArray
        (tasters, q): the nested term of a place, or -1 for padding.
    grid_of : IntArray
        (tasters, q): the place in the term's grid.
    """

    products: FloatArray
    borders: FloatArray
    term_of: IntArray
    grid_of: IntArray


@dataclass(frozen=True, slots=True)
class Model:
    """All of a model and its data that a fit needs.

    ``dense`` holds the crossed random terms, ``fixed`` the fixed ones with the intercept;
    ``products`` is (d, d) over their columns in this order and the response last. Variance
    ratios go in the order of ``random_names``: nested terms first, then crossed ones.
    """

    cells: Cells
    nested: tuple[Term, ...]
    dense: tuple[Term, ...]
    fixed: tuple[Term, ...]
    products: FloatArray
    blocks: NestedBlocks | None
    tasters: int

    @property
    def random_names(self) -> tuple[str, ...]:
        """Names of the random terms, in the order of the variance ratios."""
        return tuple(term.name for term in self.nested + self.dense)

    @property
    def crossed_columns(self) -> int:
        """How many columns the crossed random terms have."""
        return sum(len(term.kept) for term in self.dense)

    @property
    def fixed_columns(self) -> int:
        """How many columns the fixed terms have."""
        return sum(len(term.kept) for term in self.fixed)

    @property
    def term_of_crossed(self) -> IntArray:
        """Index among ``dense`` of the term of each crossed column."""
        sizes = [len(term.kept) for term in self.dense]
        return np.repeat(np.arange(len(sizes), dtype=np.intp), sizes)


def build_model(
    cells: Cells, nested: Sequence[Term], dense: Sequence[Term], fixed: Sequence[Term]
) -> Model:
    """Add up the cross-products of all terms.

    Parameters
    ----------
    cells : Cells
        The gathered marks; the factor ``taster`` is needed when ``nested`` is not empty.
    nested, dense, fixed : sequence of Term
        Random terms within tasters, crossed random terms, fixed terms.
    """
    columns = [*dense, *fixed]
    products = _dense_products(cells, columns)
    blocks = _nested_blocks(cells, nested, columns) if nested else None
    tasters = len(cells.factors["taster"].levels) if "taster" in cells.factors else 1
    return Model(cells, tuple(nested), tuple(dense), tuple(fixed), products, blocks, tasters)


def _pair_counts(first: Term, second: Term, weights: FloatArray) -> FloatArray:
    """Return the cross-product of the indicator columns of two terms: (kept, kept)."""
    keys = first.codes * second.grid + second.codes
    table = np.bincount(keys, weights=weights, minlength=first.grid * second.grid)
    square = table.reshape(first.grid, second.grid)[np.ix_(first.kept, second.kept)]
    return np.asarray(square, dtype=np.float64)


def _dense_products(cells: Cells, columns: Sequence[Term]) -> FloatArray:
    starts = np.cumsum([0, *(len(term.kept) for term in columns)])
    size = int(starts[-1])
    products = np.empty((size + 1, size + 1))
    for i, first in enumerate(columns):
        mine = slice(starts[i], starts[i + 1])
        for j in range(i, len(columns)):
            other = slice(starts[j], starts[j + 1])
            block = _pair_counts(first, columns[j], cells.counts)
            products[mine, other] = block
            products[other, mine] = block.T
        sums = np.bincount(first.codes, weights=cells.sums, minlength=first.grid)[first.kept]
        products[mine, size] = products[size, mine] = sums
    products[size, size] = cells.square_sum
    return products


def _nested_blocks(cells: Cells, nested: Sequence[Term], columns: Sequence[Term]) -> NestedBlocks:
    taster_codes = cells.factors["taster"].codes
    tasters = len(cells.factors["taster"].levels)
    compact = [_compact(term) for term in nested]
    sizes = [_sizes(cells, term) for term in nested]
    owner = [_owner(codes, size, taster_codes) for codes, size, _ in compact]
    place = _places(owner, tasters)
    size = 1 + max(int(each.max()) for each in place)
    term_of = np.full((tasters, size), -1, dtype=np.intp)
    grid_of = np.zeros((tasters, size), dtype=np.intp)
    products = np.zeros((tasters, size, size))
    for j, (codes, _, grid) in enumerate(compact):
        term_of[owner[j], place[j]] = j
        grid_of[owner[j], place[j]] = grid
        for k in range(len(nested)):
            flat = (taster_codes * size + place[j][codes]) * size + place[k][compact[k][0]]
            count = cells.counts * sizes[j] * sizes[k]
            products += np.bincount(flat, count, products.size).reshape(products.shape)
    borders = _borders(cells, columns, compact, sizes, owner, place, (tasters, size))
    return NestedBlocks(products, borders, term_of, grid_of)


def _sizes(cells: Cells, term: Term) -> FloatArray | float:
    """Return what stands in a term's columns: ones, or a slope's number of each cell's coffee."""
    return 1.0 if term.slope is None else term.slope[cells.factors["coffee"].codes]


def _compact(term: Term) -> tuple[IntArray, int, IntArray]:
    """Return codes over the levels present only, how many there are, and their grid places."""
    number = np.zeros(term.grid, dtype=np.intp)
    number[term.kept] = np.arange(len(term.kept))
    return number[term.codes], len(term.kept), term.kept


def _owner(codes: IntArray, size: int, taster_codes: IntArray) -> IntArray:
    """Return the taster that each level of a nested term belongs to."""
    owner = np.empty(size, dtype=np.intp)
    owner[codes] = taster_codes
    return owner


def _places(owner: Sequence[IntArray], tasters: int) -> list[IntArray]:
    """Return the place of each nested level within the block of its taster, terms in order."""
    filled = np.zeros(tasters, dtype=np.intp)
    places = []
    for owners in owner:
        order = np.argsort(owners, kind="stable")
        counts = np.bincount(owners, minlength=tasters)
        starts = np.cumsum(counts) - counts
        rank = np.empty(len(owners), dtype=np.intp)
        rank[order] = np.arange(len(owners)) - np.repeat(starts, counts)
        places.append(rank + filled[owners])
        filled = filled + counts
    return places


def _borders(
    cells: Cells,
    columns: Sequence[Term],
    compact: Sequence[tuple[IntArray, int, IntArray]],
    sizes: Sequence[FloatArray | float],
    owner: Sequence[IntArray],
    place: Sequence[IntArray],
    shape: tuple[int, int],
) -> FloatArray:
    width = sum(len(term.kept) for term in columns)
    borders = np.zeros((*shape, width + 1))
    for (codes, levels, _), own, owners, places in zip(compact, sizes, owner, place, strict=True):
        start, counts = 0, cells.counts * own
        for term in columns:
            keys = codes * term.grid + term.codes
            table = np.bincount(keys, counts, levels * term.grid)
            stop = start + len(term.kept)
            borders[owners, places, start:stop] = table.reshape(levels, -1)[:, term.kept]
            start = stop
        borders[owners, places, width] = np.bincount(codes, cells.sums * own, levels)
    return borders
