"""The integration over the deviations must reach the tails, not only the middle.

Held against 200,000 draws from the prior, weighed by the likelihood: slow, but it cannot miss a
tail. A proposal that is lighter-tailed than the posterior shows here as standard errors of
contrasts that are too small, while the effective number of points looks fine.
"""

import numpy as np
import pytest

from twobowls.statistics import ratings_integral, ratings_weak
from twobowls.statistics.ratings import fit_ratings
from twobowls.statistics.ratings_columns import RatingColumns
from twobowls.statistics.ratings_integral import Posterior, Weighted
from twobowls.statistics.ratings_results import RatingFit

BOWLS = {"b1": "A", "b2": "B", "b3": "C", "b4": "A"}
LEVEL = {"A": 60.0, "B": 50.0, "C": 40.0}


def _table(seed: int, tasters: int = 4, bowls: dict[str, str] = BOWLS) -> RatingColumns:
    rng = np.random.default_rng(seed)
    offset = rng.normal(0, 8, tasters)
    own = {(t, c): rng.normal(0, 6) for t in range(tasters) for c in LEVEL}
    rows = []
    for t in range(tasters):
        order = list(rng.permutation(list(bowls)))
        for round_key in ("hot", "warm", "cool"):
            for bowl, coffee in bowls.items():
                y = LEVEL[coffee] + offset[t] + own[t, coffee] + rng.normal(0, 8)
                rows.append((y, f"t{t}", coffee, round_key, order.index(bowl), bowl))
    marks, who, what, when, place, vessel = zip(*rows, strict=True)
    return RatingColumns(
        y=np.array(marks), taster=who, coffee=what, round=when, position=place, bowl=vessel
    )


def _from_the_prior(posterior: Posterior, peak: object = None) -> Weighted:
    """Weigh 60,000 draws from the prior by the likelihood: slow, but it cannot miss a tail."""
    rng = np.random.default_rng(1)
    z = rng.standard_normal((60_000, posterior.kernel.terms + 1))
    parts = np.array_split(z, 60)
    log_likelihood = np.concatenate(
        [posterior.values(part) + 0.5 * (part * part).sum(axis=1) for part in parts]
    )
    weights = np.exp(log_likelihood - log_likelihood.max())
    keep = weights > 1e-6 * weights.max()
    weights = weights[keep] / weights[keep].sum()
    return Weighted(z[keep], weights, 1.0 / float(weights @ weights), 0.0)


def _standard_errors(fit: RatingFit) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([contrast.estimate.se for contrast in fit.people.contrasts])


@pytest.mark.parametrize("seed", [0, 1])
def test_standard_errors_hold_against_brute_force(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    columns = _table(seed)
    quick = fit_ratings(columns)
    for module in (ratings_integral, ratings_weak):
        monkeypatch.setattr(module, "weigh_points", _from_the_prior)
    slow = fit_ratings(columns)

    # some hundred effective draws in the slow way: 4 % of a standard error is its own noise
    np.testing.assert_allclose(_standard_errors(quick), _standard_errors(slow), rtol=0.05)
