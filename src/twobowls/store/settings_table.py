"""The SQL of the few settings that belong to a store, such as the host's key."""

import re
import sqlite3
from collections.abc import Callable

HOST_KEY, SIGNED_OUT = "host_key", "signed_out"
_KEY = re.compile(r"[A-Za-z0-9_-]{20,200}")

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


def is_key(value: str | None) -> bool:
    """Say whether a host's key is one that we have drawn: an empty one would let everybody in.

    Examples
    --------
    >>> is_key("Yx3-kPq_7ZrT0aBcDeFgHi12"), is_key(""), is_key(None)
    (True, False, False)
    """
    return value is not None and _KEY.fullmatch(value) is not None
