from collections.abc import Callable
from math import inf

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.thresholds import best_estimate_threshold

STEPS = (1, 2, 4, 8, 16, 32)
SERIES = "011111 001111 110111 010111 111111 000011 101111 111110"
RIGHT = [[int(answer) for answer in row] for row in SERIES.split()]


@pytest.mark.reference
def test_thresholds_follow_the_rule_of_astm_e679() -> None:
    # Rule from memory of ASTM E679 (geometric mean of the last miss and the next strength, half
    # a step beyond the ends); the matrix is our own, worked by hand.
    result = best_estimate_threshold(STEPS, RIGHT)
    by_hand = (1.414, 2.828, 5.657, 5.657, 0.707, 11.314, 2.828, 45.255)
    assert result.each == pytest.approx(by_hand, abs=5e-4)
    assert result.group.estimate == pytest.approx(4.362, abs=5e-4)
    assert (result.below, result.beyond) == (1, 1)


@pytest.mark.reference
def test_the_interval_is_scipys_student_interval_of_the_logarithms() -> None:
    from scipy.stats import t

    result = best_estimate_threshold(STEPS, RIGHT, level=0.95)
    logs = np.log(result.each)
    low, high = t.interval(0.95, logs.size - 1, logs.mean(), logs.std(ddof=1) / logs.size**0.5)
    assert result.group.low == pytest.approx(np.exp(low), rel=1e-12)
    assert result.group.high == pytest.approx(np.exp(high), rel=1e-12)
    assert result.spread == pytest.approx(np.log10(result.each).std(ddof=1), rel=1e-12)


def test_steps_need_not_be_equal() -> None:
    result = best_estimate_threshold([1, 3, 4], [[1, 1, 1], [0, 1, 1], [1, 0, 1], [1, 1, 0]])
    step = (1 / 3**0.5, 3**0.5, 12**0.5, 4 * (4 / 3) ** 0.5)
    assert result.each == pytest.approx(step)


def test_one_taster_gets_a_hint_without_a_bound() -> None:
    result = best_estimate_threshold([1, 2, 4], [0, 1, 1])
    assert (result.group.low, result.group.high) == (0, inf)
    assert result.spread is None
    assert result.cautions[0] == "One series of one taster: a hint, not a measurement. Repeat it."


def test_the_ends_of_the_series_are_spoken_of() -> None:
    result = best_estimate_threshold(STEPS, RIGHT)
    assert result.cautions == (
        "1 of 8 were right from the weakest bowl on: start the series weaker.",
        "1 of 8 missed the strongest bowl: go on to stronger ones.",
    )


def test_the_group_threshold_is_somewhat_under_the_truth_in_simulated_series() -> None:
    rng = np.random.default_rng(4)
    strengths = 0.25 * 2.0 ** np.arange(9)
    truth = np.exp(rng.normal(np.log(4), 0.5, size=(300, 1)))
    noticed = rng.uniform(size=(300, 9)) < 1 / (1 + (strengths / truth) ** -4.0)
    right = noticed | (rng.uniform(size=(300, 9)) < 1 / 3)
    group = best_estimate_threshold(strengths, right).group
    assert 2.5 < group.estimate < 4


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: best_estimate_threshold([1, 2, 2], [[1, 1, 1]]),
            "strengths: they do not ascend. Sort them from weak to strong.",
        ),
        (
            lambda: best_estimate_threshold([0, 1, 2], [[1, 1, 1]]),
            "strengths: 0 is not above 0. Leave out plain water.",
        ),
        (
            lambda: best_estimate_threshold([1], [[1]]),
            "strengths: there is only one. Give two strengths or more.",
        ),
        (
            lambda: best_estimate_threshold([1, 2], [[1, 2]]),
            "right: an answer is neither right nor wrong. Give 1 or 0 for each.",
        ),
        (
            lambda: best_estimate_threshold([1, 2], [[1, 1, 1]]),
            "right: the shape is 1 × 3. Give numbers of shape any × 2.",
        ),
        (
            lambda: best_estimate_threshold([1, 2], [[1, float("nan")]]),
            "right: entry 1, 2 is missing or not finite. Fill the gap or leave the row out.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text


@pytest.mark.filterwarnings("error")
def test_an_interval_of_two_tasters_far_apart_ends_where_no_number_is_large_enough() -> None:
    # Student's 0.9995 quantile at one degree of freedom is 636.6: 2 ** (+-636.6 * 5 / 2) around
    found = best_estimate_threshold([1, 2, 4, 8, 16], [[1] * 5, [0] * 5], level=0.999)
    assert found.group.estimate == pytest.approx(4.0)
    assert found.group.low == 0.0
    assert found.group.high == np.inf


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("span", [1e-150, 1e-300])
def test_strengths_at_the_ends_of_what_numbers_are_give_thresholds_or_none(span: float) -> None:
    found = best_estimate_threshold([span, 1 / span], [[0, 1], [0, 0], [1, 1]])
    assert found.each[0] == pytest.approx(1.0)
    assert found.group.estimate == pytest.approx(1.0)
