"""Taking over what can still be read in a damaged store and is not in its backup.

Rows are looked at one by one, from both ends towards the damage. Only what makes sense is taken:
an event follows the one before it, a batch belongs to a seat that is there.
"""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from twobowls.store import settings_table
from twobowls.store.connections import open_unchanged
from twobowls.store.events import Event
from twobowls.store.private_files import make_private
from twobowls.store.record_messages import Message
from twobowls.store.wal import wal_path
from twobowls.tasting.coffees import Coffee

Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class _Table:
    """How one table is read, and what its bodies are."""

    name: str
    columns: str
    key: str
    body: msgspec.json.Decoder[Any] | None
    put: str


HOST_KEY = f"SELECT value FROM settings WHERE name = '{settings_table.HOST_KEY}'"
FIRST_TASTING = "SELECT id FROM tastings ORDER BY number LIMIT 1"
_TABLES = (
    _Table(
        "coffees",
        "number, id, archived, body",
        "number",
        msgspec.json.Decoder(Coffee),
        "INSERT OR REPLACE",  # a coffee may have been changed after the backup
    ),
    _Table("tastings", "number, id, join_code, created_ms", "number", None, "INSERT OR IGNORE"),
    _Table("seats", "number, id, tasting, key", "number", None, "INSERT OR IGNORE"),
    _Table("opened_debriefs", "seat, at_ms", "seat", None, "INSERT OR IGNORE"),
    _Table(
        "host_events",
        "tasting, version, body",
        "tasting, version",
        msgspec.json.Decoder(Event),
        "INSERT OR IGNORE",
    ),
    _Table(
        "batches",
        "number, seat, received_ms, body",
        "number",
        msgspec.json.Decoder(list[Message]),
        "INSERT OR IGNORE",
    ),
)


def salvage(path: Path, into: Path) -> int:
    """Add to the store ``into`` what only the damaged store at ``path`` has.

    Returns
    -------
    int
        How many rows were added: 0 when nothing can be read, or when the two are not the same
        store at two times.
    """
    with closing(sqlite3.connect(into, isolation_level=None)) as target:
        before = target.total_changes
        target.execute("PRAGMA foreign_keys = ON")
        target.execute("BEGIN IMMEDIATE")
        with _readable(path, into) as readable:
            if readable is not None:
                _take_over_all(readable, target)
        target.execute("COMMIT")
        return target.total_changes - before


def settings_of(path: Path, backup: Path) -> dict[str, str]:
    """Return the settings of a store that may be damaged; none where they cannot be read.

    Parameters
    ----------
    path : Path
        The store.
    backup : Path
        A sound copy of it, from which a spoilt first page can be taken.
    """
    with _readable(path, backup) as readable:
        if readable is None:
            return {}
        with closing(open_unchanged(readable)) as database:
            return dict(database.execute("SELECT name, value FROM settings"))


@contextmanager
def _readable(path: Path, backup: Path) -> Iterator[Path | None]:
    """Give a file in which tables can be found: the damaged one, or a copy with a new first page.

    The first page says where the tables begin. It is the same in the backup, as long as both have
    the same schema.
    """
    if _host_key(path) is not None:
        yield path
        return
    copy = path.with_name(path.name + ".salvage")
    try:
        _copy_with_first_page(path, backup, copy)
        yield copy if _host_key(copy) is not None else None
    finally:
        for end in ("", "-wal", "-shm"):
            copy.with_name(copy.name + end).unlink(missing_ok=True)


def _copy_with_first_page(path: Path, backup: Path, copy: Path) -> None:
    make_private(copy)
    shutil.copyfile(path, copy)
    if wal_path(path).exists():
        make_private(wal_path(copy))
        shutil.copyfile(wal_path(path), wal_path(copy))
    page = bytearray(backup.read_bytes()[: _page_size(backup)])
    page[18:20] = b"\2\2" if wal_path(path).exists() else b"\1\1"  # with or without such a log
    page[92:96] = bytes(4)  # the number of pages on this page is not this file's: count them
    with copy.open("r+b") as file:
        file.write(page)


def _page_size(path: Path) -> int:
    with closing(open_unchanged(path)) as database:
        return int(database.execute("PRAGMA page_size").fetchone()[0])


def _host_key(path: Path) -> str | None:
    """Return what tells one store from another, or None when the file cannot be read at all."""
    try:
        with closing(open_unchanged(path)) as database:
            row = database.execute(HOST_KEY).fetchone()
    except sqlite3.DatabaseError:
        return None
    return None if row is None else str(row[0])


def _take_over_all(path: Path, target: sqlite3.Connection) -> None:
    with closing(open_unchanged(path)) as source:
        if not _is_same_store(source, target):
            return
        for table in _TABLES:
            _take_over(source, target, table)


def _is_same_store(one: sqlite3.Connection, other: sqlite3.Connection) -> bool:
    """Say whether two files are one store at two times; its key may have been changed between."""
    for mark in (HOST_KEY, FIRST_TASTING):
        with suppress(sqlite3.DatabaseError):
            found = [database.execute(mark).fetchone() for database in (one, other)]
            if found[0] is not None and found[0] == found[1]:
                return True
    return False


def _take_over(source: sqlite3.Connection, target: sqlite3.Connection, table: _Table) -> None:
    known = set(_rows(target, table, ""))
    insert = f"{table.put} INTO {table.name} ({table.columns}) VALUES ({_marks(table)})"
    found = {row for order in ("", " DESC") for row in _rows(source, table, order)}
    for row in sorted(found - known):
        if _makes_sense(target, table, row):
            # a row that fits nothing, or a table that an older backup lacks
            with suppress(sqlite3.IntegrityError, sqlite3.OperationalError):
                target.execute(insert, row)


def _marks(table: _Table) -> str:
    return ", ".join("?" * len(table.columns.split(", ")))


def _rows(database: sqlite3.Connection, table: _Table, order: str) -> Iterator[Row]:
    """Yield rows until the end of the table or the first spoilt page."""
    keys = ", ".join(key + order for key in table.key.split(", "))
    with suppress(sqlite3.DatabaseError):
        yield from database.execute(f"SELECT {table.columns} FROM {table.name} ORDER BY {keys}")


def _makes_sense(target: sqlite3.Connection, table: _Table, row: Row) -> bool:
    if table.body is not None:
        try:
            table.body.decode(row[-1])
        except (msgspec.MsgspecError, TypeError):
            return False
    rule = _RULES.get(table.name)
    return rule is None or rule(target, row)


def _is_next_event(target: sqlite3.Connection, row: Row) -> bool:
    last = "SELECT coalesce(max(version), 0) + 1 FROM host_events WHERE tasting = ?"
    return bool(target.execute(last, row[:1]).fetchone()[0] == row[1])


_RULES: dict[str, Callable[[sqlite3.Connection, Row], bool]] = {"host_events": _is_next_event}
