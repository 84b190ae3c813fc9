"""``twobowls.serving_orders`` and ``twobowls.blocks``: who tastes what in which order."""

from collections.abc import Sequence

import numpy as np

from twobowls.counting import count_of, counts_are
from twobowls.designs.blocks import BlockDesign, incomplete_blocks
from twobowls.designs.serving import ServingOrders
from twobowls.designs.serving import serving_orders as orders_of
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import near
from twobowls.notebook.chance import Rng, generator
from twobowls.notebook.names import listed, names_of
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import Table, rows_table
from twobowls.statistics.inputs import whole

_MOST = 60
_MOST_SEATS = 1000
_PAIRS = 'Write [("417", "862")]'
_SIZES = "Give the size of each flight: [4, 4]"


def serving_orders(
    bowls: int | Sequence[str],
    seats: int,
    *,
    apart: Sequence[tuple[str, str]] = (),
    rng: Rng = None,
) -> Result[ServingOrders]:
    """Find an order of the bowls for every seat, balanced for place and carry-over.

    Parameters
    ----------
    bowls : int or sequence of str
        How many, or their codes.
    seats : int
        How many orders to make.
    apart : sequence of pairs of bowls
        Bowls that should never be neighbours: the two of a hidden repeat.
    rng : numpy.random.Generator or int, optional
        Source of chance; the same orders every time when left out.

    Returns
    -------
    Result
        Tables ``orders`` (one row a seat and place), ``places`` and ``carry_over`` (how often).

    Raises
    ------
    InputError
        For too few bowls or seats, or a pair of bowls that do not exist.

    Notes
    -----
    Williams squares, completed by search; see `twobowls.designs.serving.serving_orders`.

    Examples
    --------
    >>> found = serving_orders(["417", "862", "053", "291"], 8)
    >>> found.result.position_spread, found.result.carry_over_spread
    (0, 0)
    >>> len(found.to_frame(backend="dict")["bowl"])
    32
    """
    names = names_of("bowls", bowls, 1, _MOST)
    count = whole("seats", seats, 1, _MOST_SEATS)
    pairs = [_pair(each, names) for each in listed("apart", apart, _PAIRS)]
    found = orders_of(len(names), count, generator(rng), pairs)
    shown = Table(
        name="orders",
        caption="Orders",
        columns={
            "seat": list(range(1, count + 1)),
            **{
                str(place + 1): [names[each] for each in found.orders[:, place].tolist()]
                for place in range(len(names))
            },
        },
    )
    places = _counts("places", "place", found.position_counts, names, range(1, len(names) + 1))
    carry = _counts("carry_over", "next", found.carry_over_counts, names, names)
    section = Section(
        sentences=(_balance(found, bool(pairs)),),
        tables=(shown,),
        folded=(places, carry),
    )
    return Result(
        title=f"Serving orders: {count_of(len(names), 'bowl')}, {count_of(count, 'seat')}",
        result=found,
        sections=(section,),
        tables=(_orders(found, names), places, carry),
    )


