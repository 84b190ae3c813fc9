"""A short version of the calibration study in `benchmarks/calibration`."""

from functools import partial

import numpy as np
import pytest
from benchmarks.calibration.study import LEVELS, calibrate
from benchmarks.calibration.tables import ORDINARY, Table, Truth, truth_from_prior

from twobowls.statistics.ratings_results import Population


@pytest.mark.parametrize(
    ("plan", "datasets"),
    [(Table(2, 1, 1), 100), (Table(3, 2, 2), 40), (Table(4, 6, 1), 40)],
    ids=str,
)
@pytest.mark.parametrize("population", ["people", "table"])
def test_intervals_hold_what_they_promise_when_the_prior_is_true(
    plan: Table, datasets: int, population: Population
) -> None:
    rng = np.random.default_rng(7)
    found = calibrate(plan, lambda r: truth_from_prior(plan, r), datasets, rng, population)
    for level in LEVELS:
        # three standard errors of the simulation, as seen or as expected
        expected = (level * (1 - level) / datasets) ** 0.5
        bound = 3 * max(found.coverage_error(level), expected)
        assert found.coverage(level) == pytest.approx(level, abs=bound)
    # Kolmogorov's bound at 0.1 %
    assert found.uniformity() < 1.95 / datasets**0.5


def _same(truth: Truth, _: np.random.Generator) -> Truth:
    return truth


def test_hardly_any_clear_claim_where_there_is_no_difference() -> None:
    rng = np.random.default_rng(3)
    null = Truth({**ORDINARY, "coffee": 0.0, "coffee:round": 0.0})
    for plan in (Table(5, 8, 1), Table(4, 20, 1), Table(3, 3, 2)):
        assert calibrate(plan, lambda _: null, 30, rng).clear_claims() <= 0.01


def test_intervals_stay_honest_with_a_careless_taster_and_skewed_slips() -> None:
    rng = np.random.default_rng(5)
    for truth in (
        Truth(ORDINARY, careless=1),
        Truth(ORDINARY, skew=True),
        Truth(ORDINARY, stretch=0.3),
    ):
        found = calibrate(Table(4, 10, 1), partial(_same, truth), 50, rng)
        assert found.coverage(0.90) > 0.85 - 2 * found.coverage_error(0.90)
