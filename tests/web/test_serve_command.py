import socket
from pathlib import Path

import httpx
import pytest
from tests.browser.real_laptop import running

from twobowls.cli import main
from twobowls.cli.serve import listening, phone_address, tell
from twobowls.errors import InputError
from twobowls.web import network


def test_a_port_in_use_is_said_with_the_cure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        status = main(["serve", "--store", str(tmp_path / "a.sqlite3"), "--port", str(port)])
    assert status == 2
    assert capsys.readouterr().err == (
        f"twobowls: --port: {port} is in use, perhaps by another twobowls. "
        f"Stop the other one, or try --port {port + 1}.\n"
    )


def test_a_store_that_cannot_be_opened_is_said_with_the_cure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.sqlite3"
    path.write_bytes(b"not a store, but long enough to be looked at " * 100)
    assert main(["serve", "--store", str(path), "--port", "0"]) == 2
    assert "the file is damaged, or is not a twobowls store" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("host", "port", "text"),
    [
        ("127.0.0.1", 70_000, "--port: 70000 is not a port. Give a number from 1024 to 65535."),
        ("203.0.113.9", 0, "--host: cannot listen on 203.0.113.9"),
        ("no.such.host.invalid", 0, "--host: no.such.host.invalid is not an address of this"),
    ],
)
def test_an_address_that_is_not_ours(host: str, port: int, text: str) -> None:
    with pytest.raises(InputError) as refused:
        listening(host, port)
    assert str(refused.value).startswith(text)


def test_phones_get_an_address_only_when_they_can_reach_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("twobowls.cli.serve.lan_ip", lambda: "192.0.2.7")
    assert phone_address("127.0.0.1", 8417) is None
    assert phone_address("0.0.0.0", 8417) == "http://192.0.2.7:8417"
    assert phone_address("192.0.2.9", 8417) == "http://192.0.2.9:8417"


def test_serving_the_network_is_warned_of(capsys: pytest.CaptureFixture[str]) -> None:
    tell(Path("a.sqlite3"), "http://127.0.0.1:8417/host?key=k", "http://192.0.2.7:8417")
    told = capsys.readouterr().out
    assert "Phones, open this: http://192.0.2.7:8417" in told
    assert "a connection that is not encrypted" in told
    tell(Path("a.sqlite3"), "http://127.0.0.1:8417/host?key=k", None)
    assert "start it with --lan" in capsys.readouterr().out


def test_this_computer_knows_its_names() -> None:
    names = network.own_names()
    assert any(name.endswith(".local") for name in names)
    assert network.lan_ip() is None or not str(network.lan_ip()).startswith("127.")


def test_a_new_key_shuts_the_old_one_out(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite3"
    addresses = []
    for options in ((), (), ("--new-key",)):
        with running(path, *options) as laptop:
            addresses.append(laptop.host_url.partition("?key=")[2])
            old, now = (f"{laptop.base}/host?key={key}" for key in (addresses[0], addresses[-1]))
            assert httpx.get(now, timeout=60, trust_env=False).status_code == 303
            assert httpx.get(old, timeout=60, trust_env=False).status_code == (
                403 if options else 303
            )
    first, second, third = addresses
    assert first == second != third
