"""Averaging over how much tasters and coffees differ, instead of plugging in one best guess.

With a weak prior the spreads of the fixed factors' levels are integrated out over points; given
those, everything else, the random factors' standard deviations with it, is nearly normal.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from twobowls.statistics.mixtures import Mixture, single
from twobowls.statistics.ordinal_bell import Bell, Fitter
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_optimise import Target, Top
from twobowls.statistics.ordinal_prior import Penalty
from twobowls.statistics.ordinal_scales import Axis, candidates, find_axis, lay_points
from twobowls.statistics.ordinal_stretch import Stretch
from twobowls.statistics.ordinal_weigh import Piece, weigh
from twobowls.statistics.spread_prior import spread

_SWEEPS = 3
# A bell whose mean lies this near the top, in standard deviations, serves for all spreads.
_REGULAR = 0.1
# How far, in z, a bell is carried over without being fitted anew.
_NEARBY = 0.8


@dataclass(frozen=True, slots=True)
class Averaged:
    """The posterior of (gamma, sd), and of the spreads (F,) of the fixed factors' levels."""

    parameters: Mixture
    spreads: Array
    spread_errors: Array


def plug_in(top: Top) -> Mixture:
    """Return the normal approximation at the top, over all parameters."""
    return single(top.parameters, np.linalg.inv(top.curvature))


def typical_spreads(target: Target, top: Top) -> Array:
    """Return spreads of the fixed factors' levels in the middle of what they may be: (F,)."""
    axes = _spread_axes(target.penalty, target.problem.effects, top)
    return np.array([float(spread(np.array(axis.mode), axis.scale)) for axis in axes])


def integrate(target: Target, top: Top) -> Averaged:
    """Return the posterior with all standard deviations averaged over.

    Parameters
    ----------
    target : Target
        With a weak prior, its spreads at typical values.
    top : Top
        Its top.
    """
    penalty = target.penalty
    problem = target.problem
    stretch = Stretch.of(problem.design, penalty.sd_precision**-0.5, problem.link.sd)
    plain = Fitter(target, stretch).plain(top)
    if plain is None:
        return Averaged(plug_in(top), penalty.spreads, np.zeros_like(penalty.spreads))
    axes = _spread_axes(penalty, problem.effects, top)
    z, log_weights = lay_points(axes)
    centre = np.array([axis.mode for axis in axes])
    walk = _Walk(stretch, top.place.plain.modes.effects)
    walk.begin(centre, target, plain)
    order = np.argsort(np.sum((z - centre) ** 2, axis=1))
    scales = np.array([axis.scale for axis in axes])
    pieces = []
    for log_weight, at in zip(log_weights[order].tolist(), z[order], strict=True):
        spreads = spread(at, scales) if axes else penalty.spreads
        bell = walk.visit(at, replace(target, penalty=penalty.with_spreads(spreads)))
        log_prior = log_weight + penalty.log_scale(spreads) - 0.5 * float(at @ at)
        pieces.append(Piece(bell, spreads, log_prior))
    found = weigh(target, stretch, pieces, top.place.plain.modes.effects)
    return Averaged(found.parameters, *found.spreads)


def _spread_axes(penalty: Penalty, split: int, top: Top) -> list[Axis]:
    """Take a normal approximation of the likelihood in the effects; one spread at a time."""
    if not penalty.spans:
        return []
    span = slice(penalty.spans[0].start, penalty.spans[-1].stop)
    precision = np.linalg.inv(np.linalg.inv(top.curvature)[span, span])
    pull = precision @ top.parameters[:split][span]
    own = precision - penalty.precision[span, span]
    spreads = penalty.spreads.copy()
    values = candidates(penalty.spread_scale)
    axes: list[Axis] = []
    for _ in range(_SWEEPS if spreads.size > 1 else 1):
        axes = []
        for one in range(spreads.size):
            trial = np.tile(spreads, (values.size, 1))
            trial[:, one] = values
            heights = [_log_evidence(penalty, span, own, pull, each) for each in trial]
            axis = find_axis(np.array(heights), penalty.spread_scale)
            spreads[one] = float(spread(np.array(axis.mode), axis.scale))
            axes.append(axis)
    return axes


def _log_evidence(penalty: Penalty, span: slice, own: Array, pull: Array, spreads: Array) -> float:
    """Return the log density of the data given spreads, for a normal likelihood."""
    full = own + penalty.precision_at(spreads)[span, span]
    sign, log_det = np.linalg.slogdet(full)
    if sign <= 0.0:
        return -np.inf
    return (
        penalty.log_scale(spreads)
        - 0.5 * float(log_det)
        + 0.5 * float(pull @ np.linalg.solve(full, pull))
    )


@dataclass(frozen=True, slots=True)
class _Fit:
    """A bell that was fitted, where, and to what."""

    z: Array
    target: Target
    bell: Bell

    def distance(self, z: Array) -> float:
        """Return how far away a point is, in z."""
        return float(np.sqrt(np.sum((self.z - z) ** 2)))


@dataclass(slots=True)
class _Walk:
    """A walk over the points, each bell beginning with the nearest one fitted so far."""

    stretch: Stretch
    effects: Array
    fits: list[_Fit] = field(default_factory=list)

    def begin(self, z: Array, target: Target, plain: Bell) -> None:
        """Fit the first bell, at the top."""
        fitted = Fitter(target, self.stretch).fit(plain, self.effects)
        self.fits.append(_Fit(z, target, fitted or plain))

    def visit(self, z: Array, target: Target) -> Bell:
        """Carry the nearest bell over to a point, and fit it anew when it came from far."""
        near = min(self.fits, key=lambda each: each.distance(z))
        fitter = Fitter(target, self.stretch)
        moved = self._carry(near, fitter)
        if moved is not None and (near.bell.moved < _REGULAR or near.distance(z) < _NEARBY):
            return moved
        bell = fitter.fit(moved or near.bell, self.effects) or moved or near.bell
        self.fits.append(_Fit(z, target, bell))
        return bell

    def _carry(self, near: _Fit, fitter: Fitter) -> Bell | None:
        """Let the changed prior pull at the effects, by linear algebra."""
        bell, split = near.bell, fitter.target.problem.effects
        change = fitter.target.penalty.precision - near.target.penalty.precision
        slope = self.stretch.slope(bell.at)[:split]
        curvature = bell.curvature + slope.T @ change @ slope
        if float(np.linalg.eigvalsh(curvature)[0]) <= 0.0:
            return None
        # thresholds have the same prior at all spreads: only effects are pulled at
        pull = slope.T @ (change @ self.stretch.back(bell.at)[:split])
        at = bell.at - np.linalg.solve(curvature, pull)
        there = fitter.look(at, self.effects)
        return None if there is None else Bell(at, curvature, there.value, bell.excess)
