"""The top of a pick model's posterior, its covariance, and the weight of evidence there.

One Newton climb over all unknowns: what coffees (and ties, and order) do, and how each
taster deviates. Knows no names, only rows, columns and codes.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.picks_table import Array, Codes

_STEPS = 200


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """Rows of answers and what drives them.

    The log-odds of first over second in row i is ``offset[i] + design[i] @ theta`` plus
    ``sway[i] @ v`` with v the deviations of the row's taster, standard normal. With ties, the
    log weight of "same" is the last entry of theta and has no column in ``design``.

    Attributes
    ----------
    design : array (m, p)
        Effects on the log-odds.
    offset : array (m,)
        Known part of the log-odds.
    answers : array (3, m)
        Counts for the first, for the second, and ties.
    precision, centre : array (p,) or (p + 1,)
        Of independent normal priors of theta; a precision of zero is flat.
    ties : bool
        Whether ties have a weight of their own.
    sway : array (m, r)
        What a taster's deviations do to the log-odds; r is 0 for none.
    taster : array (m,)
        Whose row it is, in ascending order.
    centred : bool
        Whether the deviations sum to zero over these tasters.
    alike : array (T,)
        How many tasters with the very same rows each one stands for; empty for one each. Not
        with ``centred``.
    """

    design: Array
    offset: Array
    answers: Array
    precision: Array
    centre: Array
    ties: bool
    sway: Array
    taster: Codes
    centred: bool = False
    alike: Array = field(default_factory=lambda: np.zeros(0))

    @property
    def times(self) -> Array:
        """How often each taster counts: (T,)."""
        return self.alike if self.alike.size else np.ones(int(self.taster[-1]) + 1)

    def all_of(self, rows: Array) -> Array:
        """Return a value of each row (m,) as often as its taster counts."""
        return self.alike[self.taster] * rows if self.alike.size else rows

    @property
    def tasters(self) -> int:
        """How many tasters deviate."""
        return int(self.taster[-1]) + 1 if self.sway.shape[1] else 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Peak:
    """The top: theta and its covariance, deviations left out by integration.

    ``log_evidence`` is the log of the integral over all unknowns (Laplace), without
    constants that depend on neither the sway nor the design. ``log_likelihood`` is that of
    the answers at the top, without counting constants. ``deviations`` (T, r) and ``blocks``
    (T, r, r) are each taster's deviations and their covariance given theta; they move by
    minus ``reach`` (T, r, q) for every unit of theta (empty where that was not asked for).
    """

    theta: Array
    covariance: Array
    log_evidence: float
    log_likelihood: float
    deviations: Array
    blocks: Array
    settled: bool
    reach: Array = field(default_factory=lambda: np.zeros((0, 0, 0)))


@dataclass(frozen=True, slots=True, eq=False)
class Answers:
    """Log-likelihood of rows, with derivatives in the log-odds and in the log tie weight.

    Second derivatives are of minus the log-likelihood.
    """

    value: Array
    by_odds: Array
    by_tie: Array
    odds_odds: Array
    odds_tie: Array
    tie_tie: Array


def answer_shares(odds: Array, tie: float) -> Array:
    """Return the probabilities of first, second and tie for log-odds: (3, m).

    Davidson (1970), J. Am. Stat. Assoc. 65, 317-328 (from memory): a tie has the geometric
    mean of the two strengths times a constant.

    Examples
    --------
    >>> [round(float(share), 4) for share in answer_shares(np.zeros(1), 0.0)[:, 0]]
    [0.3333, 0.3333, 0.3333]
    """
    return np.asarray(np.exp(_log_shares(odds, tie)))


def _log_shares(odds: Array, tie: float) -> Array:
    """Return the logs of the three probabilities, which no odds drive to minus infinity."""
    logs = np.array([0.5 * odds, -0.5 * odds, np.full_like(odds, tie)])
    logs = logs - logs.max(axis=0)
    return np.asarray(logs - np.log(np.exp(logs).sum(axis=0)))


def weigh_answers(counts: Array, odds: Array, tie: float) -> Answers:
    """Return the log-likelihood of counts (3, ...) at log-odds (...), with derivatives.

    Examples
    --------
    >>> told = weigh_answers(np.array([[3.0], [1.0], [0.0]]), np.log([3.0]), -np.inf)
    >>> bool(abs(told.by_odds[0]) < 1e-12)
    True
    """
    total, tied, less = counts.sum(axis=0), float(np.exp(tie)), counts[0] - counts[1]
    # over the larger of the two strengths, whose square root is 1, the smaller one is near**2
    near = np.exp(-0.5 * np.abs(odds))
    square, tie_part = near * near, tied * near
    sum_of_all = 1.0 + square + tie_part
    lean = np.copysign((1.0 - square) / sum_of_all, odds)
    same = tie_part / sum_of_all
    with np.errstate(invalid="ignore"):
        fixed = np.where(counts[2] > 0, counts[2] * tie, 0.0)
    log_sum = 0.5 * np.abs(odds) + np.log(sum_of_all)
    pull = total * lean
    return Answers(
        value=0.5 * less * odds + fixed - total * log_sum,
        by_odds=0.5 * (less - pull),
        by_tie=counts[2] - total * same,
        odds_odds=0.25 * (total * (1.0 - same) - pull * lean),
        odds_tie=-0.5 * pull * same,
        tie_tie=total * same * (1.0 - same),
    )


@dataclass(frozen=True, slots=True)
class _State:
    theta: Array
    deviations: Array
    value: float
    answers: Answers


def _look(asked: Question, theta: Array, deviations: Array) -> _State:
    """Return minus the log posterior at one point, constants aside."""
    p = asked.design.shape[1]
    odds = asked.offset + asked.design @ theta[:p]
    if asked.sway.shape[1]:
        odds = odds + np.einsum("ir,ir->i", asked.sway, deviations[asked.taster])
    answers = weigh_answers(asked.answers, odds, float(theta[p]) if asked.ties else -np.inf)
    away = theta - asked.centre
    value = 0.5 * float(away @ (asked.precision * away))
    if asked.sway.shape[1]:
        value += 0.5 * float(asked.times @ (deviations**2).sum(axis=1))
    return _State(theta, deviations, value - float(asked.all_of(answers.value).sum()), answers)


@dataclass(frozen=True, slots=True)
class _Curvature:
    """Second derivatives: a block a taster, the part of theta, and what joins them."""

    blocks: NDArray[np.float64]
    link: NDArray[np.float64]
    corner: NDArray[np.float64]
    log_det: float
    times: NDArray[np.float64]

    def solve(self, own: Array, rest: Array) -> tuple[Array, Array]:
        """Return H^-1 times (own (T, r, c), rest (q, c)); ``own`` is that of a single taster."""
        tail = self.corner @ (rest - np.einsum("t,trq,trc->qc", self.times, self.link, own))
        return self.blocks @ own - self.link @ tail, tail


def all_columns(asked: Question) -> Array:
    """Return the rows' columns for all of theta; the tie's is zero here."""
    return np.hstack([asked.design, np.zeros((asked.design.shape[0], int(asked.ties)))])


def _curvature(asked: Question, state: _State) -> _Curvature:
    at, columns, sway = state.answers, all_columns(asked), asked.sway
    pull = at.odds_odds[:, None] * columns
    corner = columns.T @ (asked.all_of(at.odds_odds)[:, None] * columns)
    corner += np.diag(asked.precision)
    if asked.ties:
        mixed = columns.T @ asked.all_of(at.odds_tie)
        corner[-1, :] += mixed
        corner[:, -1] += mixed
        corner[-1, -1] += float(asked.all_of(at.tie_tie).sum())
        pull[:, -1] += at.odds_tie
    times = asked.times[: asked.tasters]
    blocks = np.tile(np.eye(sway.shape[1]), (asked.tasters, 1, 1))
    link = np.zeros((asked.tasters, sway.shape[1], corner.shape[0]))
    if asked.tasters:
        np.add.at(blocks, asked.taster, sway[:, :, None] * (at.odds_odds[:, None] * sway)[:, None])
        np.add.at(link, asked.taster, sway[:, :, None] * pull[:, None])
    inverse = np.asarray(np.linalg.inv(blocks), dtype=np.float64)
    reach = inverse @ link
    left = corner - np.einsum("t,trq,trp->qp", times, link, reach)
    log_det = float(times @ np.linalg.slogdet(blocks)[1])
    if left.size:
        log_det += float(np.linalg.slogdet(left)[1])
    return _Curvature(inverse, reach, _invert(left), log_det, times)


def _invert(matrix: Array) -> Array:
    return np.asarray(np.linalg.inv(matrix)) if matrix.size else matrix


def _step(asked: Question, state: _State, curvature: _Curvature) -> tuple[Array, Array, float]:
    """Return the Newton step in theta and in the deviations, and the expected gain."""
    at = state.answers
    gradient = asked.precision * (state.theta - asked.centre)
    gradient -= all_columns(asked).T @ asked.all_of(at.by_odds)
    if asked.ties:
        gradient[-1] -= float(asked.all_of(at.by_tie).sum())
    own = state.deviations[..., None].copy()
    if asked.tasters:
        np.add.at(own[..., 0], asked.taster, -asked.sway * at.by_odds[:, None])
    along, tail = curvature.solve(own, gradient[:, None])
    if asked.centred and asked.tasters:
        free, free_tail, least = _constraint(asked, curvature)
        push = np.linalg.solve(least, along.sum(axis=0))
        along, tail = along - free @ push, tail - free_tail @ push
    gain = float(curvature.times @ (own * along).sum(axis=(1, 2)) + gradient @ tail[:, 0])
    return -tail[:, 0], -along[..., 0], gain


def _constraint(asked: Question, curvature: _Curvature) -> tuple[Array, Array, Array]:
    """Return H^-1 A' in its two parts, and A H^-1 A', with A summing over tasters."""
    deviating = asked.sway.shape[1]
    ones = np.tile(np.eye(deviating), (asked.tasters, 1, 1))
    free, tail = curvature.solve(ones, np.zeros((asked.precision.size, deviating)))
    return free, tail, np.asarray(free.sum(axis=0))


def climb(asked: Question, start: Array | None = None) -> Peak:
    """Find the top by Newton's method, halving steps that do not rise.

    Parameters
    ----------
    asked : Question
        The rows and the prior; the posterior must have a top.
    start : array, optional
        Theta to start from; zeros when left out.

    Returns
    -------
    Peak

    Examples
    --------
    >>> answers = np.array([[7.0], [3.0], [0.0]])
    >>> asked = Question(design=np.ones((1, 1)), offset=np.zeros(1), answers=answers,
    ...     precision=np.zeros(1), centre=np.zeros(1), ties=False, sway=np.zeros((1, 0)),
    ...     taster=np.array([0]))
    >>> round(float(climb(asked).theta[0]), 4) == round(float(np.log(7 / 3)), 4)
    True
    """
    theta = np.zeros(asked.precision.size) if start is None else start
    deviations = np.zeros((asked.tasters, asked.sway.shape[1]))
    state, settled = _look(asked, theta, deviations), False
    for _ in range(_STEPS):
        curvature = _curvature(asked, state)
        move, sway, gain = _step(asked, state, curvature)
        if gain < 1e-9 * (1.0 + abs(state.value)):
            # so near the top a whole step squares the error
            state, settled = _look(asked, state.theta + move, state.deviations + sway), True
            break
        length = 1.0
        while length > 1e-10:
            trial = _look(asked, state.theta + length * move, state.deviations + length * sway)
            if trial.value <= state.value - 1e-4 * length * gain:
                break
            length *= 0.5
        else:
            break
        state = trial
    return _report(asked, state, _curvature(asked, state), settled)


def _report(asked: Question, state: _State, curvature: _Curvature, settled: bool) -> Peak:
    covariance, log_det = curvature.corner, curvature.log_det
    if asked.centred and asked.tasters:
        _, tail, least = _constraint(asked, curvature)
        covariance = covariance - tail @ np.linalg.solve(least, tail.T)
        log_det += float(np.linalg.slogdet(least)[1])
    return Peak(
        theta=state.theta,
        covariance=covariance,
        log_evidence=-state.value - 0.5 * log_det,
        log_likelihood=float(asked.all_of(state.answers.value).sum()),
        deviations=state.deviations,
        blocks=curvature.blocks,
        reach=curvature.link,
        settled=settled,
    )
