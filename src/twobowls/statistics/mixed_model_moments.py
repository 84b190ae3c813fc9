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
        cells = [
            cell_weights(factors, c, r if rounds else None)
            for c in range(coffees)
            for r in range(per)
        ]
        self.average = np.kron(np.eye(coffees), np.full((1, per), 1.0 / per))
        terms = [*model.dense, *model.fixed]
        full = np.array([np.concatenate([_term_weights(t, w) for t in terms]) for w in cells])
        if not crossed:
            full[:, : model.crossed_columns] = 0.0
        self.every_column = self.average @ full
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
        return Moments(_joined([p.people for p in parts]), _joined([p.table for p in parts]))

    def _moments(self, ratios: FloatArray) -> Moments:
        kernel, size = self.kernel, self.kernel.size
        extra = 0 if self.nested is None else len(self.nested.term)
        taken = np.zeros((len(ratios), size + 1 + extra, size + 1 + extra))
        for elimination in self.eliminations:
            taken += elimination.reduce(ratios[:, : kernel.nested_terms]).products
        system = kernel.system(
            kernel.products - taken[:, : size + 1, : size + 1], kernel.precisions(ratios)
        )
        response = system[:, :size, size:]
        people = np.broadcast_to(self.dense, (len(ratios), *self.dense.shape))
        if self.nested is None:
            solved = np.linalg.solve(
                system[:, :size, :size], np.concatenate([response, people.mT], axis=2)
            )
            part = self._part(people, solved[:, :, 1:], solved[:, :, 0])
            return Moments(part, part)
        table = people - self.nested.weights @ taken[:, size + 1 :, :size]
        if self.nested.shared is not None:
            people = people - self.nested.shared @ taken[:, size + 1 :, :size]
        right = np.concatenate([response, people.mT, table.mT], axis=2)
        solved = np.linalg.solve(system[:, :size, :size], right)
        cells = len(self.dense)
        own = taken[:, size + 1 :, size:]
        anyone = self._part(people, solved[:, :, 1 : 1 + cells], solved[:, :, 0])
        if self.nested.shared is not None:
            anyone = self._with_own(anyone, self.nested.shared, own, ratios)
        these = self._part(table, solved[:, :, 1 + cells :], solved[:, :, 0])
        return Moments(anyone, self._with_own(these, self.nested.weights, own, ratios))

    def _part(self, weights: FloatArray, solved: FloatArray, solution: FloatArray) -> Part:
        """Moments of weighted sums (K, J, d) from the solved systems (K, d, J) and (K, d)."""
        mean = np.einsum("kjd,kd->kj", weights, solution)
        if not self.rounds:
            return Part(mean, weights @ solved, mean[:, :0], mean[:, :0])
        variance = np.einsum("kjd,kdj->kj", weights, solved)
        covariance = (self.average @ weights) @ (solved @ self.average.T)
        return Part(mean @ self.average.T, covariance, mean, variance)

    def _with_own(
        self, part: Part, weights: FloatArray, taken: FloatArray, ratios: FloatArray
    ) -> Part:
        """Add what the tasters' own effects add, from what was taken (K, E, 1 + ... + E)."""
        nested = self.nested
        assert nested is not None
        inner = taken[:, :, 1:].copy()
        corner = np.arange(inner.shape[1])
        inner[:, corner, corner] += ratios[:, nested.term] * nested.unseen
        shift = taken[:, :, 0] @ weights.T
        coffees = self.average @ weights
        covariance = part.covariance + coffees @ inner @ coffees.T
        mean = part.mean + shift @ self.average.T
        if not self.rounds:
            return Part(mean, covariance, part.cell_mean, part.cell_variance)
        spread = np.einsum("jf,kjf->kj", weights, weights @ inner)
        return Part(mean, covariance, part.cell_mean + shift, part.cell_variance + spread)


def _joined(parts: Sequence[Part]) -> Part:
    return Part(
        np.concatenate([part.mean for part in parts]),
        np.concatenate([part.covariance for part in parts]),
        np.concatenate([part.cell_mean for part in parts]),
        np.concatenate([part.cell_variance for part in parts]),
    )


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
        mine = np.zeros((*blocks.term_of.shape, grid))
        taster, row = np.nonzero(blocks.term_of == j)
        mine[taster, row, place[taster, row]] = 1.0
        borders.append(mine / tasters)
        if term.slope is None:
            weights.append([_grid_weights(own, each) for each in cells])
        else:
            weights.append([np.array([term.slope @ each["coffee"]]) for each in cells])
        terms += [j] * grid
        unseen.append((tasters - mine.sum(axis=(0, 1))) / tasters**2)
    if not borders:
        return None
    every = np.concatenate([np.array(each) for each in weights], axis=1)
    slopes = np.array([model.nested[j].slope is not None for j in terms])
    return _NestedMeans(
        np.concatenate(borders, axis=2),
        every,
        np.array(terms, dtype=np.intp),
        np.concatenate(unseen),
        every * slopes if slopes.any() else None,
    )


def _grid_weights(factors: Sequence[Factor], weights: Weights) -> FloatArray:
    """Weights over the full grid of some factors."""
    values = np.ones(1)
    for factor in factors:
        values = np.outer(values, weights[factor.name]).ravel()
    return values
