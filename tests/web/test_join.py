import re
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import httpx
import pytest
from tests.store.tables import add_table
from tests.web.running import HOLD_S, Running, running

from twobowls.tasting.tasting import Tasting
from twobowls.web.limits import Limits
from twobowls.web.qr import qr_svg


def join(guest: httpx.Client, code: str, nickname: str) -> httpx.Response:
    return guest.post("/join", data={"code": code, "nickname": nickname})


def test_a_code_and_a_name_are_enough(
    server: Running, guest: httpx.Client, planned: Tasting
) -> None:
    page = guest.get(f"/join?code={planned.join_code}")
    assert f'value="{planned.join_code}"' in page.text
    answer = join(guest, planned.join_code.lower(), "Ana")
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/seat/")
    assert [seat.nickname for seat in server.store.tasting(planned.id).seats] == ["Ana"]
    seat_page = guest.get(answer.headers["location"])
    key = answer.headers["location"].rpartition("/")[2]
    assert f'data-key="{key}"' in seat_page.text
    assert seat_page.headers["cache-control"].startswith("private, max-age=")


def test_a_wrong_code_keeps_what_was_typed(guest: httpx.Client, planned: Tasting) -> None:
    answer = join(guest, "ZZZZ", "Ana <b>")
    assert answer.status_code == 404
    assert "No tasting that can be joined has this code." in answer.text
    assert 'value="ZZZZ"' in answer.text
    assert 'value="Ana &lt;b&gt;"' in answer.text
    assert 'aria-invalid="true"' in answer.text


@pytest.mark.parametrize(
    ("nickname", "text"),
    [
        ("", "It is empty. Give any name that the others know you by."),
        ("x" * 25, "It has 25 characters. Use at most 24."),
        ("a\u200bb", "It holds characters that cannot be seen."),
    ],
    ids=["empty", "long", "unseen"],
)
def test_a_name_that_cannot_be_used(
    guest: httpx.Client, planned: Tasting, nickname: str, text: str
) -> None:
    answer = join(guest, planned.join_code, nickname)
    assert answer.status_code == 400
    assert text in answer.text


def test_the_same_name_twice_offers_another(guest: httpx.Client, planned: Tasting) -> None:
    join(guest, planned.join_code, "Ana")
    answer = join(guest, planned.join_code, "ana")
    assert answer.status_code == 409
    assert "Take &#34;ana 2&#34;, or add an initial." in answer.text


def ticket_in(page: str) -> str:
    (found,) = re.findall(r'name="ticket" value="([^"]+)"', page)
    return str(found)


def test_a_form_that_is_sent_again_leads_to_the_same_seat(
    server: Running, guest: httpx.Client, planned: Tasting
) -> None:
    ticket = ticket_in(guest.get(f"/join?code={planned.join_code}").text)
    form = {"code": planned.join_code, "nickname": "Ana", "ticket": ticket}
    with ThreadPoolExecutor(4) as pool:  # pressed again and again while nothing seems to happen
        answers = list(pool.map(lambda _: guest.post("/join", data=form), range(4)))
    assert {answer.status_code for answer in answers} == {303}
    assert len({answer.headers["location"] for answer in answers}) == 1
    other = guest.post("/join", data={**form, "nickname": "Ben"})
    assert other.headers["location"] != answers[0].headers["location"]
    assert [s.nickname for s in server.store.tasting(planned.id).seats] == ["Ana", "Ben"]


def test_another_form_does_not_lead_to_somebody_elses_seat(
    guest: httpx.Client, planned: Tasting
) -> None:
    tickets = [ticket_in(guest.get("/join").text) for _ in range(2)]
    assert tickets[0] != tickets[1]
    form = {"code": planned.join_code, "nickname": "Ana"}
    assert guest.post("/join", data={**form, "ticket": tickets[0]}).status_code == 303
    taken = guest.post("/join", data={**form, "ticket": tickets[1]})
    assert taken.status_code == 409
    assert ticket_in(taken.text) not in tickets


def test_guessing_codes_is_slowed_down_and_a_right_code_never_refused(
    server: Running, guest: httpx.Client, planned: Tasting
) -> None:
    names = [f"Guest {number}" for number in range(20)]
    assert {join(guest, planned.join_code, name).status_code for name in names} == {303}
    for _ in range(12):
        assert join(guest, "ZZZZ", "Eve").status_code == 404
    assert took(lambda: join(guest, "ZZZZ", "Eve")) >= HOLD_S
    began = time.monotonic()
    assert join(guest, planned.join_code, "Fay").status_code == 303
    assert time.monotonic() - began >= HOLD_S
    server.clock.now_ms += 130_000
    waits = sorted(took(partial(join, guest, planned.join_code, f"Gil {n}")) for n in range(13))
    assert waits[6] < HOLD_S


