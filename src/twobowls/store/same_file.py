"""Noticing that the store's file is no longer the one that is being written.

A program that tidies up, or keeps a folder in step with a cloud, may move, replace or delete it.
What is written then goes into a file that nobody will find again, so nothing may be promised.
"""

import os
from pathlib import Path

from twobowls.errors import StoreError
from twobowls.store.connections import restore_command


class SameFile:
    """Remembers which file lies at a path now."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._identity = self._look()

    def check(self) -> None:
        """Look whether it is still there.

        Raises
        ------
        StoreError
            Another one, or none, lies at the path.
        """
        if self._look() != self._identity:
            raise StoreError(
                str(self._path),
                "the file was moved, replaced or deleted while twobowls uses it, nothing was saved",
                "Put the same file back; if it cannot be found, stop twobowls and run "
                f"`{restore_command(self._path)} --yes`, and let the phones send again",
            )

    def _look(self) -> tuple[int, int] | None:
        try:
            found = os.stat(self._path)  # noqa: PTH116 - at every commit: as cheap as can be
        except OSError:
            return None
        return found.st_dev, found.st_ino
