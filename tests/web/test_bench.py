import httpx
import pytest
from tests.store.tables import add_table, mark
from tests.web.running import Running

from twobowls.tasting.tasting import Tasting
from twobowls.web.qr import qr_svg

JSON = {"accept": "application/json"}


def test_a_tasting_is_run_with_buttons_alone(
    server: Running, host: httpx.Client, planned: Tasting
) -> None:
    root = f"/tastings/{planned.id}"
    code = planned.plan.bowls[0].code
    assert "Guests can take their seats now." in host.get(f"{root}/bench").text
    for action, data in (
        ("open", {}),
        ("pour", {"bowl": code}),
        ("round", {"round": "hot", "sure": "1"}),
        ("close", {}),
    ):
        answer = host.post(f"{root}/{action}", data=data)
        assert (answer.status_code, answer.headers["location"]) == (303, f"{root}/bench")
    tasting = server.store.tasting(planned.id)
    assert tasting.poured == {code: server.clock()}
    assert (tasting.round, tasting.state) == ("hot", "closed")
    closed = host.get(f"{root}/bench").text
    assert "The tasting has closed." in closed
    assert "Closed by mistake?" in closed
    assert host.post(f"{root}/reopen").headers["location"] == f"{root}/bench"
    assert server.store.tasting(planned.id).state == "open"


def test_a_clock_can_be_set_right(server: Running, host: httpx.Client, tasting: Tasting) -> None:
    root, code = f"/tastings/{tasting.id}", tasting.plan.bowls[0].code
    host.post(f"{root}/pour", data={"bowl": code, "ago": "2:30"})
    assert server.store.tasting(tasting.id).poured[code] == server.clock() - 150_000
    host.post(f"{root}/unpour", data={"bowl": code})
    assert server.store.tasting(tasting.id).poured == {}


@pytest.mark.parametrize(
    ("action", "data", "status", "text"),
    [
        ("pour", {"bowl": "000"}, 400, "There is no bowl &#39;000&#39; here."),
        (
            "pour",
            {"bowl": "{code}", "ago": "soon"},
            400,
            "&#39;soon&#39; is no time. Write minutes",
        ),
        ("round", {"round": "x"}, 400, "This tasting has no round &#39;x&#39;."),
        ("probe", {"bowl": "{code}", "temperature": "60"}, 400, "has not been started"),
        ("probe", {"bowl": "{code}", "temperature": "warm"}, 400, "is not a number. Give degrees"),
        ("open", {}, 409, "This tasting was opened before."),
        ("reopen", {}, 409, "This tasting is open."),
    ],
)
def test_what_makes_no_sense_is_said_in_a_sentence(
    server: Running,
    host: httpx.Client,
    tasting: Tasting,
    action: str,
    data: dict[str, str],
    status: int,
    text: str,
) -> None:
    code = tasting.plan.bowls[0].code
    filled = {name: value.format(code=code) for name, value in data.items()}
    answer = host.post(f"/tastings/{tasting.id}/{action}", data=filled)
    assert answer.status_code == status
    assert text in answer.text
    assert 'id="bench"' in answer.text  # as things stand, with the sentence above
    live = host.post(f"/tastings/{tasting.id}/{action}", data=filled, headers=JSON)
    assert live.status_code == status
    assert live.json()["error"]["message"].endswith(".")
    assert server.store.tasting(tasting.id) == tasting


