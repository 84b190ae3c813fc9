"""How the share of right answers grows with strength: a logistic curve above guessing.

Strengths are positive; the curve is logistic in their natural logarithm. Knows no recipe.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, log
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit, xlog1py, xlogy

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, counts, numbers, one_of
from twobowls.statistics.intervals import Interval, chi_square_quantile

_Profile = Callable[[FloatArray], tuple[FloatArray, FloatArray]]

# The weak prior of the steepness. Where d′ grows in proportion to strength, the curve of a
# three-bowl choice has a steepness of 1.5 to 2.3 per natural log unit in its middle.
_USUAL_LOG_STEEPNESS, _PRIOR_SD = log(2.0), 1.0
_STEEPNESS = (0.02, 200.0)
_FAR = 12.0  # natural log units beyond the series, where a threshold counts as out of sight
_GOLDEN = (5**0.5 - 1) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ThresholdCurve:
    """A fitted curve ``guess + (1 - guess) * expit(steepness * log(x / threshold))``.

    ``threshold`` is the strength noticed half the time (beyond guessing), in the unit of the
    strengths, with a profile likelihood interval; 0 or infinity where the answers put no bound.
    ``steepness`` is per natural log unit. ``deviance`` and ``df`` compare the curve with the
    observed shares: with ten or more answers a strength, a deviance far above df says the curve
    does not fit.
    """

    threshold: Interval
    steepness: float
    guess: float
    prior: Literal["weak", "flat"]
    log_likelihood: float
    deviance: float
    df: int
    cautions: tuple[str, ...] = ()

    def share_right(self, strengths: ArrayLike) -> FloatArray:
        """Return the share of right answers expected at given strengths, same shape.

        At a strength of 0 it is that of guessing.
        """
        x = np.asarray(strengths, dtype=float)
        with np.errstate(divide="ignore", invalid="ignore"):
            gap = np.log(x) - np.log(self.threshold.estimate)
        gap = np.where(x == 0, -inf, gap)
        return np.asarray(self.guess + (1 - self.guess) * expit(self.steepness * gap))


def threshold_curve(
    strengths: ArrayLike,
    right: ArrayLike,
    trials: ArrayLike,
    *,
    guess: float = 1 / 3,
    level: float = 0.90,
    prior: Literal["weak", "flat"] = "weak",
) -> ThresholdCurve:
    """Fit how the share of right answers grows with strength, and find the threshold.

    Parameters
    ----------
    strengths : array_like, shape (s,)
        Strengths above 0, at least two different ones; any order.
    right, trials : array_like of int, shape (s,)
        Right answers, of all answers, at each strength.
    guess : float
        Share right by guessing, from 0 up to but not including 1 (1/3 for three bowls).
    level : float
        Coverage of the interval.
    prior : {"weak", "flat"}
        Weak: the logarithm of the steepness has a normal prior around log 2 with standard
        deviation 1, so that short or perfectly sorted series still give an answer. Flat:
        maximum likelihood.

    Returns
    -------
    ThresholdCurve

    Raises
    ------
    InputError
        When counts do not match, a strength is not above 0, or (flat prior) the answers are so
        neatly sorted that no steepness is best.

    Notes
    -----
    The (penalised) likelihood is profiled over the steepness; the interval holds every
    threshold whose profile deviance is within the chi-squared quantile. Nothing is assumed
    about the threshold itself, so a taster who is right everywhere gets an interval from 0.

    References
    ----------
    ASTM E1432 (logistic fits of individual thresholds); Finney 1971, Probit Analysis
    (Abbott's guessing floor).

    Examples
    --------
    >>> curve = threshold_curve([1, 2, 4, 8, 16], [4, 5, 7, 9, 10], [10] * 5)
    >>> t = curve.threshold
    >>> print(f"{t.estimate:.1f} ({t.low:.1f} to {t.high:.1f})")
    3.4 (2.0 to 5.5)
    """
    x, k, n = _series(strengths, right, trials)
    floor = between("guess", guess, 0, 0.99, ends=True)
    allowed = chi_square_quantile(between("level", level, 0, 1), 1) / 2
    one_of("prior", prior, ["weak", "flat"])
    fit = _Fit(np.log(x), k, n, floor, penalised=prior == "weak")
    middle, steepness = fit.best()
    if prior == "flat" and fit.unsettled(middle, steepness):
        raise InputError(
            "prior",
            "the answers are sorted too neatly, or not at all, to tell a steepness",
            "Use the weak prior, or add answers near the threshold",
        )
    threshold = fit.interval(middle, allowed, level)
    reached = _log_likelihood(fit.shares(middle, steepness), k, n)
    deviance = 2 * (_log_likelihood(k / n, k, n) - reached)
    return ThresholdCurve(
        threshold=threshold,
        steepness=steepness,
        guess=floor,
        prior=prior,
        log_likelihood=reached,
        deviance=deviance,
        df=int(x.size) - 2,
        cautions=_cautions(threshold, x, misfit=_misfit(deviance, n)),
    )


class _Fit:
    """The profile likelihood of the log threshold, the steepness maximised at each."""

    def __init__(
        self, z: FloatArray, k: FloatArray, n: FloatArray, guess: float, penalised: bool
    ) -> None:
        self.z, self.k, self.n, self.guess, self.penalised = z, k, n, guess, penalised
        self.ends = (float(z.min()) - _FAR, float(z.max()) + _FAR)

    def shares(self, middle: ArrayLike, steepness: ArrayLike) -> FloatArray:
        """Return the shares right, thresholds down, strengths across."""
        gap = self.z - np.asarray(middle, dtype=float)[..., None]
        curve = expit(np.asarray(steepness, dtype=float)[..., None] * gap)
        return np.asarray(self.guess + (1 - self.guess) * curve)

    def value(self, middle: FloatArray, log_steepness: FloatArray) -> FloatArray:
        """Return the (penalised) log-likelihood of each pair."""
        p = self.shares(middle, np.exp(log_steepness))
        value = (xlogy(self.k, p) + xlog1py(self.n - self.k, -p)).sum(axis=-1)
        if self.penalised:
            value -= 0.5 * ((log_steepness - _USUAL_LOG_STEEPNESS) / _PRIOR_SD) ** 2
        return np.asarray(value)

    def profile(self, middle: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the best value at each log threshold, and the log steepness it takes."""
        grid = np.linspace(log(_STEEPNESS[0]), log(_STEEPNESS[1]), 41)
        values = self.value(middle[:, None], grid[None, :])
        start, half = grid[values.argmax(axis=1)], grid[1] - grid[0]
        low, high = np.maximum(start - half, grid[0]), np.minimum(start + half, grid[-1])
        best = _golden(lambda b: self.value(middle, b), low, high)
        return self.value(middle, best), best

    def best(self) -> tuple[float, float]:
        """Return the best log threshold (infinite when out of sight) and the steepness."""
        grid = np.linspace(*self.ends, 161)
        values = self.profile(grid)[0]
        start, half = grid[values.argmax()], grid[1] - grid[0]
        low, high = np.clip([start - half, start + half], *self.ends)
        middle = _golden(lambda m: self.profile(m)[0], np.array([low]), np.array([high]))
        top, steepness = self.profile(middle)
        for end, infinite in zip(self.ends, (-inf, inf), strict=True):
            value, at_end = self.profile(np.array([end]))
            if value[0] >= top[0] - 1e-7:
                return infinite, float(np.exp(at_end[0]))
        return float(middle[0]), float(np.exp(steepness[0]))

    def unsettled(self, middle: float, steepness: float) -> bool:
        """Return whether an endlessly steep or flat curve does as well as the best."""
        if np.isinf(middle):
            return True
        tries = np.log([steepness, *_STEEPNESS])
        values = self.value(np.full(3, middle), tries)
        return bool((values[1:] >= values[0] - 1e-6).any())

    def interval(self, middle: float, allowed: float, level: float) -> Interval:
        """Return the threshold with every value that the profile keeps."""
        inside = float(np.clip(middle, *self.ends))
        floor = self.profile(np.array([inside]))[0][0] - allowed
        held, lost = np.full(2, inside), np.array(self.ends)
        unbounded = self.profile(lost)[0] >= floor
        for _ in range(34):
            between_them = (held + lost) / 2
            kept = self.profile(between_them)[0] >= floor
            held, lost = np.where(kept, between_them, held), np.where(kept, lost, between_them)
        low, high = np.where(unbounded, [0.0, inf], np.exp(held))
        return Interval(float(np.exp(middle)), float(low), float(high), level)


def _golden(
    value: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray
) -> FloatArray:
    """Return, for every bracket, where the value is largest (golden-section search)."""
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = value(left), value(right)
    for _ in range(32):
        go_left = at_left >= at_right
        high, low = np.where(go_left, right, high), np.where(go_left, low, left)
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        at_left, at_right = value(left), value(right)
    return np.asarray((low + high) / 2)


def _series(
    strengths: ArrayLike, right: ArrayLike, trials: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    x = numbers("strengths", strengths, (None,))
    if x.min() <= 0:
        raise InputError("strengths", f"{x.min():g} is not above 0", "Leave out plain water")
    if np.unique(x).size < 2:
        raise InputError("strengths", "they are all the same", "Give two strengths or more")
    k, n = counts("right", right, (x.size,)), counts("trials", trials, (x.size,))
    if n.min() < 1:
        raise InputError("trials", "a strength has no answers", "Leave that strength out")
    if (k > n).any():
        raise InputError(
            "right", "more right answers than answers", "Give right answers of all answers"
        )
    return x, k, n


def _log_likelihood(p: FloatArray, k: FloatArray, n: FloatArray) -> float:
    return float((xlogy(k, p) + xlog1py(n - k, -p)).sum())


def _misfit(deviance: float, n: FloatArray) -> bool:
    """Return whether the curve misses the shares by more than chance does once in a hundred."""
    if n.size < 3 or n.mean() < 5:  # too few answers for the deviance to follow chi-squared
        return False
    return deviance > chi_square_quantile(0.99, n.size - 2)


def _cautions(threshold: Interval, x: FloatArray, *, misfit: bool) -> tuple[str, ...]:
    texts = ["The answers do not follow a rising curve: look at them before the numbers."] * misfit
    if threshold.low == 0:
        texts.append("The threshold may lie anywhere below: taste weaker bowls.")
    if threshold.high == inf:
        texts.append("The threshold may lie anywhere above: taste stronger bowls.")
    if not x.min() <= threshold.estimate <= x.max():
        texts.append("The threshold lies outside the strengths tasted: it is extrapolated.")
    return tuple(texts)
