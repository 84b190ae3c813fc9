"""Whether the ellipses of (intensity, liking) hold the true pair: ``python -m`` this module.

Marks of both scales are drawn from one bivariate model: each term's two effects have a
correlation of their own. Where coffees differ and how they are liked stays as it is drawn.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from typing import get_args

import numpy as np

from benchmarks.calibration.tables import ORDINARY, Floats, Table
from twobowls.statistics.ratings_columns import RatingColumns, gather_columns
from twobowls.statistics.ratings_joint import joint_means
from twobowls.statistics.ratings_priors import DeviationPrior
from twobowls.statistics.ratings_results import Population, RatingFit
from twobowls.statistics.ratings_weak import fit_weak

LEVELS = (0.50, 0.80, 0.90, 0.95)
ALIKE = {"taster": 0.3, "taster:coffee": 0.7, "coffee": 0.5, "residual": 0.4}
APART = {"taster": 0.6, "taster:coffee": 0.8, "coffee": -0.5, "residual": -0.5}

Truths = Callable[[np.random.Generator], "PairTruth"]


@dataclass(frozen=True)
class PairTruth:
    """Both scales' deviations by term, and the correlation of each term."""

    deviations: tuple[dict[str, float], dict[str, float]]
    correlations: dict[str, float]

    def draw(self, term: str, shape: tuple[int, ...], rng: np.random.Generator) -> Floats:
        """Draw effects of both scales: (*shape, 2)."""
        own = self.correlations.get(term, 0.0)
        z = rng.standard_normal((*shape, 2))
        second = own * z[..., 0] + (1.0 - own**2) ** 0.5 * z[..., 1]
        sizes = [each.get(term, 0.0) for each in self.deviations]
        return np.asarray(np.stack([z[..., 0], second], axis=-1) * sizes)


def ordinary(correlations: dict[str, float]) -> Truths:
    """Deviations as they are at many a table, the same on both scales; bowls are alike."""
    alike = {**ORDINARY, "bowl": 0.0}
    return lambda _: PairTruth((alike, alike), correlations)


def from_prior(terms: tuple[str, ...]) -> Truths:
    """Deviations of both scales from the engine's priors, any correlation as likely."""

    def drawn(rng: np.random.Generator) -> PairTruth:
        prior = DeviationPrior.for_terms(terms, 100.0)
        sizes = prior.deviations(rng.standard_normal((2, len(terms) + 1))).values
        names = (*terms, "residual")
        first, second = (dict(zip(names, row.tolist(), strict=True)) for row in sizes)
        return PairTruth((first, second), dict(zip(names, rng.uniform(-1, 1, 9), strict=False)))

    return drawn


@dataclass(frozen=True)
class PairTable:
    """Columns of both scales, and the true pairs (coffees, 2) of people and of the table."""

    intensity: RatingColumns
    liking: RatingColumns
    truth: dict[Population, Floats]


def draw_pair(
    table: Table, truth: PairTruth, rng: np.random.Generator, bowls: bool = True
) -> PairTable:
    """Draw one table; the first coffee is in ``repeats`` more bowls."""
    tasters, coffees, rounds = table.tasters, table.coffees, table.rounds
    coffee = truth.draw("coffee", (coffees,), rng)
    own = truth.draw("taster:coffee", (tasters, coffees), rng)
    taster = truth.draw("taster", (tasters,), rng)
    moving = truth.draw("coffee:round", (coffees, rounds), rng) * (rounds > 1)
    day = truth.draw("taster:round", (tasters, rounds), rng) * (rounds > 1)
    when = truth.draw("round", (rounds,), rng) * (rounds > 1)
    bowl = truth.draw("bowl", (coffees + table.repeats,), rng)
    t, b, r = (each.ravel() for each in np.indices((tasters, coffees + table.repeats, rounds)))
    c = np.maximum(b - table.repeats, 0)
    mean = 50.0 + taster[t] + coffee[c] + own[t, c] + bowl[b] + when[r] + moving[c, r] + day[t, r]
    y = mean + truth.draw("residual", (len(t),), rng)
    labels = {"taster": t, "coffee": c}
    labels |= {"bowl": b} if bowls else {}
    labels |= {"round": r} if rounds > 1 else {}
    people = 50.0 + coffee + moving.mean(axis=1) + when.mean(axis=0)
    here = people + (taster[:, None] + own + day.mean(axis=1)[:, None]).mean(axis=0)
    return PairTable(
        RatingColumns(y=y[:, 0], **labels),
        RatingColumns(y=y[:, 1], **labels),
        {"people": people, "table": here},
    )


def depths(
    table: Table,
    truths: Truths,
    tables: int,
    rng: np.random.Generator,
    bowls: bool = True,
) -> dict[Population, Floats]:
    """Fit many tables; return (tables, coffees) levels at which the true pair is just held."""
    found: dict[Population, list[list[float]]] = {each: [] for each in get_args(Population)}
    for _ in range(tables):
        drawn = draw_pair(table, truths(rng), rng, bowls)
        fits = [_fit(columns) for columns in (drawn.intensity, drawn.liking)]
        for population, rows in found.items():
            means = joint_means(fits[0], fits[1], drawn.intensity, drawn.liking, population)
            pairs = zip(means, drawn.truth[population], strict=True)
            rows.append([mean.level_at(*pair) for mean, pair in pairs])
    return {name: np.array(rows) for name, rows in found.items()}


def _fit(columns: RatingColumns) -> RatingFit:
    """Fit as `fit_ratings` does, but let marks leave the scale: the model has no ends."""
    values = np.asarray(columns.y, dtype=float)
    return fit_weak(gather_columns(columns, values, set(columns.factors())), None, None, 100.0, 0.9)


def coverage(found: Floats, level: float) -> tuple[float, float]:
    """Share of ellipses that hold the pair, and its standard error over tables."""
    inside = (found <= level).mean(axis=1)
    return float(inside.mean()), float(inside.std(ddof=1) / len(inside) ** 0.5)


def line(name: str, found: Floats) -> str:
    """One row of the table that is printed."""
    cover = (coverage(found, level) for level in LEVELS)
    return name + "".join(f"  {100 * share:5.1f} ±{100 * error:3.1f}" for share, error in cover)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tables", type=int, default=1000)
    chosen = parser.parse_args()
    rng = np.random.default_rng(20261125)
    for rounds in (1, 3):
        plan = Table(4, 8, rounds)
        lone = Table(4, 8, rounds, repeats=0)
        rows: list[tuple[str, Table, Truths, bool]] = [
            ("from the prior", plan, from_prior(plan.terms), True),
            ("correlations alike", lone, ordinary(ALIKE), False),
            ("correlations apart", lone, ordinary(APART), False),
        ]
        for name, table, truths, bowls in rows:
            found = depths(table, truths, chosen.tables, rng, bowls)
            for population, levels in found.items():
                print(line(f"{name:18} {rounds} rounds {population:7}", levels), flush=True)


if __name__ == "__main__":
    main()
