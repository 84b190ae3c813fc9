"""Talking HTTP to the server as cheaply as Python can: kept-alive lines and event streams.

Only as much of HTTP as our own server speaks (uvicorn writes the names of headers in small
letters); anything else is an error, which is what a benchmark wants.
"""

import asyncio
import importlib
from collections.abc import Callable, Coroutine
from contextlib import suppress
from typing import Any, Self, TypeVar, cast

T = TypeVar("T")

HEAD_END = b"\r\n\r\n"
LENGTH = b"content-length: "
MOST_S = 180.0


class WireError(ConnectionError):
    """The server closed the line, or said what we do not expect of it."""


def run(work: Coroutine[Any, Any, T], most_s: float = MOST_S) -> T:
    """Run a coroutine on the fastest event loop there is, for a bounded time.

    Raises
    ------
    TimeoutError
        It took longer, so the server does not answer any more.
    """

    async def bounded() -> T:
        async with asyncio.timeout(most_s):
            return await work

    factory: Callable[[], asyncio.AbstractEventLoop] = asyncio.new_event_loop
    with suppress(ImportError):  # uvloop is not for Windows
        factory = importlib.import_module("uvloop").new_event_loop
    with asyncio.Runner(loop_factory=factory) as runner:
        return runner.run(bounded())


def request(
    method: str, target: str, address: tuple[str, int], body: bytes | None = None, **headers: str
) -> bytes:
    r"""Return a request as bytes; underscores in names of headers become hyphens.

    Examples
    --------
    >>> request("GET", "/", ("127.0.0.1", 80), Accept="*/*")
    b'GET / HTTP/1.1\r\nHost: 127.0.0.1:80\r\nAccept: */*\r\n\r\n'
    """
    lines = [f"{method} {target} HTTP/1.1", f"Host: {address[0]}:{address[1]}"]
    lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
    if body is not None:
        lines.append(f"Content-Length: {len(body)}")
    return "\r\n".join(lines).encode() + HEAD_END + (body or b"")


class Line(asyncio.Protocol):
    """A kept-alive connection: one request at a time, each with an answer of known length."""

    def __init__(self) -> None:
        self._buffer = b""
        self._transport: asyncio.Transport | None = None
        self._answered: Callable[[int, bytes, bytes], None] | None = None
        self._closing = False

    @classmethod
    async def open(cls, address: tuple[str, int]) -> Self:
        """Connect."""
        _, line = await asyncio.get_running_loop().create_connection(cls, *address)
        return line

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Note the transport (called by asyncio)."""
        self._transport = cast("asyncio.Transport", transport)  # uvloop's is one but by its base

    def send(self, data: bytes, answered: Callable[[int, bytes, bytes], None]) -> None:
        """Send a request; call ``answered(status, head, body)`` when the answer is there.

        ``status`` is 0 when the connection was lost.
        """
        if self._transport is None or self._transport.is_closing():
            answered(0, b"", b"")
            return
        self._answered = answered
        self._transport.write(data)

    async def ask(self, data: bytes) -> tuple[int, bytes, bytes]:
        """Send a request; return (status, head, body)."""
        future: asyncio.Future[tuple[int, bytes, bytes]]
        future = asyncio.get_running_loop().create_future()

        def answered(status: int, head: bytes, body: bytes) -> None:
            if not future.done():
                future.set_result((status, head, body))

        self.send(data, answered)
        return await future

    def data_received(self, data: bytes) -> None:
        """Take what came (called by asyncio)."""
        buffer = self._buffer = self._buffer + data if self._buffer else data
        end = buffer.find(HEAD_END)
        if end < 0:
            return
        head = buffer[:end]
        length = _length(head)
        stop = end + len(HEAD_END) + length
        if len(buffer) < stop:
            return
        self._buffer = buffer[stop:]
        answered, self._answered = self._answered, None
        if answered is not None:
            answered(int(head[9:12]), head, buffer[stop - length : stop])

    def connection_lost(self, error: Exception | None) -> None:
        """Tell whoever waits (called by asyncio)."""
        answered, self._answered = self._answered, None
        if answered is not None:
            answered(0, b"", repr(error).encode())

    def close(self) -> None:
        """Hang up."""
        if self._transport is not None:
            self._transport.close()


def _length(head: bytes) -> int:
    start = head.find(LENGTH)
    if start < 0:
        return 0
    end = head.find(b"\r", start)
    return int(head[start + len(LENGTH) : end if end >= 0 else None])


class Stream(asyncio.Protocol):
    """An open stream of server-sent events; ``heard(data)`` is called with each one's data."""

    def __init__(self, ask: bytes, heard: Callable[[bytes], None]) -> None:
        self._ask = ask
        self._heard = heard
        self._buffer = b""
        self._begun = False
        self._transport: asyncio.Transport | None = None
        self.lost = False
        self.ready: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    @classmethod
    async def open(
        cls, address: tuple[str, int], ask: bytes, heard: Callable[[bytes], None]
    ) -> Self:
        """Connect, and wait for the head of the answer."""
        loop = asyncio.get_running_loop()
        _, stream = await loop.create_connection(lambda: cls(ask, heard), *address)
        await stream.ready
        return stream

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Ask for the stream (called by asyncio)."""
        self._transport = cast("asyncio.Transport", transport)  # uvloop's is one but by its base
        self._transport.write(self._ask)

    def data_received(self, data: bytes) -> None:
        """Take what came (called by asyncio)."""
        self._buffer += data
        if not self._begun and not self._begin():
            return
        for text in self._chunks():
            if text.startswith(b"event: beat"):
                continue  # it only says that the line is alive
            for line in text.split(b"\n"):
                if line.startswith(b"data: "):
                    self._heard(line[6:])

    def connection_lost(self, error: Exception | None) -> None:
        """Note that the stream has ended (called by asyncio)."""
        self.lost = True
        if not self.ready.done():
            self.ready.set_exception(WireError(f"the stream ended ({error})"))

    def close(self) -> None:
        """Hang up."""
        if self._transport is not None:
            self._transport.close()

    def _begin(self) -> bool:
        end = self._buffer.find(HEAD_END)
        if end < 0:
            return False
        if not self._buffer.startswith(b"HTTP/1.1 200"):
            self.ready.set_exception(WireError(self._buffer[:200].decode("latin-1")))
            self.close()
            return False
        self._buffer = self._buffer[end + len(HEAD_END) :]
        self._begun = True
        self.ready.set_result(None)
        return True

    def _chunks(self) -> list[bytes]:
        """Take the whole chunks (of the chunked coding) from the buffer."""
        found = []
        while (end := self._buffer.find(b"\r\n")) >= 0:
            stop = end + 2 + int(self._buffer[:end], 16)
            if len(self._buffer) < stop + 2:
                break
            found.append(self._buffer[end + 2 : stop])
            self._buffer = self._buffer[stop + 2 :]
        return found
