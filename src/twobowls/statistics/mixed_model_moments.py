"""Means and covariances of what a fit reports, given the variance ratios.

A reported quantity is a weighted sum of effects. For *people* it uses only what is common to
all tasters; for the *table* it adds the mean, over the tasters present, of their own effects.
Bowls are never part of it: a bowl's own effect is not the coffee's.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_basis import Within
from twobowls.statistics.mixed_model_blocks import Elimination, make_eliminations
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_kernel import Kernel
from twobowls.statistics.mixed_model_levels import Factor
from twobowls.statistics.mixed_model_terms import Term

HUGE = 1e30
EXACT = 1e-9

Weights = dict[str, FloatArray]


@dataclass(frozen=True, slots=True)
class Part:
    """Conditional moments for one population at K sets of ratios, residual variance one.

    ``mean`` (K, C) and ``covariance`` (K, C, C) of the coffees, ``cell_mean`` and
    ``cell_variance`` (K, J) of the coffees in rounds (J = 0 without rounds). Variances are to
    be multiplied by the residual variance.
    """

    mean: FloatArray
    covariance: FloatArray
    cell_mean: FloatArray
    cell_variance: FloatArray


@dataclass(frozen=True, slots=True)
class Moments:
    """The moments for people and for the table."""

    people: Part
    table: Part


@dataclass(frozen=True, slots=True)
class _NestedMeans:
    """Means over tasters of their own effects: one for each column of ``borders``.

    ``borders`` (tasters, q, E), ``weights`` (J, E), ``term`` (E,), and ``unseen`` (E,), the
    variance ratio's factor for tasters who have no such level. ``shared`` (J, E) are the weights
    of slopes alone, or None: people are told at the mean slope of these tasters.
    """

    borders: FloatArray
    weights: FloatArray
    term: IntArray
    unseen: FloatArray
    shared: FloatArray | None


def cell_weights(factors: dict[str, Factor], rounds: int) -> Weights:
    """Weights (J, levels) of each factor's levels in the means of the coffees (in rounds).

    Coffees go first, rounds (none: one cell a coffee) within them. Factors that are not asked for
    are averaged with equal weights; bowls count nothing.
    """
    coffees, per = len(factors["coffee"].levels), max(1, rounds)
    cells = coffees * per
    weights: Weights = {}
    for name, factor in factors.items():
        size = len(factor.levels)
        weights[name] = np.full((cells, size), 0.0 if name == "bowl" else 1.0 / size)
    weights["coffee"] = np.repeat(np.eye(coffees), per, axis=0)
    if rounds:
        weights["round"] = np.tile(np.eye(rounds), (coffees, 1))
    return weights


def _term_weights(term: Term, weights: Weights) -> FloatArray:
    """Weight (J, kept) of each kept column of a term."""
    values = np.ones((len(weights["coffee"]), len(term.kept)))
    for index, factor in enumerate(term.factors):
        values *= weights[factor.name][:, term.level_of(index)]
    return values


class Reporter:
    """Computes the moments of what is reported: C coffees, and J coffees in rounds.

    Parameters
    ----------
    model : Model
        The sufficient statistics.
    kernel : Kernel
        The same model made ready.
    rounds : int
        How many rounds have means of their own; zero for none.
    crossed : bool
        Whether crossed random effects are part of the quantities (their mean over the levels
        present), or only the fixed effects are, as in estimated marginal means.
    """

    def __init__(self, model: Model, kernel: Kernel, rounds: int, *, crossed: bool) -> None:
        self.kernel, self.rounds = kernel, rounds
        factors = model.cells.factors
        coffees, per = len(factors["coffee"].levels), max(1, rounds)
        weights = cell_weights(factors, rounds)
        self.average = np.kron(np.eye(coffees), np.full((1, per), 1.0 / per))
        terms = [*model.dense, *model.fixed]
        full = np.concatenate([_term_weights(term, weights) for term in terms], axis=1)
        if not crossed:
            full[:, : model.crossed_columns] = 0.0
        self.every_column = self.average @ full
        self.dense = kernel.columns.of(np.append(full, np.zeros((len(full), 1)), axis=1))[:, :-1]
        self.left = _left_out(model, full) if kernel.columns.turn is not None else None
        self.nested = _nested_means(model, kernel.within, weights)
        self.extra = 0 if self.nested is None else len(self.nested.term)
        self.eliminations: list[Elimination] = kernel.eliminations
        if kernel.within is not None and self.nested is not None:
            borders = np.concatenate([kernel.within.borders, self.nested.borders], axis=2)
            self.eliminations = make_eliminations(replace(kernel.within, borders=borders))
        ready = kernel.size + 1
        self.products = np.zeros((ready + self.extra, ready + self.extra))
        self.products[:ready, :ready] = kernel.products

    def moments(self, ratios: FloatArray) -> Moments:
        """Evaluate at (K, terms) variance ratios."""
        width = len(self.products) + len(self.dense)
        chunks = list(self.kernel.chunks(ratios, width))
        whole = np.zeros((min(chunks[0].stop, len(ratios)), width, width))  # chunk after chunk
        whole[:, len(self.products) :, : self.kernel.size] = self.dense
        return joined_moments([self._moments(ratios[each], whole) for each in chunks])

    def _moments(self, ratios: FloatArray, whole: FloatArray) -> Moments:
        kernel, nested, size = self.kernel, self.nested, self.kernel.size
        taken = np.zeros((1, *self.products.shape))
        for number, each in enumerate(self.eliminations):
            more = each.reduce(ratios[:, : kernel.nested_terms]).products
            taken = taken + more if number else more
        roots = self._roots(taken, ratios, whole[: len(ratios)])
        response, own, dense = np.split(roots, [1, 1 + self.extra], axis=1)
        away = None if self.left is None else ratios[:, kernel.nested_terms :]
        sums = _Sums(dense, (dense @ response.mT)[:, :, 0])
        if nested is None:
            part = self._part(sums, away)
            return Moments(part, part)
        inner = taken[:, size + 1 :, size + 1 :]
        corner = np.arange(self.extra)
        inner[:, corner, corner] += ratios[:, nested.term] * nested.unseen
        shift = taken[:, size + 1 :, size] + (own @ response.mT)[:, :, 0]
        table = sums.with_own(nested.weights, shift, own, inner)
        people = sums if nested.shared is None else sums.with_own(nested.shared, shift, own, inner)
        return Moments(self._part(people, away), self._part(table, away))

    def _roots(self, taken: FloatArray, ratios: FloatArray, whole: FloatArray) -> FloatArray:
        """Response, own effects and dense weights over the root of the system: (K, ..., size).

        Products of two of them go through the inverse of the system. The three stand as borders
        below it, and one factorisation divides them all. Their own corner has no part in that; a
        huge diagonal keeps it factorable. ``whole`` has the dense weights, and is written over.
        """
        kernel, size, ready = self.kernel, self.kernel.size, len(self.products)
        np.subtract(self.products, taken, out=whole[:, :ready, :ready])
        kernel.system(whole, kernel.precisions(ratios))
        corner = np.arange(size, whole.shape[1])
        whole[:, corner, corner] = HUGE
        return np.asarray(np.linalg.cholesky(whole)[:, size:, :size])

    def _part(self, sums: "_Sums", away: FloatArray | None) -> Part:
        """Coffees and coffees in rounds; ``away`` (K, terms) are the ratios of what is left out."""
        per = self.average if self.rounds else None
        mean, variance, covariance = sums.mean, sums.variances(), sums.covariance(per)
        if away is not None and self.left is not None:
            left = self.average @ self.left @ self.average.T
            covariance += np.tensordot(away, left, axes=1)
            variance += away @ np.diagonal(self.left, axis1=1, axis2=2)
        if per is None:
            return Part(mean, covariance, mean[:, :0], variance[:, :0])
        return Part(mean @ per.T, covariance, mean, variance)


@dataclass(frozen=True, slots=True)
class _Sums:
    """The J weighted sums that are reported, at K sets of ratios.

    ``mean`` (K, J); their covariances are the products of ``roots`` (K, J, size), and besides
    these those of ``weights`` (J, E) times ``inner`` (K, E, E).
    """

    roots: FloatArray
    mean: FloatArray
    weights: FloatArray | None = None
    inner: FloatArray | None = None

    def with_own(
        self, weights: FloatArray, shift: FloatArray, own: FloatArray, inner: FloatArray
    ) -> "_Sums":
        """Add weighted own effects: their means (K, E), roots (K, E, size) and what is beside."""
        roots = self.roots + weights @ own
        return _Sums(roots, self.mean + shift @ weights.T, weights, inner)

    def variances(self) -> FloatArray:
        """Return the variance of each sum: (K, J)."""
        found = np.einsum("kjd,kjd->kj", self.roots, self.roots)
        if self.weights is not None and self.inner is not None:
            found += np.einsum("kje,je->kj", self.weights @ self.inner, self.weights)
        return np.asarray(found)

    def covariance(self, per: FloatArray | None) -> FloatArray:
        """Return the covariances of the sums, or of means ``per`` (C, J) over them: (K, C, C)."""
        roots = self.roots if per is None else per @ self.roots
        found = roots @ roots.mT
        if self.weights is not None and self.inner is not None:
            weights = self.weights if per is None else per @ self.weights
            found += weights @ self.inner @ weights.T
        return np.asarray(found)


def joined_moments(parts: Sequence[Moments]) -> Moments:
    """Put the moments at several sets of ratios one after the other."""
    if len(parts) == 1:
        return parts[0]
    return Moments(_joined([p.people for p in parts]), _joined([p.table for p in parts]))


def _joined(parts: Sequence[Part]) -> Part:
    return Part(
        np.concatenate([part.mean for part in parts]),
        np.concatenate([part.covariance for part in parts]),
        np.concatenate([part.cell_mean for part in parts]),
        np.concatenate([part.cell_variance for part in parts]),
    )


def _left_out(model: Model, weights: FloatArray) -> FloatArray | None:
    """Return what the means of crossed terms add to covariances: (terms, J, J), by ratio.

    In contrasts these means are left to the intercept; where a quantity does not take them in
    full (it never does with bowls), their own variance comes back.
    """
    stops = np.cumsum([len(term.kept) for term in model.dense])[:-1]
    parts = np.split(weights[:, : model.crossed_columns], stops, axis=1)
    short = np.array([part.sum(axis=1) - 1.0 for part in parts])
    if not model.dense or np.abs(short).max() < EXACT:
        return None
    sizes = np.array([len(term.kept) for term in model.dense])
    return np.asarray(short[:, :, None] * short[:, None, :] / sizes[:, None, None])


def _turned_means(model: Model, turn: FloatArray, cells: Weights) -> _NestedMeans:
    """Means over tasters of their contrasts and means, which every quantity takes in full."""
    own = [[each for each in term.factors if each.name != "taster"] for term in model.nested]
    weights = [_grid_weights(factors, cells) for factors in own]
    every = np.concatenate(weights, axis=1) @ turn
    size = turn.shape[1]
    return _NestedMeans(
        np.broadcast_to(np.eye(size) / model.tasters, (model.tasters, size, size)),
        every,
        np.zeros(size, dtype=np.intp),
        np.zeros(size),
        None,
    )


def _nested_means(model: Model, within: Within | None, cells: Weights) -> _NestedMeans | None:
    if model.blocks is None or within is None:
        return None
    if within.turn is not None:
        return _turned_means(model, within.turn, cells)
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
        mine = np.zeros((*blocks.term_of.shape, grid))
        taster, row = np.nonzero(blocks.term_of == j)
        mine[taster, row, place[taster, row]] = 1.0
        borders.append(mine / tasters)
        if term.slope is None:
            weights.append(_grid_weights(own, cells))
        else:
            weights.append((cells["coffee"] @ term.slope)[:, None])
        terms += [j] * grid
        unseen.append((tasters - mine.sum(axis=(0, 1))) / tasters**2)
    if not borders:
        return None
    every = np.concatenate(weights, axis=1)
    slopes = np.array([model.nested[j].slope is not None for j in terms])
    return _NestedMeans(
        np.concatenate(borders, axis=2),
        every,
        np.array(terms, dtype=np.intp),
        np.concatenate(unseen),
        every * slopes if slopes.any() else None,
    )


def _grid_weights(factors: Sequence[Factor], weights: Weights) -> FloatArray:
    """Weights (J, grid) over the full grid of some factors."""
    cells = len(weights["coffee"])
    values = np.ones((cells, 1))
    for factor in factors:
        values = (values[:, :, None] * weights[factor.name][:, None]).reshape(cells, -1)
    return values
