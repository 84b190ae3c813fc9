"""Looking over a store and the place where it lies, without changing anything.

Each check returns findings: what was looked at, how it is, and what to do if it is not well.
"""

import os
import shutil
import sqlite3
import sys
from collections.abc import Iterable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

from twobowls.errors import StoreError
from twobowls.store.backup_files import backup_folder, list_backups
from twobowls.store.backups import Contents, check_log, check_soundness, verify_backup
from twobowls.store.connections import explained, open_unchanged, restore_command
from twobowls.store.lock import is_in_use
from twobowls.store.migrations import newest_schema
from twobowls.store.wal import look_at_wal

Kind = Literal["fine", "look", "broken"]
LITTLE_ROOM, TOO_LITTLE_ROOM = 500_000_000, 50_000_000  # bytes
LATE_BACKUP = timedelta(hours=1)  # of a change; a served store is backed up within minutes
OLDEST_CLOCK = datetime(2026, 1, 1, tzinfo=UTC)  # this program is younger
NEAR_FUTURE = timedelta(minutes=2)


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of a check-up; ``cure`` is empty where nothing need be done."""

    kind: Kind
    title: str
    text: str
    cure: str = ""


def check_up(path: Path, now_ms: int) -> tuple[Finding, ...]:
    """Look over the store at ``path``; whether it is sound comes first."""
    now = datetime.fromtimestamp(now_ms / 1000, UTC)
    return (
        *check_store(path),
        check_rights(path),
        check_room(path),
        *check_backups(path, now),
        check_clock(path, now),
    )


def check_store(path: Path) -> tuple[Finding, ...]:
    """Read everything in the store."""
    if not path.exists():
        return (_missing(path),)
    use = "in use by a running twobowls" if is_in_use(path) else "not in use now"
    try:
        with explained(path), closing(open_unchanged(path)) as database:
            if look_at_wal(path).lost and not is_in_use(path):
                return (_damaged(path),)
            contents = check_soundness(database, path)
            records = check_log(database, path)
    except StoreError as error:
        return (_damaged(path) if "damaged" in error.problem else _unusable(error),)
    found = Finding("fine", "store", f"{path} is sound: {_held(contents, records)}; {use}")
    return found, _schema(contents), _journal(path)


def _held(contents: Contents, records: int) -> str:
    counts = [(contents.of(f"{one}s"), one) for one in ("coffee", "tasting", "seat")]
    counts.append((records, "record"))
    return ", ".join(f"{count:,} {one}{'' if count == 1 else 's'}" for count, one in counts)


def _missing(path: Path) -> Finding:
    if list_backups(backup_folder(path)):
        cure = f"Run `{restore_command(path)}`"
        return Finding("broken", "store", f"{path} is gone, but there are backups of it", cure)
    return Finding("fine", "store", f"{path} is not there yet; it is made at the first start")


def _damaged(path: Path) -> Finding:
    cure = f"Run `{restore_command(path)}`; it keeps the damaged file"
    if not list_backups(backup_folder(path)):
        cure = (
            "There is no backup beside it. If you have a copy elsewhere, run "
            f"`{restore_command(path)} COPY`; else move the file aside and begin anew"
        )
    return Finding("broken", "store", f"{path} is damaged, or is not a twobowls store", cure)


def _unusable(error: StoreError) -> Finding:
    return Finding("broken", "store", f"{error.path}: {error.problem}", error.cure)


def _schema(contents: Contents) -> Finding:
    newest = newest_schema()
    if contents.schema == newest:
        return Finding("fine", "schema", f"version {newest}, the newest")
    text = f"version {contents.schema} of {newest}; the next start brings it up to date"
    return Finding("fine", "schema", text)


def _journal(path: Path) -> Finding:
    """Read from the file's head how SQLite was told to write it; 2 stands for a log."""
    with path.open("rb") as file:
        versions = file.read(20)[18:20]
    if versions == b"\2\2":
        return Finding("fine", "journal", "write-ahead log, as it should be")
    return Finding(
        "look",
        "journal",
        "no write-ahead log: readers and the writer would wait for each other",
        f"Start twobowls once; if this stays, {path.parent} may be a network drive: keep the "
        "store on a disk of this computer",
    )


