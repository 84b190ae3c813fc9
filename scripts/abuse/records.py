"""Abuse by somebody who has a seat: what cannot be read, fills the disk, or blocks others."""

import secrets
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import msgspec

from scripts.abuse.caller import Answer, Caller, Finding, Target

MOST_MB = 8.0  # what one seat may add to the store, however much it sends
NOTE = "coffee " * 285
FORMS = (
    b'{"records": ' + b"[" * 80_000 + b"]" * 80_000 + b"}",
    b'{"records": [' + b'{"a": ' * 80_000 + b"1" + b"}" * 80_000 + b"]}",
    b"\xff\xfe{}",
    b'{"records": "\xff"}',
    b'{"records": [{"id": "\xff"}]}',
)


def unreadable(target: Target) -> Finding:
    """What cannot be read is refused, and is not taken for a fault of ours."""
    caller = Caller(target)
    key = caller.seat("Reader")
    statuses = {caller.ask("POST", f"/api/seats/{key}/records", each).status for each in FORMS}
    return Finding(statuses == {400}, f"answered {', '.join(map(str, sorted(statuses)))}")


def many_notes(target: Target) -> Finding:
    """One seat cannot fill the disk with notes."""
    caller = Caller(target)
    key, before, sent = caller.seat("Writer"), _stored_mb(target), 0.0
    for _ in range(40):
        body = _batch([_note(target, NOTE) for _ in range(240)])
        sent += len(body) / 1e6
        if caller.ask("POST", f"/api/seats/{key}/records", body).status != 200:
            break
    grown = _stored_mb(target) - before
    return Finding(grown < MOST_MB, f"{sent:.0f} MB sent, the store grew by {grown:.1f} MB")


def replayed_batch(target: Target) -> Finding:
    """A batch that is sent again and again is not stored again and again."""
    caller = Caller(target)
    key, before = caller.seat("Repeater"), _stored_mb(target)
    body = _batch([_note(target, NOTE) for _ in range(200)])
    for _ in range(40):
        caller.ask("POST", f"/api/seats/{key}/records", body)
    grown = _stored_mb(target) - before
    told = f"{40 * len(body) / 1e6:.0f} MB sent, the store grew by {grown:.1f} MB"
    return Finding(grown < 3, told)


def control_characters(target: Target) -> Finding:
    """Characters that no one can see get into neither names nor notes."""
    caller = Caller(target)
    key = caller.seat(
        "A\x1b[31m\u202e"
    )  # a form drops them, so that a slip of a keyboard costs nothing
    body = _batch([_note(target, "red \x1b[31m\x00\u202e")])
    caller.ask("POST", f"/api/seats/{key}/records", body)
    view = caller.ask("GET", f"/api/seats/{key}").json()
    name, notes = view["seat"]["nickname"], [each["text"] for each in view["records"]]
    seen = [mark for mark in ("\x1b", "\x00", "\u202e") if any(mark in t for t in (name, *notes))]
    return Finding(bool(notes) and not seen, f"kept: {name!r}, {notes!r}")


def debriefs_at_once(target: Target) -> Finding:
    """Debriefs that are asked for at once do not hold up marks."""
    caller = Caller(target)
    key, cookie = caller.seat("Marker"), f"twobowls_host={target.session}"
    path = f"/tastings/{target.over_id}/debrief.json"
    with ThreadPoolExecutor(8) as pool:
        began = time.monotonic()
        asked = [pool.submit(caller.ask, "GET", path, cookie=cookie) for _ in range(8)]
        marks: list[Answer] = []
        while not all(each.done() for each in asked) or len(marks) < 20:
            body = _batch([_mark(target)])
            marks.append(caller.ask("POST", f"/api/seats/{key}/records", body))
        seconds = time.monotonic() - began
        statuses = {each.result().status for each in asked}
    worst = max(each.took_s for each in marks)
    held = statuses == {200} and {each.status for each in marks} == {200} and worst < 2
    return Finding(held, f"8 debriefs in {seconds:.1f} s, {len(marks)} marks, worst {worst:.2f} s")


def _note(target: Target, text: str) -> dict[str, Any]:
    return {**_record(target, "note"), "text": text}


def _mark(target: Target) -> dict[str, Any]:
    return {**_record(target, "mark"), "sensation": "acidity", "intensity": 50.0}


def _record(target: Target, kind: str) -> dict[str, Any]:
    where = {"bowl": target.table.bowls[0], "round": "hot"}
    return {"kind": kind, "id": secrets.token_hex(16), "at_ms": 1, **where}


def _batch(records: list[dict[str, Any]]) -> bytes:
    return msgspec.json.encode({"records": records})


def _stored_mb(target: Target) -> float:
    """Return how much the store takes, its log included."""
    path = target.table.path
    files = (Path(f"{path}{end}") for end in ("", "-wal"))
    return sum(each.stat().st_size for each in files if each.exists()) / 1e6
