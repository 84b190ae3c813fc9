"""What the host puts right by plain forms, and what the debrief makes of it."""

import re

import httpx
import pytest
from tests.store.tables import add_table, mark
from tests.web.running import Running

from twobowls.tasting.tasting import Seat, Tasting


@pytest.fixture
def two(server: Running, tasting: Tasting) -> tuple[Seat, Seat]:
    """Two people who have marked every bowl."""
    store, now = server.store, server.clock()
    first, second = (store.join(tasting.id, name, now)[0] for name in ("Ana", "Ben"))
    for seat in (first, second):
        codes = [bowl.code for bowl in tasting.plan.bowls]
        store.add_records(seat.id, [mark(seat.id, code, at_ms=now) for code in codes], now)
    return first, second


def put_right(host: httpx.Client, tasting: Tasting, what: str, **data: object) -> httpx.Response:
    return host.post(f"/tastings/{tasting.id}/corrections", data={"what": what, **data})


def marks(host: httpx.Client, tasting: Tasting) -> list[tuple[str, str, str]]:
    """Return (seat, coffee, bowl) of each exported mark."""
    text = host.get(f"/tastings/{tasting.id}/marks.csv").text.lstrip("\ufeff")
    head, *rows = (line.split(",") for line in text.splitlines())
    places = [head.index(name) for name in ("seat", "coffee", "bowl")]
    return [(row[places[0]], row[places[1]], row[places[2]]) for row in rows]


def test_a_bowl_that_is_set_aside_goes_on_being_saved_and_does_not_count(
    server: Running, host: httpx.Client, tasting: Tasting, two: tuple[Seat, Seat]
) -> None:
    code, store = tasting.plan.bowls[0].code, server.store
    answer = put_right(host, tasting, "set-aside", bowl=code)
    assert answer.status_code == 303
    assert "is kept and does not count" in host.get(answer.headers["location"]).text
    late = mark(two[0].id, code, at_ms=server.clock(), sensation="body")
    assert store.add_records(two[0].id, [late], server.clock()).saved == (late.id,)
    store.close(tasting.id, server.clock())
    assert code not in {row[2] for row in marks(host, tasting)}
    assert late.id in {each.id for each in store.records(tasting.id)}
    assert host.get(f"/tastings/{tasting.id}/debrief").status_code == 200
    put_right(host, tasting, "bring-back", bowl=code)
    assert [row[2] for row in marks(host, tasting)].count(code) == 3


def test_the_last_bowl_cannot_be_set_aside(host: httpx.Client, tasting: Tasting) -> None:
    *others, last = (bowl.code for bowl in tasting.plan.bowls)
    for code in others:
        assert put_right(host, tasting, "set-aside", bowl=code).status_code == 303
    answer = put_right(host, tasting, "set-aside", bowl=last)
    assert answer.status_code == 409
    assert "This is the last bowl on the table" in answer.text


def test_a_coffee_is_corrected_after_the_reveal_and_debriefs_are_made_anew(
    server: Running, host: httpx.Client, tasting: Tasting, two: tuple[Seat, Seat]
) -> None:
    server.store.close(tasting.id, server.clock())
    server.store.reveal(tasting.id, server.clock())
    bowl = tasting.plan.bowls[0]
    before = {code: coffee for _seat, coffee, code in marks(host, tasting)}
    other = next(b for b in tasting.plan.bowls if b.coffee_id != bowl.coffee_id)
    put_right(host, tasting, "coffee", bowl=bowl.code, coffee=other.coffee_id)
    after = {code: coffee for _seat, coffee, code in marks(host, tasting)}
    assert before[bowl.code] != before[other.code]
    assert after == before | {bowl.code: before[other.code]}


def test_a_blind_host_cannot_name_coffees_before_the_reveal(
    server: Running, host: httpx.Client
) -> None:
    tasting = add_table(server.store, host_tastes=True)
    page = host.get(f"/tastings/{tasting.id}/corrections").text
    assert "this page does not know the coffees" in page
    assert "Alder Gate" not in page
    code, coffee = tasting.plan.bowls[0].code, tasting.setup.coffee_ids[0]
    answer = put_right(host, tasting, "coffee", bowl=code, coffee=coffee)
    assert answer.status_code == 409
    assert server.store.tasting(tasting.id).plan == tasting.plan


