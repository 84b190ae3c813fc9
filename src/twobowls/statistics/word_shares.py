"""How far a table agrees on words: smoothed shares of word families, with intervals.

Counts in, shares out; coffees lend each other strength as far as they are alike. Knows no
lexicon.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, gammaln

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import between, counts
from twobowls.statistics.intervals import Interval

_HALF = 0.5  # of a word, given to every family: an unseen one is rare, not impossible


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
    around shares common to all. Those are known from the other coffees (half a word added to
    every family) as well as their number allows, and what is not known of them widens the
    intervals. The concentration k has prior density proportional to ``F / (F + k)^2``, F the
    number of families, and is integrated out on a grid.

    References
    ----------
    Mosimann 1962, Biometrika 49:65-82 (the distribution).

    Examples
    --------
    >>> result = word_shares([[6, 1, 0], [1, 5, 1], [0, 2, 6]])
    >>> s = result.shares[0][0]
    >>> print(f"{s.estimate:.2f} ({s.low:.2f} to {s.high:.2f})")
    0.75 (0.47 to 0.96)
    """
    table = counts("words", words, (None, None))
    level = between("level", level, 0, 1)
    if table.shape[1] < 2:
        raise InputError("words", "one family has no share", "Give two families or more")
    if table.sum() == 0:
        raise InputError("words", "nobody said a word", "There is nothing to share out")
    grid = _grid(table.shape[1])
    prior_words = _prior_words(table, grid)
    weights = _weights(table, prior_words, grid)
    a = table[..., None] + prior_words
    b = (table.sum(axis=1)[:, None] + prior_words.sum(axis=1))[:, None, :] - a
    mean = (a / (a + b)) @ weights
    low, high = (_quantile(a, b, weights, p) for p in ((1 - level) / 2, (1 + level) / 2))
    return WordShares(
        shares=tuple(
            tuple(
                Interval(float(m), float(lo), float(hi), level)
                for m, lo, hi in zip(*row, strict=True)
            )
            for row in zip(mean, low, high, strict=True)
        ),
        counts=tuple(tuple(int(n) for n in row) for row in table),
        concentration=_concentration(grid, weights, level),
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
    For each family by itself, said or not said, as ``word_shares``.

    Examples
    --------
    >>> shares = mention_shares([[6, 1], [1, 5]], [8, 8])
    >>> round(shares[0][0].estimate, 2)
    0.68
    """
    said = counts("mentions", mentions, (None, None))
    people = counts("tasters", tasters, (said.shape[0],))
    if (said > people[:, None]).any():
        raise InputError(
            "mentions", "more tasters said a word than tasted", "Count a taster once a family"
        )
    columns = []
    for family in said.T:
        pair = np.stack([family, people - family], axis=1)
        columns.append([row[0] for row in word_shares(pair, level=level).shares])
    return tuple(zip(*columns, strict=True))


def _grid(families: int) -> FloatArray:
    return np.asarray(np.exp(np.linspace(np.log(0.02 * families), np.log(500.0 * families), 61)))


def _prior_words(table: FloatArray, grid: FloatArray) -> FloatArray:
    """Return how many words of each family the others lend a coffee: coffees, families, grid.

    At concentration k the n words of another coffee are worth n (k+1) / (n+k) words of the
    shares common to all. What is known of those shares bounds what can be lent.
    """
    families, totals = table.shape[1], table.sum(axis=1)[:, None]
    worth = totals * (grid + 1) / (totals + grid)
    spread = (table / np.maximum(totals, 1))[..., None] * worth[:, None, :]
    others = spread.sum(axis=0) - spread + _HALF
    known = (worth.sum(axis=0) - worth + families * _HALF)[:, None, :]
    variance = 1 / (grid + 1) + grid / (grid + 1) / (known + 1)
    return np.asarray((1 / variance - 1) * others / known)


def _weights(table: FloatArray, lent: FloatArray, grid: FloatArray) -> FloatArray:
    """Return the posterior weights of the grid of concentrations."""
    families, totals, all_lent = table.shape[1], table.sum(axis=1)[:, None], lent.sum(axis=1)
    logs = gammaln(all_lent) - gammaln(totals + all_lent)
    logs = logs + (gammaln(table[..., None] + lent) - gammaln(lent)).sum(axis=1)
    prior = np.log(grid) - 2 * np.log(families + grid)  # even steps in log k carry the factor k
    posterior = logs.sum(axis=0) + prior
    weights = np.exp(posterior - posterior.max())
    return np.asarray(weights / weights.sum())


def _quantile(a: FloatArray, b: FloatArray, weights: FloatArray, p: float) -> FloatArray:
    """Return a quantile of each mixture of beta distributions, by bisection."""
    low, high = np.zeros(a.shape[:-1]), np.ones(a.shape[:-1])
    for _ in range(40):
        middle = (low + high) / 2
        under = betainc(a, b, middle[..., None]) @ weights < p
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return np.asarray((low + high) / 2)


def _concentration(grid: FloatArray, weights: FloatArray, level: float) -> Interval:
    total = np.cumsum(weights)
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
