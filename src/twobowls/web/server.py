"""Running the application: one process, one event loop."""

import socket
import ssl
import sys
from collections.abc import Callable
from functools import partial
from typing import Any, cast

import uvicorn
from starlette.types import ASGIApp

from twobowls.store import Store
from twobowls.web.app import create_app
from twobowls.web.doors.connections import Connections
from twobowls.web.doors.open_files import raise_limit, room_for_connections
from twobowls.web.doors.protocol import GuardedProtocol, Patience
from twobowls.web.live import Live
from twobowls.web.settings import WebSettings, wall_clock_ms

GRACE_S = 3
# How long one thread may keep the interpreter while another waits. The writer asks for it four or
# five times a commit, and waits for the event loop each time: with Python's 5 ms a burst of 300
# marks took twice as long on a disk that needs 10 ms a commit (`benchmarks/load`).
TURN_S = 0.001
# A phone has one stream and up to six more for a moment. Behind a second router all phones may
# share an address: then 300 streams and as many requests still find room.
MOST_OF_ONE_ADDRESS = 600


class LiveServer(uvicorn.Server):
    """A server that ends its live streams when it is told to stop; they would never end else."""

    def __init__(
        self, config: uvicorn.Config, live: Live, when_ready: Callable[[], None] | None
    ) -> None:
        super().__init__(config)
        self._live = live
        self._when_ready = when_ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to serve, then say so."""
        await super().startup(sockets)
        if self.started and self._when_ready is not None:
            self._when_ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then the rest."""
        self._live.stop()
        await super().shutdown(sockets)


def room(one_address: bool = False) -> Connections:
    """Return how many connections may be open.

    Parameters
    ----------
    one_address : bool
        All guests come through one address, which may then have all the room there is.
    """
    together = room_for_connections()
    each = together if one_address else min(MOST_OF_ONE_ADDRESS, together // 2)
    return Connections(each, together)


def server_config(
    app: ASGIApp,
    port: int = 0,
    tls: ssl.SSLContext | None = None,
    *,
    counted: Connections | None = None,
    patience: Patience | None = None,
) -> uvicorn.Config:
    """Return how we run uvicorn; ``port`` counts only where no bound socket is given."""
    patience = patience or Patience()
    protocol = partial(GuardedProtocol, counted=counted or room(), patience=patience)
    return uvicorn.Config(
        app,
        http=cast("Any", protocol),  # uvicorn calls it; it need not be a class
        timeout_keep_alive=patience.idle_s,
        port=port,
        log_level="warning",
        access_log=False,
        server_header=False,
        date_header=False,
        proxy_headers=False,  # nobody stands in front of us; a forged header must not count
        ws="none",
        timeout_graceful_shutdown=GRACE_S,
        backlog=2048,
        ssl_context_factory=None if tls is None else lambda _config, _default: tls,
    )


def serve(
    store: Store,
    listener: socket.socket,
    *,
    host_key: str,
    phone_address: str | None = None,
    names: frozenset[str] = frozenset(),
    tls: ssl.SSLContext | None = None,
    now_ms: Callable[[], int] = wall_clock_ms,
    one_address: bool = False,
    ticket: str | None = None,
    when_ready: Callable[[], None] | None = None,
) -> None:
    """Serve a store on a bound socket until the process is told to stop.

    ``one_address`` says that all guests come through one address (a second router), so that what
    one address may do is no measure of what one guest does; ``ticket`` signs the host in once.
    """
    settings = WebSettings(
        host_key=host_key,
        phone_address=phone_address,
        names=names,
        secure=tls is not None,
        now_ms=now_ms,
        one_address=one_address,
        ticket=ticket,
    )
    sys.setswitchinterval(TURN_S)
    raise_limit()
    shield = create_app(store, settings)
    config = server_config(shield, tls=tls, counted=room(one_address))
    LiveServer(config, shield.app.state.live, when_ready).run([listener])
