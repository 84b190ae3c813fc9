from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from twobowls.errors import InputError
from twobowls.tasting.codes import PLAIN_CODES, confusable, draw_codes

UPSIDE_DOWN = str.maketrans("01689", "01986")


@given(st.integers(0, 40), st.integers(0, 2**32 - 1))
def test_codes_are_three_plain_digits_and_never_confusable(count: int, seed: int) -> None:
    codes = draw_codes(count, np.random.default_rng(seed))
    assert len(set(codes)) == len(codes) == count
    for code in codes:
        assert len(code) == 3
        assert code.isdigit()
        assert code[0] != "0"
        assert len(set(code)) == 3
    assert not any(confusable(a, b) for a, b in combinations(codes, 2))


def test_no_code_reads_as_another_upside_down() -> None:
    for code in PLAIN_CODES:
        assert not (set(code) <= set("01689")), code
        assert code.translate(UPSIDE_DOWN)[::-1] not in PLAIN_CODES or set(code) - set("01689")


@pytest.mark.parametrize(
    "code", ["777", "696", "969", "123", "456", "321", "876", "012", "340", "112", "911", "313"]
)
def test_codes_with_a_look_or_a_meaning_are_left_out(code: str) -> None:
    assert code not in PLAIN_CODES


def test_there_are_hundreds_of_codes() -> None:
    assert len(PLAIN_CODES) > 400


def test_codes_that_are_taken_stay_taken() -> None:
    taken = set(PLAIN_CODES[:300])
    assert not taken & set(draw_codes(30, np.random.default_rng(1), taken))


def test_many_codes_are_still_different() -> None:
    codes = draw_codes(400, np.random.default_rng(2))
    assert len(set(codes)) == 400


def test_about_fifty_codes_keep_clear_of_each_other() -> None:
    for seed in range(20):
        codes = draw_codes(50, np.random.default_rng(seed))
        assert not any(confusable(a, b) for a, b in combinations(codes, 2))


def test_more_codes_than_there_are_is_refused() -> None:
    with pytest.raises(InputError, match=r"bowls: 9000 codes are wanted and only \d+ are free"):
        draw_codes(9000, np.random.default_rng(0))


@pytest.mark.parametrize(
    ("a", "b", "mixed_up"),
    [("417", "417", True), ("417", "714", True), ("417", "497", True), ("417", "479", False)],
)
def test_confusable_is_same_digits_or_one_apart(a: str, b: str, mixed_up: bool) -> None:
    assert confusable(a, b) is mixed_up
