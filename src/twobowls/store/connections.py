"""Connections to the SQLite file, and telling a person what is wrong when it cannot be used."""

import shlex
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from twobowls.errors import StoreError
from twobowls.store.backup_files import backup_folder, list_backups
from twobowls.store.wal import wal_path

BUSY_TIMEOUT_S = 10.0
CACHED_STATEMENTS = 256


def open_unchanged(path: Path) -> sqlite3.Connection:
    """Open a store to look into it; nothing in the file changes."""
    how = "mode=ro" if wal_path(path).exists() else "mode=ro&immutable=1"
    database = sqlite3.connect(
        f"{path.resolve().as_uri()}?{how}", timeout=BUSY_TIMEOUT_S, isolation_level=None, uri=True
    )
    database.execute("PRAGMA query_only = ON")
    return database


def connect_reader(path: Path) -> sqlite3.Connection:
    """Open a connection that only reads."""
    database = connect(path)
    database.execute("PRAGMA query_only = ON")
    return database


def connect(path: Path) -> sqlite3.Connection:
    """Open a connection that reads and writes to a file that is there; nothing is looked at yet."""
    database = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode=rw",  # and not "c": a file that is gone must be noticed
        timeout=BUSY_TIMEOUT_S,
        isolation_level=None,  # transactions are begun and ended in plain sight
        check_same_thread=False,  # each has one user at a time
        cached_statements=CACHED_STATEMENTS,
        uri=True,
    )
    database.execute("PRAGMA foreign_keys = ON")
    return database


def damaged(path: Path) -> StoreError:
    """Return the error for a file whose content makes no sense, with the way back."""
    backups = list_backups(backup_folder(path))
    if backups:
        return StoreError(
            str(path),
            "the file is damaged",
            f"Run `{restore_command(path)}`: it goes back to the backup of "
            f"{backups[0].made_at:%Y-%m-%d %H:%M} UTC or the last sound one, adds what can still "
            "be read, and keeps the damaged file",
        )
    return StoreError(
        str(path),
        "the file is damaged, or is not a twobowls store",
        "Move it aside and put a backup in its place, or name another file with --store; "
        "it was left as it is",
    )


def restore_command(path: Path) -> str:
    """Return the command that brings a store back."""
    return f"twobowls restore --store {shlex.quote(str(path))}"


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite and the file system raise into sentences with a cure."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, path) from error
    except msgspec.MsgspecError as error:  # a row that we did not write like this
        raise damaged(path) from error
    except OSError as error:
        raise StoreError(
            str(path),
            f"the file cannot be opened ({error.strerror or error})",
            "Check that the folder exists and that you may write there, "
            "or name another file with --store",
        ) from error


def explain(error: sqlite3.Error, path: Path) -> StoreError:
    """Return the sentence for one of SQLite's errors."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return damaged(path)
    if code == sqlite3.SQLITE_FULL:
        return StoreError(
            str(path),
            "the disk is full, nothing was saved",
            "Free some space; what was not saved is still on the phones and will be sent again",
        )
    if code == sqlite3.SQLITE_READONLY:
        return StoreError(
            str(path),
            "the file may not be written to",
            "Give yourself the right to write it and its folder, or name another file with --store",
        )
    if code == sqlite3.SQLITE_CANTOPEN:
        return StoreError(
            str(path),
            "the file cannot be opened",
            "Check that the folder exists and that you may write there, "
            "or name another file with --store",
        )
    if code == sqlite3.SQLITE_IOERR:
        return StoreError(
            str(path),
            "the disk did not take it, nothing was saved",
            "Free some space, and check that the disk is there and sound; what was not saved is "
            "still on the phones and will be sent again",
        )
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreError(
            str(path),
            "another program keeps the file locked",
            "Close the other twobowls, or name another file with --store",
        )
    return StoreError(
        str(path),
        f"SQLite says: {error}",
        "Nothing was saved by this step; try again, and check the disk if it stays so",
    )