def test_a_reading_makes_the_clocks_better(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    root, code = f"/tastings/{tasting.id}", tasting.plan.bowls[0].code
    before = host.get(f"{root}/clock.json").json()
    host.post(f"{root}/pour", data={"bowl": code})
    server.clock.now_ms += 10 * 60_000
    done = host.post(f"{root}/probe", data={"bowl": code, "temperature": "55,5"}, headers=JSON)
    assert done.status_code == 204
    after = host.get(f"{root}/clock.json").json()
    assert server.store.tasting(tasting.id).probes[0].temperature_c == 55.5
    assert after["first_sip_s"] < before["first_sip_s"]
    assert after["break_s"] == before["break_s"] == 240
    assert "55.5 °C" in host.get(f"{root}/bench").text


def test_the_bench_shows_who_is_where(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    seat, _key = server.store.join(tasting.id, "Ana <b>", server.clock())
    marks = [mark(seat.id, bowl.code) for bowl in tasting.plan.bowls]
    server.store.add_records(seat.id, marks, server.clock())
    page = host.get(f"/tastings/{tasting.id}/bench").text
    assert "Ana &lt;b&gt;" in page
    assert "4/28" in page
    assert "Ana &lt;b&gt; has not marked everything yet." in page


def test_the_bench_does_not_say_which_coffee_is_where(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    for page in ("bench", "projector"):
        text = host.get(f"/tastings/{tasting.id}/{page}").text
        for coffee in server.store.coffees(include_archived=True):
            assert coffee.id not in text
        assert "Alder Gate" not in text


def test_guests_join_by_a_picture_or_a_code(host: httpx.Client, planned: Tasting) -> None:
    page = host.get(f"/tastings/{planned.id}/bench").text
    assert planned.join_code in page
    assert "twobowls serve --lan" in page  # this test's server cannot be reached by phones
    picture = host.get(f"/tastings/{planned.id}/join.svg")
    assert picture.headers["content-type"] == "image/svg+xml"
    assert picture.text.startswith("<svg")


def test_a_seat_goes_on_on_another_phone(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    seat, key = server.store.join(tasting.id, "Ana", server.clock())
    page = host.get(f"/tastings/{tasting.id}/seats/{seat.id}")
    address = f"{server.address}/seat/{key}"
    assert address in page.text
    assert f">{key[:4]} {key[4:8]} " in page.text
    picture = host.get(f"/tastings/{tasting.id}/seats/{seat.id}/code.svg")
    assert picture.content == qr_svg(address)
    other = add_table(server.store)
    assert host.get(f"/tastings/{other.id}/seats/{seat.id}").status_code == 400


def test_a_seats_key_is_shown_to_the_host_alone_and_never_kept(
    server: Running, host: httpx.Client, guest: httpx.Client, tasting: Tasting
) -> None:
    seat, key = server.store.join(tasting.id, "Ana", server.clock())
    for path in (f"seats/{seat.id}", f"seats/{seat.id}/code.svg"):
        shown = host.get(f"/tastings/{tasting.id}/{path}")
        assert shown.headers["cache-control"] == "no-store"
        refused = guest.get(f"/tastings/{tasting.id}/{path}")
        assert refused.status_code == 403
        assert key not in refused.text
    for path in ("bench", "projector", "stream"):
        with host.stream("GET", f"/tastings/{tasting.id}/{path}") as answer:
            assert key not in next(answer.iter_text())


def test_the_reveal_takes_two_steps(server: Running, host: httpx.Client, tasting: Tasting) -> None:
    root = f"/tastings/{tasting.id}"
    assert host.get(f"{root}/reveal").headers["location"] == f"{root}/bench"
    server.store.close(tasting.id, server.clock())
    assert "This cannot be undone." in host.get(f"{root}/reveal").text
    assert server.store.tasting(tasting.id).state == "closed"
    answer = host.post(f"{root}/reveal")
    assert (answer.status_code, answer.headers["location"]) == (303, f"{root}/debrief")
    assert server.store.tasting(tasting.id).state == "revealed"
    assert host.get(f"{root}/reveal").headers["location"] == f"{root}/debrief"


def test_a_late_reveal_asks_what_was_under_the_bowls(server: Running, host: httpx.Client) -> None:
    planned = add_table(server.store, host_tastes=True)
    root = f"/tastings/{planned.id}"
    server.store.open(planned.id, server.clock())
    server.store.close(planned.id, server.clock())
    a, b, c = planned.setup.coffee_ids
    codes = [bowl.code for bowl in planned.plan.bowls]
    page = host.get(f"{root}/reveal").text
    assert "Alder Gate: 2 bowls" in page
    wrong = dict(zip([f"bowl_{code}" for code in codes], (a, b, b, c), strict=True))
    answer = host.post(f"{root}/reveal", data=wrong)
    assert answer.status_code == 400
    assert "Alder Gate is named for 1 bowl and was poured into 2 bowls." in answer.text
    assert answer.text.count(" selected") == 4
    missing = host.post(f"{root}/reveal", data={f"bowl_{codes[0]}": a})
    assert "it has no coffee yet" in missing.text.casefold()
    right = dict(zip([f"bowl_{code}" for code in codes], (a, b, a, c), strict=True))
    assert host.post(f"{root}/reveal", data=right).status_code == 303
    revealed = server.store.tasting(planned.id)
    assert [bowl.coffee_id for bowl in revealed.plan.bowls] == [a, b, a, c]
