"""From a setup to a plan: codes on bowls, flights, an order for every seat; and the reveal."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations
from math import ceil

import numpy as np

from twobowls.counting import count_of
from twobowls.designs.serving import ServingOrders, serving_orders
from twobowls.errors import InputError
from twobowls.tasting.codes import draw_codes
from twobowls.tasting.flights import flight_bowls
from twobowls.tasting.plan import Bowl, Plan, SeatOrder
from twobowls.tasting.setup import Setup
from twobowls.tasting.setup_check import SAFE_FIRST_SIP_C, check_setup

__all__ = ["check_setup", "make_plan", "order_for", "reveal_bowls", "spare_seats"]


def spare_seats(seats: int) -> int:
    """Return how many orders to hold ready beyond those expected.

    Parameters
    ----------
    seats : int
        How many people are expected.

    Returns
    -------
    int
        A quarter more, at least four.

    Examples
    --------
    >>> spare_seats(4), spare_seats(300)
    (4, 75)
    """
    return max(4, ceil(seats / 4))


def make_plan(setup: Setup, rng: np.random.Generator) -> Plan:
    """Draw the plan of a tasting.

    Parameters
    ----------
    setup : Setup
        What the host chose.
    rng : numpy.random.Generator
        Source of chance for codes, bowls and orders.

    Returns
    -------
    Plan
        Bowls in the order of pouring, flight by flight, and an order for every expected seat
        and some spare ones. When the host tastes too the bowls name no coffee.

    Raises
    ------
    InputError
        When the setup cannot be used.

    Examples
    --------
    >>> setup = Setup(name="Sunday", coffee_ids=("a", "b", "c"), repeats=("a",))
    >>> plan = make_plan(setup, np.random.default_rng(1))
    >>> len(plan.bowls), len(plan.orders), plan.notes
    (4, 8, ())
    """
    check_setup(setup)
    flights = flight_bowls(setup)
    codes = iter(draw_codes(sum(map(len, flights)), rng))
    bowls: list[Bowl] = []
    orders: list[ServingOrders] = []
    lines: list[list[str]] = [[] for _ in range(setup.seats + spare_seats(setup.seats))]
    for number, flight in enumerate(flights):
        coffees = [flight[index] for index in rng.permutation(len(flight))]
        filled = [
            Bowl(code=next(codes), flight=number, coffee_id=None if setup.host_tastes else coffee)
            for coffee in coffees
        ]
        apart = () if setup.host_tastes else _same_coffee(coffees)
        found, spare = _orders(len(filled), setup.seats, apart, rng)
        for line, order in zip(lines, spare.orders, strict=True):
            line.extend(filled[index].code for index in order)
        bowls += filled
        orders.append(found)
    return Plan(
        bowls=tuple(bowls),
        orders=tuple(
            SeatOrder(seat=seat, codes=tuple(line)) for seat, line in enumerate(lines, start=1)
        ),
        position_spread=max(each.position_spread for each in orders),
        carry_over_spread=max(each.carry_over_spread for each in orders),
        flights=flights,
        notes=_notes(setup, flights, orders),
    )


def _same_coffee(coffees: list[str]) -> tuple[tuple[int, int], ...]:
    return tuple(
        (a, b) for a, b in combinations(range(len(coffees)), 2) if coffees[a] == coffees[b]
    )


def _orders(
    bowls: int, seats: int, apart: tuple[tuple[int, int], ...], rng: np.random.Generator
) -> tuple[ServingOrders, ServingOrders]:
    """Balance the expected seats for themselves, then go on with spare ones."""
    expected = serving_orders(bowls, seats, rng, apart)
    return expected, serving_orders(bowls, spare_seats(seats), rng, apart, first=expected.orders)


def _notes(
    setup: Setup, flights: tuple[tuple[str, ...], ...], orders: list[ServingOrders]
) -> tuple[str, ...]:
    notes = []
    repeated = any(max(Counter(flight).values()) > 1 for flight in flights)
    if any(each.adjacent for each in orders):
        notes.append(
            "With so few other bowls, two bowls of the same coffee stand side by side for some "
            "seats. Add a coffee, or take away a repeat."
        )
    if setup.host_tastes:
        notes.append(
            "You taste too, so nobody may know which bowl is which: put a slip with the coffee's "
            "name under each bowl, shuffle the bowls of a flight, then set the codes beside them. "
            "Read the slips at the reveal."
        )
    if setup.host_tastes and repeated:
        notes.append(
            "As nobody knows yet which bowls are repeats, some seats may taste the two bowls of "
            "one coffee one after the other."
        )
    if len(flights) > 1:
        notes.append(_flight_note(flights))
    if setup.first_sip_c > SAFE_FIRST_SIP_C:
        notes.append(
            f"A first sip at {setup.first_sip_c:g} °C can scald; above 65 °C health agencies warn "
            "of very hot drinks. For guests 60 °C is a "
            "careful start."
        )
    return tuple(notes)


def _flight_note(flights: tuple[tuple[str, ...], ...]) -> str:
    anchors = set.intersection(*(set(flight) for flight in flights))
    common = "One coffee is" if len(anchors) == 1 else f"{len(anchors)} coffees are"
    return (
        f"{sum(map(len, flights))} bowls are more than one flight holds, so there are "
        f"{len(flights)} flights. {common} in all of them, to link what is tasted at different "
        "times."
    )


def order_for(plan: Plan, seat: int) -> tuple[str, ...]:
    """Return the codes in the order of one seat; beyond the last order they start anew.

    Parameters
    ----------
    plan : Plan
        The plan.
    seat : int
        The seat's number, from 1.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> setup = Setup(name="Sunday", coffee_ids=("a", "b"))
    >>> plan = make_plan(setup, np.random.default_rng(1))
    >>> order_for(plan, 1) == order_for(plan, 1 + len(plan.orders))
    True
    """
    return plan.orders[(seat - 1) % len(plan.orders)].codes


def reveal_bowls(
    plan: Plan, setup: Setup, mapping: Mapping[str, str], *, as_found: bool = False
) -> Plan:
    """Name the coffee in each bowl, once the tasting has closed.

    Parameters
    ----------
    plan : Plan
        A plan whose bowls name no coffee.
    setup : Setup
        The setup of the same tasting.
    mapping : mapping of str to str
        Code to coffee id, for every bowl.
    as_found : bool
        Whether the mapping stands even where it differs from what was planned.

    Returns
    -------
    Plan
        The same plan with a coffee for each bowl.

    Raises
    ------
    InputError
        For a bowl that is missing or unknown, a coffee that was not on the table, or a coffee
        with more or fewer bowls than it was poured into.

    Examples
    --------
    >>> setup = Setup(name="Sunday", coffee_ids=("a", "b"), host_tastes=True)
    >>> plan = make_plan(setup, np.random.default_rng(1))
    >>> one, two = (bowl.code for bowl in plan.bowls)
    >>> [bowl.coffee_id for bowl in reveal_bowls(plan, setup, {one: "b", two: "a"}).bowls]
    ['b', 'a']
    """
    codes = {bowl.code for bowl in plan.bowls}
    for code, coffee in mapping.items():
        if code not in codes:
            raise InputError(f"bowl {code}", "no bowl has this code", "Read the code again")
        if coffee not in setup.coffee_ids:
            raise InputError(
                f"bowl {code}",
                f"{coffee or 'nothing'} is not a coffee of this tasting",
                "Choose one that is",
            )
    missing = sorted(codes - mapping.keys())
    if missing:
        raise InputError(
            f"bowl {missing[0]}", "it has no coffee yet", "Say which coffee was in every bowl"
        )
    for number, flight in enumerate(() if as_found else plan.flights or flight_bowls(setup)):
        named = [mapping[bowl.code] for bowl in plan.bowls if bowl.flight == number]
        _check_flight(number, Counter(flight), Counter(named), several=len(plan.flights) > 1)
    return replace(
        plan, bowls=tuple(replace(bowl, coffee_id=mapping[bowl.code]) for bowl in plan.bowls)
    )


def _check_flight(number: int, poured: Counter[str], named: Counter[str], *, several: bool) -> None:
    where = f" in flight {number + 1}" if several else ""
    for coffee in poured | named:
        if poured[coffee] != named[coffee]:
            raise InputError(
                "mapping",
                f"{coffee} is named for {count_of(named[coffee], 'bowl')}{where} and was "
                "poured into "
                f"{count_of(poured[coffee], 'bowl')}",
                "Look under the bowls again",
            )
