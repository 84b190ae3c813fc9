from pathlib import Path

import pytest
from tests.store.damage import fill, send, spoil_header
from tests.store.tables import NOON

from twobowls.cli import main
from twobowls.store import open_store
from twobowls.store.backup_files import backup_folder, list_backups
from twobowls.store.backups import make_backup


@pytest.fixture
def evening(tmp_path: Path) -> tuple[Path, str, list[str]]:
    """A closed store with one backup and sixteen marks more: path, tasting, all marks."""
    path = tmp_path / "a.sqlite3"
    with open_store(path) as store:
        tasting_id, saved = fill(store)
        make_backup(path, NOON)
        saved += send(store, tasting_id, store.tasting(tasting_id).seats[0].id, 16)
    return path, tasting_id, saved


def test_one_command_brings_a_damaged_store_back(
    evening: tuple[Path, str, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    path, tasting_id, saved = evening
    spoil_header(path)
    assert main(["serve", "--store", str(path), "--port", "0"]) == 2
    assert f"Run `twobowls restore --store {path}`" in capsys.readouterr().err
    assert main(["restore", "--store", str(path)]) == 0
    told = capsys.readouterr().out.splitlines()
    name = list_backups(backup_folder(path))[0].path.name
    assert told[0] == (
        f"{path} is back, from {name}: 3 coffees, 1 tasting, 1 seat, 22 batches of records."
    )
    assert told[1] == "2 rows newer than that were read from the damaged store and added."
    assert told[2].startswith(f"The file that was there is kept as {path}.aside-")
    assert Path(told[2].rpartition(" ")[2]).exists()
    with open_store(path) as store:
        assert [record.id for record in store.records(tasting_id)] == saved


def test_a_sound_store_is_kept_unless_it_is_meant(
    evening: tuple[Path, str, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    path, tasting_id, saved = evening
    assert main(["restore", "--store", str(path)]) == 2
    told = capsys.readouterr().err
    assert f"{path} is sound; nothing was done" in told
    assert "add --yes" in told
    assert main(["restore", "1", "--store", str(path), "--yes"]) == 0
    with open_store(path) as store:
        assert [record.id for record in store.records(tasting_id)] == saved[:-16]


def test_backups_are_listed_and_looked_at(
    evening: tuple[Path, str, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    path, _tasting_id, _saved = evening
    second = make_backup(path, NOON)
    assert second is not None
    second.path.write_bytes(b"spoilt")
    assert main(["restore", "--store", str(path), "--list"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        f"Backups in {backup_folder(path)}:",
        "       2  2026-11-25 09:46 UTC  damaged, not to be used",
        "       1  2026-11-25 09:46 UTC  3 coffees, 1 tasting, 1 seat, 20 batches of records",
    ]


def test_without_a_backup_it_says_what_else_could_help(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.sqlite3"
    assert main(["restore", "--store", str(path)]) == 2
    assert capsys.readouterr().err == (
        f"twobowls: backup: there is no backup in {path}.backups. If you have a copy of the store "
        "elsewhere, name that file: `twobowls restore FILE`.\n"
    )
    assert main(["restore", "--store", str(path), "--list"]) == 0
    assert capsys.readouterr().out == f"{path} has no backups yet.\n"
    assert not list(tmp_path.iterdir())
