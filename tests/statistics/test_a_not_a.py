from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.a_not_a import a_not_a_test
from twobowls.statistics.a_not_a_power import bowls_for_a_not_a, power_of_a_not_a

# R 4.2.2, MASS 7.3-58.2, for hits of bowls of A and false alarms of the others:
# coef and confint(level = .9) of glm(cbind(A, not A) ~ x, binomial(probit)), x = +1/2 and -1/2
# (the profile is interpolated, hence four digits); fisher.test(alternative = "greater");
# integrate(dbeta(p, hits + 1, misses + 1) * pbeta(p, alarms + 1, rejections + 1)).
TABLES = {
    (14, 20, 6, 20): (
        1.04880102541608,
        (0.372151563742768, 1.745000593929577),
        0.0,
        0.0128223884716607,
        0.993690204407073,
    ),
    (35, 40, 9, 30): (
        1.674749893084049,
        (1.1109513136443820, 2.264089032969971),
        -0.312974433833983,
        8.92268276512636e-07,
        0.999999661028498,
    ),
    (5, 12, 6, 10): (
        -0.4637754973837244,
        (-1.364121746849455, 0.422051220875147),
        -0.0214593544439376,
        0.90080971659919,
        0.206824606272715,
    ),
}


@pytest.mark.reference
@pytest.mark.parametrize("counts", list(TABLES))
def test_estimates_agree_with_r(counts: tuple[int, int, int, int]) -> None:
    d, interval, lean, p, probability = TABLES[counts]
    result = a_not_a_test(*counts)
    assert result.d_prime.estimate == pytest.approx(d, rel=1e-9)
    assert (result.d_prime.low, result.d_prime.high) == pytest.approx(interval, abs=1e-4)
    assert result.lean == pytest.approx(lean, abs=1e-9)
    assert result.p_value == pytest.approx(p, rel=1e-10)
    assert result.probability == pytest.approx(probability, rel=1e-10)


@pytest.mark.reference
def test_fisher_agrees_with_scipy_on_every_small_table() -> None:
    from scipy.stats import fisher_exact

    for hits in range(6):
        for alarms in range(5):
            ours = a_not_a_test(hits, 5, alarms, 4).p_value
            table = [[hits, alarms], [5 - hits, 4 - alarms]]
            theirs = fisher_exact(table, alternative="greater").pvalue
            assert ours == pytest.approx(theirs, rel=1e-10)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("bowls", "others", "d", "lean", "theirs"),
    [
        # R 4.2.2: dbinom over all tables with phyper (equal to fisher.test) p <= .05
        (20, 20, 1.0, 0.0, 0.67147539558136),
        (30, 20, 1.0, 0.2, 0.78244379092843),
        (12, 36, 1.5, -0.3, 0.93859375185424),
        (25, 25, 0.0, 0.1, 0.03205452694172),
    ],
)
def test_power_of_a_not_a_agrees_with_r(
    bowls: int, others: int, d: float, lean: float, theirs: float
) -> None:
    ours = power_of_a_not_a(bowls, d, other_bowls=others, lean=lean)
    assert ours == pytest.approx(theirs, rel=1e-12)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("d", "lean", "power", "first", "stable"),
    [
        # R 4.2.2: the same over 1 to 140 bowls of each kind, first number and the last failing + 1
        (1.0, 0.0, 0.80, 24, 24),
        (1.0, 0.0, 0.90, 33, 33),
        (1.5, 0.2, 0.80, 12, 12),
        (0.6, 0.0, 0.80, 60, 65),
    ],
)
def test_numbers_of_bowls_agree_with_r(
    d: float, lean: float, power: float, first: int, stable: int
) -> None:
    needed = bowls_for_a_not_a(d, lean=lean, power=power)
    assert (needed.first, needed.stable) == (first, stable)
    assert needed.power_at_first >= power
    assert needed.power_at_first == pytest.approx(power_of_a_not_a(first, d, lean=lean))


