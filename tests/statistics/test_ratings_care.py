"""Careless marks count for less; opinions do not."""

import numpy as np
import pytest

from twobowls.statistics import ratings_care
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.careless_gains import careless_gains, taster_parts
from twobowls.statistics.mixed_model_levels import weighted
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_care import CARELESS, FACTOR, weigh_cells
from twobowls.statistics.ratings_columns import gather_columns
from twobowls.statistics.ratings_priors import DeviationPrior
from twobowls.statistics.ratings_terms import assemble
from twobowls.statistics.ratings_weak import weak_nodes


def table(
    careless: tuple[int, ...] = (), tasters: int = 8, rounds: int = 3, seed: int = 1
) -> RatingColumns:
    rng = np.random.default_rng(seed)
    shape = (tasters, 4, rounds)
    t, c, r = (each.ravel() for each in np.indices(shape))
    level, own, shift = np.linspace(-15, 15, 4), rng.normal(0, 7, shape[:2]), rng.normal(0, 8, 99)
    y = 50 + level[c] + own[t, c] + shift[t % 99] + rng.normal(0, 7, len(t))
    y = np.where(np.isin(t, careless), rng.uniform(0, 100, len(t)), y)
    return RatingColumns(y=np.clip(y, 0, 100), taster=t, coffee=c, round=r)


def dense_log_likelihood(
    columns: RatingColumns, names: tuple[str, ...], deviations: FloatArray, factors: FloatArray
) -> float:
    """REML log-likelihood by plain matrices; ``factors`` (n,) multiply each mark's slip."""
    y = np.asarray(columns.y) - np.mean(columns.y)
    V = np.diag((deviations[-1] * factors) ** 2)
    labels = {name: np.asarray(each) for name, each in columns.factors().items()}
    for name, deviation in zip(names, deviations, strict=False):
        alike = np.ones_like(V)
        for part in name.split(":"):
            alike = alike * (labels[part][:, None] == labels[part])
        V += deviation**2 * alike
    inverse = np.linalg.inv(V)
    pull = inverse.sum(axis=0)
    rss = y @ inverse @ y - (pull @ y) ** 2 / pull.sum()
    return float(-0.5 * (np.linalg.slogdet(V)[1] + np.log(pull.sum()) + rss))


@pytest.mark.parametrize("random", [("taster", "coffee", "taster:coffee"), ("coffee", "round")])
def test_gains_are_those_of_plain_matrices(random: tuple[str, ...]) -> None:
    columns = table(careless=(1,), tasters=4, rounds=2)
    cells = gather_columns(columns, np.asarray(columns.y), {"taster", "coffee", "round"})
    model = assemble(cells, random, ())
    deviations = np.array([*(8.0, 12.0, 6.0)[: len(random)], 9.0])
    weights = np.array([1.0, 0.4, 1.0, 0.8])
    found = careless_gains(model, taster_parts(model), deviations, weights, 3.0)
    taster = np.asarray(columns.taster)
    for k in range(4):
        logs = []
        for factor in (1.0, 3.0):
            factors = weights**-0.5
            factors[k] = factor
            logs.append(
                dense_log_likelihood(columns, model.random_names, deviations, factors[taster])
            )
        assert found[k] == pytest.approx(logs[1] - logs[0], rel=1e-6)


def brute_force_weights(
    columns: RatingColumns, terms: tuple[str, ...], draws: int
) -> tuple[FloatArray, FloatArray]:
    """Mean weight (T,) of each taster over all 2^T states and many draws from the prior, by plain
    matrices; and how far three independent runs of it are apart."""
    y, taster = np.asarray(columns.y) - np.mean(columns.y), np.asarray(columns.taster)
    tasters, careless = int(taster.max()) + 1, FACTOR**-2.0
    labels = {name: np.asarray(each) for name, each in columns.factors().items()}
    alike = [
        np.prod([labels[part][:, None] == labels[part] for part in name.split(":")], axis=0)
        for name in terms
    ]
    rng, prior = np.random.default_rng(0), DeviationPrior.for_terms(terms, 100.0)
    runs = []
    for _ in range(3):
        sizes = prior.deviations(rng.standard_normal((draws, len(terms) + 1))).values ** 2
        shared = np.tensordot(sizes[:, :-1], np.array(alike, dtype=float), axes=1)
        sums, logs = [], []
        for state in np.ndindex(*[2] * tasters):
            slips = np.where(np.array(state) == 1, 1.0 / careless, 1.0)[taster]
            V = shared + sizes[:, -1, None, None] * np.diag(slips)
            inverse = np.linalg.inv(V)
            pull = inverse.sum(axis=1)
            rss = np.einsum("i,kij,j->k", y, inverse, y) - (pull @ y) ** 2 / pull.sum(axis=1)
            value = -0.5 * (np.linalg.slogdet(V)[1] + np.log(pull.sum(axis=1)) + rss)
            logs.append(np.logaddexp.reduce(value) + sum(state) * np.log(CARELESS / (1 - CARELESS)))
            sums.append(np.where(np.array(state) == 1, careless, 1.0))
        shares = np.exp(np.array(logs) - np.logaddexp.reduce(logs))
        runs.append(shares @ np.array(sums))
    return np.mean(runs, axis=0), np.ptp(runs, axis=0)