def took(do: Callable[[], object]) -> float:
    began = time.monotonic()
    do()
    return time.monotonic() - began


def test_a_burst_of_wrong_codes_gets_no_more_tries_at_once(
    server: Running, planned: Tasting
) -> None:
    def wrong(_: int) -> float:
        with server.guest() as one:
            return took(lambda: join(one, "ZZZZ", "Eve"))

    server.shield.app.state.limits = Limits(hold_s=5.0)
    with ThreadPoolExecutor(40) as pool:
        waits = list(pool.map(wrong, range(40)))
    assert sum(each >= 5.0 for each in waits) == 28


def test_seats_are_taken_at_a_pace_for_each_address(
    server: Running, guest: httpx.Client, planned: Tasting
) -> None:
    taken = [join(guest, planned.join_code, f"Guest {n}").status_code for n in range(40)]
    assert taken == [303] * 40
    soon = join(guest, planned.join_code, "Ana")
    assert soon.status_code == 429
    assert "Many seats were taken from your network address just now. Wait 3 seconds" in soon.text
    assert 'value="Ana"' in soon.text
    assert join(guest, planned.join_code, "Guest 3").status_code == 429
    server.clock.now_ms += 3_000
    assert join(guest, planned.join_code, "Guest 3").status_code == 409  # taken: it costs nothing
    assert join(guest, planned.join_code, "Ana").status_code == 303


def test_a_closed_door_lets_nobody_new_in_and_all_others_go_on(
    server: Running, guest: httpx.Client, host: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    bench = f"/tastings/{tasting.id}/bench"
    assert "Close the door to new guests" in host.get(bench).text
    assert host.post(f"/tastings/{tasting.id}/close-door").headers["location"] == bench
    shown = host.get(bench).text
    assert "The door is closed to new guests." in shown
    assert "Close the door to new guests" not in shown
    answer = join(guest, tasting.join_code, "Ben")
    assert answer.status_code == 409
    assert "The host has closed the door to new guests." in answer.text
    assert guest.get(f"/api/seats/{seat_key}").status_code == 200
    assert guest.post("/join", data={"seat_key": seat_key}).status_code == 303
    host.post(f"/tastings/{tasting.id}/open-door")
    assert join(guest, tasting.join_code, "Ben").status_code == 303


def test_the_door_is_the_hosts(guest: httpx.Client, tasting: Tasting) -> None:
    assert guest.post(f"/tastings/{tasting.id}/close-door").status_code == 403


def test_a_code_ends_with_its_tasting(
    server: Running, guest: httpx.Client, tasting: Tasting
) -> None:
    server.store.close(tasting.id, server.clock())
    assert join(guest, tasting.join_code, "Late").status_code == 404


def test_a_seat_shows_its_own_address_as_a_picture(guest: httpx.Client, seat_key: str) -> None:
    page = guest.get(f"/seat/{seat_key}")
    address = f"{guest.base_url}".rstrip("/") + f"/seat/{seat_key}"
    assert f'data-address="{address}"' in page.text
    picture = guest.get(f"/seat/{seat_key}/code.svg")
    assert picture.content == qr_svg(address)
    assert picture.headers["cache-control"] == "no-store"
    assert guest.get("/seat/nobody/code.svg").status_code == 404


def test_the_address_is_the_phones_own_name_for_us_but_never_this_computers(
    tmp_path: Path,
) -> None:
    with running(tmp_path / "store.sqlite3", "https://table.example:8417") as server:
        tasting = add_table(server.store)
        _seat, key = server.store.join(tasting.id, "Ana", server.clock())
        with server.guest() as guest:
            local = guest.get(f"/seat/{key}/code.svg").content
            asked = guest.get(f"/seat/{key}/code.svg", headers={"host": "192.0.2.7:8417"})
    assert local == qr_svg(f"https://table.example:8417/seat/{key}")
    assert asked.content == qr_svg(f"http://192.0.2.7:8417/seat/{key}")


def test_a_seat_goes_on_by_its_key_typed_in_groups(guest: httpx.Client, seat_key: str) -> None:
    typed = " ".join(seat_key[start : start + 4] for start in range(0, len(seat_key), 4))
    answer = guest.post("/join", data={"seat_key": f" {typed} "})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/seat/{seat_key}")


def test_wrong_keys_shut_no_right_one_out(guest: httpx.Client, seat_key: str) -> None:
    wrong = guest.post("/join", data={"seat_key": "x" * 24})
    assert wrong.status_code == 404
    assert "No seat has this key. Capitals and small letters count" in wrong.text
    assert '<details class="card after" open>' in wrong.text
    for _ in range(15):
        assert guest.post("/join", data={"seat_key": "x" * 24}).status_code == 404
    assert guest.post("/join", data={"seat_key": seat_key}).status_code == 303
