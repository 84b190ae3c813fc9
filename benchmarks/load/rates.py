"""Requests a second: ours, a bare application's, and the disk's commits, in turns in one run."""

import gc
import secrets
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from benchmarks.load import disk
from benchmarks.load.accounts import Account, settle
from benchmarks.load.flood import Flooded, batch_body, batch_request, flood, ids
from benchmarks.load.machine import Watch
from benchmarks.load.phones import join
from benchmarks.load.serving import Served, on_core, serving, serving_bare
from benchmarks.load.table import Table, lay_table, stored_ids
from benchmarks.load.wire import Line, run

SERVER_CORE, OWN_CORE = 0, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How many lines, how many turns, and how long each part of a turn is."""

    lines: int = 128
    turns: int = 3
    ours_s: float = 2.5
    peer_s: float = 1.5
    disk_s: float = 0.7
    slow_s: float = 3.0
    added_ms: float = 10.0

    @property
    def seconds(self) -> float:
        """About how long it takes, for a bar of progress."""
        return self.turns * (self.ours_s + self.peer_s + 2 * self.disk_s) + self.slow_s


@dataclass(slots=True)
class Rates:
    """What each turn found."""

    ours: list[Flooded] = field(default_factory=list)
    bare: list[Flooded] = field(default_factory=list)
    single_commits: list[float] = field(default_factory=list)
    grouped_rows: list[float] = field(default_factory=list)
    server_shares: list[float] = field(default_factory=list)
    other_shares: list[float] = field(default_factory=list)
    slow: list[Flooded] = field(default_factory=list)
    accounts: list[Account[str]] = field(default_factory=list)

    @property
    def errors(self) -> list[str]:
        """What went wrong anywhere."""
        return [each for flooded in (*self.ours, *self.bare, *self.slow) for each in flooded.errors]


def measure(plan: Plan, folder: Path, tell: Callable[[float], None]) -> Rates:
    """Run everything; ``tell`` is called with seconds that have passed."""
    rates, name = Rates(), secrets.token_hex(4)
    fast = lay_table(folder / f"fast-{name}.sqlite3", plan.lines)
    with serving(fast.path, core=SERVER_CORE) as served, on_core(OWN_CORE):
        floods = _take_turns(plan, served, fast, rates, tell)
    rates.accounts.append(_settle(fast, floods))
    slow = lay_table(folder / f"slow-{name}.sqlite3", plan.lines)
    with (
        serving(slow.path, core=SERVER_CORE, added_ms=plan.added_ms) as served,
        on_core(OWN_CORE),
    ):
        templates = run(_sit_down(served, slow, plan.lines))
        rates.slow = [_flood(served, templates, plan.slow_s)]
        tell(plan.slow_s)
    rates.accounts.append(_settle(slow, rates.slow))
    return rates


def _take_turns(
    plan: Plan, served: Served, table: Table, rates: Rates, tell: Callable[[float], None]
) -> list[Flooded]:
    """Measure us and the peers in turns; return everything that was sent to us."""
    templates = run(_sit_down(served, table, plan.lines))
    warm = _flood(served, templates, plan.ours_s / 5)  # what is done only once is done now
    with (
        serving_bare(warm.answer_bytes, core=SERVER_CORE) as bare,
        disk.log_file(table.path.with_suffix(".disk")) as log,
    ):
        for _ in range(plan.turns):
            watch = Watch([served])
            rates.ours.append(_flood(served, templates, plan.ours_s))
            watch.stop()
            rates.server_shares.append(watch.server_share)
            rates.other_shares.append(watch.other_share)
            rates.bare.append(_flood(bare, templates, plan.peer_s, keeps=False))
            for group, found in ((1, rates.single_commits), (disk.GROUP, rates.grouped_rows)):
                found.append(disk.rows_a_second(log, batch_body(table), group, plan.disk_s))
            tell(plan.ours_s + plan.peer_s + 2 * plan.disk_s)
    return [warm, *rates.ours]


async def _sit_down(served: Served, table: Table, seats: int) -> list[bytes]:
    """Take the seats; return a request for each."""
    line = await Line.open(served.address)
    keys = [await join(served, table, line, f"Guest {number + 1}") for number in range(seats)]
    line.close()
    return [batch_request(served.address, key, table) for key in keys]


def _flood(
    served: Served, templates: list[bytes], seconds: float, *, keeps: bool = True
) -> Flooded:
    gc.collect()
    gc.disable()  # a pause of ours must not count as the server's
    try:
        return run(flood(served.address, templates, seconds, keeps=keeps))
    finally:
        gc.enable()


def _settle(table: Table, floods: list[Flooded]) -> Account[str]:
    told = ids([first for each in floods for first in each.acknowledged])
    sent = ids([first for each in floods for first in each.sent])
    with closing(sqlite3.connect(table.path)) as log:
        return settle(told, sent, stored_ids(log))
