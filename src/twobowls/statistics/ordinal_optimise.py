"""Climbing to the top of the (penalised) marginal likelihood, and how sharp the top is.

Quasi-Newton from a good first curvature, then Newton steps with the exact gradient's
differences, so that the gradient at the end is zero to rounding.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_likelihood import (
    Marginal,
    Problem,
    drift,
    joint_curvature,
    joint_gradient,
    marginal,
)
from twobowls.statistics.ordinal_prior import Penalty

_STEPS = 200
_SIDE = 1e-4
_SETTLED = 1e-9
# What a sum over many ratings loses, so that no lower value can be seen.
_ROUNDING = 1e-14


@dataclass(frozen=True, slots=True)
class Place:
    """A point of the search: parameters, penalised value and gradient, the plain likelihood."""

    at: Array
    value: float
    gradient: Array
    plain: Marginal


@dataclass(frozen=True, slots=True)
class Top:
    """Where the search ended: the place, the curvature there, and whether it settled."""

    place: Place
    curvature: Array
    settled: bool

    @property
    def parameters(self) -> Array:
        """(gamma, sd) at the top."""
        return self.place.at


@dataclass(frozen=True, slots=True)
class Target:
    """What is minimised: a problem with its penalty, some parameters held still."""

    problem: Problem
    penalty: Penalty
    free: NDArray[np.bool_]

    def look(self, at: Array, effects: Array, tolerance: float = 1e-8) -> Place | None:
        """Evaluate at ``at``; None where the likelihood is zero."""
        split = self.problem.effects
        gamma, sd = at[:split], at[split:]
        found = marginal(self.problem, gamma, sd, effects, tolerance)
        if found is None or not np.isfinite(found.value):
            return None
        value, gradient = self.penalty.of(gamma, sd)
        if not np.isfinite(value):
            return None
        return Place(at, found.value + value, found.gradient + gradient, found)

    def first_curvature(self, place: Place) -> Array:
        """Return a positive definite guess: exact but for the random effects' log determinant.

        The standard deviations' part is that of a Gaussian model with as much shrinkage.
        """
        problem, modes = self.problem, place.plain.modes
        split = problem.effects
        guess = np.zeros((problem.parameters,) * 2)
        guess[:split, :split] = joint_curvature(problem, modes) + self.penalty.curvature(
            place.at[:split]
        )
        if modes.curvature is not None:
            kept = 1.0 - modes.curvature.inverse().diagonal()
            for r, places in enumerate(problem.layout.places):
                sd = max(abs(float(place.at[split + r])), 1e-3)
                share = max(float(kept[places].mean()), 1e-3)
                own = 2.0 * places.size * (share / sd) ** 2 + self.penalty.sd_precision
                guess[split + r, split + r] = own
        return guess

    def curvature(self, place: Place) -> Array:
        """Return the exact curvature, from differences of the analytic gradient.

        That of the joint deviance is known; what the random effects' log determinant adds
        bends so little that differences on one side do.
        """
        split, moves = self.problem.effects, drift(self.problem, place.plain.modes)
        out = np.zeros((place.at.size,) * 2)
        rest, known = self._rest(place), self.first_curvature(place)[:split, :split]
        for index in np.flatnonzero(self.free).tolist():
            side = np.zeros(place.at.size)
            side[index] = self._side(place.at, index)
            ahead = self._beside(place, side, moves)
            if index < split:
                bent = (self._rest(ahead) - rest) / side[index]
                out[:split, index] = known[:, index] + bent
                continue
            behind = self._beside(place, -side, moves)
            out[:, index] = (ahead.gradient - behind.gradient) / (2.0 * side[index])
        out[split:, :split] = out[:split, split:].T
        return 0.5 * (out + out.T)

    def _rest(self, place: Place) -> Array:
        """Return the gradient in gamma of the marginal value less the joint deviance."""
        split, plain = self.problem.effects, place.plain
        return (plain.gradient - joint_gradient(self.problem, plain.modes))[:split]

    def _side(self, at: Array, index: int) -> float:
        """Return the differencing step: small beside the parameter and beside any gap."""
        basis, side = self.problem.design.basis, _SIDE * max(1.0, abs(float(at[index])))
        if index >= basis.shape[1]:
            return side
        gaps = np.diff(basis @ at[: basis.shape[1]])
        moved = gaps[np.diff(basis[:, index]) != 0.0]
        return min(side, 0.01 * float(moved.min())) if moved.size else side

    def _beside(self, place: Place, side: Array, moves: Array) -> Place:
        effects = place.plain.modes.effects + moves @ side
        found = self.look(place.at + side, effects, 1e-11)
        if found is None:
            message = "thresholds closer than the differencing step"
            raise ArithmeticError(message)
        return found


def climb(target: Target, start: Array, effects: Array, *, sharpen: bool = True) -> Top | None:
    """Minimise the target from ``start``; None when it cannot even be evaluated there.

    Without ``sharpen`` the value is good to nine digits and the curvature is a guess.

    Parameters
    ----------
    target : Target
        What is minimised.
    start : array (p,)
        Parameters to begin with, (gamma, sd).
    effects : array
        Standardised random effects to begin with.
    sharpen : bool
        Whether to end with exact Newton steps and the exact curvature.
    """
    place = target.look(start, effects)
    if place is None:
        return None
    place = _newton(target, place) if not target.problem.layout.size else _bfgs(target, place)
    if not sharpen:
        return Top(place, target.first_curvature(place), settled=True)
    return _polish(target, place)


def _step(target: Target, place: Place, curvature: Array) -> Array:
    """Return the Newton step on the free parameters; gradient descent if not definite."""
    free = target.free
    step = np.zeros_like(place.at)
    inside = curvature[np.ix_(free, free)]
    gradient = place.gradient[free]
    try:
        np.linalg.cholesky(inside)
        step[free] = -np.linalg.solve(inside, gradient)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(inside)
        values = np.maximum(np.abs(values), 1e-6 * max(float(np.abs(values).max()), 1e-6))
        step[free] = -vectors @ ((vectors.T @ gradient) / values)
    return step


def _search(target: Target, place: Place, step: Array) -> Place | None:
    """Return the first place along the step that is low enough, halving as needed."""
    slope = float(place.gradient @ step)
    largest = float(np.abs(step).max())
    length = min(1.0, 4.0 / largest) if largest else 1.0
    for _ in range(40):
        found = target.look(place.at + length * step, place.plain.modes.effects)
        if found is not None and found.value <= place.value + 1e-4 * length * slope:
            return found
        length *= 0.5
    return None


def _newton(target: Target, place: Place) -> Place:
    """Climb with the exact curvature: models without random effects."""
    for _ in range(_STEPS):
        step = _step(target, place, target.first_curvature(place))
        if -float(place.gradient @ step) < _ROUNDING * (1.0 + abs(place.value)):
            break
        found = _search(target, place, step)
        if found is None:
            break
        place = found
    return place


def _bfgs(target: Target, place: Place) -> Place:
    """Climb with a curvature that learns from the gradients along the way."""
    curvature = target.first_curvature(place)
    for _ in range(_STEPS):
        step = _step(target, place, curvature)
        if -float(place.gradient @ step) < max(0.1 * _SETTLED, _ROUNDING * abs(place.value)):
            break
        found = _search(target, place, step)
        if found is None or not found.value < place.value:
            break
        moved, turned = found.at - place.at, found.gradient - place.gradient
        along = float(moved @ turned)
        if along > 1e-10 * float(moved @ moved):
            pushed = curvature @ moved
            curvature = (
                curvature
                + np.outer(turned, turned) / along
                - np.outer(pushed, pushed) / float(moved @ pushed)
            )
        place = found
    return place


def _polish(target: Target, place: Place) -> Top:
    """Take exact Newton steps until they do nothing."""
    for _ in range(6):
        curvature = (
            target.curvature(place) if target.problem.layout.size else target.first_curvature(place)
        )
        step = _step(target, place, curvature)
        gain = -float(place.gradient @ step)
        if gain < _SETTLED:
            found = target.look(place.at + step, place.plain.modes.effects, 1e-11)
            if found is not None and found.value <= place.value + 1e-10 * (1.0 + abs(place.value)):
                place = found
            return Top(_upright(target, place), curvature, settled=True)
        found = _search(target, place, step)
        if found is None:
            break
        place = found
    return Top(_upright(target, place), curvature, settled=False)


def _upright(target: Target, place: Place) -> Place:
    """Return the same place with every standard deviation at or above zero.

    The likelihood is even in each of them; the effects change sign with it.
    """
    split = target.problem.effects
    if (place.at[split:] >= 0.0).all():
        return place
    signs = np.where(place.at[split:] < 0.0, -1.0, 1.0)
    flip = target.problem.layout.spread_out(signs)
    at = np.concatenate([place.at[:split], np.abs(place.at[split:])])
    found = target.look(at, place.plain.modes.effects * flip, 1e-11)
    return replace(place, at=at) if found is None else found
