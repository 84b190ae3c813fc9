"""A spoilt file: refused with the way back, and that way walked, command by command."""

import re
import shlex
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from tests.faults.laptop import Laptop, running
from tests.faults.table import Table, check_kept, set_table
from tests.store.damage import garbage, spoil_middle

from twobowls.store.wal import wal_path

SEATS = 3


@dataclass(frozen=True)
class Evening:
    """A store whose laptop was stopped once, which makes a backup, and killed later."""

    table: Table
    backed_up: int  # records of each phone

    def copy(self, folder: Path) -> Table:
        """Return the same evening on another disk."""
        shutil.copytree(self.table.store.parent, folder)
        phones = [replace(each, saved=list(each.saved)) for each in self.table.phones]
        return replace(self.table, store=folder / self.table.store.name, phones=phones)


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    table = set_table(tmp_path_factory.mktemp("evening") / "the store.sqlite3", SEATS)
    with running(table.store) as laptop:
        laptop.start()
        taste(table, laptop)
        laptop.stop()
        backed_up = len(table.phones[0].saved)
        laptop.start()
        taste(table, laptop)
        laptop.kill()
    return Evening(table, backed_up)


def taste(table: Table, laptop: Laptop) -> None:
    with laptop.guest() as browser:
        for _ in range(15):
            for phone in table.phones:
                for _ in range(6):
                    phone.mark()
                assert phone.send(browser).status_code == 200


def spoil_log(path: Path) -> None:
    """Write nonsense into the middle of the write-ahead log that the kill has left."""
    size = wal_path(path).stat().st_size
    with wal_path(path).open("r+b") as file:
        file.seek(size // 2)
        file.write(garbage(200))


def lose(path: Path) -> None:
    """Lose the file altogether."""
    for each in (path, wal_path(path)):
        each.unlink()


@pytest.mark.parametrize("damage", [spoil_middle, spoil_log, lose])
def test_the_way_back_is_the_one_that_the_refusal_names(
    evening: Evening, tmp_path: Path, damage: Callable[[Path], None]
) -> None:
    table = evening.copy(tmp_path / "disk")
    damage(table.store)
    with running(table.store) as laptop:
        refused = laptop.run("serve", "--store", str(table.store), "--port", "0")
        doctor = laptop.run("doctor", "--store", str(table.store), "--port", "0")
        assert refused.returncode == doctor.returncode == 2
        assert refused.stderr.count("\n") == 1
        for told in (refused.stderr, doctor.stdout):
            (command,) = re.findall(r"`twobowls (restore [^`]+)`", told)
            assert shlex.split(command) == ["restore", "--store", str(table.store)]
        restored = laptop.run(*shlex.split(command))
        assert (restored.returncode, restored.stderr) == (0, "")
        assert restored.stdout.startswith(f"{table.store} is back, from ")
        laptop.start()
        with laptop.guest() as browser:
            for phone in table.phones:
                held = phone.on_the_laptop(browser)
                assert len(held) == len(set(held))
                assert {each["id"] for each in phone.saved[: evening.backed_up]} <= set(held)
                phone.waiting = [each for each in phone.saved if each["id"] not in held]
                assert phone.send(browser).status_code == 200  # see tests/browser: it notices
        assert laptop.stop() == 0
    found = table.found()
    check_kept(table, found)
    assert len(found) == SEATS * 2 * evening.backed_up


def test_a_sound_store_is_not_left_for_a_backup_by_mistake(
    evening: Evening, tmp_path: Path
) -> None:
    table = evening.copy(tmp_path / "disk")
    before = table.store.read_bytes()
    with running(table.store) as laptop:
        refused = laptop.run("restore", "--store", str(table.store))
        assert refused.returncode == 2
        assert "is sound; nothing was done. To go back to 0000" in refused.stderr
        assert table.store.read_bytes() == before
        laptop.start()
        in_use = laptop.run("restore", "--store", str(table.store), "--yes")
        assert in_use.returncode == 2
        assert f"another twobowls is using it (process {laptop.process.pid})" in in_use.stderr
        laptop.stop()
