"""The marginal likelihood of a cumulative mixed model, with its analytic gradient.

Random effects are integrated out by the Laplace approximation or, for one random factor, by
adaptive Gauss-Hermite quadrature; one node is Laplace. The gradient includes how the
conditional modes and the quadrature's nodes move with the parameters. Source: from memory,
Pinheiro and Bates (1995), J. Comput. Graph. Stat. 4, 12-35; derivatives our own, tested
against differences.
"""

from dataclasses import dataclass
from math import log, pi, sqrt

import numpy as np
from scipy.special import logsumexp

from twobowls.statistics.ordinal_blocks import Factored, Layout, assemble, lay_out
from twobowls.statistics.ordinal_design import Design
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_link import (
    Curves,
    Link,
    Slopes,
    bends,
    curves,
    slopes,
)

_ROOT_2 = sqrt(2.0)
_NEWTON_STEPS = 100
_MOST_CELLS = 5_000_000


@dataclass(frozen=True, slots=True)
class Problem:
    """A design, a link, the random effects' layout and the quadrature's nodes."""

    design: Design
    link: Link
    layout: Layout
    nodes: Array
    log_weights: Array

    @property
    def effects(self) -> int:
        """How many parameters are not standard deviations."""
        return len(self.design.names)

    @property
    def parameters(self) -> int:
        """How many parameters there are."""
        return self.effects + len(self.design.random)


def pose(design: Design, link: Link, quadrature: int) -> Problem:
    """Lay out the random effects and choose the nodes.

    Raises
    ------
    InputError
        When the random factors cross in too many places.
    """
    layout = lay_out(design.levels, [len(factor.levels) for factor in design.random])
    nodes, weights = np.polynomial.hermite.hermgauss(quadrature)
    return Problem(design, link, layout, nodes, np.log(weights))


@dataclass(frozen=True, slots=True)
class Modes:
    """The conditional modes of the standardised random effects, and all known there."""

    gamma: Array
    sd: Array
    effects: Array
    scale: Array
    value: float
    slopes: Slopes
    curves: Curves
    curvature: Factored | None


@dataclass(frozen=True, slots=True)
class Marginal:
    """Minus the marginal log-likelihood, its gradient, and the modes it was taken at."""

    value: float
    gradient: Array
    modes: Modes


def find_modes(
    problem: Problem, gamma: Array, sd: Array, start: Array, tolerance: float = 1e-8
) -> Modes | None:
    """Maximise the joint likelihood over the random effects by Newton's method.

    Parameters
    ----------
    problem : Problem
        What is fitted.
    gamma : array (p,)
        Thresholds' parameters and effects.
    sd : array (R,)
        Standard deviation of each random factor.
    start : array (size,)
        Standardised effects to start from.
    tolerance : float
        The largest Newton step that is left untaken.

    Returns
    -------
    Modes or None
        None where the likelihood is zero (thresholds out of order).
    """
    design, layout = problem.design, problem.layout
    upper, lower = design.edges(gamma)
    if not (upper > lower).all():
        return None
    scale = layout.spread_out(sd)
    effects, last, step = start, np.inf, np.zeros_like(start)
    for _ in range(_NEWTON_STEPS):
        shift = layout.gather(scale * effects) if layout.size else 0.0
        first = slopes(problem.link, upper - shift, lower - shift)
        value = float(0.5 * effects @ effects - design.weights @ first.value)
        if not np.isfinite(value) or value > last + 1e-9 * (1.0 + abs(last)):
            if not np.isfinite(last) or np.abs(step).max() < 1e-12:
                return None
            step = 0.5 * step
            effects = effects + step
            continue
        second = curves(problem.link, first)
        if not layout.size:
            return Modes(gamma, sd, effects, scale, value, first, second, None)
        curvature = _assemble(layout, -design.weights * second.eta, sd)
        if curvature is None:
            return None
        slope = effects - scale * layout.collect(design.weights * first.eta)
        step = curvature.solve(slope)
        if np.abs(step).max() < tolerance:
            return Modes(gamma, sd, effects, scale, value, first, second, curvature)
        effects, last = effects - step, value
    return None


