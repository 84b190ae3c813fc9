"""From which strength on a taste is noticed: ascending series of forced choices.

Strengths are positive and on one unit, which the answers share (g/L, mg/L, %). Logarithms are
natural. Knows no recipe and no drill.
"""

from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, numbers
from twobowls.statistics.intervals import Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupThreshold:
    """Best-estimate thresholds of several tasters, and the group's.

    ``each`` holds one threshold a taster; ``group`` is their geometric mean with an interval
    (from 0 to infinity for a single taster); ``spread`` is the standard deviation of the common
    logarithms (None for a single taster). ``below`` tasters were right from the weakest bowl
    on, ``beyond`` tasters missed the strongest: their thresholds are extrapolated by half a step.
    """

    each: tuple[float, ...]
    group: Interval
    spread: float | None
    below: int
    beyond: int
    cautions: tuple[str, ...] = ()


def best_estimate_threshold(
    strengths: ArrayLike, right: ArrayLike, *, level: float = 0.90
) -> GroupThreshold:
    """Return the best-estimate threshold of ascending forced-choice series.

    Parameters
    ----------
    strengths : array_like, shape (s,)
        Strengths in ascending order, above 0; two or more.
    right : array_like of bool, shape (t, s) or (s,)
        Whether each taster picked the right bowl at each strength.
    level : float
        Coverage of the interval of the group threshold.

    Returns
    -------
    GroupThreshold
        In the unit of the strengths.

    Raises
    ------
    InputError
        When the strengths do not ascend, or an answer is neither right nor wrong.

    Notes
    -----
    A taster's threshold is the geometric mean of the last strength missed and the next higher
    one. A taster who misses none gets the weakest strength divided by the root of the first
    step, one who misses the strongest that strength times the root of the last step. The
    interval is Student's on the logarithms. Lucky guesses just below a threshold pull the rule
    down: expect it somewhat under the strength noticed half the time.

    References
    ----------
    ASTM E679 (ascending concentration series, three-bowl choice).

    Examples
    --------
    >>> right = [[0, 1, 1, 1], [0, 0, 1, 1], [1, 0, 0, 1]]
    >>> threshold = best_estimate_threshold([1, 2, 4, 8], right)
    >>> [round(t, 2) for t in threshold.each], round(threshold.group.estimate, 2)
    ([1.41, 2.83, 5.66], 2.83)
    """
    x = _strengths(strengths)
    answers = _answers(right, x.size)
    at = np.log(x)
    steps = np.concatenate([[2 * at[0] - at[1]], at, [2 * at[-1] - at[-2]]])
    missed = np.where(answers == 0, np.arange(1, x.size + 1), 0).max(axis=1)
    logs = (steps[missed] + steps[missed + 1]) / 2
    below, beyond = int((missed == 0).sum()), int((missed == x.size).sum())
    return GroupThreshold(
        each=tuple(_strength(each) for each in logs.tolist()),
        group=_geometric_mean(logs, between("level", level, 0, 1)),
        spread=float(logs.std(ddof=1) / log(10)) if logs.size > 1 else None,
        below=below,
        beyond=beyond,
        cautions=_series_cautions(logs.size, below, beyond),
    )


def _strengths(values: ArrayLike) -> FloatArray:
    x = numbers("strengths", values, (None,))
    if x.size < 2:
        raise InputError("strengths", "there is only one", "Give two strengths or more")
    if x[0] <= 0:
        raise InputError("strengths", f"{x.min():g} is not above 0", "Leave out plain water")
    if (np.diff(x) <= 0).any():
        raise InputError("strengths", "they do not ascend", "Sort them from weak to strong")
    return x


def _answers(right: ArrayLike, levels: int) -> FloatArray:
    table = np.atleast_2d(np.asarray(right, dtype=float))
    answers = numbers("right", table, (None, levels))
    if not np.isin(answers, (0, 1)).all():
        raise InputError("right", "an answer is neither right nor wrong", "Give 1 or 0 for each")
    return answers


def _geometric_mean(logs: FloatArray, level: float) -> Interval:
    middle = float(logs.mean())
    if logs.size < 2:
        return Interval(_strength(middle), 0.0, float("inf"), level)
    half = float(stdtrit(logs.size - 1, (1 + level) / 2) * logs.std(ddof=1) / sqrt(logs.size))
    ends = [_strength(middle + side) for side in (0.0, -half, half)]
    return Interval(ends[0], ends[1], ends[2], level)


def _strength(logarithm: float) -> float:
    """Return the strength of a logarithm; infinite where two tasters' interval ends beyond all."""
    try:
        return exp(logarithm)
    except OverflowError:
        return float("inf")


def _series_cautions(tasters: int, below: int, beyond: int) -> tuple[str, ...]:
    texts = []
    if tasters == 1:
        texts.append("One series of one taster: a hint, not a measurement. Repeat it.")
    if below:
        texts.append(
            f"{below} of {tasters} were right from the weakest bowl on: start the series weaker."
        )
    if beyond:
        texts.append(f"{beyond} of {tasters} missed the strongest bowl: go on to stronger ones.")
    return tuple(texts)
