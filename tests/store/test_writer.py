import asyncio
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from queue import SimpleQueue

import pytest

from twobowls.errors import NotFoundError, StoreError
from twobowls.store.writer import Row, Writer, _Job


class Table:
    """A table of numbers whose writer notes each group it writes."""

    def __init__(self, path: Path) -> None:
        database = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        database.execute("CREATE TABLE numbers (number)")
        self.groups: list[int] = []
        self.gate = threading.Event()
        self.gate.set()
        self.at_the_gate = threading.Event()
        self.path = path
        self.writer = Writer(database, path, self.insert)

    def insert(self, database: sqlite3.Connection, rows: Sequence[Row]) -> None:
        self.at_the_gate.set()
        self.gate.wait()
        self.groups.append(len(rows))
        database.executemany("INSERT INTO numbers VALUES (?)", rows)

    async def busy(self) -> None:
        """Wait until the writer has taken what there is and waits to write it."""
        assert await asyncio.to_thread(self.at_the_gate.wait, 60)

    def numbers(self) -> list[int]:
        reader = sqlite3.connect(self.path)
        found = [row[0] for row in reader.execute("SELECT number FROM numbers ORDER BY rowid")]
        reader.close()
        return found


@pytest.fixture
def table(tmp_path: Path) -> Iterator[Table]:
    made = Table(tmp_path / "numbers.sqlite3")
    yield made
    made.gate.set()
    made.writer.close()


def test_what_waits_goes_into_one_commit(table: Table) -> None:
    async def load() -> None:
        table.gate.clear()
        first = table.writer.append((0,))
        await table.busy()
        others = [table.writer.append((number,)) for number in range(1, 100)]
        table.gate.set()
        await asyncio.gather(first, *others)

    asyncio.run(load())
    assert table.groups == [1, 99]
    assert table.numbers() == list(range(100))


def test_nothing_is_acknowledged_before_it_is_on_disk(table: Table) -> None:
    async def load() -> None:
        table.gate.clear()
        row = table.writer.append((1,))
        await table.busy()
        assert not row.done()
        assert table.numbers() == []
        table.gate.set()
        await row
        assert table.numbers() == [1]

    asyncio.run(load())


def test_a_refused_job_undoes_its_own_work_only(table: Table) -> None:
    def refuse(database: sqlite3.Connection) -> None:
        database.execute("INSERT INTO numbers VALUES (-1)")
        raise NotFoundError("There is no such thing.")

    with pytest.raises(NotFoundError, match="There is no such thing"):
        table.writer.run(refuse)
    assert table.writer.run(lambda db: db.execute("INSERT INTO numbers VALUES (7)").rowcount) == 1
    assert table.numbers() == [7]


def refuse(_database: sqlite3.Connection) -> None:
    raise NotFoundError("There is no such thing.")


def test_a_refused_job_leaves_its_group_alone(table: Table) -> None:
    async def load() -> None:
        table.gate.clear()
        first = table.writer.append((0,))
        await table.busy()
        second = table.writer.append((1,))
        loop = asyncio.get_running_loop()
        refused = loop.run_in_executor(None, table.writer.run, refuse)
        while table.writer._queue.qsize() < 2:  # the job comes from a thread of its own
            await asyncio.sleep(0.005)
        third = table.writer.append((2,))
        table.gate.set()
        await asyncio.gather(first, second, third)
        with pytest.raises(NotFoundError):
            await refused

    asyncio.run(load())
    assert table.numbers() == [0, 1, 2]


def test_a_disk_error_fails_the_whole_group_and_keeps_nothing_of_it(table: Table) -> None:
    table.writer.run(lambda db: db.execute("DROP TABLE numbers"))

    async def load() -> list[object]:
        rows = [table.writer.append((number,)) for number in range(5)]
        return list(await asyncio.gather(*rows, return_exceptions=True))

    told = asyncio.run(load())
    assert {type(each) for each in told} == {StoreError}
    assert "SQLite says: no such table: numbers. Nothing was saved" in str(told[0])
    table.writer.run(lambda db: db.execute("CREATE TABLE numbers (number)"))
    assert table.numbers() == []


def test_an_error_of_the_disk_in_a_job_is_explained(table: Table) -> None:
    with pytest.raises(StoreError, match="SQLite says: no such table: missing"):
        table.writer.run(lambda db: db.execute("SELECT * FROM missing"))


