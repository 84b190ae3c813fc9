"""How often intervals of category fits and picks hold the truth, and how often a claim is false.

Truths are drawn from the models' own priors, tables are of the sizes people have. Every figure
has its Monte-Carlo standard error beside it; contrasts of one table go together, so the error
is that of the tables' own shares.
"""

import argparse
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations

import numpy as np
from scipy.special import ndtr

from twobowls.statistics.mixtures import Mixture
from twobowls.statistics.ordinal import OrdinalPrior, cross_labels, fit_ordinal
from twobowls.statistics.picks import PicksPrior, PickTable, count_picks, fit_picks
from twobowls.statistics.picks_joint import joint_marks_and_picks
from twobowls.statistics.picks_peak import answer_shares
from twobowls.statistics.picks_results import Dependence
from twobowls.statistics.spread_prior import spread

LEVELS = (0.50, 0.80, 0.90, 0.95)
CLEAR = 0.99


@dataclass
class Tally:
    """One entry a table: shares of its contrasts held at each level, and of those called clear."""

    held: list[list[float]] = field(default_factory=list)
    clear: list[float] = field(default_factory=list)

    def note(self, posterior: Mixture, lines: np.ndarray, truth: np.ndarray) -> None:
        """Write down one table: the posterior, what each coffee is in it, the true places."""
        off, sure = [], []
        for i, j in combinations(range(truth.size), 2):
            line = lines[i] - lines[j]
            off.append(abs(posterior.chance_above(line, float(truth[i] - truth[j])) - 0.5))
            sure.append(abs(posterior.chance_above(line) - 0.5))
        self.held.append([float(np.mean(np.array(off) <= level / 2)) for level in LEVELS])
        self.clear.append(float(np.mean(np.array(sure) >= CLEAR - 0.5)))

    def told(self) -> str:
        """Return all shares and their errors, in per cent."""
        shares = np.column_stack([np.array(self.held), self.clear])
        errors = 100 * shares.std(axis=0, ddof=1) / np.sqrt(len(shares))
        return "  ".join(
            f"{100 * share:5.1f} ±{error:3.1f}"
            for share, error in zip(shares.mean(axis=0), errors, strict=True)
        )


@dataclass(frozen=True)
class Plan:
    """A table of category ratings, and what is true of it.

    ``coffee`` and ``taster`` are the prior scales of the truth's standard deviations: 0 for no
    difference. ``disagreement`` is that of taster by coffee; with None the model has no such term.
    """

    coffees: int
    tasters: int
    repeats: int
    categories: int
    coffee: float = OrdinalPrior().effect_sd
    taster: float = OrdinalPrior().random_sd
    disagreement: float | None = None

    @property
    def title(self) -> str:
        """What the table is called in print."""
        words = f"{self.coffees} coffees {self.tasters} tasters x{self.repeats}, "
        words += f"{self.categories} categories"
        return words + ("" if self.disagreement is None else ", disagreeing")


Columns = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def draw_spread(scale: float, rng: np.random.Generator) -> float:
    """Draw how far coffees spread from its prior; zero for a scale of zero."""
    return float(spread(np.array(rng.normal()), scale))


def draw_thresholds(categories: int, rng: np.random.Generator) -> np.ndarray:
    """Draw from the prior: ordered normal numbers, kept as the pseudo-ratings make them likely."""
    prior = OrdinalPrior()
    while True:
        cuts = np.sort(rng.normal(0, prior.threshold_sd, categories - 1))
        shares = np.diff(np.concatenate([[0.0], ndtr(cuts), [1.0]]))
        logs = prior.pseudo_ratings * np.log(np.maximum(shares, 1e-300) * categories)
        if np.log(rng.random()) < logs.mean():
            return cuts


def draw_ratings(plan: Plan, rng: np.random.Generator) -> Columns:
    """Make up a table: the coffees' true places, then ratings, coffees and tasters by rating."""
    truth = rng.normal(0, draw_spread(plan.coffee, rng), plan.coffees)
    levels = rng.normal(0, abs(rng.normal()) * plan.taster, plan.tasters)
    spread = abs(rng.normal()) * (plan.disagreement or 0.0)
    own = rng.normal(0, spread, (plan.tasters, plan.coffees))
    cuts = draw_thresholds(plan.categories, rng) + truth.mean()
    c = np.tile(np.repeat(np.arange(plan.coffees), plan.repeats), plan.tasters)
    t = np.repeat(np.arange(plan.tasters), plan.coffees * plan.repeats)
    latent = truth[c] + levels[t] + own[t, c] + rng.normal(size=c.size)
    return truth, np.digitize(latent, cuts) + 1, c, t


def check_ratings(plan: Plan, rng: np.random.Generator, tally: Tally) -> None:
    """Draw a table, fit it, and note where the truth lies."""
    truth, rating, c, t = draw_ratings(plan, rng)
    random: dict[str, Iterable[object]] = {"taster": t}
    if plan.disagreement is not None:
        random["taster:coffee"] = cross_labels(t, c)
    names = [str(k + 1) for k in range(plan.categories)]
    fit = fit_ordinal(rating, {"coffee": c}, random, categories=names)
    effects = np.zeros((plan.coffees, len(fit.names)))
    for coffee in range(1, plan.coffees):
        effects[coffee, fit.names.index(f"coffee={coffee}")] = 1.0
    tally.note(fit.posterior, effects, truth)


