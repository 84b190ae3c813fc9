"""Abilities from picks, against published tables, and honest in small samples."""

import re
from collections.abc import Mapping
from typing import Any

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
    PicksPrior,
    PickTable,
    count_picks,
    fit_picks,
    tabulate_picks,
)
from twobowls.statistics.picks_grid import place_nodes
from twobowls.statistics.picks_marginal import climb_marginal, even_points
from twobowls.statistics.picks_peak import Question, answer_shares, climb, weigh_answers

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


def test_the_integral_over_deviations_agrees_with_brute_force() -> None:
    rng = np.random.default_rng(4)
    rows, tasters = 18, 3
    taster = np.repeat(np.arange(tasters), 6)
    design = rng.normal(size=(rows, 1))
    sway = 1.2 * rng.normal(size=(rows, 2))
    answers = np.array([rng.integers(0, 2, rows), np.ones(rows), np.zeros(rows)], dtype=float)
    answers[1] -= answers[0]
    asked = Question(
        design=design,
        offset=np.zeros(rows),
        answers=answers,
        precision=np.ones(1),
        centre=np.zeros(1),
        ties=False,
        sway=sway,
        taster=taster,
    )
    peak = climb_marginal(asked)

    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    grid = np.stack(np.meshgrid(nodes, nodes), axis=-1).reshape(-1, 2)
    share = np.outer(weights, weights).ravel() / (2 * np.pi)

    def log_posterior(theta: float) -> float:
        total = -0.5 * theta**2
        for each in range(tasters):
            mine = taster == each
            odds = design[mine] * theta + sway[mine] @ grid.T
            signs = (answers[0] - answers[1])[mine, None]
            total += np.log(np.prod(expit(signs * odds), axis=0) @ share)
        return float(total)

    top, side = float(peak.theta[0]), 0.15
    heights = [log_posterior(top + move) for move in (-side, 0.0, side)]
    assert abs(heights[2] - heights[0]) / (2 * side) < 0.05  # a top within a tenth of an sd
    curvature = -(heights[0] - 2 * heights[1] + heights[2]) / side**2
    assert peak.covariance[0, 0] == pytest.approx(1 / curvature, rel=0.05)
    evidence = peak.log_evidence - 0.5 * np.log(peak.covariance[0, 0])
    assert evidence == pytest.approx(heights[1], abs=0.03)


def test_answers_have_the_slopes_and_curvatures_they_say() -> None:
    counts = np.array([[3.0, 0.0], [1.0, 2.0], [2.0, 1.0]])
    odds, tie, side = np.array([0.7, -1.1]), -0.3, 1e-5
    at = weigh_answers(counts, odds, tie)
    up, down = weigh_answers(counts, odds + side, tie), weigh_answers(counts, odds - side, tie)
    more, less = weigh_answers(counts, odds, tie + side), weigh_answers(counts, odds, tie - side)
    np.testing.assert_allclose(at.by_odds, (up.value - down.value) / (2 * side), atol=1e-8)
    np.testing.assert_allclose(at.by_tie, (more.value - less.value) / (2 * side), atol=1e-8)
    np.testing.assert_allclose(at.odds_odds, -(up.by_odds - down.by_odds) / (2 * side), atol=1e-8)
    np.testing.assert_allclose(at.odds_tie, -(up.by_tie - down.by_tie) / (2 * side), atol=1e-8)
    np.testing.assert_allclose(at.tie_tie, -(more.by_tie - less.by_tie) / (2 * side), atol=1e-8)


def test_centred_deviations_sum_to_zero_and_leave_the_rest_as_dense_algebra_says() -> None:
    rng = np.random.default_rng(6)
    rows, tasters = 20, 4
    asked = Question(
        design=rng.normal(size=(rows, 2)),
        offset=rng.normal(size=rows),
        answers=rng.integers(0, 3, (3, rows)).astype(float),
        precision=np.ones(3),
        centre=np.zeros(3),
        ties=True,
        sway=rng.normal(size=(rows, 2)),
        taster=np.repeat(np.arange(tasters), 5),
        centred=True,
    )
    peak = climb(asked)
    np.testing.assert_allclose(peak.deviations.sum(axis=0), 0.0, atol=1e-9)
    # the same posterior in a basis of the centred deviations
    basis = np.linalg.svd(np.eye(tasters) - 1 / tasters)[0][:, :3]
    wide = np.einsum("ir,it->itr", asked.sway, basis[asked.taster]).reshape(rows, -1)
    flat = Question(
        design=np.hstack([asked.design, wide]),
        offset=asked.offset,
        answers=asked.answers,
        precision=np.ones(9),
        centre=np.zeros(9),
        ties=True,
        sway=np.zeros((rows, 0)),
        taster=asked.taster,
    )
    other = climb(flat)
    np.testing.assert_allclose(peak.theta, other.theta[[0, 1, 8]], atol=1e-7)
    np.testing.assert_allclose(
        peak.covariance, other.covariance[np.ix_([0, 1, 8], [0, 1, 8])], atol=1e-7
    )


