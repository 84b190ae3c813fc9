"""Integration over the deviations: mode, a fitted proposal, fixed points, checked weights.

The posterior of z (see `ratings_priors`) is near normal. Its mode is found by Newton steps,
a normal proposal with its own scale on either side of each axis is laid over it, and fixed
points of it and of the prior are weighted by posterior over proposals. While the weights are
too uneven, a normal is fitted to the weighted points and adds points of its own (adaptive
multiple importance sampling, with fixed points for random ones).

References
----------
Cornuet, Marin, Mira and Robert (2012), Scandinavian Journal of Statistics 39, 798-812.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_kernel import Kernel
from twobowls.statistics.normal_points import normal_points
from twobowls.statistics.ratings_priors import DeviationPrior

STEP = 1e-4
MOST_STEPS = 40
LONGEST = 1.0  # step in z, a standard deviation of the prior: longer ones overshoot
SETTLED = 0.01  # of log density: a tenth of a standard deviation from the mode
WIDER = 1.08  # the proposal is a little wider than the posterior, so that weights stay bounded
FITTED_WIDER = 1.2
PLAN = (61, 61, 61, 61, 127, 251, 509, 1021)  # half the number of points, attempt by attempt
EVEN = 0.9  # share of effective points at which the first attempt is enough
# Half the number of points laid over the prior, which reach where no normal about the mode does:
# a bowl-to-bowl deviation far out can be a quarter of a standard error. Numbers of points and
# widths were chosen together on 240 made-up tables, against 10,000 points each: standard errors
# are then off by 1.3 % (rms), 8.5 % at the most.
PRIOR_HALF = 127
LEAST_NEAR = 0.02  # of these points, expected near the posterior; with fewer they are not laid
ENOUGH = 240.0  # effective points

LogDensity = Callable[[FloatArray], FloatArray]


class Posterior:
    """Log posterior density of z for one model.

    Parameters
    ----------
    kernel : Kernel
        The model, its only fixed column the intercept.
    prior : DeviationPrior
        Priors of its deviations.
    rows : int
        Number of marks.
    """

    def __init__(self, kernel: Kernel, prior: DeviationPrior, rows: int) -> None:
        self.kernel, self.prior = kernel, prior
        self.degrees = rows - (kernel.size - kernel.crossed)

    def ratios(self, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Variance ratios (K, terms) and residual variances (K,)."""
        deviations = self.prior.deviations(z).values
        variance = deviations[:, -1] ** 2
        return deviations[:, :-1] ** 2 / variance[:, None], variance

    def from_parts(
        self, z: FloatArray, variance: FloatArray, logdet: FloatArray, rss: FloatArray
    ) -> FloatArray:
        """Log density (K,) from the parts of the deviance."""
        deviance = logdet + self.degrees * np.log(variance) + rss / variance
        return np.asarray(-0.5 * (deviance + (z * z).sum(axis=1)))

    def with_slopes(self, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Log density (K,) and its slopes by z (K, terms + 1)."""
        deviations = self.prior.deviations(z)
        variance = deviations.values[:, -1] ** 2
        ratios = deviations.values[:, :-1] ** 2 / variance[:, None]
        found = self.kernel.evaluate(ratios)
        value = self.from_parts(z, variance, found.logdet, found.rss)
        by_ratio = -0.5 * (found.logdet_slopes + found.rss_slopes / variance[:, None])
        chain = 2.0 * deviations.values[:, :-1] * deviations.slopes[:, :-1] / variance[:, None]
        direct = -0.5 * (self.degrees - found.rss / variance)
        by_log_variance = direct - (ratios * by_ratio).sum(axis=1)
        own = 2.0 * deviations.slopes[:, -1] / deviations.values[:, -1]
        slopes = np.concatenate([by_ratio * chain, (by_log_variance * own)[:, None]], axis=1) - z
        return value, slopes

    def values(self, z: FloatArray) -> FloatArray:
        """Log density (K,)."""
        ratios, variance = self.ratios(z)
        logdet, rss = self.kernel.deviance_parts(ratios)
        return self.from_parts(z, variance, logdet, rss)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A normal with mean ``centre``, axes (D, D) as columns and scales ``below``, ``above``."""

    centre: FloatArray
    axes: FloatArray
    below: FloatArray
    above: FloatArray

    def place(self, points: FloatArray) -> FloatArray:
        """Map standard normal points (K, D) to z."""
        return self.centre + (points * np.where(points < 0.0, self.below, self.above)) @ self.axes.T

    def log_density(self, z: FloatArray) -> FloatArray:
        """Log density (K,) at z, up to the same constant for all proposals."""
        along = np.linalg.solve(self.axes, (z - self.centre).T).T
        scales = np.where(along < 0.0, self.below, self.above)
        standard = along / scales
        volume = np.linalg.slogdet(self.axes)[1]
        height = -0.5 * (standard * standard).sum(axis=1) - np.log(scales).sum(axis=1)
        return np.asarray(height - volume)


def find_mode(
    posterior: Posterior, start: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Return the mode of z and minus the Hessian there, positive definite."""
    z = np.zeros(posterior.kernel.terms + 1) if start is None else start
    damping = 0.0
    value, slopes, curvature = _curvature(posterior, z)
    for _ in range(MOST_STEPS):
        step = _ascent(slopes, curvature, damping)
        if float(slopes @ step) < SETTLED:
            break
        new_value, new_slopes, new_curvature = _curvature(posterior, z + step)
        if new_value >= value + 1e-4 * float(slopes @ step):
            z, value, slopes, curvature = z + step, new_value, new_slopes, new_curvature
            damping = damping / 4.0 if damping > 0.05 else 0.0
        else:
            damping = max(4.0 * damping, 0.5)
    return z, curvature


def _curvature(posterior: Posterior, z: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    points = np.concatenate([z[None], z + STEP * np.eye(len(z))])
    values, slopes = posterior.with_slopes(points)
    curvature = (slopes[0] - slopes[1:]) / STEP
    return float(values[0]), slopes[0], (curvature + curvature.T) / 2


def _ascent(slopes: FloatArray, curvature: FloatArray, damping: float) -> FloatArray:
    """Newton step with the curvature made positive; no coordinate moves more than `LONGEST`."""
    values, vectors = np.linalg.eigh(curvature)
    strong = np.maximum(np.abs(values), 0.2) * (1.0 + damping)
    step = vectors @ ((vectors.T @ slopes) / strong)
    longest = max(float(np.abs(step).max()), 1e-300)
    return np.asarray(step * min(1.0, LONGEST / longest))


def lay_proposal(posterior: Posterior, mode: FloatArray, curvature: FloatArray) -> Proposal:
    """Scale each axis on either side by how far the density really reaches."""
    values, vectors = np.linalg.eigh(curvature)
    axes = vectors / np.sqrt(np.maximum(values, 0.25))
    reach = 2.0**0.5
    steps = reach * axes.T
    found = posterior.values(np.concatenate([mode[None], mode - steps, mode + steps]))
    drops = np.maximum(found[0] - found[1:], 1e-3)
    scales = WIDER * np.clip(reach / np.sqrt(2.0 * drops), 0.6, 1.8)
    return Proposal(mode, axes, scales[: len(mode)], scales[len(mode) :])


def fit_proposal(z: FloatArray, weights: FloatArray) -> Proposal:
    """Fit a normal to weighted points."""
    centre = weights @ z
    away = z - centre
    covariance = (away * weights[:, None]).T @ away + 1e-6 * np.eye(z.shape[1])
    values, vectors = np.linalg.eigh(covariance)
    ones = np.full(len(centre), FITTED_WIDER)
    return Proposal(centre, vectors * np.sqrt(values), ones, ones)


@dataclass(frozen=True, slots=True)
class Weighted:
    """Weighted points: ``z`` (K, D), ``weights`` (K,) and the effective number of points.

    ``log_total`` is the log of the integral, up to a constant that depends on D alone.
    """

    z: FloatArray
    weights: FloatArray
    effective: float
    log_total: float


def weigh_points(
    posterior: Posterior, peak: tuple[FloatArray, FloatArray] | None = None
) -> Weighted:
    """Lay out fixed points over z and weigh them until the weights are even enough.

    Points about the mode come first; they are enough where the posterior is as good as normal.
    Then come points of the prior: they reach into every corner where the data leave it open
    which of two terms explains them. Points of all attempts are kept; each is weighted by the
    posterior over the mixture of all proposals so far, so that no attempt is lost and no
    single weight can grow large. Where the marks leave none of those corners open, the prior's
    points would weigh nothing, and are left out. ``peak`` is what `find_mode` found, if it was
    asked before.
    """
    mode, curvature = find_mode(posterior) if peak is None else peak
    cloud = _Cloud(posterior)
    found = cloud.add(lay_proposal(posterior, mode, curvature), PLAN[0])
    if found.effective >= EVEN * len(found.z):
        return found
    if prior_reaches(curvature):
        found = cloud.add(_prior_proposal(len(mode)), PRIOR_HALF)
    for half in PLAN[1:]:
        if found.effective >= ENOUGH:
            break
        found = cloud.add(fit_proposal(found.z, found.weights), half)
    return found


def prior_reaches(curvature: FloatArray) -> bool:
    """Whether a point of the prior can come near the posterior: three standard deviations each way.

    Examples
    --------
    >>> prior_reaches(np.eye(3)), prior_reaches(1e8 * np.eye(3))
    (True, False)
    """
    sds = 1.0 / np.sqrt(np.maximum(np.linalg.eigvalsh(curvature), 0.25))
    return bool(2 * PRIOR_HALF * np.prod(np.minimum(3.0 * sds, 1.0)) > LEAST_NEAR)


class _Cloud:
    """Points of several proposals, each weighted by the posterior over their mixture."""

    def __init__(self, posterior: Posterior) -> None:
        self.posterior = posterior
        self.proposals: list[Proposal] = []
        self.z: list[FloatArray] = []
        self.heights: list[FloatArray] = []
        self.logs: list[FloatArray] = []  # of each proposal, at all points so far

    def add(self, proposal: Proposal, half: int) -> Weighted:
        """Lay 2 ``half`` points by one more proposal, and weigh all points anew."""
        new = proposal.place(normal_points(half, len(proposal.centre)))
        for number, other in enumerate(self.proposals):
            self.logs[number] = np.concatenate([self.logs[number], other.log_density(new)])
        self.proposals.append(proposal)
        self.z.append(new)
        self.heights.append(self.posterior.values(new))
        z = np.concatenate(self.z)
        self.logs.append(proposal.log_density(z))
        logs = [at + np.log(len(own)) for at, own in zip(self.logs, self.z, strict=True)]
        log_weights = np.concatenate(self.heights) - np.logaddexp.reduce(logs, axis=0)
        log_total = float(np.logaddexp.reduce(log_weights))
        weights = np.exp(log_weights - log_total)
        return Weighted(z, weights, 1.0 / float(weights @ weights), log_total)


def _prior_proposal(dimensions: int) -> Proposal:
    ones = np.ones(dimensions)
    return Proposal(np.zeros(dimensions), np.eye(dimensions), ones, ones)
