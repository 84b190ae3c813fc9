"""Files and folders that only their owner may look into, made so from their first instant.

A store has the host's key and people's marks in it, and so has everything that is copied from it.
SQLite gives its companions (-wal, -shm) the rights of the file beside which it makes them. Windows
has no such rights: what a user keeps in a folder of his own is his there.
"""

import errno
import os
import stat
import sys
from contextlib import suppress
from pathlib import Path

FILE, FOLDER = 0o600, 0o700
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)  # Windows has none


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, as far as they are missing, for their owner alone.

    Raises
    ------
    OSError
        It cannot be made.
    """
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(mode=FOLDER, exist_ok=True)


def open_private(path: Path, flags: int = os.O_RDWR) -> int:
    """Open a file for its owner alone, making it if need be; return its handle.

    Raises
    ------
    OSError
        It cannot be opened, or is a link: somebody may have put it there to have another file
        written to (``errno.ELOOP``).
    """
    if sys.platform == "win32" and path.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path))
    handle = os.open(path, flags | os.O_CREAT | _NO_LINK, FILE)
    restrict(path)  # one that was there already
    return handle


def make_private(path: Path) -> None:
    """Make a new, empty file for its owner alone, in the place of one that may be there.

    Raises
    ------
    OSError
        It cannot be made.
    """
    path.unlink(missing_ok=True)
    os.close(open_private(path, os.O_WRONLY | os.O_EXCL))


def restrict(path: Path) -> None:
    """Let nobody but the owner use a file or folder that is there, if it is ours to say so.

    What the owner may not do stays so: a store may be write-protected on purpose.
    """
    if sys.platform == "win32":
        return
    with suppress(OSError):  # not there, or another's: it works all the same, and doctor tells
        found = path.lstat()
        ours = found.st_uid == os.geteuid() and not stat.S_ISLNK(found.st_mode)
        if ours and found.st_mode & 0o077:
            path.chmod(stat.S_IMODE(found.st_mode) & 0o700)
