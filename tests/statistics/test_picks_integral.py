"""What the fit of picks integrates over: deviations of tasters, and the points it is taken at."""

import numpy as np
import pytest
from scipy.special import expit

from twobowls.statistics.picks_gather import gather_tasters
from twobowls.statistics.picks_grid import place_nodes
from twobowls.statistics.picks_marginal import climb_marginal, even_points
from twobowls.statistics.picks_model import PickModel, PicksPrior
from twobowls.statistics.picks_peak import Question, climb, weigh_answers
from twobowls.statistics.picks_table import SAME, PickTable, count_picks


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


def repeated_table(order: bool) -> tuple[PickTable, PickModel]:
    """Four sorts of tasters, each many times over, some pairs put the other way round."""
    rng = np.random.default_rng(12)
    names, rows = ["A", "B", "C"], []
    for sort in range(4):
        pairs = rng.permuted(np.tile(np.arange(3), (5, 1)), axis=1)[:, :2]
        said = rng.integers(0, 3, len(pairs))
        for taster in range(int(rng.integers(2, 6))):
            who = f"t{taster}{sort}"
            rows += [
                (names[a], names[b], each, who) for (a, b), each in zip(pairs, said, strict=True)
            ]
    one, two, answered, tasters = zip(*rows, strict=True)
    answers = [(a, b, SAME)[each] for a, b, each in zip(one, two, answered, strict=True)]
    table = count_picks(one, two, answers, tasters)
    return table, PickModel(table, True, order, PicksPrior())


def every_row(table: PickTable, model: PickModel, spread: float) -> Question:
    """The question as it is without gathering anything."""
    gathered = model.ask(spread)
    sway = spread * (model.basis[table.first] - model.basis[table.second])
    return Question(
        design=model.design,
        offset=np.zeros(table.first.size),
        answers=model.answers,
        precision=gathered.precision,
        centre=gathered.centre,
        ties=True,
        sway=sway if spread else sway[:, :0],
        taster=table.taster,
    )


@pytest.mark.parametrize("order", [False, True])
@pytest.mark.parametrize("spread", [0.0, 0.8])
def test_gathered_rows_say_what_all_rows_say(order: bool, spread: float) -> None:
    table, model = repeated_table(order)
    brief, full = model.ask(spread), every_row(table, model, spread)
    assert brief.design.shape[0] < 0.5 * full.design.shape[0]
    for search in (climb, climb_marginal):
        ours, slow = search(brief), search(full)
        assert ours.settled
        assert slow.settled
        np.testing.assert_allclose(ours.theta, slow.theta, rtol=1e-7, atol=1e-9)
        np.testing.assert_allclose(ours.covariance, slow.covariance, rtol=1e-7, atol=1e-9)
        assert ours.log_evidence == pytest.approx(slow.log_evidence, rel=1e-9)
        assert ours.log_likelihood == pytest.approx(slow.log_likelihood, rel=1e-9)


def test_tasters_with_the_same_rows_are_counted_once_and_no_others() -> None:
    one, two = ["A", "B", "A", "A", "A"], ["B", "A", "B", "B", "C"]
    said, who = ["A", "A", "B", "A", "A"], ["t1", "t2", "t3", "t4", "t4"]
    table = count_picks(one, two, said, who)
    apart = gather_tasters(table, order=True)
    assert apart.alike.tolist() == [1.0, 1.0, 1.0, 1.0]
    found = gather_tasters(table, order=False)
    assert found.alike.tolist() == [2.0, 1.0, 1.0]
    assert found.taster.tolist() == [0, 1, 2, 2]
    assert found.counts[0].tolist() == [1.0, 0.0, 1.0, 1.0]
