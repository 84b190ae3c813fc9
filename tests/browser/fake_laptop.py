"""A laptop small enough for one test: a seat's pages and API in memory, with faults on demand.

It speaks the seat's contract and nothing more, so that the phone can be tried without the tool.
"""

import asyncio
import json
import threading
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
import uvicorn
from jinja2 import Environment, FileSystemLoader
from starlette.applications import Starlette
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route

from twobowls.tasting.cautions import CAUTIONS
from twobowls.tasting.lexicon import FAMILIES
from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.setup import DEFAULT_ROUNDS, Round
from twobowls.web.static_files import KeptFiles

WEB = Path(__file__).resolve().parents[2] / "src" / "twobowls" / "web"
KEY = "k" * 32
CODES = ("417", "862", "305", "588")
POLICY = "default-src 'self'; script-src 'self'; style-src 'self'; connect-src 'self'"
CURVE = [(0, 91.0), (240, 76.0), (480, 66.0), (720, 58.5), (1200, 48.0), (2400, 34.0), (5400, 24.0)]


@dataclass
class FakeLaptop:
    """What the laptop holds, and how it misbehaves."""

    codes: tuple[tuple[str, ...], ...] = (CODES,)
    rounds: tuple[Round, ...] = DEFAULT_ROUNDS
    state: str = "open"
    round: str | None = "hot"
    version: int = 1
    poured_ago_s: float | None = 760.0
    readings: int = 0
    asked: dict[str, list[str]] | None = None
    walk: str | None = None
    clock_ahead_ms: int = 0
    records: dict[str, dict[str, Any]] = field(default_factory=dict)
    batches: list[list[str]] = field(default_factory=list)
    broken: bool = False
    refuse: str = ""
    port: int = 0
    changed: list[asyncio.Event] = field(default_factory=list)
    loop: asyncio.AbstractEventLoop | None = None
    stopping: bool = False

    @property
    def url(self) -> str:
        """Where the seat's page is."""
        return f"http://127.0.0.1:{self.port}/seat/{KEY}"

    def now_ms(self) -> int:
        """Return the host's time."""
        return int(time.time() * 1000) + self.clock_ahead_ms

    def poured(self) -> dict[str, int | None]:
        """Return when each bowl was poured, all at once."""
        ago = self.poured_ago_s
        at = None if ago is None else self.now_ms() - int(ago * 1000)
        return {code: at for flight in self.codes for code in flight}

    def table(self) -> dict[str, Any]:
        """Return all that a seat may know."""
        sensations = [
            {**msgspec.to_builtins(each), "kind": each.rounds_kind} for each in SENSATIONS
        ]
        return {
            "tasting": {"name": "Saturday table", "state": self.state, "names_in_files": False},
            "seat": {"id": "s1", "number": 3, "nickname": "Ana"},
            "now_ms": self.now_ms(),
            "version": self.version,
            "round": self.round,
            "rounds": msgspec.to_builtins(self.rounds),
            "flights": [list(flight) for flight in self.codes],
            "bowls": {code: {"poured_at_ms": at} for code, at in self.poured().items()},
            "readings": self.readings,
            "cooling": CURVE,
            "clock": {
                "break_s": 240,
                "skim_s": 330,
                "first_sip_s": 670,
                "first_sip_c": 60,
                "rounds": {"hot": 670, "warm": 1200, "cool": 2200},
            },
            "sensations": sensations,
            "families": msgspec.to_builtins(FAMILIES),
            "cautions": msgspec.to_builtins(CAUTIONS),
            "records": list(self.records.values()),
            **({} if self.asked is None else {"asked": self.asked}),
            **({} if self.walk is None else {"walk": self.walk}),
        }

    def change(self, **what: Any) -> None:
        """Let the host do something, and tell the phones."""
        for name, value in what.items():
            setattr(self, name, value)
        self.version += 1
        self.wake()

    def wake(self) -> None:
        """Let every open stream look again."""
        for event in list(self.changed):
            if self.loop is not None:
                self.loop.call_soon_threadsafe(event.set)

    def marks(self, **what: Any) -> list[dict[str, Any]]:
        """Return the records that hold these values, oldest first."""
        held = list(self.records.values())  # at once: the phone may be sending more
        fits = [record for record in held if all(record.get(k) == v for k, v in what.items())]
        return sorted(fits, key=lambda record: int(record["at_ms"]))


def _pages(laptop: FakeLaptop) -> Starlette:
    environment = Environment(loader=FileSystemLoader(WEB / "templates"), autoescape=True)
    environment.globals["static_url"] = lambda path: f"/static/{path}"

    async def page(request: Request) -> Response:
        text = environment.get_template("seat.html").render(key=KEY, tasting_name="Saturday table")
        return HTMLResponse(text, headers={"content-security-policy": POLICY})

    async def table(request: Request) -> Response:
        if laptop.broken:
            return Response(status_code=503)
        return JSONResponse(laptop.table())

    async def records(request: Request) -> Response:
        if laptop.broken:
            return Response(status_code=503)
        batch = json.loads(await request.body())["records"]
        laptop.batches.append([record["id"] for record in batch])
        refused = [{"id": r["id"], "error": laptop.refuse} for r in batch if laptop.refuse]
        if not laptop.refuse:
            laptop.records.update({record["id"]: record for record in batch})
        saved = [] if laptop.refuse else [record["id"] for record in batch]
        return JSONResponse({"saved": saved, "refused": refused, "now_ms": laptop.now_ms()})

    async def stream(request: Request) -> Response:
        if laptop.broken:
            return Response(status_code=503)
        return StreamingResponse(_changes(laptop), media_type="text/event-stream")

    return Starlette(
        routes=[
            Route("/seat/{key}", page),
            Route("/api/seats/{key}", table),
            Route("/api/seats/{key}/records", records, methods=["POST"]),
            Route("/api/seats/{key}/stream", stream),
            Mount("/static", KeptFiles()),
        ]
    )


async def _changes(laptop: FakeLaptop) -> AsyncIterator[str]:
    laptop.loop = asyncio.get_running_loop()
    event = asyncio.Event()
    laptop.changed.append(event)
    try:
        while not laptop.stopping:
            data = {
                "version": laptop.version,
                "state": laptop.state,
                "round": laptop.round,
                "poured": laptop.poured(),
                "readings": laptop.readings,
                "now_ms": laptop.now_ms(),
            }
            yield f"id: {laptop.version}\nevent: change\ndata: {json.dumps(data)}\n\n"
            await event.wait()
            event.clear()
    finally:
        laptop.changed.remove(event)


@contextmanager
def serving(laptop: FakeLaptop) -> Iterator[FakeLaptop]:
    """Serve it on loopback in a thread of its own until the block ends."""
    app = GZipMiddleware(_pages(laptop), minimum_size=400)
    config = uvicorn.Config(
        app, host="127.0.0.1", port=0, log_level="error", timeout_graceful_shutdown=1
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    laptop.port = server.servers[0].sockets[0].getsockname()[1]
    try:
        yield laptop
    finally:
        laptop.stopping = True
        laptop.wake()
        server.should_exit = True
        thread.join(60)
