"""A store that may not be written to: said in plain words at the start, and in the middle.

Root may write whatever the modes say; the launcher takes that right away from it.
"""

import os
import signal
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.faults.laptop import Laptop, running
from tests.faults.table import Table, check_kept, set_table

from twobowls.store.wal import WalState, look_at_wal

FORBIDDEN = "the file may not be written to"


def protect_file(table: Table) -> None:
    table.store.chmod(0o400)


def protect_folder(table: Table) -> None:
    for each in table.store.parent.iterdir():
        if each.is_file():
            each.chmod(0o400)
    table.store.parent.chmod(0o500)


@pytest.mark.parametrize(
    ("protect", "text"),
    [
        (
            protect_file,
            f"{FORBIDDEN}. Give yourself the right to write it and its folder, or name another "
            "file with --store.",
        ),
        (
            protect_folder,
            "its folder may not be written to (Permission denied). Give yourself the right to "
            "write there, or name another file with --store.",
        ),
    ],
    ids=["file", "folder"],
)
def test_a_protected_store_is_not_started(
    tmp_path: Path, protect: Callable[[Table], None], text: str
) -> None:
    folder = tmp_path / "tastings"
    folder.mkdir()
    table = set_table(folder / "store.sqlite3", 1)
    before = table.store.read_bytes()
    protect(table)
    laptop = Laptop(table.store, "--plain-user")
    try:
        refused = laptop.run("serve", "--store", str(table.store), "--port", "0")
        doctor = laptop.run("doctor", "--store", str(table.store), "--port", "0")
    finally:
        folder.chmod(0o700)
    assert (refused.returncode, refused.stderr) == (2, f"twobowls: {table.store}: {text}\n")
    assert refused.stdout == ""
    assert doctor.returncode == 2
    assert "may not be written to\n" in doctor.stdout
    assert "-> Give yourself the right to write it, or name another file" in doctor.stdout
    assert table.store.read_bytes() == before
    assert look_at_wal(table.store) == WalState(0, 0)


def test_a_store_that_is_protected_while_it_is_served(tmp_path: Path) -> None:
    table = set_table(tmp_path / "store.sqlite3", 3)
    path = f"/tastings/{table.tasting_id}"
    with running(table.store) as laptop:
        laptop.start()
        with laptop.guest() as browser, laptop.host() as host:
            for phone in table.phones:
                phone.mark()
                assert phone.send(browser).status_code == 200
            os.kill(laptop.process.pid, signal.SIGUSR1)
            wait_until(lambda: host.post(f"{path}/round", data={"round": "hot"}).is_error)
            for phone in table.phones:
                phone.mark()
                refused = phone.send(browser)
                assert refused.status_code == 503
                assert f"On the laptop, {FORBIDDEN}. Your marks stay" in refused.text
                assert str(table.store) not in refused.text
                assert len(phone.on_the_laptop(browser)) == 1
            assert laptop.bench(table.tasting_id)["trouble"].startswith(
                f"{table.store}: {FORBIDDEN}"
            )
            assert f"twobowls: {table.store}: {FORBIDDEN}. Give yourself" in laptop.told
            os.kill(laptop.process.pid, signal.SIGUSR2)
            wait_until(lambda: host.post(f"{path}/round", data={"round": "cool"}).is_success)
            for phone in table.phones:
                assert phone.send(browser).status_code == 200
                assert phone.waiting == []
            assert laptop.bench(table.tasting_id)["trouble"] == ""
        assert laptop.stop() == 0
    check_kept(table, table.found())
    assert len(table.found()) == 6


def wait_until(true: Callable[[], bool], at_most_s: float = 60) -> None:
    give_up = time.monotonic() + at_most_s
    while not true():
        assert time.monotonic() < give_up
        time.sleep(0.02)
