"""Another program moves, deletes or replaces the store's file while it is served."""

import shutil
from pathlib import Path

from tests.faults.laptop import running
from tests.faults.table import Table, check_kept, set_table

from twobowls.store.wal import wal_path

PROBLEM = "the file was moved, replaced or deleted while twobowls uses it, nothing was saved"


def evening(folder: Path) -> Table:
    folder.mkdir()
    return set_table(folder / "store.sqlite3", 2)


def test_a_moved_file_takes_no_marks_until_it_is_back(tmp_path: Path) -> None:
    table = evening(tmp_path / "tastings")
    moved = tmp_path / "old stuff.sqlite3"
    with running(table.store) as laptop:
        laptop.start()
        with laptop.guest() as browser, laptop.host() as host:
            for phone in table.phones:
                phone.mark()
                assert phone.send(browser).status_code == 200
            table.store.rename(moved)
            for phone in table.phones:
                phone.mark()
                refused = phone.send(browser)
                assert refused.status_code == 503
                assert f"On the laptop, {PROBLEM}. Your marks stay" in refused.text
            called = host.post(f"/tastings/{table.tasting_id}/round", data={"round": "hot"})
            assert called.status_code == 503
            assert f"{table.store}: {PROBLEM}. Put the same file back" in called.text
            assert f"twobowls: {table.store}: {PROBLEM}" in laptop.told
            assert "Saving works again" not in laptop.told
            assert not table.store.exists()
            moved.rename(table.store)
            for phone in table.phones:
                assert phone.send(browser).status_code == 200
        assert laptop.stop() == 0
    check_kept(table, table.found())
    assert len(table.found()) == 4


def test_a_file_that_an_older_copy_has_replaced_takes_no_marks(tmp_path: Path) -> None:
    table = evening(tmp_path / "tastings")
    older = tmp_path / "older.sqlite3"
    shutil.copy(table.store, older)
    with running(table.store) as laptop:
        laptop.start()
        with laptop.guest() as browser:
            older.replace(table.store)
            for phone in table.phones:
                phone.mark()
                assert phone.send(browser).status_code == 503
                assert len(phone.waiting) == 1
        laptop.stop()


def test_a_log_that_was_deleted_takes_no_marks_and_the_backup_has_the_others(
    tmp_path: Path,
) -> None:
    table = evening(tmp_path / "tastings")
    with running(table.store) as laptop:
        laptop.start()
        with laptop.guest() as browser:
            for phone in table.phones:
                phone.mark()
                assert phone.send(browser).status_code == 200
            wal_path(table.store).unlink()
            phone.mark()
            refused = phone.send(browser)
            assert refused.status_code == 503
            assert "the file's log (-wal) was moved, replaced or deleted" in refused.text
        laptop.stop()
        assert laptop.run("restore", "--yes", "--store", str(table.store)).returncode == 0
        laptop.start()
        with laptop.guest() as browser:
            for phone in table.phones:
                assert phone.bring_back(browser).status_code == 200
        laptop.stop()
    check_kept(table, table.found())
    assert len(table.found()) == 3


def test_a_deleted_file_is_missed_at_the_next_start_and_comes_back(tmp_path: Path) -> None:
    table = evening(tmp_path / "tastings")
    with running(table.store) as laptop:
        laptop.start()
        with laptop.guest() as browser:
            for phone in table.phones:
                phone.mark()
                phone.send(browser)
            table.store.unlink()
            phone.mark()
            assert phone.send(browser).status_code == 503
        laptop.stop()
        refused = laptop.run("serve", "--store", str(table.store), "--port", "0")
        assert refused.returncode == 2
        assert (
            f"{table.store}: the file is gone, but there are backups of it. Run `twobowls restore"
            in (refused.stderr)
        )
        table.store.touch()
        refused = laptop.run("serve", "--store", str(table.store), "--port", "0")
        assert refused.returncode == 2
        assert f"{table.store}: the file is empty, but there are backups of it." in refused.stderr
        assert laptop.run("restore", "--store", str(table.store)).returncode == 0
        laptop.start()
        with laptop.guest() as browser:
            for phone in table.phones:
                assert phone.bring_back(browser).status_code == 200
        laptop.stop()
    check_kept(table, table.found())
    assert len(table.found()) == 3
