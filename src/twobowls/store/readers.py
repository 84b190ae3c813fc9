"""Reading connections: as many as there have been readers at the same time, used in turn."""

import sqlite3
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from twobowls.store.connections import connect_reader, explained

T = TypeVar("T")


class Readers:
    """Run queries on a store, from whatever thread.

    A connection belongs to no thread: a server's threads come and go, and each would leave its
    connection open behind it.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._idle: deque[sqlite3.Connection] = deque()  # its ends are safe for any thread
        self._closed = False

    def run(self, query: Callable[[sqlite3.Connection], T]) -> T:
        """Return what a query finds.

        Raises
        ------
        StoreError
            The file cannot be read.
        """
        with explained(self._path):
            reader = self._take()
            try:
                return query(reader)
            finally:
                self._idle.append(reader)
                if self._closed:
                    self._close_idle()

    def close(self) -> None:
        """Close every connection; one that is reading follows when it is done."""
        self._closed = True
        self._close_idle()

    def _take(self) -> sqlite3.Connection:
        try:
            return self._idle.pop()
        except IndexError:
            return connect_reader(self._path)

    def _close_idle(self) -> None:
        with suppress(IndexError):
            while True:
                self._idle.pop().close()
