from itertools import combinations_with_replacement, permutations
from time import perf_counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from twobowls.designs.serving import serving_orders
from twobowls.designs.williams import carry_over_counts, position_counts
from twobowls.errors import InputError


@given(st.integers(1, 10), st.integers(1, 40), st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_every_seat_tastes_every_bowl_once_and_places_are_even(
    bowls: int, seats: int, seed: int
) -> None:
    found = serving_orders(bowls, seats, np.random.default_rng(seed))
    assert found.orders.shape == (seats, bowls)
    assert (np.sort(found.orders, axis=1) == np.arange(bowls)).all()
    assert (found.position_counts == position_counts(found.orders, bowls)).all()
    assert (found.carry_over_counts == carry_over_counts(found.orders, bowls)).all()
    assert found.position_spread == (1 if seats % bowls else 0)


@given(st.integers(1, 12), st.integers(1, 3))
@settings(max_examples=30, deadline=None)
def test_whole_squares_balance_exactly(bowls: int, squares: int) -> None:
    rows = bowls if bowls % 2 == 0 or bowls == 1 else 2 * bowls
    found = serving_orders(bowls, squares * rows)
    assert (found.position_spread, found.carry_over_spread) == (0, 0)


@given(st.integers(1, 6), st.integers(1, 60))
@settings(max_examples=30, deadline=None)
def test_an_even_number_of_bowls_is_never_off_by_more_than_one(half: int, seats: int) -> None:
    found = serving_orders(2 * half, seats)
    assert found.position_spread <= 1
    assert found.carry_over_spread <= 1


@pytest.mark.parametrize("seats", range(1, 7))
def test_three_bowls_reach_the_best_of_all_tables(seats: int) -> None:
    """All 462 tables of up to six orders of three bowls, places before neighbours."""
    orders = list(permutations(range(3)))
    best = min(
        (
            int(np.ptp(position_counts(t, 3))),
            int(np.ptp(carry_over_counts(t, 3)[~np.eye(3, dtype=bool)])),
        )
        for rows in combinations_with_replacement(orders, seats)
        for t in [np.array(rows)]
    )
    found = serving_orders(3, seats)
    assert (found.position_spread, found.carry_over_spread) == best


@pytest.mark.parametrize("bowls", [3, 5, 7, 9])
def test_odd_bowls_stay_within_a_few_counts(bowls: int) -> None:
    for seats in range(1, 4 * bowls):
        found = serving_orders(bowls, seats)
        assert found.position_spread <= 1
        assert found.carry_over_spread <= 3  # each pair is met up to four times


@pytest.mark.parametrize("bowls", [4, 5, 8])
def test_those_who_come_first_are_balanced_too(bowls: int) -> None:
    orders = serving_orders(bowls, 30).orders
    for came in range(1, 31):
        assert np.ptp(position_counts(orders[:came], bowls)) <= 2


@pytest.mark.parametrize(
    ("bowls", "apart"),
    [
        (3, [(0, 1)]),
        (4, [(0, 3)]),
        (4, [(0, 1), (2, 3)]),
        (5, [(0, 1), (0, 2), (1, 2)]),
        (8, [(0, 1), (2, 3), (4, 5), (6, 7)]),
        (12, [(0, 1), (2, 3), (2, 4), (3, 4)]),
    ],
)
@pytest.mark.parametrize("seats", [1, 2, 5, 24])
def test_hidden_repeats_never_stand_side_by_side(
    bowls: int, apart: list[tuple[int, int]], seats: int
) -> None:
    found = serving_orders(bowls, seats, apart=apart)
    assert found.adjacent == 0
    for order in found.orders.tolist():
        for one, two in apart:
            assert abs(order.index(one) - order.index(two)) > 1


def test_three_bowls_with_a_repeat_have_it_at_the_ends() -> None:
    found = serving_orders(3, 6, apart=[(0, 2)])
    assert (found.orders[:, 1] == 1).all()
    assert found.position_counts[0].tolist() == [3, 0, 3]


def test_it_says_when_repeats_cannot_be_kept_apart() -> None:
    assert serving_orders(2, 4, apart=[(0, 1)]).adjacent == 4
    assert serving_orders(4, 3, apart=[(0, 1), (0, 2), (1, 2)]).adjacent == 3  # one touch a seat


def test_places_stay_even_with_repeats_in_a_large_table() -> None:
    found = serving_orders(6, 300, apart=[(0, 1), (2, 3)])
    assert found.adjacent == 0
    assert found.position_spread <= 6  # of 50 each


def test_earlier_orders_are_kept_and_completed() -> None:
    first = serving_orders(4, 3, np.random.default_rng(5)).orders
    more = serving_orders(4, 5, np.random.default_rng(6), first=first)
    assert (more.orders[:3] == first).all()
    assert len(more.orders) == 8
    assert more.position_spread <= 1


def test_the_same_chance_gives_the_same_orders() -> None:
    one = serving_orders(7, 20, np.random.default_rng(3)).orders
    assert (one == serving_orders(7, 20, np.random.default_rng(3)).orders).all()
    assert (one != serving_orders(7, 20, np.random.default_rng(4)).orders).any()
    assert (serving_orders(7, 20).orders == serving_orders(7, 20).orders).all()


def test_a_long_table_is_not_one_square_over_and_over() -> None:
    assert len({tuple(row) for row in serving_orders(8, 80).orders.tolist()}) > 40


@pytest.mark.parametrize("apart", [(), [(0, 1), (2, 3)]])
def test_three_hundred_seats_take_a_moment(apart: list[tuple[int, int]]) -> None:
    serving_orders(8, 16, apart=apart)
    started = perf_counter()
    serving_orders(8, 300, apart=apart)
    assert perf_counter() - started < 1.0  # 0.05 s alone on a core; 0.2 s is the aim


@pytest.mark.parametrize(
    ("bowls", "seats", "apart", "message"),
    [
        (0, 3, [], "bowls: 0 is too few. Give at least one bowl."),
        (3, 0, [], "seats: 0 is too few. Give at least one seat."),
        (3, 2, [(0, 3)], "apart: (0, 3) is not a pair of two of the 3 bowls. Give two different"),
        (3, 2, [(1, 1)], "apart: (1, 1) is not a pair of two of the 3 bowls. Give two different"),
    ],
)
def test_what_cannot_be_served_is_refused(
    bowls: int, seats: int, apart: list[tuple[int, int]], message: str
) -> None:
    with pytest.raises(InputError) as refused:
        serving_orders(bowls, seats, apart=apart)
    assert str(refused.value).startswith(message)
