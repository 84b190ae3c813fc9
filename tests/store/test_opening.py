"""A store of an older twobowls: backed up, then brought up to date as a whole or not at all.

So far there is one schema, so the tests add the steps of versions to come.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from tests.store.damage import fill
from tests.store.tables import NOON

from twobowls.errors import StoreError
from twobowls.store import Store, open_store
from twobowls.store.backup_files import backup_folder, list_backups
from twobowls.store.backups import make_backup, verify_backup, verify_file
from twobowls.store.migrations import MIGRATIONS, schema_version
from twobowls.store.opening import connect_writer

GOOD = ("ALTER TABLE seats ADD COLUMN colour TEXT NOT NULL DEFAULT ''",)
MORE = ("CREATE TABLE tags (number INTEGER PRIMARY KEY, tag TEXT NOT NULL) STRICT",)
BAD = ("DROP TABLE coffees", "ALTER TABLE nowhere ADD COLUMN colour TEXT")


@pytest.fixture
def old(store: Store, path: Path) -> tuple[Path, str, list[str]]:
    """A store of today's schema, which is old in the eyes of the later versions below."""
    tasting_id, saved = fill(store)
    store.close_file()
    return path, tasting_id, saved


def add_steps(monkeypatch: pytest.MonkeyPatch, *steps: tuple[str, ...]) -> None:
    monkeypatch.setattr("twobowls.store.migrations.MIGRATIONS", (*MIGRATIONS, *steps))


def version_of(path: Path) -> int:
    with closing(sqlite3.connect(path)) as database:
        return schema_version(database)


def backups_of(path: Path) -> list[Path]:
    return [each.path for each in list_backups(backup_folder(path))]


def test_an_older_store_is_backed_up_before_it_is_brought_up_to_date(
    old: tuple[Path, str, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, tasting_id, saved = old
    add_steps(monkeypatch, GOOD, MORE)
    with open_store(path) as store:
        assert [record.id for record in store.records(tasting_id)] == saved
    assert version_of(path) == len(MIGRATIONS) + 2
    (backup,) = backups_of(path)
    assert version_of(backup) == len(MIGRATIONS)
    assert verify_file(backup).of("batches") == len(saved) // 8


def test_the_backup_is_read_again_before_any_step_is_taken(
    old: tuple[Path, str, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, _tasting_id, _saved = old
    add_steps(monkeypatch, GOOD)
    seen: list[int] = []

    def noted(backup):  # type: ignore[no-untyped-def]
        seen.append(version_of(path))
        return verify_backup(backup)

    monkeypatch.setattr("twobowls.store.opening.verify_backup", noted)
    connect_writer(path).close()
    assert seen == [len(MIGRATIONS)]
    assert version_of(path) == len(MIGRATIONS) + 1


def test_a_backup_of_the_same_state_is_enough(
    old: tuple[Path, str, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, _tasting_id, _saved = old
    make_backup(path, NOON)
    add_steps(monkeypatch, GOOD)
    connect_writer(path).close()
    assert len(backups_of(path)) == 1


@pytest.mark.parametrize("steps", [(BAD,), (GOOD, MORE, BAD)], ids=["one", "after good ones"])
def test_a_step_that_fails_leaves_the_store_as_it_was(
    old: tuple[Path, str, list[str]],
    monkeypatch: pytest.MonkeyPatch,
    steps: tuple[tuple[str, ...], ...],
) -> None:
    path, tasting_id, saved = old
    before = path.read_bytes()
    with monkeypatch.context() as later:
        add_steps(later, *steps)
        with pytest.raises(StoreError) as refused:
            open_store(path)
    (backup,) = backups_of(path)
    assert str(refused.value) == (
        f"{path}: it was written by an older twobowls and cannot be brought up to date: "
        "SQLite says: no such table: nowhere. Put that right and start again. The store is as it "
        f"was, and a backup of it is {backup}; the twobowls that wrote it can go on with it."
    )
    assert path.read_bytes() == before
    with open_store(path) as store:
        assert len(store.coffees()) == 3
        assert [record.id for record in store.records(tasting_id)] == saved


def test_without_a_backup_nothing_is_tried(
    old: tuple[Path, str, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, _tasting_id, _saved = old
    before = path.read_bytes()
    backup_folder(path).write_text("somebody put a file where the folder should be")
    add_steps(monkeypatch, GOOD)
    with pytest.raises(StoreError) as refused:
        open_store(path)
    assert (
        f"cannot be brought up to date: no backup could be made: {backup_folder(path)} cannot be "
        "used (File exists). Put that right and start again. The store is as it was, and nothing "
        "was tried without a backup;"
    ) in str(refused.value)
    assert path.read_bytes() == before


def test_a_backup_that_cannot_be_read_again_stops_it(
    old: tuple[Path, str, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, _tasting_id, _saved = old
    made = make_backup(path, NOON)
    assert made is not None
    before = path.read_bytes()
    add_steps(monkeypatch, GOOD)
    monkeypatch.setattr("twobowls.store.opening.make_backup", lambda _path, _now: made)
    made.path.write_bytes(made.path.read_bytes()[:-4096])
    with pytest.raises(StoreError, match=r"brought up to date: the file is damaged"):
        open_store(path)
    assert path.read_bytes() == before


def test_a_new_store_needs_no_backup(path: Path) -> None:
    connect_writer(path).close()
    assert version_of(path) == len(MIGRATIONS)
    assert not backup_folder(path).exists()