@pytest.mark.parametrize("d", [0.4, 0.8, 2.0, 5.0])
def test_no_smaller_number_of_bowls_would_do(d: float) -> None:
    needed = bowls_for_a_not_a(d)
    assert all(power_of_a_not_a(n, d) < 0.80 for n in range(1, needed.first))
    assert all(power_of_a_not_a(n, d) >= 0.80 for n in range(needed.stable, needed.stable + 40))


def test_a_taster_who_leans_to_one_answer_needs_more_bowls() -> None:
    assert bowls_for_a_not_a(1.0, lean=1.2).first > 1.3 * bowls_for_a_not_a(1.0).first


@pytest.mark.reference
def test_sensitivity_and_lean_are_those_of_the_textbook() -> None:
    # Macmillan & Creelman 2005, chapter 1 (from memory): hits .8, false alarms .4 of 25 each give
    # z(.8) - z(.4) = .842 + .253 = 1.095, criterion c = -.294
    result = a_not_a_test(20, 25, 10, 25)
    assert result.d_prime.estimate == pytest.approx(1.095, abs=5e-4)
    assert result.lean == pytest.approx(-0.294, abs=5e-4)


def test_likelihood_interval_covers_about_its_level() -> None:
    from scipy.special import ndtr
    from scipy.stats import binom

    d, c, n = 1.2, 0.2, 15
    k = np.arange(n + 1)
    hits, alarms = binom.pmf(k, n, ndtr(d / 2 - c)), binom.pmf(k, n, ndtr(-d / 2 - c))
    every = range(n + 1)
    held = [[d in a_not_a_test(hit, n, alarm, n).d_prime for alarm in every] for hit in every]
    assert hits @ np.array(held) @ alarms == pytest.approx(0.90, abs=0.03)  # exact coverage


def test_perfect_answers_leave_the_distance_open_above() -> None:
    result = a_not_a_test(20, 20, 0, 20)
    assert result.d_prime.estimate == np.inf
    assert result.d_prime.high == np.inf
    assert result.d_prime.low > 3
    assert result.different
    assert result.cautions == (
        "One kind of bowl always got the same answer: the size of d′ is open there.",
    )


def test_one_answer_to_everything_shows_nothing() -> None:
    result = a_not_a_test(0, 20, 0, 20)
    assert result.p_value == 1
    assert result.probability == pytest.approx(0.5)
    assert result.d_prime.low == -np.inf
    assert result.d_prime.high == np.inf
    assert result.lean > 1


def test_swapping_the_kinds_turns_the_sign() -> None:
    one, other = a_not_a_test(14, 20, 6, 18), a_not_a_test(6, 18, 14, 20)
    assert one.d_prime.estimate == pytest.approx(-other.d_prime.estimate)
    assert one.d_prime.low == pytest.approx(-other.d_prime.high, abs=1e-6)
    assert one.probability == pytest.approx(1 - other.probability)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: a_not_a_test(21, 20, 6, 20),
            "a_called_a: 21 is too many. Give a whole number from 0 to 20.",
        ),
        (
            lambda: a_not_a_test(1, 2, 1, 0),
            "other_bowls: 0 is too few. Give a whole number of 1 or more.",
        ),
        (
            lambda: power_of_a_not_a(20, float("nan")),
            "d_prime: nan is out of range. Give a number from -12 to 12.",
        ),
        (
            lambda: power_of_a_not_a(20, 1.0, other_bowls=501),
            "other_bowls: 501 is too many. Give a whole number from 1 to 500.",
        ),
        (
            lambda: bowls_for_a_not_a(0.05),
            "d_prime: 0.05 would take more than 500 bowls of each coffee. "
            "Give a larger distance, or accept a higher risk.",
        ),
        (
            lambda: bowls_for_a_not_a(0),
            "d_prime: 0 would take more than 500 bowls of each coffee. "
            "Give a larger distance, or accept a higher risk.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
