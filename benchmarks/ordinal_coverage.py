"""How often intervals of category fits and picks hold the truth, by simulation.

Truths are drawn from priors like the models' own; tables are of the sizes people have.
"""

from collections.abc import Callable, Iterable
from functools import partial

import numpy as np

from twobowls.statistics.mixtures import Mixture
from twobowls.statistics.ordinal import cross_labels, fit_ordinal
from twobowls.statistics.ordinal_means import category_contrasts
from twobowls.statistics.picks import PickTable, count_picks, fit_picks
from twobowls.statistics.picks_joint import joint_marks_and_picks
from twobowls.statistics.picks_peak import answer_shares

LEVELS = (0.50, 0.80, 0.90, 0.95)
TABLES = 200
Hits = dict[float, list[bool]]


def _line(size: int, i: int, j: int) -> np.ndarray:
    return np.asarray(np.eye(size)[i] - np.eye(size)[j])


def _note(hits: Hits, posterior: Mixture, names: Iterable[str], truth: np.ndarray) -> None:
    """Write down, for every pair, which intervals hold the true difference."""
    order = [int(name[1:]) for name in names]
    for i in range(len(order)):
        for j in range(i):
            real = truth[order[i]] - truth[order[j]]
            for level in LEVELS:
                low, high = posterior.interval(_line(len(order), i, j), level)
                hits[level].append(low <= real <= high)


def _report(title: str, simulate: Callable[[np.random.Generator, Hits], None]) -> None:
    rng = np.random.default_rng(7)
    hits: Hits = {level: [] for level in LEVELS}
    for _ in range(TABLES):
        simulate(rng, hits)
    told = "  ".join(f"{level:.0%} {np.mean(each):6.1%}" for level, each in hits.items())
    print(f"  {title:58} {told}")


def _categories(
    rng: np.random.Generator,
    hits: Hits,
    *,
    coffees: int,
    tasters: int,
    repeats: int,
    categories: int,
    disagree: bool,
) -> None:
    truth = rng.normal(0, 2, coffees)
    levels = rng.normal(0, abs(rng.normal()), tasters)
    own = rng.normal(0, abs(rng.normal()) if disagree else 0.0, (tasters, coffees))
    shares = rng.dirichlet(np.full(categories, 1.5))
    cuts = np.quantile(rng.normal(size=20_000), np.cumsum(shares)[:-1]) + truth.mean()
    c = np.tile(np.repeat(np.arange(coffees), repeats), tasters)
    t = np.repeat(np.arange(tasters), coffees * repeats)
    rating = np.digitize(truth[c] + levels[t] + own[t, c] + rng.normal(size=c.size), cuts) + 1
    random: dict[str, Iterable[object]] = {"taster": t}
    if disagree:
        random["taster:coffee"] = cross_labels(t, c)
    names = [str(k + 1) for k in range(categories)]
    fit = fit_ordinal(rating, {"coffee": c}, random, categories=names)
    for level in LEVELS:
        for each in category_contrasts(fit, "coffee", level):
            low, high = each.estimate.interval
            hits[level].append(low <= truth[int(each.a)] - truth[int(each.b)] <= high)


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


def _picks(
    rng: np.random.Generator, hits: Hits, *, coffees: int, tasters: int, picks: int, allow: bool
) -> None:
    truth = rng.normal(0, 1.5, coffees)
    own = truth + rng.normal(0, abs(rng.normal()), (tasters, coffees))
    table = pick_all(rng, own, picks, 1.0, -0.5)
    fit = fit_picks(table, dependence="tasters" if allow else "independent")
    _note(hits, fit.posterior, fit.coffees, truth)


def _joint(
    rng: np.random.Generator,
    hits: Hits,
    *,
    coffees: int,
    tasters: int,
    picks: int,
    disagreement: float,
    allow: bool,
) -> None:
    noise = 10.0
    truth = rng.normal(50, 10, coffees)
    own = truth + rng.normal(0, disagreement, (tasters, coffees))
    marks = own + rng.normal(0, noise, own.shape)
    slope = np.pi / np.sqrt(6) / noise * np.exp(rng.normal())
    names = [f"c{i}" for i in range(coffees)]
    fit = joint_marks_and_picks(
        names,
        marks.mean(axis=0),
        np.eye(coffees) * (disagreement**2 + noise**2) / tasters,
        pick_all(rng, own, picks, slope, -0.7),
        noise_sd=noise,
        disagreement_sd=disagreement if allow else 0.0,
    )
    _note(hits, fit.posterior, names, truth)


def print_coverage() -> None:
    """Print the share of contrasts held, by kind of fit and size of table."""
    print(f"Category ratings, weak prior ({TABLES} tables each)")
    for coffees, tasters, repeats, categories, disagree in (
        (2, 1, 2, 5, False), (3, 3, 1, 5, False), (4, 6, 1, 9, False), (4, 8, 2, 5, True),
    ):  # fmt: skip
        title = f"{coffees} coffees, {tasters} tasters, {repeats} each, {categories} categories"
        work = partial(
            _categories,
            coffees=coffees,
            tasters=tasters,
            repeats=repeats,
            categories=categories,
            disagree=disagree,
        )
        _report(title + (", disagreeing" if disagree else ""), work)
    print("Picks, tasters with tastes of their own")
    for coffees, tasters, picks in ((4, 8, 6), (3, 5, 10), (6, 8, 15), (4, 30, 6)):
        for allow in (True, False):
            title = f"{coffees} coffees, {tasters} tasters, {picks} picks each"
            title += ", allowed for" if allow else ", taken as independent"
            _report(
                title, partial(_picks, coffees=coffees, tasters=tasters, picks=picks, allow=allow)
            )
    print("Marks and picks together")
    for coffees, tasters, picks, disagreement in (
        (4, 6, 6, 6.0), (3, 4, 10, 10.0), (5, 30, 5, 8.0), (4, 8, 6, 0.0),
    ):  # fmt: skip
        for allow in (True, False) if disagreement else (True,):
            title = f"{coffees} coffees, {tasters} tasters, {picks} picks, "
            title += f"disagreement {disagreement:g}"
            work = partial(
                _joint,
                coffees=coffees,
                tasters=tasters,
                picks=picks,
                disagreement=disagreement,
                allow=allow,
            )
            _report(title + ("" if allow else ", ignored"), work)
