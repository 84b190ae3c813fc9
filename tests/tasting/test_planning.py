from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from twobowls.errors import InputError
from twobowls.tasting.flights import bowls_of
from twobowls.tasting.plan import Plan
from twobowls.tasting.planning import make_plan, order_for, reveal_bowls, spare_seats
from twobowls.tasting.setup import Round, Setup

SUNDAY = Setup(name="Sunday", coffee_ids=("a", "b", "c"), repeats=("a",))


def plan_of(setup: Setup, seed: int = 1) -> Plan:
    return make_plan(setup, np.random.default_rng(seed))


@st.composite
def setups(draw: st.DrawFn) -> Setup:
    coffees = tuple(f"c{i}" for i in range(draw(st.integers(2, 12))))
    return Setup(
        name="Any",
        coffee_ids=coffees,
        seats=draw(st.integers(1, 20)),
        repeats=tuple(draw(st.lists(st.sampled_from(coffees), max_size=3))),
        most_per_flight=draw(st.integers(2, 9)),
        host_tastes=draw(st.booleans()),
    )


@given(setups(), st.integers(0, 1000))
@settings(max_examples=40, deadline=None)
def test_every_seat_has_every_bowl_once_flight_by_flight(setup: Setup, seed: int) -> None:
    plan = plan_of(setup, seed)
    flight_of = {bowl.code: bowl.flight for bowl in plan.bowls}
    assert len(flight_of) == len(plan.bowls)
    assert len(plan.orders) == setup.seats + spare_seats(setup.seats)
    for number, order in enumerate(plan.orders, start=1):
        assert order.seat == number
        assert sorted(order.codes) == sorted(flight_of)
        flights = [flight_of[code] for code in order.codes]
        assert flights == sorted(flights)


@given(setups(), st.integers(0, 1000))
@settings(max_examples=40, deadline=None)
def test_each_coffee_is_in_as_many_bowls_as_it_should(setup: Setup, seed: int) -> None:
    plan = plan_of(setup, seed)
    if setup.host_tastes:
        assert {bowl.coffee_id for bowl in plan.bowls} == {None}
    else:
        assert Counter(bowl.coffee_id for bowl in plan.bowls) == Counter(bowls_of(setup))


@given(st.integers(2, 7), st.integers(1, 30), st.integers(0, 1000))
@settings(max_examples=40, deadline=None)
def test_a_hidden_repeat_is_never_a_neighbour(coffees: int, seats: int, seed: int) -> None:
    names = tuple(f"c{i}" for i in range(coffees))
    plan = plan_of(Setup(name="x", coffee_ids=names, repeats=("c0",), seats=seats), seed)
    coffee = {bowl.code: bowl.coffee_id for bowl in plan.bowls}
    for order in plan.orders:
        poured = [coffee[code] for code in order.codes]
        assert all(one != two for one, two in pairwise(poured))


def test_the_balance_of_the_expected_seats_is_shown() -> None:
    plan = plan_of(Setup(name="x", coffee_ids=tuple("abcd"), seats=8))
    assert (plan.position_spread, plan.carry_over_spread) == (0, 0)
    assert plan_of(Setup(name="x", coffee_ids=tuple("abcd"), seats=9)).position_spread == 1


def test_the_order_on_the_table_is_not_the_host_s_order() -> None:
    setup = Setup(name="x", coffee_ids=tuple("abcdef"))
    poured = {tuple(bowl.coffee_id for bowl in plan_of(setup, seed).bowls) for seed in range(20)}
    assert len(poured) > 15


def test_notes_tell_what_could_not_be_done() -> None:
    crowded = plan_of(Setup(name="x", coffee_ids=("a", "b"), repeats=("a", "a")))
    assert crowded.notes[0].startswith("With so few other bowls, two bowls of the same coffee")
    late = plan_of(replace(SUNDAY, host_tastes=True))
    assert late.notes[0].startswith("You taste too, so nobody may know which bowl is which")
    assert late.notes[1].startswith("As nobody knows yet which bowls are repeats")
    split = plan_of(Setup(name="x", coffee_ids=tuple("abcdef"), most_per_flight=4))
    assert split.notes == (
        "7 bowls are more than one flight holds, so there are 2 flights. One coffee is in all of "
        "them, to link what is tasted at different times.",
    )
    hot = Round(key="hot", name="Hot", kind="taste", target_c=68.0)
    scalding = plan_of(replace(SUNDAY, first_sip_c=68.0, rounds=(hot,)))
    assert scalding.notes == (
        "A first sip at 68 °C can scald; above 65 °C health agencies warn of very hot drinks. For "
        "guests 60 °C is a careful start.",
    )


def test_a_bad_setup_is_refused_before_anything_is_drawn() -> None:
    with pytest.raises(InputError, match="seats: 0 is too few"):
        plan_of(replace(SUNDAY, seats=0))


def test_seats_beyond_the_last_order_begin_anew() -> None:
    plan = plan_of(SUNDAY)
    assert order_for(plan, 1) == plan.orders[0].codes
    assert order_for(plan, len(plan.orders) + 2) == plan.orders[1].codes


def test_a_late_reveal_names_every_bowl() -> None:
    setup = replace(SUNDAY, host_tastes=True)
    plan = plan_of(setup)
    poured = dict(zip((bowl.code for bowl in plan.bowls), "abac", strict=True))
    revealed = reveal_bowls(plan, setup, poured)
    assert [bowl.coffee_id for bowl in revealed.bowls] == ["a", "b", "a", "c"]
    assert revealed.orders == plan.orders
    assert plan.bowls[0].coffee_id is None


@pytest.mark.parametrize(
    ("coffees", "message"),
    [
        ("aab", r"bowl \d{3}: it has no coffee yet\. Say which coffee was in every bowl\."),
        (
            "abbc",
            r"mapping: a is named for 1 bowl and was poured into 2 bowls\. Look under the bowls",
        ),
        ("aabz", r"bowl \d{3}: z is not a coffee of this tasting\. Choose one that is\."),
        ("aabb", r"mapping: b is named for 2 bowls and was poured into 1 bowl\."),
    ],
)
def test_a_reveal_that_does_not_add_up_is_refused(coffees: str, message: str) -> None:
    setup = replace(SUNDAY, host_tastes=True)
    plan = plan_of(setup)
    mapping = dict(zip((bowl.code for bowl in plan.bowls), coffees, strict=False))
    with pytest.raises(InputError, match=message):
        reveal_bowls(plan, setup, mapping)


def test_a_code_that_is_on_no_bowl_is_refused() -> None:
    setup = replace(SUNDAY, host_tastes=True)
    with pytest.raises(InputError, match=r"bowl 000: no bowl has this code\. Read the code again"):
        reveal_bowls(plan_of(setup), setup, {"000": "a"})


def test_a_reveal_is_checked_flight_by_flight() -> None:
    setup = Setup(name="x", coffee_ids=tuple("abcdef"), most_per_flight=4, host_tastes=True)
    plan = plan_of(setup)
    right: dict[str, str] = {}
    for number, flight in enumerate(plan.flights):
        codes = [bowl.code for bowl in plan.bowls if bowl.flight == number]
        right |= dict(zip(codes, flight, strict=True))
    assert reveal_bowls(plan, setup, right).bowls[0].coffee_id is not None
    swapped = dict(zip(right, reversed(list(right.values())), strict=True))
    with pytest.raises(InputError, match=r"in flight 1 and was poured into"):
        reveal_bowls(plan, setup, swapped)