def test_a_request_that_went_away_harms_nobody(table: Table) -> None:
    async def load() -> None:
        table.gate.clear()
        gone, here = table.writer.append((1,)), table.writer.append((2,))
        gone.cancel()
        table.gate.set()
        await here

    asyncio.run(load())
    assert table.numbers() == [1, 2]


def test_closing_finishes_what_waits(tmp_path: Path) -> None:
    table = Table(tmp_path / "closing.sqlite3")

    async def load() -> None:
        rows = [table.writer.append((number,)) for number in range(50)]
        table.writer.close()
        await asyncio.gather(*rows)

    asyncio.run(load())
    assert table.numbers() == list(range(50))


class Hurried(SimpleQueue[object]):
    """A queue to which the end comes at the very moment at which something is handed over."""

    def __init__(self, writer: Writer) -> None:
        super().__init__()
        self.ending = threading.Thread(target=writer.close)

    def put(self, item: object, block: bool = True, timeout: float | None = None) -> None:
        if item is not None:
            self.ending.start()
            self.ending.join(0.5)  # as far as it comes
        super().put(item, block, timeout)


def test_nobody_waits_for_ever_for_what_is_handed_over_at_the_very_end(tmp_path: Path) -> None:
    table = Table(tmp_path / "end.sqlite3")
    numbers: list[int] = []

    def add() -> None:
        table.writer.run(lambda db: db.execute("INSERT INTO numbers VALUES (7)"))
        numbers.extend(table.numbers())

    before = table.writer._queue
    table.writer._queue = queue = Hurried(table.writer)  # type: ignore[assignment]
    before.put(_Job(lambda _database: None))  # the writer turns to the other queue
    adding = threading.Thread(target=add, daemon=True)
    adding.start()
    adding.join(60)
    queue.ending.join(60)
    assert numbers == [7]


class Strained:
    """A writer that has trouble for as long as the test wants."""

    def __init__(self, path: Path) -> None:
        database = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        database.execute("CREATE TABLE numbers (number)")
        self.trouble: StoreError | None = None
        self.told: list[StoreError | None] = []
        self.writer = Writer(database, path, self.insert, self.told.append, self.check)

    def insert(self, database: sqlite3.Connection, rows: Sequence[Row]) -> None:
        database.executemany("INSERT INTO numbers VALUES (?)", rows)

    def check(self) -> None:
        if self.trouble:
            raise self.trouble

    def add(self, count: int = 1) -> None:
        async def load() -> None:
            for number in range(count):
                with suppress(StoreError):
                    await self.writer.append((number,))

        asyncio.run(load())

    def count(self) -> int:
        return len(self.writer.run(lambda db: db.execute("SELECT number FROM numbers").fetchall()))


@pytest.fixture
def strained(tmp_path: Path) -> Iterator[Strained]:
    made = Strained(tmp_path / "numbers.sqlite3")
    yield made
    made.writer.close()


def test_trouble_is_told_once_and_so_is_its_end(strained: Strained) -> None:
    strained.trouble = StoreError("a", "the disk is full", "Free some space")
    strained.add(3)
    strained.trouble = None
    strained.add(3)
    assert [each and each.problem for each in strained.told] == ["the disk is full", None]
    assert strained.count() == 3


def test_a_refusal_does_not_end_the_trouble(strained: Strained) -> None:
    strained.writer.run(lambda db: db.execute("DROP TABLE numbers"))
    strained.add()
    with pytest.raises(NotFoundError):
        strained.writer.run(refuse)
    assert [each and each.problem for each in strained.told] == [
        "SQLite says: no such table: numbers"
    ]


def test_a_failed_check_undoes_jobs_as_well(strained: Strained) -> None:
    strained.trouble = StoreError("a", "the file was moved", "Put it back")
    with pytest.raises(StoreError, match="the file was moved"):
        strained.writer.run(lambda db: db.execute("INSERT INTO numbers VALUES (1)"))
    strained.trouble = None
    assert strained.count() == 0


def test_who_cannot_be_told_does_not_stop_the_writer(tmp_path: Path) -> None:
    def closed(_trouble: StoreError | None) -> None:
        raise OSError("the terminal is gone")

    database = sqlite3.connect(
        tmp_path / "a.sqlite3", isolation_level=None, check_same_thread=False
    )
    writer = Writer(database, tmp_path, lambda _db, _rows: None, closed)
    with pytest.raises(StoreError):
        writer.run(lambda db: db.execute("SELECT * FROM missing"))
    assert writer.run(lambda db: db.execute("SELECT 7").fetchone()) == (7,)
    writer.close()
