"""Abilities from picks, against published tables, and honest in small samples."""

from collections.abc import Mapping

import numpy as np
import pytest
from scipy.special import expit
from tests.statistics.picks_values import (
    AT_HOME,
    BASEBALL,
    BASEBALL_AT_HOME,
    CITATIONS,
    DAVIDSON,
    DAVIDSON_LOG_NU,
    HALF_TIES,
    baseball,
    citations,
    springall,
)

from twobowls.errors import InputError
from twobowls.statistics.picks import (
    PicksFit,
    PickTable,
    count_picks,
    fit_picks,
    tabulate_picks,
)
from twobowls.statistics.picks_peak import answer_shares

# R's glm stops at a relative change of 1e-8 in the deviance, which leaves six to seven digits.
SIX = 2e-6


def assert_agrees(
    fit: PicksFit, reference: str, printed: Mapping[str, tuple[float, float]]
) -> None:
    ours = {each.level: each.estimate for each in fit.against(reference)}
    assert ours[reference].mean == 0.0
    assert ours[reference].se == 0.0
    for name, (ability, error) in printed.items():
        assert ours[name].mean == pytest.approx(ability, abs=SIX)
        assert ours[name].se == pytest.approx(error, abs=SIX)


@pytest.mark.reference
def test_baseball_agrees_with_agresti_and_bradleyterry2() -> None:
    fit = fit_picks(baseball(), prior="flat")
    assert_agrees(fit, "Baltimore", BASEBALL)
    assert fit.deviance == pytest.approx(44.0534612285738, rel=1e-9)
    assert fit.residual_df == 36
    printed = (1.581, 1.436, 1.294, 1.248, 1.108, 0.684)  # Agresti 2002
    ours = sorted((each.estimate.mean for each in fit.against("Baltimore")), reverse=True)
    np.testing.assert_allclose(ours[:-1], printed, atol=5e-4)


@pytest.mark.reference
def test_playing_at_home_agrees_with_bradleyterry2() -> None:
    fit = fit_picks(baseball(), order=True, prior="flat")
    assert_agrees(fit, "Baltimore", BASEBALL_AT_HOME)
    assert fit.order is not None
    assert (fit.order.mean, fit.order.se) == pytest.approx(AT_HOME, abs=SIX)
    assert fit.deviance == pytest.approx(38.6428521439705, rel=1e-9)


@pytest.mark.reference
def test_citations_agree_with_bradleyterry2() -> None:
    fit = fit_picks(citations(), prior="flat")
    assert_agrees(fit, "Biometrika", CITATIONS)
    assert fit.deviance == pytest.approx(4.29338396988906, rel=1e-8)
    assert fit.residual_df == 3


@pytest.mark.reference
def test_davidson_ties_agree_with_the_log_linear_fit() -> None:
    fit = fit_picks(springall(), prior="flat")
    assert_agrees(fit, "1", DAVIDSON)
    assert fit.tie is not None
    assert (fit.tie.mean, fit.tie.se) == pytest.approx(DAVIDSON_LOG_NU, abs=SIX)
    assert fit.log_likelihood == pytest.approx(-732.067255448221, abs=1e-8)
    assert fit.deviance == pytest.approx(59.9618125208688, rel=1e-9)
    assert fit.residual_df == 63


@pytest.mark.reference
def test_ties_as_halves_agree_with_the_binomial_fit() -> None:
    fit = fit_picks(springall(), ties="half", prior="flat")
    assert_agrees(fit, "1", HALF_TIES)
    assert fit.tie is None
    assert fit.deviance == pytest.approx(14.4154266410606, rel=1e-9)


def test_two_coffees_have_the_log_odds_of_their_counts() -> None:
    fit = fit_picks(tabulate_picks(["A"], ["B"], [30], [10]), prior="flat")
    contrast = fit.contrasts[0]
    assert contrast.estimate.mean == pytest.approx(np.log(3))
    assert contrast.estimate.se == pytest.approx(np.sqrt(1 / 30 + 1 / 10))
    assert contrast.estimate.interval == pytest.approx(
        (
            np.log(3) - 1.6448536 * np.sqrt(1 / 30 + 1 / 10),
            np.log(3) + 1.6448536 * np.sqrt(1 / 30 + 1 / 10),
        )
    )


