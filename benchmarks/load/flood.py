"""As many durable requests as the server takes: lines that always have one on the way."""

import asyncio
import secrets
import time
from dataclasses import dataclass, field

import msgspec

from benchmarks.load.table import ROUNDS, Table
from benchmarks.load.wire import Line, request
from twobowls.web.settings import wall_clock_ms

MARKS = 8
JSON = "application/json"


class Answer(msgspec.Struct):
    """What the server says to a batch."""

    saved: list[str]
    refused: list[dict[str, str]]


decode_answer = msgspec.json.Decoder(Answer).decode


@dataclass(slots=True)
class Flooded:
    """What came of it: ids are whole numbers, eight in a row for each request."""

    seconds: float = 0.0
    in_time: int = 0
    answer_bytes: int = 0
    waits_s: list[float] = field(default_factory=list)
    sent: list[int] = field(default_factory=list)
    acknowledged: list[int] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    @property
    def requests_a_second(self) -> float:
        """Requests answered while it lasted, a second."""
        return self.in_time / self.seconds


def batch_body(table: Table) -> bytes:
    """Return a batch of eight marks with eight places (``%032x``) for their ids."""
    marks = [
        {
            "kind": "mark",
            "id": "%032x",
            "bowl": table.bowls[number % len(table.bowls)],
            "sensation": "acidity",
            "round": ROUNDS[0],
            "intensity": 41.5,
            "liking": 60.5,
            "at_ms": wall_clock_ms(),
        }
        for number in range(MARKS)
    ]
    return msgspec.json.encode({"records": marks})


def batch_request(address: tuple[str, int], key: str, table: Table) -> bytes:
    """Return the request that sends such a batch."""
    body = batch_body(table)
    length = len(body) + MARKS * (32 - len("%032x"))
    text = request("POST", f"/api/seats/{key}/records", address, body, Content_Type=JSON)
    old, new = (f"Content-Length: {each}".encode() for each in (len(body), length))
    return text.replace(old, new)


async def flood(
    address: tuple[str, int], templates: list[bytes], seconds: float, *, keeps: bool = True
) -> Flooded:
    """Send batches for a while, on one line for each template.

    ``keeps`` says whether the server keeps marks and tells their ids (a bare peer does not).
    """
    found = Flooded()
    lines = [await Line.open(address) for _ in templates]
    pumps = [_Pump(line, text, found, keeps) for line, text in zip(lines, templates, strict=True)]
    start = time.perf_counter()
    for pump in pumps:
        pump.run_until(start + seconds)
    await asyncio.gather(*(pump.ended for pump in pumps))
    found.seconds = seconds
    for line in lines:
        line.close()
    return found


class _Pump:
    """One line; the next request goes out as soon as the last is answered."""

    def __init__(self, line: Line, template: bytes, found: Flooded, keeps: bool) -> None:
        self._line = line
        self._template = template
        self._found = found
        self._keeps = keeps
        self._next = secrets.randbits(96) << 32
        self._end = self._start = 0.0
        self.ended: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def run_until(self, end: float) -> None:
        self._end = end
        self._send()

    def _send(self) -> None:
        first = self._next
        self._next = first + MARKS
        self._found.sent.append(first)
        self._start = time.perf_counter()
        self._line.send(self._template % tuple(range(first, first + MARKS)), self._answered)

    def _answered(self, status: int, _head: bytes, body: bytes) -> None:
        now = time.perf_counter()
        found, first = self._found, self._next - MARKS
        if status != 200:
            found.errors.append(f"{status} {body[:120]!r}")
        elif not self._keeps or _told(body, first):
            found.acknowledged.append(first)
            found.waits_s.append(now - self._start)
            found.in_time += now <= self._end
            found.answer_bytes = len(body)
        else:
            found.errors.append(f"not all saved: {body[:120]!r}")
        if status == 0 or now >= self._end:
            self.ended.set_result(None)
        else:
            self._send()


def _told(body: bytes, first: int) -> bool:
    return decode_answer(body).saved == [f"{each:032x}" for each in range(first, first + MARKS)]


def ids(firsts: list[int]) -> set[str]:
    """Return the ids of the marks in requests."""
    return {f"{first + each:032x}" for first in firsts for each in range(MARKS)}
