"""Noticing that the store's file is no longer the one that is being written.

A program that tidies up, or keeps a folder in step with a cloud, may move, replace or delete it,
or the log beside it. What is written then goes into a file that nobody will find again, so
nothing may be promised.
"""

import os
from pathlib import Path

from twobowls.errors import StoreError
from twobowls.store.connections import restore_command
from twobowls.store.wal import wal_path

FILE_GONE = "the file was moved, replaced or deleted while twobowls uses it"
LOG_GONE = "the file's log (-wal) was moved, replaced or deleted while twobowls uses it"


class SameFile:
    """Remembers which file lies at a path now, and which log beside it."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._watched = [
            (each, _identity(each), problem)
            for each, problem in ((path, FILE_GONE), (wal_path(path), LOG_GONE))
        ]

    def check(self) -> None:
        """Look whether both are still there.

        Raises
        ------
        StoreError
            Another one, or none, lies in the place of one of them.
        """
        for path, identity, problem in self._watched:
            if _identity(path) != identity:
                raise StoreError(
                    str(self._path),
                    f"{problem}, nothing was saved",
                    "Put the same file back; if it cannot be found, stop twobowls and run "
                    f"`{restore_command(self._path)} --yes`, and let the phones send again",
                )


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        found = os.stat(path)  # noqa: PTH116 - at every commit: as cheap as can be
    except OSError:
        return None
    return found.st_dev, found.st_ino
