"""An evening with as many phones as asked for: they join, listen, and mark, round after round."""

import asyncio
import gc
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.load import disk
from benchmarks.load.accounts import Account, settle
from benchmarks.load.machine import Watch
from benchmarks.load.phones import Host, Log, Phone, join, load_seat
from benchmarks.load.serving import Served, serving
from benchmarks.load.table import ROUNDS, MarkKey, Table, lay_table, stored_marks
from benchmarks.load.wire import Line, run

PATIENCE_S = 10.0
MARK_BYTES = 180


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How many phones come in how many steps, and how long each round lasts."""

    seats: int = 300
    first: int = 100
    round_s: float = 6.0
    warm_s: float = 2.0
    disk_s: float = 0.5
    added_ms: float | None = None

    @property
    def seconds(self) -> float:
        """How long it waits in all, for a bar of progress."""
        return 2 * self.warm_s + self.round_s * (len(ROUNDS) - 1)


@dataclass(slots=True)
class Evening:
    """What was seen."""

    plan: Plan
    log: Log = field(default_factory=Log)
    disk_s: list[float] = field(default_factory=list)
    join_s: float = 0.0
    memory_mb: dict[int, float] = field(default_factory=dict)
    server_share: float = float("nan")
    other_share: float = float("nan")
    streams_lost: int = 0
    account: Account[MarkKey] | None = None

    def waits_ms(self) -> NDArray[np.float64]:
        """Return the times from making a mark to its being on disk, bursts included."""
        return 1000 * np.array(self.log.waits_s + self.log.burst_waits_s)


def spend(plan: Plan, folder: Path, tell: Callable[[float], None]) -> Evening:
    """Run one evening in a new store; ``tell`` is called with seconds that have passed."""
    table = lay_table(folder / f"evening-{secrets.token_hex(4)}.sqlite3", plan.seats)
    evening = Evening(plan)
    _try_disk(evening, table)
    with serving(table.path, added_ms=plan.added_ms) as served:
        gc.collect()
        gc.disable()  # a pause of ours must not count as the server's
        try:
            run(_spend(evening, served, table, tell))
        finally:
            gc.enable()
    _try_disk(evening, table)
    log = evening.log
    evening.account = settle(log.acknowledged, log.sent, stored_marks(table))
    return evening


def _try_disk(evening: Evening, table: Table) -> None:
    """Time commits with nothing else to do, before and after: no mark can be faster than those."""
    file = table.path.with_name(f"{secrets.token_hex(4)}.disk")
    with disk.log_file(file) as log:
        evening.disk_s += disk.commit_times(log, b" " * MARK_BYTES, evening.plan.disk_s)


async def _spend(
    evening: Evening, served: Served, table: Table, tell: Callable[[float], None]
) -> None:
    plan, log = evening.plan, evening.log
    evening.memory_mb[0] = served.memory_mb()
    host = Host(served, table)
    phones: list[Phone] = []
    await host.call_round(ROUNDS[0])
    await host.open_bench(log.show)
    for seats in sorted({plan.first, plan.seats}):
        started = time.perf_counter()
        while len(phones) < seats:
            phones.append(await _arrive(served, table, log, len(phones)))
        evening.join_s += time.perf_counter() - started
        await _wait(plan.warm_s, tell)
        evening.memory_mb[seats] = served.memory_mb()
    log.forget_times()
    watch = Watch([served])
    for round_key in ROUNDS[1:]:
        log.call_started = time.perf_counter()
        await host.call_round(round_key)
        await _wait(plan.round_s, tell)
    watch.stop()
    evening.server_share, evening.other_share = watch.server_share, watch.other_share
    await _leave(evening, host, phones)


async def _arrive(served: Served, table: Table, log: Log, number: int) -> Phone:
    """Join, load the seat, listen, and begin to mark at a moment of one's own."""
    line = await Line.open(served.address)
    key = await join(served, table, line, f"Guest {number + 1}")
    phone = Phone(served, table, log, key, await load_seat(served, line, key))
    await phone.connect(line)
    phone.start(secrets.randbelow(1000) / 1000)
    return phone


async def _wait(seconds: float, tell: Callable[[float], None]) -> None:
    steps = max(1, round(seconds))
    for _ in range(steps):
        await asyncio.sleep(seconds / steps)
        tell(seconds / steps)


async def _leave(evening: Evening, host: Host, phones: list[Phone]) -> None:
    """Stop marking, wait for the answers, and hang up."""
    for phone in phones:
        phone.stop()
    deadline = time.perf_counter() + PATIENCE_S
    while any(phone.busy for phone in phones) and time.perf_counter() < deadline:
        await asyncio.sleep(0.05)
    evening.streams_lost = sum(phone.stream_lost for phone in phones)
    if any(phone.busy for phone in phones):
        evening.log.errors.append("some marks were never answered")
    host.hang_up()
    for phone in phones:
        phone.hang_up()
