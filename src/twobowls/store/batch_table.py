"""The SQL of the seats' log: one row for each batch of records that arrived."""

import sqlite3
from collections.abc import Iterator, Sequence

from twobowls.store.writer import Row

ONE = "(?, ?, ?)"
CHUNKS = (512, 128, 32, 8, 2, 1)
INSERT = {
    count: "INSERT INTO batches (seat, received_ms, body) VALUES " + ", ".join([ONE] * count)
    for count in CHUNKS
}
OF_TASTING = """
    SELECT seats.id, batches.body
    FROM tastings
    JOIN seats ON seats.tasting = tastings.number
    JOIN batches ON batches.seat = seats.number
    WHERE tastings.id = ?
    ORDER BY batches.number
"""
COUNT = """
    SELECT count(*)
    FROM tastings
    JOIN seats ON seats.tasting = tastings.number
    JOIN batches ON batches.seat = seats.number
    WHERE tastings.id = ?
"""
OF_SEAT = "SELECT body FROM batches WHERE seat = ? ORDER BY number"


def insert_batches(database: sqlite3.Connection, rows: Sequence[Row]) -> None:
    """Store rows of (seat number, received_ms, body).

    A few statements with many rows each, not one a row: SQLite works without the interpreter's
    lock, and each return to Python may have to wait for it while the event loop is busy.
    """
    start = 0
    for count in CHUNKS:
        while len(rows) - start >= count:
            values = [value for row in rows[start : start + count] for value in row]
            database.execute(INSERT[count], values)
            start += count


def read_batches(database: sqlite3.Connection, tasting_id: str) -> Iterator[tuple[str, bytes]]:
    """Yield (seat id, body) of every batch of a tasting in the order of arrival."""
    yield from database.execute(OF_TASTING, (tasting_id,))


def read_batches_of_seat(database: sqlite3.Connection, seat_number: int) -> list[bytes]:
    """Return the bodies of one seat's batches in the order of arrival."""
    return [body for (body,) in database.execute(OF_SEAT, (seat_number,))]


def count_batches(database: sqlite3.Connection, tasting_id: str) -> int:
    """Return how many batches a tasting has."""
    return int(database.execute(COUNT, (tasting_id,)).fetchone()[0])
