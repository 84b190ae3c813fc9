"""How far apart people put two bowls of the same coffee, from the hidden repeats.

For each seat, coffee, sensation and round the spread of the marks on the bowls of one coffee is
a sum of squares with (bowls - 1) degrees of freedom. Rounds of one sensation are the same
person's view of the same two bowls, so they are averaged rather than counted as new evidence.
The standard deviation has a scaled inverse chi-squared posterior.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from twobowls.debrief.rating_table import SCALES, RatingTable, Scale

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
        squares = _squares(table, values, vessels.codes)
        if squares:
            found.append(_summary(table, scale, squares, level))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Square:
    """Spread within one taster, coffee and sensation, averaged over rounds."""

    taster: int
    coffee: int
    squares: float
    degrees: float


def _squares(table: RatingTable, values: np.ndarray, vessels: np.ndarray) -> list[_Square]:
    rounds = table.round.codes if table.round is not None else np.zeros(len(table), dtype=np.int32)
    sensations = (
        table.sensation.codes if table.sensation is not None else np.zeros(len(table), np.int32)
    )
    cells: dict[tuple[int, int, int, int], dict[int, list[float]]] = {}
    columns = (table.taster.codes, table.coffee.codes, sensations, rounds, vessels, values)
    for taster, coffee, sensation, round_, vessel, value in zip(
        *(column.tolist() for column in columns), strict=True
    ):
        if value == value and vessel >= 0:
            bowls = cells.setdefault((taster, coffee, sensation, round_), {})
            bowls.setdefault(vessel, []).append(value)
    by_sensation: dict[tuple[int, int, int], list[tuple[float, int]]] = {}
    for (taster, coffee, sensation, _), bowls in cells.items():
        if len(bowls) > 1:
            marks = [sum(each) / len(each) for each in bowls.values()]
            middle = sum(marks) / len(marks)
            spread = sum((each - middle) ** 2 for each in marks)
            by_sensation.setdefault((taster, coffee, sensation), []).append(
                (spread / (len(marks) - 1), len(marks) - 1)
            )
    return [
        _Square(
            taster,
            coffee,
            squares=sum(each for each, _ in parts) / len(parts) * max(each for _, each in parts),
            degrees=max(each for _, each in parts),
        )
        for (taster, coffee, _), parts in by_sensation.items()
    ]


def _summary(
    table: RatingTable, scale: Scale, squares: list[_Square], level: float
) -> Repeatability:
    limits = table.limits[scale]
    start = PRIOR_SD * (limits[1] - limits[0])
    whole = _gap(squares, PRIOR_DEGREES, start, level)
    own = {
        label: [each for each in squares if each.taster == number]
        for number, label in enumerate(table.taster.labels)
    }
    # A taster is held to be like the rest of the table until their own repeats say otherwise.
    common = sqrt(
        (PRIOR_DEGREES * start**2 + sum(each.squares for each in squares))
        / (PRIOR_DEGREES + sum(each.degrees for each in squares))
    )
    return Repeatability(
        scale=scale,
        limits=limits,
        table=whole,
        tasters={label: _gap(each, PRIOR_DEGREES, common, level) for label, each in own.items()},
        coffees=tuple(
            table.coffee.labels[code] for code in sorted({each.coffee for each in squares})
        ),
    )


def _gap(squares: Iterable[_Square], degrees: float, sd: float, level: float) -> Gap:
    from scipy.special import chdtri

    listed = list(squares)
    repeats = sum(each.degrees for each in listed)
    total = degrees * sd**2 + sum(each.squares for each in listed)
    tail = (1 - level) / 2
    high, typical, low = (
        _MEAN_GAP * sqrt(total / float(chdtri(degrees + repeats, share)))
        for share in (1 - tail, 0.5, tail)
    )
    return Gap(typical=typical, interval=(low, high), repeats=repeats)
