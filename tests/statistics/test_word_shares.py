from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.word_shares import (
    _grid,
    _prior_words,
    _weights,
    mention_shares,
    word_shares,
)


@pytest.mark.reference
def test_the_likelihood_is_scipys_dirichlet_multinomial() -> None:
    from scipy.stats import dirichlet_multinomial

    table = np.array([[6.0, 1, 0], [1, 5, 1], [0, 2, 6]])
    grid = _grid(3)
    lent = _prior_words(table, grid)
    logs = [
        sum(dirichlet_multinomial.logpmf(table[c], lent[c, :, k], table[c].sum()) for c in range(3))
        for k in range(grid.size)
    ]
    posterior = np.array(logs) + np.log(grid) - 2 * np.log(3 + grid)
    theirs = np.exp(posterior - posterior.max())
    np.testing.assert_allclose(_weights(table, lent, grid), theirs / theirs.sum(), rtol=1e-9)


@pytest.mark.reference
def test_the_interval_is_the_mixture_of_scipys_betas() -> None:
    from scipy.stats import beta

    table = np.array([[6.0, 1, 0], [1, 5, 1], [0, 2, 6]])
    grid = _grid(3)
    lent = _prior_words(table, grid)
    weights = _weights(table, lent, grid)
    interval = word_shares(table, level=0.90).shares[1][2]
    a = table[1, 2] + lent[1, 2]
    b = table[1].sum() + lent[1].sum(axis=0) - a
    assert weights @ beta.cdf(interval.low, a, b) == pytest.approx(0.05, abs=1e-9)
    assert weights @ beta.cdf(interval.high, a, b) == pytest.approx(0.95, abs=1e-9)
    assert weights @ beta.mean(a, b) == pytest.approx(interval.estimate)


def test_what_is_known_of_the_common_shares_bounds_what_is_lent() -> None:
    table = np.array([[6.0, 1, 0], [1, 5, 1], [0, 2, 6]])
    endless = _prior_words(table, np.array([1e9]))
    # with coffees all alike, the others' words and half a word a family are all there is
    np.testing.assert_allclose(endless[0, :, 0], [1.5, 7.5, 7.5], rtol=1e-6)


@pytest.mark.parametrize(
    ("coffees", "said", "concentration"), [(5, 12, 40.0), (8, 30, 10.0), (3, 6, 12.0)]
)
def test_intervals_cover_about_their_level(coffees: int, said: int, concentration: float) -> None:
    rng, families, held = np.random.default_rng(1), 10, []
    for _ in range(40):
        common = rng.dirichlet(np.full(families, 2.0))
        truth = rng.dirichlet(concentration * common, size=coffees)
        shares = word_shares([rng.multinomial(said, p) for p in truth]).shares
        for row, own in zip(shares, truth, strict=True):
            held += [p in s for s, p in zip(row, own, strict=True)]
    assert np.mean(held) == pytest.approx(0.90, abs=0.05)


def test_shares_sum_to_one_and_lie_in_their_intervals() -> None:
    result = word_shares(np.random.default_rng(2).poisson(2, size=(6, 8)))
    for row in result.shares:
        assert sum(s.estimate for s in row) == pytest.approx(1)
        assert all(s.low < s.estimate < s.high for s in row)


def test_few_words_lean_on_the_other_coffees() -> None:
    result = word_shares([[10, 0, 0], [11, 1, 0], [9, 0, 1], [0, 0, 1]])
    plain, leaning = 0.0, result.shares[3][0].estimate
    assert leaning > plain + 0.3
    assert result.cautions == ("A coffee has only 1 word: its shares are mostly the others'.",)


def test_many_words_speak_for_themselves() -> None:
    shares = word_shares([[300, 100, 100], [100, 300, 100]]).shares
    assert shares[0][0].estimate == pytest.approx(0.6, abs=0.01)


def test_concentration_is_small_when_coffees_differ_and_large_when_alike() -> None:
    differ = word_shares([[20, 0, 0], [0, 20, 0], [0, 0, 20]]).concentration
    alike = word_shares([[7, 7, 6], [6, 7, 7], [7, 6, 7]]).concentration
    assert differ.high < alike.low


def test_a_lone_coffee_is_spoken_of() -> None:
    result = word_shares([[8, 2, 0, 0]])
    assert result.cautions == ("One coffee: nothing to compare its words with.",)
    assert 0.4 < result.shares[0][0].estimate < 0.8


def test_mentions_are_shares_of_people() -> None:
    shares = mention_shares([[8, 8, 0], [8, 0, 1]], [8, 8])
    assert shares[0][0].estimate > 0.85
    assert shares[0][1].estimate > 0.6
    assert shares[0][2].estimate < 0.2
    assert len(shares) == 2
    assert len(shares[0]) == 3


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: word_shares([[1, -1]]),
            "words: -1 is not a count. Give whole numbers of zero or more.",
        ),
        (
            lambda: word_shares([[0, 0], [0, 0]]),
            "words: nobody said a word. There is nothing to share out.",
        ),
        (
            lambda: word_shares([[3], [4]]),
            "words: one family has no share. Give two families or more.",
        ),
        (
            lambda: mention_shares([[9]], [8]),
            "mentions: more tasters said a word than tasted. Count a taster once a family.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
