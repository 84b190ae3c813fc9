"""The SQL of the few settings that belong to a store, such as the host's key."""

import sqlite3
from collections.abc import Callable

GET = "SELECT value FROM settings WHERE name = ?"
INSERT = "INSERT INTO settings (name, value) VALUES (?, ?)"
REPLACE = "INSERT OR REPLACE INTO settings (name, value) VALUES (?, ?)"


def put(database: sqlite3.Connection, name: str, value: str) -> None:
    """Store a setting, whatever it was before."""
    database.execute(REPLACE, (name, value))


def get(database: sqlite3.Connection, name: str) -> str | None:
    """Return a setting, if it is stored."""
    row = database.execute(GET, (name,)).fetchone()
    return None if row is None else str(row[0])


def get_or_insert(database: sqlite3.Connection, name: str, make: Callable[[], str]) -> str:
    """Return a setting; when there is none, store what ``make`` returns."""
    row = database.execute(GET, (name,)).fetchone()
    if row is None:
        value = make()
        database.execute(INSERT, (name, value))
        return value
    return str(row[0])
