"""A thread that keeps backups while a store is served, and stays out of everybody's way.

It backs up at the start, whenever something has changed for a while, as soon as a tasting has
closed or been revealed, and at the end. Trouble with a backup is told and never stops a tasting.
"""

import os
import sqlite3
import sys
import threading
from collections.abc import Callable
from contextlib import closing, suppress
from types import TracebackType
from typing import Self

from twobowls.errors import StoreError
from twobowls.store.backups import check_log, make_backup
from twobowls.store.connections import connect_reader, explained
from twobowls.store.store import Store
from twobowls.tasting.tasting import Tasting

EVERY_S = 120.0
WORTH_A_BACKUP = ("closed", "revealed")
LOWER_PRIORITY = 10


class BackupKeeper:
    """Keep backups of a store for as long as the block lasts.

    Parameters
    ----------
    store : Store
        An open store.
    now_ms : callable
        The host's time, for the names of the backups.
    tell : callable
        Called with a sentence when a backup could not be made (once for each new reason).
    every_s : float
        The longest time that something changed goes without a backup.
    """

    def __init__(
        self,
        store: Store,
        now_ms: Callable[[], int],
        tell: Callable[[str], None],
        every_s: float = EVERY_S,
    ) -> None:
        self._store = store
        self._now_ms = now_ms
        self._tell = tell
        self._every_s = every_s
        self._told = ""
        self._done: int | None = None  # SQLite's number for the state that was backed up last
        self._watch: sqlite3.Connection | None = None
        self._wanted = threading.Event()
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="twobowls-backups", daemon=True)

    def __enter__(self) -> Self:
        self._store.on_tasting(self._on_tasting)
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stopping = True
        self._wanted.set()
        self._thread.join()
        self._back_up_at_the_end()

    def _on_tasting(self, tasting: Tasting) -> None:
        if tasting.state in WORTH_A_BACKUP:
            self._wanted.set()

    def _run(self) -> None:
        _be_modest()
        try:
            with explained(self._store.path):
                self._watch = watch = connect_reader(self._store.path)
                self._read_everything(watch)
                while not self._stopping:
                    self._back_up(watch)
                    self._wanted.wait(self._every_s)
                    self._wanted.clear()
        except StoreError as error:
            self._report(str(error))

    def _back_up_at_the_end(self) -> None:
        """Take what came while the thread made its last one, in the thread that waits for it.

        Nobody is served any more: on a busy computer a modest thread would take minutes.
        """
        if self._watch is None:  # the store could not even be read; that was told
            return
        try:
            with explained(self._store.path), closing(self._watch) as watch:
                self._back_up(watch)
        except StoreError as error:
            self._report(str(error))

    def _read_everything(self, watch: sqlite3.Connection) -> None:
        """Find at the start what SQLite's own checks cannot see: rows that make no sense."""
        try:
            check_log(watch, self._store.path)
        except StoreError as error:
            self._report(str(error))

    def _back_up(self, watch: sqlite3.Connection) -> None:
        state = int(watch.execute("PRAGMA data_version").fetchone()[0])
        if state == self._done:
            return
        try:
            make_backup(self._store.path, self._now_ms())
        except StoreError as error:
            self._report(str(error))
        else:
            self._done, self._told = state, ""

    def _report(self, text: str) -> None:
        if text != self._told:
            self._told = text
            self._tell(text)


def _be_modest() -> None:
    """Let the threads that serve go first, where each thread has a priority of its own."""
    if sys.platform == "linux":
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), LOWER_PRIORITY)
