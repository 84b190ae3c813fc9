"""Phones at the table, and the host's bench: what they send, and what they see when."""

import asyncio
import secrets
import time
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from urllib.parse import quote

import msgspec

from benchmarks.load.flood import JSON, decode_answer
from benchmarks.load.serving import Served
from benchmarks.load.table import SENSATIONS, MarkKey, Table
from benchmarks.load.wire import Line, Stream, WireError, request
from twobowls.web.doors.host_sessions import make_session
from twobowls.web.settings import wall_clock_ms

FORM = "application/x-www-form-urlencoded"
RESEND_EVERY = 20  # a phone that missed the answer sends the same batch again


class _SeatPart(msgspec.Struct):
    number: int


class _State(msgspec.Struct):
    seat: _SeatPart


class _Change(msgspec.Struct):
    round: str | None


class _BenchSeat(msgspec.Struct):
    number: int
    marked: dict[str, int]


class _BenchChange(msgspec.Struct):
    seats: list[_BenchSeat]


_state = msgspec.json.Decoder(_State).decode
_change = msgspec.json.Decoder(_Change).decode
_bench = msgspec.json.Decoder(_BenchChange).decode


@dataclass(slots=True)
class Log:
    """What all phones and the bench have seen; times in seconds."""

    sent: set[MarkKey] = field(default_factory=set)
    acknowledged: set[MarkKey] = field(default_factory=set)
    waits_s: list[float] = field(default_factory=list)
    burst_waits_s: list[float] = field(default_factory=list)
    bench_s: list[float] = field(default_factory=list)
    called_s: list[float] = field(default_factory=list)
    resent: int = 0
    errors: list[str] = field(default_factory=list)
    call_started: float = 0.0
    # for each seat and round: when the marks were made that the bench has not shown yet
    unseen: dict[tuple[int, str], deque[float]] = field(default_factory=lambda: defaultdict(deque))
    shown: dict[tuple[int, str], int] = field(default_factory=lambda: defaultdict(int))

    def forget_times(self) -> None:
        """Begin to measure anew; what was sent and acknowledged stays known."""
        for times in (self.waits_s, self.burst_waits_s, self.bench_s, self.called_s):
            times.clear()

    def show(self, data: bytes) -> None:
        """Take what the bench's stream shows."""
        now = time.perf_counter()
        for seat in _bench(data).seats:
            for round_key, count in seat.marked.items():
                place = (seat.number, round_key)
                for _ in range(count - self.shown[place]):
                    if self.unseen[place]:
                        self.bench_s.append(now - self.unseen[place].popleft())
                self.shown[place] = max(count, self.shown[place])


@dataclass(frozen=True, slots=True)
class _Made:
    mark: MarkKey
    at: float
    burst: bool


