"""Who abuses: callers at addresses of their own on this computer, with bare lines and requests."""

import http.client
import itertools
import json
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from benchmarks.load.serving import Served
from benchmarks.load.table import Table

MOST_S = 90.0
_numbers = itertools.count(2)
_counting = threading.Lock()


@dataclass(frozen=True, slots=True)
class Finding:
    """What became of one promise: whether it held, and the figure that says so."""

    held: bool
    figure: str


@dataclass(frozen=True, slots=True)
class Target:
    """The server, its open table, and a tasting that is over."""

    served: Served
    table: Table
    over_id: str
    session: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back, and how long it took."""

    status: int
    body: bytes
    headers: dict[str, str]
    took_s: float

    def json(self) -> Any:
        """Return the body as JSON."""
        return json.loads(self.body)


class Caller:
    """Somebody at an address of their own (Linux gives all of 127.0.0.0/8; others one)."""

    def __init__(self, target: Target) -> None:
        self.target = target
        with _counting:
            number = next(_numbers)
        self._source = _own_address(f"127.0.0.{number}")

    def line(self, timeout_s: float = MOST_S) -> socket.socket:
        """Open a connection and send nothing."""
        return socket.create_connection(self.target.served.address, timeout_s, self._source)

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> Answer:
        """Send one request on a connection of its own."""
        began = time.perf_counter()
        host, port = self.target.served.address
        line = http.client.HTTPConnection(host, port, MOST_S, self._source)
        try:
            named = {name.replace("_", "-"): value for name, value in headers.items()}
            line.request(method, path, body, {"connection": "close", **named})
            answer = line.getresponse()
            text = answer.read()
            told = {name.lower(): value for name, value in answer.getheaders()}
        finally:
            line.close()
        return Answer(answer.status, text, told, time.perf_counter() - began)

    def form(self, path: str, **fields: str) -> Answer:
        """Send a form."""
        kind = "application/x-www-form-urlencoded"
        return self.ask("POST", path, urlencode(fields).encode(), content_type=kind)

    def join(self, nickname: str, code: str | None = None) -> Answer:
        """Ask for a seat."""
        code = self.target.table.join_code if code is None else code
        return self.form("/join", code=code, nickname=nickname)

    def seat(self, nickname: str) -> str:
        """Take a seat; return its key."""
        return self.join(nickname).headers["location"].rpartition("/")[2]


def _own_address(address: str) -> tuple[str, int] | None:
    with socket.socket() as probe:
        try:
            probe.bind((address, 0))
        except OSError:
            return None
    return (address, 0)


def until_closed(line: socket.socket, drip: Callable[[], None] | None = None) -> float:
    """Wait until the server hangs up, sending a little every second; return the seconds."""
    began = time.monotonic()
    line.settimeout(1.0)
    while time.monotonic() - began < MOST_S:
        try:
            if not line.recv(65_536):
                break
        except TimeoutError:
            if drip is not None:
                try:
                    drip()
                except OSError:
                    break
        except OSError:
            break
    return time.monotonic() - began
