"""Shares, means, contrasts and likelihood statements of category fits."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit
from scipy.stats import norm
from tests.statistics.ordinal_values import (
    WINE_PREDICTED,
    WINE_PREDICTED_ERRORS,
    WINE_PROFILE,
    wine,
)

from twobowls.errors import InputError
from twobowls.statistics.ordinal import OrdinalFit, cross_labels, fit_ordinal
from twobowls.statistics.ordinal_inference import compare_fits, likelihood_interval
from twobowls.statistics.ordinal_means import category_contrasts, category_means
from twobowls.statistics.ordinal_optimise import Target, climb


def fit_wine(terms: str = "temp contact", judges: bool = False, prior: str = "flat") -> OrdinalFit:
    data = wine()
    return fit_ordinal(
        data["rating"],
        {name: data[name] for name in terms.split()},
        {"judge": data["judge"]} if judges else {},
        link="logit",
        prior=prior,  # type: ignore[arg-type]
    )


CELLS = (("cold", "no"), ("warm", "no"), ("cold", "yes"), ("warm", "yes"))


@pytest.mark.reference
@pytest.mark.parametrize("cell", range(4))
def test_shares_and_their_errors_agree_with_r_predict(cell: int) -> None:
    temperature, contact = CELLS[cell]
    means = category_means(fit_wine(), "temp", at={"contact": contact})
    shares = next(each for each in means if each.level == temperature).shares.values()
    np.testing.assert_allclose([each.mean for each in shares], WINE_PREDICTED[cell], rtol=1e-7)
    errors = [each.se for each in shares]
    np.testing.assert_allclose(errors, WINE_PREDICTED_ERRORS[cell], rtol=1e-6)


@pytest.mark.reference
@pytest.mark.parametrize("level", [0.95, 0.90])
def test_likelihood_intervals_agree_with_r_profiles(level: float) -> None:
    # R interpolates the profile by a spline, which costs it the fifth digit.
    fit = fit_wine()
    for name, theirs in zip(("temp=warm", "contact=yes"), WINE_PROFILE[level], strict=True):
        ours = likelihood_interval(fit, name, level).interval
        np.testing.assert_allclose(ours, theirs, atol=5e-5)


@pytest.mark.reference
def test_comparing_fits_agrees_with_r_anova() -> None:
    # anova(clmm(rating ~ temp + (1 | judge)), clmm(rating ~ temp + contact + (1 | judge)))
    test = compare_fits(fit_wine("temp", judges=True), fit_wine(judges=True))
    assert test.statistic == pytest.approx(14.346811741422, rel=1e-4)
    assert test.p == pytest.approx(0.0001520369389641, rel=1e-4)
    assert test.df == 1
    assert test.boundary_p is None


def test_one_more_random_factor_has_half_the_p_value() -> None:
    test = compare_fits(fit_wine(), fit_wine(judges=True))
    assert test.statistic == pytest.approx(2 * (86.4919234 - 81.5654128), abs=1e-5)
    assert test.boundary_p == pytest.approx(test.p / 2)


def test_a_likelihood_interval_ends_where_the_profile_has_dropped_enough() -> None:
    name = "temp=warm"
    fit = fit_wine(judges=True)
    column = fit.names.index(name)
    free = np.arange(len(fit.names)) != column
    held = Target(fit.target.problem, fit.target.penalty, free)
    for end in likelihood_interval(fit, name, 0.90).interval:
        start = fit.top.parameters.copy()
        start[column] = end
        there = climb(held, start, np.zeros(9))
        assert there is not None
        drop = 2 * (there.place.value - fit.top.place.value)
        assert drop == pytest.approx(2.705543, abs=1e-5)  # chi-squared, 1 df, 0.90


def test_a_standard_deviation_may_reach_down_to_zero() -> None:
    data = wine()
    fit = fit_ordinal(
        data["rating"],
        {"temp": data["temp"], "contact": data["contact"]},
        {"bottle": data["bottle"]},
        prior="flat",
    )
    low, high = likelihood_interval(fit, "sd bottle").interval
    assert low == 0.0
    assert 0.1 < high < 1.5


def test_likelihood_statements_need_flat_nested_fits_of_the_same_ratings() -> None:
    with pytest.raises(InputError, match=r"needs a flat-prior fit, and this one has a weak"):
        likelihood_interval(fit_wine(prior="weak"), "temp=warm")
    with pytest.raises(InputError, match=r"Give the smaller fit first, and keep its terms"):
        compare_fits(fit_wine(), fit_wine("temp"))
    other = fit_ordinal([1, 2, 3, 1, 2], prior="flat", link="logit")
    with pytest.raises(InputError, match=r"not to the same ratings in the same way"):
        compare_fits(other, fit_wine())


def test_people_are_the_typical_person_averaged_over_the_random_effects() -> None:
    fit = fit_wine(judges=True)
    (cold, _), sd = category_means(fit, "temp", at={"contact": "no"}), fit.random_sd["judge"]
    edge = fit.coefficients["2|3"]

    def density(u: float) -> float:
        return float(expit(edge - u) * norm.pdf(u, scale=sd))

    exact = quad(density, -12, 12)[0]
    ours = cold.shares["1"].mean + cold.shares["2"].mean
    assert ours == pytest.approx(exact, abs=1e-9)


def test_errors_of_shares_agree_with_draws_from_the_posterior() -> None:
    fit = fit_wine(judges=True)
    rng = np.random.default_rng(8)
    draws = rng.multivariate_normal(fit.posterior.mean, 1e-4 * fit.covariance, 4000)
    edges = draws[:, 1] - draws[:, 4]  # 2|3 for a warm wine without contact
    nodes, weights = np.polynomial.hermite_e.hermegauss(31)
    below = expit(edges[:, None] - draws[:, [6]] * nodes) @ (weights / weights.sum())
    warm = category_means(fit, "temp", at={"contact": "no"}, scores=[1, 1, 0, 0, 0])[1]
    assert warm.score.mean == pytest.approx(below.mean(), abs=1e-4)
    assert warm.score.se == pytest.approx(100 * below.std(), rel=0.04)


def test_shares_sum_to_one_and_intervals_stay_on_the_scale() -> None:
    fit = fit_ordinal([1, 1, 1, 1, 2, 3, 3, 2], {"coffee": ["A"] * 4 + ["B"] * 4})
    for each in category_means(fit, "coffee"):
        assert sum(share.mean for share in each.shares.values()) == pytest.approx(1.0)
        for share in each.shares.values():
            assert 0.0 < share.interval[0] < share.mean < share.interval[1] < 1.0
        assert 1.0 < each.score.interval[0] < each.score.mean < each.score.interval[1] < 3.0


def test_contrasts_are_the_differences_of_latent_places() -> None:
    data = wine()
    cells = cross_labels(data["temp"], data["contact"])
    fit = fit_ordinal(data["rating"], {"cell": cells}, {"judge": data["judge"]})
    place = {each.level: each.latent.mean for each in category_means(fit, "cell")}
    contrasts = category_contrasts(fit, "cell")
    assert len(contrasts) == 6
    for each in contrasts:
        assert each.estimate.mean == pytest.approx(place[each.a] - place[each.b])
        low, high = each.estimate.interval
        assert low < each.estimate.mean < high
        assert (each.probability > 0.95) == (low > 0.0)
    assert sum(place.values()) == pytest.approx(0.0, abs=1e-12)


def test_unknown_names_are_met_with_the_known_ones() -> None:
    fit = fit_wine()
    with pytest.raises(InputError, match=r"factor: 'roast' is not known. Choose one of temp, con"):
        category_means(fit, "roast")
    with pytest.raises(InputError, match=r"at contact: 'maybe' is not known. Choose one of no, y"):
        category_means(fit, "temp", at={"contact": "maybe"})
    with pytest.raises(InputError, match=r"at: 'round' is not known. Choose one of contact"):
        category_means(fit, "temp", at={"round": "hot"})
    with pytest.raises(InputError, match=r"population: 'table' is not known. Choose one of people"):
        category_means(fit, "temp", population="table")  # type: ignore[arg-type]
    with pytest.raises(InputError, match=r"scores: the shape is 2. Give numbers of shape 5"):
        category_means(fit, "temp", scores=[1, 2])
