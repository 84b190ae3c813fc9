"""From bells to the posterior itself: points laid by the bells, weighed by the true density.

Importance sampling without chance: the points are the same every time, every point is
weighed against all bells together, and wider bells beside the fitted ones keep the weights
bounded where the posterior has longer tails than a bell. The coffees' spreads need no points of
their own, because ratings know of them only through the effects. Sources (from memory): Owen and
Zhou (2000), J. Am. Stat. Assoc. 95, 135-143, for weighing against a mixture; West (1993), J. R.
Stat. Soc. B 55, 409-422, for smoothing weighed points without widening them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from twobowls.statistics.mixtures import Mixture
from twobowls.statistics.normal_points import MOST_DIMENSIONS, SIZES, normal_points
from twobowls.statistics.ordinal_bell import Bell
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_many import Many
from twobowls.statistics.ordinal_optimise import Target
from twobowls.statistics.ordinal_scales import HEIGHTS, candidates
from twobowls.statistics.ordinal_stretch import Stretch

# Half as many points as are laid: the most that leave the work moderate, between these.
_LEAST, _MOST = 509, 1021
_MODERATE = 10_000_000
_WIDER = 1.6
# Beside the bells' own weights, laid evenly: a bell misjudged must not go without points.
_EVENLY = 0.1
# More than this takes seconds. A table as large leaves a posterior that its bells fit.
_MOST_CELLS = 40_000_000


@dataclass(frozen=True, slots=True)
class Piece:
    """A bell at some spreads (F,) of the fixed factors, and those spreads' log prior weight.

    ``log_prior`` has the effects' normalising constant in it.
    """

    bell: Bell
    spreads: Array
    log_prior: float

    @property
    def height(self) -> float:
        """Log of the piece's share, as its bell says."""
        return self.log_prior + self.bell.log_integral


@dataclass(frozen=True, slots=True)
class Weighed:
    """The posterior of (gamma, sd), and mean and sd (F,) of the fixed factors' spreads.

    ``worth`` is how many points of equal weight the weighed points are worth.
    """

    parameters: Mixture
    spreads: tuple[Array, Array]
    worth: float


def weigh(target: Target, stretch: Stretch, pieces: list[Piece], effects: Array) -> Weighed:
    """Lay points by the bells and weigh them by the posterior.

    Parameters
    ----------
    target : Target
        With a weak prior.
    stretch : Stretch
        In whose parameters the bells are.
    pieces : list of J
        Over all spreads.
    effects : array
        Standardised random effects to begin with.
    """
    many = Many.of(target.problem)
    sizes = [each for each in SIZES if _LEAST <= each <= _MOST]
    moderate = [each for each in sizes if 2 * each * many.cells <= _MODERATE]
    work = _Weighing(target, stretch, pieces, many, effects)
    return work.weigh(max(moderate, default=_LEAST), exact=2 * _LEAST * many.cells <= _MOST_CELLS)


@dataclass(frozen=True, slots=True)
class _Weighing:
    """All that points are laid and weighed with."""

    target: Target
    stretch: Stretch
    pieces: list[Piece]
    many: Many
    effects: Array

    def weigh(self, half: int, *, exact: bool) -> Weighed:
        """Lay 2 ``half`` points; without ``exact`` take the bells' word for their weights."""
        heights = np.array([piece.height for piece in self.pieces])
        shares = np.exp(heights - logsumexp(heights))
        if exact:
            shares = (1.0 - _EVENLY) * shares + _EVENLY / len(self.pieces)
        laid = _lay(self.pieces, shares, half, wide=exact)
        at = self.stretch.back(laid.at)
        by_spread = _log_prior_by_spread(self.target, at)
        logs = self._log_weights(laid, at, by_spread) if exact else np.zeros(at.shape[0])
        weights = np.exp(logs - logsumexp(logs))
        worth = float(1.0 / (weights @ weights))
        widths = [_widths(self.stretch, each) for each in self.pieces]
        smooth = _smooth(at, weights, worth, laid.piece, widths)
        return Weighed(smooth, _spreads(self.target, weights, by_spread), worth)

    def _log_weights(self, laid: "_Laid", at: Array, by_spread: Array) -> Array:
        """Return the log of the posterior density over that of the points, constants aside."""
        split = self.target.problem.effects
        logs = self.many.log_likelihoods(at[:, :split], at[:, split:], self.effects)
        logs = logs + _log_prior(self.target, at) + logsumexp(by_spread, axis=2).sum(axis=0)
        logs = logs + self.stretch.log_volume(laid.at) - 0.5 * (laid.at[:, split:] ** 2).sum(axis=1)
        return np.where(np.isfinite(logs), logs - laid.log_density, -np.inf)


