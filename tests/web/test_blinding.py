"""Two tastings that differ only in which coffee is in which bowl look the same to a seat.

Chance is taken out (ids, keys and codes are counted), the clock stands still, and every byte that
a seat can get is compared: pages, JSON, headers, the stream, errors.
"""

import inspect
import itertools
import secrets
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import Any, get_type_hints

import httpx
import numpy as np
import pytest
from tests.store.tables import add_shelf
from tests.web.running import Running, running

from twobowls.tasting.planning import make_plan
from twobowls.tasting.setup import ALL_ROUNDS, Setup
from twobowls.web import seat_view

BY_CHANCE = {"writer", "same_file", "backups", "backup_files", "backup_keeper"}
BY_CHANCE |= {"protocol"}  # in how many pieces the network brings a request
NOTICED_LATE = "live.Listener.end"  # that a stream's guest has gone: before or after the count ends
PAUSES = inspect.CO_COROUTINE | inspect.CO_ASYNC_GENERATOR


@pytest.fixture
def restart(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Make what is drawn the same in each store: it counts from one after each restart."""

    def begin() -> None:
        number = itertools.count(1)
        monkeypatch.setattr(secrets, "token_hex", lambda n: f"{next(number):0{2 * n}x}")
        monkeypatch.setattr(secrets, "token_urlsafe", lambda _n: f"key-{next(number)}")
        monkeypatch.setattr(secrets, "choice", lambda chosen: chosen[next(number) % len(chosen)])

    return begin


def answers(path: Path, turn: int, *, host_tastes: bool = False) -> list[tuple[Any, ...]]:
    """Run one seat's whole evening; return all that it got. ``turn`` moves the coffees on."""
    with running(path, "http://192.0.2.7:8417") as server:
        ids = add_shelf(server.store)
        setup = Setup(name="Blind", coffee_ids=ids, repeats=(ids[0],), rounds=ALL_ROUNDS, seats=3)
        plan = make_plan(setup, np.random.default_rng(3))
        coffees = [bowl.coffee_id for bowl in plan.bowls]
        moved = coffees[turn:] + coffees[:turn]
        bowls = tuple(
            replace(bowl, coffee_id=None if host_tastes else coffee)
            for bowl, coffee in zip(plan.bowls, moved, strict=True)
        )
        setup = replace(setup, host_tastes=host_tastes)
        tasting = server.store.add_tasting(setup, replace(plan, bowls=bowls), server.clock())
        with server.guest() as guest:
            return evening(server, guest, tasting.id, tasting.join_code)


def evening(
    server: Running, guest: httpx.Client, tasting_id: str, join_code: str
) -> list[tuple[Any, ...]]:
    heard: list[tuple[Any, ...]] = []

    def keep(answer: httpx.Response) -> httpx.Response:
        answer.read()
        host = str(answer.request.url.copy_with(path="/", query=None)).rstrip("/")
        body = answer.text.replace(host, "")
        heard.append((str(answer.url.path), answer.status_code, list(answer.headers.raw), body))
        return answer

    store, clock = server.store, server.clock

    def glance() -> None:
        """Look at what the host has on the wall and on the bench."""
        with server.host() as host:
            for path in ("projector", "projector.json", "clock.json", "join.svg"):
                keep(host.get(f"/tastings/{tasting_id}/{path}"))
            with host.stream("GET", f"/tastings/{tasting_id}/stream") as stream:
                heard.append(("bench stream", next(stream.iter_text())))

    keep(guest.get(f"/join?code={join_code}"))
    joined = keep(guest.post("/join", data={"code": join_code, "nickname": "Ana"}))
    place = joined.headers["location"]
    api = f"/api{place.replace('/seat/', '/seats/')}"
    keep(guest.get(place))
    keep(guest.get(f"{place}/code.svg"))
    keep(guest.get("/seat-worker.js"))
    store.open(tasting_id, clock())
    store.join(tasting_id, "Ben", clock())
    codes = sorted(bowl.code for bowl in store.tasting(tasting_id).plan.bowls)
    for code in codes:
        clock.now_ms += 20_000
        store.pour(tasting_id, code, clock())
    store.call_round(tasting_id, "hot", clock())
    clock.now_ms += 600_000
    store.probe(tasting_id, codes[0], 64.0, clock())
    state = keep(guest.get(api)).json()
    records = [
        {
            "kind": "mark",
            "id": f"{number:032x}",
            "bowl": code,
            "sensation": sensation["key"],
            "round": "hot",
            "intensity": 7.0 * number % 100,
            "liking": 11.0 * number % 100,
            "at_ms": clock(),
        }
        for number, (code, sensation) in enumerate(
            itertools.product(itertools.chain(*state["flights"]), state["sensations"]), start=1
        )
    ]
    keep(guest.post(f"{api}/records", json={"records": records}))
    keep(guest.post(f"{api}/records", json={"records": [{**records[0], "bowl": "000"}]}))
    keep(guest.post(f"{api}/records", content=b"{"))
    keep(guest.get(api))
    with guest.stream("GET", f"{api}/stream") as stream:
        heard.append(("stream", list(stream.headers.raw), next(stream.iter_text())))
    glance()
    for path in (
        "/",
        "/shelf",
        "/shelf.csv",
        f"/tastings/{tasting_id}/bench",
        f"/tastings/{tasting_id}/sheet",
        f"/tastings/{tasting_id}/debrief",
        f"/tastings/{tasting_id}/debrief.json",
        f"/tastings/{tasting_id}/marks.csv",
        f"/tastings/{tasting_id}/join.svg",
        f"{place}/debrief",
        f"{api}/nothing",
    ):
        keep(guest.get(path))
    store.close(tasting_id, clock())
    for path in (api, place, f"{place}/debrief"):
        keep(guest.get(path))
    glance()
    return heard


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_a_seat_cannot_tell_which_coffee_is_where(
    tmp_path: Path, restart: Callable[[], None], turn: int
) -> None:
    restart()
    one = answers(tmp_path / "a.sqlite3", 0)
    restart()
    other = answers(tmp_path / "b.sqlite3", turn)
    assert len(one) == len(other) > 25
    for first, second in zip(one, other, strict=True):
        assert first == second


def work(path: Path, turn: int) -> Counter[str]:
    """Run the same evening; count the calls of our functions in the threads that answer."""
    done: Counter[str] = Counter()

    def count(frame: FrameType, event: str, _argument: object) -> None:
        code = frame.f_code
        where = code.co_filename
        # not what goes by how things happen to fall together: writer and backups, and each
        # resuming of a coroutine, which counts as a call too
        chance = Path(where).stem in BY_CHANCE or code.co_flags & PAUSES
        name = f"{Path(where).stem}.{code.co_qualname}"
        if event == "call" and "/twobowls/" in where and not chance and name != NOTICED_LATE:
            done[name] += 1

    threading.setprofile(count)
    try:
        answers(path, turn)
    finally:
        threading.setprofile(None)
    return done


def test_no_answer_takes_more_work_for_one_coffee_than_for_another(
    tmp_path: Path, restart: Callable[[], None]
) -> None:
    # the same calls, as many times: what they take cannot tell the coffees apart
    done = []
    for number, turn in enumerate((0, 0, 1, 3)):
        restart()
        done.append(work(tmp_path / f"{number}.sqlite3", turn))
    _first_loads_modules, one, *others = done
    assert one["seat_view.seat_view"] == 3
    assert others == [one, one]


def test_the_wall_is_among_what_is_compared(tmp_path: Path, restart: Callable[[], None]) -> None:
    restart()
    heard = answers(tmp_path / "a.sqlite3", 0)
    walls = [each for each in heard if str(each[0]).endswith("/projector.json")]
    assert [status for _path, status, *_rest in walls] == [409, 200]
    assert '"intensity"' not in walls[1][3]
    assert '"pads":[{"key":"aroma"' in walls[1][3]


def test_a_seat_cannot_tell_whether_the_host_tastes_too(
    tmp_path: Path, restart: Callable[[], None]
) -> None:
    restart()
    one = answers(tmp_path / "a.sqlite3", 0)
    restart()
    other = answers(tmp_path / "b.sqlite3", 0, host_tastes=True)
    assert one == other


def structs(kind: Any, seen: set[Any]) -> set[Any]:
    """Collect every type that is reachable from a seat's view."""
    arguments = getattr(kind, "__args__", ())
    if arguments:
        for each in arguments:
            structs(each, seen)
    elif isinstance(kind, type) and kind not in seen and hasattr(kind, "__annotations__"):
        seen.add(kind)
        for each in get_type_hints(kind).values():
            structs(each, seen)
    return seen


def test_no_type_that_a_seat_is_answered_with_has_a_place_for_a_coffee() -> None:
    found = structs(seat_view.SeatView, set()) | structs(seat_view.ChangeView, set())
    names = {name for kind in found for name in get_type_hints(kind)}
    assert {"records", "bowls", "poured_at_ms", "flights", "intensity"} <= names
    assert not {name for name in names if "coffee" in name or name in ("plan", "setup")}
