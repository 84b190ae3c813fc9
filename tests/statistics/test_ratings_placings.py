"""Tasters who stay near their former placings: a short version of the study of anchoring."""

import numpy as np
import pytest
from benchmarks.calibration.anchoring import draw_anchored, study
from benchmarks.calibration.study import Calibration
from benchmarks.calibration.tables import Table

from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_terms import PLACING, placing_terms

HONEST = 0.87


def is_honest(found: Calibration, tables: int) -> bool:
    """Whether intervals hold what they say, and not all: two standard errors counted in.

    That they are too wide cannot be seen at 90 % with so few tables; at 50 % it can. The contrasts
    of one table go together, as if they were one and the same.
    """
    enough = HONEST - 2 * (0.9 * 0.1 / tables) ** 0.5
    too_much = 0.6 + 2 * (0.5 * 0.5 / tables) ** 0.5
    return bool(found.coverage(0.90) > enough and found.coverage(0.50) < too_much)


def test_a_lone_taster_who_stays_near_is_told_no_more_than_is_known() -> None:
    lone, tables = Table(4, 1, 3), 70
    plain, narrow = study(lone, 0.3, tables, np.random.default_rng(11), placings=False)
    held, wide = study(lone, 0.3, tables, np.random.default_rng(11), placings=True)
    assert plain.coverage(0.90) < HONEST < held.coverage(0.90)
    assert is_honest(held, tables)
    assert wide > 1.15 * narrow


def test_a_table_of_five_who_stay_near_is_told_no_more_than_is_known() -> None:
    found, _ = study(Table(4, 5, 3), 0.3, 30, np.random.default_rng(11), placings=True)
    assert is_honest(found, 30)


@pytest.mark.parametrize(("tasters", "tables"), [(1, 30), (5, 15)])
def test_one_round_leaves_nothing_to_share(tasters: int, tables: int) -> None:
    table = Table(4, tasters, 1)
    found, _ = study(table, 1.0, tables, np.random.default_rng(12), placings=True)
    _, plain = study(table, 1.0, 5, np.random.default_rng(12), placings=False)
    _, same = study(table, 1.0, 5, np.random.default_rng(12), placings=True)
    assert same == plain
    assert is_honest(found, tables)


def test_placings_are_a_term_only_where_a_bowl_was_placed_twice() -> None:
    rng = np.random.default_rng(2)
    assert placing_terms(draw_anchored(Table(3, 2, 2), 0.5, rng).cells) == (PLACING,)
    assert placing_terms(draw_anchored(Table(3, 2, 1), 0.5, rng).cells) == ()


def test_the_term_is_there_only_where_it_is_asked_for() -> None:
    columns = RatingColumns(
        y=[62, 41, 70, 55, 66, 38, 74, 50],
        taster=["Ada"] * 4 + ["Bo"] * 4,
        coffee=["A", "B"] * 4,
        bowl=["1", "2"] * 4,
        round=["hot", "hot", "cool", "cool"] * 2,
    )
    assert PLACING not in fit_ratings(columns).random
    assert PLACING in fit_ratings(columns, placings=True).random
    assert fit_ratings(columns, placings=True, random=("taster",)).random == (
        *("coffee", "round", "coffee:round"),
        "taster",
    )
