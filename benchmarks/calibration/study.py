"""Coverage, ranks and false claims of the rating engine over made-up tables."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from benchmarks.calibration.tables import Drawn, Floats, Table, Truth, draw
from twobowls.statistics.ratings_results import Population
from twobowls.statistics.ratings_weak import contrast_mixtures, weak_nodes

LEVELS = (0.50, 0.80, 0.90, 0.95)
CLEAR = 0.99


@dataclass(frozen=True)
class Calibration:
    """What a study found.

    ``places`` (datasets, contrasts) are the posterior's distribution function at the truth:
    uniform when calibrated. ``probabilities`` are those of a above b.
    """

    places: Floats
    probabilities: Floats

    def coverage(self, level: float) -> float:
        """Share of central intervals that hold the truth."""
        return float(np.mean(np.abs(self.places - 0.5) <= level / 2))

    def coverage_error(self, level: float) -> float:
        """Return the standard error of the coverage; contrasts of one dataset go together."""
        inside = np.mean(np.abs(self.places - 0.5) <= level / 2, axis=1)
        return float(inside.std(ddof=1) / len(inside) ** 0.5)

    def clear_claims(self) -> float:
        """Share of contrasts called clear, in either direction."""
        return float(np.mean(np.maximum(self.probabilities, 1 - self.probabilities) >= CLEAR))

    def uniformity(self) -> float:
        """Return the largest distance from uniform of the places of the first contrasts.

        Compare with 1.36 / sqrt(datasets), Kolmogorov's 5 % bound.
        """
        one = np.sort(self.places[:, 0])
        count = len(one)
        steps = np.arange(count)
        return float(max(np.max((steps + 1) / count - one), np.max(one - steps / count)))


def place_of(drawn: Drawn, table: Table, population: Population) -> tuple[Floats, Floats]:
    """Fit one table; return places of the truth and probabilities of a above b."""
    nodes, _ = weak_nodes(drawn.cells, table.terms, 100.0)
    found = contrast_mixtures(nodes, population)
    truth = drawn.people if population == "people" else drawn.table
    places = found.weights @ ndtr((truth - found.means) / found.sds)
    return places, found.weights @ ndtr(found.means / found.sds)


def calibrate(
    table: Table,
    truths: Callable[[np.random.Generator], Truth],
    datasets: int,
    rng: np.random.Generator,
    population: Population = "people",
) -> Calibration:
    """Draw and fit many tables of one plan."""
    found = [place_of(draw(table, truths(rng), rng), table, population) for _ in range(datasets)]
    return Calibration(
        np.array([places for places, _ in found]), np.array([above for _, above in found])
    )
