"""Marks and picks in one posterior: what the picks add to the coffee means of a rating fit.

The picks' log-odds are the difference in means times a slope that nobody knows; it is
averaged over a weak prior. Knows rating fits only as a mean and a covariance.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from twobowls.errors import InputError
from twobowls.statistics.inputs import between, numbers, whole
from twobowls.statistics.mixtures import Mixture, blend
from twobowls.statistics.picks_average import grid_estimate
from twobowls.statistics.picks_grid import place_nodes
from twobowls.statistics.picks_model import PicksPrior
from twobowls.statistics.picks_peak import Peak, Question, climb
from twobowls.statistics.picks_results import JointFit, compare_all, level_means
from twobowls.statistics.picks_table import Array, Codes, PickTable
from twobowls.statistics.ratings_results import Estimate

__all__ = ["JointFit", "joint_marks_and_picks"]

# One mark's noise s makes two marks differ by s * sqrt(2); on the logistic scale that is a
# slope of pi / sqrt(3) / (s * sqrt(2)).
_SLOPE_BY_NOISE = np.pi / np.sqrt(6.0)
_FARTHEST = 4.0
_LEAST_LEFT = 0.05
_AT_ODDS = 2.0


def joint_marks_and_picks(
    coffees: Sequence[str],
    mean: ArrayLike,
    covariance: ArrayLike,
    picks: PickTable,
    *,
    noise_sd: float = 10.0,
    slope_spread: float = 1.0,
    disagreement_sd: float = 0.0,
    tasters: int | None = None,
    level: float = 0.90,
) -> JointFit:
    """Join picks to the coffee means of a rating fit.

    Parameters
    ----------
    coffees : sequence of str (k,)
        What the means are of.
    mean : array (k,)
        Posterior means on the mark scale.
    covariance : array (k, k)
        Their posterior covariance, for people like these.
    picks : PickTable
        On the same sensation, and the same scale: "more" belongs with intensity, "better"
        with liking. Coffees must be among ``coffees``.
    noise_sd : float
        How much one mark of one bowl scatters, on the mark scale (the rating fit's residual
        sd). Picks are taken to be about as sharp as marks; only the prior of the slope
        depends on it.
    slope_spread : float
        Standard deviation of the log slope around that: with 1, two cases in three lie within
        a factor of e.
    disagreement_sd : float
        How much one taster's place for one coffee deviates from the panel's, on the mark
        scale (the rating fit's taster-by-coffee sd). Above 0, picks must name tasters.
    tasters : int, optional
        How many tasters made the marks; as many as picked, when left out.
    level : float
        Of intervals, between 0 and 1.

    Returns
    -------
    JointFit

    Raises
    ------
    InputError
        When shapes do not fit, the covariance is not one, or coffees are unknown.

    Notes
    -----
    Assumed: the pickers are the tasters who marked, so that their common lean, the part
    ``disagreement_sd**2 / tasters`` of every variance, is not lessened by their picks; a
    taster's deviation for a coffee is the same in all their picks; given all that, picks are
    independent of each other and of the marks' noise. With ``disagreement_sd`` of 0 every
    pick is a witness of its own, which is too sure when tasters picked often.

    Gaussian prior (the rating fit's posterior) times Davidson's likelihood: Laplace in the
    means, the tie weight and the deviations; the log slope by quadrature.

    Examples
    --------
    >>> from twobowls.statistics.picks_table import tabulate_picks
    >>> picks = tabulate_picks(["A"], ["B"], [9], [1])
    >>> joint = joint_marks_and_picks(["A", "B"], [52.0, 50.0], [[25.0, 0.0], [0.0, 25.0]], picks)
    >>> 52.0 < joint.means[0].estimate.mean < 60.0
    True
    >>> joint.contrasts[0].probability > 0.9
    True
    """
    names = _check_names(coffees, picks)
    size = len(names)
    middle = numbers("mean", mean, (size,))
    full = _check_covariance(numbers("covariance", covariance, (size, size)))
    between("noise_sd", noise_sd, 0, np.inf)
    between("slope_spread", slope_spread, 0, 10)
    between("disagreement_sd", disagreement_sd, 0, 1e6, ends=True)
    between("level", level, 0, 1)
    if disagreement_sd and not picks.tasters:
        raise InputError(
            "picks",
            "It is not known who picked, and tasters disagree",
            "Name the tasters when counting, or give a disagreement_sd of 0",
        )
    count = len(picks.tasters) or 1
    if tasters is not None:
        count = whole("tasters", tasters, 1)
    task = _Task(
        middle=middle,
        root=_root_of_the_own_part(full, disagreement_sd**2 / count),
        picks=picks,
        place=np.array([names.index(each) for each in picks.coffees], dtype=np.int64),
        disagreement=disagreement_sd,
        ties=bool(picks.same.any()),
    )
    return _integrate(task, names, full, np.log(_SLOPE_BY_NOISE / noise_sd), slope_spread, level)


def _check_names(coffees: Sequence[str], picks: PickTable) -> tuple[str, ...]:
    names = tuple(map(str, coffees))
    if len(set(names)) < len(names) or len(names) < 2:
        raise InputError(
            "coffees", "There are fewer than two different names", "Name each coffee once"
        )
    stray = next((each for each in picks.coffees if each not in names), None)
    if stray is not None:
        raise InputError(
            "picks", f'"{stray}" was picked from but has no mean', "Leave its picks out"
        )
    return names


def _check_covariance(full: Array) -> Array:
    if not np.allclose(full, full.T, rtol=1e-6, atol=1e-9 * float(np.abs(full).max())):
        raise InputError(
            "covariance", "It is not symmetric", "Give the covariance of the coffee means"
        )
    full = 0.5 * (full + full.T)
    least = float(np.linalg.eigvalsh(full)[0])
    if least < -1e-8 * max(float(np.trace(full)), 1e-300):
        raise InputError(
            "covariance",
            f"It has a negative direction ({least:.3g})",
            "Give the covariance of the coffee means",
        )
    return full


def _root_of_the_own_part(full: Array, shared: float) -> Array:
    """Return a root of the covariance less what these tasters' common lean adds to it.

    A twentieth is left in every direction, should the two numbers not fit together.
    """
    values, vectors = np.linalg.eigh(full)
    own = np.maximum(values - shared, _LEAST_LEFT * np.maximum(values, 0.0))
    return np.asarray(vectors * np.sqrt(own))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Task:
    """The prior of the means as ``middle + root @ z``, the picks, and who they are of."""

    middle: Array
    root: Array
    picks: PickTable
    place: Codes
    disagreement: float
    ties: bool

    def ask(self, slope: float) -> Question:
        """Return the question at one slope."""
        first, second = self.place[self.picks.first], self.place[self.picks.second]
        size = self.middle.size
        basis = np.linalg.svd(np.eye(size) - 1.0 / size)[0][:, : size - 1]
        sway = slope * self.disagreement * (basis[first] - basis[second])
        half = 0.0 if self.ties else 0.5
        same = self.picks.same
        tie = [PicksPrior().tie_sd ** -2] if self.ties else []
        return Question(
            design=slope * (self.root[first] - self.root[second]),
            offset=slope * (self.middle[first] - self.middle[second]),
            answers=np.array(
                [
                    self.picks.for_first + half * same,
                    self.picks.for_second + half * same,
                    same * float(self.ties),
                ]
            ),
            precision=np.array([1.0] * size + tie),
            centre=np.zeros(size + len(tie)),
            ties=self.ties,
            sway=sway if self.disagreement and len(self.picks.tasters) > 1 else sway[:, :0],
            taster=self.picks.taster,
            centred=True,
        )


def _integrate(
    task: _Task,
    names: tuple[str, ...],
    full: Array,
    middle: float,
    spread: float,
    level: float,
) -> JointFit:
    start = climb(task.ask(float(np.exp(middle)))).theta

    def log_prior(log_slope: float) -> float:
        return -0.5 * ((log_slope - middle) / spread) ** 2

    def log_density(log_slope: float) -> float:
        peak = climb(task.ask(float(np.exp(log_slope))), start)
        return peak.log_evidence + log_prior(log_slope)

    nodes, logs = place_nodes(log_density, middle - _FARTHEST * spread, middle + _FARTHEST * spread)
    peaks = [climb(task.ask(float(np.exp(node))), start) for node in nodes]
    heights = np.array(
        [
            log_weight + peak.log_evidence + log_prior(float(node))
            for node, log_weight, peak in zip(nodes, logs, peaks, strict=True)
        ]
    )
    posterior = _means(task, full, heights, peaks)
    log_slope = grid_estimate(nodes, heights, level)
    weights = np.exp(heights - heights.max())
    slope = float(weights @ np.exp(nodes) / weights.sum())
    ends, before = np.exp(log_slope.interval), _spread_of_contrasts(full)
    return JointFit(
        coffees=names,
        level=level,
        means=level_means(posterior, names, level),
        contrasts=compare_all(posterior, names, level),
        slope=Estimate(
            mean=slope,
            se=float(np.sqrt(weights @ (np.exp(nodes) - slope) ** 2 / weights.sum())),
            interval=(float(ends[0]), float(ends[1])),
        ),
        tie=_tie(heights, peaks, level) if task.ties else None,
        picks=task.picks.picks,
        gain=_spread_of_contrasts(posterior.covariance) / before if before > 0.0 else 1.0,
        cautions=_cautions(task, posterior, full),
        posterior=posterior,
    )


def _means(task: _Task, full: Array, heights: Array, peaks: Sequence[Peak]) -> Mixture:
    """Return the posterior of the means; the tasters' common lean is put back untouched."""
    size, root = task.middle.size, task.root
    shared = full - root @ root.T
    return blend(
        heights.tolist(),
        [task.middle + root @ peak.theta[:size] for peak in peaks],
        [root @ peak.covariance[:size, :size] @ root.T + shared for peak in peaks],
    )


def _tie(heights: Array, peaks: Sequence[Peak], level: float) -> Estimate:
    last = [peak.theta[-1:] for peak in peaks]
    own = [peak.covariance[-1:, -1:] for peak in peaks]
    return blend(heights.tolist(), last, own).estimate([1.0], level)


def _spread_of_contrasts(covariance: Array) -> float:
    """Return the mean variance of all pairwise differences, times a constant."""
    size = covariance.shape[0]
    return float(np.trace(covariance) - covariance.sum() / size)


def _cautions(task: _Task, posterior: Mixture, full: Array) -> tuple[str, ...]:
    """Point at pairs that the picks set apart otherwise than the marks allow for."""
    said = []
    names, place = task.picks.coffees, task.place
    moved = posterior.mean - task.middle
    pairs = {
        (min(i, j), max(i, j)) for i, j in zip(task.picks.first, task.picks.second, strict=True)
    }
    for i, j in sorted(pairs):
        a, b = place[i], place[j]
        allowed = np.sqrt(max(full[a, a] + full[b, b] - 2.0 * full[a, b], 0.0))
        if abs(moved[a] - moved[b]) > _AT_ODDS * allowed:
            said.append(f'Picks and marks of "{names[i]}" and "{names[j]}" are at odds.')
    return tuple(said)
