"""Connections are used in turn, by whatever threads come and go."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from twobowls.errors import StoreError
from twobowls.store import readers, store
from twobowls.store.connections import connect_reader
from twobowls.store.readers import Readers

AT_ONCE = 5


@pytest.fixture
def opened(path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[object]]:
    """A list that grows with each connection that readers open."""
    with store.open_store(path):
        made: list[object] = []

        def noted(path: Path) -> object:
            made.append(connect_reader(path))
            return made[-1]

        monkeypatch.setattr(readers, "connect_reader", noted)
        yield made


def read_together(source: Readers) -> None:
    barrier = threading.Barrier(AT_ONCE)
    threads = [
        threading.Thread(target=lambda: source.run(lambda _db: barrier.wait(60)))
        for _ in range(AT_ONCE)
    ]
    for each in threads:
        each.start()
    for each in threads:
        each.join()


def test_threads_that_end_leave_no_connection_open(path: Path, opened: list[object]) -> None:
    source = Readers(path)
    for _ in range(3):
        read_together(source)
    source.close()
    assert len(opened) == AT_ONCE


def test_a_query_may_ask_another(path: Path, opened: list[object]) -> None:
    source = Readers(path)
    inner = source.run(lambda _db: source.run(lambda db: db.execute("SELECT 7").fetchone()))
    source.close()
    assert inner == (7,)
    assert len(opened) == 2


def test_a_refused_query_gives_its_connection_back(path: Path, opened: list[object]) -> None:
    source = Readers(path)
    for _ in range(3):
        with pytest.raises(StoreError, match="no such table: missing"):
            source.run(lambda db: db.execute("SELECT * FROM missing"))
    source.close()
    assert len(opened) == 1