def blocks(
    coffees: int | Sequence[str],
    sizes: Sequence[int],
    *,
    anchors: Sequence[str] = (),
    rng: Rng = None,
) -> Result[BlockDesign]:
    """Spread coffees over flights so that they can be compared as well as possible.

    Parameters
    ----------
    coffees : int or sequence of str
        How many, or their names.
    sizes : sequence of int
        How many bowls each flight has.
    anchors : sequence of str
        Coffees that stand in every flight.
    rng : numpy.random.Generator or int, optional
        Source of the random starts; the same design every time when left out.

    Returns
    -------
    Result
        Tables ``blocks`` (one row a flight and coffee) and ``coffees`` (how often each).

    Raises
    ------
    InputError
        When there are fewer places than coffees, or an anchor is no coffee.

    Notes
    -----
    Incomplete blocks of the best average efficiency found; see
    `twobowls.designs.blocks.incomplete_blocks`. Places are shared out evenly.

    Examples
    --------
    >>> found = blocks(7, [3] * 7)  # the seven-point plane
    >>> round(found.result.a, 4)
    0.7778
    """
    names = names_of("coffees", coffees, 2, _MOST)
    places = _sizes(sizes)
    fixed = [
        _known("anchors", each, names)
        for each in listed("anchors", anchors, "Give a list of texts")
    ]
    found = incomplete_blocks(_shares(names, places, fixed), places, generator(rng))
    rows = [(number, names[each]) for number, block in enumerate(found.blocks, 1) for each in block]
    shown = rows_table(
        "blocks",
        "Flights",
        ("flight", "coffees"),
        [(n, ", ".join(names[each] for each in block)) for n, block in enumerate(found.blocks, 1)],
    )
    often = rows_table(
        "coffees",
        "How often each coffee is tasted",
        ("coffee", "flights"),
        [(name, sum(each == name for _, each in rows)) for name in names],
    )
    section = Section(
        sentences=(
            f"Average efficiency {found.a:.3f}: 1 would be all coffees in every flight, "
            "0 that some cannot be compared.",
        ),
        tables=(shown,),
        folded=(often,),
    )
    return Result(
        title=f"Flights: {count_of(len(names), 'coffee')} in {len(places)}",
        result=found,
        sections=(section,),
        tables=(rows_table("blocks", "Flights", ("flight", "coffee"), rows), often),
    )


def _pair(pair: Sequence[str], names: Sequence[str]) -> tuple[int, int]:
    both = listed("apart", pair, _PAIRS)
    if len(both) != 2 or str(both[0]) == str(both[1]):
        raise InputError("apart", f"{pair!r} is not a pair of two bowls", _PAIRS)
    one, two = (names.index(_known("apart", each, names)) for each in both)
    return one, two


def _known(field: str, name: object, names: Sequence[str]) -> str:
    text = str(name)
    if text not in names:
        raise InputError(field, f"there is no {text!r}", near(text, names))
    return text


def _sizes(sizes: object) -> list[int]:
    each = [whole("sizes", size, 1, _MOST) for size in listed("sizes", sizes, _SIZES)]
    if not each:
        raise InputError("sizes", "there is no flight", _SIZES)
    return each


def _shares(names: Sequence[str], sizes: Sequence[int], anchors: Sequence[str]) -> list[int]:
    """Give anchors a place in every flight, and share out the others evenly."""
    left = sum(sizes) - len(anchors) * len(sizes)
    others = [each for each in names if each not in anchors]
    if left < len(others):
        raise InputError(
            "sizes",
            f"{counts_are(sum(sizes), 'place')} too few for {count_of(len(names), 'coffee')}"
            + (f" with {len(anchors)} in every flight" if anchors else ""),
            f"Give at least {count_of(len(others) + len(anchors) * len(sizes), 'place')}",
        )
    if left and not others:
        raise InputError("anchors", "they leave places empty", "Make the flights smaller")
    each, more = divmod(left, len(others)) if others else (0, 0)
    extra = {name: number < more for number, name in enumerate(others)}
    return [len(sizes) if name in anchors else each + extra[name] for name in names]


def _orders(found: ServingOrders, names: Sequence[str]) -> Table:
    rows = [
        (seat, place, names[bowl])
        for seat, order in enumerate(found.orders.tolist(), 1)
        for place, bowl in enumerate(order, 1)
    ]
    return rows_table("orders", "Orders", ("seat", "place", "bowl"), rows)


def _counts(
    name: str, across: str, counts: np.ndarray, names: Sequence[str], heads: Sequence[object]
) -> Table:
    rows = [
        (names[row], head, int(counts[row, column]))
        for row in range(len(names))
        for column, head in enumerate(heads)
        if not (across == "next" and row == column)
    ]
    captions = {
        "places": "How often each bowl stands at each place",
        "carry_over": "How often each bowl directly follows another",
    }
    return rows_table(name, captions[name], ("bowl", across, "times"), rows)


def _balance(found: ServingOrders, apart: bool) -> str:
    said = (
        f"Places differ by {found.position_spread} at most, who follows whom by "
        f"{found.carry_over_spread} (0 is perfect balance)."
    )
    if apart:
        said += f" Bowls to be kept apart stand side by side {count_of(found.adjacent, 'time')}."
    return said
