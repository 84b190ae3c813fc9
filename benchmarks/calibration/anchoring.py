"""Tasters who stay near their former placings: ``python -m`` this module.

In the first round a bowl is placed by a reading; in a later one it moves from where it stood only
a share of the way to a fresh reading. Nothing in the record says so. Printed is, of the contrasts
for this table, how many 90 % intervals hold the truth, and how wide they are, without the term of
a taster's placings of a bowl and with it. The truth is what such placings aim at: the coffee's
level and its rounds, weighed as the placings weigh them, and these tasters' own opinions.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchmarks.calibration.study import Calibration
from benchmarks.calibration.tables import ORDINARY, Floats, Table
from twobowls.statistics.mixed_model_levels import Cells, encode, gather
from twobowls.statistics.ratings_terms import placing_terms
from twobowls.statistics.ratings_weak import contrast_mixtures, weak_nodes

LEVEL = 0.90
TABLES = 300
PLANS = (Table(4, 1, 1), Table(4, 1, 3), Table(4, 5, 1), Table(4, 5, 3))
MOVES = (1.0, 0.6, 0.3)


@dataclass(frozen=True)
class Anchored:
    """Marks as cells, and the true contrasts for the table."""

    cells: Cells
    truth: Floats


def draw_anchored(table: Table, move: float, rng: np.random.Generator) -> Anchored:
    """Draw marks of tasters who move a share ``move`` of the way to a fresh reading."""
    sd, n, t, r = ORDINARY, table.coffees, table.tasters, table.rounds
    coffee_of = np.array([*range(n), *([0] * table.repeats)])
    coffee, own = rng.normal(0, sd["coffee"], n), rng.normal(0, sd["taster:coffee"], (t, n))
    bowl = rng.normal(0, sd["bowl"], len(coffee_of))
    taster = rng.normal(0, sd["taster"], t)
    moving = rng.normal(0, sd["coffee:round"], (n, r))
    y = np.zeros((t, len(coffee_of), r))
    weights = np.zeros((r, r))  # of the rounds' readings in each round's placing
    for k in range(r):
        share = move if k else 1.0
        fresh = 50 + rng.normal(0, sd["round"]) + taster + rng.normal(0, sd["taster:round"], t)
        slips = rng.normal(0, sd["residual"], (t, len(coffee_of)))
        reading = fresh[:, None] + (coffee + own + moving[:, k])[:, coffee_of] + bowl + slips
        y[:, :, k] = (1.0 - share) * y[:, :, k - 1] + share * reading
        weights[k] = (1.0 - share) * weights[k - 1]
        weights[k, k] += share
    level = coffee + own.mean(axis=0) + moving @ weights.mean(axis=0)
    first, second = np.triu_indices(n, 1)
    return Anchored(_cells(y, coffee_of), level[first] - level[second])


def _cells(y: Floats, coffee_of: np.ndarray) -> Cells:
    taster, bowl, round_ = (each.ravel() for each in np.indices(y.shape))
    codes = {"taster": taster, "coffee": coffee_of[bowl], "bowl": bowl}
    if y.shape[2] > 1:
        codes["round"] = round_
    return gather(y.ravel(), {name: encode(name, each) for name, each in codes.items()})


def study(
    table: Table, move: float, tables: int, rng: np.random.Generator, *, placings: bool
) -> tuple[Calibration, float]:
    """Draw and fit many tables; also return the mean standard deviation of a contrast."""
    from scipy.special import ndtr

    places, probabilities, truths, sds = [], [], [], []
    for _ in range(tables):
        drawn = draw_anchored(table, move, rng)
        terms = (*table.terms, *(placing_terms(drawn.cells) if placings else ()))
        found = contrast_mixtures(weak_nodes(drawn.cells, terms, 100.0)[0], "table")
        places.append(found.weights @ ndtr((drawn.truth - found.means) / found.sds))
        probabilities.append(found.weights @ ndtr(found.means / found.sds))
        truths.append(drawn.truth)
        mean = found.weights @ found.means
        square = found.weights @ (found.sds**2 + found.means**2) - mean**2
        sds.append(float(np.sqrt(square).mean()))
    found_all = Calibration(np.array(places), np.array(probabilities), np.array(truths))
    return found_all, float(np.mean(sds))


def rows(tables: int = TABLES) -> Iterator[str]:
    """Yield the lines of the table."""
    yield "| tasters | rounds | moves | term | 90 % intervals hold | mean sd |"
    yield "|---|---|---|---|---|---|"
    for plan in PLANS:
        for move in MOVES if plan.rounds > 1 else (1.0,):
            for placings in (False, True) if plan.rounds > 1 else (False,):
                rng = np.random.default_rng(11)
                found, sd = study(plan, move, tables, rng, placings=placings)
                held, error = found.coverage(LEVEL), found.coverage_error(LEVEL)
                yield (
                    f"| {plan.tasters} | {plan.rounds} | {move:g} | {'yes' if placings else 'no'} "
                    f"| {100 * held:.1f} ± {100 * error:.1f} % | {sd:.1f} |"
                )


if __name__ == "__main__":
    for line in rows():
        print(line, flush=True)
