"""Which coffees are tasted as one group: flights with an anchor in common.

Counts bowls and spreads them; does not draw codes or orders.
"""

from collections import Counter
from functools import lru_cache
from math import ceil

from twobowls.designs.blocks import incomplete_blocks
from twobowls.tasting.setup import Setup


def bowls_of(setup: Setup) -> dict[str, int]:
    """Return how many bowls each coffee is poured into, anchors included.

    Parameters
    ----------
    setup : Setup
        What the host chose.

    Returns
    -------
    dict of str to int
        Coffee id to number of bowls, in the host's order. With more than one flight one
        coffee, the anchor, has a bowl in each: the most repeated one, or else the first.

    Examples
    --------
    >>> bowls_of(Setup(name="x", coffee_ids=("a", "b", "c"), repeats=("b",)))
    {'a': 1, 'b': 2, 'c': 1}
    >>> bowls_of(Setup(name="x", coffee_ids=tuple("abcdef"), most_per_flight=4))
    {'a': 2, 'b': 1, 'c': 1, 'd': 1, 'e': 1, 'f': 1}
    """
    extra = Counter(setup.repeats)
    bowls = {coffee: 1 + extra[coffee] for coffee in setup.coffee_ids}
    flights = _flight_count(setup, bowls)
    if flights > 1:
        anchor = max(bowls, key=lambda coffee: bowls[coffee])
        bowls[anchor] = max(bowls[anchor], flights)
    return bowls


def _flight_count(setup: Setup, bowls: dict[str, int]) -> int:
    """Add flights until all bowls have a place, the anchor's further bowls among them."""
    asked, most_of_one = sum(bowls.values()), max(bowls.values())
    flights = ceil(asked / setup.most_per_flight)
    while flights > 1 and asked + max(0, flights - most_of_one) > flights * setup.most_per_flight:
        flights += 1
    return max(flights, 1)


@lru_cache(maxsize=128)
def flight_bowls(setup: Setup) -> tuple[tuple[str, ...], ...]:
    """Return the coffees of each flight, one entry a bowl.

    Parameters
    ----------
    setup : Setup
        What the host chose.

    Returns
    -------
    tuple of tuples of str
        Coffee ids, always the same for the same setup. Flights differ by one bowl in size at
        the most; repeats lie in different flights as far as there are flights.

    Examples
    --------
    >>> flights = flight_bowls(Setup(name="x", coffee_ids=tuple("abcdef"), most_per_flight=4))
    >>> [len(each) for each in flights], all("a" in each for each in flights)
    ([4, 3], True)
    """
    bowls = bowls_of(setup)
    flights = _flight_count(setup, {c: 1 + setup.repeats.count(c) for c in setup.coffee_ids})
    if flights == 1:
        return (tuple(coffee for coffee, times in bowls.items() for _ in range(times)),)
    total = sum(bowls.values())
    sizes = [total // flights + (index < total % flights) for index in range(flights)]
    design = incomplete_blocks(list(bowls.values()), sizes, starts=3)
    names = list(bowls)
    return tuple(tuple(names[index] for index in block) for block in design.blocks)


def largest_flight(setup: Setup) -> int:
    """Return how many bowls the largest flight has.

    Parameters
    ----------
    setup : Setup
        What the host chose.

    Returns
    -------
    int

    Examples
    --------
    >>> largest_flight(Setup(name="x", coffee_ids=tuple("abcdef"), most_per_flight=4))
    4
    """
    return max(len(flight) for flight in flight_bowls(setup))
