"""Making a backup of a store that is in use, and looking whether one is sound.

The copy is one consistent snapshot, taken by SQLite's online backup while the store goes on
writing. It gets its name only after it was checked, so a backup that has a name is a good one.
"""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from twobowls.errors import StoreError
from twobowls.store import tasting_tables
from twobowls.store.backup_files import (
    Backup,
    backup_folder,
    backup_name,
    digest_of,
    list_backups,
    superseded,
)
from twobowls.store.batch_table import read_batches
from twobowls.store.connections import connect_reader, damaged, explained, open_unchanged
from twobowls.store.migrations import APPLICATION_ID, newest_schema, schema_version
from twobowls.store.private_files import make_folder, make_private
from twobowls.store.record_messages import decode_log
from twobowls.store.schema_check import check_schema, check_values

TABLES = ("settings", "coffees", "tastings", "host_events", "seats", "batches")
PAGES_AT_ONCE = 256
ROOM_LEFT = 20_000_000  # bytes that a backup leaves free for the store itself


@dataclass(frozen=True, slots=True)
class Contents:
    """How many rows each table of a store has, in the order of `TABLES`."""

    schema: int
    rows: tuple[int, ...]

    def of(self, table: str) -> int:
        """Return the number of rows of one table."""
        return self.rows[TABLES.index(table)]


def contents_of(database: sqlite3.Connection) -> Contents:
    """Count what an open store holds."""
    rows = tuple(
        int(database.execute(f"SELECT count(*) FROM {table}").fetchone()[0]) for table in TABLES
    )
    return Contents(schema_version(database), rows)


def make_backup(path: Path, now_ms: int) -> Backup | None:
    """Back a store up; return None when the newest backup is the same already.

    Raises
    ------
    StoreError
        There is no room, the folder cannot be written to, or the store itself is damaged.
    """
    folder = backup_folder(path)
    partial = folder / "unfinished.partial"
    with _explained(path, folder):
        make_folder(folder)
        _check_room(path, folder)
        try:
            _copy(path, partial)
            return _keep(partial, folder, now_ms)
        finally:
            for end in ("", "-journal", "-wal", "-shm"):
                partial.with_name(partial.name + end).unlink(missing_ok=True)


def _check_room(path: Path, folder: Path) -> None:
    free, need = shutil.disk_usage(folder).free, path.stat().st_size + ROOM_LEFT
    if free < need:
        raise _failed(path, f"only {free // 1_000_000} MB are free, a backup needs {need:,} bytes")


def _copy(path: Path, target: Path) -> None:
    """Copy a snapshot of the store and check the copy against it."""
    make_private(target)
    with closing(connect_reader(path)) as source, closing(_connect_copy(target)) as copy:
        source.execute("BEGIN")  # what is counted and what is copied are the same instant
        before = contents_of(source)
        with target.open("r+b") as file:

            def flush(_status: int, _remaining: int, _total: int) -> None:
                os.fsync(file.fileno())  # little by little, so that commits need not wait long

            source.backup(copy, pages=PAGES_AT_ONCE, progress=flush)
        source.execute("COMMIT")
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
        if check_soundness(copy, path) != before:
            raise _failed(path, "the copy does not hold what the store holds")


def _connect_copy(target: Path) -> sqlite3.Connection:
    copy = sqlite3.connect(target, isolation_level=None)
    copy.execute("PRAGMA synchronous = OFF")  # the file is flushed as a whole, see `_keep`
    return copy


def _keep(partial: Path, folder: Path, now_ms: int) -> Backup | None:
    """Give a finished copy its name, unless it is the same as the newest backup."""
    backups = list_backups(folder)
    digest = digest_of(partial)
    if backups and backups[0].digest == digest and digest_of(backups[0].path) == digest:
        return None
    number = backups[0].number + 1 if backups else 1
    made_at = datetime.fromtimestamp(now_ms // 1000, UTC)
    path = folder / backup_name(number, made_at, digest)
    with partial.open("r+b") as file:
        os.fsync(file.fileno())
    partial.replace(path)
    flush_folder(folder)
    made = Backup(number, made_at, digest, path, path.stat().st_size)
    for old in superseded((made, *backups)):
        old.path.unlink(missing_ok=True)
    return made


def flush_folder(folder: Path) -> None:
    """Bring new names in a folder to the disk, where the platform knows how."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        with suppress(OSError):
            os.fsync(handle)
        os.close(handle)


def check_soundness(database: sqlite3.Connection, path: Path) -> Contents:
    """Let SQLite check every page and reference of an open store; return what it holds.

    Raises
    ------
    StoreError
        Something is wrong; ``path`` is what the message calls the file.
    """
    try:
        ours = database.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
        whole = database.execute("PRAGMA integrity_check(1)").fetchone()[0] == "ok"
        linked = database.execute("PRAGMA foreign_key_check").fetchone() is None
        if ours and whole and linked and 1 <= schema_version(database) <= newest_schema():
            return contents_of(database)
    except sqlite3.DatabaseError as error:
        raise damaged(path) from error
    raise damaged(path)


def check_log(database: sqlite3.Connection, path: Path) -> int:
    """Read every event and record of an open store; return how many records there are.

    Raises
    ------
    StoreError
        Something in it cannot be read.
    """
    records = 0
    try:
        for tasting_id in tasting_tables.tasting_ids(database):
            tasting_tables.read_tasting(database, tasting_id)
            records += sum(1 for _ in decode_log(list(read_batches(database, tasting_id))))
    except (sqlite3.DatabaseError, msgspec.MsgspecError, TypeError, StopIteration) as error:
        raise damaged(path) from error
    return records


def verify_backup(backup: Backup) -> Contents:
    """Check that a backup is what it was when it was made; return what it holds.

    Raises
    ------
    StoreError
        It is not.
    """
    with explained(backup.path):
        if digest_of(backup.path) != backup.digest:
            raise damaged(backup.path)
        return verify_file(backup.path)


def verify_file(path: Path) -> Contents:
    """Check a store that nobody uses, without changing it; return what it holds.

    Raises
    ------
    StoreError
        It is damaged or is no store of ours.
    """
    with explained(path), closing(open_unchanged(path)) as database:
        contents = check_soundness(database, path)
        check_schema(database, path)
        check_values(database, path)
        check_log(database, path)
        return contents


def _failed(path: Path, why: str) -> StoreError:
    return StoreError(
        str(path),
        f"no backup could be made: {why}",
        "The store itself goes on; free some space, or run `twobowls doctor`",
    )


@contextmanager
def _explained(path: Path, folder: Path) -> Iterator[None]:
    """Tell trouble with the folder of backups from trouble with the store."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise damaged(path) from error
        full = code == sqlite3.SQLITE_FULL
        raise _failed(path, "the disk is full" if full else f"SQLite says: {error}") from error
    except OSError as error:
        raise _failed(path, f"{folder} cannot be used ({error.strerror or error})") from error
