"""Tasters' own deviations integrated out properly, not at their most likely values.

A few yes-or-no answers a taster leave their deviations far from normal; Laplace would make
them, and with them the abilities, too small. Here each taster's integral is an average over
a fixed, evenly spread set of points around their own mode (importance sampling without
chance), so that derivatives in everything else stay exact.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from twobowls.statistics.picks_peak import (
    Answers,
    Peak,
    Question,
    all_columns,
    climb,
    weigh_answers,
)
from twobowls.statistics.picks_table import Array

_WIDER = 1.3  # the proposal's variance over Laplace's
_STEPS = 12
_CENTRINGS = 4
_CELLS = 60_000


def even_points(count: int, dimension: int) -> Array:
    """Return 2 * count points spread evenly under a standard normal: (2 * count, dimension).

    Parameters
    ----------
    count : int
        Half the number of points, no fewer than ``dimension``.
    dimension : int
        Of the normal.

    Notes
    -----
    A Kronecker sequence of the generalised golden ratio (Roberts 2018, from memory) through
    normal quantiles; every point with its mirror image, so that odd moments vanish, and
    stretched so that the covariance is exactly the identity.

    Examples
    --------
    >>> points = even_points(64, 2)
    >>> bool(abs(points.mean()) < 1e-12), round(float(points.var()), 1)
    (True, 1.0)
    """
    ratio = 2.0
    for _ in range(60):
        ratio = (1.0 + ratio) ** (1.0 / (dimension + 1.0))
    steps = ratio ** -np.arange(1.0, dimension + 1.0)
    points = ndtri(np.mod(0.5 + np.outer(np.arange(1, count + 1), steps), 1.0))
    root = np.linalg.cholesky(points.T @ points / count)
    points = np.linalg.solve(root, points.T).T
    return np.vstack([points, -points])


@dataclass(frozen=True, slots=True, eq=False)
class _Cloud:
    """Points of every taster's deviations: what they add to rows, and their log weights."""

    rows: Array
    log_weights: Array
    starts: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    theta: Array
    value: float
    chance: Array
    answers: Answers


def climb_marginal(asked: Question, start: Array | None = None) -> Peak:
    """Find the top with the tasters' deviations integrated out.

    Parameters
    ----------
    asked : Question
        Not centred; rows in order of their taster.
    start : array, optional
        Theta to start from.

    Returns
    -------
    Peak
        ``log_evidence`` and ``covariance`` are those of the marginal posterior, with all
        deviations at zero. Not settled, with no evidence, where the points cannot follow.
    """
    return _climb_with_cloud(asked, start)[0]


def climb_alike(first: Question, others: list[Question], start: Array | None = None) -> list[Peak]:
    """Find the tops of questions that differ in their priors of theta alone.

    Parameters
    ----------
    first : Question
        Whose points of the tasters' deviations serve all others, where they can follow.
    others : list of Question
        With the same rows and sway.
    start : array, optional
        Theta to start from.
    """
    peak, cloud = _climb_with_cloud(first, start)
    peaks = []
    for asked in others:
        found = peak if cloud is None else _climb_cloud(asked, cloud, peak.theta)
        alone = cloud is None or not found.settled
        peaks.append(climb_marginal(asked, start) if alone else found)
    return peaks


def _climb_with_cloud(asked: Question, start: Array | None) -> tuple[Peak, "_Cloud | None"]:
    near = climb(asked, start)
    if not asked.tasters:
        return near, None
    theta = near.theta
    for _ in range(_CENTRINGS):
        cloud = _spread_points(asked, near)
        found = _climb_cloud(asked, cloud, theta)
        if found.settled:
            break
        theta = found.theta
        near = climb(_hold(asked, theta))
    return found, cloud


def _hold(asked: Question, theta: Array) -> Question:
    """Return the question with theta held, so that only deviations are sought."""
    p = asked.design.shape[1]
    return replace(
        asked,
        design=np.zeros((asked.design.shape[0], 0)),
        offset=asked.offset + asked.design @ theta[:p],
        precision=np.full(int(asked.ties), 1e12),
        centre=theta[p:],
    )


