"""The abuse run tells a server that keeps its promises from one that does not."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from benchmarks.load.serving import Served
from benchmarks.load.table import Table
from scripts.abuse import __main__ as abuse
from scripts.abuse import doors, lines, records
from scripts.abuse.caller import Finding, Target
from tests.store.tables import add_table
from tests.web.running import HOST_KEY, Running, host_cookie, running

from twobowls.web.limits import Pace


@contextmanager
def target(path: Path) -> Iterator[tuple[Running, Target]]:
    with running(path) as server:
        table = add_table(server.store)
        tasting = server.store.open(table.id, server.clock())
        host, port = server.address.removeprefix("http://").split(":")
        served = Served((host, int(port)), HOST_KEY, os.getpid())
        codes = tuple(bowl.code for bowl in tasting.plan.bowls)
        laid = Table(path, tasting.id, tasting.join_code, codes)
        yield server, Target(served, laid, tasting.id, host_cookie())


def test_promises_that_are_kept_are_said_to_hold(tmp_path: Path) -> None:
    with target(tmp_path / "store.sqlite3") as (_server, tried):
        for promise in (lines.long_head, doors.odd_paths, doors.other_sites, doors.closed_door):
            assert promise(tried).held, promise.__doc__
        assert records.unreadable(tried) == Finding(True, "answered 400")
        assert records.control_characters(tried) == Finding(True, "kept: 'A[31m', ['red [31m']")
        assert records.replayed_batch(tried).held
        assert doors.join_flood(tried).held


def test_promises_that_are_broken_are_said_to_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("twobowls.web.doors.protocol.MOST_HEAD_BYTES", 10**9)
    with target(tmp_path / "store.sqlite3") as (server, tried):
        assert not lines.long_head(tried).held
        server.shield.app.state.limits.seats = Pace(500, 1.0)
        assert not doors.join_flood(tried).held
        server.shield.app.state.limits.codes = Pace(500, 1.0)
        assert not doors.wrong_codes(tried).held


def test_a_server_that_does_not_answer_keeps_no_promise(tmp_path: Path) -> None:
    with target(tmp_path / "store.sqlite3") as (_server, tried):
        pass
    finding = abuse.attempt(lines.long_head, tried)
    assert not finding.held
    assert "ConnectionRefusedError" in finding.figure


def test_every_promise_is_a_sentence_and_is_tried_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    promises = [*abuse.WAITING, *abuse.ONE_BY_ONE]
    assert len(set(promises)) == len(promises)
    for each in promises:
        abuse.told(each, Finding(False, "7 of 9"))
    told = capsys.readouterr().out.splitlines()
    assert len(set(told)) == len(promises)
    assert all(line.startswith("BROKE  ") and line.endswith(": 7 of 9") for line in told)
