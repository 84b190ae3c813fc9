"""Averaging over how much tasters differ, instead of plugging in one best guess.

With a weak prior the standard deviations of the random factors are integrated out on a grid
around the top; given each grid point everything else is nearly normal (Laplace).
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from twobowls.statistics.mixtures import Mixture, blend, single
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_optimise import Place, Target, Top, climb

# Nodes a factor, and how far the grid reaches below and above the top in standard errors.
_GRIDS = {1: (9, 4.0, 5.0), 2: (6, 3.0, 4.0), 3: (4, 2.5, 3.0)}
_SHARP = 0.1
# Grid points whose log weight lies this far below the highest are not looked at closely.
_FADED = 9.0


@dataclass(frozen=True, slots=True)
class _Node:
    """One grid point: its quadrature weight, the best of everything else, a first height."""

    log_weight: float
    place: Place
    height: float


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
    joint = plug_in(top)
    error = np.sqrt(np.maximum(np.diag(joint.covariance)[split:], 0.0))
    if sd.size not in _GRIDS or (error < _SHARP * sd).all():
        return joint
    axes = [_axis(*pair, _GRIDS[sd.size]) for pair in zip(sd, error, strict=True)]
    held = Target(target.problem, target.penalty, np.arange(top.parameters.size) < split)
    nodes = [_settle(held, top, joint.covariance, point) for point in product(*axes)]
    found = [node for node in nodes if node is not None]
    highest = max((node.height for node in found), default=0.0)
    pieces = [_piece(held, node) for node in found if node.height > highest - _FADED]
    kept = [piece for piece in pieces if piece is not None]
    return blend(*map(list, zip(*kept, strict=True))) if kept else joint


def _axis(sd: float, error: float, grid: tuple[int, float, float]) -> list[tuple[float, float]]:
    """Return nodes and weights of Gauss-Legendre quadrature over one standard deviation."""
    count, below, above = grid
    low, high = max(0.0, sd - below * error), sd + above * error
    nodes, weights = np.polynomial.legendre.leggauss(count)
    half = 0.5 * (high - low)
    return [(low + half * (x + 1.0), half * w) for x, w in zip(nodes, weights, strict=True)]


def _settle(
    held: Target, top: Top, covariance: Array, point: tuple[tuple[float, float], ...]
) -> _Node | None:
    """Find the best of everything else at one grid point, starting where theory says it is."""
    split = held.problem.effects
    sd = np.array([value for value, _ in point])
    carried = np.linalg.solve(covariance[split:, split:], sd - top.parameters[split:])
    shifted = top.parameters[:split] + covariance[:split, split:] @ carried
    effects = top.place.plain.modes.effects
    for start in (shifted, top.parameters[:split]):
        there = climb(held, np.concatenate([start, sd]), effects, sharpen=False)
        if there is not None:
            log_weight = sum(float(np.log(weight)) for _, weight in point)
            _, log_det = np.linalg.slogdet(there.curvature[:split, :split])
            height = log_weight - there.place.value - 0.5 * float(log_det)
            return _Node(log_weight, there.place, height)
    return None


def _piece(held: Target, node: _Node) -> tuple[float, Array, Array] | None:
    """Return log weight, centre and covariance of everything else at one grid point."""
    split = held.problem.effects
    inside = held.curvature(node.place)[:split, :split]
    sign, log_det = np.linalg.slogdet(inside)
    if sign <= 0.0:
        return None
    wide = np.zeros((node.place.at.size,) * 2)
    wide[:split, :split] = np.linalg.inv(inside)
    return node.log_weight - node.place.value - 0.5 * float(log_det), node.place.at, wide
