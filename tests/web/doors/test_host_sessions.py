from pathlib import Path

import httpx
import pytest
from tests.web.running import HOST_KEY, NOON, Running, host_cookie

from twobowls.store import open_store
from twobowls.web.access import COOKIE
from twobowls.web.doors.host_sessions import LASTS_S, HostSessions, make_session


def test_the_cookie_holds_a_session_and_not_the_key(guest: httpx.Client) -> None:
    guest.post("/host", data={"key": HOST_KEY})
    session = guest.cookies[COOKIE]
    assert HOST_KEY not in session
    other = httpx.Client(base_url=guest.base_url, trust_env=False)
    with other:
        other.post("/host", data={"key": HOST_KEY})
        assert other.cookies[COOKIE] != session
    guest.cookies.clear()
    guest.cookies.set(COOKIE, HOST_KEY)
    assert guest.get("/shelf").status_code == 403


@pytest.mark.parametrize(
    "session",
    [
        "",
        "..",
        "x.y.z",
        f"{NOON}.name.proof",
        make_session("another key", NOON),
        make_session(HOST_KEY, NOON)[:-1],
        "9" + make_session(HOST_KEY, NOON),
        "é" * 10,
    ],
    # Sessions are drawn, and every process must call the cases the same.
    ids=["empty", "dots", "letters", "no proof", "another key", "cut", "later", "accents"],
)
def test_what_the_key_has_not_made_is_no_session(session: str, tmp_path: Path) -> None:
    with open_store(tmp_path / "store.sqlite3") as store:
        assert not HostSessions(store, HOST_KEY).is_live(session, NOON)


def test_a_session_outlives_a_restart_and_ends_with_the_key_or_its_time(tmp_path: Path) -> None:
    with open_store(tmp_path / "store.sqlite3") as store:
        session = HostSessions(store, HOST_KEY).begin(NOON)
        assert HostSessions(store, HOST_KEY).is_live(session, NOON + LASTS_S * 1000 - 1)
        assert not HostSessions(store, HOST_KEY).is_live(session, NOON + LASTS_S * 1000)
        assert not HostSessions(store, "a new key").is_live(session, NOON)


def test_a_session_that_was_signed_out_stays_so_over_a_restart(tmp_path: Path) -> None:
    with open_store(tmp_path / "store.sqlite3") as store:
        sessions = HostSessions(store, HOST_KEY)
        one, other = sessions.begin(NOON), sessions.begin(NOON)
        sessions.end(one, NOON)
        sessions.end("made up", NOON)
        for each in (sessions, HostSessions(store, HOST_KEY)):
            assert not each.is_live(one, NOON)
            assert each.is_live(other, NOON)
        late = NOON + LASTS_S * 1000
        third = sessions.begin(late)
        sessions.end(third, late)  # the first has ended by itself meanwhile
        assert store.known_setting("signed_out") == third.rpartition(".")[0]


def test_the_host_signs_out(server: Running, host: httpx.Client, guest: httpx.Client) -> None:
    assert "Sign out of this browser" in host.get("/").text
    taken = host.cookies[COOKIE]
    answer = host.post("/host/sign-out")
    assert (answer.status_code, answer.headers["location"]) == (303, "/host")
    assert f'{COOKIE}=""; ' in answer.headers["set-cookie"]
    assert "max-age=0" in answer.headers["set-cookie"].lower()
    assert host.get("/shelf").status_code == 403
    guest.cookies.set(COOKIE, taken)  # a copy is worth nothing any more
    assert guest.get("/shelf").status_code == 403
    guest.cookies.set(COOKIE, host_cookie())
    assert guest.get("/shelf").status_code == 200


def test_who_is_not_signed_in_is_sent_to_the_same_page(guest: httpx.Client) -> None:
    assert guest.post("/host/sign-out").headers["location"] == "/host"
