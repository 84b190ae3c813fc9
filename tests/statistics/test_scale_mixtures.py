"""Posteriors kept as a few normals: quantiles of pairs against draws, variances as they were."""

import numpy as np
import pytest
from scipy.stats import chi2

from twobowls.statistics.scale_mixtures import SHARES, PairSpread, mixture_scales

NARROW = (0.6, 0.7, 0.8, 1.0, 1.2, 1.6, 2.4, 5.0)
EVEN = (1.0,) * len(SHARES)


def test_shares_are_a_whole() -> None:
    assert SHARES.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("level", [0.5, 0.9, 0.99])
def test_one_normal_reaches_as_far_as_chi_squared(level: float) -> None:
    for spread in (PairSpread((), (), 0.6), PairSpread(EVEN, EVEN, -0.3)):
        assert spread.reach(level) == pytest.approx(chi2.ppf(level, 2) ** 0.5, rel=1e-6)


@pytest.mark.parametrize("correlation", [0.0, 0.7])
def test_pairs_reach_as_far_as_draws_do(correlation: float) -> None:
    rng = np.random.default_rng(4)
    draws = 400_000
    picked = rng.choice(len(SHARES), size=draws, p=SHARES)
    normal = rng.standard_normal((2, draws))
    normal[1] = correlation * normal[0] + (1 - correlation**2) ** 0.5 * normal[1]
    size = (SHARES @ np.square(NARROW)) ** 0.5
    x, y = np.array(NARROW)[picked] / size * normal[0], normal[1]
    away = np.sqrt((x**2 - 2 * correlation * x * y + y**2) / (1 - correlation**2))
    spread = PairSpread(NARROW, EVEN, correlation)
    for level in (0.5, 0.8, 0.9, 0.95, 0.99):
        # four standard errors of a share of so many draws
        bound = 4 * (level * (1 - level) / draws) ** 0.5
        assert np.mean(away <= spread.reach(level)) == pytest.approx(level, abs=bound)


def test_few_normals_keep_the_variance_and_nearly_the_quantiles() -> None:
    rng = np.random.default_rng(1)
    sd = np.exp(rng.normal(0.0, 0.6, (3_000, 1)))
    mean = rng.normal(0.0, 0.2, (3_000, 1))
    weights = rng.dirichlet(np.ones(3_000))
    (found,) = mixture_scales(weights, mean, sd)
    centre = weights @ mean[:, 0]
    assert SHARES @ found**2 == pytest.approx(
        weights @ (sd[:, 0] ** 2 + (mean[:, 0] - centre) ** 2)
    )
    picked = rng.choice(3_000, size=400_000, p=weights)
    away = np.abs(rng.normal(mean[picked, 0], sd[picked, 0]) - centre)
    few = np.abs(found[rng.choice(len(SHARES), 400_000, p=SHARES)] * rng.standard_normal(400_000))
    for level in (0.5, 0.8, 0.9, 0.95):
        assert np.quantile(few, level) == pytest.approx(np.quantile(away, level), rel=0.03)
