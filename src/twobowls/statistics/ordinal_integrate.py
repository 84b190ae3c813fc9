"""Averaging over how much tasters differ, instead of plugging in one best guess.

With a weak prior the standard deviations of the random factors are integrated out on a grid
around the top; given each grid point everything else is nearly normal (Laplace).
"""

from itertools import product

import numpy as np

from twobowls.statistics.mixtures import Mixture, blend, single
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_optimise import Target, Top, climb

# Nodes a factor, and how far the grid reaches below and above the top in standard errors.
_GRIDS = {1: (9, 4.0, 5.0), 2: (6, 3.0, 4.0), 3: (4, 2.5, 3.0)}
_SHARP = 0.1


def plug_in(top: Top) -> Mixture:
    """Return the normal approximation at the top, over all parameters."""
    return single(top.parameters, np.linalg.inv(top.curvature))


def integrate(target: Target, top: Top) -> Mixture:
    """Return the posterior over (gamma, sd) with the sds on a grid.

    Sds known to a tenth of themselves are left at the normal approximation, as are more than
    three random factors.
    """
    split = target.problem.effects
    sd = top.parameters[split:]
    joint = single(top.parameters, np.linalg.inv(top.curvature))
    error = np.sqrt(np.maximum(np.diag(joint.covariance)[split:], 0.0))
    if sd.size not in _GRIDS or (error < _SHARP * sd).all():
        return joint
    axes = [_axis(*pair, _GRIDS[sd.size]) for pair in zip(sd, error, strict=True)]
    pieces = [_piece(target, top, joint.covariance, node) for node in product(*axes)]
    kept = [piece for piece in pieces if piece is not None]
    return blend(*map(list, zip(*kept, strict=True))) if kept else joint


def _axis(sd: float, error: float, grid: tuple[int, float, float]) -> list[tuple[float, float]]:
    """Return nodes and weights of Gauss-Legendre quadrature over one standard deviation."""
    count, below, above = grid
    low, high = max(0.0, sd - below * error), sd + above * error
    nodes, weights = np.polynomial.legendre.leggauss(count)
    half = 0.5 * (high - low)
    return [(low + half * (x + 1.0), half * w) for x, w in zip(nodes, weights, strict=True)]


def _piece(
    target: Target, top: Top, covariance: Array, node: tuple[tuple[float, float], ...]
) -> tuple[float, Array, Array] | None:
    """Return log weight, centre and covariance of everything else at one grid point."""
    split = target.problem.effects
    sd = np.array([value for value, _ in node])
    carried = np.linalg.solve(covariance[split:, split:], sd - top.parameters[split:])
    start = np.concatenate([top.parameters[:split] + covariance[:split, split:] @ carried, sd])
    free = np.arange(start.size) < split
    held = Target(target.problem, target.penalty, free)
    effects = top.place.plain.modes.effects
    there = climb(held, start, effects)
    if there is None:
        there = climb(held, np.concatenate([top.parameters[:split], sd]), effects)
    if there is None:
        return None
    inside = there.curvature[:split, :split]
    size, log_det = np.linalg.slogdet(inside)
    if size <= 0.0:
        return None
    wide = np.zeros((start.size, start.size))
    wide[:split, :split] = np.linalg.inv(inside)
    log_weight = sum(float(np.log(weight)) for _, weight in node)
    return log_weight - there.place.value - 0.5 * float(log_det), there.parameters, wide
