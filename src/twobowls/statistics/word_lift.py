"""Which words go with liking: how much higher a bowl is liked where the word was said.

Goes with, not causes. One word at a time; the taster's level is set aside. Knows no lexicon.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr, stdtrit

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.coffee_means import label_codes
from twobowls.statistics.inputs import between, numbers
from twobowls.statistics.intervals import Interval

# Shares of the variance, taster levels aside, that is the coffees': even steps from 0 to nearly 1.
_SHARES = np.linspace(0.0, 0.98, 50)


@dataclass(frozen=True, slots=True, kw_only=True)
class WordLift:
    """How liking goes with one word.

    ``lift`` is how much higher, in points of the liking scale, a taster likes a bowl of which
    they said the word than one of which they did not; coffees count as a sample.
    ``same_coffee`` compares tasters of the same coffee only. Both are None where the word was
    said always or never (by each taster, or of each coffee). ``probability`` is the posterior
    probability that the lift is above 0. ``said`` of ``marks`` bowls had the word.
    """

    word: str
    said: int
    marks: int
    lift: Interval | None
    probability: float | None
    same_coffee: Interval | None
    cautions: tuple[str, ...] = ()


def word_lift(
    tasters: Sequence[str],
    coffees: Sequence[str],
    liking: ArrayLike,
    words: ArrayLike,
    names: Sequence[str],
    *,
    level: float = 0.90,
) -> tuple[WordLift, ...]:
    """Return how liking goes with each word.

    Parameters
    ----------
    tasters, coffees : sequence of str, shape (n,)
        Who liked what; one row a bowl (and round).
    liking : array_like, shape (n,)
        Liking marks, on one scale.
    words : array_like of bool, shape (n, w)
        Whether that taster said each word of that bowl.
    names : sequence of str, shape (w,)
        The words.
    level : float
        Coverage of the intervals.

    Returns
    -------
    tuple of WordLift
        One a word, in the order of ``names``.

    Raises
    ------
    InputError
        When lengths differ, a mark is missing, or a word is neither said nor not said.

    Notes
    -----
    ``lift``: liking is the taster's level, the lift, a coffee of a normal sample, and noise, the
    ratio of the two variances integrated out (the coffees' share uniform from 0 to 0.98), so
    that a word that sticks to a few coffees gets the wide interval it deserves. ``same_coffee``:
    least squares with the levels of tasters and of coffees, Student's t.

    Examples
    --------
    >>> who = ["Ada", "Bo", "Cy", "Di"] * 3
    >>> what = ["x"] * 4 + ["y"] * 4 + ["z"] * 4
    >>> liking = [70, 62, 75, 60, 40, 35, 52, 38, 60, 48, 66, 42]
    >>> floral = [[1], [0], [1], [1], [0], [0], [1], [0], [1], [0], [1], [0]]
    >>> lift = word_lift(who, what, liking, floral, ["floral"])[0]
    >>> print(f"{lift.lift.estimate:.0f} ({lift.lift.low:.0f} to {lift.lift.high:.0f})")
    7 (-1 to 17)
    """
    y = numbers("liking", liking, (None,))
    said = numbers("words", words, (y.size, len(names)))
    if not np.isin(said, (0, 1)).all():
        raise InputError("words", "a word is neither said nor not said", "Give 1 or 0 for each")
    between("level", level, 0, 1)
    table = liking_levels(tasters, coffees, y)
    return tuple(_lift(str(name), said[:, i], table, level) for i, name in enumerate(names))


class Levels:
    """Liking and coffees with the levels of the tasters taken out."""

    def __init__(self, y: FloatArray, who: IntArray, what: IntArray) -> None:
        self.who, self.size = who, np.bincount(who)
        self.y = self.without_level(y)
        self.coffees = self.without_level(np.eye(int(what.max()) + 1)[what])
        self.zz, self.zy = self.coffees.T @ self.coffees, self.coffees.T @ self.y
        self.values, self.vectors = np.linalg.eigh(self.zz)
        self.df = y.size - self.size.size

    def without_level(self, x: FloatArray) -> FloatArray:
        """Return a variable (or columns of them) minus each taster's mean."""
        columns = x.reshape(len(x), -1)
        sums = np.zeros((self.size.size, columns.shape[1]))
        np.add.at(sums, self.who, columns)
        return np.asarray((columns - (sums / self.size[:, None])[self.who]).reshape(x.shape))


def liking_levels(tasters: Sequence[str], coffees: Sequence[str], liking: ArrayLike) -> Levels:
    """Return liking and coffees without the levels of the tasters; all of shape (n,)."""
    y = numbers("liking", liking, (None,))
    who, _ = label_codes("tasters", tasters, y.size)
    what, _ = label_codes("coffees", coffees, y.size)
    return Levels(y, who, what)


def _lift(name: str, said: FloatArray, table: Levels, level: float) -> WordLift:
    w = table.without_level(said)
    count = int(said.sum())
    lift, probability = _overall(lift_mixture(w, table), level)
    texts = []
    if count < 3:
        texts.append(f"Said {count} times: nothing much follows." if count != 1 else "Said once.")
    return WordLift(
        word=name,
        said=count,
        marks=said.size,
        lift=lift,
        probability=probability,
        same_coffee=_same_coffee(w, table, level),
        cautions=tuple(texts),
    )


@dataclass(frozen=True, slots=True)
class LiftMixture:
    """What the marks alone say of a lift: Student's t for each share, weighted by the shares.

    ``slopes``, ``errors`` and ``weights`` have shape (shares,); the weights sum to 1.
    """

    df: int
    slopes: FloatArray
    errors: FloatArray
    weights: FloatArray

    def below(self, value: float) -> float:
        """Return the probability that the lift is below a value."""
        return float(self.weights @ stdtr(self.df, (value - self.slopes) / self.errors))

    def likelihood(self, values: FloatArray) -> FloatArray:
        """Return the density at some values, up to a constant; shape as ``values``."""
        kept = self.weights > 1e-6 * self.weights.max()
        slopes, errors = self.slopes[kept, None], self.errors[kept, None]
        z = (values - slopes) / errors
        heights = np.exp(-(self.df + 1) / 2 * np.log1p(z * z / self.df)) / errors
        return np.asarray(self.weights[kept] @ heights)


def lift_mixture(w: FloatArray, table: Levels) -> LiftMixture | None:
    """Return what the marks say of a word, coffees as a sample; None where they say nothing.

    ``w`` (n,) is whether the word was said, less each taster's mean.
    """
    df = table.df - 1
    if df < 1 or w @ w < 1e-9:
        return None
    ratio = _SHARES / (1 - _SHARES)
    # V = I + ratio Z Z'; with Z'Z = U diag(l) U', products in V need only U' Z' of each side
    shrink = ratio[:, None] / (1 + ratio[:, None] * table.values)
    uw, uy = table.vectors.T @ (table.coffees.T @ w), table.vectors.T @ table.zy
    ww = w @ w - shrink @ (uw * uw)
    wy = w @ table.y - shrink @ (uw * uy)
    yy = table.y @ table.y - shrink @ (uy * uy)
    slope = wy / ww
    left = np.maximum(yy - wy * slope, 1e-9 * (1 + table.y @ table.y))
    log_v = np.log1p(ratio[:, None] * np.maximum(table.values, 0)).sum(axis=1)
    logs = -0.5 * (log_v + np.log(ww) + df * np.log(left))
    weights = np.exp(logs - logs.max())
    return LiftMixture(df, slope, np.sqrt(left / df / ww), weights / weights.sum())


def _overall(found: LiftMixture | None, level: float) -> tuple[Interval | None, float | None]:
    """Return the lift of a word by itself, and the probability that it is above 0."""
    if found is None:
        return None, None
    far = 200 * found.errors.max()
    reach = (found.slopes.min() - far, found.slopes.max() + far)
    tails = ((1 - level) / 2, (1 + level) / 2)
    low, high = (_crossing(found.below, tail, reach) for tail in tails)
    estimate = float(found.weights @ found.slopes)
    return Interval(estimate, low, high, level), 1 - found.below(0.0)


def _crossing(below: Callable[[float], float], p: float, reach: tuple[float, float]) -> float:
    low, high = (float(end) for end in reach)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if below(middle) < p else (low, middle)
    return (low + high) / 2


def _same_coffee(w: FloatArray, table: Levels, level: float) -> Interval | None:
    """Return the lift among tasters of the same coffee, by least squares."""
    inverse = np.linalg.pinv(table.zz, rcond=1e-10, hermitian=True)
    rank = int((table.values > 1e-9 * max(float(table.values.max()), 1e-9)).sum())
    own = w - table.coffees @ (inverse @ (table.coffees.T @ w))
    power, df = float(own @ own), table.df - rank - 1
    if df < 1 or power < 1e-9:
        return None
    slope = float(own @ table.y) / power
    rest = table.y - table.coffees @ (inverse @ table.zy)
    left = rest - slope * own
    half = float(stdtrit(df, (1 + level) / 2)) * float(np.sqrt(left @ left / df / power))
    return Interval(slope, slope - half, slope + half, level)
