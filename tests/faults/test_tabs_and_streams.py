"""Two tabs of one seat at once, and live streams over a restart."""

import threading
from pathlib import Path

import httpx
import pytest
from tests.faults.laptop import Laptop, first_change, running
from tests.faults.table import Phone, check_kept, set_table


def test_two_tabs_of_one_seat_post_the_same_and_their_own(tmp_path: Path) -> None:
    table = set_table(tmp_path / "store.sqlite3", 1)
    (seat,) = table.phones
    tabs = [Phone(seat.key, seat.codes, seat.now_ms + shift) for shift in (0, 1_000_000)]
    odd: list[str] = []
    with running(table.store) as laptop:
        laptop.start()
        start = threading.Barrier(len(tabs))

        def post(own: Phone, other: Phone) -> None:
            with laptop.guest() as browser:
                for turn in range(60):
                    own.mark()
                    own.mark()
                    if turn == 0:  # whichever sends first, the other has marks waiting to adopt
                        start.wait(60)
                    other_waits = list(other.waiting)  # one tab tells the other what it has made
                    own.waiting += [each for each in other_waits if each not in own.waiting]
                    answer = own.send(browser)
                    if answer.status_code != 200 or answer.json()["refused"]:
                        odd.append(answer.text)

        threads = [
            threading.Thread(target=post, args=(own, other))
            for own, other in (tabs, reversed(tabs))
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(120)
            assert not thread.is_alive()
        with laptop.guest() as browser:
            held = tabs[0].on_the_laptop(browser)
        laptop.stop()
    assert odd == []
    seat.saved = [each for tab in tabs for each in tab.saved]
    seat.waiting = [each for tab in tabs for each in tab.waiting]
    check_kept(table, table.found())
    assert len(held) == len(set(held)) == 240
    assert len(seat.saved) > 240  # some were indeed sent by both


def call(laptop: Laptop, tasting_id: str, name: str) -> None:
    with laptop.host() as host:
        assert host.post(f"/tastings/{tasting_id}/round", data={"round": name}).is_success


@pytest.mark.parametrize("end", ["kill", "stop"])
def test_a_stream_catches_up_after_a_restart(tmp_path: Path, end: str) -> None:
    table = set_table(tmp_path / "store.sqlite3", 1)
    path = f"/api/seats/{table.phones[0].key}/stream"
    with running(table.store) as laptop:
        laptop.start()
        call(laptop, table.tasting_id, "hot")
        with laptop.guest() as browser, browser.stream("GET", path) as stream:
            lines = stream.iter_lines()
            assert next(lines) == "retry: 2000"  # the browser comes back by itself
            assert next(lines) == ""
            known = next(lines).removeprefix("id: ")
            getattr(laptop, end)()
            try:
                rest = list(lines)
            except httpx.RemoteProtocolError:  # killed in the middle of it
                rest = []
            assert not any(line.startswith("id: ") for line in rest)
        port = laptop.port
        laptop.start(port)
        assert laptop.port == port
        caught_up = int(known) + 1
        with laptop.guest() as browser:
            # Nothing has happened since: the first thing told is what happens next.
            with browser.stream("GET", path, headers={"last-event-id": known}) as stream:
                lines = stream.iter_lines()
                assert [next(lines), next(lines)] == ["retry: 2000", ""]
                call(laptop, table.tasting_id, "cool")
                assert next(lines) == f"id: {caught_up}"
            # Cut off again: what was missed is told at once.
            with browser.stream("GET", path, headers={"last-event-id": known}) as stream:
                change = first_change(stream)
                assert (change["version"], change["round"]) == (caught_up, "cool")
        laptop.stop()
