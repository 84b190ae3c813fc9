"""Means and covariances of what a fit reports, given the variance ratios.

A reported quantity is a weighted sum of effects. For *people* it uses only what is common to
all tasters; for the *table* it adds the mean, over the tasters present, of their own effects.
Bowls are never part of it: a bowl's own effect is not the coffee's.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_blocks import Elimination, make_eliminations
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_kernel import Kernel
from twobowls.statistics.mixed_model_levels import Factor
from twobowls.statistics.mixed_model_terms import Term

Weights = dict[str, FloatArray]


@dataclass(frozen=True, slots=True)
class Moments:
    """Conditional moments at K sets of ratios, the residual variance set to one.

    ``people_mean`` and ``table_mean`` are (K, J), the covariances (K, J, J); covariances
    are to be multiplied by the residual variance.
    """

    logdet: FloatArray
    rss: FloatArray
    people_mean: FloatArray
    people_covariance: FloatArray
    table_mean: FloatArray
    table_covariance: FloatArray


@dataclass(frozen=True, slots=True)
class _NestedMeans:
    """Means over tasters of their own effects: one for each column of ``borders``.

    ``borders`` (tasters, q, E), ``weights`` (J, E), ``term`` (E,), and ``unseen`` (E,), the
    variance ratio's factor for tasters who have no such level.
    """

    borders: FloatArray
    weights: FloatArray
    term: IntArray
    unseen: FloatArray


def cell_weights(factors: dict[str, Factor], coffee: int, round_: int | None) -> Weights:
    """Weights of the levels of each factor in the mean of one coffee (in one round).

    Factors that are not asked for are averaged with equal weights; bowls count nothing.
    """
    weights: Weights = {}
    for name, factor in factors.items():
        size = len(factor.levels)
        chosen = {"coffee": coffee, "round": round_}.get(name)
        if name == "bowl":
            weights[name] = np.zeros(size)
        elif chosen is None:
            weights[name] = np.full(size, 1.0 / size)
        else:
            weights[name] = (np.arange(size) == chosen).astype(float)
    return weights


def _term_weights(term: Term, weights: Weights) -> FloatArray:
    """Weight of each kept column of a term."""
    values = np.ones(len(term.kept))
    for index, factor in enumerate(term.factors):
        values = values * weights[factor.name][term.level_of(index)]
    return values


class Reporter:
    """Computes the moments of J reported quantities of a model.

    Parameters
    ----------
    model : Model
        The sufficient statistics.
    kernel : Kernel
        The same model made ready.
    cells : sequence of Weights
        One set of level weights a quantity, see `cell_weights`.
    crossed : bool
        Whether crossed random effects are part of the quantities (their mean over the levels
        present), or only the fixed effects are, as in estimated marginal means.
    """

    def __init__(
        self, model: Model, kernel: Kernel, cells: Sequence[Weights], *, crossed: bool
    ) -> None:
        self.kernel = kernel
        terms = [*model.dense, *model.fixed]
        full = np.array([np.concatenate([_term_weights(t, w) for t in terms]) for w in cells])
        if not crossed:
            full[:, : model.crossed_columns] = 0.0
        self.every_column = full
        self.dense = full[:, kernel.columns[:-1]]
        self.nested = _nested_means(model, cells)
        self.eliminations: list[Elimination] = kernel.eliminations
        if model.blocks is not None and self.nested is not None:
            borders = np.concatenate(
                [model.blocks.borders[..., kernel.columns], self.nested.borders], axis=2
            )
            self.eliminations = make_eliminations(
                replace(model.blocks, borders=borders), len(model.nested)
            )

    def moments(self, ratios: FloatArray) -> Moments:
        """Evaluate at (K, terms) variance ratios."""
        parts = [self._moments(ratios[each]) for each in self.kernel.chunks(ratios)]
        if len(parts) == 1:
            return parts[0]
        names = Moments.__dataclass_fields__
        return Moments(**{n: np.concatenate([getattr(p, n) for p in parts]) for n in names})

    def _moments(self, ratios: FloatArray) -> Moments:
        kernel, nodes, size = self.kernel, len(ratios), self.kernel.size
        extra = 0 if self.nested is None else len(self.nested.term)
        taken = np.zeros((nodes, size + 1 + extra, size + 1 + extra))
        logdet = np.zeros(nodes)
        for part in self.eliminations:
            reduction = part.reduce(ratios[:, : kernel.nested_terms])
            taken += reduction.products
            logdet += reduction.logdet
        left = kernel.products - taken[:, : size + 1, : size + 1]
        scales = kernel.scales(ratios)
        system, more, rss = kernel.factor(left, scales)
        people = scales[:, None, :] * self.dense
        table, shift, spread = self._table(taken, scales, people, ratios)
        quantities = len(self.dense)
        right = np.concatenate([system[:, :size, size:], people.mT, table.mT], axis=2)
        solved = np.linalg.solve(system[:, :size, :size], right)
        solution = solved[:, :, :1]
        return Moments(
            logdet + more,
            rss,
            (people @ solution)[:, :, 0],
            people @ solved[:, :, 1 : 1 + quantities],
            (table @ solution)[:, :, 0] + shift,
            table @ solved[:, :, 1 + quantities :] + spread,
        )

    def _table(
        self, taken: FloatArray, scales: FloatArray, people: FloatArray, ratios: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weights, shifts (K, J) and extra covariance (K, J, J) of the table's quantities."""
        nodes, quantities = len(scales), len(self.dense)
        if self.nested is None:
            return people, np.zeros((nodes, quantities)), np.zeros((nodes, quantities, quantities))
        size, weights = self.kernel.size, self.nested.weights
        pulled = weights @ taken[:, size + 1 :, :size]
        shift = np.einsum("je,ke->kj", weights, taken[:, size + 1 :, size])
        inner = taken[:, size + 1 :, size + 1 :].copy()
        corner = np.arange(inner.shape[1])
        inner[:, corner, corner] += ratios[:, self.nested.term] * self.nested.unseen
        return people - pulled * scales[:, None, :], shift, weights @ inner @ weights.T


