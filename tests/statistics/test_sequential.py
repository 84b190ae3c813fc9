from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.sequential import (
    SequentialPlan,
    operating_point,
    sequential_plan,
    sequential_state,
    wald_lines,
)


@pytest.mark.reference
def test_lines_are_those_of_the_nist_handbook() -> None:
    # NIST/SEMATECH e-Handbook 6.2.6 (from memory): p1 .01, p2 .10, alpha .05, beta .10
    # k = 1.0414 (in common logarithms), h1 = 0.9389, h2 = 1.2054, s = 0.0397
    plan = wald_lines("inspection", 0.01, 0.10, alpha=0.05, beta=0.10)
    assert plan.to_similar == pytest.approx(0.9389, abs=5e-5)
    assert plan.to_different == pytest.approx(1.2054, abs=5e-5)
    assert plan.slope == pytest.approx(0.0397, abs=5e-5)


@pytest.mark.reference
@pytest.mark.parametrize(("alpha", "beta"), [(0.05, 0.10), (0.01, 0.01)])
def test_mean_number_of_answers_is_near_walds_formula(alpha: float, beta: float) -> None:
    plan = sequential_plan("triangle", 0.3, alpha=alpha, beta=beta)
    p0, p1 = plan.share_same, plan.share_different
    up, down = np.log((1 - beta) / alpha), np.log(beta / (1 - alpha))
    for share, reject in [(p0, alpha), (p1, 1 - beta)]:
        drift = share * np.log(p1 / p0) + (1 - share) * np.log((1 - p1) / (1 - p0))
        wald = (reject * up + (1 - reject) * down) / drift
        exact = operating_point(plan, share).mean_trials
        # Wald 1947 neglects the jump past the lines: the truth is above, by a few answers.
        assert wald < exact < wald + 8


@pytest.mark.reference
@pytest.mark.parametrize(
    ("key", "share", "different", "similar", "mean"),
    [
        # R 4.2.2: Wald's lines (30 % discriminators, risks .05 and .10) and the chances between
        # them carried on answer by answer in a few lines of R
        ("triangle", 1 / 3, 0.0420142432, 0.9579857568, 26.79498699),
        ("triangle", 1 / 3 + 0.2, 0.9129820148, 0.0870179852, 31.00248333),
        ("triangle", 0.6, 0.9819294258, 0.0180705742, 21.42892900),
        ("duo-trio", 0.5, 0.0450162776, 0.9549837224, 45.72637161),
        ("duo-trio", 0.65, 0.9128678299, 0.0871321701, 55.61616209),
    ],
)
def test_operating_points_agree_with_r(
    key: str, share: float, different: float, similar: float, mean: float
) -> None:
    point = operating_point(sequential_plan(key, 0.3, alpha=0.05, beta=0.10), share)
    assert point.chance_different == pytest.approx(different, abs=1e-9)
    assert point.chance_similar == pytest.approx(similar, abs=1e-9)
    assert point.mean_trials == pytest.approx(mean, abs=1e-7)


@pytest.mark.parametrize("discriminators", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("key", ["triangle", "duo-trio"])
def test_both_risks_are_held(key: str, discriminators: float) -> None:
    plan = sequential_plan(key, discriminators, alpha=0.05, beta=0.10)
    assert operating_point(plan, plan.share_same).chance_different <= 0.05
    assert operating_point(plan, plan.share_different).chance_similar <= 0.10


def simulated(plan: SequentialPlan, share: float, tests: int, seed: int) -> dict[str, float]:
    rng = np.random.default_rng(seed)
    states = [sequential_state(plan, list(rng.uniform(size=400) < share)) for _ in range(tests)]
    return {
        "different": float(np.mean([state.decision == "different" for state in states])),
        "similar": float(np.mean([state.decision == "similar" for state in states])),
        "undecided": float(np.mean([state.decision == "undecided" for state in states])),
        "trials": float(np.mean([state.trials for state in states])),
    }


@pytest.mark.parametrize("share", [1 / 3, 0.5, 2 / 3])
@pytest.mark.parametrize("cap", [None, 20])
def test_operating_point_is_what_simulated_tests_do(share: float, cap: int | None) -> None:
    plan = sequential_plan("triangle", 0.5, cap=cap)
    point, tests = operating_point(plan, share), 3000
    seen = simulated(plan, share, tests, seed=11)
    error = 4 * (0.25 / tests) ** 0.5
    assert seen["different"] == pytest.approx(point.chance_different, abs=error)
    assert seen["similar"] == pytest.approx(point.chance_similar, abs=error)
    assert seen["undecided"] == pytest.approx(point.chance_undecided, abs=error)
    assert seen["trials"] == pytest.approx(point.mean_trials, abs=4 * 12 / tests**0.5)


def test_a_sequential_test_takes_fewer_answers_than_a_fixed_one() -> None:
    from twobowls.statistics.discrimination_power import trials_for_difference

    plan = sequential_plan("triangle", 0.3, alpha=0.05, beta=0.10)
    fixed = trials_for_difference("triangle", 0.3, alpha=0.05, power=0.90).first
    assert operating_point(plan, plan.share_same).mean_trials < 0.6 * fixed
    assert operating_point(plan, plan.share_different).mean_trials < 0.6 * fixed


def test_nine_of_ten_tests_end_by_the_number_given() -> None:
    plan = sequential_plan("triangle", 0.5)
    point = operating_point(plan, 0.5)
    capped = sequential_plan("triangle", 0.5, cap=point.trials_90)
    assert operating_point(capped, 0.5).chance_undecided <= 0.10


def test_chances_sum_to_one() -> None:
    plan = sequential_plan("tetrad", 0.4, cap=15)
    for share in (0.0, 0.2, 1 / 3, 0.6, 1.0):
        point = operating_point(plan, share)
        total = point.chance_different + point.chance_similar + point.chance_undecided
        assert total == pytest.approx(1)


def test_all_wrong_is_similar_and_all_right_is_different() -> None:
    plan = sequential_plan("triangle", 0.5)
    assert sequential_state(plan, [False] * 10).decision == "similar"
    assert sequential_state(plan, [True] * 10).decision == "different"


def test_no_answer_yet_means_go_on() -> None:
    state = sequential_state(sequential_plan("triangle", 0.5), [])
    assert (state.decision, state.trials, state.different_at) == ("go on", 0, None)


def test_the_cap_ends_without_a_claim() -> None:
    plan = sequential_plan("triangle", 0.5, cap=6)
    state = sequential_state(plan, [True, False, True, False, True, False])
    assert state.decision == "undecided"


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: sequential_plan("triangle", 0.5, alpha=0.6),
            "alpha: 0.6 is out of range. Give a number between 0 and 0.5.",
        ),
        (
            lambda: wald_lines("x", 0.5, 0.4),
            "share_different: 0.4 is not above 0.5. Give the larger share second.",
        ),
        (
            lambda: sequential_state(sequential_plan("triangle", 0.5), [2]),  # type: ignore[list-item]
            "answers: an answer is neither right nor wrong. Give True or False for each.",
        ),
        (
            lambda: sequential_plan("triangle", 0.5, cap=0),
            "cap: 0 is too few. Give a whole number from 1 to 50000.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
