"""Careless marks count for less; opinions do not."""

import numpy as np
import pytest

from twobowls.statistics import ratings_care
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_levels import weighted
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_care import (
    CARELESS,
    FACTORS,
    factor_chances,
    taster_parts,
)
from twobowls.statistics.ratings_columns import gather_columns
from twobowls.statistics.ratings_terms import assemble


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
def test_chances_are_those_of_plain_matrices(random: tuple[str, ...]) -> None:
    columns = table(careless=(1,), tasters=4, rounds=2)
    cells = gather_columns(columns, np.asarray(columns.y), {"taster", "coffee", "round"})
    model = assemble(cells, random, ())
    deviations = np.array([*(8.0, 12.0, 6.0)[: len(random)], 9.0])
    weights = np.array([1.0, 0.4, 1.0, 0.8])
    found = factor_chances(model, taster_parts(model), deviations, weights)
    taster = np.asarray(columns.taster)
    prior = np.array([1 - CARELESS] + [CARELESS / 4] * 4)
    for k in range(4):
        logs = []
        for factor in FACTORS:
            factors = weights**-0.5
            factors[k] = factor
            logs.append(
                dense_log_likelihood(columns, model.random_names, deviations, factors[taster])
            )
        expected = prior * np.exp(np.array(logs) - max(logs))
        assert found[k] == pytest.approx(expected / expected.sum(), rel=1e-6)


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
    misses = {}
    for chance in (CARELESS, 1e-12):
        monkeypatch.setattr(ratings_care, "LOG_PRIOR", np.log([1 - chance, *[chance / 4] * 4]))
        fits = [fit_ratings(table(careless=(0,), tasters=6, seed=seed)) for seed in range(12)]
        away = [fit.people.contrasts[2].estimate for fit in fits]  # the first and the last coffee
        misses[chance] = np.mean([((each.mean + 30) / each.se) ** 2 for each in away])
    assert misses[CARELESS] < 0.8 * misses[1e-12]


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


def test_large_panels_are_left_alone() -> None:
    fit = fit_ratings(table(careless=(3,), tasters=41, rounds=1))
    assert fit.weights == {}
