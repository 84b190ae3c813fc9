"""A real server on a port of its own, and browsers that talk to it."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import uvicorn

from twobowls.store import Store, open_store
from twobowls.web.app import create_app
from twobowls.web.doors.connections import Connections
from twobowls.web.doors.host_sessions import make_session
from twobowls.web.doors.protocol import Patience
from twobowls.web.limits import Limits
from twobowls.web.server import LiveServer, server_config
from twobowls.web.settings import WebSettings, wall_clock_ms
from twobowls.web.shield import Shield

NOON = 1_795_600_000_000
HOLD_S = 0.3  # shorter than in earnest, and yet told apart from no hold
HOST_KEY = "the-key-of-the-test-host"


def host_cookie(key: str = HOST_KEY) -> str:
    """Return what a browser of the host holds, by the test's clock and by a real one."""
    return make_session(key, max(NOON, wall_clock_ms()))


class Clock:
    """The host's time, in the hands of the test."""

    def __init__(self, now_ms: int = NOON) -> None:
        self.now_ms = now_ms

    def __call__(self) -> int:
        return self.now_ms


@dataclass(frozen=True, slots=True)
class Running:
    """A server that runs: its address, its store and its clock."""

    address: str
    store: Store
    clock: Clock
    shield: Shield

    def renew(self) -> None:
        """Forget what an earlier test did to the clock and the limits."""
        self.clock.now_ms = NOON
        self.shield.app.state.limits = Limits(hold_s=HOLD_S)

    def guest(self) -> httpx.Client:
        """Return a browser that has not signed in."""
        return httpx.Client(base_url=self.address, timeout=60, trust_env=False)

    def host(self) -> httpx.Client:
        """Return the host's browser."""
        client = self.guest()
        client.cookies.set("twobowls_host", host_cookie())
        return client


@contextmanager
def running(
    path: Path,
    phone_address: str | None = None,
    *,
    counted: Connections | None = None,
    patience: Patience | None = None,
) -> Iterator[Running]:
    """Serve a store until the block ends."""
    clock = Clock()
    settings = WebSettings(
        host_key=HOST_KEY,
        phone_address=phone_address,
        names=frozenset({"table.example"}),
        now_ms=clock,
    )
    with open_store(path) as store:
        shield = create_app(store, settings)
        config = server_config(shield, port=0, counted=counted, patience=patience)
        server = LiveServer(config, shield.app.state.live, None)
        thread = threading.Thread(target=server.run)
        thread.start()
        try:
            yield Running(f"http://127.0.0.1:{_port(server)}", store, clock, shield)
        finally:
            server.should_exit = True
            thread.join(timeout=60)


def _port(server: uvicorn.Server) -> int:
    waiting = threading.Event()
    for _ in range(6000):
        if server.started:
            port: int = server.servers[0].sockets[0].getsockname()[1]
            return port
        waiting.wait(0.01)
    raise TimeoutError("the server did not start")
