import shutil
from collections import namedtuple
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.store.damage import DAMAGES, fill, garbage
from tests.store.tables import MINUTE, NOON, add_table

from twobowls.store import Store, open_store
from twobowls.store.backup_files import backup_folder
from twobowls.store.backups import make_backup
from twobowls.store.checkup import Finding, check_clock, check_room, check_up
from twobowls.store.lock import StoreLock
from twobowls.store.wal import wal_path

DAY = 24 * 60 * MINUTE


def found(path: Path, title: str, now_ms: int = NOON) -> Finding:
    return next(each for each in check_up(path, now_ms) if each.title == title)


@pytest.fixture
def served(store: Store, path: Path) -> Path:
    """A store with a backup, as it lies after an evening."""
    fill(store)
    make_backup(path, NOON)
    store.close_file()
    return path


def test_a_good_store_is_found_good(served: Path) -> None:
    findings = check_up(served, NOON + MINUTE)
    assert {each.kind for each in findings} == {"fine"}
    assert findings[0].text == (
        f"{served} is sound: 3 coffees, 1 tasting, 1 seat, 160 records; not in use now"
    )
    titles = ["store", "schema", "journal", "rights", "disk", "backups", "clock"]
    assert [each.title for each in findings] == titles


def test_looking_changes_nothing(served: Path) -> None:
    before = sorted(path.name for path in served.parent.iterdir()), served.read_bytes()
    check_up(served, NOON)
    assert (sorted(path.name for path in served.parent.iterdir()), served.read_bytes()) == before


def test_a_store_in_use_can_be_looked_at(store: Store, path: Path) -> None:
    fill(store)
    with StoreLock(path):
        assert found(path, "store").text.endswith("160 records; in use by a running twobowls")


def test_no_store_yet_is_no_trouble(tmp_path: Path) -> None:
    findings = check_up(tmp_path / "deep" / "a.sqlite3", NOON)
    assert {each.kind for each in findings} == {"fine"}
    assert "it is made at the first start" in findings[0].text
    assert not (tmp_path / "deep").exists()


@pytest.mark.parametrize("damage", DAMAGES, ids=str)
def test_damage_is_found_with_the_way_back(served: Path, damage: str) -> None:
    DAMAGES[damage](served)
    finding = found(served, "store")
    assert finding.kind == "broken"
    assert "is damaged" in finding.text
    assert finding.cure.startswith(f"Run `twobowls restore --store {served}`")


def test_damage_without_a_backup_says_what_is_left(served: Path) -> None:
    DAMAGES["middle page"](served)
    shutil.rmtree(backup_folder(served))
    assert "There is no backup beside it. If you have a copy" in found(served, "store").cure


def test_a_spoilt_log_is_found(store: Store, path: Path) -> None:
    fill(store)
    log = wal_path(path).read_bytes()
    store.close_file()
    wal_path(path).write_bytes(garbage(40) + log[40:])
    assert "is damaged" in found(path, "store").text


def test_a_row_that_makes_no_sense_is_found(store: Store, path: Path) -> None:
    fill(store)
    store._writer.run(lambda db: db.execute("UPDATE host_events SET body = x'7b7d'"))
    assert found(path, "store").kind == "broken"


def test_a_store_that_is_gone_is_found(served: Path) -> None:
    served.unlink()
    finding = found(served, "store")
    assert (finding.kind, finding.cure) == (
        "broken",
        f"Run `twobowls restore --store {served}`",
    )


def test_a_store_that_others_can_open_is_found(served: Path) -> None:
    served.chmod(0o644)
    finding = found(served, "rights")
    assert (finding.kind, finding.cure) == ("look", f"chmod 600 {served}")


def test_a_new_store_is_for_its_owner_alone(served: Path) -> None:
    assert served.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("free", "kind"), [(4_000_000, "broken"), (300_000_000, "look"), (10**12, "fine")]
)
def test_a_disk_that_fills_up_is_found(
    path: Path, monkeypatch: pytest.MonkeyPatch, free: int, kind: str
) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage(10**12, 0, free))
    assert check_room(path).kind == kind


def test_backups_are_looked_at_one_by_one(served: Path) -> None:
    with open_store(served) as store:
        add_table(store)
    second = make_backup(served, NOON)
    assert second is not None
    second.path.write_bytes(garbage(second.size))
    newest, spoilt = (each for each in check_up(served, NOON) if each.title == "backups")
    assert newest.text.startswith("1 sound, the newest of 2026-11-25 09:46 UTC")
    assert spoilt.text == f"{second.path.name} is damaged"


def test_a_late_backup_is_found(served: Path) -> None:
    with open_store(served) as store:
        tasting = add_table(store)
        store._writer.run(
            lambda db: db.execute(
                "UPDATE tastings SET created_ms = ? WHERE id = ?", (NOON + DAY, tasting.id)
            )
        )
    finding = found(served, "backups", NOON + 2 * DAY)
    assert finding.kind == "look"
    assert "but the store has changed since" in finding.text


def test_no_sound_backup_is_serious(served: Path) -> None:
    for each in backup_folder(served).iterdir():
        each.write_bytes(b"spoilt")
    assert [each.text for each in check_up(served, NOON) if each.kind == "broken"] == [
        "none is sound"
    ]


def test_a_clock_that_is_behind_is_found(served: Path) -> None:
    finding = found(served, "clock", NOON - DAY)
    assert finding.kind == "look"
    assert finding.text == (
        "it shows 2026-11-24 09:46 UTC, but the store has something from 2026-11-25 09:46 UTC"
    )
    assert check_clock(served, datetime(1970, 1, 2, tzinfo=UTC)).kind == "broken"