def test_abilities_are_centred_and_do_not_depend_on_who_was_named_first() -> None:
    table = springall()
    turned = tabulate_picks(
        [table.coffees[i] for i in table.second],
        [table.coffees[i] for i in table.first],
        table.for_second,
        table.for_first,
        table.same,
    )
    one, other = fit_picks(table), fit_picks(turned)
    means = [each.estimate.mean for each in one.abilities]
    assert sum(means) == pytest.approx(0.0, abs=1e-12)
    np.testing.assert_allclose(means, [each.estimate.mean for each in other.abilities], atol=1e-9)
    np.testing.assert_allclose(one.covariance.sum(axis=0), 0.0, atol=1e-12)


def test_with_many_picks_the_weak_prior_hardly_matters() -> None:
    flat, weak = fit_picks(springall(), prior="flat"), fit_picks(springall())
    for one, other in zip(flat.abilities, weak.abilities, strict=True):
        assert abs(one.estimate.mean - other.estimate.mean) < 0.5 * one.estimate.se


def test_a_coffee_that_always_wins_gets_a_finite_place_and_a_caution() -> None:
    table = tabulate_picks(["A", "A", "B"], ["B", "C", "C"], [3, 3, 2], [0, 0, 1])
    fit = fit_picks(table)
    assert 0.3 < fit.abilities[0].estimate.mean < 3.0
    assert '"A" was always picked: how far it stands out comes from the prior.' in fit.cautions


def test_coffees_that_no_pick_joins_are_pointed_out() -> None:
    table = tabulate_picks(["A", "C"], ["B", "D"], [3, 1], [1, 1])
    fit = fit_picks(table)
    expected = 'No chain of picks joins "A" and "C": how they compare comes from the prior.'
    assert expected in fit.cautions
    joined, apart = (each.estimate.se for each in fit.contrasts[:2])
    assert apart > 1.1 * joined


def test_spread_widens_errors_by_the_root_of_the_dispersion() -> None:
    plain = fit_picks(baseball(), prior="flat")
    wide = fit_picks(baseball(), prior="flat", dependence="spread")
    # Pearson's statistic over 36 of the published fit, by R: sum(residuals(fit, "pearson")^2)
    assert plain.dispersion == pytest.approx(38.2689079735 / 36, rel=1e-6)
    ratio = wide.contrasts[0].estimate.se / plain.contrasts[0].estimate.se
    assert ratio == pytest.approx(np.sqrt(plain.dispersion))


def stubborn_tasters(rng: np.random.Generator) -> tuple[np.ndarray, PickTable]:
    """Six tasters, eight picks each among three coffees, drawn from the prior of the fit."""
    truth = rng.normal(0, 1.5 * abs(rng.normal()), 3)
    own = truth + rng.normal(0, abs(rng.normal()), (6, 3))
    a, b, answers, who = [], [], [], []
    for taster in range(6):
        for _ in range(8):
            i, j = rng.choice(3, 2, replace=False)
            shares = answer_shares(np.array([own[taster, i] - own[taster, j]]), -0.5)[:, 0]
            a.append(f"c{i}")
            b.append(f"c{j}")
            answers.append([f"c{i}", f"c{j}", "same"][rng.choice(3, p=shares)])
            who.append(f"t{taster}")
    return truth, count_picks(a, b, answers, who)


def share_held(fit: PicksFit, truth: np.ndarray) -> float:
    """Return the share of the contrasts' 90 % intervals that hold the truth."""
    held = []
    for each in fit.contrasts:
        low, high = each.estimate.interval
        held.append(low <= truth[int(each.a[1])] - truth[int(each.b[1])] <= high)
    return float(np.mean(held))


