import socket
from pathlib import Path

import pytest
from tests.store.damage import fill, spoil_middle
from tests.store.tables import NOON

from twobowls.cli import doctor, main
from twobowls.store import open_store
from twobowls.store.backups import make_backup
from twobowls.store.lock import StoreLock


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A good store on a computer that is well."""
    monkeypatch.setattr(doctor, "wall_clock_ms", lambda: NOON)
    monkeypatch.setattr(doctor, "lan_ip", lambda: "192.0.2.7")
    path = tmp_path / "a.sqlite3"
    with open_store(path) as store:
        fill(store)
        make_backup(path, NOON)
    return path


def check_up(path: Path, port: int = 0) -> int:
    return main(["doctor", "--store", str(path), "--port", str(port)])


def test_all_is_well(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check_up(path) == 0
    told = capsys.readouterr().out
    assert told.endswith("All is well.\n")
    assert "phones open http://192.0.2.7:0" in told
    assert all(line.startswith("ok ") for line in told.splitlines()[:-1])


def test_something_wants_a_look(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.chmod(0o644)
    assert check_up(path) == 1
    assert f"-> chmod 600 {path}.\n" in capsys.readouterr().out


def test_something_is_broken(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spoil_middle(path)
    assert check_up(path) == 2
    told = capsys.readouterr().out
    assert told.startswith(f"BROKEN  store     {path} is damaged")
    assert f"-> Run `twobowls restore --store {path}`" in told
    assert told.endswith("the lines marked 'BROKEN' say what to do.\n")


def test_a_port_in_use_by_somebody_else(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert check_up(path, port) == 1
        assert f"try --port {port + 1}" in capsys.readouterr().out
        with StoreLock(path):
            assert check_up(path, port) == 0
    assert "by the twobowls that runs already" in capsys.readouterr().out


def test_no_network(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "lan_ip", lambda: None)
    assert doctor.check_network(8417).kind == "look"
    assert check_up(path) == 1


def test_an_old_sqlite() -> None:
    assert doctor.check_sqlite((3, 36, 0)).kind == "broken"
    assert doctor.check_sqlite((3, 40, 1)).text.endswith("SQLite 3.40.1")
