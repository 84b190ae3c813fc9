"""How far a table agrees on words: smoothed shares of word families, with intervals.

Counts in, shares out; coffees lend each other strength as far as they are alike. Knows no
lexicon.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, betaln, expit, log_expit

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.common_shares import CommonShares, common_shares
from twobowls.statistics.inputs import between, counts
from twobowls.statistics.intervals import Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class WordShares:
    """Shares of the families among the words said of each coffee.

    ``shares[c][f]`` is the posterior mean and interval of family f among the words of coffee c,
    ``counts[c][f]`` what was said. ``concentration`` is how many words of its own a coffee needs
    to outweigh what is said of the others: small when coffees differ, large when they are alike.
    """

    shares: tuple[tuple[Interval, ...], ...]
    counts: tuple[tuple[int, ...], ...]
    concentration: Interval
    cautions: tuple[str, ...] = ()


def word_shares(words: ArrayLike, *, level: float = 0.90) -> WordShares:
    """Return how the words said of each coffee spread over the families.

    Parameters
    ----------
    words : array_like of int, shape (coffees, families)
        How often each family was said of each coffee.
    level : float
        Coverage of the intervals.

    Returns
    -------
    WordShares
        One row a coffee; the means of a row sum to 1.

    Raises
    ------
    InputError
        When an entry is not a count, there are fewer than two families, or nobody said a word.

    Notes
    -----
    Dirichlet-multinomial: the words of a coffee are drawn from shares of its own, which lie
    around shares common to all. The common shares, how uneven they are, and the concentration
    around them are integrated out (see ``common_shares``), so that what is not known of them
    widens the intervals. Limits have equal tails; a family that nobody said of a coffee has an
    interval from 0, with the whole tail above, and one that everybody said an interval up to 1.
    In simulated tables of 1 to 12 coffees with 4 to 60 words each, alike or different, 90 %
    intervals held 87 to 91 % of the true shares (simulation error under half a point).

    References
    ----------
    Mosimann 1962, Biometrika 49:65-82 (the distribution).

    Examples
    --------
    >>> result = word_shares([[6, 1, 0], [1, 5, 1], [0, 2, 6]])
    >>> s = result.shares[0][0]
    >>> print(f"{s.estimate:.2f} ({s.low:.2f} to {s.high:.2f})")
    0.71 (0.42 to 0.94)
    """
    table = counts("words", words, (None, None))
    level = between("level", level, 0, 1)
    if table.shape[1] < 2:
        raise InputError("words", "one family has no share", "Give two families or more")
    if table.sum() == 0:
        raise InputError("words", "nobody said a word", "There is nothing to share out")
    common = common_shares(table[None])
    return WordShares(
        shares=_intervals(table[None], common, level)[0],
        counts=tuple(tuple(int(n) for n in row) for row in table),
        concentration=_concentration(common, level),
        cautions=_cautions(table),
    )


def mention_shares(
    mentions: ArrayLike, tasters: ArrayLike, *, level: float = 0.90
) -> tuple[tuple[Interval, ...], ...]:
    """Return the share of people who would say each family of each coffee.

    Parameters
    ----------
    mentions : array_like of int, shape (coffees, families)
        How many tasters said the family of the coffee.
    tasters : array_like of int, shape (coffees,)
        How many tasters tasted the coffee.
    level : float
        Coverage of the intervals.

    Returns
    -------
    tuple of tuple of Interval
        One row a coffee, one entry a family; rows need not sum to 1, for a taster may say
        several.

    Raises
    ------
    InputError
        When an entry is not a count or more tasters said a family than tasted the coffee.

    Notes
    -----
    Said or not said, as ``word_shares``; each family has a common share of its own, and how far
    coffees lie around it is judged over all families together. In simulated tables of 3 to 8
    coffees and 5 to 20 tasters 90 % intervals held 87 to 93 % of the true
    shares (simulation error under half a point).

    Examples
    --------
    >>> shares = mention_shares([[6, 1], [1, 5]], [8, 8])
    >>> round(shares[0][0].estimate, 2)
    0.66
    """
    said = counts("mentions", mentions, (None, None))
    people = counts("tasters", tasters, (said.shape[0],))
    if (said > people[:, None]).any():
        raise InputError(
            "mentions", "more tasters said a word than tasted", "Count a taster once a family"
        )
    each = np.stack([said.T, people - said.T], axis=2)  # family by family: said, not said
    found = _intervals(each, common_shares(each), between("level", level, 0, 1))
    return tuple(tuple(family[c][0] for family in found) for c in range(len(people)))


def _intervals(
    tables: FloatArray, common: CommonShares, level: float
) -> tuple[tuple[tuple[Interval, ...], ...], ...]:
    """Return the mean and interval of every share; one-sided where all or nothing was said."""
    a, b = _posterior(tables, common)
    weights = np.broadcast_to(common.weights, a.shape)
    mean = (weights * a / (a + b)).sum(axis=-1)
    totals, tail = tables.sum(axis=2, keepdims=True), (1 - level) / 2
    none, whole = (tables == 0) & (totals > 0), (tables == totals) & (totals > 0)
    low, high = np.zeros(mean.shape), np.ones(mean.shape)
    for which, chance in ((~none & ~whole, tail), (~none & whole, 2 * tail)):
        low[which] = expit(_tail(a[which], b[which], weights[which], chance))
    for which, chance in ((~whole & ~none, tail), (none, 2 * tail)):
        high[which] = expit(-_tail(b[which], a[which], weights[which], chance))
    return tuple(
        tuple(
            tuple(
                Interval(float(m), float(lo), float(hi), level)
                for m, lo, hi in zip(*row, strict=True)
            )
            for row in zip(*table, strict=True)
        )
        for table in zip(mean, low, high, strict=True)
    )


def _posterior(tables: FloatArray, common: CommonShares) -> tuple[FloatArray, FloatArray]:
    """Return the beta distribution of every share at every concentration: its two exponents.

    What is not known of the common shares widens it: mean and variance are those over both.
    """
    k = common.grid
    words = tables.sum(axis=2)[:, :, None, None] + k  # a coffee's own and the lent ones
    mean = (tables[..., None] + (k * common.mean)[:, None]) / words
    drift = (k / words) ** 2 * common.variance[:, None]
    variance = (mean * (1 - mean) + words * drift) / (words + 1)
    size = mean * (1 - mean) / variance - 1
    return mean * size, (1 - mean) * size


def _tail(a: FloatArray, b: FloatArray, weights: FloatArray, p: float) -> FloatArray:
    """Return the log odds below which each mixture of beta distributions has the chance p.

    Arrays are mixtures by components. Newton's steps on the logarithm of the chance, which is
    nearly straight in the log odds of a small share: a few suffice, and no share is too small.
    """
    odds = np.zeros(len(a))
    busy = np.arange(len(a))
    x = np.log((weights * a).sum(axis=1) / (weights * b).sum(axis=1))
    for _ in range(100):
        if not busy.size:
            break
        below, slope = _chance(x, a[busy], b[busy], weights[busy])
        step = np.clip((np.log(below) - np.log(p)) * below / slope, -20.0, 20.0)
        x = x - step
        odds[busy] = x
        going = np.abs(step) > 1e-8
        busy, x = busy[going], x[going]
    return odds


def _chance(
    x: FloatArray, a: FloatArray, b: FloatArray, weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the chance below the log odds x, and its slope."""
    below = (weights * betainc(a, b, expit(x)[:, None])).sum(axis=1)
    logs = a * log_expit(x)[:, None] + b * log_expit(-x)[:, None] - betaln(a, b)
    slope = (weights * np.exp(logs)).sum(axis=1)
    return np.maximum(below, 1e-300), np.maximum(slope, 1e-300)


def _concentration(common: CommonShares, level: float) -> Interval:
    grid, which = np.unique(common.grid, return_inverse=True)
    total = np.cumsum(np.bincount(which, weights=common.weights))
    tails = np.interp([0.5, (1 - level) / 2, (1 + level) / 2], total, np.log(grid))
    median, low, high = np.exp(tails)
    return Interval(float(median), float(low), float(high), level)


def _cautions(table: FloatArray) -> tuple[str, ...]:
    fewest = int(table.sum(axis=1).min())
    texts = []
    if len(table) == 1:
        texts.append("One coffee: nothing to compare its words with.")
    if fewest < 5:
        words = "word" if fewest == 1 else "words"
        texts.append(f"A coffee has only {fewest} {words}: its shares are mostly the others'.")
    return tuple(texts)
