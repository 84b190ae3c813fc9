"""How the marks of two scales go together: the correlation of their paired deviations.

Marks are paired by who marked which coffee (in which round, from which bowl). Only their
deviations from what they have in common are compared, so that coffees which differ on both
scales do not pass for errors which go together.
"""

from collections.abc import Mapping, Sequence
from math import sqrt

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_levels import Labels, encode
from twobowls.statistics.ratings_columns import RatingColumns

PRIOR_PAIRS = 4.0  # what is held beforehand counts as much as four pairs
SWEEPS = 50

Codes = dict[str, IntArray]


def leaning_correlation(
    first: RatingColumns, second: RatingColumns, weights: Mapping[str, float] | None = None
) -> float:
    """Correlation of the taster-by-coffee means about their coffee, drawn towards zero.

    A taster's leaning altogether, the leaning about a coffee, and what is left of slips, each
    as large as it is in the error of a coffee's mean for people. ``weights`` tells how much
    the pairs of careless tasters count; those not named count 1.

    Examples
    --------
    >>> taster, coffee = list("aabbcc"), list("ABABAB")
    >>> strong = RatingColumns(y=[60, 30, 70, 45, 50, 28], taster=taster, coffee=coffee)
    >>> liked = RatingColumns(y=[70, 50, 80, 60, 62, 50], taster=taster, coffee=coffee)
    >>> round(leaning_correlation(strong, liked), 2)
    0.49
    """
    codes, pairs, own = _paired(first, second, ("taster", "coffee"), weights or {})
    if len(pairs) == 0:
        return 0.0
    degrees = (len(pairs) - _count(codes["coffee"])) * float(own.mean())
    return _drawn(_correlation(pairs, [codes["coffee"]], own), degrees, 0.0)


def slip_correlation(
    first: RatingColumns, second: RatingColumns, weights: Mapping[str, float] | None = None
) -> float:
    """Correlation of single marks about all that a taster meant, drawn towards that of leanings.

    Single marks tell where a taster marked a coffee more than once on both scales. Where
    nobody did, the taster-by-coffee means about their taster and coffee must do. ``weights``
    as in `leaning_correlation`.
    """
    codes, pairs, own = _paired(first, second, ("taster", "coffee"), weights or {})
    if len(pairs) == 0:
        return 0.0
    taster, coffee = codes["taster"], codes["coffee"]
    degrees = (len(pairs) - _count(taster) - _count(coffee) + 1) * float(own.mean())
    leaning = _drawn(_correlation(pairs, [coffee, taster], own), degrees, 0.0)
    codes, pairs, own = _paired(first, second, ("taster", "coffee", "round", "bowl"), weights or {})
    if len(pairs) == 0:  # no coffee was judged on both scales in one round
        return leaning
    groups, rank = _meant(codes)
    degrees = (len(pairs) - rank) * float(own.mean())
    return _drawn(_correlation(pairs, groups, own), degrees, leaning)


def _meant(codes: Codes) -> tuple[list[IntArray], int]:
    """Return the groups whose means a mark is compared with, and how many numbers they take.

    The count is that of a complete table; where marks are missing it is too large by a few.
    """
    taster, coffee = codes["taster"], codes["coffee"]
    groups = [_crossed(taster, coffee)]
    rank = _count(groups[0])
    if "bowl" in codes:
        groups.append(codes["bowl"])
        rank += max(_count(codes["bowl"]) - _count(coffee), 0)
    if "round" in codes:
        rounds = codes["round"]
        groups += [_crossed(taster, rounds), _crossed(coffee, rounds)]
        rank += _count(groups[-2]) - _count(taster)
        rank += _count(groups[-1]) - _count(coffee) - _count(rounds) + 1
    return groups, rank


def _drawn(seen: float, degrees: float, towards: float) -> float:
    degrees = max(degrees, 0.0)
    return (degrees * seen + PRIOR_PAIRS * towards) / (degrees + PRIOR_PAIRS)


def _correlation(pairs: FloatArray, groups: Sequence[IntArray], weights: FloatArray) -> float:
    """Correlation of weighted pairs (n, 2) about the means of all groups, swept out in turn."""
    away = pairs - pairs.mean(axis=0)
    for _ in range(SWEEPS):
        before = away.copy()
        for codes in groups:
            counts = np.bincount(codes, weights)
            counts = np.where(counts > 0.0, counts, 1.0)
            for scale in range(2):
                away[:, scale] -= (np.bincount(codes, away[:, scale] * weights) / counts)[codes]
        if float(np.abs(away - before).max()) <= 1e-6 * float(np.abs(pairs).max()):
            break
    products = (away * weights[:, None]).T @ away
    size = sqrt(max(float(products[0, 0] * products[1, 1]), 0.0))
    # what rounding leaves of pairs that are all fitted is no correlation
    nothing = 1e-12 * len(pairs) * float(np.abs(pairs).max()) ** 2
    return float(products[0, 1]) / size if size > nothing else 0.0


def _paired(
    first: RatingColumns, second: RatingColumns, by: Sequence[str], weights: Mapping[str, float]
) -> tuple[Codes, FloatArray, FloatArray]:
    """Codes (n,) of what both scales have in common, their mean marks (n, 2) and weights (n,)."""
    here, there = first.factors(), second.factors()
    names = [name for name in by if name in here and name in there]
    factors = [encode(name, _joined(here[name], there[name])) for name in names]
    keys = factors[0].codes
    for factor in factors[1:]:
        keys = np.unique(keys * len(factor.levels) + factor.codes, return_inverse=True)[1]
    split, size = len(here["taster"]), int(keys.max(initial=-1)) + 1
    means, known = np.empty((size, 2)), np.ones(size, dtype=bool)
    for scale, (each, mine) in enumerate(((first, keys[:split]), (second, keys[split:]))):
        counts = np.bincount(mine, minlength=size)
        known &= counts > 0
        sums = np.bincount(mine, np.asarray(each.y, dtype=float), size)
        means[:, scale] = sums / np.maximum(counts, 1)
    row = np.empty(size, dtype=np.intp)
    row[keys] = np.arange(len(keys))
    codes = {
        name: _numbered(factor.codes[row[known]])
        for name, factor in zip(names, factors, strict=True)
    }
    care = np.array([weights.get(name, 1.0) for name in factors[0].levels])
    return codes, means[known], np.asarray(care[factors[0].codes[row[known]]], dtype=np.float64)


def _joined(first: Labels, second: Labels) -> list[str]:
    return [*map(str, first), *map(str, second)]


def _numbered(codes: IntArray) -> IntArray:
    return np.unique(codes, return_inverse=True)[1].astype(np.intp)


def _crossed(first: IntArray, second: IntArray) -> IntArray:
    return _numbered(first * (int(second.max(initial=0)) + 1) + second)


def _count(codes: IntArray) -> int:
    return int(codes.max(initial=-1)) + 1
