from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.discrimination import difference_test, preference_test, similarity_test
from twobowls.statistics.intervals import exact_share
from twobowls.statistics.psychometric import METHODS, d_prime, proportion_correct


@pytest.mark.reference
def test_exact_p_and_interval_agree_with_r_binom_test() -> None:
    # R 4.2.2: binom.test(12, 20, 1/3, alternative = "greater"); binom.test(12, 20, conf.level = .9)
    result = difference_test("triangle", 12, 20)
    assert result.p_value == pytest.approx(0.0129732968253003, rel=1e-12)
    assert result.proportion.low == pytest.approx(0.393584886756970, rel=1e-12)
    assert result.proportion.high == pytest.approx(0.782931410629926, rel=1e-12)


@pytest.mark.reference
def test_two_sided_p_and_interval_agree_with_r_binom_test() -> None:
    # R 4.2.2: binom.test(15, 20, conf.level = .9); pbeta(.5, 16, 6, lower = FALSE)
    result = preference_test(15, 20)
    assert result.p_value == pytest.approx(0.0413894653320313, rel=1e-12)
    assert result.share.low == pytest.approx(0.544417595998251, rel=1e-12)
    assert result.share.high == pytest.approx(0.895919164089864, rel=1e-12)
    assert result.probability == pytest.approx(0.986698150634766, rel=1e-12)


@pytest.mark.reference
def test_similarity_agrees_with_r_binom_test() -> None:
    # R 4.2.2: binom.test(22, 60, 1/3 + .2, alternative = "less", conf.level = .95)
    result = similarity_test("triangle", 22, 60, limit=0.30, beta=0.05)
    assert result.p_value == pytest.approx(0.00692476677752, rel=1e-10)
    upper = (0.480659838427565 - 1 / 3) / (2 / 3)
    assert result.largest_share == pytest.approx(upper, rel=1e-12)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [
        # R 4.2.2, MASS 7.3-58.2: plogis(confint(glm(cbind(k, n-k) ~ 1, binomial), level = .90)).
        # The profile is interpolated by a spline there, hence four digits.
        (12, 20, 0.416968240703745, 0.765712025094223),
        (15, 20, 0.573588874603895, 0.883212010896650),
        (45, 60, 0.651520172624889, 0.833668942976792),
    ],
)
def test_likelihood_interval_agrees_with_r_profile(k: int, n: int, low: float, high: float) -> None:
    interval = difference_test("triangle", k, n).d_prime_likelihood
    back = proportion_correct("triangle", [interval.low, interval.high])
    assert back == pytest.approx([low, high], abs=1e-4)


@pytest.mark.reference
def test_posterior_probability_agrees_with_integration_in_r() -> None:
    # R 4.2.2: bf <- integrate(dbinom(12, 20, p), 1/3, 1) / (2/3) / dbinom(12, 20, 1/3)
    assert difference_test("triangle", 12, 20).probability == pytest.approx(0.884666334273139)


@pytest.mark.parametrize("key", list(METHODS))
def test_d_prime_and_discriminators_follow_the_share_right(key: str) -> None:
    result = difference_test(key, 40, 50)
    assert result.d_prime.estimate == pytest.approx(float(d_prime(key, 0.8)))
    assert result.d_prime.low < result.d_prime_likelihood.low < result.d_prime.estimate
    assert result.d_prime.estimate < result.d_prime_likelihood.high < result.d_prime.high
    guess = METHODS[key].guess
    assert result.discriminators.estimate == pytest.approx((0.8 - guess) / (1 - guess))


@pytest.mark.parametrize("level", [0.80, 0.90, 0.95])
def test_exact_intervals_cover_at_least_the_level_and_likelihood_ones_about(level: float) -> None:
    n, shares = 30, np.linspace(0.45, 0.9, 46)
    from scipy.stats import binom

    exact, likely = np.zeros(shares.size), np.zeros(shares.size)
    truth = d_prime("triangle", shares)
    for k in range(n + 1):
        result = difference_test("triangle", k, n, level=level)
        weight = binom.pmf(k, n, shares)
        exact += weight * ((result.d_prime.low <= truth) & (truth <= result.d_prime.high))
        band = result.d_prime_likelihood
        likely += weight * ((band.low <= truth) & (truth <= band.high))
    assert exact.min() >= level
    assert likely.mean() == pytest.approx(level, abs=0.02)


def test_the_probability_is_calibrated_when_half_the_pairs_differ() -> None:
    rng = np.random.default_rng(7)
    differ = rng.uniform(size=20_000) < 0.5
    share = 1 / 3 + np.where(differ, rng.uniform(size=differ.size), 0) * 2 / 3
    correct = rng.binomial(15, share)
    told = np.array([difference_test("triangle", k, 15).probability for k in range(16)])[correct]
    for low, high in [(0, 0.3), (0.3, 0.6), (0.6, 0.9), (0.9, 1)]:
        inside = (told >= low) & (told < high)
        error = (0.25 / inside.sum()) ** 0.5
        assert differ[inside].mean() == pytest.approx(told[inside].mean(), abs=4 * error)


