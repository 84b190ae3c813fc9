"""Quantiles of mixtures of normals, against SciPy's root finder, with and without a density."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from twobowls.statistics.mixtures import Mixture

pytestmark = pytest.mark.filterwarnings("error")


def mixture(weights: list[float], means: list[float], sds: list[float]) -> Mixture:
    share = np.array(weights) / np.sum(weights)
    return Mixture(share, np.array(means)[:, None], np.square(sds)[:, None, None])


def by_bisection(found: Mixture, share: float) -> float:
    """The root of the distribution function, by Brent's method to the last digits."""
    means, sds = found.means[:, 0], np.sqrt(found.covariances[:, 0, 0])

    def gap(x: float) -> float:
        return float(found.weights @ norm.cdf(x, means, sds)) - share

    reach = 10.0 * (np.ptp(means) + sds.max())
    return float(brentq(gap, means.min() - reach, means.max() + reach, xtol=1e-13, rtol=1e-15))


MIXTURES = {
    "one": mixture([1.0], [2.0], [0.5]),
    "narrow in wide": mixture([0.9, 0.1], [0.0, 1.0], [1e-4, 50.0]),
    "far apart": mixture([0.06, 0.94], [-1e4, 1e4], [1.0, 2.0]),
    "heavy": mixture([1.0, 1.0, 1.0], [0.0, 0.0, 0.0], [0.01, 1.0, 100.0]),
    "far from zero": mixture([1.0, 2.0], [1e9, 1e9 + 1.0], [1.0, 3.0]),
}


@pytest.mark.parametrize("name", MIXTURES)
@pytest.mark.parametrize("level", [0.5, 0.9, 0.999])
def test_quantiles_agree_with_brent(name: str, level: float) -> None:
    found = MIXTURES[name]
    _, sd = found.mean_and_sd([1.0])
    low, high = found.interval([1.0], level)
    for end, share in ((low, 0.5 - level / 2), (high, 0.5 + level / 2)):
        assert end == pytest.approx(by_bisection(found, share), abs=1e-9 * sd, rel=1e-12)


def test_quantiles_of_many_random_mixtures_agree_with_brent() -> None:
    rng = np.random.default_rng(8)
    for _ in range(200):
        size = int(rng.integers(1, 40))
        found = mixture(
            rng.exponential(size=size).tolist(),
            (10.0 * rng.standard_t(2, size)).tolist(),
            np.exp(2.0 * rng.normal(size=size)).tolist(),
        )
        level = float(rng.uniform(0.01, 0.999))
        _, sd = found.mean_and_sd([1.0])
        low, high = found.interval([1.0], level)
        assert low == pytest.approx(by_bisection(found, 0.5 * (1 - level)), abs=1e-9 * sd)
        assert high == pytest.approx(by_bisection(found, 0.5 * (1 + level)), abs=1e-9 * sd)


def test_points_without_width_are_their_own_quantiles() -> None:
    steps = mixture([0.2, 0.6, 0.2], [-1.0, 0.0, 4.0], [0.0, 0.0, 0.0])
    assert steps.interval([1.0], 0.5) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert steps.interval([1.0], 0.9) == pytest.approx((-1.0, 4.0), abs=1e-12)
    mixed = mixture([0.5, 0.5], [0.0, 0.0], [0.0, 1.0])
    assert mixed.interval([1.0], 0.4) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert mixed.interval([1.0], 0.9)[1] == pytest.approx(norm.ppf(0.9), abs=1e-9)


def test_where_the_distribution_function_is_flat_any_point_of_it_is_a_quantile() -> None:
    found = mixture([0.05, 0.95], [-30.0, 30.0], [1.0, 1.0])
    low, _ = found.interval([1.0], 0.9)
    assert found.chance_above([1.0], low) == pytest.approx(0.95, abs=1e-12)
