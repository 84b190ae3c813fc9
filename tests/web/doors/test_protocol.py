"""What one connection may hold up, tried with bare sockets."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tests.store.tables import add_table
from tests.web.running import Running, running

from twobowls.web.doors.connections import Connections
from twobowls.web.doors.protocol import MOST_HEAD_BYTES, Patience
from twobowls.web.security_headers import SECURITY_HEADERS

SHORT = Patience(head_s=0.4, body_s=0.4, reading_s=0.4, idle_s=1)
SOON_S = 8.0  # a busy machine is late; without a limit the line stays open for good


@pytest.fixture(scope="module")
def hasty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server with little patience."""
    with running(tmp_path_factory.mktemp("hasty") / "store.sqlite3", patience=SHORT) as served:
        yield served


@contextmanager
def line(server: Running, first: bytes = b"") -> Iterator[socket.socket]:
    host, port = server.address.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=SOON_S) as opened:
        opened.sendall(first)
        yield opened


def told(opened: socket.socket) -> bytes:
    """Return what comes until the server hangs up; a line that it keeps open fails the test."""
    parts = []
    try:
        while part := opened.recv(65_536):
            parts.append(part)
    except ConnectionResetError:
        pass
    return b"".join(parts)


def head(*headers: str, path: str = "/join", method: str = "GET") -> bytes:
    lines = [f"{method} {path} HTTP/1.1", "host: 127.0.0.1", *headers, "", ""]
    return "\r\n".join(lines).encode()


def padding(length: int) -> str:
    return "x-padding: " + "x" * length


def test_a_head_of_ordinary_length_is_read(one_server: Running) -> None:
    with line(one_server, head(padding(MOST_HEAD_BYTES - 500), "connection: close")) as opened:
        assert told(opened).startswith(b"HTTP/1.1 200 ")


@pytest.mark.parametrize(
    "long",
    [
        head(padding(MOST_HEAD_BYTES)),
        head(*[f"x-{number}: y" for number in range(4000)]),
        head(path="/join?code=" + "x" * MOST_HEAD_BYTES),
        head(padding(MOST_HEAD_BYTES))[:-4],
    ],
    ids=["one header", "many headers", "address", "without an end"],
)
def test_a_head_that_is_too_long_is_refused(one_server: Running, long: bytes) -> None:
    with line(one_server, long) as opened:
        answer = told(opened)
    assert answer.startswith(b"HTTP/1.1 431 ")
    for name, value in SECURITY_HEADERS:
        assert name + b": " + value in answer


def test_a_head_without_end_is_cut_before_it_costs_anything(one_server: Running) -> None:
    began = time.process_time()
    sent = 0
    with line(one_server, head(padding(0))[:-4]) as opened:
        try:
            for _ in range(300):
                opened.sendall(b"x" * 1_000_000)
                sent += 1
        except OSError:
            pass
    assert sent < 30
    assert time.process_time() - began < 3


def test_requests_on_one_line_are_counted_apart(one_server: Running) -> None:
    some = head(padding(20_000))
    with line(one_server, some + some + head(padding(20_000), "connection: close")) as opened:
        assert told(opened).count(b"HTTP/1.1 200 ") == 3


def test_a_line_on_which_nothing_comes_is_dropped(hasty: Running) -> None:
    with line(hasty) as opened:
        assert told(opened) == b""


def test_a_head_that_trickles_in_is_dropped(hasty: Running) -> None:
    with line(hasty, b"GET /join?code=") as opened:
        ended = threading.Event()
        drip = threading.Thread(target=dripping, args=(opened, ended))
        drip.start()
        answer = told(opened)
        ended.set()
        drip.join()
    assert answer.startswith(b"HTTP/1.1 408 ") or answer == b""  # or reset, with a drop under way


def test_a_body_that_trickles_in_is_dropped(hasty: Running) -> None:
    form = "content-type: application/x-www-form-urlencoded"
    begun = head("content-length: 1000", form, method="POST") + b"code="
    with line(hasty, begun) as opened:
        ended = threading.Event()
        drip = threading.Thread(target=dripping, args=(opened, ended))
        drip.start()
        answer = told(opened)
        ended.set()
        drip.join()
    assert answer.startswith(b"HTTP/1.1 408 ") or answer == b""


def dripping(opened: socket.socket, ended: threading.Event) -> None:
    try:
        while not ended.wait(0.05):
            opened.sendall(b"x")
    except OSError:
        return


def test_a_line_is_dropped_after_its_answer_though_line_ends_go_on_coming(hasty: Running) -> None:
    with line(hasty, head()) as opened:
        time.sleep(0.2)
        opened.sendall(b"\r\n")  # belongs to no request, and yet stopped uvicorn's own clock
        assert told(opened).startswith(b"HTTP/1.1 200 ")


def test_a_stream_stays_for_as_long_as_it_is_read(hasty: Running) -> None:
    tasting = add_table(hasty.store)
    _seat, key = hasty.store.join(tasting.id, "Ana", hasty.clock())
    with line(hasty, head(path=f"/api/seats/{key}/stream")) as opened:
        come = b""
        while b"event: change" not in come:
            come += opened.recv(65_536)
        time.sleep(2.5)  # far longer than any of the limits
        hasty.store.open(tasting.id, hasty.clock())
        assert b'"state":"open"' in opened.recv(65_536)


def test_who_does_not_read_an_answer_is_dropped(hasty: Running) -> None:
    many = head(path="/api/openapi.json") * 2000
    with line(hasty) as opened:
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        with pytest.raises(ConnectionError):  # and no timeout of ours
            opened.sendall(many * 100)


def test_one_address_cannot_take_all_lines(tmp_path: Path) -> None:
    counted = Connections(each=3, together=10)
    with running(tmp_path / "store.sqlite3", counted=counted) as server:
        held = [line(server) for _ in range(3)]
        for each in held:
            each.__enter__()
        wait_for(lambda: counted._open.total() == 3)
        with line(server) as fourth:
            answer = told(fourth)
        assert answer.startswith(b"HTTP/1.1 503 ")
        assert b"Too many connections are open from here." in answer
        with elsewhere(server) as other:
            assert told(other).startswith(b"HTTP/1.1 200 ")
        for each in held:
            each.__exit__(None, None, None)
        wait_for(lambda: not counted._open)
        with line(server, head("connection: close")) as again:
            assert told(again).startswith(b"HTTP/1.1 200 ")


@contextmanager
def elsewhere(server: Running) -> Iterator[socket.socket]:
    """Call from another address of this computer."""
    host, port = server.address.removeprefix("http://").split(":")
    try:
        opened = socket.create_connection((host, int(port)), SOON_S, ("127.0.0.2", 0))
    except OSError:  # pragma: no cover - macOS has one such address
        pytest.skip("this computer has one address of its own only")
    with opened:
        opened.sendall(head("connection: close"))
        yield opened


def wait_for(condition: object) -> None:
    assert callable(condition)
    end = time.monotonic() + SOON_S
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.01)
