import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from tests.store.damage import DAMAGES, PAGE, fill, garbage, send, spoil_middle
from tests.store.tables import MINUTE, NOON, add_table

from twobowls.errors import InputError, StoreError
from twobowls.store import Store, open_store
from twobowls.store.backup_files import list_backups
from twobowls.store.backups import make_backup
from twobowls.store.checkup import check_store
from twobowls.store.lock import InUseError, StoreLock
from twobowls.store.restoring import Restored, choose, is_sound, restore
from twobowls.store.wal import wal_path


def go_back(path: Path, name: str | None = None) -> Restored:
    return restore(path, choose(path, name)[0], NOON + MINUTE)


def ids(path: Path, tasting_id: str) -> list[str]:
    with open_store(path) as store:
        return [record.id for record in store.records(tasting_id)]


@pytest.fixture
def evening(store: Store, path: Path) -> tuple[str, list[str], list[str]]:
    """A store with a backup and more marks since: the tasting, the old and the newer marks."""
    tasting_id, old = fill(store, marks=400)
    make_backup(path, NOON)
    newer = send(store, tasting_id, store.tasting(tasting_id).seats[0].id, 160)
    store.close_file()
    return tasting_id, old, newer


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_a_damaged_store_is_refused_and_comes_back(
    evening: tuple[str, list[str], list[str]], path: Path, damage: Callable[[Path], None]
) -> None:
    tasting_id, old, newer = evening
    damage(path)
    spoilt = path.read_bytes()
    with pytest.raises(StoreError, match=r"the file is damaged\. Run `twobowls restore --store"):
        open_store(path)
    assert path.read_bytes() == spoilt
    done = go_back(path)
    assert done.aside is not None
    assert done.aside.read_bytes() == spoilt
    found = ids(path, tasting_id)
    assert found[: len(old)] == old
    assert set(found[len(old) :]) <= set(newer)
    assert len(found) == len(set(found))
    assert not list(path.parent.glob("*.salvage*")) + list(path.parent.glob("*.restoring"))


def test_marks_newer_than_the_backup_are_read_from_around_the_damage(
    evening: tuple[str, list[str], list[str]], path: Path
) -> None:
    tasting_id, old, newer = evening
    spoil_middle(path)
    done = go_back(path)
    found = ids(path, tasting_id)[len(old) :]
    assert done.salvaged >= 10
    assert len(found) > len(newer) * 0.5
    assert found == [each for each in newer if each in set(found)]


def test_a_lost_header_costs_nothing(evening: tuple[str, list[str], list[str]], path: Path) -> None:
    tasting_id, old, newer = evening
    DAMAGES["header"](path)
    assert go_back(path).salvaged == len(newer) // 8
    assert ids(path, tasting_id) == [*old, *newer]


def test_what_the_host_did_after_the_backup_is_taken_over(store: Store, path: Path) -> None:
    tasting_id, _saved = fill(store, marks=400)
    make_backup(path, NOON)
    late, _key = store.join(tasting_id, "Ben", NOON)
    kept = send(store, tasting_id, late.id, 8)
    store.change_coffee(replace(store.coffees()[0], roaster="Pell Lane"))
    store.close(tasting_id, NOON + MINUTE)
    before = store.tasting(tasting_id)
    store.close_file()
    with path.open("r+b") as file:
        file.write(garbage(100))
    go_back(path)
    with open_store(path) as again:
        assert again.tasting(tasting_id) == before
        assert again.coffees()[0].roaster == "Pell Lane"
        assert [record.id for record in again.records(tasting_id)][-8:] == kept


def test_a_log_with_a_spoilt_page_gives_what_comes_before(
    store: Store, path: Path, tmp_path: Path
) -> None:
    tasting_id, old = fill(store, marks=400)
    make_backup(path, NOON)
    newer = send(store, tasting_id, store.tasting(tasting_id).seats[0].id, 160)
    crashed = tmp_path / "crashed" / path.name
    shutil.copytree(path.parent, crashed.parent)
    size = wal_path(crashed).stat().st_size
    with wal_path(crashed).open("r+b") as file:
        file.seek(size - 12 * (PAGE + 24) + 300)
        file.write(garbage(50))
    with pytest.raises(StoreError, match="the file is damaged"):
        open_store(crashed)
    done = go_back(crashed)
    found = ids(crashed, tasting_id)
    assert len(old) < len(found) < len(old) + len(newer)
    assert found == [*old, *newer][: len(found)]
    assert done.aside is not None
    assert wal_path(done.aside).stat().st_size == size


