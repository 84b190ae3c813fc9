"""How far apart people put two bowls of the same coffee, from the hidden repeats.

For each seat, coffee, sensation and round the spread of the marks on the bowls of one coffee is
a sum of squares with (bowls - 1) degrees of freedom. Rounds of one sensation are the same
person's view of the same two bowls, so they are averaged rather than counted as new evidence.
The standard deviation has a scaled inverse chi-squared posterior.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from twobowls.debrief.phrases import decimals, number, span
from twobowls.debrief.rating_table import SCALES, Factor, RatingTable, Scale, Values

# Before any repeat is seen: two bowls of one coffee lie about 12 points of 100 apart, known as
# well as from four repeats. The project's own choice; the data soon outweigh it.
PRIOR_DEGREES = 4.0
PRIOR_SD = 0.10
_MEAN_GAP = 2.0 / sqrt(pi)  # mean distance of two normal numbers, in standard deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """The typical distance between two bowls of one coffee, in points of the scale.

    ``typical`` is the posterior median of the mean distance, ``interval`` its central interval,
    ``repeats`` the number of repeated bowls behind it (0: the prior alone).
    """

    typical: float
    interval: tuple[float, float]
    repeats: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """Gaps of the whole table and of each taster (by label), on one scale."""

    scale: Scale
    limits: tuple[float, float]
    table: Gap
    tasters: dict[str, Gap]
    coffees: tuple[str, ...]


def repeatability(table: RatingTable, level: float = 0.90) -> tuple[Repeatability, ...]:
    """Return what the hidden repeats say, for each scale on which there are any.

    Parameters
    ----------
    table : RatingTable
        With bowls (or, in files, with a repeat column); empty without.
    level : float
        Probability of the intervals.
    """
    vessels = table.bowl if table.bowl is not None else table.repeat
    if vessels is None:
        return ()
    found = []
    for scale in SCALES:
        values = table.values(scale)
        if values is None:
            continue
        spread = _spread(table, values, vessels)
        if len(spread.degrees):
            found.append(_summary(table, scale, spread, level))
    return tuple(found)


def repeat_sentence(found: Repeatability) -> str:
    """Say how far apart people put two bowls of the same coffee.

    Examples
    --------
    >>> gap = Gap(typical=9.8, interval=(8.2, 12.1), repeats=35)
    >>> repeat_sentence(
    ...     Repeatability(scale="liking", limits=(0, 100), table=gap, tasters={}, coffees=("Oro",))
    ... )[:77]
    'In liking, people put two bowls of the same coffee about 10 apart (8 to 12). '
    """
    gap = found.table
    places = decimals(found.limits, gap.interval[1] - gap.interval[0])
    return (
        f"In {'strength' if found.scale == 'intensity' else 'liking'}, people put two bowls of the "
        f"same coffee about {number(gap.typical, places)} apart ({span(gap.interval, places)}). "
        "A difference smaller than that, seen by one person once, means little."
    )


@dataclass(frozen=True, slots=True)
class _Spread:
    """Spread within each taster, coffee and sensation, averaged over rounds; one entry each."""

    taster: NDArray[np.int64]
    coffee: NDArray[np.int64]
    squares: NDArray[np.float64]
    degrees: NDArray[np.float64]

    def of(self, taster: int) -> "_Spread":
        mine = self.taster == taster
        return _Spread(self.taster[mine], self.coffee[mine], self.squares[mine], self.degrees[mine])


def _spread(table: RatingTable, values: Values, vessels: Factor) -> _Spread:
    """Add up squares around each cell's mean over bowls, then average the rounds."""
    rows = np.flatnonzero(~np.isnan(values) & (vessels.codes >= 0))
    of_sensation, sensations = _numbers([table.taster, table.coffee, table.sensation], rows)
    cell, cells = _compact(of_sensation * _size(table.round) + _codes(table.round, rows))
    bowl, bowls = _compact(cell * len(vessels.labels) + vessels.codes[rows])
    counts = np.bincount(bowl, minlength=bowls)
    means = np.bincount(bowl, values[rows], bowls) / counts
    cell_of = np.empty(bowls, dtype=np.int64)
    cell_of[bowl] = cell
    many = np.bincount(cell_of, minlength=cells)
    middle = np.bincount(cell_of, means, cells) / many
    squares = np.bincount(cell_of, (means - middle[cell_of]) ** 2, cells)
    several = many > 1
    owner = np.empty(cells, dtype=np.int64)
    owner[cell] = of_sensation
    owner, degrees = owner[several], (many[several] - 1).astype(float)
    rounds = np.bincount(owner, minlength=sensations)
    there = rounds > 0
    most = np.zeros(sensations)
    np.maximum.at(most, owner, degrees)
    variance = np.bincount(owner, squares[several] / degrees, sensations)[there] / rounds[there]
    first = np.empty(sensations, dtype=np.int64)
    first[of_sensation] = rows
    return _Spread(
        taster=table.taster.codes[first[there]].astype(np.int64),
        coffee=table.coffee.codes[first[there]].astype(np.int64),
        squares=variance * most[there],
        degrees=most[there],
    )


def _numbers(
    factors: Sequence[Factor | None], rows: NDArray[np.intp]
) -> tuple[NDArray[np.int64], int]:
    """Give each combination of some factors in these rows a number, from 0."""
    total = np.zeros(len(rows), dtype=np.int64)
    for factor in factors:
        total, _ = _compact(total * _size(factor) + _codes(factor, rows))
    return _compact(total)


def _codes(factor: Factor | None, rows: NDArray[np.intp]) -> NDArray[np.int64]:
    if factor is None:
        return np.zeros(len(rows), dtype=np.int64)
    return factor.codes[rows].astype(np.int64) + 1


def _size(factor: Factor | None) -> int:
    return 1 if factor is None else len(factor.labels) + 1


def _compact(keys: NDArray[np.int64]) -> tuple[NDArray[np.int64], int]:
    found, numbers = np.unique(keys, return_inverse=True)
    return numbers.astype(np.int64), len(found)


def _summary(table: RatingTable, scale: Scale, spread: _Spread, level: float) -> Repeatability:
    limits = table.limits[scale]
    start = PRIOR_SD * (limits[1] - limits[0])
    # A taster is held to be like the rest of the table until their own repeats say otherwise.
    common = sqrt(
        (PRIOR_DEGREES * start**2 + float(spread.squares.sum()))
        / (PRIOR_DEGREES + float(spread.degrees.sum()))
    )
    return Repeatability(
        scale=scale,
        limits=limits,
        table=_gap(spread, start, level),
        tasters={
            label: _gap(spread.of(code), common, level)
            for code, label in enumerate(table.taster.labels)
        },
        coffees=tuple(table.coffee.labels[code] for code in np.unique(spread.coffee).tolist()),
    )


def _gap(spread: _Spread, sd: float, level: float) -> Gap:
    from scipy.special import chdtri

    repeats = float(spread.degrees.sum())
    total = PRIOR_DEGREES * sd**2 + float(spread.squares.sum())
    tail = (1 - level) / 2
    high, typical, low = (
        _MEAN_GAP * sqrt(total / float(chdtri(PRIOR_DEGREES + repeats, share)))
        for share in (1 - tail, 0.5, tail)
    )
    return Gap(typical=typical, interval=(low, high), repeats=repeats)