@pytest.mark.parametrize("seed", [0, 1])
def test_weights_are_those_of_brute_force(seed: int) -> None:
    columns = table(careless=(1,), tasters=4, rounds=1, seed=seed)
    columns = RatingColumns(y=columns.y, taster=columns.taster, coffee=columns.coffee)
    terms = ("taster", "coffee", "taster:coffee")
    expected, apart = brute_force_weights(columns, terms, 5_000)
    assert float(apart.max()) < 0.05
    cells = gather_columns(columns, np.asarray(columns.y), {"taster", "coffee"})
    nodes, _ = weak_nodes(cells, terms, 100.0)
    # states of a share below 0.08 are left out; the draws are off by some 0.02
    assert nodes.care == pytest.approx(expected, abs=0.06)


def test_a_table_that_leaves_it_open_has_several_states() -> None:
    columns = table(careless=(1,), tasters=4, rounds=1)
    cells = gather_columns(columns, np.asarray(columns.y), {"taster", "coffee"})
    states = weigh_cells(cells, ("taster", "coffee", "taster:coffee"), 100.0)
    assert len(states) > 1
    nodes, _ = weak_nodes(cells, ("taster", "coffee", "taster:coffee"), 100.0)
    assert nodes.weights.sum() == pytest.approx(1.0)


def test_a_weight_is_a_larger_variance_of_slips() -> None:
    columns = table(tasters=3, rounds=2)
    cells = gather_columns(columns, np.asarray(columns.y), {"taster", "coffee"})
    weights = np.array([1.0, 0.25, 0.5])
    model = assemble(weighted(cells, weights[cells.factors["taster"].codes]), ("taster",), ())
    from twobowls.statistics.mixed_model_kernel import Kernel

    found = Kernel(model).deviance_parts(np.array([[0.5], [2.0]]))
    factors = (weights**-0.5)[np.asarray(columns.taster)]
    for k, ratio in enumerate((0.5, 2.0)):
        expected = dense_log_likelihood(columns, ("taster",), np.array([ratio**0.5, 1.0]), factors)
        logdet, rss = found[0][k], found[1][k]
        assert -0.5 * (logdet + 2 * np.log(factors).sum() + rss) == pytest.approx(expected)


def test_a_careless_taster_counts_for_less() -> None:
    fits = [fit_ratings(table(careless=(3,), seed=seed)) for seed in range(8)]
    told = "The marks of one taster scatter far more than the others', so they count for less."
    for fit in fits:
        assert [name for name, weight in fit.weights.items() if weight < 0.7] == ["3"]
        assert fit.weights["3"] < 0.4
        assert told in fit.cautions
    slips = np.mean([fit.variance["residual"] for fit in fits])
    assert slips == pytest.approx(49, rel=0.3)  # 131 where all count in full


def test_two_careless_tasters_are_both_found() -> None:
    fit = fit_ratings(table(careless=(3, 5)))
    assert fit.weights["3"] < 0.4
    assert fit.weights["5"] < 0.4
    assert any(each.startswith("The marks of 2 tasters scatter") for each in fit.cautions)


def test_contrasts_come_nearer_to_the_truth(monkeypatch: pytest.MonkeyPatch) -> None:
    believed, misses = ratings_care.LOG_ODDS, {}
    for odds in (believed, -100.0):
        monkeypatch.setattr(ratings_care, "LOG_ODDS", odds)
        fits = [fit_ratings(table(careless=(0,), tasters=6, seed=seed)) for seed in range(12)]
        away = [fit.people.contrasts[2].estimate for fit in fits]  # the first and the last coffee
        misses[odds] = np.mean([((each.mean + 30) / each.se) ** 2 for each in away])
    assert misses[believed] < 0.8 * misses[-100.0]


def test_an_opinion_of_ones_own_counts_in_full() -> None:
    columns = table()
    y = np.array(columns.y)
    own = np.asarray(columns.taster) == 2
    y[own] = 100 - y[own]  # likes everything the other way round, every time
    fit = fit_ratings(RatingColumns(y=y, **columns.factors()))
    assert "2" not in fit.weights


def test_steady_tables_are_left_alone() -> None:
    fits = [fit_ratings(table(seed=seed)) for seed in range(20, 32)]
    # a taster in a hundred may be suspected by chance: 96 tasters, three at most
    assert sum(len(fit.weights) for fit in fits) <= 3


def test_a_careless_taster_of_a_large_panel_is_found() -> None:
    fit = fit_ratings(table(careless=(3,), tasters=41, rounds=2))
    assert fit.weights["3"] < 0.4
    # a taster in a hundred may be suspected by chance
    assert len(fit.weights) <= 3


def test_who_is_steady_in_every_state_counts_in_full() -> None:
    columns = table(careless=(1,), tasters=4, rounds=1)
    fit = fit_ratings(RatingColumns(y=columns.y, taster=columns.taster, coffee=columns.coffee))
    assert set(fit.weights) == {"1"}
