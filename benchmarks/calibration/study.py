"""Coverage, ranks and false claims of the rating engine over made-up tables."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, ndtr

from benchmarks.calibration.tables import Drawn, Floats, Table, Truth, draw
from twobowls.statistics.ratings_results import Population
from twobowls.statistics.ratings_weak import contrast_mixtures, weak_nodes

LEVELS = (0.50, 0.80, 0.90, 0.95)
CLEAR = 0.99
BINS = 20

Bools = NDArray[np.bool_]
Truths = Callable[[np.random.Generator], Truth]


@dataclass(frozen=True)
class Calibration:
    """What a study found, a row a table and a column a contrast a - b.

    ``places`` are the posterior's distribution function at the truth: uniform when calibrated.
    ``probabilities`` are those of a above b, ``truths`` the true contrasts.
    """

    places: Floats
    probabilities: Floats
    truths: Floats

    def coverage(self, level: float) -> float:
        """Share of central intervals that hold the truth."""
        return float(np.mean(np.abs(self.places - 0.5) <= level / 2))

    def coverage_error(self, level: float) -> float:
        """Return the standard error of the coverage; contrasts of one table go together."""
        return _table_error(np.abs(self.places - 0.5) <= level / 2)

    def clear_claims(self) -> tuple[float, float]:
        """Share of contrasts called clear, in either direction, and its standard error."""
        clear = np.maximum(self.probabilities, 1 - self.probabilities) >= CLEAR
        return float(clear.mean()), _table_error(clear)

    def wrong_claims(self) -> tuple[float, int]:
        """Share of clear claims that are false, and how many claims there were."""
        false, clear = self._false()
        return float(false.sum() / max(clear.sum(), 1)), int(clear.sum())

    def false_claims(self) -> tuple[float, float]:
        """Share of contrasts called clear falsely, and its standard error.

        The direction is wrong, or there is no difference at all.
        """
        false, _ = self._false()
        return float(false.mean()), _table_error(false)

    def _false(self) -> tuple[Bools, Bools]:
        clear = np.maximum(self.probabilities, 1 - self.probabilities) >= CLEAR
        right = np.where(self.probabilities > 0.5, self.truths > 0.0, self.truths < 0.0)
        return clear & ~right, clear

    def uniformity(self) -> float:
        """Return chi-squared's p for uniform places: one contrast a table, in turn.

        Contrasts of one table are not independent; one of each are.
        """
        tables, contrasts = self.places.shape
        one = self.places[np.arange(tables), np.arange(tables) % contrasts]
        seen = np.histogram(one, BINS, (0.0, 1.0))[0]
        expected = tables / BINS
        return float(chdtrc(BINS - 1, np.sum((seen - expected) ** 2) / expected))


def _table_error(inside: Bools) -> float:
    shares = inside.mean(axis=1)
    return float(shares.std(ddof=1) / len(shares) ** 0.5)


def joined(parts: list[Calibration]) -> Calibration:
    """Put pieces of one study together."""
    return Calibration(
        np.concatenate([part.places for part in parts]),
        np.concatenate([part.probabilities for part in parts]),
        np.concatenate([part.truths for part in parts]),
    )


def _fit(drawn: Drawn, table: Table) -> dict[Population, tuple[Floats, Floats, Floats]]:
    """Fit one table: places of the truth, probabilities of a above b, the truth."""
    nodes, _ = weak_nodes(drawn.cells, table.terms, 100.0)
    found: dict[Population, tuple[Floats, Floats, Floats]] = {}
    for population in get_args(Population):
        each = contrast_mixtures(nodes, population)
        truth = drawn.people if population == "people" else drawn.table
        places = each.weights @ ndtr((truth - each.means) / each.sds)
        found[population] = places, each.weights @ ndtr(each.means / each.sds), truth
    return found


def calibrate(
    table: Table, truths: Truths, tables: int, rng: np.random.Generator
) -> dict[Population, Calibration]:
    """Draw and fit many tables of one plan."""
    fits = [_fit(draw(table, truths(rng), rng), table) for _ in range(tables)]
    return {
        population: Calibration(*(np.array(each) for each in zip(*rows, strict=True)))
        for population in get_args(Population)
        for rows in [[fit[population] for fit in fits]]
    }
