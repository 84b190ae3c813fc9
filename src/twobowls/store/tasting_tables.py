"""The SQL of tastings, their host events and their seats."""

import sqlite3
from collections.abc import Iterable

import msgspec

from twobowls.errors import NotFoundError
from twobowls.store.events import Event, Planned, check_event, fold
from twobowls.tasting.tasting import Tasting

_encoder = msgspec.json.Encoder()
_decoder: msgspec.json.Decoder[Event] = msgspec.json.Decoder(Event)

INSERT_TASTING = "INSERT INTO tastings (id, join_code, created_ms) VALUES (?, ?, ?)"
NUMBER_OF_TASTING = "SELECT number FROM tastings WHERE id = ?"
TASTING_IDS = "SELECT id FROM tastings ORDER BY number DESC"
TASTING_ID_BY_CODE = "SELECT id FROM tastings WHERE join_code = ?"
INSERT_EVENT = "INSERT INTO host_events (tasting, version, body) VALUES (?, ?, ?)"
EVENTS = "SELECT body FROM host_events WHERE tasting = ? ORDER BY version"
INSERT_SEAT = "INSERT INTO seats (id, tasting, key) VALUES (?, ?, ?)"
SEAT_BY_KEY = """
    SELECT seats.number, seats.id, tastings.id
    FROM seats JOIN tastings ON tastings.number = seats.tasting
    WHERE seats.key = ?
"""
SEAT_BY_ID = """
    SELECT seats.number, seats.key, tastings.id
    FROM seats JOIN tastings ON tastings.number = seats.tasting
    WHERE seats.id = ?
"""
LATEST_ARRIVAL = """
    SELECT max(batches.received_ms)
    FROM tastings
    JOIN seats ON seats.tasting = tastings.number
    JOIN batches ON batches.seat = seats.number
    WHERE tastings.id = ?
"""
SEAT_KEYS = """
    SELECT seats.id, seats.key
    FROM seats JOIN tastings ON tastings.number = seats.tasting
    WHERE tastings.id = ? ORDER BY seats.number
"""


def number_of(database: sqlite3.Connection, tasting_id: str) -> int:
    """Return the row number of a tasting.

    Raises
    ------
    NotFoundError
        There is no such tasting.
    """
    row = database.execute(NUMBER_OF_TASTING, (tasting_id,)).fetchone()
    if row is None:
        raise NotFoundError("There is no such tasting.")
    return int(row[0])


def read_tasting(database: sqlite3.Connection, tasting_id: str) -> Tasting:
    """Return a tasting as its events make it."""
    return fold(read_events(database, tasting_id))


def read_events(database: sqlite3.Connection, tasting_id: str) -> Iterable[Event]:
    """Return the host's log of a tasting, oldest first."""
    number = number_of(database, tasting_id)
    return [_decoder.decode(body) for (body,) in database.execute(EVENTS, (number,))]


def latest_ms(database: sqlite3.Connection, tasting_id: str) -> int:
    """Return the latest instant in a tasting, be it the host's or the arrival of a record."""
    (arrived,) = database.execute(LATEST_ARRIVAL, (tasting_id,)).fetchone()
    return max(arrived or 0, *(event.at_ms for event in read_events(database, tasting_id)))


def tasting_ids(database: sqlite3.Connection) -> list[str]:
    """Return the ids of all tastings, newest first."""
    return [row[0] for row in database.execute(TASTING_IDS)]


def tasting_id_by_code(database: sqlite3.Connection, join_code: str) -> str | None:
    """Return the tasting that a join code belongs to."""
    row = database.execute(TASTING_ID_BY_CODE, (join_code,)).fetchone()
    return None if row is None else str(row[0])


def insert_tasting(database: sqlite3.Connection, planned: Planned) -> Tasting:
    """Store a new tasting and its first event."""
    database.execute(INSERT_TASTING, (planned.id, planned.join_code, planned.at_ms))
    number = number_of(database, planned.id)
    database.execute(INSERT_EVENT, (number, 1, _encoder.encode(planned)))
    return fold([planned])


def append_event(database: sqlite3.Connection, tasting: Tasting, event: Event) -> None:
    """Store the next event of a tasting, which must be allowed.

    Raises
    ------
    StateError, InputError
        See `check_event`.
    """
    check_event(tasting, event)
    number = number_of(database, tasting.id)
    database.execute(INSERT_EVENT, (number, tasting.version + 1, _encoder.encode(event)))


def insert_seat(database: sqlite3.Connection, tasting_id: str, seat_id: str, key: str) -> None:
    """Store the key that opens a seat."""
    database.execute(INSERT_SEAT, (seat_id, number_of(database, tasting_id), key))


def seat_by_key(database: sqlite3.Connection, key: str) -> tuple[int, str, str] | None:
    """Return (row number, seat id, tasting id) of the seat that a key opens."""
    row: tuple[int, str, str] | None = database.execute(SEAT_BY_KEY, (key,)).fetchone()
    return row


def seat_by_id(database: sqlite3.Connection, seat_id: str) -> tuple[int, str, str] | None:
    """Return (row number, key, tasting id) of a seat."""
    row: tuple[int, str, str] | None = database.execute(SEAT_BY_ID, (seat_id,)).fetchone()
    return row


def seat_keys(database: sqlite3.Connection, tasting_id: str) -> dict[str, str]:
    """Return the key of every seat of a tasting, by seat id."""
    return dict(database.execute(SEAT_KEYS, (tasting_id,)))
