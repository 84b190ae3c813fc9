"""Reading connections: one for each thread that reads, opened when it first does."""

import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from twobowls.store.connections import connect_reader, explained

T = TypeVar("T")


class Readers:
    """Run queries on a store, from whatever thread."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._local = threading.local()
        self._opened: list[sqlite3.Connection] = []
        self._lock = threading.Lock()

    def run(self, query: Callable[[sqlite3.Connection], T]) -> T:
        """Return what a query finds.

        Raises
        ------
        StoreError
            The file cannot be read.
        """
        with explained(self._path):
            reader: sqlite3.Connection | None = getattr(self._local, "reader", None)
            if reader is None:
                reader = connect_reader(self._path)
                self._local.reader = reader
                with self._lock:
                    self._opened.append(reader)
            return query(reader)

    def close(self) -> None:
        """Close every connection."""
        with self._lock:
            for reader in self._opened:
                reader.close()
            self._opened.clear()
