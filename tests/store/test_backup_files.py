from datetime import UTC, datetime, timedelta
from pathlib import Path

from twobowls.store.backup_files import (
    Backup,
    backup_folder,
    backup_name,
    list_backups,
    superseded,
)

START = datetime(2026, 7, 29, 18, 0, tzinfo=UTC)


def made(number: int, minutes: float, size: int = 100) -> Backup:
    at = START + timedelta(minutes=minutes)
    return Backup(number, at, "0" * 16, Path(f"{number}"), size)


def kept(backups: list[Backup]) -> list[int]:
    newest_first = sorted(backups, reverse=True)
    going = superseded(newest_first)
    return [each.number for each in newest_first if each not in going]


def test_names_are_read_back_newest_first_and_strangers_are_passed_over(tmp_path: Path) -> None:
    folder = backup_folder(tmp_path / "a.sqlite3")
    folder.mkdir()
    assert folder.name == "a.sqlite3.backups"
    names = [backup_name(n, START + timedelta(days=n), "ab" * 8) for n in (2, 10, 9)]
    for name in (*names, "unfinished.partial", "notes.txt", "000003_2026-99-29T18-03-22Z_x"):
        (folder / name).write_text("x")
    found = list_backups(folder)
    assert [each.number for each in found] == [10, 9, 2]
    assert found[0].made_at == START + timedelta(days=10)
    assert found[0].size == 1


def test_no_folder_has_no_backups(tmp_path: Path) -> None:
    assert list_backups(tmp_path / "nowhere") == ()


def test_the_newest_six_are_kept() -> None:
    assert kept([made(n, n) for n in range(1, 21)]) == [20, 19, 18, 17, 16, 15]


def test_the_last_of_each_hour_and_day_are_kept() -> None:
    hours = [made(n, 30 * n) for n in range(1, 41)]  # two an hour, for twenty hours
    numbers = kept(hours)
    assert numbers[:6] == [40, 39, 38, 37, 36, 35]
    assert numbers[6:] == [33, 31, 29, 27, 25, 23, 21, 19, 11]
    days = [made(n, 24 * 60 * n) for n in range(1, 41)]
    assert kept(days) == list(range(40, 26, -1))


def test_a_clock_that_went_back_takes_nothing_new_away() -> None:
    before = [made(n, 60 * 24 * 365 + n) for n in range(1, 8)]
    after = [made(n, n) for n in range(8, 12)]
    assert kept([*before, *after])[:6] == [11, 10, 9, 8, 7, 6]


def test_large_backups_leave_room_and_the_newest_always_stays() -> None:
    assert kept([made(n, n, 600_000_000) for n in range(1, 7)]) == [6, 5, 4]
    assert kept([made(n, n, 3_000_000_000) for n in range(1, 3)]) == [2]
