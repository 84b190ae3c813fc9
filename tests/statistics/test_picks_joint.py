"""Marks and picks in one posterior: exact where it can be, covering where it must."""

import re
from typing import Any

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import norm

from twobowls.errors import InputError
from twobowls.statistics.picks import PickTable, count_picks, tabulate_picks
from twobowls.statistics.picks_joint import JointFit, joint_marks_and_picks
from twobowls.statistics.picks_peak import answer_shares

NAMES = ["A", "B", "C"]
MEAN = np.array([56.0, 50.0, 47.0])
COVARIANCE = np.diag([16.0, 25.0, 20.0]) + 4.0


def picks(for_a: int = 9, for_b: int = 2) -> PickTable:
    return tabulate_picks(["A", "B"], ["B", "C"], [for_a, 4], [for_b, 3], [1, 2])


def test_the_posterior_agrees_with_brute_force_for_two_coffees() -> None:
    mean, variance, won, lost = 4.0, 60.0, 8, 3
    table = tabulate_picks(["A"], ["B"], [won], [lost])
    joint = joint_marks_and_picks(
        ["A", "B"], [50.0 + mean, 50.0], np.eye(2) * variance / 2, table, noise_sd=9.0
    )
    middle = np.log(np.pi / np.sqrt(6.0) / 9.0)

    apart = np.linspace(-40.0, 50.0, 1801)
    slope = np.exp(middle + np.linspace(-5.0, 5.0, 401))[:, None]
    likelihood = expit(slope * apart) ** won * expit(-slope * apart) ** lost
    prior = norm.pdf(apart, mean, np.sqrt(variance)) * norm.pdf(np.log(slope), middle, 1.0)
    chance = (likelihood * prior).sum(axis=0)
    chance /= chance.sum()
    first, second = chance @ apart, chance @ apart**2
    ours = joint.contrasts[0]
    sd = np.sqrt(second - first**2)
    assert ours.estimate.mean == pytest.approx(first, abs=0.05 * sd)
    assert ours.estimate.se == pytest.approx(sd, rel=0.03)
    assert ours.probability == pytest.approx(chance[apart > 0].sum(), abs=0.01)


def test_a_pick_that_says_nothing_changes_nothing() -> None:
    table = tabulate_picks(["A"], ["B"], [1], [1])
    flat = joint_marks_and_picks(NAMES, [50.0] * 3, COVARIANCE, table, noise_sd=1e6)
    np.testing.assert_allclose(flat.posterior.mean, 50.0, atol=1e-3)
    np.testing.assert_allclose(flat.covariance, COVARIANCE, rtol=1e-3)
    assert flat.gain == pytest.approx(1.0, abs=1e-3)


def test_picks_that_agree_sharpen_and_picks_that_disagree_pull() -> None:
    agree = joint_marks_and_picks(NAMES, MEAN, COVARIANCE, picks())
    against = joint_marks_and_picks(NAMES, MEAN, COVARIANCE, picks(2, 9))
    alone = norm.cdf(6.0 / np.sqrt(16 + 25))
    assert agree.gain < 1.0
    assert agree.contrasts[0].probability > alone > against.contrasts[0].probability
    assert agree.tie is not None
    assert agree.picks == 21


def test_a_coffee_without_picks_keeps_its_mean_unless_others_carry_it_along() -> None:
    apart = np.diag([16.0, 25.0, 20.0])
    table = tabulate_picks(["A"], ["B"], [9], [1])
    joint = joint_marks_and_picks(NAMES, MEAN, apart, table)
    assert joint.means[2].estimate.mean == pytest.approx(47.0, abs=1e-6)
    assert joint.means[2].estimate.se == pytest.approx(np.sqrt(20.0), rel=1e-6)
    assert joint.contrasts[0].probability > norm.cdf(6.0 / np.sqrt(41))


def test_many_picks_by_the_same_few_never_undercut_their_common_lean() -> None:
    tasters = [f"t{i}" for i in range(4)]
    table = tabulate_picks(["A"] * 4, ["B"] * 4, [60] * 4, [40] * 4, None, tasters)
    covariance = np.eye(2) * (8.0**2 / 4 + 5.0)
    joint = joint_marks_and_picks(["A", "B"], [51, 50], covariance, table, disagreement_sd=8.0)
    assert joint.contrasts[0].estimate.se ** 2 > 2 * 8.0**2 / 4
    careless = joint_marks_and_picks(["A", "B"], [51, 50], covariance, table)
    assert careless.contrasts[0].estimate.se < joint.contrasts[0].estimate.se


def test_the_scale_of_the_marks_does_not_matter() -> None:
    one = joint_marks_and_picks(NAMES, MEAN, COVARIANCE, picks(), noise_sd=10.0)
    tenth = joint_marks_and_picks(NAMES, MEAN / 10, COVARIANCE / 100, picks(), noise_sd=1.0)
    for big, small in zip(one.contrasts, tenth.contrasts, strict=True):
        assert small.estimate.mean * 10 == pytest.approx(big.estimate.mean, abs=1e-6)
        assert small.probability == pytest.approx(big.probability, abs=1e-8)
    assert tenth.slope.mean == pytest.approx(10 * one.slope.mean)


