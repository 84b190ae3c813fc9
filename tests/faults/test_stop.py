"""Asked to stop in the middle of everything: answers are finished, and the store is put away."""

import signal
import time
from pathlib import Path

import httpx
import pytest
from tests.faults.laptop import running
from tests.faults.table import Tasters, check_kept, set_table

from twobowls.store.backup_files import backup_folder, list_backups
from twobowls.store.backups import verify_backup
from twobowls.store.wal import wal_path

SEATS = 12


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_stop_under_load_loses_nothing_and_closes_the_store(
    tmp_path: Path, how: signal.Signals
) -> None:
    table = set_table(tmp_path / "store.sqlite3", SEATS)
    with running(table.store) as laptop:
        laptop.start()
        with laptop.guest() as browser:  # a live stream must not keep it from stopping
            with browser.stream("GET", f"/api/seats/{table.phones[0].key}/stream") as stream:
                parts = stream.iter_raw()
                next(parts)
                tasters = Tasters(laptop.address, table.phones)
                while tasters.saved() < 200:
                    time.sleep(0.005)
                assert laptop.stop(how) == 0
                tasters.finish()
                for _ in parts:  # it comes to its end, not to a broken line
                    pass
            with pytest.raises(httpx.ConnectError):
                browser.get("/join")
        assert laptop.told == ""
    assert not wal_path(table.store).exists()
    newest = list_backups(backup_folder(table.store))[0]
    found = table.found()
    assert verify_backup(newest).of("batches") >= len(found) // 3
    assert tasters.odd == []
    check_kept(table, found)
