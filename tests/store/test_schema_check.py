"""What a file from elsewhere may bring along, and what a restore takes over of it."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from tests.store.damage import DAMAGES, fill, send
from tests.store.tables import MINUTE, NOON

from twobowls.errors import StoreError
from twobowls.store import Store, open_store
from twobowls.store.backups import make_backup
from twobowls.store.restoring import choose, restore
from twobowls.store.settings_table import is_key

KEY, REVOKED = "present-key-of-24-letters", "revoked-key-of-24-letters"


def backup_of(path: Path, key: str, tmp_path: Path) -> Path:
    """Return the copy of a store that somebody kept elsewhere."""
    copy = tmp_path / "kept.sqlite3"
    with open_store(path) as store:
        store.change_setting("host_key", key)
        store.change_setting("signed_out", "1.old")
        fill(store, marks=8)
    copy.write_bytes(path.read_bytes())
    return copy


@pytest.mark.parametrize("kept", [REVOKED, ""])
def test_a_restore_keeps_the_present_key(path: Path, tmp_path: Path, kept: str) -> None:
    copy = backup_of(path, kept, tmp_path)
    with open_store(path) as store:
        store.change_setting("host_key", KEY)
        store.change_setting("signed_out", "2.new")
    assert restore(path, choose(path, str(copy))[0], NOON).kept_key
    with open_store(path) as store:
        assert store.known_setting("host_key") == KEY
        assert store.known_setting("signed_out") == "1.old 2.new"


@pytest.mark.parametrize("present", ["", None])
def test_where_there_is_no_present_key_the_next_start_draws_one(
    path: Path, tmp_path: Path, present: str | None
) -> None:
    copy = backup_of(path, REVOKED, tmp_path)
    if present is None:
        path.unlink()
    else:
        with open_store(path) as store:
            store.change_setting("host_key", present)
    assert not restore(path, choose(path, str(copy))[0], NOON).kept_key
    with open_store(path) as store:
        assert store.known_setting("host_key") is None
    assert not is_key("")


def test_marks_are_salvaged_though_the_key_was_changed_since_the_backup(
    store: Store, path: Path
) -> None:
    tasting_id, old = fill(store, marks=400)
    make_backup(path, NOON)
    store.change_setting("host_key", KEY)
    newer = send(store, tasting_id, store.tasting(tasting_id).seats[0].id, 160)
    store.close_file()
    DAMAGES["header"](path)
    done = restore(path, choose(path, None)[0], NOON + MINUTE)
    assert done.kept_key
    with open_store(path) as again:
        assert [each.id for each in again.records(tasting_id)] == [*old, *newer]
        assert again.known_setting("host_key") == KEY


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        (
            "CREATE TRIGGER spy AFTER INSERT ON batches BEGIN DELETE FROM seats; END",
            "the trigger 'spy' in it does not belong there",
        ),
        ("CREATE VIEW v AS SELECT 1", "the view 'v' in it does not belong there"),
        ("CREATE TABLE extra (x)", "the table 'extra' in it does not belong there"),
        ("DROP INDEX batches_of_seat", "the index 'batches_of_seat' in it is not as"),
        ("ALTER TABLE coffees ADD COLUMN more TEXT", "the table 'coffees' in it"),
        ("UPDATE seats SET key = ''", "a seat's key that is too short"),
        (f"UPDATE tastings SET created_ms = {2**62}", "an instant that no clock can have shown"),
        ("UPDATE batches SET received_ms = -1", "an instant that no clock can have shown"),
    ],
)
def test_a_file_with_what_does_not_belong_there_is_not_restored(
    path: Path, tmp_path: Path, statement: str, told: str
) -> None:
    copy = backup_of(path, REVOKED, tmp_path)
    before = path.read_bytes()
    with closing(sqlite3.connect(copy)) as database:
        database.execute(statement)
        database.commit()
    with pytest.raises(StoreError) as refused:
        choose(path, str(copy))
    assert told in str(refused.value)
    assert "twobowls restore --list" in str(refused.value)
    assert path.read_bytes() == before