def _assemble(layout: Layout, rows: Array, sd: Array) -> Factored | None:
    """Factor the curvature; None so far out that it overflows."""
    if not np.isfinite(rows).all():
        return None
    try:
        return assemble(layout, rows, sd)
    except np.linalg.LinAlgError:
        return None


def marginal(
    problem: Problem, gamma: Array, sd: Array, start: Array, tolerance: float = 1e-8
) -> Marginal | None:
    """Return minus the marginal log-likelihood and its gradient in (gamma, sd).

    Notes
    -----
    With h the joint penalised deviance at the modes u and H its curvature there, Laplace's
    value is h + log det(H) / 2. Its gradient is the partial one, plus that of the log
    determinant as the rows' curvatures move: directly, and through u by the implicit
    function theorem, as one adjoint solve.
    """
    modes = find_modes(problem, gamma, sd, start, tolerance)
    if modes is None:
        return None
    if modes.curvature is None:
        return Marginal(modes.value, _pull_back(problem.design, modes.slopes), modes)
    if problem.nodes.size > 1:
        return _quadrature(problem, modes, modes.curvature)
    return _laplace(problem, modes, modes.curvature)


def _pull_back(design: Design, at: Slopes) -> Array:
    """Return the gradient in gamma of minus the weighted log-probabilities."""
    return design.by_parameter(-design.weights * at.a, design.weights * at.b)


def _laplace(problem: Problem, modes: Modes, curvature: Factored) -> Marginal:
    layout, factors, sd = problem.layout, range(modes.sd.size), modes.sd
    inverse = curvature.inverse()
    pairs = {(r, s): inverse.between(r, s) for r in factors for s in factors if s >= r}
    reach = [sum(sd[s] * pairs[min(r, s), max(r, s)] for s in factors) for r in factors]
    variance = sum(sd[r] * reach[r] for r in factors)
    rows = -problem.design.weights * modes.curves.eta
    own = np.array([rows @ each for each in reach])
    joint = joint_gradient(problem, modes)
    gradient = joint + _moving_curvature(
        problem, modes, curvature, 0.5 * np.asarray(variance), own, np.zeros(layout.size)
    )
    return Marginal(modes.value + 0.5 * curvature.log_det, gradient, modes)


def joint_gradient(problem: Problem, modes: Modes) -> Array:
    """Return the gradient of the joint deviance with the random effects held still."""
    design, at = problem.design, problem.layout.at
    pull = design.weights * modes.slopes.eta
    by_sd = [-(pull @ modes.effects[places]) for places in at]
    return np.concatenate([_pull_back(design, modes.slopes), by_sd])


def _moving_curvature(
    problem: Problem,
    modes: Modes,
    curvature: Factored,
    share: Array,
    own: Array,
    toward: Array,
) -> Array:
    """Return the gradient of a function of the curvature and of the modes.

    ``share`` (n,) is the function's derivative in each row's curvature, ``own`` (R,) that in
    each standard deviation with the rows' curvatures held still, and ``toward`` (size,) that
    in the modes.
    """
    design, layout = problem.design, problem.layout
    weights, third = design.weights, bends(problem.link, modes.slopes)
    turn = -weights * third.eta * share
    adjoint = curvature.solve(modes.scale * layout.collect(turn) + toward)
    along = weights * layout.gather(modes.scale * adjoint)
    second = modes.curves
    by_upper = -weights * third.a * share - along * (second.aa + second.ab)
    by_lower = -weights * third.b * share - along * (second.ab + second.bb)
    by_gamma = design.by_parameter(by_upper, by_lower)
    per_row = turn + along * second.eta
    pull = weights * modes.slopes.eta
    by_sd = [
        own[r] + per_row @ modes.effects[at] + pull @ adjoint[at] for r, at in enumerate(layout.at)
    ]
    return np.concatenate([by_gamma, by_sd])


