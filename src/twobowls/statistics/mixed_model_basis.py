"""Fewer columns that say the same: a basis in which the effects stay independent.

The columns of a factor's levels add up to the intercept, and those of two factors' combinations
to either factor's. So a model has far more columns than its design has ranks. In a basis of
contrasts (and one mean) the effects of a term remain independent with one variance; the means,
which several terms share, have the sum of the terms' variances; and a mean that the intercept has
too can be left out, because the intercept is free to take any value. Nothing is approximated.

References
----------
Searle, Casella and McCulloch (1992), *Variance Components*, sections 4.4 and 6.6: the balanced
decomposition, and restricted likelihood as that of contrasts free of the fixed effects.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_terms import Term

MANY_DESIGNS = 32  # different ones among tasters, from which on blocks are not taken one by one


@dataclass(frozen=True, slots=True)
class Columns:
    """Which columns of a model a kernel works with, the response last.

    ``shares`` (crossed columns, crossed terms): each column's variance as a sum of shares of
    the terms' variances. ``index`` (columns,) picks them out of the model's; or else they are
    contrasts ``turn`` (model's columns, columns), and the terms' means are left to the intercept.
    """

    shares: FloatArray
    index: IntArray | None = None
    turn: FloatArray | None = None

    def of(self, values: FloatArray) -> FloatArray:
        """Return what values (..., model's columns, the response last) are in these columns."""
        if self.turn is not None:
            return np.asarray(values @ self.turn)
        if self.index is not None and len(self.index) < values.shape[-1]:
            return np.asarray(values[..., self.index])
        return values


def chosen_columns(model: Model, keep: IntArray | None) -> Columns:
    """Take the model's columns as they are, of the fixed ones those in ``keep`` (None: all)."""
    crossed = model.crossed_columns
    fixed = np.arange(model.fixed_columns) if keep is None else np.asarray(keep, dtype=np.intp)
    index = np.concatenate([np.arange(crossed), crossed + fixed, [len(model.products) - 1]])
    shares = model.term_of_crossed[:, None] == np.arange(len(model.dense))
    return Columns(shares.astype(np.float64), index=index.astype(np.intp))


def turned_columns(model: Model) -> Columns:
    """Turn the crossed columns into contrasts, and leave their means to the intercept."""
    terms, every = model.dense, len(model.products)
    starts = np.cumsum([0, *(len(term.kept) for term in terms)])
    columns, shares = [np.zeros((every, 0))], [np.zeros((0, len(terms)))]
    for group in _groups(terms):
        pieces, own = _pieces([terms[each] for each in group])
        columns.append(np.zeros((every, pieces.shape[1])))
        columns[-1][starts[group[-1]] : starts[group[-1] + 1]] = pieces
        shares.append(np.zeros((len(own), len(terms))))
        shares[-1][:, list(group)] = own
    rest = np.eye(every)[:, starts[-1] :]
    return Columns(np.concatenate(shares), turn=np.concatenate([*columns, rest], axis=1))


def contrasts(size: int) -> FloatArray:
    """Return orthonormal columns (size, size - 1) that each add up to zero (Helmert's).

    Examples
    --------
    >>> contrasts(2).round(3).tolist()
    [[0.707], [-0.707]]
    """
    found = np.zeros((size, size - 1))
    for k in range(1, size):
        found[:k, k - 1] = 1.0
        found[k, k - 1] = -k
        found[:, k - 1] /= np.sqrt(k * (k + 1.0))
    return found


def _groups(terms: tuple[Term, ...]) -> list[tuple[int, ...]]:
    """Sort terms into groups of one, and of two factors with all their combinations."""
    place = {term.name: number for number, term in enumerate(terms)}
    groups: list[tuple[int, ...]] = []
    free = set(range(len(terms)))
    for number, term in enumerate(terms):
        names = [factor.name for factor in term.factors]
        group = (*(place[name] for name in names if name in place), number)
        whole = all(len(terms[each].kept) == terms[each].grid for each in group)
        # a bowl's effect is never reported, so that it cannot be told by one with its coffee's
        pair = len(names) == 2 and len(group) == 3 and "bowl" not in names
        if pair and whole and free.issuperset(group):
            groups.append(group)
            free.difference_update(group)
    return [*groups, *((number,) for number in sorted(free))]


def _pieces(terms: list[Term]) -> tuple[FloatArray, FloatArray]:
    """Return a group's columns over the levels of its last term, and their shares (r, terms).

    Of one term: its contrasts. Of two factors and their combinations: the contrasts of either,
    with the mean over the other's levels, and the contrasts of both.
    """
    if len(terms) == 1:
        turn = contrasts(len(terms[0].kept))
        return turn, np.ones((turn.shape[1], 1))
    first, second = len(terms[0].kept), len(terms[1].kept)
    one, two = contrasts(first), contrasts(second)
    pieces = [
        np.kron(one, np.full((second, 1), second**-0.5)),
        np.kron(np.full((first, 1), first**-0.5), two),
        np.kron(one, two),
    ]
    shares = [[second, 0.0, 1.0], [0.0, first, 1.0], [0.0, 0.0, 1.0]]
    counts = [piece.shape[1] for piece in pieces]
    return np.concatenate(pieces, axis=1), np.repeat(np.array(shares, dtype=float), counts, axis=0)


@dataclass(frozen=True, slots=True)
class Within:
    """The terms within tasters, ready to be eliminated: one block of q columns a taster.

    ``products`` (tasters, q, q), ``borders`` (tasters, q, d), and ``shares`` (tasters, q, terms):
    each column's variance as a sum of shares of the terms' variances; padding has none. ``turn``
    (model's q, q), where it is there, is what made them of the model's: contrasts and a mean.
    """

    products: FloatArray
    borders: FloatArray
    shares: FloatArray
    turn: FloatArray | None


def within_tasters(model: Model, columns: Columns, *, turned: bool) -> Within | None:
    """Take a model's blocks, turned into contrasts and a mean where that can be done."""
    if model.blocks is None:
        return None
    blocks, borders = model.blocks, columns.of(model.blocks.borders)
    if not (turned and _complete(model)):
        shares = blocks.term_of[:, :, None] == np.arange(len(model.nested))
        return Within(blocks.products, borders, shares.astype(np.float64), None)
    turn, own = _own_pieces(blocks.term_of[0], len(model.nested))
    shares = np.broadcast_to(own, (model.tasters, *own.shape))
    return Within(turn.T @ blocks.products @ turn, turn.T @ borders, shares, turn)


def _complete(model: Model) -> bool:
    """Whether every taster has every level of every term, and all effects are reported alike.

    Where the numbers of marks of many tasters differ, terms stay as they are (and two or fewer
    always): such blocks are eliminated from their largest term on (`mixed_model_star`,
    `mixed_model_arrow`), and among contrasts none is diagonal.
    """
    if model.blocks is None:
        return False
    products, few = model.blocks.products, len(model.nested) <= 2
    if (few or model.tasters > MANY_DESIGNS) and not (products == products[0]).all():
        return False
    return all(
        term.slope is None
        and len(term.kept) == term.grid
        and "taster" in (names := {factor.name for factor in term.factors})
        and "bowl" not in names
        for term in model.nested
    )


def _own_pieces(term_of: IntArray, terms: int) -> tuple[FloatArray, FloatArray]:
    """Return the mean and the contrasts (q, r) of one taster's terms, and their shares.

    All terms add up to the same column of ones, so that the taster's mean is one effect, with a
    part of each term.
    """
    turn, shares = [np.zeros((len(term_of), 1))], [np.zeros((1, terms))]
    turn[0][term_of == 0] = 1.0
    for term in range(terms):
        mine = np.flatnonzero(term_of == term)
        shares[0][0, term] = 1.0 / len(mine)
        columns = np.zeros((len(term_of), len(mine) - 1))
        columns[mine] = contrasts(len(mine))
        turn.append(columns)
        shares.append(np.repeat(np.eye(terms)[[term]], len(mine) - 1, axis=0))
    return np.concatenate(turn, axis=1), np.concatenate(shares)
