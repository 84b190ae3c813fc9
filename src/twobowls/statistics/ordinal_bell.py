"""A normal distribution fitted to a posterior as a whole, not only to its top.

Few ratings leave a skewed posterior, whose mean lies beyond its top. The normal found is the
one nearest in Kullback-Leibler divergence, in stretched parameters: the gradient averaged over
it is zero, and its precision is the averaged curvature. Averages are taken at a pair of points on
every axis. Source: Opper and Archambeau (2009), Neural Comput. 21, 786-792 (from memory); the
points are those of the three-point Gauss-Hermite rule, axis by axis.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_likelihood import drift
from twobowls.statistics.ordinal_optimise import Place, Target, Top
from twobowls.statistics.ordinal_stretch import Stretch

_REACH = float(np.sqrt(3.0))
_ROUNDS = 6
# The search ends with a step below this many standard deviations. The steps are Newton's, so
# that the next one would be about its square; and the bell only says where points are laid.
_STILL = 0.3
# How near the random effects come to their modes: an average over a bell needs no more.
_CLOSE = 1e-4
_BEYOND = 1e100


@dataclass(frozen=True, slots=True)
class Bell:
    """A normal distribution of the stretched parameters.

    Attributes
    ----------
    at : array (p,)
        Its mean.
    curvature : array (p, p)
        Its precision.
    value : float
        Minus the log density at the mean.
    excess : float
        How much the log of the integral exceeds what value and curvature say.
    moved : float
        How many standard deviations its mean lies from the top, where that is known.
    """

    at: Array
    curvature: Array
    value: float
    excess: float = 0.0
    moved: float = np.inf

    @property
    def log_integral(self) -> float:
        """Log of the integral of the density, constants aside."""
        return self.excess - self.value - 0.5 * float(np.linalg.slogdet(self.curvature)[1])


@dataclass(frozen=True, slots=True)
class Fitter:
    """What is fitted to: minus a log density, looked at in stretched parameters."""

    target: Target
    stretch: Stretch

    def look(self, at: Array, effects: Array) -> Place | None:
        """Look at a point, beginning with random effects from nearby."""
        with np.errstate(over="ignore", invalid="ignore"):
            plain = self.stretch.back(at)
        # a guess of a bell may reach so far that nothing can be reckoned there
        if not (np.abs(plain) < _BEYOND).all():
            return None
        found = self.target.look(plain, effects, _CLOSE)
        if found is None:
            return None
        there = self.stretch.place(at, found, self.target.penalty.sd_precision)
        return there if np.isfinite([there.value, *there.gradient]).all() else None

    def plain(self, top: Top) -> Bell | None:
        """Return a first guess at the top, from its curvature and what the stretch adds."""
        split, sd_precision = self.target.problem.effects, self.target.penalty.sd_precision
        known = np.diag(top.curvature)[split:] - sd_precision
        at, spreads = self.stretch.start(top.parameters, known)
        slope = self.stretch.slope(at)[:split, :split]
        turned = np.zeros_like(top.curvature)
        turned[:split, :split] = slope.T @ top.curvature[:split, :split] @ slope
        turned[split:, split:] = np.diag(spreads**-2.0)
        places = np.arange(self.stretch.gaps.start, self.stretch.gaps.stop)
        # at a stretched top the logs of gaps have a curvature of one from the stretch itself
        turned[places, places] += 1.0
        there = self.look(at, top.place.plain.modes.effects)
        return None if there is None else Bell(at, turned, there.value)

    def fit(self, start: Bell, effects: Array) -> Bell | None:
        """Fit a normal distribution.

        Parameters
        ----------
        start : Bell
            A guess.
        effects : array
            Standardised random effects to begin with.

        Returns
        -------
        Bell or None
            Where the search does not end, that with the greatest lower bound of the integral;
            None where the guess is of no use.
        """
        there, curvature = self.look(start.at, effects), start.curvature
        evaluated: list[Bell] = []
        for _ in range(_ROUNDS):
            root = _root(curvature)
            average = None if root is None or there is None else self._average(there, root)
            if there is None or root is None or average is None:
                break
            excess = 0.5 * root.shape[0] - average.value + there.value
            evaluated.append(Bell(there.at, curvature, there.value, excess))
            curvature = _step_towards(curvature, np.linalg.solve(root.T, average.turned.T))
            step = np.asarray(-np.linalg.solve(curvature, average.gradient))
            size = np.sqrt(max(float(-step @ average.gradient), 0.0))
            step = step * min(1.0, 1.0 / max(size, 1e-300))
            there = self.look(there.at + step, there.plain.modes.effects)
            if there is not None and size < _STILL:
                away = there.at - start.at
                moved = float(np.sqrt(away @ curvature @ away))
                return Bell(there.at, curvature, there.value, excess, moved)
        return max(evaluated, key=lambda each: each.log_integral, default=None)

    def _average(self, place: Place, root: Array) -> "_Average | None":
        value, gradient = place.value, place.gradient.copy()
        turned = np.zeros_like(root)
        effects = place.plain.modes.effects
        moves = drift(self.target.problem, place.plain.modes) @ self.stretch.slope(place.at)
        for axis in range(root.shape[0]):
            line = _REACH * root[:, axis]
            moved = moves @ line
            ahead = self.look(place.at + line, effects + moved)
            behind = self.look(place.at - line, effects - moved)
            if ahead is None or behind is None:
                return None
            up, down = ahead.gradient, behind.gradient
            turned[:, axis] = (up - down) / (2.0 * _REACH)
            gradient += (up + down - 2.0 * place.gradient) / (2.0 * _REACH**2)
            value += (ahead.value + behind.value - 2.0 * place.value) / (2.0 * _REACH**2)
        return _Average(value, gradient, turned)


@dataclass(frozen=True, slots=True)
class _Average:
    """The value and the gradient (f,) averaged, and the averaged curvature times the root."""

    value: float
    gradient: Array
    turned: Array


def _root(curvature: Array) -> Array | None:
    """Return a lower triangular root of the covariance; None if it is not one."""
    try:
        np.linalg.cholesky(curvature)
        return np.asarray(np.linalg.cholesky(np.linalg.inv(curvature)), dtype=np.float64)
    except np.linalg.LinAlgError:
        return None


def _step_towards(old: Array, averaged: NDArray[np.floating]) -> Array:
    """Go as far from one curvature to another as keeps it positive definite."""
    new: Array = np.asarray(0.5 * (averaged + averaged.T), dtype=np.float64)
    for _ in range(5):
        if _root(new) is not None:
            return new
        new = 0.5 * (old + new)
    return old
