"""The way back to a seat: the browser knows it, forms are never sent twice, a ghost can go."""

import re

import httpx
import pytest
from tests.store.tables import mark
from tests.web.running import Running

from twobowls.errors import ConflictError, NotFoundError
from twobowls.tasting.tasting import Tasting

BROWSER = {"accept": "text/html,application/xhtml+xml"}


def join(guest: httpx.Client, code: str, nickname: str, **headers: str) -> httpx.Response:
    return guest.post("/join", data={"code": code, "nickname": nickname}, headers=headers)


def seat_paths(page: str) -> list[str]:
    return re.findall(r'href="(/seat/[^"]+)"', page)


def test_the_join_page_leads_back_to_the_seat_that_a_browser_has(
    server: Running, guest: httpx.Client, planned: Tasting
) -> None:
    place = join(guest, planned.join_code, "Ana").headers["location"]
    for address in ("/join", f"/join?code={planned.join_code}"):
        page = guest.get(address).text
        assert "Back to Ana’s seat" in page
        assert seat_paths(page) == [place]
        assert "Somebody else joins" in page
        assert "Give up this empty seat" not in page, "the only seat there is"
    other = server.store.add_tasting(planned.setup, planned.plan, server.clock())
    assert "Back to Ana" not in guest.get(f"/join?code={other.join_code}").text
    with server.guest() as stranger:
        page = stranger.get(f"/join?code={planned.join_code}").text
        assert "Back to" not in page
        assert "Take a seat" in page


def test_the_cookie_is_for_us_alone_and_knows_seats_that_were_scanned(
    server: Running, guest: httpx.Client, host: httpx.Client, planned: Tasting
) -> None:
    _seat, key = server.store.join(planned.id, "Ana", server.clock())
    cookie = guest.get(f"/seat/{key}").headers["set-cookie"].lower()
    assert cookie.startswith(f"twobowls_seats={key.lower()};")
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert seat_paths(guest.get("/join").text) == [f"/seat/{key}"]
    assert "set-cookie" not in host.get(f"/seat/{key}").headers


def test_whoever_borrows_the_phone_gets_a_seat_of_their_own_and_both_lead_back(
    guest: httpx.Client, planned: Tasting
) -> None:
    first = join(guest, planned.join_code, "Ana").headers["location"]
    second = join(guest, planned.join_code, "Ben").headers["location"]
    assert seat_paths(guest.get("/join").text) == [second, first]


def test_what_a_cookie_holds_is_looked_at(
    server: Running, guest: httpx.Client, planned: Tasting
) -> None:
    for held in ("../../host", "x" * 24, "<script>", ".".join(["y" * 24] * 50)):
        answer = guest.get("/join", headers={"cookie": f"twobowls_seats={held}"})
        assert answer.status_code == 200
        assert "Take a seat" in answer.text


def test_a_refused_form_is_a_page_that_can_be_gone_back_to(
    guest: httpx.Client, planned: Tasting
) -> None:
    answer = join(guest, "ZZZZ", "Ana <b>", **BROWSER)
    assert answer.status_code == 303
    again = answer.headers["location"]
    assert re.fullmatch(r"/join\?again=[A-Za-z0-9_-]{16}", again)
    for _ in range(2):  # and gone back to once more
        page = guest.get(again, headers=BROWSER)
        assert page.status_code == 404
        assert 'value="ZZZZ"' in page.text
        assert 'value="Ana &lt;b&gt;"' in page.text
    forgotten = guest.get("/join?again=nothing", headers=BROWSER)
    assert forgotten.status_code == 200
    assert "Ana" not in forgotten.text


def test_an_empty_seat_is_given_up_and_counts_no_more(
    server: Running, guest: httpx.Client, host: httpx.Client, planned: Tasting
) -> None:
    code = planned.join_code
    server.store.open(planned.id, server.clock())
    first = join(guest, code, "Ana").headers["location"]
    ghost = join(guest, code, "Ana 2").headers["location"].rpartition("/")[2]
    seat = server.store.seat_by_key(first.rpartition("/")[2])[1]
    bowl = planned.plan.bowls[0].code
    server.store.add_records(seat.id, [mark(seat.id, bowl, at_ms=server.clock())], server.clock())
    page = guest.get("/join").text
    assert page.count("Give up this empty seat") == 1
    answer = guest.post("/join/leave", data={"seat_key": ghost})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/join?code={code}")
    assert seat_paths(guest.get("/join").text) == [first]
    assert [each.nickname for each in server.store.tasting(planned.id).seats] == ["Ana"]
    for path in (f"/seat/{ghost}", f"/api/seats/{ghost}"):
        assert guest.get(path).status_code == 404
    assert "Ana 2" not in host.get(f"/tastings/{planned.id}/bench").text
    assert ghost not in server.store.seat_keys(planned.id).values()
    third = join(guest, code, "Cleo").headers["location"].rpartition("/")[2]
    assert server.store.seat_by_key(third)[1].number == 2


def test_a_seat_with_records_or_with_somebody_on_it_stays(
    server: Running, guest: httpx.Client, tasting: Tasting, seat_key: str
) -> None:
    with guest.stream("GET", f"/api/seats/{seat_key}/stream") as stream:
        lines = stream.iter_lines()
        next(lines)
        with server.guest() as other:
            refused = other.post("/join/leave", data={"seat_key": seat_key})
        assert refused.status_code == 409
        assert "is open on some device" in refused.text
    seat = server.store.seat_by_key(seat_key)[1]
    bowl = tasting.plan.bowls[0].code
    server.store.add_records(seat.id, [mark(seat.id, bowl, at_ms=server.clock())], server.clock())
    with pytest.raises(ConflictError, match="Something was recorded on this seat"):
        server.store.leave(seat_key, server.clock())
    assert server.store.seat_by_key(seat_key)[1] == seat


def test_a_seat_that_was_given_up_stays_so_after_a_restart(
    server: Running, tasting: Tasting, seat_key: str
) -> None:
    from twobowls.store import known

    server.store.leave(seat_key, server.clock())
    with pytest.raises(NotFoundError):
        server.store.place(seat_key)
    fresh = known.Known(server.store._readers)  # what a new process knows
    assert fresh.tasting(tasting.id).seats == ()
    with pytest.raises(NotFoundError):
        fresh.place(seat_key)


def test_a_host_does_not_come_upon_a_guests_own_debrief(
    server: Running, guest: httpx.Client, host: httpx.Client, tasting: Tasting
) -> None:
    place = join(guest, tasting.join_code, "Ana").headers["location"]
    own = join(host, tasting.join_code, "Host").headers["location"]
    server.store.close(tasting.id, server.clock())
    refused = host.get(f"{place}/debrief")
    assert refused.status_code == 403
    assert "This is a guest’s own debrief" in refused.text
    assert "how you tasted" not in refused.text
    for client, path in ((guest, place), (host, own)):
        page = client.get(f"{path}/debrief")
        assert page.status_code == 200
        assert "how you tasted" in page.text
        assert "Only the address of your seat opens this page" in page.text
