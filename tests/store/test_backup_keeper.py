import time
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.store.damage import fill
from tests.store.tables import MINUTE, NOON, add_shelf

from twobowls.store import Store
from twobowls.store.backup_files import Backup, backup_folder, list_backups
from twobowls.store.backup_keeper import BackupKeeper
from twobowls.store.backups import make_backup, verify_backup


class Clock:
    def __init__(self) -> None:
        self.now_ms = NOON

    def __call__(self) -> int:
        self.now_ms += MINUTE
        return self.now_ms


def count(path: Path) -> int:
    return len(list_backups(backup_folder(path)))


def until(true: Callable[[], bool]) -> None:
    for _ in range(6000):
        if true():
            return
        time.sleep(0.01)
    raise TimeoutError


def refuse_to_be_told(text: str) -> None:
    raise AssertionError(text)


def test_a_backup_is_made_at_the_start_and_at_the_end(store: Store, path: Path) -> None:
    fill(store)
    with BackupKeeper(store, Clock(), refuse_to_be_told):
        until(lambda: count(path) == 1)
        add_shelf(store)
    assert [verify_backup(each).of("coffees") for each in list_backups(backup_folder(path))] == [
        6,
        3,
    ]


def test_what_is_changed_while_a_backup_is_made_is_in_the_one_at_the_end(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = BackupKeeper(store, Clock(), refuse_to_be_told)

    def slow(backed_up: Path, now_ms: int) -> Backup | None:
        made = make_backup(backed_up, now_ms)
        if count(path) == 1:
            until(lambda: keeper._stopping)
        return made

    monkeypatch.setattr("twobowls.store.backup_keeper.make_backup", slow)
    fill(store)
    with keeper:
        until(lambda: count(path) == 1)
        add_shelf(store)
    newest = list_backups(backup_folder(path))[0]
    assert verify_backup(newest).of("coffees") == 6


def test_closing_and_revealing_are_backed_up_at_once(store: Store, path: Path) -> None:
    tasting_id, _saved = fill(store)
    with BackupKeeper(store, Clock(), refuse_to_be_told):
        until(lambda: count(path) == 1)
        store.close(tasting_id, NOON)
        until(lambda: count(path) == 2)
        store.reveal(tasting_id, NOON)
        until(lambda: count(path) == 3)
    assert count(path) == 3


def test_what_changes_is_backed_up_after_a_while_and_what_rests_is_not(
    store: Store, path: Path
) -> None:
    with BackupKeeper(store, Clock(), refuse_to_be_told, every_s=0.02):
        until(lambda: count(path) == 1)
        time.sleep(0.2)
        assert count(path) == 1
        add_shelf(store)
        until(lambda: count(path) == 2)


def test_trouble_is_told_once_and_the_store_goes_on(store: Store, path: Path) -> None:
    backup_folder(path).write_text("a file is in the way")
    told: list[str] = []
    with BackupKeeper(store, Clock(), told.append, every_s=0.01):
        until(lambda: bool(told))
        add_shelf(store)
        time.sleep(0.1)
        assert len(told) == 1
        backup_folder(path).unlink()
        until(lambda: count(path) == 1)
    assert "no backup could be made" in told[0]
    assert len(store.coffees()) == 3


def test_a_row_that_makes_no_sense_is_told_at_the_start(store: Store, path: Path) -> None:
    fill(store)
    store._writer.run(lambda db: db.execute("UPDATE batches SET body = x'5b7b5d' WHERE number = 7"))
    told: list[str] = []
    with BackupKeeper(store, Clock(), told.append):
        until(lambda: bool(told))
    assert "the file is damaged" in told[0]


def test_a_keeper_that_ends_at_once_leaves_a_backup(store: Store, path: Path) -> None:
    with BackupKeeper(store, Clock(), pytest.fail):
        pass
    assert count(path) == 1
