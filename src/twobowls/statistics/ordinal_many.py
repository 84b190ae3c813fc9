"""The marginal likelihood at many points at once, closer than Laplace's approximation.

Random effects are integrated by Gauss-Hermite quadrature around their modes: those of one
factor each on its own; those of a factor nested in another (a taster's tastes within the
taster's own level) for every node of the outer one. Factors that cross stay with Laplace. Source:
Pinheiro and Bates (1995), J. Comput. Graph. Stat. 4, 12-35 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from twobowls.statistics.ordinal_blocks import Layout, lay_out_whole
from twobowls.statistics.ordinal_inputs import Array, Codes
from twobowls.statistics.ordinal_likelihood import Problem
from twobowls.statistics.ordinal_link import curves, log_shares, slopes

# Nodes for one factor, and for either of two nested ones. Over whole posteriors of five small
# tables the log-likelihoods had errors with a standard deviation of at most 0.01 and 0.06
# (against 41 and 25 nodes), where Laplace's had up to 0.6.
_NODES = 9
_NODES_NESTED = 5
_STEPS = 20
# Nodes are laid around the modes; a tenth of a standard deviation beside them is near enough.
_NEAR = 0.1
_FARTHEST_STEP = 3.0
_CELLS = 400_000
_ROOT_2 = float(np.sqrt(2.0))


@dataclass(frozen=True, slots=True)
class Nest:
    """Two factors, the inner nested in the outer: their indices, and each inner level's outer."""

    outer: int
    inner: int
    outer_of: Codes


