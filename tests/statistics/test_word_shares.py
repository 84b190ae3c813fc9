from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.common_shares import _EVENNESS, common_shares
from twobowls.statistics.intervals import Interval
from twobowls.statistics.word_shares import mention_shares, word_shares


class BruteForce:
    """The same posterior summed over a fine grid of common shares, likelihood and all by SciPy."""

    def __init__(self, table: FloatArray) -> None:
        from scipy.special import log_softmax
        from scipy.stats import dirichlet, dirichlet_multinomial

        families = table.shape[1]
        axis = np.linspace(-9, 9, 60) if families == 3 else np.linspace(-14, 14, 180)
        odds = np.stack(np.meshgrid(*[axis] * (families - 1)), axis=-1).reshape(-1, families - 1)
        log_m = log_softmax(np.hstack([odds, np.zeros((len(odds), 1))]), axis=1)
        m, logs, lent = np.exp(log_m), [], []
        for k in np.exp(np.linspace(np.log(0.02 * families), np.log(500 * families), 25)):
            like = sum(dirichlet_multinomial.logpmf(row, k * m, int(row.sum())) for row in table)
            for even in _EVENNESS:
                # even steps in the log odds of m carry the factor that multiplies all its parts
                prior = dirichlet.logpdf(m.T, np.full(families, even)) + log_m.sum(axis=1)
                logs.append(like + prior + np.log(k) - 2 * np.log(families + k))
                lent.append(k * m)
        weights = np.exp(np.concatenate(logs) - np.max(logs))
        heavy = weights > 1e-9
        self.weights, self.lent = weights[heavy] / weights[heavy].sum(), np.vstack(lent)[heavy]
        self.table = table

    def agrees(self, coffee: int, family: int, share: Interval) -> None:
        from scipy.stats import beta

        row = self.table[coffee]
        a = row[family] + self.lent[:, family]
        b = row.sum() + self.lent.sum(axis=1) - a
        assert share.estimate == pytest.approx(self.weights @ beta.mean(a, b), abs=0.008)
        inside = self.weights @ (beta.cdf(share.high, a, b) - beta.cdf(share.low, a, b))
        assert inside == pytest.approx(0.90, abs=0.015)


@pytest.mark.reference
@pytest.mark.parametrize(
    "rows", [["6 1 0", "1 5 1", "0 2 6"], ["3 0 0", "2 1 0"], ["20 10 1", "25 8 0", "30 3 3"]]
)
def test_shares_and_intervals_agree_with_brute_force_in_scipy(rows: list[str]) -> None:
    table = np.array([row.split() for row in rows], dtype=float)
    shares, theirs = word_shares(table).shares, BruteForce(table)
    for coffee, row in enumerate(shares):
        for family, share in enumerate(row):
            theirs.agrees(coffee, family, share)


@pytest.mark.reference
def test_mentions_agree_with_brute_force_in_scipy() -> None:
    said = np.array([[8.0], [5], [7]])
    theirs = BruteForce(np.hstack([said, 8 - said]))
    for coffee, row in enumerate(mention_shares(said, [8, 8, 8])):
        theirs.agrees(coffee, 0, row[0])


def test_the_common_shares_are_where_the_posterior_peaks() -> None:
    from scipy.optimize import minimize
    from scipy.special import log_softmax
    from scipy.stats import dirichlet_multinomial

    table = np.array([[6.0, 1, 0], [1, 5, 1], [0, 2, 6]])
    found = common_shares(table[None])
    at = int(found.weights.argmax())
    k = found.grid[at]

    def cost(odds: FloatArray, even: float) -> float:
        log_m = log_softmax([*odds, 0.0])
        like = sum(dirichlet_multinomial.logpmf(row, k * np.exp(log_m), row.sum()) for row in table)
        return -float(like + even * log_m.sum())

    peaks = [
        np.exp(log_softmax([*minimize(cost, [0.0, 0.0], args=(even,)).x, 0.0]))
        for even in _EVENNESS
    ]
    off = [np.abs(peak - found.mean[0, :, at]).max() for peak in peaks]
    assert min(off) < 1e-5  # of one of the four priors


@pytest.mark.parametrize(
    ("coffees", "said", "concentration", "even"),
    [(5, 12, 40.0, 2.0), (8, 30, 10.0, 2.0), (3, 6, 12.0, 2.0), (2, 30, 3.0, 1.0), (5, 12, 5, 0.5)],
)
def test_intervals_cover_about_their_level(
    coffees: int, said: int, concentration: float, even: float
) -> None:
    rng, families, held = np.random.default_rng(1), 10, []
    for _ in range(40):
        common = rng.dirichlet(np.full(families, even))
        truth = rng.dirichlet(concentration * common, size=coffees)
        shares = word_shares([rng.multinomial(said, p) for p in truth]).shares
        inside = [
            p in s
            for row, own in zip(shares, truth, strict=True)
            for s, p in zip(row, own, strict=True)
        ]
        held.append(np.mean(inside))
    error = float(np.std(held)) / len(held) ** 0.5
    assert np.mean(held) == pytest.approx(0.90, abs=0.02 + 3 * error)


@pytest.mark.parametrize(
    ("coffees", "people", "concentration"), [(4, 8, 6), (6, 12, 12), (3, 5, 4)]
)
def test_intervals_of_mentions_cover_about_their_level(
    coffees: int, people: int, concentration: float
) -> None:
    rng, held = np.random.default_rng(2), []
    for _ in range(40):
        common = rng.beta(2, 6, size=8)
        truth = rng.beta(concentration * common, concentration * (1 - common), size=(coffees, 8))
        found = mention_shares(rng.binomial(people, truth), [people] * coffees)
        held.append(
            np.mean(
                [
                    p in s
                    for row, own in zip(found, truth, strict=True)
                    for s, p in zip(row, own, strict=True)
                ]
            )
        )
    error = float(np.std(held)) / len(held) ** 0.5
    assert np.mean(held) == pytest.approx(0.90, abs=0.03 + 3 * error)


def test_shares_sum_to_one_and_lie_in_their_intervals() -> None:
    result = word_shares(np.random.default_rng(2).poisson(2, size=(6, 8)))
    for row in result.shares:
        assert sum(s.estimate for s in row) == pytest.approx(1)
        assert all(s.low < s.estimate < s.high for s in row)


def test_a_family_nobody_said_has_an_interval_from_nothing() -> None:
    result = word_shares([[6, 2, 0], [5, 3, 0], [8, 0, 0]])
    assert [row[2].low for row in result.shares] == [0, 0, 0]
    assert all(row[2].high > 0.02 for row in result.shares)
    assert result.shares[2][0].high == 1
    assert 0.5 < result.shares[2][0].low < 1


def test_a_coffee_without_a_word_is_like_the_others() -> None:
    silent = word_shares([[60, 20, 10], [55, 25, 12], [62, 18, 9], [0, 0, 0]]).shares[3]
    assert [s.estimate for s in silent] == pytest.approx([0.65, 0.23, 0.12], abs=0.06)
    assert all(0 < s.low < s.high < 1 for s in silent)


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
