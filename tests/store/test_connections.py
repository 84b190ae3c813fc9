import sqlite3
from pathlib import Path

import pytest
from tests.store.tables import NOON, add_table, mark

from twobowls.errors import StoreError
from twobowls.store import Store, open_store
from twobowls.store.connections import connect_reader, explain
from twobowls.store.migrations import MIGRATIONS


def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "notes.sqlite3"
    path.write_bytes(b"Dear diary, today I tasted two bowls. " * 300)
    before = path.read_bytes()
    with pytest.raises(StoreError) as refused:
        open_store(path)
    assert str(refused.value) == (
        f"{path}: the file is damaged, or is not a twobowls store. Move it aside and put a backup "
        "in its place, or name another file with --store; it was left as it is."
    )
    assert path.read_bytes() == before


def test_a_damaged_store_is_refused(store: Store, path: Path) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    for _ in range(40):
        codes = [bowl.code for bowl in tasting.plan.bowls]
        store.add_records(seat.id, [mark(seat.id, code) for code in codes], NOON)
    store.close_file()
    content = bytearray(path.read_bytes())
    content[4096 : len(content) - 4096] = b"\xa5" * (len(content) - 8192)
    path.write_bytes(content)
    with pytest.raises(StoreError, match="the file is damaged"):
        open_store(path)


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite3"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE songs (title)")
    other.close()
    with pytest.raises(
        StoreError, match=r"an SQLite file of some other program\. Name another file"
    ):
        open_store(path)


def test_a_store_of_a_newer_version_is_left_alone(store: Store, path: Path) -> None:
    store.close_file()
    database = sqlite3.connect(path)
    database.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    database.close()
    with pytest.raises(StoreError, match=r"written by a newer twobowls\. Install the newest"):
        open_store(path)


def test_a_folder_is_no_store(tmp_path: Path) -> None:
    with pytest.raises(
        StoreError, match=r"the file cannot be opened\. Check that the folder exists"
    ):
        open_store(tmp_path)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(StoreError, match="the file cannot be opened"):
        open_store(tmp_path / "file" / "store.sqlite3")


def test_what_may_not_be_written_is_explained(store: Store, path: Path) -> None:
    reader = connect_reader(path)
    with pytest.raises(sqlite3.OperationalError) as refused:
        reader.execute("DELETE FROM coffees")
    reader.close()
    assert "the file may not be written to. Give yourself" in str(explain(refused.value, path))


def test_a_locked_store_is_explained(store: Store, path: Path) -> None:
    first, second = sqlite3.connect(path), sqlite3.connect(path, timeout=0)
    first.execute("BEGIN IMMEDIATE")
    with pytest.raises(sqlite3.OperationalError) as refused:
        second.execute("BEGIN IMMEDIATE")
    assert "another program keeps the file locked" in str(explain(refused.value, path))
    first.close()
    second.close()


def test_a_full_disk_loses_nothing_that_was_acknowledged(store: Store, path: Path) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    code = tasting.plan.bowls[0].code
    store._writer.run(lambda db: db.execute("PRAGMA max_page_count = 40"))
    saved: list[str] = []

    def fill() -> None:
        for _ in range(400):
            batch = [mark(seat.id, code) for _ in range(8)]
            saved.extend(store.add_records(seat.id, batch, NOON).saved)

    with pytest.raises(StoreError, match=r"the disk is full, nothing was saved\. Free some space"):
        fill()
    assert len(saved) > 50
    assert [record.id for record in store.records(tasting.id)] == saved
    store._writer.run(lambda db: db.execute("PRAGMA max_page_count = 100000"))
    again = store.add_records(seat.id, [mark(seat.id, code)], NOON)
    assert [record.id for record in store.records(tasting.id)] == [*saved, *again.saved]
    with open_store(path) as reopened:
        assert len(reopened.records(tasting.id)) == len(saved) + 1


def test_the_file_is_set_up_to_survive_a_power_cut(store: Store) -> None:
    pragmas = store._writer.run(
        lambda db: [
            db.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys", "user_version")
        ]
    )
    assert pragmas == ["wal", 2, 1, len(MIGRATIONS)]


def test_a_closed_store_says_so(store: Store) -> None:
    store.close_file()
    with pytest.raises(StoreError, match="the store was closed"):
        add_table(store)
