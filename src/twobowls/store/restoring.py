"""Going back to a backup. What was there before is moved aside, never deleted."""

import os
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from twobowls.errors import InputError, StoreError
from twobowls.store import settings_table
from twobowls.store.backup_files import TIME_FORMAT, Backup, backup_folder, list_backups
from twobowls.store.backups import Contents, flush_folder, verify_backup, verify_file
from twobowls.store.connections import explained, open_unchanged
from twobowls.store.lock import StoreLock
from twobowls.store.paths import resolved
from twobowls.store.private_files import make_private, restrict
from twobowls.store.salvage import salvage, settings_of
from twobowls.store.wal import look_at_wal

COMPANIONS = ("-wal", "-shm")


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did: the backup it went back to, and where the old file is now.

    ``kept_key`` is False where no present key could be read: the next start draws a new one.
    """

    source: Path
    contents: Contents
    salvaged: int
    aside: Path | None
    kept_key: bool


def is_sound(path: Path) -> bool:
    """Say whether the store at ``path`` is there and nothing in it is spoilt."""
    try:
        verify_file(path)
    except StoreError:
        return False
    return not look_at_wal(path).lost


def choose(path: Path, name: str | None) -> tuple[Path, Contents]:
    """Return a sound backup of a store and what it holds: the newest, or the one that is named.

    Parameters
    ----------
    path : Path
        The store.
    name : str or None
        A backup's number, or the path of any file that is a store; None for the newest sound one.

    Raises
    ------
    InputError
        There is no such backup, or no sound one.
    StoreError
        The one that was named is damaged.
    """
    path = resolved(path)
    backups = list_backups(backup_folder(path))
    if name is None:
        return _newest_sound(path, backups)
    if name.isdigit():
        for each in backups:
            if each.number == int(name):
                return each.path, verify_backup(each)
        raise InputError("backup", f"there is no number {name}", "See `twobowls restore --list`")
    if not Path(name).is_file():
        raise InputError("backup", f"there is no file {name}", "See `twobowls restore --list`")
    source = resolved(Path(name))
    return source, verify_file(source)


def _newest_sound(path: Path, backups: tuple[Backup, ...]) -> tuple[Path, Contents]:
    for each in backups:
        with suppress(StoreError):
            return each.path, verify_backup(each)
    many = f"none of the {len(backups)} backups is sound" if backups else "there is no backup"
    raise InputError(
        "backup",
        f"{many} in {backup_folder(path)}",
        "If you have a copy of the store elsewhere, name that file: `twobowls restore FILE`",
    )


def restore(path: Path, source: Path, now_ms: int) -> Restored:
    """Put a backup in the place of the store.

    A damaged store's rows that can be read and are newer than the backup are added to it. The
    new file is complete and on disk before the old one is moved.

    Raises
    ------
    StoreError
        The store is in use, the disk is full, or the folder cannot be written to.
    """
    path = resolved(path)
    with StoreLock(path), explained(path):
        fresh = path.with_name(path.name + ".restoring")
        try:
            _copy(source, fresh)
            salvaged = 0
            if path.exists() and not is_sound(path):
                salvaged = _salvage(path, fresh, source)
            kept_key = _keep_key(path, fresh)
            _give_log(fresh)
            contents = verify_file(fresh)
            _flush(fresh)
            aside = _move_aside(path, now_ms)
            fresh.replace(path)
        finally:
            for end in ("", *COMPANIONS):
                fresh.with_name(fresh.name + end).unlink(missing_ok=True)
        flush_folder(path.parent)
        return Restored(source, contents, salvaged, aside, kept_key)


def _copy(source: Path, target: Path) -> None:
    """Copy a store, with what may stand in a write-ahead log beside it."""
    make_private(target)
    with closing(open_unchanged(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode = DELETE")


def _salvage(path: Path, fresh: Path, source: Path) -> int:
    added = salvage(path, fresh)
    try:
        verify_file(fresh)
    except StoreError:  # what was added spoils it: the backup alone, then
        _copy(source, fresh)
        return 0
    return added


def _keep_key(path: Path, fresh: Path) -> bool:
    """Keep the present host's key and sign-outs: a backup's may have been revoked since."""
    present = settings_of(path, fresh) if path.exists() else {}
    key = present.get(settings_table.HOST_KEY)
    with closing(sqlite3.connect(fresh)) as database:
        if key is None or not settings_table.is_key(key):
            database.execute("DELETE FROM settings WHERE name = ?", (settings_table.HOST_KEY,))
        else:
            settings_table.put(database, settings_table.HOST_KEY, key)
            ended = {*present.get(settings_table.SIGNED_OUT, "").split()}
            ended |= {*(settings_table.get(database, settings_table.SIGNED_OUT) or "").split()}
            settings_table.put(database, settings_table.SIGNED_OUT, " ".join(sorted(ended)))
        database.commit()
    return settings_table.is_key(key)


def _give_log(path: Path) -> None:
    """Let the file be written with a log beside it, as a served store is; none is left there."""
    with closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA journal_mode = WAL")


def _flush(path: Path) -> None:
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def _move_aside(path: Path, now_ms: int) -> Path | None:
    """Move a store and its companions away together, so that none is taken for the new one's."""
    for end in ("", *COMPANIONS):
        restrict(path.with_name(path.name + end))
    if not any(path.with_name(path.name + end).exists() for end in ("", *COMPANIONS)):
        return None
    stamp = datetime.fromtimestamp(now_ms // 1000, UTC).strftime(TIME_FORMAT)
    aside = _free_name(path.with_name(f"{path.name}.aside-{stamp}"))
    for end in ("", *COMPANIONS):
        with suppress(FileNotFoundError):
            path.with_name(path.name + end).rename(aside.with_name(aside.name + end))
    return aside


def _free_name(path: Path) -> Path:
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.name}-{number}")
    return free
