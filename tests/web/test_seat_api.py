import json
import secrets
from typing import Any

import httpx
import pytest
from tests.web.running import Running

from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.tasting import Tasting


def mark(bowl: str, **given: Any) -> dict[str, Any]:
    fields = {
        "kind": "mark",
        "id": secrets.token_hex(16),
        "bowl": bowl,
        "sensation": "acidity",
        "round": "hot",
        "intensity": 40.0,
        "liking": None,
        "at_ms": 1_795_600_000_000,
        "kept": False,
    }
    return {**fields, **given}


def post(guest: httpx.Client, key: str, records: list[dict[str, Any]]) -> httpx.Response:
    return guest.post(f"/api/seats/{key}/records", json={"records": records})


def test_a_seat_gets_everything_it_needs(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    code = tasting.plan.bowls[1].code
    server.store.pour(tasting.id, code, server.clock())
    answer = guest.get(f"/api/seats/{seat_key}")
    assert answer.headers["cache-control"] == "no-store"
    state = answer.json()
    assert state["tasting"] == {
        "name": "Test table",
        "state": "open",
        "names_in_files": False,
    }
    assert (state["seat"]["number"], state["seat"]["nickname"]) == (1, "Ana")
    assert state["now_ms"] == server.clock()
    assert state["version"] == 4
    assert state["round"] is None
    assert [each["key"] for each in state["rounds"]] == ["hot", "cool"]
    assert state["flights"] == [list(tasting.plan.orders[0].codes)]
    assert state["bowls"][code] == {"poured_at_ms": server.clock()}
    assert list(state["bowls"]) == sorted(state["bowls"])
    assert state["cooling"][0][0] == 0
    assert state["cooling"][-1][0] == 3600
    assert state["clock"]["break_s"] == 240
    assert set(state["clock"]["rounds"]) == {"hot", "cool"}
    assert [each["key"] for each in state["sensations"]] == [each.key for each in SENSATIONS]
    assert state["families"][0]["terms"][0]["name"]
    assert state["cautions"][0]["source"]
    assert state["records"] == []


def test_records_are_saved_and_come_back(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    a, b = (bowl.code for bowl in tasting.plan.bowls[:2])
    records = [
        mark(a),
        {
            "kind": "pick",
            "id": secrets.token_hex(16),
            "bowl_a": a,
            "bowl_b": b,
            "sensation": "acidity",
            "round": "hot",
            "question": "more",
            "answer": "same",
            "at_ms": server.clock(),
        },
        {
            "kind": "word",
            "id": secrets.token_hex(16),
            "bowl": a,
            "family": "fruity",
            "term": "citrus",
            "feeling": "liked",
            "round": "hot",
            "at_ms": server.clock(),
        },
        {
            "kind": "note",
            "id": secrets.token_hex(16),
            "bowl": b,
            "text": "<script>alert(1)</script> ☕",
            "round": "cool",
            "at_ms": server.clock(),
        },
    ]
    answer = post(guest, seat_key, records)
    assert answer.json() == {
        "saved": [each["id"] for each in records],
        "refused": [],
        "now_ms": server.clock(),
    }
    assert guest.get(f"/api/seats/{seat_key}").json()["records"] == records
    assert len(server.store.records(tasting.id)) == 4


def test_a_batch_sent_twice_is_saved_twice_and_counts_once(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    batch = [mark(bowl.code) for bowl in tasting.plan.bowls]
    first, second = post(guest, seat_key, batch), post(guest, seat_key, batch[::-1])
    assert sorted(first.json()["saved"]) == sorted(second.json()["saved"])
    assert [record.id for record in server.store.records(tasting.id)] == [b["id"] for b in batch]
    assert len(guest.get(f"/api/seats/{seat_key}").json()["records"]) == 4


def test_a_note_holds_nothing_that_cannot_be_seen(
    guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    note = {"kind": "note", "id": secrets.token_hex(16), "round": "hot", "at_ms": 1}
    note |= {"bowl": tasting.plan.bowls[0].code, "text": "plum\x0b\x00 and\n\u200dtea\x1b"}
    assert post(guest, seat_key, [note]).json()["saved"] == [note["id"]]
    (kept,) = guest.get(f"/api/seats/{seat_key}").json()["records"]
    assert kept["text"] == "plum and\n\u200dtea"


def test_half_an_emoji_at_the_end_of_a_note_holds_up_nothing(
    guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    code = tasting.plan.bowls[0].code
    note = {"kind": "note", "id": secrets.token_hex(16), "round": "hot", "at_ms": 1, "bowl": code}
    note |= {"text": "\\ud800 \U0001fad6 cut \ud83e"}  # as a field of limited length cuts it
    marked = mark(code)
    body = json.dumps({"records": [marked, note]}).encode()
    answer = guest.post(f"/api/seats/{seat_key}/records", content=body)
    assert answer.json()["saved"] == [marked["id"], note["id"]]
    kept = guest.get(f"/api/seats/{seat_key}").json()["records"]
    assert kept[1]["text"] == "\\ud800 \U0001fad6 cut \N{REPLACEMENT CHARACTER}"


def test_one_spoilt_record_does_not_hold_up_the_others(
    guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    code = tasting.plan.bowls[0].code
    good = mark(code)
    spoilt = [
        mark(code, intensity=101),
        mark(code, intensity="strong"),
        mark(code, sensation=None),
        mark(code, kind="vote"),
        mark("000"),
        {
            "kind": "note",
            "id": secrets.token_hex(16),
            "bowl": code,
            "text": "x" * 2001,
            "round": "hot",
            "at_ms": 1,
        },
    ]
    answer = post(guest, seat_key, [*spoilt, good])
    assert answer.status_code == 200
    assert answer.json()["saved"] == [good["id"]]
    refused = {each["id"]: each["error"] for each in answer.json()["refused"]}
    assert set(refused) == {each["id"] for each in spoilt}
    assert refused[spoilt[0]["id"]] == "Expected `float` <= 100.0, in intensity."
    assert refused[spoilt[4]["id"]] == "There is no bowl 000 in this tasting."
    assert refused[spoilt[5]["id"]] == "Expected `str` of length <= 2000, in text."


@pytest.mark.parametrize(
    ("body", "field", "text"),
    [
        (b"", "body", "It is not JSON"),
        (b"{", "body", "It is not JSON"),
        (b"\xff\xfe", "body", "It is not JSON"),
        (b"[]", "records", 'Send {"records": [...]} with at most 500 records.'),
        (b"{}", "records", 'Send {"records": [...]} with at most 500 records.'),
        (b'{"records": [1]}', "records[0].id", "Give each record an id of its own."),
        (b'{"records": [{"id": "zz"}]}', "records[0].id", "It is not 32 hex digits."),
        (
            b'{"records": [{"id": "' + b"g" * 32 + b'"}]}',
            "records[0].id",
            "It is not 32 hex digits.",
        ),
        (b'{"records": [' + b"1," * 500 + b"1]}", "records", "with at most 500 records"),
        (b"[" * 5000, "records", "Send"),
    ],
    ids=["empty", "cut", "bytes", "list", "bare", "number", "short", "nohex", "many", "deep"],
)
def test_a_malformed_body_says_what_is_wrong(
    guest: httpx.Client, seat_key: str, body: bytes, field: str, text: str
) -> None:
    answer = guest.post(f"/api/seats/{seat_key}/records", content=body)
    assert answer.status_code == 400
    error = answer.json()["error"]
    assert error["field"] == field
    assert text in error["message"]


def test_a_very_long_body_is_refused(guest: httpx.Client, seat_key: str) -> None:
    answer = guest.post(f"/api/seats/{seat_key}/records", content=b" " * 600_000)
    assert answer.status_code == 400
    assert answer.json()["error"]["message"] == (
        "It is longer than 512 kB. Send fewer records at once."
    )


def test_a_closed_tasting_says_so(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    server.store.close(tasting.id, server.clock())
    server.clock.now_ms += 1000
    record = mark(tasting.plan.bowls[0].code, at_ms=server.clock())
    answer = post(guest, seat_key, [record]).json()
    assert answer["saved"] == []
    assert answer["refused"] == [
        {"id": record["id"], "error": "This tasting has closed; no more marks are taken."}
    ]


def test_seats_beyond_those_planned_taste_too(server: Running, tasting: Tasting) -> None:
    seats = len(tasting.plan.orders) + 2
    keys = [server.store.join(tasting.id, f"g{n}", server.clock())[1] for n in range(seats)]
    with server.guest() as guest:
        flights = [guest.get(f"/api/seats/{key}").json()["flights"] for key in keys]
    assert flights[-2:] == flights[:2]
    assert all(sorted(each[0]) == sorted(flights[0][0]) for each in flights)


def test_another_seats_records_are_not_shown(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    other = server.store.join(tasting.id, "Ben", server.clock())[1]
    post(guest, other, [mark(tasting.plan.bowls[0].code)])
    assert guest.get(f"/api/seats/{seat_key}").json()["records"] == []


def a_note(text: bytes, number: int = 1) -> bytes:
    return (
        b'{"kind": "note", "id": "%032x", "bowl": "x", "round": "hot", "at_ms": 1, "text": %s}'
        % (number, text)
    )


@pytest.mark.parametrize(
    "body",
    [
        b'{"records": ' + b"[" * 80_000 + b"]" * 80_000 + b"}",
        b'{"records": [' + b'{"a": ' * 80_000 + b"1" + b"}" * 80_000 + b"]}",
        b'{"records": "\xff"}',
        b"\xff\xfe",
        b'{"records": [{"id": "\xff"}]}',
    ],
    ids=["deep lists", "deep objects", "no text", "no JSON", "no id"],
)
def test_what_cannot_be_read_is_refused_and_nothing_breaks(
    guest: httpx.Client, seat_key: str, body: bytes
) -> None:
    answer = guest.post(f"/api/seats/{seat_key}/records", content=body)
    assert answer.status_code == 400
    assert answer.json()["error"]["message"]


def test_a_record_that_is_no_text_does_not_hold_up_the_others(
    guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    code = tasting.plan.bowls[0].code.encode()
    good = a_note(b'"fine"', 2).replace(b'"x"', b'"' + code + b'"')
    body = b'{"records": [' + b", ".join([a_note(b'"\xff"', 1), good]) + b"]}"
    answer = guest.post(f"/api/seats/{seat_key}/records", content=body)
    assert answer.status_code == 200
    assert answer.json()["saved"] == [f"{2:032x}"]
    (refused,) = answer.json()["refused"]
    assert refused["id"] == f"{1:032x}"
    assert "a text in it is not UTF-8" in refused["error"]
