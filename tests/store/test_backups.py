import shutil
import sqlite3
import threading
from collections import namedtuple
from pathlib import Path

import pytest
from tests.store.damage import fill, garbage, send
from tests.store.tables import MINUTE, NOON, add_shelf

from twobowls.errors import StoreError
from twobowls.store import Store, open_store
from twobowls.store.backup_files import Backup, backup_folder, list_backups
from twobowls.store.backups import check_log, make_backup, verify_backup, verify_file
from twobowls.store.connections import open_unchanged


def back_up(path: Path, at_ms: int = NOON) -> Backup:
    made = make_backup(path, at_ms)
    assert made is not None
    return made


def test_a_backup_holds_what_the_store_holds(store: Store, path: Path) -> None:
    tasting_id, saved = fill(store)
    made = back_up(path)
    contents = verify_backup(made)
    assert (contents.of("coffees"), contents.of("tastings"), contents.of("seats")) == (3, 1, 1)
    assert contents.of("batches") == 20
    copy = path.with_name("copy.sqlite3")
    shutil.copy(made.path, copy)
    with open_store(copy) as again:
        assert [record.id for record in again.records(tasting_id)] == saved
        assert again.tasting(tasting_id) == store.tasting(tasting_id)


def test_its_name_tells_when_and_what(store: Store, path: Path) -> None:
    made = back_up(path, NOON + 999)
    assert made.path.name == f"000001_2026-11-25T09-46-40Z_{made.digest}.sqlite3"
    assert list_backups(backup_folder(path)) == (made,)
    assert made.path.stat().st_mode & 0o777 == 0o600
    assert made.path.parent.stat().st_mode & 0o777 == 0o700


def test_what_has_not_changed_is_not_backed_up_twice(store: Store, path: Path) -> None:
    back_up(path)
    assert make_backup(path, NOON + MINUTE) is None
    store.close_file()
    assert make_backup(path, NOON + MINUTE) is None
    with open_store(path) as again:
        add_shelf(again)
        assert back_up(path, NOON + MINUTE).number == 2


def test_a_spoilt_newest_backup_is_made_again(store: Store, path: Path) -> None:
    first = back_up(path)
    first.path.write_bytes(garbage(first.size))
    assert back_up(path).number == 2


def test_a_store_that_is_written_to_is_backed_up_at_one_instant(store: Store, path: Path) -> None:
    tasting_id, saved = fill(store, marks=2000)
    seat_id = store.tasting(tasting_id).seats[0].id
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            saved.extend(send(store, tasting_id, seat_id, 8))

    writing = threading.Thread(target=write)
    writing.start()
    try:
        backups = [back_up(path, NOON + n) for n in range(4)]
    finally:
        stop.set()
        writing.join()
    counts = [verify_backup(each).of("batches") for each in backups]
    assert counts == sorted(counts)
    assert counts[0] < counts[-1] <= len(saved) // 8
    for each in backups:
        database = open_unchanged(each.path)
        assert check_log(database, each.path) == 8 * verify_backup(each).of("batches")
        database.close()


def test_a_backup_that_was_touched_is_found_out(store: Store, path: Path) -> None:
    fill(store)
    made = back_up(path)
    with made.path.open("r+b") as file:
        file.seek(made.size - 10)
        file.write(b"?")
    with pytest.raises(StoreError, match=r"the file is damaged"):
        verify_backup(made)


def test_a_damaged_store_makes_no_backup_and_old_ones_stay(store: Store, path: Path) -> None:
    fill(store, marks=400)
    made = back_up(path)
    store.close_file()
    with path.open("r+b") as file:
        file.seek(path.stat().st_size - 2 * 4096)
        file.write(garbage(4096))
    with pytest.raises(StoreError) as refused:
        make_backup(path, NOON + MINUTE)
    assert str(refused.value) == (
        f"{path}: the file is damaged. Run `twobowls restore --store {path}`: it goes back to the "
        "backup of 2026-11-25 09:46 UTC or the last sound one, adds what can still be read, and "
        "keeps the damaged file."
    )
    assert [each.name for each in backup_folder(path).iterdir()] == [made.path.name]


def test_a_body_that_makes_no_sense_is_found_by_reading_everything(
    store: Store, path: Path
) -> None:
    fill(store)
    store._writer.run(lambda db: db.execute("UPDATE batches SET body = x'5b7b5d' WHERE number = 7"))
    with pytest.raises(StoreError, match="the file is damaged"):
        verify_file(path)
    with pytest.raises(StoreError, match="the file is damaged"):
        store.records(store.tastings()[0].id)


def test_too_little_room_is_said(store: Store, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage(10, 10, 3_000_000))
    with pytest.raises(StoreError, match=r"no backup could be made: only 3 MB are free"):
        make_backup(path, NOON)


def test_a_folder_that_cannot_be_made_is_said(store: Store, path: Path) -> None:
    backup_folder(path).write_text("a file is in the way")
    with pytest.raises(StoreError, match=r"no backup could be made: .*\.backups cannot be used"):
        make_backup(path, NOON)


def test_nothing_unfinished_is_left_behind(store: Store, path: Path) -> None:
    fill(store)
    folder = backup_folder(path)
    folder.mkdir()
    (folder / "unfinished.partial").write_text("from a process that was killed")
    made = back_up(path)
    assert list(folder.iterdir()) == [made.path]


def test_a_backup_is_one_plain_file(store: Store, path: Path) -> None:
    made = back_up(path)
    database = sqlite3.connect(f"{made.path.as_uri()}?immutable=1", uri=True)
    assert database.execute("PRAGMA journal_mode").fetchone()[0] == "delete"
    database.close()