def _climb_cloud(asked: Question, cloud: _Cloud, start: Array) -> Peak:
    """Climb the marginal posterior with the points of every taster held still."""
    state, settled = _look(asked, cloud, start), False
    for _ in range(_STEPS):
        gradient, information, unknown = _derivatives(asked, cloud, state)
        curvature = information - unknown
        # far from the top the missing information may exceed what there is
        sure = bool((np.linalg.eigvalsh(curvature) > 0.0).all())
        step = -np.linalg.solve(curvature if sure else information, gradient)
        gain = -float(gradient @ step)
        if sure and gain < 1e-9 * (1.0 + abs(state.value)):
            settled = True
            break
        length = 1.0
        trial = _look(asked, cloud, state.theta + step)
        while trial.value > state.value - 1e-4 * length * gain and length > 1e-6:
            length *= 0.5
            trial = _look(asked, cloud, state.theta + length * step)
        state = trial
    away = state.theta - asked.centre
    log_det = float(np.linalg.slogdet(curvature)[1])
    return Peak(
        theta=state.theta,
        covariance=np.asarray(np.linalg.inv(curvature)),
        log_evidence=-state.value - 0.5 * log_det if settled else -np.inf,
        log_likelihood=-state.value + 0.5 * float(away @ (asked.precision * away)),
        deviations=np.zeros((asked.tasters, asked.sway.shape[1])),
        blocks=np.zeros((asked.tasters,) + (asked.sway.shape[1],) * 2),
        settled=settled,
    )


def _spread_points(asked: Question, joint: Peak) -> _Cloud:
    """Lay the same even points around every taster's mode, scaled to their uncertainty."""
    count = int(np.clip(_CELLS // max(asked.taster.size, 1), 24, 64))
    points = even_points(count, asked.sway.shape[1])
    roots = np.linalg.cholesky(_WIDER * joint.blocks)
    places = joint.deviations[:, None] + np.einsum("trq,sq->tsr", roots, points)
    log_scale = np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1)
    log_weights = 0.5 * (points**2).sum(axis=1) - 0.5 * (places**2).sum(axis=2)
    return _Cloud(
        rows=np.einsum("ir,isr->is", asked.sway, places[asked.taster]),
        log_weights=log_weights + log_scale[:, None] - np.log(points.shape[0]),
        starts=np.searchsorted(asked.taster, np.arange(asked.tasters)),
    )


def _look(asked: Question, cloud: _Cloud, theta: Array) -> _State:
    """Return minus the log marginal posterior, and the weight of every point."""
    p = asked.design.shape[1]
    odds = (asked.offset + asked.design @ theta[:p])[:, None] + cloud.rows
    tie = float(theta[p]) if asked.ties else -np.inf
    answers = weigh_answers(asked.answers[:, :, None], odds, tie)
    terms = cloud.log_weights + np.add.reduceat(answers.value, cloud.starts, axis=0)
    highest = terms.max(axis=1, keepdims=True)
    if not np.isfinite(highest).all():
        return _State(theta, np.inf, np.zeros_like(terms), answers)
    chance = np.exp(terms - highest)
    total = chance.sum(axis=1, keepdims=True)
    away = theta - asked.centre
    value = 0.5 * float(away @ (asked.precision * away))
    value -= float(asked.times @ (highest + np.log(total))[:, 0])
    return _State(theta, value, chance / total, answers)


def _derivatives(asked: Question, cloud: _Cloud, state: _State) -> tuple[Array, Array, Array]:
    """Return the gradient in theta, the expected information, and what is missing of it."""
    columns, at = all_columns(asked), state.answers
    chance = state.chance[asked.taster]
    info = columns.T @ (asked.all_of((chance * at.odds_odds).sum(axis=1))[:, None] * columns)
    if asked.ties:
        mixed = columns.T @ asked.all_of((chance * at.odds_tie).sum(axis=1))
        info[-1, :] += mixed
        info[:, -1] += mixed
        info[-1, -1] += float(asked.all_of((chance * at.tie_tie).sum(axis=1)).sum())
    by_taster = _by_taster(asked, cloud, columns, at)
    mean = (state.chance[:, :, None] * by_taster).sum(axis=1)
    often = np.sqrt(asked.times[:, None] * state.chance)
    apart = (by_taster - mean[:, None]) * often[:, :, None]
    flat = apart.reshape(-1, columns.shape[1])
    gradient = asked.precision * (state.theta - asked.centre) - asked.times @ mean
    return gradient, info + np.diag(asked.precision), flat.T @ flat


def _by_taster(asked: Question, cloud: _Cloud, columns: Array, at: Answers) -> Array:
    """Return each taster's slope in theta at every point: (T, S, q)."""
    from scipy.sparse import csr_array

    rows, unknowns = columns.shape
    ends = np.append(cloud.starts, rows)
    by_column = []
    for column in range(unknowns):
        own = csr_array((columns[:, column], np.arange(rows), ends), shape=(ends.size - 1, rows))
        by_column.append(own @ at.by_odds)
    if asked.ties:
        by_column[-1] = np.add.reduceat(at.by_tie, cloud.starts, axis=0)
    return np.stack(by_column, axis=2)
