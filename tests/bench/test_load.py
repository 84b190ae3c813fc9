"""The load benchmark at a tiny size, and its accounting when the store has been tampered with."""

import asyncio
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from benchmarks.figures import FILE_VARIABLE, read
from benchmarks.load import evening, rates
from benchmarks.load.accounts import Account, settle
from benchmarks.load.evening import Evening
from benchmarks.load.flood import ids
from benchmarks.load.table import MarkKey, lay_table, stored_ids, stored_marks
from benchmarks.load.wire import Line, WireError, request, run

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def spent(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    plan = evening.Plan(seats=6, first=2, round_s=1.0, warm_s=0.3)
    return evening.spend(plan, tmp_path_factory.mktemp("evening"), lambda _seconds: None)


def test_every_phone_marks_and_nothing_is_lost(spent: Evening) -> None:
    account = spent.account
    assert account is not None
    assert account.right
    assert account.acknowledged >= 6 * 3
    assert spent.log.errors == []
    assert spent.streams_lost == 0


def test_bursts_the_bench_and_the_calls_are_timed(spent: Evening) -> None:
    log = spent.log
    # on a machine that is very busy a phone may hear of two calls as of one
    assert 6 <= len(log.burst_waits_s) <= 6 * 3
    assert 6 <= len(log.called_s) <= 6 * 3
    assert min(log.waits_s + log.burst_waits_s) > 0
    assert len(log.bench_s) >= 6
    assert all(0 < each < 20 for each in log.bench_s)


def test_marks_that_are_lost_or_doubled_or_changed_are_noticed(spent: Evening) -> None:
    log = spent.log
    found = list(log.acknowledged)
    whole = settle(log.acknowledged, log.sent, found)
    lost = settle(log.acknowledged, log.sent, found[1:])
    doubled = settle(log.acknowledged, log.sent, [*found, found[3]])
    changed: MarkKey = (*found[0][:5], found[0][5] + 1, found[0][6])
    other = settle(log.acknowledged, log.sent, [changed, *found[1:]])
    assert whole.right
    assert lost.lost == (found[0],)
    assert doubled.doubled == (found[3],)
    assert (other.lost, other.strange) == ((found[0],), (changed,))
    assert not any(each.right for each in (lost, doubled, other))


@pytest.fixture(scope="module")
def flooded(tmp_path_factory: pytest.TempPathFactory) -> tuple[rates.Rates, Path]:
    folder = tmp_path_factory.mktemp("flood")
    plan = rates.Plan(lines=4, turns=1, ours_s=0.3, peer_s=0.1, disk_s=0.05, slow_s=0.3)
    return rates.measure(plan, folder, lambda _seconds: None), folder


def test_a_flood_is_answered_and_kept(flooded: tuple[rates.Rates, Path]) -> None:
    found, _ = flooded
    assert found.errors == []
    assert all(account.right and account.acknowledged >= 8 for account in found.accounts)
    assert found.bare[0].requests_a_second > 0
    assert found.grouped_rows[0] > 0
    # four lines, each waiting at least 10 ms for its answer
    assert found.slow[0].requests_a_second <= 4 / 0.010


@pytest.fixture
def log(flooded: tuple[rates.Rates, Path]) -> Iterator[sqlite3.Connection]:
    file = next(flooded[1].glob("fast-*.sqlite3"))
    database = sqlite3.connect(file, isolation_level=None)
    database.execute("BEGIN")
    yield database
    database.execute("ROLLBACK")
    database.close()


def accounted(found: rates.Rates, database: sqlite3.Connection) -> Account[str]:
    """Settle a flood's marks with a log that has been tampered with."""
    floods = found.ours
    told = [first for each in floods for first in each.acknowledged]
    return settle(ids(told), ids(told), stored_ids(database))


def test_a_batch_missing_in_the_log_is_noticed(
    flooded: tuple[rates.Rates, Path], log: sqlite3.Connection
) -> None:
    assert accounted(flooded[0], log).lost == ()
    log.execute("DELETE FROM batches WHERE number = (SELECT max(number) FROM batches)")
    assert len(accounted(flooded[0], log).lost) == 8


def test_a_batch_twice_in_the_log_is_noticed(
    flooded: tuple[rates.Rates, Path], log: sqlite3.Connection
) -> None:
    log.execute(
        "INSERT INTO batches (seat, received_ms, body) "
        "SELECT seat, received_ms, body FROM batches ORDER BY number DESC LIMIT 1"
    )
    assert len(accounted(flooded[0], log).doubled) == 8


def test_a_server_that_never_answers_is_given_up() -> None:
    async def wait() -> None:
        await asyncio.Event().wait()

    with pytest.raises(TimeoutError):
        run(wait(), most_s=0.05)


def test_a_server_that_is_gone_is_an_error() -> None:
    async def knock() -> tuple[int, bytes, bytes]:
        line = await Line.open(("127.0.0.1", 9))
        return await line.ask(request("GET", "/", ("127.0.0.1", 9)))

    with pytest.raises(ConnectionError):
        run(knock())
    assert issubclass(WireError, ConnectionError)


def test_a_new_table_has_no_marks(tmp_path: Path) -> None:
    table = lay_table(tmp_path / "store.sqlite3", 3)
    assert stored_marks(table) == []
    assert len(table.bowls) == 8


def test_the_command_prints_its_figures_and_keeps_them(tmp_path: Path) -> None:
    kept = tmp_path / "figures.jsonl"
    options = ["load", "--seats", "3", "--scale", "0.05", "--folder", str(tmp_path)]
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks", *options],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, FILE_VARIABLE: str(kept)},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "0 lost, 0 doubled, 0 never sent" in done.stdout
    wrong = [each for each in read(kept) if each.work.startswith("errors")]
    assert [each.value for each in wrong] == [0.0, 0.0]
    assert all(each.met for each in wrong)
