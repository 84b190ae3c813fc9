"""Run the study: ``python -m benchmarks.calibration [--datasets N]`` and print its tables."""

import argparse
from collections.abc import Callable
from typing import get_args

import numpy as np

from benchmarks.calibration.study import LEVELS, Calibration, calibrate
from benchmarks.calibration.tables import ORDINARY, Table, Truth, truth_from_prior
from twobowls.statistics.ratings_results import Population

PLANS = (
    Table(2, 1, 1),
    Table(3, 2, 2),
    Table(4, 4, 1),
    Table(3, 8, 3),
    Table(5, 8, 3),
    Table(8, 12, 1, repeats=2),
    Table(4, 20, 4),
    Table(12, 12, 1, repeats=2),
    Table(3, 50, 1),
)
QUIET = {**ORDINARY, "taster:coffee": 0.0}
NULL = {**ORDINARY, "coffee": 0.0, "coffee:round": 0.0}
ODD: dict[str, Truth] = {
    "as modelled": Truth(ORDINARY),
    "no disagreement": Truth(QUIET),
    "stretch": Truth(ORDINARY, stretch=0.4),
    "skewed slips": Truth(ORDINARY, skew=True),
    "ends of the scale": Truth({**ORDINARY, "coffee": 15.0, "taster": 15.0}, ends=True),
    "one careless taster": Truth(ORDINARY, careless=1),
    "no difference at all": Truth(NULL),
}


def line(name: str, found: Calibration) -> str:
    """One row of a table."""
    cover = "  ".join(
        f"{100 * found.coverage(level):5.1f} ±{100 * found.coverage_error(level):3.1f}"
        for level in LEVELS
    )
    return (
        f"{name:28} {cover}  {100 * found.clear_claims():5.1f} %  "
        f"{found.uniformity():.3f} ({1.36 / len(found.places) ** 0.5:.3f})"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--datasets", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    rng = np.random.default_rng(chosen.seed)
    head = f"{'':28} " + "  ".join(f"{100 * level:5.0f} %    " for level in LEVELS)
    for population in get_args(Population):
        print(f"\nTruth drawn from the prior, {population}\n{head} clear   uniformity (5 % bound)")
        for plan in PLANS:
            name = f"{plan.coffees} coffees {plan.tasters} tasters {plan.rounds} rounds"
            found = calibrate(plan, _prior(plan), chosen.datasets, rng, population)
            print(line(name, found), flush=True)
    print(f"\nWhat the model does not know of, people, 5 coffees 8 tasters 3 rounds\n{head} clear")
    for name, truth in ODD.items():
        found = calibrate(Table(5, 8, 3), _always(truth), chosen.datasets, rng)
        print(line(name, found), flush=True)


def _prior(plan: Table) -> Callable[[np.random.Generator], Truth]:
    return lambda rng: truth_from_prior(plan, rng)


def _always(truth: Truth) -> Callable[[np.random.Generator], Truth]:
    return lambda _: truth


if __name__ == "__main__":
    main()
