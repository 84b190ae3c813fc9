import json
import time
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from tests.web.running import Running

from twobowls.tasting.tasting import Tasting
from twobowls.web import live
from twobowls.web.seat_view import ChangeView, change_view


def events(response: httpx.Response) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield (id, data) of the change events of a stream."""
    number = ""
    for line in response.iter_lines():
        if line.startswith("id: "):
            number = line[4:]
        if line.startswith("data: {"):
            yield number, json.loads(line[6:])


def test_a_seat_hears_what_the_host_does(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    code = tasting.plan.bowls[0].code
    with guest.stream("GET", f"/api/seats/{seat_key}/stream") as response:
        assert response.headers["content-type"].startswith("text/event-stream")
        assert response.headers["cache-control"] == "no-store"
        heard = events(response)
        first = next(heard)
        server.store.pour(tasting.id, code, server.clock())
        poured = next(heard)
        server.store.call_round(tasting.id, "hot", server.clock())
        called = next(heard)
        server.store.close(tasting.id, server.clock())
        closed = next(heard)
    assert first[1]["state"] == "open"
    assert set(first[1]) == {
        "version",
        "state",
        "round",
        "poured",
        "set_aside",
        "readings",
        "now_ms",
    }
    assert first[1]["poured"] == {bowl.code: None for bowl in tasting.plan.bowls}
    assert poured[1]["poured"][code] == server.clock()
    assert called[1]["round"] == "hot"
    assert closed[1]["state"] == "closed"
    assert [int(number) for number, _ in (first, poured, called, closed)] == [3, 4, 5, 6]


def test_a_new_neighbour_is_no_news_to_a_seat(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    with guest.stream("GET", f"/api/seats/{seat_key}/stream") as response:
        heard = events(response)
        next(heard)
        server.store.call_round(tasting.id, "hot", server.clock())
        next(heard)
        server.store.join(tasting.id, "Ben", server.clock())
        server.store.call_round(tasting.id, "cool", server.clock())
        assert next(heard)[1]["round"] == "cool"


def test_who_comes_back_with_the_newest_version_is_not_told_again(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    version = server.store.tasting(tasting.id).version
    headers = {"last-event-id": str(version)}
    with guest.stream("GET", f"/api/seats/{seat_key}/stream", headers=headers) as response:
        heard = events(response)
        server.store.call_round(tasting.id, "hot", server.clock())
        assert next(heard)[0] == str(version + 1)


def test_a_quiet_stream_says_that_it_is_there(
    guest: httpx.Client, seat_key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live, "HEARTBEAT_S", 0.05)
    with guest.stream("GET", f"/api/seats/{seat_key}/stream") as response:
        lines = response.iter_lines()
        assert "event: beat" in [next(lines) for _ in range(9)]


def test_the_bench_hears_who_is_where(
    server: Running, host: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    code = tasting.plan.bowls[0].code
    with host.stream("GET", f"/tastings/{tasting.id}/stream") as response:
        heard = events(response)
        first = next(heard)[1]
        with server.guest() as guest:
            record = {
                "kind": "mark",
                "id": "a" * 32,
                "bowl": code,
                "sensation": "body",
                "round": "hot",
                "intensity": 1,
                "liking": 2,
                "at_ms": server.clock(),
            }
            body = {"records": [record, {**record, "id": "b" * 32}]}
            guest.post(f"/api/seats/{seat_key}/records", json=body)
        marked = next(heard)[1]
        server.store.join(tasting.id, "Ben", server.clock())
        joined = next(heard)[1]
    assert first["expected"] == {"hot": 28, "cool": 28}
    assert first["seats"][0]["marked"] == {}
    assert marked["seats"][0]["marked"] == {"hot": 1}  # one bowl and sensation, marked twice
    assert [seat["nickname"] for seat in joined["seats"]] == ["Ana", "Ben"]


def test_what_happens_while_a_stream_begins_is_told(
    server: Running,
    guest: httpx.Client,
    tasting: Tasting,
    seat_key: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def called_meanwhile(seen: Tasting, now_ms: int) -> ChangeView:
        view = change_view(seen, now_ms)
        server.store.call_round(tasting.id, "hot", server.clock())
        return view

    monkeypatch.setattr("twobowls.web.seat_api.change_view", called_meanwhile)
    with guest.stream("GET", f"/api/seats/{seat_key}/stream") as response:
        heard = told(response)
        assert next(heard)["round"] is None
        assert next(heard)["round"] == "hot"


def test_what_the_host_takes_back_is_told_to_whoever_came_in_between(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    path = f"/api/seats/{seat_key}/stream"
    with guest.stream("GET", path) as response:
        heard = told(response)
        next(heard)
        server.store.call_round(tasting.id, "hot", server.clock())
        assert next(heard)["round"] == "hot"
    while server.shield.app.state.live.count():  # the phone is gone, and nobody else is there
        time.sleep(0.01)
    server.store.call_round(tasting.id, "cool", server.clock())
    with guest.stream("GET", path) as response:
        heard = told(response)
        assert next(heard)["round"] == "cool"
        server.store.call_round(tasting.id, "hot", server.clock())  # a slip, taken back
        assert next(heard)["round"] == "hot"


def mark_record(tasting: Tasting, number: int, at_ms: int) -> dict[str, Any]:
    return {
        "kind": "mark",
        "id": f"{number:032x}",
        "bowl": tasting.plan.bowls[0].code,
        "sensation": "body",
        "round": "hot",
        "intensity": 1,
        "liking": 2,
        "at_ms": at_ms,
    }


def named(response: httpx.Response, name: str) -> Iterator[dict[str, Any]]:
    """Yield the data of the events of one name."""
    event = ""
    for line in response.iter_lines():
        event = line[7:] if line.startswith("event: ") else event
        if line.startswith("data: {") and event == name:
            yield json.loads(line[6:])


def test_the_devices_of_one_seat_hear_of_each_others_records_and_nobody_else_does(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    _seat, neighbour_key = server.store.join(tasting.id, "Ben", server.clock())
    path = f"/api/seats/{seat_key}"
    with (
        server.guest() as other,
        guest.stream("GET", f"{path}/stream") as one,
        other.stream("GET", f"{path}/stream") as two,
        server.guest() as third,
        third.stream("GET", f"/api/seats/{neighbour_key}/stream") as neighbour,
    ):
        record = mark_record(tasting, 1, server.clock())
        with server.guest() as phone:
            phone.post(f"{path}/records", json={"records": [record]})
            for stream in (one, two):
                assert next(named(stream, "records")) == {"arrivals": 1, "ids": [record["id"]]}
            table = phone.get(path).json()
            assert (table["arrivals"], len(table["records"])) == (1, 1)
        server.store.call_round(tasting.id, "hot", server.clock())
        seen = []
        for line in neighbour.iter_lines():
            seen.append(line)
            if '"round":"hot"' in line:
                break
        assert "event: records" not in seen
    with server.guest() as late, late.stream("GET", f"{path}/stream") as stream:
        assert next(named(stream, "records")) == {"arrivals": 1, "ids": []}


def test_a_device_alone_is_not_told_what_it_has_sent(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    path = f"/api/seats/{seat_key}"
    with guest.stream("GET", f"{path}/stream") as stream, server.guest() as phone:
        lines = stream.iter_lines()
        while next(lines) != "event: change":
            pass
        record = mark_record(tasting, 2, server.clock())
        phone.post(f"{path}/records", json={"records": [record]})
        server.store.call_round(tasting.id, "hot", server.clock())
        rest = [next(lines) for _ in range(5)]
    assert "event: change" in rest
    assert "event: records" not in rest


def test_the_wall_hears_who_takes_part(
    server: Running, guest: httpx.Client, host: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    server.store.join(tasting.id, "Ghost", server.clock())
    _seat, key = server.store.join(tasting.id, "Maker", server.clock())
    path = f"/api/seats/{key}/records"
    note = {"kind": "note", "bowl": tasting.plan.bowls[0].code, "text": "hm", "round": "hot"}
    guest.post(path, json={"records": [{**note, "id": "c" * 32, "at_ms": server.clock()}]})

    def taking_part(bench: dict[str, Any]) -> list[str]:
        return [each["nickname"] for each in bench["seats"] if each["taking_part"]]

    with host.stream("GET", f"/tastings/{tasting.id}/stream") as response:
        heard = told(response)
        assert taking_part(next(heard)) == ["Maker"]
        with server.guest() as phone, phone.stream("GET", f"/api/seats/{seat_key}/stream") as own:
            seat_hears = events(own)  # kept: a stream that nobody reads any more is closed
            next(seat_hears)
            while taking_part(next(heard)) != ["Ana", "Maker"]:  # or else nothing is told
                pass
        while taking_part(next(heard)) != ["Maker"]:
            pass


def told(response: httpx.Response) -> Iterator[dict[str, Any]]:
    """Yield what a stream tells; fail where it has nothing to tell but that it is there."""
    for line in response.iter_lines():
        assert not line.startswith("event: beat"), "nothing was told"
        if line.startswith("data: "):
            yield json.loads(line[6:])


def test_a_stream_that_is_left_is_forgotten(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    with guest.stream("GET", f"/api/seats/{seat_key}/stream") as response:
        next(events(response))
    server.store.call_round(tasting.id, "hot", server.clock())
    with server.guest() as other, other.stream("GET", f"/api/seats/{seat_key}/stream") as response:
        assert next(events(response))[1]["round"] == "hot"
