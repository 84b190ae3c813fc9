from collections import Counter
from math import ceil

from hypothesis import given, settings
from hypothesis import strategies as st

from twobowls.tasting.flights import bowls_of, flight_bowls
from twobowls.tasting.setup import Setup


@st.composite
def setups(draw: st.DrawFn) -> Setup:
    coffees = tuple(f"c{i}" for i in range(draw(st.integers(2, 16))))
    return Setup(
        name="Any",
        coffee_ids=coffees,
        repeats=tuple(draw(st.lists(st.sampled_from(coffees), max_size=4))),
        most_per_flight=draw(st.integers(2, 12)),
    )


@given(setups())
@settings(max_examples=60, deadline=None)
def test_flights_hold_every_bowl_and_share_an_anchor(setup: Setup) -> None:
    flights = flight_bowls(setup)
    assert max(map(len, flights)) <= setup.most_per_flight
    assert max(map(len, flights)) - min(map(len, flights)) <= 1
    assert Counter(coffee for flight in flights for coffee in flight) == Counter(bowls_of(setup))
    for coffee in setup.coffee_ids:
        assert bowls_of(setup)[coffee] >= 1 + setup.repeats.count(coffee)
    if len(flights) > 1:
        assert set.intersection(*map(set, flights))


@given(setups())
@settings(max_examples=60, deadline=None)
def test_no_more_flights_or_bowls_than_needed(setup: Setup) -> None:
    asked = len(setup.coffee_ids) + len(setup.repeats)
    flights = flight_bowls(setup)
    assert len(flights) >= ceil(asked / setup.most_per_flight)
    assert sum(map(len, flights)) <= asked + len(flights) - 1
    if asked <= setup.most_per_flight:
        assert len(flights) == 1


@given(setups())
@settings(max_examples=40, deadline=None)
def test_repeats_lie_in_different_flights(setup: Setup) -> None:
    flights = flight_bowls(setup)
    for coffee, bowls in bowls_of(setup).items():
        assert max(flight.count(coffee) for flight in flights) <= ceil(bowls / len(flights))


def test_repeats_become_the_anchors() -> None:
    setup = Setup(name="x", coffee_ids=tuple("abcdefghij"), repeats=("d", "g"), most_per_flight=6)
    assert [set("dg") <= set(flight) for flight in flight_bowls(setup)] == [True, True]
    assert sum(bowls_of(setup).values()) == 12
