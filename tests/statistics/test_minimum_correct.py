from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.binomial import at_least, at_most, largest_count, smallest_count
from twobowls.statistics.minimum_correct import (
    maximum_correct,
    minimum_agreeing,
    minimum_agreeing_table,
    minimum_correct,
    minimum_correct_table,
)

# ISO 4120 Table A.1 (triangle), from memory: trials and counts at 0.05, 0.01, 0.001.
ISO_4120 = """
6 5 6 -
7 5 6 7
10 7 8 9
12 8 9 10
18 10 12 13
20 11 13 14
24 13 15 16
30 15 17 19
36 18 20 22
48 22 25 27
60 27 30 33
66 29 32 35
100 42 46 49
"""
# ISO 10399 Table A.1 (duo-trio) and ISO 5495 (paired, one-sided), from memory.
ISO_10399 = """
6 6 - -
7 7 7 -
10 9 10 10
12 10 11 12
18 13 15 16
20 15 16 18
24 17 19 20
30 20 22 24
36 24 26 28
48 31 33 36
60 37 40 43
66 41 43 46
100 59 63 66
"""
# ISO 5495 (paired, two-sided), from memory: trials and counts at 0.05 and 0.01.
ISO_5495 = """
7 7 -
10 9 10
12 10 11
20 15 17
24 18 19
30 21 23
60 39 41
100 61 64
"""

# The triangle's counts in a public university course on sensory analysis (Slovak, companion pages
# at senzorika.github.io), which says that they equal the table of ISO 4120:2021: seen there.
ISO_4120_2021 = """
10 7 8 9
15 9 10 12
20 11 13 14
25 13 15 17
30 15 17 19
35 17 19 22
40 19 21 24
50 23 26 28
60 27 30 33
"""


def read(text: str) -> dict[int, tuple[int | None, ...]]:
    rows = [line.split() for line in text.strip().splitlines()]
    return {int(n): tuple(None if c == "-" else int(c) for c in row) for n, *row in rows}


@pytest.mark.reference
@pytest.mark.parametrize("key", ["triangle", "3-afc", "tetrad"])
def test_counts_for_one_in_three_are_those_of_iso_4120(key: str) -> None:
    printed = read(ISO_4120)
    ours = minimum_correct_table(key, printed)
    assert dict(zip(ours.trials, ours.counts, strict=True)) == printed


@pytest.mark.reference
def test_counts_are_those_a_course_quotes_from_iso_4120_2021() -> None:
    quoted = read(ISO_4120_2021)
    ours = minimum_correct_table("triangle", quoted)
    assert dict(zip(ours.trials, ours.counts, strict=True)) == quoted


@pytest.mark.reference
@pytest.mark.parametrize("key", ["duo-trio", "2-afc"])
def test_counts_for_one_in_two_are_those_of_iso_10399_and_5495(key: str) -> None:
    printed = read(ISO_10399)
    ours = minimum_correct_table(key, printed)
    assert dict(zip(ours.trials, ours.counts, strict=True)) == printed


@pytest.mark.reference
def test_two_sided_majorities_are_those_of_iso_5495() -> None:
    printed = read(ISO_5495)
    ours = minimum_agreeing_table(printed, [0.05, 0.01])
    assert dict(zip(ours.trials, ours.counts, strict=True)) == printed


@pytest.mark.reference
@pytest.mark.parametrize("share", [1 / 3, 0.5, 0.1, 0.9])
@pytest.mark.parametrize("alpha", [0.2, 0.05, 0.01, 0.001])
def test_every_count_up_to_200_trials_agrees_with_scipy(share: float, alpha: float) -> None:
    from scipy.stats import binom

    n = np.arange(1, 201)
    ours = smallest_count(n, share, alpha)
    k = np.where(ours < 0, n + 1, ours)
    assert (binom.sf(k - 1, n, share) <= alpha).all()
    assert (binom.sf(k - 2, n, share) > alpha).all()


@pytest.mark.reference
def test_tails_agree_with_scipy() -> None:
    from scipy.stats import binom

    k, n = np.meshgrid(np.arange(-1, 32), np.arange(1, 31))
    np.testing.assert_allclose(at_least(k, n, 0.37), binom.sf(k - 1, n, 0.37), atol=1e-14)
    np.testing.assert_allclose(at_most(k, n, 0.37), binom.cdf(k, n, 0.37), atol=1e-14)


@pytest.mark.reference
def test_similarity_allows_25_of_60_at_thirty_percent() -> None:
    # ISO 4120 Table A.2 (from memory; exact binomial and the standard's own rule agree)
    assert maximum_correct("triangle", 60, 0.30, 0.05) == 25


def test_a_count_that_cannot_be_reached_is_none_and_never_trials_plus_one() -> None:
    assert minimum_correct("duo-trio", 4) is None
    assert minimum_agreeing(5) is None
    assert maximum_correct("triangle", 3) is None
    assert smallest_count([1, 2, 3], 1 / 3, 0.05).tolist() == [-1, -1, 3]
    assert largest_count([1, 2], 0.5, 0.05).tolist() == [-1, -1]


def test_the_table_prints_hyphens_and_gives_records() -> None:
    table = minimum_correct_table("triangle", [3, 6], [0.05, 0.001])
    assert str(table) == "trials   0.05  0.001\n     3      3      -\n     6      5      -"
    assert table.rows()[0] == {"trials": 3, "0.05": 3, "0.001": None}


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: minimum_correct("triangle", 0),
            "trials: 0 is too few. Give a whole number from 1 to 100000.",
        ),
        (
            lambda: minimum_correct("triangle", 12.5),  # type: ignore[arg-type]
            "trials: 12.5 is not a whole number. Give a whole number from 1 to 100000.",
        ),
        (
            lambda: minimum_correct("triangle", 12, 1.0),
            "alpha: 1 is out of range. Give a number between 0 and 1.",
        ),
        (
            lambda: maximum_correct("triangle", 12, limit=float("nan")),
            "limit: nan is out of range. Give a number between 0 and 1.",
        ),
        (
            lambda: minimum_correct_table("triangle", []),
            "trials: the list is empty. Give at least one number.",
        ),
        (
            lambda: minimum_correct("triangle", True),
            "trials: True is not a number. Give a whole number from 1 to 100000.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
