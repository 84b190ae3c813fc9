"""Debriefs are worked out once, and apart from everything else that the server does."""

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from secrets import token_hex

import httpx
import pytest
from tests.store.tables import MINUTE, mark
from tests.web.running import Running

from twobowls.debrief.tables import Evening
from twobowls.debrief.tasting_debrief import TastingDebrief, debrief_of
from twobowls.tasting.tasting import Tasting
from twobowls.web import debrief_cache


class Slow:
    """Works debriefs out as ever, but begins only when it is let; counts how often."""

    def __init__(self) -> None:
        self.count = 0
        self.at_once = 0
        self.begun = threading.Event()
        self.let = threading.Event()

    def __call__(self, night: Evening) -> TastingDebrief:
        self.count += 1
        self.at_once += 1
        assert self.at_once == 1
        self.begun.set()
        assert self.let.wait(60)
        found = debrief_of(night)
        self.at_once -= 1
        return found


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Slow:
    made = Slow()
    monkeypatch.setattr(debrief_cache, "debrief_of", made)
    return made


@pytest.fixture
def closed(server: Running, tasting: Tasting, seat_key: str) -> Tasting:
    """A closed tasting; one seat has marked every bowl, and the marks of another may be late."""
    server.store.join(tasting.id, "Bea", server.clock())
    seat = server.store.seat_by_key(seat_key)[1]
    made = [
        mark(seat.id, bowl.code, intensity=20.0 * place, at_ms=server.clock())
        for place, bowl in enumerate(tasting.plan.bowls)
    ]
    server.store.add_records(seat.id, made, server.clock())
    server.clock.now_ms += MINUTE
    return server.store.close(tasting.id, server.clock())


def late_mark(server: Running, tasting: Tasting, intensity: float = 90.0) -> int:
    """Send a mark that Bea made before the closing; return the status of the answer."""
    bea = next(each.id for each in tasting.seats if each.nickname == "Bea")
    key = server.store.seat_keys(tasting.id)[bea]
    record = {
        "kind": "mark",
        "id": token_hex(16),
        "bowl": tasting.plan.bowls[0].code,
        "sensation": "verdict",
        "round": "hot",
        "intensity": intensity,
        "liking": 50.0,
        "at_ms": server.clock() - MINUTE,
    }
    with server.guest() as phone:
        answer = phone.post(f"/api/seats/{key}/records", json={"records": [record]}, timeout=10)
    return answer.status_code


def eventually(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_fifty_at_once_are_worked_out_once_or_twice_and_marks_go_on(
    server: Running, closed: Tasting, seat_key: str, slow: Slow
) -> None:
    def ask(_number: int) -> int:
        with server.guest() as phone:
            return phone.get(f"/seat/{seat_key}/debrief").status_code

    with ThreadPoolExecutor(50) as phones:
        asked = [phones.submit(ask, number) for number in range(50)]
        try:
            assert slow.begun.wait(60)
            # every one of them waits, and still each batch and each other page is answered
            for number in range(10):
                assert late_mark(server, closed, 60.0 + number) == 200
            with server.guest() as guest:
                assert guest.get("/join", timeout=10).status_code == 200
            assert not any(each.done() for each in asked)
        finally:
            slow.let.set()
        assert {each.result(60) for each in asked} == {200}
    assert 1 <= slow.count <= 2


def test_while_late_marks_are_worked_in_the_page_is_there_as_it_was(
    server: Running,
    host: httpx.Client,
    guest: httpx.Client,
    closed: Tasting,
    seat_key: str,
    slow: Slow,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(debrief_cache, "PATIENCE_S", 0.1)
    slow.let.set()
    asked = [(host, f"/tastings/{closed.id}/debrief"), (guest, f"/seat/{seat_key}/debrief")]
    assert all("More marks came in" not in who.get(path).text for who, path in asked)
    slow.let.clear()
    assert late_mark(server, closed) == 200
    for who, path in asked:
        page = who.get(path)
        assert page.status_code == 200
        assert "More marks came in just now and are being worked in." in page.text
    slow.let.set()
    eventually(lambda: all("More marks came in" not in who.get(path).text for who, path in asked))
    assert slow.count == 2


def test_a_reveal_is_never_answered_with_the_page_from_before(
    server: Running,
    host: httpx.Client,
    closed: Tasting,
    slow: Slow,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(debrief_cache, "PATIENCE_S", 0.0)
    slow.let.set()
    path = f"/tastings/{closed.id}/debrief"
    assert "not revealed yet" in host.get(path).text
    server.store.reveal(closed.id, server.clock())
    assert "not revealed yet" not in host.get(path).text


def test_the_files_of_marks_and_picks_need_nothing_worked_out(
    host: httpx.Client, closed: Tasting, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_night: Evening) -> TastingDebrief:
        raise AssertionError("nothing is to be worked out for a file of records")

    monkeypatch.setattr(debrief_cache, "debrief_of", broken)
    root = f"/tastings/{closed.id}"
    assert host.get(f"{root}/marks.csv").text.count("\n") == 1 + len(closed.plan.bowls)
    assert host.get(f"{root}/picks.csv").text.count("\n") == 1