def _nested_means(model: Model, cells: Sequence[Weights]) -> _NestedMeans | None:
    if model.blocks is None:
        return None
    blocks, tasters = model.blocks, model.tasters
    borders, weights, terms, unseen = [], [], [], []
    for j, term in enumerate(model.nested):
        names = [factor.name for factor in term.factors]
        if "bowl" in names or "taster" not in names:
            continue
        own = [factor for factor in term.factors if factor.name != "taster"]
        grid = int(np.prod([len(factor.levels) for factor in own], initial=1))
        of_term = np.where(blocks.term_of == j, blocks.grid_of, 0)
        levels = np.unravel_index(of_term, [len(f.levels) for f in term.factors])
        place = np.zeros_like(blocks.grid_of)
        for factor, level in zip(term.factors, levels, strict=True):
            if factor.name != "taster":
                place = place * len(factor.levels) + level
        mine = (blocks.term_of == j)[..., None] & (place[..., None] == np.arange(grid))
        borders.append(mine / tasters)
        weights.append([_grid_weights(own, each) for each in cells])
        terms += [j] * grid
        unseen.append((tasters - mine.sum(axis=(0, 1))) / tasters**2)
    if not borders:
        return None
    return _NestedMeans(
        np.concatenate(borders, axis=2),
        np.concatenate([np.array(each) for each in weights], axis=1),
        np.array(terms, dtype=np.intp),
        np.concatenate(unseen),
    )


def _grid_weights(factors: Sequence[Factor], weights: Weights) -> FloatArray:
    """Weights over the full grid of some factors."""
    values = np.ones(1)
    for factor in factors:
        values = np.outer(values, weights[factor.name]).ravel()
    return values
