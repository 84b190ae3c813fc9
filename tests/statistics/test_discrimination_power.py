from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.discrimination_power import (
    power_of_difference,
    power_of_preference,
    trials_for_difference,
    trials_for_preference,
    trials_for_similarity,
)
from twobowls.statistics.psychometric import METHODS, discriminators, proportion_correct

POWERS = (0.80, 0.90, 0.95)
# First number of answers, alpha 0.05. ISO 4120 Table A.3 rows for 30 % and 20 %, ISO 10399 for
# 30 % at 0.80 and 0.95 (from memory); the stable numbers by exact binomial sums in SciPy 1.17.1.
FIRST = {
    ("triangle", 0.5): (16, 20, 23),
    ("triangle", 0.4): (23, 30, 40),
    ("triangle", 0.3): (40, 53, 66),
    ("triangle", 0.2): (87, 117, 147),
    ("duo-trio", 0.5): (23, 33, 42),
    ("duo-trio", 0.4): (37, 53, 67),
    ("duo-trio", 0.3): (69, 93, 119),
    ("duo-trio", 0.2): (158, 213, 268),
}
STABLE = {
    ("triangle", 0.5): (16, 22, 29),
    ("triangle", 0.4): (25, 34, 42),
    ("triangle", 0.3): (42, 57, 73),
    ("triangle", 0.2): (94, 124, 154),
    ("duo-trio", 0.5): (28, 35, 44),
    ("duo-trio", 0.4): (42, 58, 69),
    ("duo-trio", 0.3): (76, 102, 126),
    ("duo-trio", 0.2): (169, 224, 281),
}
# d' = 1, alpha 0.05, power 0.8: first and stable, exact binomial sums in SciPy 1.17.1.
AT_D_PRIME_1 = {
    "2-afc": (23, 26),
    "3-afc": (16, 22),
    "triangle": (202, 220),
    "duo-trio": (228, 241),
    "tetrad": (61, 65),
}


@pytest.mark.reference
@pytest.mark.parametrize(("key", "share"), list(FIRST))
def test_numbers_of_tasters_are_those_of_iso_4120_and_10399(key: str, share: float) -> None:
    needed = [trials_for_difference(key, share, power=power) for power in POWERS]
    assert tuple(n.first for n in needed) == FIRST[key, share]
    assert tuple(n.stable for n in needed) == STABLE[key, share]


@pytest.mark.reference
@pytest.mark.parametrize(
    ("share", "quoted"), [(0.10, 349), (0.175, 121), (0.25, 60), (0.325, 39), (0.40, 25)]
)
def test_numbers_of_tasters_are_those_of_a_course(share: float, quoted: int) -> None:
    # A public university course on sensory analysis (Slovak, companion pages at
    # senzorika.github.io), exact binomial, alpha 0.05, power 0.80; its numbers are the stable ones.
    assert trials_for_difference("triangle", share, power=0.80).stable == quoted


@pytest.mark.reference
@pytest.mark.parametrize("key", list(METHODS))
def test_numbers_at_d_prime_one_agree_with_exact_sums(key: str) -> None:
    share = float(discriminators(key, proportion_correct(key, 1.0)))
    needed = trials_for_difference(key, share, power=0.80)
    assert (needed.first, needed.stable) == AT_D_PRIME_1[key]


@pytest.mark.reference
def test_powers_agree_with_r() -> None:
    # R 4.2.2: 1 - pbinom(qbinom(.95, 66, 1/3), 66, 1/3 + .2) and the two tails at 60, 0.7
    assert power_of_difference("triangle", 66, 0.30) == pytest.approx(0.9507277, abs=5e-8)
    assert power_of_preference(60, 0.7) == pytest.approx(0.8381821, abs=5e-8)


@pytest.mark.parametrize("key", ["triangle", "duo-trio"])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_stable_means_that_the_power_is_never_lost_again(key: str, share: float) -> None:
    needed = trials_for_difference(key, share, power=0.90)
    beyond = range(needed.stable, 3 * needed.stable + 50)
    assert all(power_of_difference(key, n, share) >= 0.90 for n in beyond)
    assert needed.first == needed.stable or power_of_difference(key, needed.stable - 1, share) < 0.9


def test_no_discriminators_means_power_is_the_real_risk() -> None:
    powers = [power_of_difference("triangle", n, 0.0) for n in range(3, 60)]
    assert min(powers) > 0
    assert max(powers) <= 0.05


def test_power_is_none_at_all_with_too_few_answers() -> None:
    assert power_of_difference("triangle", 2, 1.0) == 0
    assert power_of_preference(3, 1.0) == 0


def test_preference_needs_the_same_number_either_way() -> None:
    assert trials_for_preference(0.7) == trials_for_preference(0.3)


def test_similarity_size_is_what_simulation_finds() -> None:
    needed = trials_for_similarity("triangle", 0.30, beta=0.05, power=0.90)
    from twobowls.statistics.minimum_correct import maximum_correct

    most = maximum_correct("triangle", needed.first, 0.30, 0.05)
    assert most is not None
    rng = np.random.default_rng(5)
    found = (rng.binomial(needed.first, 1 / 3, size=40_000) <= most).mean()
    assert found == pytest.approx(needed.power_at_first, abs=0.006)  # four standard errors
    assert needed.power_at_first >= 0.90


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: trials_for_difference("triangle", 0.001),
            "discriminators: the effect is so small that no panel would be large enough. "
            "Give a larger effect, or accept a higher risk.",
        ),
        (
            lambda: trials_for_preference(0.5),
            "share: 0.5 is no preference. Give a share above or below one half.",
        ),
        (
            lambda: trials_for_similarity("triangle", 0.3, truth=0.3),
            "truth: 0.3 is the limit itself. Give a share under the limit.",
        ),
        (
            lambda: trials_for_similarity("triangle", 0.3, truth=0.4),
            "truth: 0.4 is out of range. Give a number from 0 to 0.3.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
