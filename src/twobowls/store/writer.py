"""One thread writes; whatever waits while it commits goes into its next commit.

Everything in a group is acknowledged only after the group is on disk. Knows transactions and
threads; what is written is somebody else's matter.
"""

import asyncio
import sqlite3
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, TypeVar

from twobowls.errors import StoreError
from twobowls.store.connections import explain

T = TypeVar("T")
Row = tuple[Any, ...]
MOST_IN_A_GROUP = 2000


class _Job:
    """A piece of work with a transaction to itself inside the group."""

    __slots__ = ("future", "result", "work")

    def __init__(self, work: Callable[[sqlite3.Connection], Any]) -> None:
        self.work = work
        self.future: Future[Any] = Future()
        self.result: Any = None


class _Row:
    """A row that an event loop waits for; many of these become one statement."""

    __slots__ = ("future", "loop", "row")

    def __init__(self, row: Row) -> None:
        self.row = row
        self.loop = asyncio.get_running_loop()
        self.future: asyncio.Future[None] = self.loop.create_future()


class Writer:
    """The only writer of a store.

    Parameters
    ----------
    database : sqlite3.Connection
        An open connection, which is the writer's alone from here on.
    path : Path
        The file, for messages.
    insert : callable
        ``insert(database, rows)``: how rows given to `append` are stored.
    on_trouble : callable
        Called in the writer's thread with the error when a commit fails, and with None once
        something has been saved again.
    check : callable
        Called before each commit; raises `StoreError` when nothing may be committed now.
    """

    def __init__(
        self,
        database: sqlite3.Connection,
        path: Path,
        insert: Callable[[sqlite3.Connection, Sequence[Row]], None],
        on_trouble: Callable[[StoreError | None], None] = lambda _error: None,
        check: Callable[[], None] = lambda: None,
    ) -> None:
        self._database = database
        self._path = path
        self._insert = insert
        self._check = check
        self._on_trouble = on_trouble
        self._trouble = ""
        self._queue: SimpleQueue[_Job | _Row | None] = SimpleQueue()
        self._closed = False
        self._closing = threading.Lock()  # nothing is handed over behind the end
        self._thread = threading.Thread(target=self._loop, name="twobowls-writer", daemon=True)
        self._thread.start()

    def run(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run ``work`` in the writer's thread; return its result once it is on disk."""
        job = _Job(work)
        self._put(job)
        result: T = job.future.result()
        return result

    def append(self, row: Row) -> asyncio.Future[None]:
        """Hand over a row; the future is done once it is on disk."""
        item = _Row(row)
        self._put(item)
        return item.future

    def close(self) -> None:
        """Finish what waits, then close the connection."""
        with self._closing:
            if self._closed:
                return
            self._closed = True
            self._queue.put(None)
        self._thread.join()
        self._database.close()

    def _put(self, item: _Job | _Row) -> None:
        with self._closing:
            if self._closed:
                raise StoreError(str(self._path), "the store was closed", "Start twobowls again")
            self._queue.put(item)

    def _loop(self) -> None:
        while True:
            group = self._next_group()
            if group:
                self._commit([item for item in group if item is not None])
            if None in group:
                return

    def _next_group(self) -> list[_Job | _Row | None]:
        group = [self._queue.get()]
        try:
            while group[-1] is not None and len(group) < MOST_IN_A_GROUP:
                group.append(self._queue.get_nowait())
        except Empty:
            pass
        return group

    def _commit(self, group: Sequence[_Job | _Row]) -> None:
        failed: list[_Job] = []
        try:
            self._database.execute("BEGIN IMMEDIATE")
            rows: list[Row] = []
            for item in group:
                if isinstance(item, _Row):
                    rows.append(item.row)
                    continue
                rows = self._flush(rows)  # keep the order in which things were handed over
                if not self._try(item):
                    failed.append(item)
            self._flush(rows)
            self._check()
            self._database.execute("COMMIT")
        except Exception as error:  # noqa: BLE001 - whoever waits must hear of it, whatever it is
            self._roll_back()
            explained = self._explained(error)
            _fail(group, explained)
            if isinstance(explained, StoreError):
                self._note(explained)
        else:
            saved = [item for item in group if item not in failed]
            _succeed(saved)
            if saved:  # where all was refused nothing was written, which says nothing of the disk
                self._note(None)

    def _note(self, trouble: StoreError | None) -> None:
        """Tell of trouble once for each new kind, and of its end."""
        text = "" if trouble is None else str(trouble)
        if text != self._trouble:
            self._trouble = text
            with suppress(Exception):  # who cannot be told, in a closed terminal say, stops nobody
                self._on_trouble(trouble)

    def _flush(self, rows: list[Row]) -> list[Row]:
        if rows:
            self._insert(self._database, rows)
        return []

    def _try(self, job: _Job) -> bool:
        """Run one job under a savepoint: its refusal undoes its own work only."""
        self._database.execute("SAVEPOINT job")
        try:
            job.result = job.work(self._database)
        except Exception as error:
            if isinstance(error, sqlite3.Error) and not isinstance(error, sqlite3.IntegrityError):
                raise  # the disk or the file: the whole group is lost
            self._database.execute("ROLLBACK TO job")
            self._database.execute("RELEASE job")
            job.future.set_exception(self._explained(error))
            return False
        self._database.execute("RELEASE job")
        return True

    def _roll_back(self) -> None:
        if self._database.in_transaction:
            with suppress(sqlite3.Error):  # after an I/O error it may have been rolled back
                self._database.execute("ROLLBACK")

    def _explained(self, error: Exception) -> Exception:
        return explain(error, self._path) if isinstance(error, sqlite3.Error) else error


def _succeed(group: Sequence[_Job | _Row]) -> None:
    waiting: dict[asyncio.AbstractEventLoop, list[asyncio.Future[None]]] = {}
    for item in group:
        if isinstance(item, _Job):
            item.future.set_result(item.result)
        else:
            waiting.setdefault(item.loop, []).append(item.future)
    for loop, futures in waiting.items():
        _tell(loop, futures, None)


def _fail(group: Sequence[_Job | _Row], error: Exception) -> None:
    for item in group:
        if isinstance(item, _Row):
            _tell(item.loop, [item.future], error)
        elif not item.future.done():
            item.future.set_exception(error)


def _tell(
    loop: asyncio.AbstractEventLoop,
    futures: Sequence[asyncio.Future[None]],
    error: Exception | None,
) -> None:
    """Wake everybody of one event loop with a single call into it."""
    with suppress(RuntimeError):  # the loop is gone, and with it everybody who waited
        loop.call_soon_threadsafe(_resolve, futures, error)


def _resolve(futures: Sequence[asyncio.Future[None]], error: Exception | None) -> None:
    for future in futures:
        if not future.done():  # a request may have been cancelled meanwhile
            if error is None:
                future.set_result(None)
            else:
                future.set_exception(error)
