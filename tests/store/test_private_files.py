"""What a store leaves on the disk is its owner's alone, from its first instant on."""

import os
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.store.damage import DAMAGES, fill, send
from tests.store.tables import MINUTE, NOON

from twobowls.cli import main
from twobowls.errors import StoreError
from twobowls.store import open_store, salvage
from twobowls.store.backup_files import backup_folder
from twobowls.store.backups import make_backup
from twobowls.store.lock import InUseError, StoreLock, is_in_use
from twobowls.store.private_files import make_private
from twobowls.store.restoring import choose, restore

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no such rights on Windows")


@pytest.fixture(autouse=True)
def careless() -> Iterator[None]:
    """Let everything that is made be open to everybody, if nobody minds it."""
    before = os.umask(0)
    yield
    os.umask(before)


def open_to_others(folder: Path) -> list[str]:
    """List what others may use below a folder."""
    there = [folder, *folder.rglob("*")]
    return [each.name for each in there if stat.S_IMODE(each.lstat().st_mode) & 0o077]


def test_everything_that_serving_makes_is_its_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "data" / "store.sqlite3"
    with StoreLock(path), open_store(path) as store:
        fill(store, marks=16)
        make_backup(path, NOON)
        assert (path.parent / "store.sqlite3-wal").exists()
        assert open_to_others(tmp_path / "deep") == []


def test_what_an_older_twobowls_left_open_is_closed(tmp_path: Path) -> None:
    path = tmp_path / "data" / "store.sqlite3"
    with open_store(path) as store:
        fill(store, marks=16)
        make_backup(path, NOON)
    for each in (path, backup_folder(path), *backup_folder(path).iterdir()):
        each.chmod(0o755 if each.is_dir() else 0o644)
    with open_store(path):
        assert open_to_others(path.parent) == []


def test_a_folder_that_was_there_keeps_its_rights(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    open_store(tmp_path / "store.sqlite3").close_file()
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o755


def test_what_restoring_makes_is_its_owners_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "data" / "store.sqlite3"
    with open_store(path) as store:
        tasting_id, _old = fill(store, marks=400)
        make_backup(path, NOON)
        send(store, tasting_id, store.tasting(tasting_id).seats[0].id, 160)
    DAMAGES["header"](path)
    path.chmod(0o644)
    made: list[str] = []

    def watched(file: Path) -> None:
        make_private(file)
        made.append(file.name)
        assert open_to_others(file) == []

    monkeypatch.setattr(salvage, "make_private", watched)
    done = restore(path, choose(path, None)[0], NOON + MINUTE)
    assert set(made) == {"store.sqlite3.salvage"}
    assert done.salvaged
    assert open_to_others(path.parent) == []


def test_the_doctor_makes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["doctor", "--store", str(tmp_path / "deep" / "store.sqlite3"), "--port", "0"])
    assert "is not there yet; it is made at the first start" in capsys.readouterr().out
    assert list(tmp_path.iterdir()) == []


def test_a_lock_that_is_a_link_is_not_followed(tmp_path: Path) -> None:
    path, other = tmp_path / "store.sqlite3", tmp_path / "others.txt"
    other.write_text("not to be touched")
    (tmp_path / "store.sqlite3.lock").symlink_to(other)
    with pytest.raises(StoreError, match=r"its lock, store\.sqlite3\.lock, is a link"):
        StoreLock(path).__enter__()
    assert other.read_text() == "not to be touched"


@pytest.fixture
def linked(tmp_path: Path) -> tuple[Path, Path]:
    """A store, and a link to it from another folder."""
    path, link = tmp_path / "data" / "store.sqlite3", tmp_path / "desk" / "tastings.sqlite3"
    link.parent.mkdir()
    link.symlink_to(path)
    return path, link


def test_a_store_reached_by_a_link_has_one_lock(linked: tuple[Path, Path]) -> None:
    path, link = linked
    path.parent.mkdir()
    with StoreLock(path):
        assert is_in_use(link)
        with pytest.raises(InUseError):
            StoreLock(link).__enter__()
    with StoreLock(link), pytest.raises(InUseError):
        StoreLock(path).__enter__()
    assert list(link.parent.iterdir()) == [link]


def test_a_copy_reached_by_a_link_is_taken_with_its_log(
    linked: tuple[Path, Path], tmp_path: Path
) -> None:
    path, link = linked
    store = open_store(link)
    tasting_id, old = fill(store, marks=80)
    kept = {end: path.with_name(path.name + end).read_bytes() for end in ("", "-wal")}
    store.close_file()
    for end, content in kept.items():  # as after a kill: the newest marks are in the log alone
        path.with_name(path.name + end).write_bytes(content)
    other = tmp_path / "another.sqlite3"
    restore(other, choose(other, str(link))[0], NOON + MINUTE)
    with open_store(other) as again:
        assert [each.id for each in again.records(tasting_id)] == old


def test_a_damaged_store_reached_by_a_link_comes_back_with_its_newest_marks(
    linked: tuple[Path, Path],
) -> None:
    path, link = linked
    with open_store(link) as store:
        tasting_id, old = fill(store, marks=400)
        make_backup(store.path, NOON)
        newer = send(store, tasting_id, store.tasting(tasting_id).seats[0].id, 160)
    DAMAGES["header"](path)
    assert restore(link, choose(link, None)[0], NOON + MINUTE).salvaged == len(newer) // 8
    assert link.is_symlink()
    with open_store(link) as again:
        assert [each.id for each in again.records(tasting_id)] == [*old, *newer]


def test_links_that_lead_in_a_circle_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a"
    path.symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(path)
    assert main(["restore", "--store", str(path)]) == 2
    assert "links lead round in a circle there" in capsys.readouterr().err