@dataclass(frozen=True, slots=True)
class Many:
    """A problem, laid out so that every group of linked effects is one block."""

    problem: Problem
    layout: Layout
    nest: Nest | None

    @classmethod
    def of(cls, problem: Problem) -> "Many":
        """Lay out the blocks, and see whether the factors are nested."""
        design = problem.design
        sizes = [len(factor.levels) for factor in design.random]
        return cls(problem, lay_out_whole(design.levels, sizes), _find_nest(design.levels, sizes))

    @property
    def cells(self) -> int:
        """How many numbers one look at one point takes."""
        layout = self.layout
        looks = _NODES if layout.width == 1 else _NODES_NESTED * (_NODES_NESTED + 2)
        return self.problem.design.weights.size * looks + layout.size * layout.width

    def log_likelihoods(self, gamma: Array, sd: Array, effects: Array) -> Array:
        """Return the marginal log-likelihood at N points: (N,).

        Parameters
        ----------
        gamma : array (N, p)
            Thresholds' parameters, in order, and effects.
        sd : array (N, R)
            Standard deviations of the random factors.
        effects : array (size,)
            Standardised random effects to begin with, in the problem's own layout.
        """
        start = np.zeros(self.layout.size)
        for ours, theirs in zip(self.layout.places, self.problem.layout.places, strict=True):
            start[ours] = effects[theirs]
        count = max(1, _CELLS // max(self.cells, 1))
        parts = [
            _Batch(self, gamma[first : first + count], sd[first : first + count]).values(start)
            for first in range(0, gamma.shape[0], count)
        ]
        return np.concatenate(parts)


def _find_nest(levels: tuple[Codes, ...], sizes: list[int]) -> Nest | None:
    if len(levels) != 2:
        return None
    outer, inner = (0, 1) if sizes[0] <= sizes[1] else (1, 0)
    outer_of = np.zeros(sizes[inner], dtype=np.int64)
    outer_of[levels[inner]] = levels[outer]
    return (
        Nest(outer, inner, outer_of) if (outer_of[levels[inner]] == levels[outer]).all() else None
    )


class _Batch:
    """Some points, side by side."""

    def __init__(self, many: Many, gamma: Array, sd: Array) -> None:
        design, layout = many.problem.design, many.layout
        self.many, self.layout, self.link = many, layout, many.problem.link
        self.count, self.weights = gamma.shape[0], design.weights
        self.upper = (gamma @ design.upper.T + design.upper_far)[:, design.kind]
        self.lower = (gamma @ design.lower.T + design.lower_far)[:, design.kind]
        self.sd = sd
        self.scale = np.zeros((self.count, layout.size))
        for r, places in enumerate(layout.places):
            self.scale[:, places] = sd[:, r, None]

    def values(self, start: Array) -> Array:
        """Return the log-likelihoods."""
        with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
            if not self.layout.places:
                return self._log_shares(0.0) @ self.weights
            modes, curvature = self._modes(np.tile(start, (self.count, 1)))
            if self.layout.width == 1:
                return self._single(modes, curvature)
            if self.many.nest is not None:
                return self._nested(modes, curvature, self.many.nest)
            return self._laplace(modes, curvature)

    def _log_shares(self, shift: Array | float) -> Array:
        return log_shares(self.link, self.upper - shift, self.lower - shift)

    def _gather(self, effects: Array) -> Array:
        """Return what effects (N, size), on the latent scale, add to each row: (N, n)."""
        return np.asarray(sum(effects[:, at] for at in self.layout.at))

    def _sum_over(self, places: NDArray[np.int64], rows: Array, size: int) -> Array:
        """Sum rows (N, n) over places (n,): (N, size)."""
        apart = np.arange(self.count)[:, None] * size + places
        sums = np.bincount(apart.ravel(), rows.ravel(), minlength=self.count * size)
        return np.asarray(sums.reshape(self.count, size))

    def _modes(self, effects: Array) -> tuple[Array, Array]:
        """Return the effects near their modes, and the curvature (N, G, d, d) there."""
        blocks, width = self.layout.blocks, self.layout.width
        for _ in range(_STEPS):
            shift = self._gather(self.scale * effects)
            at = slopes(self.link, self.upper - shift, self.lower - shift)
            pull = self.weights * at.eta
            curvature = self._curvature(-self.weights * curves(self.link, at).eta)
            collected = sum(self._sum_over(at_r, pull, self.layout.size) for at_r in self.layout.at)
            slope = effects - self.scale * np.asarray(collected)
            if width == 1:
                step = slope / curvature.reshape(slope.shape)
            else:
                step = np.linalg.solve(curvature, slope.reshape(-1, blocks, width, 1))
                step = step.reshape(slope.shape)
            largest = float(np.abs(step).max())
            if largest < _NEAR or not np.isfinite(largest):
                break
            effects = effects - np.clip(step, -_FARTHEST_STEP, _FARTHEST_STEP)
        return effects, curvature

    def _curvature(self, rows: Array) -> Array:
        layout, width = self.layout, self.layout.width
        full = np.zeros((self.count, layout.size * width))
        for r, at_r in enumerate(layout.at):
            for s, at_s in enumerate(layout.at):
                value = rows * (self.sd[:, r] * self.sd[:, s])[:, None]
                full += self._sum_over(at_r * width + at_s % width, value, full.shape[1])
        square = full.reshape(self.count, layout.blocks, width, width)
        return np.asarray(square + np.eye(width))

    def _single(self, modes: Array, curvature: Array) -> Array:
        nodes, logs = _hermite(_NODES)
        width, at = curvature.reshape(modes.shape) ** -0.5, self.layout.at[0]
        terms = []
        for x, log_weight in zip(nodes, logs, strict=True):
            effects = modes + _ROOT_2 * x * width
            rows = self.weights * self._log_shares((self.scale * effects)[:, at])
            by_level = self._sum_over(at, rows, self.layout.size)
            terms.append(by_level - 0.5 * effects**2 + x**2 + log_weight)
        return np.asarray((logsumexp(np.array(terms), axis=0) + np.log(width)).sum(axis=1))

    def _nested(self, modes: Array, curvature: Array, nest: Nest) -> Array:
        """Integrate inner levels at every node of the outer ones, around what they are there."""
        nodes, logs = _hermite(_NODES_NESTED)
        layout, levels = self.layout, self.many.problem.design.levels
        outer_at, inner_at = layout.places[nest.outer], layout.places[nest.inner]
        inverse = np.linalg.inv(curvature)
        variance = np.diagonal(inverse, axis1=2, axis2=3).reshape(modes.shape)
        width = np.sqrt(variance[:, outer_at])
        # how an inner effect follows its outer one: their covariance over its variance
        between = inverse.reshape(self.count, layout.size, layout.width)[
            :, inner_at, outer_at[nest.outer_of] % layout.width
        ]
        follows = between / variance[:, outer_at][:, nest.outer_of]
        by_outer, by_inner = self.sd[:, [nest.outer]], self.sd[:, [nest.inner]]
        terms = []
        for x, log_weight in zip(nodes, logs, strict=True):
            away = _ROOT_2 * x * width
            outer = modes[:, outer_at] + away
            shift = (by_outer * outer)[:, levels[nest.outer]]
            inner = modes[:, inner_at] + follows * away[:, nest.outer_of]
            found = self._inner(shift, inner, by_inner, levels[nest.inner])
            sums = self._sum_over(nest.outer_of, found, outer_at.size)
            terms.append(sums - 0.5 * outer**2 + x**2 + log_weight)
        return np.asarray((logsumexp(np.array(terms), axis=0) + np.log(width)).sum(axis=1))

    def _inner(self, shift: Array, start: Array, sd: Array, level: Codes) -> Array:
        """Return the log integrals over the inner levels (N, m), the outer ones held."""
        size, nodes, logs = start.shape[1], *_hermite(_NODES_NESTED)
        rows = shift + (sd * start)[:, level]
        at = slopes(self.link, self.upper - rows, self.lower - rows)
        slope = start - sd * self._sum_over(level, self.weights * at.eta, size)
        bend = -self.weights * curves(self.link, at).eta
        curvature = 1.0 + sd**2 * self._sum_over(level, bend, size)
        modes = start - np.clip(slope / curvature, -_FARTHEST_STEP, _FARTHEST_STEP)
        width, terms = curvature**-0.5, []
        for x, log_weight in zip(nodes, logs, strict=True):
            effects = modes + _ROOT_2 * x * width
            logs_of_rows = self.weights * self._log_shares(shift + (sd * effects)[:, level])
            by_level = self._sum_over(level, logs_of_rows, size)
            terms.append(by_level - 0.5 * effects**2 + x**2 + log_weight)
        return np.asarray(logsumexp(np.array(terms), axis=0) + np.log(width))

    def _laplace(self, modes: Array, curvature: Array) -> Array:
        value = self._log_shares(self._gather(self.scale * modes)) @ self.weights
        log_det = np.linalg.slogdet(curvature)[1].sum(axis=1)
        return np.asarray(value - 0.5 * (modes**2).sum(axis=1) - 0.5 * log_det)


def _hermite(count: int) -> tuple[list[float], list[float]]:
    """Return nodes, and the logs of weights with the normal's own constants in them."""
    nodes, weights = np.polynomial.hermite.hermgauss(count)
    return nodes.tolist(), np.log(weights / np.sqrt(np.pi)).tolist()