def _quadrature(problem: Problem, modes: Modes, curvature: Factored) -> Marginal:
    """Integrate each level of the one random factor over nodes around its mode."""
    design, places = problem.design, problem.layout.at[0]
    width = np.sqrt(curvature.inverse().diagonal())
    x = problem.nodes[:, None]
    nodes = modes.effects + _ROOT_2 * x * width
    shift = modes.sd[0] * (nodes - modes.effects)[:, places]
    at = slopes(problem.link, modes.slopes.upper - shift, modes.slopes.lower - shift)
    likelihood = _by_level(problem.layout, design.weights * at.value) - 0.5 * nodes**2
    terms = problem.log_weights[:, None] + x**2 + likelihood
    level = logsumexp(terms, axis=0)
    value = -float(np.sum(np.log(width) + level) - 0.5 * width.size * log(pi))
    chance = np.exp(terms - level)
    slope = nodes - modes.sd[0] * _by_level(problem.layout, design.weights * at.eta)
    toward = np.sum(chance * slope, axis=0)
    spread = 0.5 * width**2 - width**3 / _ROOT_2 * np.sum(chance * x * slope, axis=0)
    per_row = chance[:, places]
    average = Slopes(
        at.value[0], at.upper[0], at.lower[0], np.sum(per_row * at.a, 0), np.sum(per_row * at.b, 0)
    )
    by_sd = -float(design.weights @ np.sum(per_row * at.eta * nodes[:, places], axis=0))
    rows = -design.weights * modes.curves.eta
    share = spread[places]
    gradient = np.append(_pull_back(design, average), by_sd) + _moving_curvature(
        problem,
        modes,
        curvature,
        modes.sd[0] ** 2 * share,
        np.array([2.0 * modes.sd[0] * (rows @ share)]),
        toward,
    )
    return Marginal(value, gradient, modes)


def _by_level(layout: Layout, rows: Array) -> Array:
    """Sum (nodes, n) over the levels of the one factor: (nodes, size)."""
    return np.array([np.bincount(layout.at[0], each, minlength=layout.size) for each in rows])


def joint_curvature(problem: Problem, modes: Modes) -> Array:
    """Return the curvature in gamma of the joint deviance, random effects profiled out.

    Exact for a model without random effects; else a good first guess of the marginal one.
    """
    design, second = problem.design, modes.curves
    aa, ab, bb = (
        design.by_kind(design.weights * each)[:, None] for each in (second.aa, second.ab, second.bb)
    )
    across = design.upper.T @ (design.lower * ab)
    own = design.upper.T @ (design.upper * aa) + design.lower.T @ (design.lower * bb)
    full = -(own + across + across.T)
    if modes.curvature is None:
        return np.asarray(full)
    mixed = mixed_curvature(problem, modes)
    return np.asarray(full - mixed.T @ modes.curvature.solve(mixed))


def mixed_curvature(problem: Problem, modes: Modes) -> Array:
    """Return the joint deviance's derivatives once in the effects, once in gamma: (size, p)."""
    design, second = problem.design, modes.curves
    by_upper = design.weights * (second.aa + second.ab)
    by_lower = design.weights * (second.ab + second.bb)
    collect, kinds = problem.layout.collect_by, design.category.size
    if kinds * problem.layout.size > _MOST_CELLS:
        rows = design.upper[design.kind] * by_upper[:, None]
        rows += design.lower[design.kind] * by_lower[:, None]
        return modes.scale[:, None] * problem.layout.collect_columns(rows)
    mixed = collect(by_upper, design.kind, kinds) @ design.upper
    mixed = mixed + collect(by_lower, design.kind, kinds) @ design.lower
    return np.asarray(modes.scale[:, None] * mixed)


def drift(problem: Problem, modes: Modes) -> Array:
    """Return how the modes move with (gamma, sd): (size, p + R)."""
    if modes.curvature is None:
        return np.zeros((0, problem.parameters))
    weights, layout = problem.design.weights, problem.layout
    pull, bend = weights * modes.slopes.eta, weights * modes.curves.eta
    columns = [mixed_curvature(problem, modes)]
    for at in layout.at:
        own = np.bincount(at, pull, minlength=layout.size)
        columns.append(-(own + modes.scale * layout.collect(bend * modes.effects[at]))[:, None])
    return -modes.curvature.solve(np.hstack(columns))