def test_even_points_have_the_moments_of_a_standard_normal() -> None:
    points = even_points(512, 3)
    np.testing.assert_allclose(points.mean(axis=0), 0.0, atol=1e-12)
    np.testing.assert_allclose(points.T @ points / 1024, np.eye(3), atol=0.03)


@pytest.mark.parametrize(("centre", "sd"), [(0.0, 1.0), (2.0, 0.05), (-3.0, 2.0)])
def test_nodes_find_a_narrow_or_a_wide_density(centre: float, sd: float) -> None:
    nodes, logs = place_nodes(lambda x: -0.5 * ((x - centre) / sd) ** 2, -10.0, 10.0)
    weights = np.exp(logs - 0.5 * ((nodes - centre) / sd) ** 2)
    assert weights.sum() == pytest.approx(sd * np.sqrt(2 * np.pi), rel=0.03)
    assert weights @ nodes / weights.sum() == pytest.approx(centre, abs=0.03 * sd)


BAD: list[tuple[dict[str, Any], str]] = [
    ({"dependence": "pairs"}, "dependence: 'pairs' is not known. Choose one of independent, "),
    ({"ties": "drop"}, "ties: 'drop' is not known. Choose one of davidson, half."),
    ({"prior": "strong"}, "prior: 'strong' is not known. Choose one of weak, flat."),
    ({"level": 0}, "level: 0 is out of range. Give a number between 0 and 1."),
    (
        {"dependence": "tasters"},
        "dependence: It is not known who picked, or one taster made all picks. "
        'Name the tasters when counting, or use "independent" or "spread".',
    ),
]


@pytest.mark.parametrize(("options", "message"), BAD)
def test_options_that_cannot_be_used_are_refused(options: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(message)}"):
        fit_picks(citations(), **options)


def test_deviations_of_tasters_need_a_prior() -> None:
    table = count_picks(["A", "A"], ["B", "B"], ["A", "B"], ["t", "u"])
    with pytest.raises(InputError, match='need prior="weak"'):
        fit_picks(table, dependence="tasters", prior="flat")


def test_without_a_chain_of_picks_there_is_no_flat_fit() -> None:
    table = tabulate_picks(["A", "A", "B"], ["B", "C", "C"], [3, 3, 2], [0, 0, 1])
    with pytest.raises(InputError, match='No chain of picks puts "B" over "A"'):
        fit_picks(table, prior="flat")


def test_ties_make_a_chain() -> None:
    table = tabulate_picks(["A", "A", "B"], ["B", "C", "C"], [3, 3, 2], [0, 0, 1], [1, 0, 0])
    assert np.isfinite(fit_picks(table, prior="flat").abilities[0].estimate.mean)