def pick_all(
    rng: np.random.Generator, own: np.ndarray, picks: int, slope: float, tie: float
) -> PickTable:
    """Let every taster (row of ``own``) make ``picks`` picks of random pairs."""
    tasters, coffees = own.shape
    a, b, answers, who = [], [], [], []
    for taster in range(tasters):
        for _ in range(picks):
            i, j = rng.choice(coffees, 2, replace=False)
            odds = np.array([slope * (own[taster, i] - own[taster, j])])
            picked = rng.choice(3, p=answer_shares(odds, tie)[:, 0])
            a.append(f"c{i}")
            b.append(f"c{j}")
            answers.append([f"c{i}", f"c{j}", "same"][picked])
            who.append(f"t{taster}")
    return count_picks(a, b, answers, who)


def check_picks(
    rng: np.random.Generator,
    tally: Tally,
    *,
    coffees: int,
    tasters: int,
    picks: int,
    dependence: Dependence,
    differ: bool = True,
) -> None:
    """Draw picks by tasters with tastes of their own, fit them, and note where the truth lies."""
    prior = PicksPrior()
    truth = rng.normal(0, draw_spread(prior.ability_sd * differ, rng), coffees)
    own = truth + rng.normal(0, prior.spread * abs(rng.normal()), (tasters, coffees))
    fit = fit_picks(pick_all(rng, own, picks, 1.0, -0.5), dependence=dependence)
    order = [int(name[1:]) for name in fit.coffees]
    tally.note(fit.posterior, np.eye(len(order)), truth[order])


def check_joint(
    rng: np.random.Generator,
    tally: Tally,
    *,
    coffees: int,
    tasters: int,
    picks: int,
    disagreement: float,
    allow: bool,
) -> None:
    """Draw marks and picks of the same tasters, join them, and note where the truth lies."""
    noise = 10.0
    truth = rng.normal(50, 10, coffees)
    own = truth + rng.normal(0, disagreement, (tasters, coffees))
    marks = own + rng.normal(0, noise, own.shape)
    slope = np.pi / np.sqrt(6) / noise * np.exp(rng.normal())
    fit = joint_marks_and_picks(
        [f"c{i}" for i in range(coffees)],
        marks.mean(axis=0),
        np.eye(coffees) * (disagreement**2 + noise**2) / tasters,
        pick_all(rng, own, picks, slope, -0.7),
        noise_sd=noise,
        disagreement_sd=disagreement if allow else 0.0,
    )
    tally.note(fit.posterior, np.eye(coffees), truth)


def run(title: str, tables: int, simulate: Callable[[np.random.Generator, Tally], None]) -> None:
    """Print one line: shares held at each level, and the share called clear."""
    rng, tally = np.random.default_rng(7), Tally()
    for _ in range(tables):
        simulate(rng, tally)
    print(f"  {title:56} {tally.told()}", flush=True)


PLANS = (
    Plan(2, 1, 2, 5),
    Plan(2, 8, 2, 7),
    Plan(3, 4, 1, 5),
    Plan(4, 6, 1, 9),
    Plan(4, 8, 2, 5, disagreement=1.0),
    Plan(6, 10, 2, 7, disagreement=1.0),
    Plan(8, 12, 1, 7),
    Plan(12, 12, 1, 9),
)


def print_ratings(tables: int) -> None:
    """Print coverage when the truth is drawn from the prior, and claims when none is true."""
    print(f"\nCategory ratings, weak prior, {tables} tables each, truth drawn from the prior")
    print_head()
    for plan in PLANS:
        run(plan.title, tables, partial(check_ratings, plan))
    print("\nThe same, all coffees alike: every claim is false")
    print_head()
    for plan in PLANS:
        run(plan.title, tables, partial(check_ratings, replace(plan, coffee=0.0)))


def print_picks(tables: int) -> None:
    """Print the same for picks."""
    print(f"\nPicks, weak prior, {tables} tables each, tasters with tastes of their own")
    print_head()
    for coffees, tasters, picks in ((3, 5, 10), (4, 8, 6), (6, 8, 15), (4, 30, 6)):
        for dependence, words in (("tasters", "allowed for"), ("independent", "ignored")):
            work = partial(check_picks, coffees=coffees, tasters=tasters, picks=picks)
            title = f"{coffees} coffees {tasters} tasters, {picks} picks each, {words}"
            run(title, tables, partial(work, dependence=dependence))
        work = partial(work, dependence="tasters", differ=False)
        run(f"{coffees} coffees {tasters} tasters, {picks} picks each, all alike", tables, work)


def print_joint(tables: int) -> None:
    """Print the same for marks and picks in one posterior."""
    print(f"\nMarks and picks together, {tables} tables each")
    print_head()
    for coffees, tasters, picks, disagreement in (
        (4, 6, 6, 6.0), (3, 4, 10, 10.0), (5, 30, 5, 8.0), (4, 8, 6, 0.0),
    ):  # fmt: skip
        for allow in (True, False) if disagreement else (True,):
            title = f"{coffees} coffees {tasters} tasters, {picks} picks, "
            title += f"disagreement {disagreement:g}" + ("" if allow else ", ignored")
            work = partial(check_joint, coffees=coffees, tasters=tasters, picks=picks)
            run(title, tables, partial(work, disagreement=disagreement, allow=allow))


def print_head() -> None:
    """Print what the columns are, in per cent."""
    print(f"  {'':56} " + "  ".join(f"{100 * level:3.0f} %      " for level in LEVELS) + " clear")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tables", type=int, default=200)
    parser.add_argument("--only", choices=("ratings", "picks", "joint"))
    chosen = parser.parse_args()
    parts = {"ratings": print_ratings, "picks": print_picks, "joint": print_joint}
    for name, work in parts.items():
        if chosen.only in (None, name):
            work(chosen.tables)


if __name__ == "__main__":
    main()