def test_all_right_has_no_upper_bound_and_says_so() -> None:
    result = difference_test("3-afc", 8, 8)
    assert result.d_prime.estimate == np.inf
    assert result.d_prime.high == np.inf
    assert 0 < result.d_prime.low < 3
    assert result.cautions == (
        "Every answer was right: the difference may be of any size above the lower limit.",
    )


def test_fewer_right_than_guessing_gives_no_difference() -> None:
    result = difference_test("triangle", 3, 20)
    assert result.d_prime.estimate == 0
    assert result.discriminators.estimate == 0
    assert result.d_prime_likelihood.low == 0
    assert not result.different
    assert result.probability < 0.2


BELOW = "Fewer answers were right than guessing explains"


@pytest.mark.reference
def test_no_right_answer_of_ten_agrees_with_r_binom_test_and_says_what_it_means() -> None:
    # R 4.2.2: binom.test(0, 10, conf.level = .9)$conf.int[2], under 1/3 and 1/2: no share of
    # discriminators from 0 to 1 has an exact interval that holds it
    result = difference_test("triangle", 0, 10)
    assert result.proportion.high == pytest.approx(0.258865550893052, rel=1e-12)
    assert (result.discriminators.low, result.discriminators.high) == (0.0, 0.0)
    assert any(each.startswith(BELOW) for each in result.cautions)
    assert result.d_prime_likelihood.high > 0
    similar = similarity_test("triangle", 0, 10)
    assert similar.largest_share == 0.0
    assert any(each.startswith(BELOW) for each in similar.cautions)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("k", "n", "upper"),
    [
        # R 4.2.2: binom.test(k, n, conf.level = .9)$conf.int[2], less 1/3, over 2/3
        (0, 7, 0.0222454826967412),
        (1, 10, 0.0912449536547572),
        (2, 10, 0.260351951594804),
    ],
)
def test_the_upper_limit_of_discriminators_agrees_with_r_binom_test(
    k: int, n: int, upper: float
) -> None:
    result = difference_test("triangle", k, n)
    assert result.discriminators.low == 0.0
    assert result.discriminators.high == pytest.approx(upper, rel=1e-12)
    assert not any(each.startswith(BELOW) for each in result.cautions)


@pytest.mark.parametrize("key", list(METHODS))
def test_discriminators_end_at_zero_where_the_exact_share_ends_below_guessing(
    key: str,
) -> None:
    guess = METHODS[key].guess
    for n in (1, 2, 5, 10, 30):
        for k in range(n + 1):
            result = difference_test(key, k, n)
            below = result.proportion.high <= guess
            assert (result.discriminators.high == 0.0) is below
            assert any(each.startswith(BELOW) for each in result.cautions) is below


@pytest.mark.reference
@pytest.mark.parametrize("beta", [0.05, 0.5, 0.7])
def test_the_largest_share_has_the_chance_of_beta(beta: float) -> None:
    from scipy.stats import binom

    share = similarity_test("triangle", 22, 40, beta=beta).largest_share
    assert binom.cdf(22, 40, 1 / 3 + 2 / 3 * share) == pytest.approx(beta, rel=1e-9)


def test_too_few_answers_say_so_and_claim_nothing() -> None:
    result = difference_test("duo-trio", 4, 4)
    assert result.minimum_correct is None
    assert not result.different
    assert "taste more" in result.cautions[0]


def test_preference_is_symmetric() -> None:
    one, other = preference_test(15, 20), preference_test(5, 20)
    assert one.p_value == other.p_value
    assert one.probability == pytest.approx(1 - other.probability)
    assert one.d_prime.low == pytest.approx(-other.d_prime.high)
    assert one.different
    assert other.different


def test_an_even_split_has_p_one() -> None:
    assert preference_test(10, 20).p_value == 1


def test_similarity_is_not_shown_by_a_small_panel() -> None:
    result = similarity_test("triangle", 0, 3)
    assert result.maximum_correct is None
    assert not result.similar
    assert "taste more" in result.cautions[0]


def test_exact_share_holds_its_ends() -> None:
    assert exact_share(0, 10).low == 0
    assert exact_share(10, 10).high == 1
    assert 0.5 in exact_share(5, 10)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: difference_test("triangle", 13, 12),
            "correct: 13 is too many. Give a whole number from 0 to 12.",
        ),
        (
            lambda: difference_test("triangle", 5, 12, level=90),
            "level: 90 is out of range. Give a number between 0 and 1.",
        ),
        (
            lambda: preference_test(-1, 12),
            "for_a: -1 is too few. Give a whole number from 0 to 12.",
        ),
        (
            lambda: similarity_test("triangle", 5, 12, beta=0),
            "beta: 0 is out of range. Give a number between 0 and 1.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