def test_a_store_that_is_gone_comes_back(
    evening: tuple[str, list[str], list[str]], path: Path
) -> None:
    tasting_id, old, _newer = evening
    path.unlink()
    with pytest.raises(StoreError, match=r"the file is gone, but there are backups of it\. Run"):
        open_store(path)
    assert not path.exists()
    assert go_back(path).aside is None
    assert ids(path, tasting_id) == old


def test_a_spoilt_backup_is_passed_over(
    evening: tuple[str, list[str], list[str]], path: Path
) -> None:
    tasting_id, old, _newer = evening
    second = make_backup(path, NOON + MINUTE)
    assert second is not None
    second.path.write_bytes(garbage(second.size))
    assert choose(path, None)[0].name.startswith("000001_")
    with pytest.raises(StoreError, match="damaged"):
        choose(path, "2")
    go_back(path)
    assert ids(path, tasting_id) == old  # the store was sound: going back is what was asked for


def test_a_backup_can_be_named_by_number_or_path(
    evening: tuple[str, list[str], list[str]], path: Path, tmp_path: Path
) -> None:
    tasting_id, old, newer = evening
    make_backup(path, NOON + MINUTE)
    assert ids(path, tasting_id) == [*old, *newer]
    go_back(path, "1")
    assert ids(path, tasting_id) == old
    elsewhere = tmp_path / "stick.sqlite3"
    shutil.copy(list_backups(path.with_name(path.name + ".backups"))[0].path, elsewhere)
    assert go_back(path, str(elsewhere)).source == elsewhere
    assert ids(path, tasting_id) == [*old, *newer]
    assert len(list(path.parent.glob("*.aside-*"))) >= 2


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("9", "backup: there is no number 9. See `twobowls restore --list`."),
        ("nowhere.sqlite3", "backup: there is no file nowhere.sqlite3. See"),
    ],
)
def test_a_backup_that_is_not_there(path: Path, name: str, text: str) -> None:
    with pytest.raises(InputError) as refused:
        choose(path, name)
    assert str(refused.value).startswith(text)


def test_without_a_sound_backup_nothing_is_touched(store: Store, path: Path) -> None:
    with pytest.raises(InputError, match=r"backup: there is no backup in .*\.backups\. If you"):
        choose(path, None)
    made = make_backup(path, NOON)
    assert made is not None
    made.path.write_bytes(b"spoilt")
    with pytest.raises(InputError, match=r"none of the 1 backups is sound in"):
        choose(path, None)


def test_another_programs_file_is_no_backup(path: Path, tmp_path: Path) -> None:
    other = tmp_path / "notes.txt"
    other.write_text("Dear diary. " * 100)
    with pytest.raises(StoreError, match="damaged, or is not a twobowls store"):
        choose(path, str(other))


def test_a_store_in_use_is_not_replaced(
    evening: tuple[str, list[str], list[str]], path: Path
) -> None:
    before = path.read_bytes()
    with StoreLock(path), pytest.raises(InUseError):
        go_back(path)
    assert path.read_bytes() == before


def test_nothing_is_taken_from_another_store(
    evening: tuple[str, list[str], list[str]], path: Path, tmp_path: Path
) -> None:
    tasting_id, old, _newer = evening
    with open_store(tmp_path / "other.sqlite3") as other:
        other.setting("host_key", lambda: "somebody else's")
        fill(other, marks=800)
        add_table(other)
    shutil.copy(tmp_path / "other.sqlite3", path)
    spoil_middle(path)
    assert go_back(path).salvaged == 0
    assert ids(path, tasting_id) == old


def test_soundness_is_seen(evening: tuple[str, list[str], list[str]], path: Path) -> None:
    assert is_sound(path)
    spoil_middle(path)
    assert not is_sound(path)
    path.unlink()
    assert not is_sound(path)


def test_a_restored_store_has_nothing_for_the_doctor_to_look_at(
    evening: tuple[str, list[str], list[str]], path: Path
) -> None:
    spoil_middle(path)
    go_back(path)
    assert {each.kind for each in check_store(path)} == {"fine"}
    assert {each.name for each in path.parent.iterdir() if "aside" not in each.name} == {
        path.name,
        f"{path.name}.backups",
        f"{path.name}.lock",
    }
