"""Deviance, its slopes, and conditional means of a mixed model at many variance ratios.

Everything is vectorised over K sets of variance ratios (variance of a term over the residual
variance). After the terms within tasters are gone, what is left is small and dense.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_basis import (
    chosen_columns,
    turned_columns,
    within_tasters,
)
from twobowls.statistics.mixed_model_blocks import WORK_LIMIT, make_eliminations
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_reduction import Reduction

FLOOR = 1e-12
SMALLEST = 1e-13  # a ratio that is as good as zero


@dataclass(frozen=True, slots=True)
class Evaluation:
    """The two parts of the deviance at K sets of ratios, and their slopes.

    ``logdet`` (K,) is log det V + log det X'V^-1 X and ``rss`` (K,) is y'Py, both with the
    residual variance set to one; the slopes are (K, terms), by variance ratio.
    """

    logdet: FloatArray
    rss: FloatArray
    logdet_slopes: FloatArray
    rss_slopes: FloatArray


class Kernel:
    """A model made ready for evaluation.

    Parameters
    ----------
    model : Model
        The sufficient statistics.
    keep : IntArray or None
        Indices of the fixed columns to use, when some are redundant.
    turned : bool
        Whether to work in the fewest columns (see `mixed_model_basis`). Deviances are the same;
        estimates of the intercept alone are not.
    """

    def __init__(self, model: Model, keep: IntArray | None = None, *, turned: bool = False) -> None:
        self.columns = turned_columns(model) if turned else chosen_columns(model, keep)
        self.crossed = len(self.columns.shares)
        self.nested_terms = len(model.nested)
        self.terms = self.nested_terms + len(model.dense)
        self.products = self.columns.of(self.columns.of(model.products).T).copy()
        # marks that a model fits without a remainder must not break the factorisation
        self.products[-1, -1] += FLOOR * (1.0 + self.products[-1, -1])
        self.size = len(self.products) - 1
        self.within = within_tasters(model, self.columns, turned=turned)
        self.eliminations = [] if self.within is None else make_eliminations(self.within)

    def chunks(self, ratios: FloatArray, width: int | None = None) -> Iterator[slice]:
        """Slices over K that keep temporary arrays small; systems may be wider than the model's."""
        need = 6 * (width or self.size + 1) ** 2
        need += sum(part.node_size() for part in self.eliminations)
        step = max(1, WORK_LIMIT // need)
        for start in range(0, len(ratios), step):
            yield slice(start, start + step)

    def evaluate(self, ratios: FloatArray) -> Evaluation:
        """Evaluate deviance parts and slopes at (K, terms) variance ratios."""
        parts = [self._evaluate(ratios[each]) for each in self.chunks(ratios)]
        if len(parts) == 1:
            return parts[0]
        return Evaluation(
            np.concatenate([part.logdet for part in parts]),
            np.concatenate([part.rss for part in parts]),
            np.concatenate([part.logdet_slopes for part in parts]),
            np.concatenate([part.rss_slopes for part in parts]),
        )

    def deviance_parts(self, ratios: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return log-determinants and y'Py (K,) without slopes."""
        logdets, sums = [], []
        for each in self.chunks(ratios):
            left, logdet, _ = self.reduce(ratios[each])
            precisions = self.precisions(ratios[each])
            more, rss = self.factor(self.system(left, precisions), precisions)
            logdets.append(logdet + more)
            sums.append(rss)
        return np.concatenate(logdets), np.concatenate(sums)

    def reduce(self, ratios: FloatArray) -> tuple[FloatArray, FloatArray, list[Reduction]]:
        """Cross-products and log-determinant after the nested terms are eliminated."""
        nested = ratios[:, : self.nested_terms]
        logdet = np.zeros(len(ratios))
        reductions = [part.reduce(nested) for part in self.eliminations]
        if not reductions:
            return np.repeat(self.products[None], len(ratios), axis=0), logdet, reductions
        left = reductions[0].products  # in place: pages that are fresh cost more than the sums
        np.subtract(self.products, left, out=left)
        for reduction in reductions[1:]:
            left -= reduction.products
        for reduction in reductions:
            logdet += reduction.logdet
        return left, logdet, reductions

    def precisions(self, ratios: FloatArray) -> FloatArray:
        """(K, crossed): the inverse ratio of each crossed column; zero ratios are all but zero."""
        own = np.maximum(ratios[:, self.nested_terms :], SMALLEST)
        return np.asarray(1.0 / (own @ self.columns.shares.T))

    def system(self, left: FloatArray, precisions: FloatArray) -> FloatArray:
        """Add the prior precisions to the cross-products (K, size + 1, size + 1), in place."""
        corner = np.arange(self.crossed)
        left[:, corner, corner] += precisions
        return left

    def factor(self, system: FloatArray, precisions: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the log-determinant of a system over that of its prior, and y'Py."""
        diagonal = np.diagonal(np.linalg.cholesky(system), axis1=1, axis2=2)
        logdet = 2.0 * np.log(diagonal[:, :-1]).sum(axis=1) - np.log(precisions).sum(axis=1)
        return logdet, diagonal[:, -1] ** 2

    def _evaluate(self, ratios: FloatArray) -> Evaluation:
        left, logdet, reductions = self.reduce(ratios)
        precisions = self.precisions(ratios)
        system = self.system(left.copy(), precisions)
        more, rss = self.factor(system, precisions)
        size = self.size
        spread = np.linalg.inv(system[:, :size, :size])
        solution = np.einsum("kab,kb->ka", spread, left[:, :size, size])
        residual = np.concatenate([-solution, np.ones((len(ratios), 1))], axis=1)
        rss_weights = residual[:, :, None] * residual[:, None, :]
        logdet_weights = np.zeros_like(left)
        logdet_weights[:, :size, :size] = spread
        logdet_slopes = np.zeros((len(ratios), self.terms))
        rss_slopes = np.zeros((len(ratios), self.terms))
        nested = slice(0, self.nested_terms)
        for reduction in reductions:
            logdet_slopes[:, nested] += reduction.logdet_slopes() + reduction.slopes(logdet_weights)
            rss_slopes[:, nested] += reduction.slopes(rss_weights)
        if self.crossed:
            own = left[:, : self.crossed, :size]
            inside = np.einsum("krr->kr", left[:, : self.crossed, : self.crossed])
            explained = np.einsum("kra,kra->kr", own @ spread, own)
            score = left[:, : self.crossed, size] - np.einsum("kra,ka->kr", own, solution)
            logdet_slopes[:, self.nested_terms :] = (inside - explained) @ self.columns.shares
            rss_slopes[:, self.nested_terms :] = -(score**2) @ self.columns.shares
        return Evaluation(logdet + more, rss, logdet_slopes, rss_slopes)
