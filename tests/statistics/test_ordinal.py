"""Category fits against R's ordinal, and against the integral they approximate."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit, ndtr
from scipy.stats import norm
from tests.statistics.ordinal_values import (
    SOUP,
    WINE,
    WINE_CONDITIONAL_VARIANCES,
    WINE_CROSSED,
    WINE_MODES,
    WINE_NO_FIXED,
    Printed,
    soup,
    wine,
)

from twobowls.statistics.ordinal import OrdinalFit, OrdinalPrior, cross_labels, fit_ordinal

# R stops its searches early (a gradient of 1e-4 to 1e-3, inside and out), which moves its
# log-likelihoods by up to 3e-5; estimates agree to what that leaves, four digits and more.
DIGITS = 1e-4


def assert_agrees(fit: OrdinalFit, printed: Printed) -> None:
    assert fit.log_likelihood == pytest.approx(printed.log_likelihood, abs=5e-5)
    scale = np.array(printed.errors)
    estimates = np.array(list(fit.coefficients.values()))
    np.testing.assert_array_less(np.abs(estimates - printed.coefficients) / scale, 2 * DIGITS)
    np.testing.assert_allclose(list(fit.standard_errors.values()), printed.errors, rtol=DIGITS)
    np.testing.assert_allclose(list(fit.random_sd.values()), printed.sds, rtol=1.2 * DIGITS)


@pytest.mark.reference
@pytest.mark.parametrize("case", list(WINE))
def test_wine_agrees_with_r_ordinal(case: tuple[str, str, int]) -> None:
    link, thresholds, nodes = case
    data = wine()
    fit = fit_ordinal(
        data["rating"],
        {"temp": data["temp"], "contact": data["contact"]},
        {"judge": data["judge"]} if nodes else {},
        link=link,  # type: ignore[arg-type]
        thresholds=thresholds,  # type: ignore[arg-type]
        quadrature=max(nodes, 1),
        prior="flat",
    )
    assert_agrees(fit, WINE[case])


@pytest.mark.reference
@pytest.mark.parametrize("link", ["probit", "logit"])
def test_crossed_judges_and_bottles_agree_with_r_ordinal(link: str) -> None:
    data = wine()
    random = {"judge": data["judge"], "bottle": data["bottle"]}
    fit = fit_ordinal(
        data["rating"],
        {"contact": data["contact"]},
        random,
        link=link,  # type: ignore[arg-type]
        prior="flat",
    )
    assert_agrees(fit, WINE_CROSSED[link])


@pytest.mark.reference
def test_random_factors_alone_agree_with_r_ordinal() -> None:
    data = wine()
    random = {"judge": data["judge"], "bottle": data["bottle"]}
    assert_agrees(fit_ordinal(data["rating"], None, random, prior="flat"), WINE_NO_FIXED)


@pytest.mark.reference
@pytest.mark.parametrize("link", ["probit", "logit"])
def test_conditional_modes_agree_with_r_ordinal(link: str) -> None:
    data = wine()
    fit = fit_ordinal(
        data["rating"],
        {"temp": data["temp"], "contact": data["contact"]},
        {"judge": data["judge"]},
        link=link,  # type: ignore[arg-type]
        quadrature=10,
        prior="flat",
    )
    modes = [each.mode for each in fit.modes["judge"]]
    np.testing.assert_allclose(modes, WINE_MODES[link], atol=5e-5)


@pytest.mark.reference
def test_conditional_variances_agree_with_r_ordinal() -> None:
    data = wine()
    random = {"judge": data["judge"], "bottle": data["bottle"]}
    fit = fit_ordinal(data["rating"], {"contact": data["contact"]}, random, prior="flat")
    for factor, variances in WINE_CONDITIONAL_VARIANCES.items():
        ours = [each.sd**2 for each in fit.modes[factor]]
        np.testing.assert_allclose(ours, variances, rtol=DIGITS)


@pytest.mark.reference
@pytest.mark.parametrize("case", list(SOUP))
def test_soup_agrees_with_r_ordinal(case: str) -> None:
    data = soup()
    taster, product = {"RESP": data["RESP"]}, data["PROD"]
    random = {
        "clm": {},
        "laplace": taster,
        "agq10": taster,
        "nested": taster | {"RESP:PROD": cross_labels(data["RESP"], product)},
        "crossed": taster | {"PRODID": data["PRODID"]},
    }[case]
    fit = fit_ordinal(
        data["SURENESS"],
        {"PROD": product},
        random,
        quadrature=10 if case == "agq10" else 1,
        prior="flat",
    )
    assert_agrees(fit, SOUP[case])


def test_a_variance_of_zero_gives_the_fit_without_that_factor() -> None:
    data = wine()
    fixed = {"temp": data["temp"], "contact": data["contact"]}
    alone = fit_ordinal(data["rating"], fixed, {"judge": data["judge"]}, prior="flat")
    both = fit_ordinal(
        data["rating"],
        fixed,
        {"judge": data["judge"], "bottle": data["bottle"]},
        prior="flat",
    )
    assert both.random_sd["bottle"] < 1e-6
    assert both.log_likelihood == pytest.approx(alone.log_likelihood, abs=1e-8)
    np.testing.assert_allclose(
        list(both.standard_errors.values()), list(alone.standard_errors.values()), rtol=1e-5
    )
    assert "No variation between levels of bottle was found." in both.cautions


@pytest.mark.parametrize(("link", "cdf"), [("probit", ndtr), ("logit", expit)])
def test_quadrature_converges_to_the_integral(link: str, cdf: np.ufunc) -> None:
    ratings = np.array([1, 3, 2, 2, 1, 1, 3, 3, 2, 3, 1, 2])
    tasters = np.repeat(np.arange(4), 3)
    fit = fit_ordinal(
        ratings,
        None,
        {"taster": tasters},
        link=link,  # type: ignore[arg-type]
        quadrature=40,
        prior=OrdinalPrior(),
    )
    gamma = fit.top.parameters[:2]
    sd = float(fit.top.parameters[2])
    edges = np.concatenate([[-np.inf], gamma, [np.inf]])

    def likelihood(u: float, mine: np.ndarray) -> float:
        chance = cdf(edges[mine] - sd * u) - cdf(edges[mine - 1] - sd * u)
        return float(np.prod(chance) * norm.pdf(u))

    exact = sum(
        np.log(quad(likelihood, -9, 9, args=(ratings[tasters == t],), epsabs=1e-13)[0])
        for t in range(4)
    )
    assert fit.log_likelihood == pytest.approx(exact, abs=1e-9)


def test_the_answer_does_not_depend_on_the_order_of_rows_or_the_reference() -> None:
    data = wine()
    order = np.random.default_rng(3).permutation(72)
    fixed = {"temp": data["temp"], "contact": data["contact"]}
    turned = {name: [values[i] for i in order] for name, values in fixed.items()}
    ratings, judges = ([data[name][i] for i in order] for name in ("rating", "judge"))
    one = fit_ordinal(data["rating"], fixed, {"judge": data["judge"]})
    other = fit_ordinal(ratings, turned, {"judge": judges})
    assert other.coefficients == pytest.approx(one.coefficients, rel=1e-9)
    warm = fit_ordinal(ratings, turned, {"judge": judges}, reference={"temp": "warm"})
    # averages are taken along axes that turn with the reference: a hundredth of the error
    error = one.standard_errors["temp=warm"]
    shift = warm.coefficients["temp=cold"] + one.coefficients["temp=warm"]
    assert abs(shift) < 0.01 * error
    assert warm.standard_errors["temp=cold"] == pytest.approx(error, rel=0.01)


def test_a_numeric_column_of_zeros_and_ones_is_a_factor_of_two_levels() -> None:
    data = wine()
    warm = np.array(data["temp"]) == "warm"
    by_factor = fit_ordinal(data["rating"], {"temp": data["temp"]}, prior="flat")
    by_number = fit_ordinal(data["rating"], X={"warm": warm.astype(float)}, prior="flat")
    assert by_number.coefficients["warm"] == pytest.approx(by_factor.coefficients["temp=warm"])
    assert by_number.log_likelihood == pytest.approx(by_factor.log_likelihood)


def test_with_much_data_the_weak_prior_hardly_matters() -> None:
    data = soup()
    weak = fit_ordinal(data["SURENESS"], {"PROD": data["PROD"]}, {"RESP": data["RESP"]})
    flat = fit_ordinal(
        data["SURENESS"], {"PROD": data["PROD"]}, {"RESP": data["RESP"]}, prior="flat"
    )
    shift = weak.coefficients["PROD=Test"] - flat.coefficients["PROD=Test"]
    assert abs(shift) < 0.1 * flat.standard_errors["PROD=Test"]


def test_separated_ratings_get_finite_answers_and_a_caution() -> None:
    ratings = [1, 1, 1, 1, 2, 3, 3, 2]
    coffee = ["A"] * 4 + ["B"] * 4
    fit = fit_ordinal(ratings, {"coffee": coffee}, {"taster": [0, 1, 2, 3] * 2})
    assert 0.5 < fit.coefficients["coffee=B"] < 6.0
    assert fit.standard_errors["coffee=B"] > 0.5
    assert any('Every rating of coffee "A" is "1", an end of the scale' in s for s in fit.cautions)
    assert any("With 4 levels of taster" in each for each in fit.cautions)


def test_one_rating_of_one_coffee_says_next_to_nothing() -> None:
    fit = fit_ordinal([5], categories=[str(k) for k in range(1, 10)])
    assert all(np.isfinite(list(fit.coefficients.values())))
    assert min(fit.standard_errors.values()) > 0.5