def test_intervals_that_allow_for_tasters_cover_and_others_are_too_sure() -> None:
    # Any seed will do. Contrasts of one table go together, at worst all or none, so that the
    # standard error is at most sqrt(0.9 * 0.1 / 30) = 0.055; four of them leave a right method
    # one chance in 16,000 to fail. 180 tables gave 0.896 and, with every pick a witness of its
    # own, 0.778. benchmarks/ordinal.md has more.
    rng = np.random.default_rng(2026)
    held, careless = [], []
    for _ in range(30):
        truth, table = stubborn_tasters(rng)
        held.append(share_held(fit_picks(table, dependence="tasters"), truth))
        careless.append(share_held(fit_picks(table), truth))
    assert np.mean(held) == pytest.approx(0.90, abs=4.0 * np.sqrt(0.9 * 0.1 / 30))
    # the same tables, so that the difference (about 0.14) is surer than either
    assert np.mean(held) > np.mean(careless)


def test_coffees_picked_alike_are_seldom_set_apart() -> None:
    # 60 tables of 6 contrasts; a share of one in a hundred, and four standard errors of tables
    # whose contrasts all go together. A fixed width of the prior gave 1.5 in a hundred.
    rng = np.random.default_rng(2026)
    clear = []
    for _ in range(60):
        pairs = np.array([rng.choice(4, 2, replace=False) for _ in range(80)])
        first = rng.random(80) < 0.5
        names = np.array(["A", "B", "C", "D"])
        one, two = names[pairs].T.tolist()
        fit = fit_picks(count_picks(one, two, np.where(first, one, two).tolist()))
        chances = np.array([each.probability for each in fit.contrasts])
        clear.append(np.mean(np.maximum(chances, 1.0 - chances) >= 0.99))
    assert np.mean(clear) <= 0.01 + 4.0 * np.sqrt(0.01 * 0.99 / 60)


def test_hundreds_of_thousands_of_picks_find_the_truth_or_say_what_cannot_be_done() -> None:
    rng = np.random.default_rng(1)
    truth = np.array([0.6, 0.2, -0.1, -0.7])
    one = rng.integers(0, 4, 300_000)
    two = (one + rng.integers(1, 4, one.size)) % 4
    picked = np.where(rng.random(one.size) < expit(truth[one] - truth[two]), one, two)
    names = np.array(["A", "B", "C", "D"])
    tasters = [f"t{each}" for each in rng.integers(0, 9000, one.size)]
    columns = [names[each].tolist() for each in (one, two, picked)]
    fit = fit_picks(count_picks(columns[0], columns[1], columns[2]))
    for each, exact in zip(fit.abilities, truth, strict=True):
        assert abs(each.estimate.mean - exact) < 4.0 * each.estimate.se
    table = count_picks(columns[0], columns[1], columns[2], tasters)
    with pytest.raises(InputError, match="are too many to average over what each taster adds"):
        fit_picks(table, dependence="tasters")


def test_a_crowd_of_tasters_with_few_picks_each_is_averaged_over() -> None:
    rng = np.random.default_rng(2)
    truth, tasters = np.array([0.6, 0.1, -0.7]), 15_000
    own = truth + rng.normal(0.0, 0.8, (tasters, 3))
    who = np.repeat(np.arange(tasters), 3)
    one, two = np.tile([0, 0, 1], tasters), np.tile([1, 2, 2], tasters)
    picked = np.where(rng.random(who.size) < expit(own[who, one] - own[who, two]), one, two)
    names = np.array(["A", "B", "C"])
    columns = [names[each].tolist() for each in (one, two, picked)]
    table = count_picks(columns[0], columns[1], columns[2], who.astype(str).tolist())
    assert table.first.size == 45_000
    fit = fit_picks(table, dependence="tasters")
    for each, exact in zip(fit.abilities, truth, strict=True):
        assert abs(each.estimate.mean - exact) < 4.0 * each.estimate.se
    assert fit.spread is not None
    assert abs(fit.spread.mean - 0.8) < 4.0 * fit.spread.se
