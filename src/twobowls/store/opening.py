"""Opening a store to write: create it, or check it and bring it up to the newest schema.

Before an older store is brought up to date, a backup of it is made and read again. The steps are
one transaction: it ends with the new schema or with the store as it was.
"""

import os
import sqlite3
import time
from pathlib import Path

from twobowls.errors import StoreError
from twobowls.store.backup_files import Backup, backup_folder, list_backups
from twobowls.store.backups import make_backup, verify_backup
from twobowls.store.connections import connect, damaged, explain, explained, restore_command
from twobowls.store.migrations import APPLICATION_ID, migrate, newest_schema, schema_version
from twobowls.store.paths import data_folder
from twobowls.store.private_files import make_folder, open_private, restrict
from twobowls.store.wal import look_at_wal


def connect_writer(path: Path) -> sqlite3.Connection:
    """Open the store for writing: create, check and migrate it as needed.

    Raises
    ------
    StoreError
        The file is damaged, is something else, is from a newer twobowls, is read-only, or is
        missing although there are backups of it; or it is of an older twobowls and cannot be
        backed up, or cannot be brought up to date.
    """
    with explained(path):
        _prepare(path)
        database = connect(path)
        try:
            _check(database, path)
            database.execute("PRAGMA journal_mode = WAL")
            database.execute("PRAGMA synchronous = FULL")
            _try_to_write(database)
            _bring_up_to_date(database, path)
        except BaseException:
            database.close()
            raise
        return database


def _prepare(path: Path) -> None:
    """Create a new store's file, for its owner's eyes only; refuse what SQLite would pass over."""
    there = path.exists()
    if there and look_at_wal(path).lost:
        raise damaged(path)
    if there and path.stat().st_size:
        _keep_private(path)
        return
    if list_backups(backup_folder(path)):
        raise StoreError(
            str(path),
            f"{'the file is empty' if there else 'the file is gone'}, but there are backups of it",
            f"Run `{restore_command(path)}`, or name another file with --store to begin anew",
        )
    make_folder(path.parent)
    os.close(open_private(path))


def _keep_private(path: Path) -> None:
    """Close a store of old, which a careless hand or an older twobowls left open to others."""
    for end in ("", "-wal", "-shm", "-journal"):
        restrict(path.with_name(path.name + end))
    folder = backup_folder(path)
    if folder.is_dir():
        restrict(folder)
    for each in list_backups(folder):
        restrict(each.path)
    if path.parent == data_folder():  # ours alone, and not a folder that holds other things too
        restrict(path.parent)


def _check(database: sqlite3.Connection, path: Path) -> None:
    tables = database.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    ours = database.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    if tables and not ours:
        raise StoreError(
            str(path),
            "this is an SQLite file of some other program",
            "Name another file with --store; this one was left as it is",
        )
    if schema_version(database) > newest_schema():
        raise StoreError(
            str(path),
            "this store was written by a newer twobowls",
            "Install the newest twobowls, or name another file with --store",
        )
    verdict = database.execute("PRAGMA quick_check(1)").fetchone()[0]
    if verdict != "ok":
        raise damaged(path)


def _try_to_write(database: sqlite3.Connection) -> None:
    """Write what is there already: SQLite opens a file that may only be read, and begins, too."""
    database.execute("BEGIN IMMEDIATE")
    try:
        database.execute(f"PRAGMA user_version = {schema_version(database)}")
    finally:
        if database.in_transaction:  # after an I/O error it may have been rolled back
            database.execute("ROLLBACK")


def _bring_up_to_date(database: sqlite3.Connection, path: Path) -> None:
    present = schema_version(database)
    if present == newest_schema():
        return
    if present == 0:  # the file was just made
        migrate(database)
        return
    kept = _back_up_first(path)
    try:
        migrate(database)
    except sqlite3.Error as error:
        raise _not_updated(path, explain(error, path), f"a backup of it is {kept.path}") from error


def _back_up_first(path: Path) -> Backup:
    """Back an older store up, and read the backup again."""
    try:
        made = make_backup(path, time.time_ns() // 1_000_000)
        backup = made or list_backups(backup_folder(path))[0]  # not made: the newest is the same
        verify_backup(backup)
    except StoreError as error:
        raise _not_updated(path, error, "nothing was tried without a backup") from error
    return backup


def _not_updated(path: Path, error: StoreError, backup: str) -> StoreError:
    return StoreError(
        str(path),
        f"it was written by an older twobowls and cannot be brought up to date: {error.problem}",
        f"Put that right and start again. The store is as it was, and {backup}; the twobowls that "
        "wrote it can go on with it",
    )
