"""How much of the server one connection may hold: bytes of a head, seconds of waiting.

It sits below the application, where uvicorn has no such limits with its fast parser: a head that
never ends, a body that trickles in, a connection on which nothing comes.
"""

import asyncio
from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

import msgspec
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from twobowls.web.doors.connections import Connections
from twobowls.web.security_headers import SECURITY_HEADERS

MOST_HEAD_BYTES = 32_000
TOO_LONG_A_HEAD = (
    b"431 Request Header Fields Too Large",
    "The address and the headers of a request may have 32 kB together.",
)
TOO_SLOW = (b"408 Request Timeout", "The request took too long to arrive. Send it again.")
TOO_MANY = (
    b"503 Service Unavailable",
    "Too many connections are open from here. Close some pages and try again.",
)


@dataclass(frozen=True, slots=True)
class Patience:
    """How long a caller may take, in seconds.

    ``head_s`` from the beginning of a connection, or of a request on it, to the end of the head;
    ``body_s`` from there to the end of the body; ``reading_s`` until an answer that the network
    holds up is read on; ``idle_s`` from an answer to the next request.
    """

    head_s: float = 15.0
    body_s: float = 60.0
    reading_s: float = 60.0
    idle_s: int = 5


class _Stage(Enum):
    """Where a connection is with the request that it sends."""

    BETWEEN = auto()
    HEAD = auto()
    BODY = auto()


class GuardedProtocol(HttpToolsProtocol):
    """uvicorn's protocol with an end to its patience.

    Parameters
    ----------
    counted : Connections
        Shared by all connections of a server.
    patience : Patience
        How long to wait for what.
    """

    def __init__(self, *, counted: Connections, patience: Patience, **given: Any) -> None:
        super().__init__(**given)
        self._counted = counted
        self._patience = patience
        self._address: str | None = None
        self._refused = False
        self._stage = _Stage.BETWEEN
        self._head_bytes = 0  # of the lines of this head that are whole
        self._unread_bytes = 0  # of this head, whole or not
        self._ended_one = False
        self._deadline: asyncio.TimerHandle | None = None
        self._waits_for = _Stage.BETWEEN
        self._reader: asyncio.TimerHandle | None = None

    # -- the connection ----------------------------------------------------------------------

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Let a connection in, if its address has not too many."""
        super().connection_made(transport)
        address = self.client[0] if self.client else ""
        if self._counted.enter(address):
            self._address = address
            self._wait_for(_Stage.HEAD)
        else:
            self._refuse(*TOO_MANY)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection."""
        self._wait_for(None)
        self._stop_waiting_for_reader()
        if self._address is not None:
            self._counted.leave(self._address)
            self._address = None
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on, unless this caller was refused."""
        if self._refused:
            return
        self._ended_one = False
        super().data_received(data)
        if self._refused or self.transport.is_closing():
            return
        if self._stage is _Stage.HEAD and not self._ended_one:
            self._unread_bytes += len(data)
            if self._unread_bytes > MOST_HEAD_BYTES:
                self._refuse(*TOO_LONG_A_HEAD)
                return
        self._wait_for(self._awaited())

    def _awaited(self) -> _Stage | None:
        """Return what has to arrive before long; None while it is our turn, or uvicorn waits."""
        if self._stage is not _Stage.BETWEEN:
            return self._stage
        # uvicorn stops waiting for the next request at any byte, also at those that begin none
        nobody_waits = not self._is_answering() and self.timeout_keep_alive_task is None
        return _Stage.HEAD if nobody_waits else None

    def _is_answering(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _wait_for(self, awaited: _Stage | None) -> None:
        """Let the time run for what is awaited, if it does not run already."""
        if self._deadline is not None:
            if awaited is self._waits_for:
                return
            self._deadline.cancel()
            self._deadline = None
        if awaited is not None:
            patience = self._patience
            seconds = patience.head_s if awaited is _Stage.HEAD else patience.body_s
            self._waits_for = awaited
            self._deadline = self.loop.call_later(seconds, self._out_of_patience)

    def _out_of_patience(self) -> None:
        self._deadline = None
        answered = self._stage is _Stage.BODY and not self._is_answering()
        if self._stage is _Stage.BETWEEN or answered:
            self.transport.close()
        else:
            self._refuse(*TOO_SLOW)

    # -- the parser --------------------------------------------------------------------------

    def on_message_begin(self) -> None:
        """Begin a head."""
        self._stage = _Stage.HEAD
        self._head_bytes = self._unread_bytes = 0
        super().on_message_begin()

    def on_url(self, url: bytes) -> None:
        """Count the address."""
        self._head_bytes += len(url)
        super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Count a header, with its colon, its space and the end of its line."""
        self._head_bytes += len(name) + len(value) + 4
        super().on_header(name, value)

    def on_headers_complete(self) -> None:
        """Hand the request on, if its head is short enough."""
        self._stage = _Stage.BODY
        if self._head_bytes > MOST_HEAD_BYTES:
            self._refuse(*TOO_LONG_A_HEAD)
        elif not self._refused:
            super().on_headers_complete()

    def on_body(self, body: bytes) -> None:
        """Hand on a piece of the body."""
        if not self._refused:
            super().on_body(body)

    def on_message_complete(self) -> None:
        """End a request."""
        self._stage = _Stage.BETWEEN
        self._ended_one = True
        if not self._refused:
            super().on_message_complete()

    # -- the other direction -----------------------------------------------------------------

    def pause_writing(self) -> None:
        """Wait for a reader, but not for ever."""
        super().pause_writing()
        if self._reader is None:
            self._reader = self.loop.call_later(self._patience.reading_s, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on with a reader that reads on."""
        self._stop_waiting_for_reader()
        super().resume_writing()

    def _stop_waiting_for_reader(self) -> None:
        if self._reader is not None:
            self._reader.cancel()
            self._reader = None

    def send_400_response(self, msg: str) -> None:
        """Answer what is no HTTP at all, as guarded as everything else."""
        self._refuse(b"400 Bad Request", msg)

    def _refuse(self, status: bytes, text: str) -> None:
        """Answer by ourselves, then hang up; a request under way hears that its caller left."""
        self._refused = True
        self._wait_for(None)
        if self.transport.is_closing():
            return
        if self.cycle is not None and self.cycle.response_started and self._is_answering():
            self.transport.close()  # nothing may be put into the middle of another answer
            return
        body = msgspec.json.encode({"error": {"field": "", "message": text}})
        headers = [
            (b"content-type", b"application/json"),
            (b"content-length", str(len(body)).encode()),
            (b"connection", b"close"),
            *SECURITY_HEADERS,
        ]
        lines = [b"HTTP/1.1 " + status, *(name + b": " + value for name, value in headers)]
        self.transport.write(b"\r\n".join(lines) + b"\r\n\r\n" + body)
        self.transport.close()
