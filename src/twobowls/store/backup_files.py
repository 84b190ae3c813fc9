"""The folder of backups: how they are named, in which order they come, which ones are kept.

A backup's name carries its number, the instant at which it was made and a digest of its content:

    000012_2026-07-29T18-03-22Z_4f1c9a7be2d05c38.sqlite3

Numbers only grow, so "the newest" is right even where the computer's clock was not.
"""

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

NEWEST, HOURS, DAYS = 6, 12, 14
MOST_BYTES = 2_000_000_000
DIGEST_LENGTH = 16
TIME_FORMAT = "%Y-%m-%dT%H-%M-%SZ"
_NAME = re.compile(r"(\d{6})_(\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ)_([0-9a-f]{16})\.sqlite3")


@dataclass(frozen=True, slots=True, order=True)
class Backup:
    """One backup, as its name tells it."""

    number: int
    made_at: datetime
    digest: str
    path: Path
    size: int


def backup_folder(path: Path) -> Path:
    """Return the folder that keeps the backups of the store at ``path``."""
    return path.with_name(path.name + ".backups")


def list_backups(folder: Path) -> tuple[Backup, ...]:
    """Return the backups in a folder, newest first; other files are passed over."""
    try:
        found = [_read_name(path) for path in folder.iterdir()]
    except (FileNotFoundError, NotADirectoryError):
        return ()
    return tuple(sorted((each for each in found if each is not None), reverse=True))


def _read_name(path: Path) -> Backup | None:
    match = _NAME.fullmatch(path.name)
    if match is None or not path.is_file():
        return None
    number, made_at, digest = match.groups()
    try:
        instant = datetime.strptime(made_at, TIME_FORMAT).replace(tzinfo=UTC)
    except ValueError:
        return None
    return Backup(int(number), instant, digest, path, path.stat().st_size)


def backup_name(number: int, made_at: datetime, digest: str) -> str:
    """Return the name of a backup.

    Examples
    --------
    >>> backup_name(12, datetime(2026, 7, 29, 18, 3, 22, tzinfo=UTC), "4f1c9a7be2d05c38")
    '000012_2026-07-29T18-03-22Z_4f1c9a7be2d05c38.sqlite3'
    """
    return f"{number:06d}_{made_at.astimezone(UTC).strftime(TIME_FORMAT)}_{digest}.sqlite3"


def digest_of(path: Path) -> str:
    """Return the digest of a file's content, as backups carry it in their names."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:DIGEST_LENGTH]


def superseded(backups: Sequence[Backup]) -> tuple[Backup, ...]:
    """Return the backups that may go.

    Kept are the newest six, the last one of each of the last twelve hours and of each of the last
    fourteen days that have any, as far as they take less than 2 GB together; the newest always.

    Parameters
    ----------
    backups : sequence of Backup
        All there are, newest first.
    """
    kept = {
        *backups[:NEWEST],
        *_last_of_each(backups, "%Y-%m-%dT%H", HOURS),
        *_last_of_each(backups, "%Y-%m-%d", DAYS),
    }
    total, going = 0, []
    for each in backups:
        total += each.size if each in kept else 0
        if each is not backups[0] and (each not in kept or total > MOST_BYTES):
            going.append(each)
    return tuple(going)


def _last_of_each(backups: Sequence[Backup], span: str, most: int) -> list[Backup]:
    last: dict[str, Backup] = {}
    for each in backups:
        last.setdefault(each.made_at.strftime(span), each)
    return list(last.values())[:most]