def test_a_reading_is_removed_and_the_clocks_follow(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    code, store = tasting.plan.bowls[0].code, server.store
    store.pour(tasting.id, code, server.clock())
    server.clock.now_ms += 480_000
    clocks = f"/tastings/{tasting.id}/clock.json"
    before = host.get(clocks).json()
    store.probe(tasting.id, code, 60.0, server.clock())
    assert host.get(clocks).json()["first_sip_s"] != before["first_sip_s"]
    page = host.get(f"/tastings/{tasting.id}/corrections").text
    read_ms = re.search(r'name="read_ms" value="(\d+)"', page)
    assert read_ms is not None
    put_right(host, tasting, "unprobe", bowl=code, read_ms=read_ms[1])
    assert host.get(clocks).json() == before
    again = put_right(host, tasting, "unprobe", bowl=code, read_ms=read_ms[1])
    assert (again.status_code, "It is not there any more." in again.text) == (400, True)


def test_seats_are_renamed_removed_merged_and_restored(
    server: Running, host: httpx.Client, tasting: Tasting, two: tuple[Seat, Seat]
) -> None:
    first, second = two
    server.store.close(tasting.id, server.clock())
    put_right(host, tasting, "rename-seat", seat=first.id, nickname="Anna")
    assert server.store.tasting(tasting.id).seats[0].nickname == "Anna"
    taken = put_right(host, tasting, "rename-seat", seat=first.id, nickname="Ben")
    assert (taken.status_code, "Anna" in taken.text) == (409, True)
    put_right(host, tasting, "remove-seat", seat=second.id)
    assert {row[0] for row in marks(host, tasting)} == {"1"}
    put_right(host, tasting, "restore-seat", seat=second.id)
    put_right(host, tasting, "merge-seat", seat=second.id, into=first.id)
    assert [row[0] for row in marks(host, tasting)] == ["1"] * 8
    refused = put_right(host, tasting, "remove-seat", seat=first.id)
    assert "Another seat counts as this one" in refused.text
    put_right(host, tasting, "restore-seat", seat=second.id)
    assert sorted({row[0] for row in marks(host, tasting)}) == ["1", "2"]


@pytest.mark.parametrize("what", ["remove-seat", "merge-seat"])
def test_who_does_not_count_still_has_a_debrief(
    server: Running, host: httpx.Client, guest: httpx.Client, tasting: Tasting, what: str
) -> None:
    seat, key = server.store.join(tasting.id, "Ana", server.clock())
    other, _key = server.store.join(tasting.id, "Ben", server.clock())
    for each in (seat, other):
        records = [mark(each.id, b.code, at_ms=server.clock()) for b in tasting.plan.bowls]
        server.store.add_records(each.id, records, server.clock())
    put_right(host, tasting, what, seat=seat.id, into=other.id)
    server.store.close(tasting.id, server.clock())
    assert guest.get(f"/seat/{key}/debrief").status_code == 200


def test_a_tasting_is_renamed(server: Running, host: httpx.Client, tasting: Tasting) -> None:
    assert put_right(host, tasting, "rename", name=" ").status_code == 400
    assert put_right(host, tasting, "rename", name="x" * 81).status_code == 400  # as in a plan
    put_right(host, tasting, "rename", name="Late breakfast")
    assert server.store.tasting(tasting.id).setup.name == "Late breakfast"
    assert "Late breakfast" in host.get(f"/tastings/{tasting.id}/bench").text


def test_corrections_are_the_host_s(guest: httpx.Client, tasting: Tasting) -> None:
    assert guest.get(f"/tastings/{tasting.id}/corrections").status_code in (303, 403)
    answer = put_right(guest, tasting, "rename", name="Mine")
    assert answer.status_code in (303, 403)
    assert "Mine" not in guest.get("/join").text


def test_a_bowl_found_otherwise_is_corrected_at_the_reveal(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    server.store.close(tasting.id, server.clock())
    reveal = f"/tastings/{tasting.id}/reveal"
    assert "Look first, and correct what was poured otherwise" in host.get(reveal).text
    found = {bowl.code: bowl.coffee_id for bowl in tasting.plan.bowls}
    code = next(iter(found))
    found[code] = next(each for each in tasting.setup.coffee_ids if each != found[code])
    answer = host.post(reveal, data={f"bowl_{key}": value for key, value in found.items()})
    assert answer.status_code == 303
    now = server.store.tasting(tasting.id)
    assert {bowl.code: bowl.coffee_id for bowl in now.plan.bowls} == found


def test_a_late_reveal_is_taken_as_found(server: Running, host: httpx.Client) -> None:
    tasting = server.store.open(add_table(server.store, host_tastes=True).id, server.clock())
    server.store.close(tasting.id, server.clock())
    reveal, only = f"/tastings/{tasting.id}/reveal", tasting.setup.coffee_ids[0]
    given = {f"bowl_{bowl.code}": only for bowl in tasting.plan.bowls}
    asked = host.post(reveal, data=given)
    assert (asked.status_code, "I found it so" in asked.text) == (400, True)
    assert host.post(reveal, data={**given, "as_found": "1"}).status_code == 303
    now = server.store.tasting(tasting.id)
    assert {bowl.coffee_id for bowl in now.plan.bowls} == {only}


def test_phones_are_told_which_bowl_is_set_aside_and_nothing_of_its_coffee(
    server: Running, host: httpx.Client, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    code = tasting.plan.bowls[0].code
    put_right(host, tasting, "set-aside", bowl=code)
    told = guest.get(f"/api/seats/{seat_key}")
    assert told.json()["set_aside"] == [code]
    with guest.stream("GET", f"/api/seats/{seat_key}/stream") as stream:
        change = next(stream.iter_text())
    assert f'"set_aside":["{code}"]' in change
    other = next(b for b in tasting.plan.bowls if b.coffee_id != tasting.plan.bowls[0].coffee_id)
    put_right(host, tasting, "coffee", bowl=code, coffee=other.coffee_id)
    after = guest.get(f"/api/seats/{seat_key}").json()
    assert after == {**told.json(), "version": after["version"]}
    assert not any(coffee in told.text for coffee in tasting.setup.coffee_ids)
