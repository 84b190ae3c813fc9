import shutil
import sqlite3
from pathlib import Path

import pytest
from tests.store.damage import fill, garbage
from tests.store.tables import NOON

from twobowls.errors import StoreError
from twobowls.store import Store, open_store
from twobowls.store.backups import make_backup
from twobowls.store.wal import WalState, look_at_wal, wal_path

FRAME = 24 + 4096


@pytest.fixture
def crashed(store: Store, path: Path) -> Path:
    """A copy of a store as a killed process leaves it: the last commits are in the log only."""
    fill(store, marks=80)
    copy = path.with_name("crashed.sqlite3")
    shutil.copy(path, copy)
    shutil.copy(wal_path(path), wal_path(copy))
    return copy


def overwrite(path: Path, at: int, content: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(at)
        file.write(content)


def batches(path: Path) -> int:
    with open_store(path) as store:
        return store.log_length(store.tastings()[0].id)


def test_a_store_that_was_closed_has_no_log(store: Store, path: Path) -> None:
    fill(store)
    store.close_file()
    assert look_at_wal(path) == WalState(0, 0)


def test_after_a_crash_every_commit_can_be_read(crashed: Path) -> None:
    state = look_at_wal(crashed)
    assert state.readable >= 10  # ten batches, and what the host did before
    assert state.lost == 0
    assert batches(crashed) == 10


def test_what_stands_behind_a_spoilt_page_is_noticed(crashed: Path) -> None:
    whole = look_at_wal(crashed).readable
    frames = (wal_path(crashed).stat().st_size - 32) // FRAME
    overwrite(wal_path(crashed), 32 + (frames // 2) * FRAME + 200, garbage(64))
    state = look_at_wal(crashed)
    assert 0 < state.readable < whole
    assert state.readable + state.lost == whole
    with pytest.raises(StoreError, match="the file is damaged"):
        open_store(crashed)


@pytest.mark.parametrize("at", [0, 8, 16, 24], ids=["magic", "page size", "salt", "checksum"])
def test_a_spoilt_header_is_noticed(crashed: Path, at: int) -> None:
    overwrite(wal_path(crashed), at, garbage(4))
    assert look_at_wal(crashed) == WalState(0, 1)


def test_zeros_and_stubs_are_noticed(crashed: Path) -> None:
    wal_path(crashed).write_bytes(bytes(wal_path(crashed).stat().st_size))
    assert look_at_wal(crashed) == WalState(0, 1)
    wal_path(crashed).write_bytes(b"short")
    assert look_at_wal(crashed) == WalState(0, 1)
    wal_path(crashed).write_bytes(b"")
    assert look_at_wal(crashed) == WalState(0, 0)


def test_a_half_written_commit_is_no_damage(crashed: Path) -> None:
    before = look_at_wal(crashed).readable
    size = wal_path(crashed).stat().st_size
    with wal_path(crashed).open("r+b") as file:
        file.truncate(size - 100)
    assert look_at_wal(crashed) == WalState(before - 1, 0)
    assert batches(crashed) == 9


def test_frames_of_an_earlier_log_are_no_damage(store: Store, path: Path) -> None:
    fill(store, marks=160)
    other = sqlite3.connect(path)
    other.execute("PRAGMA wal_checkpoint(RESTART)")
    other.close()
    store.setting("after", lambda: "the log began anew, over the old one")
    state = look_at_wal(path)
    assert state == WalState(1, 0)
    assert wal_path(path).stat().st_size > 20 * FRAME


def test_a_backup_is_offered_when_there_is_one(store: Store, path: Path) -> None:
    fill(store, marks=80)
    make_backup(path, NOON)
    log = wal_path(path).read_bytes()
    store.close_file()
    wal_path(path).write_bytes(b"?" + log[1:])
    with pytest.raises(StoreError, match=r"damaged\. Run `twobowls restore --store .*sqlite3`"):
        open_store(path)
