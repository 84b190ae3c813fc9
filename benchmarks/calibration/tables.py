"""Made-up tables of marks with a known truth."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.mixed_model_levels import Cells, encode, gather
from twobowls.statistics.ratings_priors import DeviationPrior

Floats = NDArray[np.float64]

TERMS = ("coffee", "taster", "taster:coffee", "bowl", "round", "coffee:round", "taster:round")


@dataclass(frozen=True)
class Table:
    """A plan: how many of everything. One coffee in ``repeats`` more bowls is repeated."""

    coffees: int
    tasters: int
    rounds: int
    repeats: int = 1

    @property
    def terms(self) -> tuple[str, ...]:
        """The terms of the default model for this plan."""
        rounds = self.rounds > 1
        return tuple(term for term in TERMS if rounds or "round" not in term)


@dataclass(frozen=True)
class Truth:
    """Deviations by term (``residual`` among them), and the marks' peculiarities.

    ``stretch`` is the sd of each taster's log stretch, ``careless`` the number of tasters
    who mark at random, ``skew`` whether slips lean to one side, ``ends`` whether marks are
    cut at 0 and 100.
    """

    deviations: dict[str, float]
    stretch: float = 0.0
    careless: int = 0
    skew: bool = False
    ends: bool = False


ORDINARY = {
    "coffee": 12.0,
    "taster": 12.0,
    "taster:coffee": 8.0,
    "bowl": 3.0,
    "round": 6.0,
    "coffee:round": 3.0,
    "taster:round": 3.0,
    "residual": 9.0,
}


def truth_from_prior(table: Table, rng: np.random.Generator) -> Truth:
    """Draw all deviations from the engine's own priors."""
    prior = DeviationPrior.for_terms(table.terms, 100.0)
    values = prior.deviations(rng.standard_normal((1, len(table.terms) + 1))).values[0]
    return Truth(dict(zip([*table.terms, "residual"], values.tolist(), strict=True)))


@dataclass(frozen=True)
class Drawn:
    """Marks as cells, and the true contrasts a - b for people and for the table.

    ``stretched`` are those for people who stretch the scale as much as this table does.
    """

    cells: Cells
    people: Floats
    table: Floats
    stretched: Floats


def draw(table: Table, truth: Truth, rng: np.random.Generator) -> Drawn:
    """Draw effects and marks."""
    sd = {term: truth.deviations.get(term, 0.0) for term in (*TERMS, "residual")}
    n, t, r = table.coffees, table.tasters, table.rounds
    bowls = n + table.repeats
    coffee_of = np.array([*range(n), *([0] * table.repeats)])
    coffee = rng.normal(0, sd["coffee"], n)
    taster = rng.normal(0, sd["taster"], t)
    own = rng.normal(0, sd["taster:coffee"], (t, n))
    bowl = rng.normal(0, sd["bowl"], bowls)
    round_ = rng.normal(0, sd["round"], r)
    moving = rng.normal(0, sd["coffee:round"], (n, r))
    day = rng.normal(0, sd["taster:round"], (t, r))
    ti, bi, ri = (x.ravel() for x in np.meshgrid(range(t), range(bowls), range(r), indexing="ij"))
    ci = coffee_of[bi]
    stretch = np.exp(rng.normal(-0.5 * truth.stretch**2, truth.stretch, t))  # its mean is one
    signal = coffee[ci] + own[ti, ci] + bowl[bi] + moving[ci, ri]
    y = 50 + taster[ti] + stretch[ti] * signal + round_[ri] + day[ti, ri]
    y = y + sd["residual"] * (
        rng.gamma(2.0, size=len(y)) / 2**0.5 - 2**0.5 if truth.skew else rng.normal(size=len(y))
    )
    y = np.where(ti < truth.careless, rng.uniform(0, 100, len(y)), y)
    if truth.ends:
        y = np.clip(y, 0, 100)
    factors = {"taster": ti, "coffee": ci, "bowl": bi} | ({"round": ri} if r > 1 else {})
    cells = gather(y, {name: encode(name, codes) for name, codes in factors.items()})
    level = coffee + moving.mean(axis=1)
    first, second = np.triu_indices(n, 1)
    apart = level[first] - level[second]
    here = (stretch[:, None] * (level + own)).mean(axis=0)
    return Drawn(cells, apart, here[first] - here[second], stretch.mean() * apart)
