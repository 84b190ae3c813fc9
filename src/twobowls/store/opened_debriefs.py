"""The SQL of which seats have opened their own debrief: their marks are final from then on."""

import sqlite3

INSERT = "INSERT OR IGNORE INTO opened_debriefs (seat, at_ms) VALUES (?, ?)"
SEATS = "SELECT seat FROM opened_debriefs"


def insert(database: sqlite3.Connection, seat: int, at_ms: int) -> None:
    """Note that a seat (by its number) has opened its debrief; the first time counts."""
    database.execute(INSERT, (seat, at_ms))


def seats(database: sqlite3.Connection) -> set[int]:
    """Return the numbers of all seats that have."""
    return {int(row[0]) for row in database.execute(SEATS)}
