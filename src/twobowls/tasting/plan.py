"""The plan of one tasting: which bowls stand on the table and who tastes them in what order."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Bowl:
    """One vessel on the table. ``coffee_id`` is None until a late reveal names it."""

    code: str
    flight: int
    coffee_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatOrder:
    """The order in which one seat visits the bowls, all flights one after the other."""

    seat: int
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Bowls in the order in which they are poured, and one order a seat (seats from 1).

    ``position_spread`` and ``carry_over_spread`` say how far the orders are from balance: the
    largest minus the smallest number of times that a bowl stands at a position, and that one
    bowl directly follows another; 0 is perfect balance. Both are counted over the seats that
    are expected; the orders after those are for people who come unannounced. ``flights`` has
    the coffee ids poured in each flight, one entry a bowl, which a late reveal is checked
    against. ``notes`` are sentences that the host should read.
    """

    bowls: tuple[Bowl, ...]
    orders: tuple[SeatOrder, ...]
    position_spread: int
    carry_over_spread: int
    flights: tuple[tuple[str, ...], ...] = ()
    notes: tuple[str, ...] = ()