COLUMNS = {"a": ["A", "A"], "b": ["B", "C"], "answer": ["A", "same"]}


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"b": ["B"]}, "b: 1 entry for 2 answers. Give one entry for every pick."),
        (
            {"answer": ["A", "B"]},
            'answer: pick 2 is of "A" and "C", and "B" is neither. Give one of the two, or "same".',
        ),
        ({"a": ["A", "C"]}, 'picks: row 2 sets "C" against itself. Leave that row out.'),
        (
            {"a": ["A", " "], "b": ["B", "C"]},
            "picks: A coffee has no name. Name it, or leave the pick out.",
        ),
        (
            {"a": ["A", None], "answer": ["A", "C"]},
            "picks: A coffee has no name. Name it, or leave the pick out.",
        ),
        (
            {"a": ["A", float("nan")], "answer": ["A", "C"]},
            "picks: A coffee has no name. Name it, or leave the pick out.",
        ),
        (
            {"tasters": ["t", None]},
            "picks: A taster has no name. Name it, or leave the pick out.",
        ),
        (
            {"a": ["A", "same"]},
            'picks: A coffee is called "same", which means a tie. Give it another name.',
        ),
        (
            {"tasters": ["t"]},
            "tasters: 1 entry for 2 answers. Give one entry for every pick.",
        ),
        ({"a": [], "b": [], "answer": []}, "picks: There is not one pick. Give at least one."),
    ],
)
def test_picks_that_cannot_be_counted_are_refused(changed: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        count_picks(**(COLUMNS | changed))


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        ({"for_b": [1.5]}, "for_b: 1.5 is not a count. Give whole numbers of zero or more."),
        (
            {"for_a": [float("nan")]},
            "for_a: entry 1 is missing or not finite. Fill the gap or leave the row out.",
        ),
        ({"for_a": [-1]}, "for_a: -1 is not a count. Give whole numbers of zero or more."),
        ({"for_a": [0], "for_b": [0]}, "picks: There is not one pick. Give at least one."),
        ({"tasters": []}, "tasters: no entries for 1 row. Name one taster a row."),
    ],
)
def test_counts_that_are_none_are_refused(counts: dict[str, Any], message: str) -> None:
    given: dict[str, Any] = {"a": ["A"], "b": ["B"], "for_a": [1], "for_b": [2]}
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        tabulate_picks(**(given | counts))


def test_a_prior_needs_positive_widths() -> None:
    with pytest.raises(InputError, match=r"prior: tie_sd is nan. Give a number above zero"):
        PicksPrior(tie_sd=float("nan"))


def test_rows_without_a_pick_and_their_tasters_are_left_out() -> None:
    table = tabulate_picks(["A", "A"], ["B", "B"], [2, 0], [1, 0], None, ["t", "u"])
    assert table.tasters == ("t",)
    assert table.picks == 3


def test_one_pick_says_little_and_that_it_came_from_the_prior() -> None:
    fit = fit_picks(count_picks(["A"], ["B"], ["A"]))
    low, high = fit.contrasts[0].estimate.interval
    assert low < 0.0 < high
    assert fit.contrasts[0].probability < 0.95
    assert '"A" was always picked: how far it stands out comes from the prior.' in fit.cautions


def test_only_ties_leave_the_coffees_together() -> None:
    table = count_picks(["A", "B", "A"], ["B", "C", "C"], ["same"] * 3)
    fit = fit_picks(table)
    np.testing.assert_allclose([each.estimate.mean for each in fit.abilities], 0.0, atol=1e-9)
    assert fit.tie is not None
    assert fit.tie.mean > 0.0
    with pytest.raises(InputError, match="Every pick is a tie, so that ties are infinitely likely"):
        fit_picks(table, prior="flat")


@pytest.mark.parametrize("other", ["brisa", "Bri sa", "Brisá"])
def test_two_spellings_of_one_coffee_or_taster_are_pointed_out(other: str) -> None:
    table = tabulate_picks(["Brisa", other], ["Oro", "Oro"], [3, 2], [1, 1], None, ["Wen", "wen"])
    said = fit_picks(table).cautions
    one, two = sorted(["Brisa", other])
    assert f'"{one}" and "{two}" are counted as two coffees; are they one?' in said
    assert '"Wen" and "wen" are counted as two tasters; are they one?' in said


def test_hundreds_of_thousands_of_picks_find_the_truth_or_say_what_cannot_be_done() -> None:
    rng = np.random.default_rng(1)
    truth = np.array([0.6, 0.1, -0.7])
    one = rng.integers(0, 3, 300_000)
    two = (one + rng.integers(1, 3, one.size)) % 3
    picked = np.where(rng.random(one.size) < expit(truth[one] - truth[two]), one, two)
    names = np.array(["A", "B", "C"])
    tasters = [f"t{each}" for each in rng.integers(0, 9000, one.size)]
    columns = [names[each].tolist() for each in (one, two, picked)]
    fit = fit_picks(count_picks(columns[0], columns[1], columns[2]))
    for each, exact in zip(fit.abilities, truth, strict=True):
        assert abs(each.estimate.mean - exact) < 4.0 * each.estimate.se
    table = count_picks(columns[0], columns[1], columns[2], tasters)
    with pytest.raises(InputError, match="are too many to average over what each taster adds"):
        fit_picks(table, dependence="tasters")
