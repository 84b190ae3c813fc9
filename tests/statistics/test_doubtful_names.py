"""Names that may mean the same are paired, and no others."""

import numpy as np
import pytest

from twobowls.statistics.doubtful_names import is_missing, near_doubles


@pytest.mark.parametrize(
    ("one", "other"),
    [("Ines", "ines"), ("Ines", "Inés"), ("Oro Alto", "oro-alto"), ("O'Dea", "O\u2019Dea")],
)
def test_small_differences_are_doubtful(one: str, other: str) -> None:
    assert near_doubles([one, "Wen", other]) == ((one, other),)


def test_numbers_and_different_names_are_not() -> None:
    assert near_doubles(["1", "1.1", "11", "Ana", "Anna", "t:1", "t1"]) == ()


def test_no_more_pairs_than_can_be_read() -> None:
    assert len(near_doubles([f"{each}{n}" for n in range(20) for each in "Tt"])) == 5


def test_all_kinds_of_missing_are_known() -> None:
    assert all(map(is_missing, (None, "", "  ", float("nan"), np.nan, np.datetime64("NaT"))))
    assert not any(map(is_missing, ("nan", 0, False, "A", np.int64(0))))
