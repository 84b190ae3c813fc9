"""Rows of tidy tables from the estimates that all methods share."""

from collections.abc import Iterable
from typing import Any

from twobowls.debrief.evidence import evidence
from twobowls.statistics.intervals import Interval
from twobowls.statistics.ratings_results import Contrast, Estimate

ESTIMATE = ("mean", "se", "low", "high")
CONTRAST = ("a", "b", "difference", "se", "low", "high", "probability", "evidence")
INTERVAL = ("estimate", "low", "high")


def estimate_cells(estimate: Estimate) -> tuple[float, ...]:
    """Return mean, standard error and both ends of the interval."""
    return (
        float(estimate.mean),
        float(estimate.se),
        float(estimate.interval[0]),
        float(estimate.interval[1]),
    )


def contrast_rows(contrasts: Iterable[Contrast]) -> list[tuple[Any, ...]]:
    """Return one row a pair, the higher coffee first."""
    rows = []
    for each in contrasts:
        up = each.probability >= 0.5
        mean, se, low, high = estimate_cells(each.estimate)
        ends = (mean, se, low, high) if up else (-mean, se, -high, -low)
        sure = float(each.probability if up else 1 - each.probability)
        names = (each.a, each.b) if up else (each.b, each.a)
        rows.append((*names, *ends, sure, evidence(sure)))
    return rows


def interval_cells(interval: Interval | None) -> tuple[float | None, ...]:
    """Return the estimate and both ends, or three times None."""
    if interval is None:
        return (None, None, None)
    return (float(interval.estimate), float(interval.low), float(interval.high))


def interval_words(level: float) -> str:
    """Say what intervals are.

    Examples
    --------
    >>> interval_words(0.9)
    'intervals hold 90 %'
    """
    return f"intervals hold {100 * level:g} %"
