"""One twobowls at a time: whoever serves or restores a store holds its lock.

The operating system lets go of the lock when the process ends, however it ends.
"""

import contextlib
import errno
import os
import sys
from pathlib import Path
from types import TracebackType
from typing import Self

from twobowls.errors import StoreError
from twobowls.store.paths import resolved
from twobowls.store.private_files import make_folder, open_private

TAKEN = (errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK)


class InUseError(StoreError):
    """Another process holds the store."""


class StoreLock:
    """Hold a store for this process, as a context manager.

    Raises
    ------
    InUseError
        Another process holds it.
    StoreError
        The folder may not be written to.
    """

    def __init__(self, path: Path) -> None:
        self._store = path = resolved(path)
        self._path = path.with_name(path.name + ".lock")
        self._file = -1

    def __enter__(self) -> Self:
        try:
            make_folder(self._path.parent)
            self._file = open_private(self._path)
        except OSError as error:
            if error.errno == errno.ELOOP:
                raise StoreError(
                    str(self._store),
                    f"its lock, {self._path.name}, is a link to somewhere else",
                    "Delete the link, and look who put it there",
                ) from error
            raise StoreError(
                str(self._store),
                f"its folder may not be written to ({error.strerror})",
                "Give yourself the right to write there, or name another file with --store",
            ) from error
        try:
            _lock(self._file)
        except OSError as error:
            holder = self._holder()
            self._close()
            if error.errno not in TAKEN:
                return self  # a file system without locks: SQLite's own must do
            raise InUseError(
                str(self._store),
                f"another twobowls is using it{holder}",
                "Stop that one with Ctrl+C, or name another file with --store",
            ) from error
        with contextlib.suppress(OSError):  # a full disk: the number is only for the message
            os.ftruncate(self._file, 0)
            os.lseek(self._file, 0, os.SEEK_SET)
            os.write(self._file, f"{os.getpid()}\n".encode())
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._close()

    def _close(self) -> None:
        if self._file >= 0:
            os.close(self._file)
            self._file = -1

    def _holder(self) -> str:
        os.lseek(self._file, 0, os.SEEK_SET)
        number = os.read(self._file, 20).decode("ascii", "ignore").strip()
        return f" (process {number})" if number.isdigit() else ""


def is_in_use(path: Path) -> bool:
    """Say whether some process serves the store now."""
    path = resolved(path)
    if not path.with_name(path.name + ".lock").exists():
        return False
    try:
        with StoreLock(path):
            return False
    except InUseError:
        return True
    except StoreError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _lock(file: int) -> None:
        os.lseek(file, 1 << 20, os.SEEK_SET)  # far behind the number, which others may read
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(file: int) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
