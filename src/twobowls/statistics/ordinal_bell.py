"""A normal distribution fitted to a posterior as a whole, not only to its top.

Few ratings leave a skewed posterior, whose mean lies beyond its top. Parameters with bounds
are first stretched: thresholds to the logs of their gaps, standard deviations to a number that
is standard normal before the data. The normal
found is the one nearest in Kullback-Leibler divergence: the gradient averaged over it is
zero, and its precision is the averaged curvature. Averages are taken at a pair of points on
every axis. Source: Opper and Archambeau (2009), Neural Comput. 21, 786-792 (from memory); the
points are those of the three-point Gauss-Hermite rule, axis by axis.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.ordinal_design import Design
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_optimise import Place, Target, Top
from twobowls.statistics.ordinal_scales import deviation, deviation_slope, ratio_to_z

_REACH = float(np.sqrt(3.0))
_NARROWER = 6
_ROUNDS = 6
_STILL = 0.3
# How near the random effects come to their modes: an average over a bell needs no more.
_CLOSE = 1e-4
_LEAST_Z = -1.5
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True, slots=True)
class Stretch:
    """Parameters without bounds: one threshold, logs of gaps, effects, and z for every sd.

    ``mix`` (q, q) makes the thresholds' parameters of one threshold and the gaps; ``scales``
    (R,) are those of the sds' half-normal priors, z being standard normal before the data.
    """

    mix: Array
    scales: Array

    @classmethod
    def of(cls, design: Design, scale: float) -> "Stretch":
        """Measure from a threshold in the middle, which the data know best."""
        count, scales = design.basis.shape[1], np.full(len(design.random), scale)
        if count < design.basis.shape[0]:
            return cls(np.eye(count), scales)
        below = np.tril(np.ones((count, count)))[:, 1:]
        return cls(np.hstack([np.ones((count, 1)), below - below[count // 2]]), scales)

    @property
    def gaps(self) -> slice:
        """Where the logs of gaps sit."""
        return slice(1, self.mix.shape[0])

    def forth(self, at: Array) -> Array:
        """Return the stretched parameters; an sd near zero becomes a small one."""
        split, out = at.size - self.scales.size, at.copy()
        out[: self.mix.shape[0]] = np.linalg.solve(self.mix, at[: self.mix.shape[0]])
        out[self.gaps] = np.log(out[self.gaps])
        out[split:] = np.maximum(ratio_to_z(at[split:] / self.scales), _LEAST_Z)
        return out

    def back(self, at: Array) -> Array:
        """Return the parameters themselves."""
        count, split, out = self.mix.shape[0], at.size - self.scales.size, at.copy()
        out[self.gaps] = np.exp(at[self.gaps])
        out[:count] = self.mix @ out[:count]
        out[split:] = deviation(at[split:], self.scales)
        return out

    def slope(self, at: Array) -> Array:
        """Return the derivatives of the parameters in the stretched ones, (p, p)."""
        count, split = self.mix.shape[0], at.size - self.scales.size
        own = np.ones(at.size)
        own[self.gaps] = np.exp(at[self.gaps])
        own[split:] = deviation_slope(at[split:], self.scales)
        turn = np.eye(at.size)
        turn[:count, :count] = self.mix
        return turn * own

    def place(self, at: Array, found: Place, sd_precision: float) -> Place:
        """Return a place in the stretched parameters; the density changes with them."""
        split = at.size - self.scales.size
        z, sd = at[split:], found.at[split:]
        plain = found.gradient.copy()
        plain[split:] -= sd_precision * sd
        gradient = self.slope(at).T @ plain
        gradient[self.gaps] -= 1.0
        gradient[split:] += z
        prior = 0.5 * float(z @ z) - 0.5 * sd_precision * float(sd @ sd)
        return Place(at, found.value + prior - float(at[self.gaps].sum()), gradient, found.plain)

    def moments(self, at: Array, covariance: Array) -> tuple[Array, Array]:
        """Return mean and covariance of the parameters of a normal in the stretched ones."""
        count, split = self.mix.shape[0], at.size - self.scales.size
        mean, own, spread = at.copy(), np.ones(at.size), np.diag(covariance).copy()
        gaps, sds = self.gaps, slice(split, None)
        mean[gaps] = own[gaps] = np.exp(at[gaps] + 0.5 * spread[gaps])
        nodes = at[sds, None] + np.sqrt(spread[sds, None]) * _NODES
        values = deviation(nodes, self.scales[:, None])
        mean[sds] = values @ _WEIGHTS
        own[sds] = deviation_slope(nodes, self.scales[:, None]) @ _WEIGHTS
        full = covariance * np.outer(own, own)
        full[gaps, gaps] = np.outer(own[gaps], own[gaps]) * np.expm1(covariance[gaps, gaps])
        places = np.arange(split, at.size)
        full[places, places] = (values - mean[sds, None]) ** 2 @ _WEIGHTS
        turn = np.eye(at.size)
        turn[:count, :count] = self.mix
        return turn @ mean, turn @ full @ turn.T


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
        found = self.target.look(self.stretch.back(at), effects, _CLOSE)
        if found is None:
            return None
        return self.stretch.place(at, found, self.target.penalty.sd_precision)

    def plain(self, top: Top) -> Bell | None:
        """Return a first guess at the top, from its curvature and what the stretch adds."""
        at, split = self.stretch.forth(top.parameters), self.target.problem.effects
        slope = self.stretch.slope(at)
        plain = top.curvature.copy()
        sds = np.arange(split, at.size)
        plain[sds, sds] -= self.target.penalty.sd_precision
        turned = slope.T @ plain @ slope
        turned[sds, sds] = np.maximum(turned[sds, sds], 0.0) + 1.0
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
        for axis in range(root.shape[0]):
            pair = self._pair(place, root[:, axis])
            if pair is None:
                return None
            reach, ahead, behind = pair
            up, down = ahead.gradient, behind.gradient
            turned[:, axis] = (up - down) / (2.0 * reach)
            gradient += (up + down - 2.0 * place.gradient) / (2.0 * reach**2)
            value += (ahead.value + behind.value - 2.0 * place.value) / (2.0 * reach**2)
        return _Average(value, gradient, turned)

    def _pair(self, place: Place, line: Array) -> tuple[float, Place, Place] | None:
        """Look on both sides, nearer where the density vanishes."""
        reach, effects = _REACH, place.plain.modes.effects
        for _ in range(_NARROWER):
            ahead = self.look(place.at + reach * line, effects)
            behind = self.look(place.at - reach * line, effects)
            if ahead is not None and behind is not None:
                return reach, ahead, behind
            reach *= 0.5
        return None


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
