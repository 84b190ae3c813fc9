"""The page for the wall: no marks before the close, no names before the reveal, nobody's at all."""

import json
import re
from typing import Any

import httpx
from tests.store.tables import add_table, mark
from tests.web.running import Running

from twobowls.tasting.tasting import Tasting


def marked(server: Running, tasting: Tasting, *, people: int = 2) -> list[str]:
    """Let people mark every bowl once, and one of them change their mind; return the codes."""
    codes = [bowl.code for bowl in tasting.plan.bowls]
    for number in range(people):
        seat, _key = server.store.join(tasting.id, f"Guest {number}", server.clock())
        marks = [
            mark(seat.id, code, intensity=10.4 * place + number, at_ms=server.clock())
            for place, code in enumerate(codes)
        ]
        server.store.add_records(seat.id, marks, server.clock())
    server.clock.now_ms += 1000
    again = mark(seat.id, codes[0], intensity=77.0, liking=12.0, at_ms=server.clock())
    half = mark(seat.id, codes[1], sensation="body", liking=None, at_ms=server.clock())
    server.store.add_records(seat.id, [again, half], server.clock())
    return codes


def shown(host: httpx.Client, tasting: Tasting) -> dict[str, Any]:
    answer = host.get(f"/tastings/{tasting.id}/projector.json")
    assert answer.status_code == 200
    assert answer.headers["cache-control"] == "no-store"
    found: dict[str, Any] = answer.json()
    return found


def test_nobody_sees_anothers_marks_before_the_close(
    server: Running, host: httpx.Client, planned: Tasting
) -> None:
    path = f"/tastings/{planned.id}/projector.json"
    assert host.get(path).status_code == 409
    server.store.open(planned.id, server.clock())
    marked(server, planned)
    answer = host.get(path)
    assert answer.status_code == 409
    assert answer.json()["error"]["message"] == (
        "The table's marks are shown once the tasting has closed."
    )
    page = host.get(f"/tastings/{planned.id}/projector").text
    assert "Guest 0" not in page
    assert not re.search(r"\b77\b", page)  # ids and digests may hold these digits among others


def test_once_closed_the_marks_that_count_are_there_without_their_makers(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    codes = marked(server, tasting)
    server.store.close(tasting.id, server.clock())
    told = shown(host, tasting)
    assert told["state"] == "closed"
    assert told["bowls"] == [{"code": code, "coffee": ""} for code in sorted(codes)]
    acidity = next(pad for pad in told["pads"] if pad["key"] == "acidity")
    assert acidity["rounds"] == {
        "hot": {
            codes[0]: [[0, 60], [77, 12]],
            codes[1]: [[10, 60], [11, 60]],
            codes[2]: [[21, 60], [22, 60]],
            codes[3]: [[31, 60], [32, 60]],
        }
    }
    assert [pad["key"] for pad in told["pads"]] == [
        "aroma",
        "acidity",
        "bitterness",
        "sweetness",
        "body",
        "aftertaste",
        "verdict",
    ]
    assert all(pad["rounds"] == {} for pad in told["pads"] if pad is not acidity)
    text = json.dumps(told)
    for seat in server.store.tasting(tasting.id).seats:
        assert seat.id not in text
        assert seat.nickname not in text


def test_names_come_with_the_reveal(server: Running, host: httpx.Client, tasting: Tasting) -> None:
    marked(server, tasting)
    server.store.close(tasting.id, server.clock())
    assert "Alder Gate" not in json.dumps(shown(host, tasting))
    server.store.reveal(tasting.id, server.clock(), {})
    names = {each["code"]: each["coffee"] for each in shown(host, tasting)["bowls"]}
    assert sorted(names.values()) == ["Alder Gate", "Alder Gate", "Bellwether", "Copper Lane"]
    coffees = {each.id: each.name for each in server.store.coffees(include_archived=True)}
    for bowl in tasting.plan.bowls:
        assert names[bowl.code] == coffees[bowl.coffee_id or ""]


def test_a_late_mark_is_on_the_wall_too(
    server: Running, host: httpx.Client, guest: httpx.Client, tasting: Tasting
) -> None:
    seat, key = server.store.join(tasting.id, "Ana", server.clock())
    made_ms = server.clock()
    server.clock.now_ms += 5000
    server.store.close(tasting.id, server.clock())
    assert all(pad["rounds"] == {} for pad in shown(host, tasting)["pads"])
    code = tasting.plan.bowls[0].code
    late = {
        "kind": "mark",
        "id": "a" * 32,
        "bowl": code,
        "sensation": "body",
        "round": "hot",
        "intensity": 50,
        "liking": 50,
        "at_ms": made_ms,
    }
    answer = guest.post(f"/api/seats/{key}/records", json={"records": [late]})
    assert answer.json()["saved"] == ["a" * 32]
    body = next(pad for pad in shown(host, tasting)["pads"] if pad["key"] == "body")
    assert body["rounds"] == {"hot": {code: [[50, 50]]}}
    assert seat.id not in host.get(f"/tastings/{tasting.id}/projector.json").text


def test_the_wall_is_for_the_host_to_show(
    server: Running, host: httpx.Client, guest: httpx.Client
) -> None:
    tasting = add_table(server.store)
    for path in ("projector", "projector.json"):
        answer = guest.get(f"/tastings/{tasting.id}/{path}")
        assert answer.status_code == 403
    page = host.get(f"/tastings/{tasting.id}/projector")
    assert page.headers["cache-control"] == "no-store"
    places = [page.text.index(f'data-bowl="{b.code}"') for b in tasting.plan.bowls]
    codes = [bowl.code for bowl in tasting.plan.bowls]
    assert sorted(codes) == [code for _, code in sorted(zip(places, codes, strict=True))]
