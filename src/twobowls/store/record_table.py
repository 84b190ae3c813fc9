"""The SQL of the seats' log."""

import sqlite3
from collections.abc import Iterator, Sequence

from twobowls.store.writer import Row

COLUMNS = "seat, id, received_ms, body"
INSERT = f"INSERT INTO records ({COLUMNS}) VALUES "
ONE = "(?, ?, ?, ?)"
ONCE = " ON CONFLICT (seat, id) DO NOTHING"
CHUNKS = (512, 256, 128, 64, 32, 16, 8, 4, 2, 1)
STATEMENTS = {count: INSERT + ", ".join([ONE] * count) + ONCE for count in CHUNKS}

OF_TASTING = """
    SELECT records.seat, records.body
    FROM tastings
    JOIN seats ON seats.tasting = tastings.number
    JOIN records ON records.seat = seats.number
    WHERE tastings.id = ?
    ORDER BY records.number
"""
SEAT_NAMES = """
    SELECT seats.number, seats.id
    FROM tastings JOIN seats ON seats.tasting = tastings.number
    WHERE tastings.id = ?
"""
OF_SEAT = "SELECT body FROM records WHERE seat = ? ORDER BY number"
COUNT_OF_TASTING = """
    SELECT count(*)
    FROM tastings
    JOIN seats ON seats.tasting = tastings.number
    JOIN records ON records.seat = seats.number
    WHERE tastings.id = ?
"""


def insert_records(database: sqlite3.Connection, rows: Sequence[Row]) -> None:
    """Store rows of (seat number, id, received_ms, body); one stored before stays as it was.

    A few statements with many rows each, not one a row: SQLite works without the interpreter's
    lock, and each return to Python may have to wait for it while the event loop is busy.
    """
    start = 0
    for count in CHUNKS:
        while len(rows) - start >= count:
            values = [value for row in rows[start : start + count] for value in row]
            database.execute(STATEMENTS[count], values)
            start += count


def read_bodies(database: sqlite3.Connection, tasting_id: str) -> Iterator[tuple[str, bytes]]:
    """Yield (seat id, body) of every record of a tasting in the order of arrival."""
    seats = dict(database.execute(SEAT_NAMES, (tasting_id,)))
    for number, body in database.execute(OF_TASTING, (tasting_id,)):
        yield seats[number], body


def read_bodies_of_seat(database: sqlite3.Connection, seat_number: int) -> list[bytes]:
    """Return one seat's records in the order of arrival."""
    return [body for (body,) in database.execute(OF_SEAT, (seat_number,))]


def count_records(database: sqlite3.Connection, tasting_id: str) -> int:
    """Return how many records a tasting has."""
    return int(database.execute(COUNT_OF_TASTING, (tasting_id,)).fetchone()[0])
