"""The elimination taster by taster against plain dense matrices, slopes against differences."""

import numpy as np
import pytest

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_arrow import ArrowBlocks, finest
from twobowls.statistics.mixed_model_blocks import SharedBlocks, StackedBlocks
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_kernel import Kernel
from twobowls.statistics.mixed_model_levels import Cells
from twobowls.statistics.mixed_model_moments import Reporter
from twobowls.statistics.mixed_model_star import StarBlocks
from twobowls.statistics.ratings_columns import RatingColumns, gather_columns
from twobowls.statistics.ratings_terms import assemble, weak_terms


def table(tasters: int, coffees: int, rounds: int, keep: float, seed: int) -> RatingColumns:
    rng = np.random.default_rng(seed)
    grid = [(t, c, r) for t in range(tasters) for c in range(coffees) for r in range(rounds)]
    grid = [cell for cell in grid if rng.random() < keep]
    position = rng.integers(0, coffees, len(grid))
    y = 50 + 10 * rng.standard_normal(len(grid))
    return RatingColumns(
        y=y,
        taster=[f"t{t}" for t, _, _ in grid],
        coffee=[f"c{c}" for _, c, _ in grid],
        round=[f"r{r}" for _, _, r in grid],
        position=[int(p) for p in position],
    )


def make(
    columns: RatingColumns, random: tuple[str, ...], fixed: tuple[str, ...]
) -> tuple[Cells, Model]:
    cells = gather_columns(columns, np.asarray(columns.y), set(columns.factors()))
    return cells, assemble(cells, random, fixed)


def indicator(columns: RatingColumns, name: str) -> FloatArray:
    labels = [
        ":".join(each)
        for each in zip(*(map(str, columns.factors()[p]) for p in name.split(":")), strict=True)
    ]
    levels = sorted(set(labels))
    return np.array([[float(label == level) for level in levels] for label in labels])


def dense_parts(
    columns: RatingColumns, kernel_names: tuple[str, ...], ratios: FloatArray, X: FloatArray
) -> tuple[float, float]:
    """log det V + log det X'V^-1 X and y'Py by plain linear algebra."""
    y = np.asarray(columns.y) - np.mean(columns.y)
    V = np.eye(len(y))
    for name, ratio in zip(kernel_names, ratios, strict=True):
        Z = indicator(columns, name)
        V += ratio * Z @ Z.T
    inverse = np.linalg.inv(V)
    information = X.T @ inverse @ X
    P = inverse - inverse @ X @ np.linalg.solve(information, X.T @ inverse)
    return np.linalg.slogdet(V)[1] + np.linalg.slogdet(information)[1], y @ P @ y


CASES = {
    "same designs": (12, 3, 2, 1.0, ("taster", "taster:coffee", "taster:round")),
    "few designs": (3, 4, 2, 1.0, ("taster", "taster:coffee", "taster:round", "coffee")),
    "own designs, star": (40, 5, 3, 0.7, ("taster", "taster:coffee", "position")),
    "own designs, one term": (40, 5, 3, 0.7, ("taster", "coffee")),
    "own designs, finer term only": (40, 5, 3, 0.7, ("taster:coffee",)),
    "own designs, three terms": (40, 4, 3, 0.7, ("taster", "taster:coffee", "taster:round")),
    "own designs, all terms": (
        40,
        3,
        4,
        0.6,
        ("taster", "taster:coffee", "taster:round", "coffee", "round", "coffee:round", "position"),
    ),
    "crossed only": (6, 4, 2, 0.9, ("coffee", "round", "coffee:round")),
}
KINDS: dict[str, set[type]] = {
    "same designs": {SharedBlocks},
    "few designs": {StackedBlocks},
    "own designs, star": {StarBlocks},
    "own designs, one term": {StackedBlocks, SharedBlocks},
    "own designs, finer term only": {StarBlocks},
    "own designs, three terms": {ArrowBlocks},
    "own designs, all terms": {ArrowBlocks},
    "crossed only": set(),
}


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("case", CASES)
def test_deviance_parts_equal_dense_algebra(case: str, turned: bool) -> None:
    tasters, coffees, rounds, keep, random = CASES[case]
    columns = table(tasters, coffees, rounds, keep, seed=4)
    fixed = () if {"coffee", "round"} & set(random) else ("coffee",)
    _, model = make(columns, random, fixed)
    kernel = Kernel(model, turned=turned)
    kinds = {type(part) for part in kernel.eliminations}
    assert (
        turned or kinds == KINDS[case] or (case == "own designs, one term" and kinds <= KINDS[case])
    )
    rng = np.random.default_rng(1)
    ratios = rng.uniform(0.0, 2.0, (3, len(random)))
    ratios[1, 0] = 0.0
    X = np.ones((len(columns.y), 1))
    if fixed:
        X = np.concatenate([X, indicator(columns, "coffee")[:, 1:]], axis=1)
    found = kernel.evaluate(ratios)
    parts = kernel.deviance_parts(ratios)
    for k in range(3):
        logdet, rss = dense_parts(columns, model.random_names, ratios[k], X)
        assert found.logdet[k] == pytest.approx(logdet, rel=1e-10)
        assert found.rss[k] == pytest.approx(rss, rel=1e-10)
    assert parts[0] == pytest.approx(found.logdet, rel=1e-12)
    assert parts[1] == pytest.approx(found.rss, rel=1e-12)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("case", CASES)
