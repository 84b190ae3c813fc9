"""Marks and picks of the same tasters in one posterior, where close marks lead to picks.

That a pick was asked for says that this taster put the two coffees close, and nothing of the
table. So a pick is weighed against where its own taster put the two, and reaches the table's
means only through that taster. `picks_joint` is for picks that were not chosen by the marks.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mean_mixtures import (
    covariance_root,
    fit_moments,
    mixture_means,
    transport,
)
from twobowls.statistics.mixtures import blend
from twobowls.statistics.picks_average import grid_estimate
from twobowls.statistics.picks_model import PicksPrior
from twobowls.statistics.picks_peak import Peak, Question, climb
from twobowls.statistics.picks_table import PickTable
from twobowls.statistics.ratings_columns import RatingColumns
from twobowls.statistics.ratings_results import (
    Contrast,
    Estimate,
    LevelMean,
    Population,
    RatingFit,
)
from twobowls.statistics.taster_places import Places, taster_places

POPULATIONS: tuple[Population, ...] = ("table", "people")
# One mark's noise s makes two marks differ by s * sqrt(2); on the logistic scale that is a
# slope of pi / sqrt(3) / (s * sqrt(2)).
_SLOPE_BY_NOISE = np.pi / np.sqrt(6.0)
_SLOPE_SPREAD = 1.0  # of the log slope: two cases in three lie within a factor of e
_FINEST = 0.01  # of the scale: no mark is set more exactly
_LOOKS = 2
_NODES = 7
_WIDER = 1.1
_FLAT = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """The coffee means of one population with the picks.

    ``before`` has the contrasts of the marks alone in the same (normal) approximation: the
    difference to ``contrasts`` is what the picks did, and nothing else.
    """

    population: Population
    coffees: tuple[LevelMean, ...]
    contrasts: tuple[Contrast, ...]
    before: tuple[Contrast, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarksAndPicks:
    """What marks and picks say together, on the scale of the marks.

    ``picks`` were used, of ``tasters`` tasters. ``slope`` is the log-odds of a pick for every
    unit on the scale, ``tie`` the log of Davidson's nu (None where nobody said "the same").
    """

    table: Joined
    people: Joined
    picks: int
    tasters: int
    slope: Estimate
    tie: Estimate | None


def join_marks_and_picks(
    columns: RatingColumns,
    fit: RatingFit,
    picks: PickTable,
    *,
    scale: tuple[float, float] = (0.0, 100.0),
    level: float = 0.90,
) -> MarksAndPicks:
    """Join the picks of tasters to the marks they made.

    Parameters
    ----------
    columns : RatingColumns
        The marks.
    fit : RatingFit
        Their fit.
    picks : PickTable
        Of the same sensation on the same scale ("more" belongs with intensity, "better" with
        liking), by tasters and of coffees that have marks. Give each opinion once: a pick
        repeated in the next round is the same one.
    scale : tuple of float
        Both ends of the scale.
    level : float
        Of intervals.

    Returns
    -------
    MarksAndPicks

    Raises
    ------
    InputError
        When it is not known who picked, or a taster or coffee has no marks.

    Notes
    -----
    The marks give every taster's place for every coffee (normal, with the fit's variances);
    the coffee means are first set to what the fit, which integrates those out, says of them.
    The log-odds of a pick are the taster's own difference times a slope that nobody knows:
    log-normal about what the noise of marks implies, integrated out by quadrature. Ties as
    Davidson (1970). Gaps between the tasters' own places by Laplace; the means follow them
    linearly. Which pairs were asked for may depend on the marks in any way.

    Examples
    --------
    >>> from twobowls.statistics.picks_table import count_picks
    >>> from twobowls.statistics.ratings import fit_ratings
    >>> who = ["Ada", "Bo", "Cy", "Di"]
    >>> columns = RatingColumns(
    ...     y=[52, 48, 60, 55, 51, 50, 44, 41],
    ...     taster=[name for name in who for _ in "AB"],
    ...     coffee=["A", "B"] * 4,
    ... )
    >>> picks = count_picks(["A"] * 4, ["B"] * 4, ["A"] * 4, who)
    >>> joined = join_marks_and_picks(columns, fit_ratings(columns), picks)
    >>> after, before = joined.table.contrasts[0], joined.table.before[0]
    >>> after.probability > before.probability
    True
    """
    places = taster_places(columns, fit, scale)
    task = _task(places, picks)
    finest = _FINEST * (scale[1] - scale[0])
    noise = max(fit.variance["residual"] ** 0.5, finest)
    grid = _integrate(task, float(np.log(_SLOPE_BY_NOISE / noise)))
    joined = {each: _joined(places, task, grid, fit, each, level) for each in POPULATIONS}
    return MarksAndPicks(
        table=joined["table"],
        people=joined["people"],
        picks=picks.picks,
        tasters=len(picks.tasters),
        slope=_slope(grid, level),
        tie=_tie(grid, level) if task.ties else None,
    )


@dataclass(frozen=True, slots=True)
class _Task:
    """The gaps that picks are about: ``centre`` plus what is not known of them.

    That is ``design @ z`` of the shared effects, ``shared + root @ z``, and ``sway @ v`` of
    the row's taster, whose own part is ``own + roots[taster] @ v``; z and v are standard
    normal. ``who`` are the places of the tasters that picked.
    """

    picks: PickTable
    who: IntArray
    centre: FloatArray
    design: FloatArray
    sway: FloatArray
    root: FloatArray
    roots: FloatArray

    @property
    def ties(self) -> bool:
        """Whether anybody said "the same"."""
        return bool(self.picks.same.any())

    def ask(self, slope: float) -> Question:
        """Return the question at one slope."""
        half = 0.0 if self.ties else 0.5
        picks, size = self.picks, self.design.shape[1]
        tie = [PicksPrior().tie_sd ** -2] if self.ties else []
        return Question(
            design=slope * self.design,
            offset=slope * self.centre,
            answers=np.array(
                [
                    picks.for_first + half * picks.same,
                    picks.for_second + half * picks.same,
                    picks.same * float(self.ties),
                ]
            ),
            precision=np.array([1.0] * size + tie),
            centre=np.zeros(size + len(tie)),
            ties=self.ties,
            sway=slope * self.sway,
            taster=picks.taster,
        )


def _task(places: Places, picks: PickTable) -> _Task:
    if not picks.tasters:
        raise InputError("picks", "it is not known who picked", "Name the tasters when counting")
    who = _numbers("taster", picks.tasters, places.tasters)
    coffee = _numbers("coffee", picks.coffees, places.coffees)
    taster, first, second = who[picks.taster], coffee[picks.first], coffee[picks.second]
    each = places.lift - places.pull[taster]
    rows = np.arange(len(taster))
    place = places.lift @ places.shared + places.own[taster]
    root = covariance_root(places.covariance)
    design = (each[rows, first] - each[rows, second]) @ root
    turn = _row_space(design)
    roots = covariance_root(places.spread[who])
    own = roots[picks.taster]
    return _Task(
        picks=picks,
        who=who,
        centre=place[rows, first] - place[rows, second],
        design=design @ turn,
        sway=own[rows, first] - own[rows, second],
        root=root @ turn,
        roots=roots,
    )


def _numbers(kind: str, names: tuple[str, ...], known: tuple[str, ...]) -> IntArray:
    stray = next((name for name in names if name not in known), None)
    if stray is not None:
        raise InputError(
            "picks", f"the {kind} “{stray}” has picks but no marks", "Leave those picks out"
        )
    place = {name: number for number, name in enumerate(known)}
    return np.array([place[name] for name in names], dtype=np.intp)


def _row_space(design: FloatArray) -> FloatArray:
    """Return the directions (q, r) that a design sees."""
    _, sizes, directions = np.linalg.svd(design, full_matrices=False)
    return np.asarray(directions[sizes > _FLAT * max(float(sizes[0]), 1e-300)].T)


@dataclass(frozen=True, slots=True)
class _Grid:
    """The log slope on nodes: their log weights, and the peak at each."""

    nodes: FloatArray
    heights: FloatArray
    peaks: tuple[Peak, ...]


def _integrate(task: _Task, middle: float) -> _Grid:
    found: dict[float, Peak] = {}

    def peak(log_slope: float) -> Peak:
        if log_slope not in found:
            near = min(found, key=lambda other: abs(other - log_slope), default=None)
            start = None if near is None else found[near].theta
            found[log_slope] = climb(task.ask(float(np.exp(log_slope))), start)
        return found[log_slope]

    def height(log_slope: float) -> float:
        return peak(log_slope).log_evidence - 0.5 * ((log_slope - middle) / _SLOPE_SPREAD) ** 2

    nodes, logs = _nodes(height, middle)
    heights = logs + np.array([height(float(node)) for node in nodes])
    return _Grid(nodes, heights, tuple(peak(float(node)) for node in nodes))


def _nodes(height: Callable[[float], float], middle: float) -> tuple[FloatArray, FloatArray]:
    """Return nodes over the bulk of a density that is nearly normal, and their log weights."""
    centre, sd = middle, _SLOPE_SPREAD
    for _ in range(_LOOKS):
        below, here, above = (height(centre + step * sd) for step in (-1.0, 0.0, 1.0))
        bend = max((2.0 * here - below - above) / sd**2, 0.5 / _SLOPE_SPREAD**2)
        centre += float(np.clip((above - below) / (2.0 * sd) / bend, -2.0 * sd, 2.0 * sd))
        sd = bend**-0.5
    points, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    scaled = _WIDER * sd
    return centre + scaled * points, np.log(weights) + 0.5 * points**2


def _joined(
    places: Places,
    task: _Task,
    grid: _Grid,
    fit: RatingFit,
    population: Population,
    level: float,
) -> Joined:
    """Carry what the picks changed over to what the fit says of the means."""
    mean, covariance = fit_moments(fit, population, places.coffees)
    _, own = places.moments(population)
    carry = transport(own, covariance)
    moved = [_moved(places, task, peak, population) for peak in grid.peaks]
    weights = np.exp(grid.heights - grid.heights.max())
    centres = np.array([mean + carry @ shift for shift, _ in moved])
    covariances = np.array([carry @ (own + change) @ carry.T for _, change in moved])
    names = places.coffees
    means, contrasts = mixture_means(names, weights / weights.sum(), centres, covariances, level)
    _, before = mixture_means(names, np.ones(1), mean[None], covariance[None], level)
    return Joined(population=population, coffees=means, contrasts=contrasts, before=before)


def _moved(
    places: Places, task: _Task, peak: Peak, population: Population
) -> tuple[FloatArray, FloatArray]:
    """Return by how much the picks move the means (C,), and change their covariance."""
    size, share = task.design.shape[1], places.share(population)
    shared = places.map(population) @ task.root
    shift = shared @ peak.theta[:size]
    shift = shift + share * np.einsum("icr,ir->c", task.roots, peak.deviations)
    along = -share * np.einsum("icr,irq->cq", task.roots, peak.reach)
    along[:, :size] += shared
    left = np.einsum("icr,irs,ids->cd", task.roots, peak.blocks, task.roots)
    before = shared @ shared.T + share**2 * places.spread[task.who].sum(axis=0)
    return shift, along @ peak.covariance @ along.T + share**2 * left - before


def _slope(grid: _Grid, level: float) -> Estimate:
    log_slope = grid_estimate(grid.nodes, grid.heights, level)
    weights = np.exp(grid.heights - grid.heights.max())
    weights = weights / weights.sum()
    slopes = np.exp(grid.nodes)
    mean = float(weights @ slopes)
    low, high = np.exp(log_slope.interval)
    return Estimate(
        mean=mean,
        se=float(np.sqrt(weights @ (slopes - mean) ** 2)),
        interval=(float(low), float(high)),
    )


def _tie(grid: _Grid, level: float) -> Estimate:
    last = [peak.theta[-1:] for peak in grid.peaks]
    own = [peak.covariance[-1:, -1:] for peak in grid.peaks]
    mixture = blend(grid.heights.tolist(), last, own)
    return mixture.estimate([1.0], level)
