"""What a host's command leads to, decided on the newest state inside the writer's transaction.

Each function takes what the host gave and returns a `Decision`: called with the open database and
the tasting as it stands, it returns the event to append, or refuses.
"""

import sqlite3
from collections.abc import Callable, Mapping

from twobowls.errors import ConflictError
from twobowls.store import batch_table, tasting_tables
from twobowls.store.clocks import cooling_of
from twobowls.store.corrections import SeatRenamed
from twobowls.store.events import Event, Joined, Left, Probed, Revealed, apply, check_event
from twobowls.store.nicknames import check_distinct, clean_nickname
from twobowls.store.seat_places import SeatPlace
from twobowls.tasting.planning import reveal_bowls
from twobowls.tasting.tasting import Tasting

Decision = Callable[[sqlite3.Connection, Tasting], Event]


def just(event: Event) -> Decision:
    """Decide for an event that needs no more than `check_event`."""
    return lambda _db, _tasting: event


def take_seat(seat_id: str, key: str, nickname: str, now_ms: int) -> Decision:
    """Decide on the next free seat; its key is stored with it."""

    def decide(db: sqlite3.Connection, tasting: Tasting) -> Event:
        check_distinct(nickname, [seat.nickname for seat in tasting.seats])
        tasting_tables.insert_seat(db, tasting.id, seat_id, key)
        number = 1 + max((seat.number for seat in tasting.seats), default=0)
        return Joined(seat=seat_id, number=number, nickname=nickname, at_ms=now_ms)

    return decide


def leave_seat(place: SeatPlace, now_ms: int) -> Decision:
    """Decide on giving up a seat, which must be empty."""

    def decide(db: sqlite3.Connection, _tasting: Tasting) -> Event:
        if batch_table.read_batches_of_seat(db, place.number):
            raise ConflictError("Something was recorded on this seat, so it stays.")
        return Left(seat=place.seat_id, at_ms=now_ms)

    return decide


def note_reading(bowl: str, temperature_c: float, at_ms: int) -> Decision:
    """Decide on a thermometer reading, which the bowl must be able to have."""
    event = Probed(bowl=bowl, temperature_c=temperature_c, at_ms=at_ms)

    def decide(_db: sqlite3.Connection, tasting: Tasting) -> Event:
        check_event(tasting, event)
        cooling_of(apply(tasting, event))  # refuses what the bowl cannot be
        return event

    return decide


def rename_seat(seat_id: str, nickname: str, now_ms: int) -> Decision:
    """Decide on another name for a seat, unlike those of the others."""
    event = SeatRenamed(seat=seat_id, nickname=clean_nickname(nickname), at_ms=now_ms)

    def decide(_db: sqlite3.Connection, tasting: Tasting) -> Event:
        others = [seat.nickname for seat in tasting.seats if seat.id != seat_id]
        check_distinct(event.nickname, others)
        return event

    return decide


def show_coffees(mapping: Mapping[str, str], now_ms: int, *, as_found: bool = False) -> Decision:
    """Decide on the reveal; when the host tasted too, every bowl's coffee must be named.

    Where the plan knows the coffees, ``mapping`` has those that were poured otherwise. With
    ``as_found`` a coffee may have stood in more or fewer bowls than it was planned for.
    """
    given = dict(mapping)
    event = Revealed(mapping=given, at_ms=now_ms)

    def decide(_db: sqlite3.Connection, tasting: Tasting) -> Event:
        check_event(tasting, event)
        if tasting.setup.host_tastes:
            reveal_bowls(tasting.plan, tasting.setup, given, as_found=as_found)
        return event

    return decide