def test_slopes_equal_differences(case: str, turned: bool) -> None:
    tasters, coffees, rounds, keep, random = CASES[case]
    columns = table(tasters, coffees, rounds, keep, seed=5)
    kernel = Kernel(make(columns, random, ())[1], turned=turned)
    at = np.random.default_rng(2).uniform(0.1, 2.0, (1, len(random)))
    found = kernel.evaluate(at)
    for term in range(len(random)):
        step = 1e-5 * (np.arange(len(random)) == term)
        up, down = kernel.evaluate(at + step), kernel.evaluate(at - step)
        logdet = (up.logdet - down.logdet) / 2e-5
        rss = (up.rss - down.rss) / 2e-5
        assert found.logdet_slopes[0, term] == pytest.approx(logdet[0], rel=1e-6, abs=1e-6)
        assert found.rss_slopes[0, term] == pytest.approx(rss[0], rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("keep", [1.0, 0.7])
def test_moments_equal_those_of_the_joint_normal(keep: float, turned: bool) -> None:
    # With the effects normal and a very vague intercept, conditional moments follow from the
    # joint covariance of effects and marks.
    columns = table(4, 3, 2, keep, seed=8)
    random = ("taster", "taster:coffee", "taster:round", "coffee", "round", "coffee:round")
    _, model = make(columns, random, ())
    reporter = Reporter(model, Kernel(model, turned=turned), 2, crossed=True)
    names = model.random_names
    ratios = np.linspace(0.3, 1.4, len(names))
    found = reporter.moments(ratios[None])
    y = np.asarray(columns.y) - np.mean(columns.y)

    def features(name: str, levels: list[str]) -> FloatArray:
        """Indicator of each level, for given lists of labels."""
        labels = [
            ":".join(x)
            for x in zip(*(map(str, columns.factors()[p]) for p in name.split(":")), strict=True)
        ]
        return np.array([[float(label == level) for level in levels] for label in labels])

    vague = 1e7
    V = np.eye(len(y)) + vague
    cross = np.full((4, len(y)), vague)
    prior = np.full((4, 4), vague)
    tasters, rounds = [f"t{i}" for i in range(4)], ["r0", "r1"]
    for name, ratio in zip(names, ratios, strict=True):
        weights: dict[str, np.ndarray] = {}
        for quantity, (coffee, within) in enumerate([("c1", ["r0"]), ("c2", rounds)] * 2):
            people = quantity < 2
            parts = name.split(":")
            if people and "taster" in parts:
                continue
            choices = {"taster": tasters, "coffee": [coffee], "round": within}
            grid: list[list[str]] = [[]]
            for part in parts:
                grid = [[*row, level] for row in grid for level in choices[part]]
            for row in grid:
                vector = weights.setdefault(":".join(row), np.zeros(4))
                vector[quantity] += 1.0 / len(grid)
        Z = indicator(columns, name)
        V += ratio * Z @ Z.T
        levels = list(weights)
        W = np.array([weights[level] for level in levels]).reshape(len(levels), 4)
        cross += ratio * W.T @ features(name, levels).reshape(len(y), len(levels)).T
        prior += ratio * W.T @ W
    gain = np.linalg.solve(V, cross.T).T
    mean, covariance = gain @ y, prior - gain @ cross.T
    cell = 2  # coffee 1 in round 0
    for moments, at in ((found.people, slice(0, 2)), (found.table, slice(2, 4))):
        mine = [moments.cell_mean[0, cell], moments.mean[0, 2]]
        spread = [moments.cell_variance[0, cell], moments.covariance[0, 2, 2]]
        assert mine == pytest.approx(mean[at], rel=1e-5, abs=1e-5)
        assert spread == pytest.approx(np.diag(covariance)[at], rel=1e-4, abs=1e-5)
        apart = (
            moments.covariance[0, 1, 1]
            + moments.covariance[0, 2, 2]
            - 2 * moments.covariance[0, 1, 2]
        )
        average = moments.cell_mean[0].reshape(3, 2).mean(axis=1)
        assert moments.mean[0] == pytest.approx(average, rel=1e-9)
        assert apart > 0


@pytest.mark.parametrize(("tasters", "rounds", "keep"), [(8, 3, 1.0), (5, 1, 1.0), (4, 2, 0.7)])
def test_contrasts_say_of_an_evening_with_bowls_what_all_columns_say(
    tasters: int, rounds: int, keep: float
) -> None:
    # one coffee stands in two bowls; each bowl's effect is a part of the marks, and of no mean
    rng = np.random.default_rng(3)
    rows = [
        (f"t{t}", f"c{max(b - 1, 0)}", f"r{r}", int(place) + 1, f"b{b}")
        for t in range(tasters)
        for r in range(rounds)
        for b, place in enumerate(rng.permutation(5))
        if rng.random() < keep
    ]
    taster, coffee, round_, position, bowl = zip(*rows, strict=True)
    columns = RatingColumns(
        y=50 + 10 * rng.standard_normal(len(rows)),
        taster=taster,
        coffee=coffee,
        round=round_ if rounds > 1 else None,
        position=position,
        bowl=bowl,
    )
    cells = gather_columns(columns, np.asarray(columns.y), set(columns.factors()))
    model = assemble(cells, weak_terms(cells), ())
    plain, turned = Kernel(model), Kernel(model, turned=True)
    assert turned.size < plain.size
    ratios = np.exp(rng.normal(-1, 1.5, (20, plain.terms)))
    for theirs, ours in zip(
        plain.deviance_parts(ratios), turned.deviance_parts(ratios), strict=True
    ):
        assert ours == pytest.approx(theirs, rel=1e-10)
    per = rounds if rounds > 1 else 0
    whole = Reporter(model, plain, per, crossed=True).moments(ratios)
    few = Reporter(model, turned, per, crossed=True).moments(ratios)
    for expected, found in ((whole.people, few.people), (whole.table, few.table)):
        assert found.mean == pytest.approx(expected.mean, rel=1e-8, abs=1e-8)
        assert found.covariance == pytest.approx(expected.covariance, rel=1e-8)
        assert found.cell_mean == pytest.approx(expected.cell_mean, rel=1e-8, abs=1e-8)
        assert found.cell_variance == pytest.approx(expected.cell_variance, rel=1e-8)


@pytest.mark.parametrize("stretched", [False, True])
def test_the_largest_term_first_is_one_inverse_a_taster(stretched: bool) -> None:
    # missing coffees and rounds shift a taster's columns; a ratio of zero leaves a term out
    columns = table(30, 5, 3, 0.5, seed=11)
    cells = gather_columns(columns, np.asarray(columns.y), set(columns.factors()))
    slope = np.linspace(-0.2, 0.3, 5) if stretched else None
    model = assemble(cells, weak_terms(cells), (), slope)
    blocks = Kernel(model).within
    assert blocks is not None
    every = np.arange(model.tasters)
    fine = finest(blocks)
    assert fine is not None
    assert model.nested[fine].name == "taster:coffee"
    found = ArrowBlocks.make(blocks, every, fine)
    plain = StackedBlocks(blocks.products, blocks.borders, every, blocks.shares)
    rng = np.random.default_rng(2)
    ratios = rng.uniform(0.0, 2.0, (4, len(model.nested)))
    ratios[0, 0] = ratios[1, fine] = ratios[2, :] = 0.0
    ours, theirs = found.reduce(ratios), plain.reduce(ratios)
    weights = rng.standard_normal((4, *ours.products.shape[1:]))
    weights += weights.mT
    assert ours.logdet_slopes() == pytest.approx(theirs.logdet_slopes(), rel=1e-10)
    assert ours.slopes(weights) == pytest.approx(theirs.slopes(weights), rel=1e-9)
    assert ours.logdet == pytest.approx(theirs.logdet, rel=1e-11, abs=1e-11)
    scale = float(np.abs(theirs.products).max())
    assert ours.products == pytest.approx(theirs.products, rel=1e-10, abs=1e-12 * scale)
