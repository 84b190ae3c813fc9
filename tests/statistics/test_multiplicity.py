from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from twobowls.errors import InputError
from twobowls.statistics.multiplicity import benjamini_hochberg, expected_false_claims, holm

# Benjamini & Hochberg 1995, section 4 (15 hypotheses of a heart study; from memory), shuffled.
# fmt: off
HEART = np.array([
    0.0004, 0.0001, 0.0459, 0.3240, 0.0298, 0.0095, 0.0278, 0.0019, 0.4262, 0.5719, 0.6528,
    0.7590, 1.0, 0.0344, 0.0201,
])
# R 4.2.2, stats::p.adjust(p, "holm") and (p, "BH"); statsmodels 0.15.0 multipletests agrees.
R_HOLM = (0.0056, 0.0015, 0.3213, 1, 0.2780, 0.1140, 0.2780, 0.0247, 1, 1, 1, 1, 1, 0.2780, 0.2211)
R_BH = (
    0.003, 0.0015, 0.0765, 0.486, 0.0638571428571429, 0.035625, 0.0638571428571429, 0.0095,
    0.5811818181818181, 0.7148749999999999, 0.7532307692307693, 0.8132142857142857, 1.0,
    0.0645, 0.0603,
)
# fmt: on

p_lists = st.lists(st.floats(0, 1), min_size=1, max_size=30)


@pytest.mark.reference
def test_holm_agrees_with_r_p_adjust() -> None:
    np.testing.assert_allclose(holm(HEART), R_HOLM, rtol=1e-12)


@pytest.mark.reference
def test_benjamini_hochberg_agrees_with_r_p_adjust() -> None:
    np.testing.assert_allclose(benjamini_hochberg(HEART), R_BH, rtol=1e-12)


@pytest.mark.reference
def test_benjamini_hochberg_agrees_with_scipy() -> None:
    from scipy.stats import false_discovery_control

    p = np.random.default_rng(1).uniform(size=40) ** 2
    np.testing.assert_allclose(benjamini_hochberg(p), false_discovery_control(p), rtol=1e-12)


@pytest.mark.reference
def test_the_paper_claims_three_by_holm_and_four_by_its_own_method() -> None:
    # Benjamini & Hochberg 1995: at 0.05 Bonferroni (and Holm) reject 3, the new one 4.
    assert (holm(HEART) <= 0.05).sum() == 3
    assert (benjamini_hochberg(HEART) <= 0.05).sum() == 4


@given(p_lists)
def test_adjusting_keeps_the_order_and_never_lowers_a_p_value(p: list[float]) -> None:
    for adjusted in (holm(p), benjamini_hochberg(p)):
        assert (adjusted >= np.asarray(p) - 1e-15).all()
        assert (np.diff(adjusted[np.argsort(p, kind="stable")]) >= 0).all()
        assert adjusted.max() <= 1


@given(p_lists)
def test_holm_is_never_more_lenient_than_benjamini_hochberg(p: list[float]) -> None:
    assert (holm(p) >= benjamini_hochberg(p) - 1e-15).all()


def test_expected_false_claims_counts_what_is_claimed_either_way_round() -> None:
    claims = expected_false_claims([0.99, 0.03, 0.5, 0.9], threshold=0.95)
    assert claims.claims == 2
    assert claims.expected == pytest.approx(0.01 + 0.03)
    assert claims.share == pytest.approx(0.02)
    assert claims.chance_of_any == pytest.approx(0.04)


def test_no_findings_means_no_claims() -> None:
    claims = expected_false_claims([])
    assert (claims.claims, claims.expected, claims.share, claims.chance_of_any) == (0, 0, 0, 0)


def test_the_expected_number_is_what_happens_when_probabilities_are_calibrated() -> None:
    rng = np.random.default_rng(20)
    p = rng.uniform(0.5, 1, size=200_000)
    wrong = rng.uniform(size=p.size) > p
    claims = expected_false_claims(p, threshold=0.95)
    # a count of rare events: its standard deviation is at most the root of its mean
    assert wrong[p >= 0.95].sum() == pytest.approx(claims.expected, abs=4 * claims.expected**0.5)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: holm([0.1, 1.2]),
            "p_values: 1.2 is not a probability. Give numbers from 0 to 1.",
        ),
        (
            lambda: benjamini_hochberg([0.1, float("nan")]),
            "p_values: entry 2 is missing or not finite. Fill the gap or leave the row out.",
        ),
        (
            lambda: holm([]),
            "p_values: there is nothing in it. Give at least one number.",
        ),
        (
            lambda: expected_false_claims([0.9], threshold=0.2),
            "threshold: 0.2 is out of range. Give a number from 0.5 to 1.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