class Phone:
    """One seat: its line for records, its stream, its outbox."""

    def __init__(self, served: Served, table: Table, log: Log, key: str, number: int) -> None:
        self.number = number
        self._served = served
        self._table = table
        self._log = log
        self._key = key
        self._round: str | None = None
        self._places = 0
        self._outbox: list[_Made] = []
        self._on_the_way: list[_Made] = []
        self._batches = 0
        self._again = False
        self._timer: asyncio.TimerHandle | None = None
        self._line: Line | None = None
        self._stream: Stream | None = None

    async def connect(self, line: Line) -> None:
        """Open the stream; ``line`` is for the records."""
        self._line = line
        ask = request(
            "GET",
            f"/api/seats/{self._key}/stream",
            self._served.address,
            Accept="text/event-stream",
        )
        self._stream = await Stream.open(self._served.address, ask, self._hear)

    @property
    def stream_lost(self) -> bool:
        """Whether the live stream has ended."""
        return self._stream is None or self._stream.lost

    @property
    def busy(self) -> bool:
        """Whether a mark is not confirmed yet."""
        return bool(self._outbox or self._on_the_way)

    def start(self, after_s: float) -> None:
        """Make a mark each second from now on, the first one after a while."""
        loop = asyncio.get_running_loop()
        self._timer = loop.call_later(after_s, self._tick, loop.time() + after_s)

    def stop(self) -> None:
        """Make no more marks."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def hang_up(self) -> None:
        """Leave."""
        for each in (self._line, self._stream):
            if each is not None:
                each.close()

    def _tick(self, due: float) -> None:
        loop = asyncio.get_running_loop()
        self._timer = loop.call_at(due + 1.0, self._tick, due + 1.0)
        self._mark(burst=False)

    def _hear(self, data: bytes) -> None:
        """Take an event; a new round is marked at once, by everybody."""
        called = _change(data).round
        if called == self._round:
            return
        self._round, self._places = called, 0
        self._log.called_s.append(time.perf_counter() - self._log.call_started)
        if self._timer is not None:
            self._mark(burst=True)

    def _mark(self, *, burst: bool) -> None:
        most = len(self._table.bowls) * len(SENSATIONS)
        if self._round is None or self._places == most:
            return
        bowl = self._table.bowls[self._places % len(self._table.bowls)]
        sensation = SENSATIONS[self._places // len(self._table.bowls)]
        self._places += 1
        values = (secrets.randbelow(1001) / 10, secrets.randbelow(1001) / 10)
        mark = (self.number, secrets.token_hex(16), bowl, sensation, self._round, *values)
        made = _Made(mark, time.perf_counter(), burst)
        self._log.sent.add(mark)
        self._log.unseen[self.number, self._round].append(made.at)
        self._outbox.append(made)
        self._send()

    def _send(self) -> None:
        if self._on_the_way or not self._outbox or self._line is None:
            return
        self._on_the_way, self._outbox = self._outbox, []
        self._batches += 1
        self._line.send(self._batch(), self._answered)

    def _batch(self) -> bytes:
        records = [
            {
                "kind": "mark",
                "id": record_id,
                "bowl": bowl,
                "sensation": sensation,
                "round": round_key,
                "intensity": intensity,
                "liking": liking,
                "at_ms": wall_clock_ms(),
            }
            for (_, record_id, bowl, sensation, round_key, intensity, liking) in (
                made.mark for made in self._on_the_way
            )
        ]
        body = msgspec.json.encode({"records": records})
        target = f"/api/seats/{self._key}/records"
        return request("POST", target, self._served.address, body, Content_Type=JSON)

    def _answered(self, status: int, _head: bytes, body: bytes) -> None:
        now = time.perf_counter()
        if status != 200:
            self._log.errors.append(f"{status} {body[:120]!r}")
        else:
            self._settle(set(decode_answer(body).saved), now)
        if (self._batches % RESEND_EVERY == 0) and not self._again and self._line is not None:
            self._again = True
            self._log.resent += 1
            self._line.send(self._batch(), self._answered)
            return
        self._again = False
        self._on_the_way = []
        if status:
            self._send()

    def _settle(self, saved: set[str], now: float) -> None:
        for made in self._on_the_way:
            if made.mark[1] not in saved:
                self._log.errors.append(f"mark {made.mark[1]} was not saved")
                continue
            self._log.acknowledged.add(made.mark)
            if not self._again:
                waits = self._log.burst_waits_s if made.burst else self._log.waits_s
                waits.append(now - made.at)


class Host:
    """The host's browser: pages, buttons, and the bench's stream."""

    def __init__(self, served: Served, table: Table) -> None:
        self._served = served
        self._table = table
        self._cookie = f"twobowls_host={make_session(served.host_key, wall_clock_ms())}"
        self._stream: Stream | None = None

    async def open_bench(self, heard: Callable[[bytes], None]) -> None:
        """Look at the bench, page and stream."""
        page = f"/tastings/{self._table.tasting_id}"
        address = self._served.address
        ask = request("GET", f"{page}/bench", address, Cookie=self._cookie, Accept="text/html")
        _expect(200, await self._ask(ask))
        ask = request(
            "GET", f"{page}/stream", address, Cookie=self._cookie, Accept="text/event-stream"
        )
        self._stream = await Stream.open(address, ask, heard)

    async def call_round(self, round_key: str) -> None:
        """Press the button that sends everybody to a round."""
        ask = request(
            "POST",
            f"/tastings/{self._table.tasting_id}/round",
            self._served.address,
            f"round={round_key}&sure=1".encode(),
            Cookie=self._cookie,
            Accept=JSON,
            Content_Type=FORM,
        )
        _expect(204, await self._ask(ask))

    def hang_up(self) -> None:
        """Leave."""
        if self._stream is not None:
            self._stream.close()

    async def _ask(self, ask: bytes) -> tuple[int, bytes, bytes]:
        """Ask on a new line: the server closes one that was idle, and browsers open another."""
        line = await Line.open(self._served.address)
        try:
            return await line.ask(ask)
        finally:
            line.close()


async def join(served: Served, table: Table, line: Line, nickname: str) -> str:
    """Take a seat as a guest does; return its key."""
    form = f"code={table.join_code}&nickname={quote(nickname)}".encode()
    ask = request("POST", "/join", served.address, form, Content_Type=FORM)
    head = _expect(303, await line.ask(ask))[0].decode("latin-1")
    place = next(each for each in head.split("\r\n") if each.startswith("location: "))
    return place.rpartition("/")[2]


async def load_seat(served: Served, line: Line, key: str) -> int:
    """Ask for the seat's state as its page does; return the seat's number."""
    ask = request("GET", f"/api/seats/{key}", served.address, Accept=JSON)
    return _state(_expect(200, await line.ask(ask))[1]).seat.number


def _expect(status: int, answer: tuple[int, bytes, bytes]) -> tuple[bytes, bytes]:
    if answer[0] != status:
        raise WireError(f"expected {status}, got {answer[0]}: {answer[2][:300]!r}")
    return answer[1:]
