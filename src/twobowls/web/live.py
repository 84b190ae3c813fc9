"""Telling live pages what changed. One message is made for everybody who gets the same.

A listener holds only the newest message of each topic: who comes back late, or reads slowly,
gets the state as it is now and never a backlog.
"""

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator
from itertools import islice

from starlette.types import Receive, Scope, Send

HEARTBEAT_S = 15.0
HEARTBEAT = b"event: beat\ndata: 1\n\n"  # no comment: a page must hear that it is not cut off
# How many streams are written to before requests have their turn again. With all 300 at once the
# first marks of a round waited 20 ms before anybody read them, and were on the disk no sooner than
# the last (`benchmarks/load`, 10 ms a commit: 99 of 100 marks within 46 to 60 ms, now 35 to 51).
AT_A_TIME = 5
RETRY = b"retry: 2000\n\n"
STREAM_HEADERS = [
    (b"content-type", b"text/event-stream; charset=utf-8"),
    (b"cache-control", b"no-store"),
    (b"x-accel-buffering", b"no"),
]


def message(event: str, data: bytes, number: int | None = None) -> bytes:
    r"""Return one server-sent event; ``data`` holds no line break.

    Examples
    --------
    >>> message("change", b"{}", 3)
    b'id: 3\nevent: change\ndata: {}\n\n'
    """
    head = b"" if number is None else b"id: %d\n" % number
    return head + b"event: " + event.encode() + b"\ndata: " + data + b"\n\n"


class Listener:
    """One open stream: the newest message of each kind that it has not been sent yet."""

    __slots__ = ("_ready", "_waiting", "ended")

    def __init__(self) -> None:
        self._waiting: dict[str, bytes] = {}
        self._ready = asyncio.Event()
        self.ended = False

    def put(self, kind: str, text: bytes) -> None:
        """Leave a message, to be sent after `wake`; an older one of its kind is forgotten."""
        self._waiting[kind] = text

    def wake(self) -> None:
        """Let the stream send what it has been left, if it has not done so by now."""
        if self._waiting:
            self._ready.set()

    def end(self) -> None:
        """Close the stream."""
        self.ended = True
        self._ready.set()

    async def next(self) -> bytes:
        """Wait for messages, or for the time of a heartbeat; return what to send."""
        try:
            async with asyncio.timeout(HEARTBEAT_S):
                await self._ready.wait()
        except TimeoutError:
            return HEARTBEAT
        self._ready.clear()
        text = b"".join(self._waiting.values())
        self._waiting.clear()
        return text


class Live:
    """Who listens to what. Lives in one event loop; `call` brings news from other threads."""

    def __init__(self) -> None:
        self._listeners: dict[str, set[Listener]] = {}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._closed = False
        self._on_listening: list[Callable[[str], None]] = []

    def start(self) -> None:
        """Note the event loop that streams run in."""
        self._loop = asyncio.get_running_loop()

    def stop(self) -> None:
        """End every stream, so that the server can stop."""
        self._closed = True
        for listeners in self._listeners.values():
            for listener in listeners:
                listener.end()

    def call(self, what: Callable[[], None]) -> None:
        """Run something in the event loop, from whatever thread."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(what)

    def call_later(self, delay_s: float, what: Callable[[], None]) -> None:
        """Run something in the event loop after a while, from whatever thread."""
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(loop.call_later, delay_s, what)

    def has_listeners(self, topic: str) -> bool:
        """Say whether anybody listens."""
        return bool(self._listeners.get(topic))

    def listeners(self, topic: str) -> int:
        """Return how many streams listen to a topic."""
        return len(self._listeners.get(topic, ()))

    def on_listening(self, tell: Callable[[str], None]) -> None:
        """Call ``tell(topic)`` in the event loop when a stream begins or ends to listen to it."""
        self._on_listening.append(tell)

    def topics(self, prefix: str) -> list[str]:
        """Return the topics of a kind that somebody listens to."""
        return [topic for topic in self._listeners if topic.startswith(prefix)]

    def count(self) -> int:
        """Return how many streams are open."""
        return len(set().union(*self._listeners.values()))

    def send(self, topic: str, kind: str, text: bytes) -> None:
        """Leave a message with everybody who listens to a topic; from the event loop only."""
        listeners = list(self._listeners.get(topic, ()))
        for listener in listeners:
            listener.put(kind, text)
        self._wake(iter(listeners))

    def _wake(self, rest: Iterator[Listener]) -> None:
        """Wake a few, and the others once the requests that came meanwhile had their turn."""
        few = list(islice(rest, AT_A_TIME))
        for listener in few:
            listener.wake()
        if len(few) == AT_A_TIME:
            asyncio.get_running_loop().call_soon(self._wake, rest)

    async def messages(
        self, topic: str, first: Callable[[], bytes], *more: str
    ) -> AsyncIterator[bytes]:
        """Yield what a new stream on its topics has to send, what ``first`` returns to begin with.

        ``first`` is called once the stream is listened to, so that nothing which happens
        meanwhile is missed by both.
        """
        listener, topics = Listener(), (topic, *more)
        for each in topics:
            self._listeners.setdefault(each, set()).add(listener)
        self._tell_listening(topics)
        try:
            yield RETRY + first()
            while not (listener.ended or self._closed):
                yield await listener.next()
        finally:
            for each in topics:
                self._leave(each, listener)
            self._tell_listening(topics)

    def _leave(self, topic: str, listener: Listener) -> None:
        listeners = self._listeners[topic]
        listeners.discard(listener)
        if not listeners:
            del self._listeners[topic]

    def _tell_listening(self, topics: tuple[str, ...]) -> None:
        for tell in self._on_listening:
            for topic in topics:
                tell(topic)


class EventStream:
    """An ASGI response that sends messages until they end or the browser leaves."""

    def __init__(self, messages: AsyncIterator[bytes]) -> None:
        self._messages = messages

    async def __call__(self, _scope: Scope, receive: Receive, send: Send) -> None:
        """Send until there is nothing more, or nobody to send it to."""
        sending = asyncio.ensure_future(self._send_all(send))
        leaving = asyncio.ensure_future(_left(receive))
        try:
            await asyncio.wait({sending, leaving}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in (sending, leaving):
                task.cancel()
            await asyncio.gather(sending, leaving, return_exceptions=True)

    async def _send_all(self, send: Send) -> None:
        head = {"type": "http.response.start", "status": 200, "headers": STREAM_HEADERS}
        await send(head)
        async for text in self._messages:
            await send({"type": "http.response.body", "body": text, "more_body": True})
        await send({"type": "http.response.body", "body": b"", "more_body": False})


async def _left(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