def check_rights(path: Path) -> Finding:
    """Say whether the store can be written to, and whether others can read it."""
    folder = next(each for each in (path.parent, *path.parents) if each.exists())
    for each in (path, folder):
        if each.exists() and not os.access(each, os.W_OK):
            return Finding(
                "broken",
                "rights",
                f"{each} may not be written to",
                "Give yourself the right to write it, or name another file with --store",
            )
    if sys.platform != "win32" and path.exists() and path.stat().st_mode & 0o077:
        return Finding(
            "look",
            "rights",
            f"other users of this computer can open {path}, and the host's key is in it",
            f"chmod 600 {path}",
        )
    return Finding("fine", "rights", "it can be written to, and by you alone")


def check_room(path: Path) -> Finding:
    """Say whether the disk has room."""
    folder = next(each for each in (path.parent, *path.parents) if each.exists())
    free = shutil.disk_usage(folder).free
    text = f"{free / 1e9:,.1f} GB are free in {folder}"
    if free < TOO_LITTLE_ROOM:
        return Finding("broken", "disk", text, "Free some space before people come")
    if free < LITTLE_ROOM:
        return Finding("look", "disk", text, "Free some space soon")
    return Finding("fine", "disk", text)


def check_backups(path: Path, now: datetime) -> Iterable[Finding]:
    """Say whether there are backups, how old they are, and whether each one is sound."""
    backups = list_backups(backup_folder(path))
    if not backups:
        if path.exists():
            yield Finding("look", "backups", "there are none yet", "They come when you serve")
        return
    spoilt = []
    for each in backups:
        try:
            verify_backup(each)
        except StoreError:
            spoilt.append(each)
    good = [each for each in backups if each not in spoilt]
    if good:
        yield _newest(path, good[0].made_at, len(good), now)
    for each in spoilt:
        cure = "Delete it; the others stand on their own"
        yield Finding("look", "backups", f"{each.path.name} is damaged", cure)
    if not good:
        yield Finding("broken", "backups", "none is sound", "Copy the store to another disk now")


def _newest(path: Path, made_at: datetime, count: int, now: datetime) -> Finding:
    text = f"{count} sound, the newest of {made_at:%Y-%m-%d %H:%M} UTC in {backup_folder(path)}"
    changed = _last_change(path)
    if changed is not None and changed - made_at > LATE_BACKUP and now - changed > LATE_BACKUP:
        return Finding(
            "look",
            "backups",
            f"{text}, but the store has changed since",
            "Start and stop twobowls once; if this stays, look at what it says when it starts",
        )
    return Finding("fine", "backups", text)


def _last_change(path: Path) -> datetime | None:
    """Return when the newest batch arrived or the newest tasting was planned."""
    query = (
        "SELECT max((SELECT ifnull(max(received_ms), 0) FROM batches), "
        "(SELECT ifnull(max(created_ms), 0) FROM tastings))"
    )
    with suppress(sqlite3.Error, OSError), closing(open_unchanged(path)) as database:
        newest_ms = int(database.execute(query).fetchone()[0])
        return datetime.fromtimestamp(newest_ms / 1000, UTC) if newest_ms else None
    return None


def check_clock(path: Path, now: datetime) -> Finding:
    """Say whether this computer's clock can be right: it times the bowls and orders the marks."""
    shown = f"it shows {now:%Y-%m-%d %H:%M} UTC"
    if now < OLDEST_CLOCK:
        return Finding("broken", "clock", f"{shown}, which is long past", "Set the clock")
    known = [each.made_at for each in list_backups(backup_folder(path))]
    changed = _last_change(path)
    latest = max([*known, *([changed] if changed else [])], default=now)
    if latest - now > NEAR_FUTURE:
        return Finding(
            "look",
            "clock",
            f"{shown}, but the store has something from {latest:%Y-%m-%d %H:%M} UTC",
            "Set the clock right before the next tasting; nothing in the store is lost",
        )
    return Finding("fine", "clock", shown)