def test_a_covariance_without_a_common_level_is_fine() -> None:
    centred = np.eye(3) - 1 / 3
    joint = joint_marks_and_picks(NAMES, MEAN, 20 * centred, picks())
    np.testing.assert_allclose(joint.covariance.sum(axis=0), 0.0, atol=1e-9)
    assert joint.posterior.mean.mean() == pytest.approx(MEAN.mean())


def test_marks_and_picks_at_odds_get_a_caution() -> None:
    table = tabulate_picks(["A"], ["B"], [0], [80])
    tight = np.eye(2) * 9.0
    joint = joint_marks_and_picks(["A", "B"], [64.0, 50.0], tight, table)
    assert joint.cautions == ('Picks and marks of "A" and "B" are at odds.',)
    fine = joint_marks_and_picks(["A", "B"], [50.0, 64.0], tight, table)
    assert fine.cautions == ()


def simulate(rng: np.random.Generator, disagreement: float) -> tuple[np.ndarray, JointFit]:
    """Eight tasters mark four coffees once and pick six times, all with their own taste."""
    coffees, tasters, noise = 4, 8, 10.0
    truth = rng.normal(50.0, 10.0, coffees)
    own = truth + rng.normal(0.0, disagreement, (tasters, coffees))
    marks = own + rng.normal(0.0, noise, own.shape)
    slope = np.pi / np.sqrt(6.0) / noise * np.exp(rng.normal())
    names = [f"c{i}" for i in range(coffees)]
    a, b, answers, who = [], [], [], []
    for taster in range(tasters):
        for _ in range(6):
            i, j = rng.choice(coffees, 2, replace=False)
            odds = np.array([slope * (own[taster, i] - own[taster, j])])
            picked = rng.choice(3, p=answer_shares(odds, -0.7)[:, 0])
            a.append(names[i])
            b.append(names[j])
            answers.append([names[i], names[j], "same"][picked])
            who.append(str(taster))
    table = count_picks(a, b, answers, who)
    variance = (disagreement**2 + noise**2) / tasters
    return truth, joint_marks_and_picks(
        names,
        marks.mean(axis=0),
        variance * np.eye(coffees),
        table,
        noise_sd=noise,
        disagreement_sd=disagreement,
    )


@pytest.mark.parametrize("disagreement", [0.0, 8.0])
def test_joint_intervals_cover(disagreement: float) -> None:
    # Any seed will do: four standard errors, of tables whose contrasts are held all or none at
    # worst.
    rng = np.random.default_rng(2026)
    inside: dict[float, list[float]] = {0.5: [], 0.8: [], 0.9: [], 0.95: []}
    gains = []
    for _ in range(40):
        truth, joint = simulate(rng, disagreement)
        gains.append(joint.gain)
        for level, hits in inside.items():
            hits.append(share_held(joint, truth, level))
    for level, hits in inside.items():
        error = np.sqrt(level * (1.0 - level) / len(hits))
        assert np.mean(hits) == pytest.approx(level, abs=4.0 * error)
    assert 0.5 < np.mean(gains) < 0.95


def share_held(joint: JointFit, truth: np.ndarray, level: float) -> float:
    held = []
    for each in joint.contrasts:
        i, j = int(each.a[1]), int(each.b[1])
        low, high = joint.posterior.interval(np.eye(4)[i] - np.eye(4)[j], level)
        held.append(low <= truth[i] - truth[j] <= high)
    return float(np.mean(held))


GIVEN: dict[str, Any] = {"coffees": NAMES, "mean": MEAN, "covariance": COVARIANCE}
BAD: list[tuple[dict[str, Any], str]] = [
    (
        {"coffees": ["A", "A", "B"]},
        "coffees: There are fewer than two different names. Name each coffee once.",
    ),
    (
        {"coffees": ["A", "B", "D"]},
        'picks: "C" was picked from but has no mean. Leave its picks out.',
    ),
    ({"mean": [1.0, 2.0]}, "mean: the shape is 2. Give numbers of shape 3."),
    (
        {"covariance": np.arange(9.0).reshape(3, 3)},
        "covariance: It is not symmetric. Give the covariance of the coffee means.",
    ),
    (
        {"covariance": np.diag([1.0, 1.0, -1.0])},
        "covariance: It has a negative direction (-1). Give the covariance of the coffee means.",
    ),
    (
        {"disagreement_sd": 5.0},
        "picks: It is not known who picked, and tasters disagree. "
        "Name the tasters when counting, or give a disagreement_sd of 0.",
    ),
    ({"noise_sd": 0.0}, "noise_sd: 0 is out of range. Give a number between 0 and inf."),
    ({"tasters": 0}, "tasters: 0 is too few. Give a whole number of 1 or more."),
]


@pytest.mark.parametrize(("changed", "message"), BAD)
def test_what_cannot_be_joined_is_refused(changed: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        joint_marks_and_picks(**(GIVEN | changed), picks=picks())


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("covariance", [np.zeros((3, 3)), np.ones((3, 3))])
def test_means_that_are_known_are_not_moved_by_picks(covariance: np.ndarray) -> None:
    joint = joint_marks_and_picks(NAMES, MEAN, covariance, picks())
    apart = [each.estimate for each in joint.contrasts]
    exact = [MEAN[0] - MEAN[1], MEAN[0] - MEAN[2], MEAN[1] - MEAN[2]]
    assert [each.mean for each in apart] == pytest.approx(exact)
    assert [each.se for each in apart] == pytest.approx([0.0] * 3, abs=1e-6)
    assert joint.gain == 1.0
