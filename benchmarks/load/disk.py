"""How many durable commits a second the disk itself allows, through SQLite as the store uses it."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

GROUP = 50
INSERT = "INSERT INTO batches (seat, received_ms, body) VALUES (?, ?, ?)"


@contextmanager
def log_file(path: Path) -> Iterator[sqlite3.Connection]:
    """Yield a connection to a new file with nothing but a log: write-ahead, each commit synced."""
    database = sqlite3.connect(path, isolation_level=None)
    try:
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("PRAGMA synchronous = FULL")
        database.execute(
            "CREATE TABLE batches (number INTEGER PRIMARY KEY, seat INTEGER NOT NULL, "
            "received_ms INTEGER NOT NULL, body BLOB NOT NULL) STRICT"
        )
        yield database
    finally:
        database.close()


def commit_times(database: sqlite3.Connection, body: bytes, seconds: float) -> list[float]:
    """Commit a row at a time for a while; return how long each took, in seconds."""
    times: list[float] = []
    end = time.perf_counter() + seconds
    while (start := time.perf_counter()) < end:
        database.execute("BEGIN IMMEDIATE")
        database.execute(INSERT, (1, 1, body))
        database.execute("COMMIT")
        times.append(time.perf_counter() - start)
    return times


def rows_a_second(database: sqlite3.Connection, body: bytes, group: int, seconds: float) -> float:
    """Commit ``group`` rows at a time for a while; return the rows a second."""
    rows = [(1, 1, body)] * group
    count, start = 0, time.perf_counter()
    while (spent := time.perf_counter() - start) < seconds:
        database.execute("BEGIN IMMEDIATE")
        database.executemany(INSERT, rows)
        database.execute("COMMIT")
        count += group
    return count / spent
