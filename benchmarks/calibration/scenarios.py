"""Which tables the study draws: plans with the truth from the prior, and truths that are odd."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from benchmarks.calibration.study import Truths
from benchmarks.calibration.tables import ORDINARY, Table, Truth, truth_from_prior

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
ROUNDS = Table(5, 8, 3)
ONCE = Table(4, 10, 1)
FEW = Table(4, 4, 2)
FIVE = Table(4, 5, 1)
FIFTY = Table(3, 50, 1)
QUIET = {**ORDINARY, "taster:coffee": 0.0}
LOUD = {**ORDINARY, "taster:coffee": 16.0}
NULL = {**ORDINARY, "coffee": 0.0, "coffee:round": 0.0}
NULL_QUIET = {**NULL, "taster:coffee": 0.0}
NULL_LOUD = {**NULL, "taster:coffee": 16.0}
WIDE = {**ORDINARY, "coffee": 15.0, "taster": 15.0}


@dataclass(frozen=True)
class Scenario:
    """One line of the report: ``group`` is prior, usual, odd or null."""

    group: str
    name: str
    table: Table
    truths: Truths = field(compare=False)

    @property
    def key(self) -> str:
        """Return a name that can be part of a file's name."""
        t = self.table
        plan = f"{t.coffees}x{t.tasters}x{t.rounds}"
        return "-".join([self.group, *self.name.split(), plan])


def _always(truth: Truth) -> Truths:
    return lambda _: truth


def _plan(table: Table) -> str:
    parts = ((table.coffees, "coffee"), (table.tasters, "taster"), (table.rounds, "round"))
    return ", ".join(f"{count} {name}{'s' * (count > 1)}" for count, name in parts)


def _rows(group: str, truths: dict[str, Truth], tables: tuple[Table, ...]) -> list[Scenario]:
    return [
        Scenario(group, name, table, _always(truth))
        for name, truth in truths.items()
        for table in tables
    ]


USUAL = {
    "as modelled": Truth(ORDINARY),
    "no disagreement": Truth(QUIET),
    "much disagreement": Truth(LOUD),
    "stretch": Truth(ORDINARY, stretch=0.4),
    "stretch, no disagreement": Truth(QUIET, stretch=0.4),
}
ODD = {
    "skewed marks": Truth(ORDINARY, skew=True),
    "ends of the scale": Truth(WIDE, ends=True),
    "one careless taster": Truth(ORDINARY, careless=1),
}
NOTHING = {
    "no difference": Truth(NULL),
    "no difference, no disagreement": Truth(NULL_QUIET),
    "no difference, much disagreement": Truth(NULL_LOUD),
    "no difference, one careless taster": Truth(NULL, careless=1),
    "no difference, skewed marks": Truth(NULL, skew=True),
}
SCENARIOS = (
    *(Scenario("prior", "from the prior", t, partial(truth_from_prior, t)) for t in PLANS),
    *_rows("odd", ODD, (ROUNDS, ONCE)),
    Scenario("odd", "one careless taster", FIVE, _always(Truth(ORDINARY, careless=1))),
    Scenario("odd", "two careless tasters", ONCE, _always(Truth(ORDINARY, careless=2))),
    Scenario("odd", "five careless tasters", FIFTY, _always(Truth(ORDINARY, careless=5))),
    *_rows("null", NOTHING, (ONCE, FEW)),
    Scenario("null", "no difference, one careless taster", FIVE, _always(Truth(NULL, careless=1))),
    Scenario("null", "no difference", ROUNDS, _always(Truth(NULL))),
    *_rows("usual", USUAL, (ROUNDS, ONCE)),
)
describe: Callable[[Table], str] = _plan


def generator(scenario: Scenario, piece: int) -> np.random.Generator:
    """Return the random numbers of one piece: the same whenever and in whatever order it runs."""
    name = int.from_bytes(scenario.key.encode(), "little")
    return np.random.default_rng([20261125, name, piece])