@dataclass(frozen=True, slots=True)
class _Laid:
    """Points (N, p), by which piece each was laid, and the log density they were laid with."""

    at: Array
    piece: NDArray[np.intp]
    log_density: Array


def _lay(pieces: list[Piece], shares: Array, half: int, *, wide: bool) -> _Laid:
    size = pieces[0].bell.at.size
    points = _normal(size, half)
    order = np.arange(1, half + 1)
    # two sequences that fill the unit square evenly: which piece, and which width
    piece = np.searchsorted(np.cumsum(shares), np.mod(order * 0.7548776662466927, 1.0) * 0.999999)
    broad = (np.mod(order * 0.5698402909980532, 1.0) < 0.5) & wide
    piece, broad = np.tile(piece, 2), np.tile(broad, 2)
    roots = np.array([np.linalg.cholesky(np.linalg.inv(each.bell.curvature)) for each in pieces])
    centres = np.array([each.bell.at for each in pieces])
    reach = np.where(broad, _WIDER, 1.0)[:, None]
    at = centres[piece] + np.einsum("nij,nj->ni", roots[piece], reach * points)
    logs = []
    for centre, root, share in zip(centres, roots, shares, strict=True):
        away = np.linalg.solve(root, (at - centre).T)
        squares = (away**2).sum(axis=0)
        narrow = -0.5 * squares
        if wide:
            other = -0.5 * squares / _WIDER**2 - size * np.log(_WIDER)
            narrow = np.logaddexp(narrow, other) - np.log(2.0)
        logs.append(narrow - np.log(np.diagonal(root)).sum() + np.log(share))
    return _Laid(at, piece, np.asarray(logsumexp(np.array(logs), axis=0)))


def _normal(size: int, half: int) -> Array:
    """Return 2 ``half`` mirrored normal points of any dimension."""
    if size <= MOST_DIMENSIONS:
        return normal_points(half, size)
    drawn = np.random.default_rng(1).normal(size=(half, size))
    root = np.linalg.cholesky(drawn.T @ drawn / half)
    drawn = np.linalg.solve(root, drawn.T).T
    return np.concatenate([drawn, -drawn])


def _log_prior(target: Target, at: Array) -> Array:
    """Return the log prior density but for the fixed factors' effects: (N,)."""
    penalty, gamma = target.penalty, at[:, : target.problem.effects]
    quadratic = np.einsum("np,pq,nq->n", gamma, penalty.fixed, gamma)
    return np.asarray(penalty.log_pseudo(gamma) - 0.5 * quadratic)


def _log_prior_by_spread(target: Target, at: Array) -> Array:
    """Return the log prior density of each fixed factor's effects at all spreads: (F, N, 81)."""
    penalty = target.penalty
    squares = penalty.squares(at[:, : target.problem.effects]).T
    spreads = candidates(penalty.spread_scale)
    sizes = np.array([span.stop - span.start for span in penalty.spans], dtype=np.float64)
    scale = -0.5 * HEIGHTS**2 - sizes[:, None] * np.log(spreads)
    return np.asarray(scale[:, None] - 0.5 * squares[..., None] * spreads**-2.0)


def _spreads(target: Target, weights: Array, by_spread: Array) -> tuple[Array, Array]:
    """Return the posterior mean and standard deviation of every spread: (F,), (F,)."""
    values = candidates(target.penalty.spread_scale)
    chance = np.exp(by_spread - logsumexp(by_spread, axis=2, keepdims=True))
    share = np.einsum("n,fnk->fk", weights, chance)
    mean = share @ values
    return mean, np.sqrt(np.maximum(share @ values**2 - mean**2, 0.0))


def _widths(stretch: Stretch, piece: Piece) -> Array:
    """Return the covariance of the parameters, as the bell says."""
    slope = stretch.slope(piece.bell.at)
    return np.asarray(slope @ np.linalg.inv(piece.bell.curvature) @ slope.T)


def _smooth(
    at: Array, weights: Array, worth: float, piece: NDArray[np.intp], widths: list[Array]
) -> Mixture:
    """Return a narrow normal at every point, the points drawn together to keep the variance.

    The width is Silverman's for a normal (1986, Density Estimation, 3.28, from memory).
    """
    width = min(1.06 * worth**-0.2, 0.9)
    means = at.copy()
    for one in np.unique(piece):
        own = piece == one
        share = weights[own]
        if share.sum() > 0.0:
            centre = share @ at[own] / share.sum()
            means[own] = centre + np.sqrt(1.0 - width**2) * (at[own] - centre)
    kept = weights > 1e-9
    return Mixture(
        weights[kept] / weights[kept].sum(),
        means[kept],
        width**2 * np.array(widths)[piece[kept]],
    )
