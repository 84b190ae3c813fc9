"""Stop as soon as it is clear: a sequential test of right and wrong answers.

Wald's sequential probability ratio test with two straight lines, as ISO 16820 uses it, and its
exact operating characteristics. Knows no drill and no clock.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from twobowls.errors import InputError
from twobowls.statistics.inputs import between, numbers, whole
from twobowls.statistics.psychometric import method

Decision = Literal["different", "similar", "go on", "undecided"]

_SLACK = 1e-9  # keeps a count that lies on a line, but for rounding, on it
_NEGLIGIBLE = 1e-12
_LONGEST = 50_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SequentialPlan:
    """Two parallel lines in the plane of answers (across) and right answers (up).

    At or above ``to_different + slope * n`` right answers of n the coffees are told apart; at
    or below ``-to_similar + slope * n`` they are not, as far as ``share_different`` goes; in
    between go on, at most to ``cap`` answers (None: no cap). ``share_same`` and
    ``share_different`` are the shares of right answers under the two hypotheses.
    """

    method: str
    share_same: float
    share_different: float
    alpha: float
    beta: float
    slope: float
    to_similar: float
    to_different: float
    cap: int | None

    def different_at(self, trials: int) -> int | None:
        """Return the right answers of so many that show a difference; None if out of reach."""
        count = ceil(self.to_different + self.slope * trials - _SLACK)
        return count if count <= trials else None

    def similar_at(self, trials: int) -> int | None:
        """Return the most right answers of so many that show similarity; None if out of reach."""
        count = floor(-self.to_similar + self.slope * trials + _SLACK)
        return count if count >= 0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class SequentialState:
    """Where a sequential test stands.

    ``trials`` and ``correct`` are those at the decision, or so far; ``different_at`` and
    ``similar_at`` the counts that decide at the present number of trials (None: not yet).
    """

    decision: Decision
    trials: int
    correct: int
    different_at: int | None
    similar_at: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """What a plan does when a given share of answers is right.

    The three chances sum to 1; ``mean_trials`` is the expected number of answers and
    ``trials_90`` the number by which nine of ten tests have ended.
    """

    share: float
    chance_different: float
    chance_similar: float
    chance_undecided: float
    mean_trials: float
    trials_90: int


def sequential_plan(
    key: str,
    discriminators: float,
    *,
    alpha: float = 0.05,
    beta: float = 0.10,
    cap: int | None = None,
) -> SequentialPlan:
    """Draw the lines of a sequential discrimination test.

    Parameters
    ----------
    key : str
        The method.
    discriminators : float
        The share of true discriminators (or, for one taster, of trials truly told apart) that
        should not be missed, between 0 and 1.
    alpha : float
        Risk of finding a difference where there is none, under one half.
    beta : float
        Risk of finding none where there is that difference, under one half.
    cap : int or None
        The largest number of answers; none when None.

    Returns
    -------
    SequentialPlan

    Raises
    ------
    InputError
        When the method is not known or a number is out of range.

    Notes
    -----
    With p0 the share right by guessing and p1 that of the difference, the lines have slope
    ``log((1-p0)/(1-p1)) / k`` and intercepts ``log((1-beta)/alpha) / k`` and
    ``-log((1-alpha)/beta) / k``, where ``k = log(p1/p0) + log((1-p0)/(1-p1))``. The real risks
    are a little under the nominal ones, because counts jump past the lines; see
    ``operating_point``.

    References
    ----------
    Wald 1947, Sequential Analysis, chapter 5; ISO 16820.

    Examples
    --------
    >>> plan = sequential_plan("triangle", 0.5)
    >>> [plan.different_at(n) for n in (4, 5, 10)]
    [None, 5, 8]
    """
    kind = method(key)
    share = kind.guess + between("discriminators", discriminators, 0, 1) * (1 - kind.guess)
    return wald_lines(kind.key, kind.guess, share, alpha=alpha, beta=beta, cap=cap)


def wald_lines(
    name: str,
    share_same: float,
    share_different: float,
    *,
    alpha: float = 0.05,
    beta: float = 0.10,
    cap: int | None = None,
) -> SequentialPlan:
    """Draw the lines between any two shares of right answers.

    Parameters
    ----------
    name : str
        What to call the plan.
    share_same, share_different : float
        Shares of right answers under the two hypotheses; the first is the smaller.
    alpha, beta : float
        The two risks, each under one half.
    cap : int or None
        The largest number of answers.

    Returns
    -------
    SequentialPlan

    Raises
    ------
    InputError
        When a number is out of range or the shares are not in order.

    Examples
    --------
    >>> plan = wald_lines("inspection", 0.01, 0.10, alpha=0.05, beta=0.10)
    >>> print(f"{plan.to_similar:.4f} {plan.to_different:.4f} {plan.slope:.4f}")
    0.9389 1.2054 0.0397
    """
    p0 = between("share_same", share_same, 0, 1)
    p1 = between("share_different", share_different, 0, 1)
    if p1 <= p0:
        raise InputError(
            "share_different", f"{p1:g} is not above {p0:g}", "Give the larger share second"
        )
    a, b = between("alpha", alpha, 0, 0.5), between("beta", beta, 0, 0.5)
    rise, fall = log(p1 / p0), log((1 - p0) / (1 - p1))
    return SequentialPlan(
        method=name,
        share_same=p0,
        share_different=p1,
        alpha=a,
        beta=b,
        slope=fall / (rise + fall),
        to_similar=log((1 - a) / b) / (rise + fall),
        to_different=log((1 - b) / a) / (rise + fall),
        cap=None if cap is None else whole("cap", cap, 1, _LONGEST),
    )


def sequential_state(plan: SequentialPlan, answers: Sequence[bool]) -> SequentialState:
    """Return where a sequential test stands after some answers.

    Parameters
    ----------
    plan : SequentialPlan
        The lines.
    answers : sequence of bool, shape (n,)
        Right or wrong, in order; may be empty. Answers after the decision are not looked at.

    Returns
    -------
    SequentialState
        Decision ``undecided`` at the cap: nothing is shown.

    Raises
    ------
    InputError
        When an answer is neither right nor wrong.

    Examples
    --------
    >>> plan = sequential_plan("triangle", 0.5)
    >>> sequential_state(plan, [True, True, False, True]).decision
    'go on'
    >>> sequential_state(plan, [True] * 6).trials
    5
    """
    right = _answers(answers)
    correct = 0
    for n, answer in enumerate(right, start=1):
        correct += answer
        decision = _decision(plan, n, correct)
        if decision != "go on":
            return _state(plan, decision, n, correct)
    return _state(plan, "go on", len(right), correct)


def operating_point(plan: SequentialPlan, share: float) -> OperatingPoint:
    """Return what a plan does when a given share of answers is right.

    Parameters
    ----------
    plan : SequentialPlan
        The lines.
    share : float
        True share of right answers, 0 to 1.

    Returns
    -------
    OperatingPoint

    Raises
    ------
    InputError
        When the share is out of range.

    Notes
    -----
    Exact: the chance of every count between the lines is carried on from answer to answer
    until it is spent (below 1e-12) or the cap is reached.

    Examples
    --------
    >>> plan = sequential_plan("triangle", 0.5, alpha=0.05, beta=0.10)
    >>> point = operating_point(plan, 1 / 3)
    >>> point.chance_different < 0.05, round(point.mean_trials, 1)
    (True, 11.2)
    """
    p = between("share", share, 0, 1, ends=True)
    waiting = np.array([1.0])  # chance of each number of right answers, still between the lines
    different = similar = 0.0
    ended: list[float] = []
    while waiting.sum() > _NEGLIGIBLE and len(ended) < (plan.cap or _LONGEST):
        waiting = np.convolve(waiting, [1 - p, p])
        low, high = _crossed(plan, len(ended) + 1, waiting)
        different, similar = different + high, similar + low
        ended.append(high + low)
    return _point(p, different, similar, float(waiting.sum()), np.array(ended))


def _crossed(
    plan: SequentialPlan, trials: int, waiting: NDArray[np.float64]
) -> tuple[float, float]:
    """Take the chances beyond the lines out of ``waiting``; return them, low and high."""
    up, down = plan.different_at(trials), plan.similar_at(trials)
    above = slice(trials + 1 if up is None else up, None)
    below = slice(0, 0 if down is None else down + 1)
    high, low = float(waiting[above].sum()), float(waiting[below].sum())
    waiting[above] = 0
    waiting[below] = 0
    return low, high


def _answers(answers: Sequence[bool]) -> list[int]:
    if len(answers) == 0:
        return []
    right = numbers("answers", np.asarray(answers), (None,))
    if not np.isin(right, (0, 1)).all():
        raise InputError(
            "answers", "an answer is neither right nor wrong", "Give True or False for each"
        )
    return [int(answer) for answer in right]


def _decision(plan: SequentialPlan, trials: int, correct: int) -> Decision:
    up, down = plan.different_at(trials), plan.similar_at(trials)
    if up is not None and correct >= up:
        return "different"
    if down is not None and correct <= down:
        return "similar"
    return "undecided" if trials == plan.cap else "go on"


def _state(plan: SequentialPlan, decision: Decision, trials: int, correct: int) -> SequentialState:
    return SequentialState(
        decision=decision,
        trials=trials,
        correct=correct,
        different_at=plan.different_at(trials),
        similar_at=plan.similar_at(trials),
    )


def _point(
    share: float, different: float, similar: float, left: float, ended: NDArray[np.float64]
) -> OperatingPoint:
    n = np.arange(1, ended.size + 1)
    ended[-1] += left  # the cap, or a remainder too small to matter, ends them all
    reached = np.flatnonzero(np.cumsum(ended) >= 0.9 * ended.sum())
    return OperatingPoint(
        share=share,
        chance_different=different,
        chance_similar=similar,
        chance_undecided=left,
        mean_trials=float(n @ ended / ended.sum()),
        trials_90=int(n[reached[0]]),
    )
