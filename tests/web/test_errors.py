"""One error shape for programs, one look for people."""

import httpx
import pytest
from tests.web.running import Running

from twobowls.errors import StoreError
from twobowls.tasting.tasting import Tasting


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/api/nothing", 404),
        ("GET", "/api/seats/nothing", 404),
        ("POST", "/api/seats/nothing", 405),
        ("GET", "/api/seats/nothing/records", 405),
        ("POST", "/api/seats/nothing/records", 404),
        ("GET", "/api/seats/nothing/stream", 404),
        ("GET", "/tastings/nothing/clock.json", 403),
    ],
)
def test_programs_get_one_shape(guest: httpx.Client, method: str, path: str, status: int) -> None:
    answer = guest.request(method, path)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/json"
    body = answer.json()
    assert set(body) == {"error"}
    assert set(body["error"]) == {"field", "message"}
    assert body["error"]["message"].endswith(".")


@pytest.mark.parametrize(
    ("path", "status", "text"),
    [
        ("/nothing", 404, "There is no page at this address."),
        ("/tastings/nothing/bench", 404, "There is no such tasting."),
        ("/shelf/nothing", 404, "There is no such coffee on the shelf."),
        ("/seat/nothing", 404, "There is no such seat. Join again with the tasting"),
    ],
)
def test_people_get_a_page(host: httpx.Client, path: str, status: int, text: str) -> None:
    answer = host.get(path)
    assert answer.status_code == status
    assert text in answer.text
    assert "<nav" in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/shelf",
        "/shelf.csv",
        "/shelf/new",
        "/shelf/import",
        "/tastings/new",
        "/tastings/{id}",
        "/tastings/{id}/sheet",
        "/tastings/{id}/bench",
        "/tastings/{id}/projector",
        "/tastings/{id}/reveal",
        "/tastings/{id}/join.svg",
        "/tastings/{id}/clock.json",
        "/tastings/{id}/stream",
        "/tastings/{id}/seats/x",
        "/tastings/{id}/seats/x/code.svg",
    ],
)
def test_the_hosts_pages_are_the_hosts(guest: httpx.Client, tasting: Tasting, path: str) -> None:
    answer = guest.get(path.format(id=tasting.id))
    assert answer.status_code == 403
    assert "This page is for the host." in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/shelf/new",
        "/shelf/import",
        "/shelf/import/preview",
        "/shelf/x",
        "/shelf/x/archive",
        "/tastings/new",
        *[
            f"/tastings/{{id}}/{action}"
            for action in ("open", "pour", "unpour", "round", "probe", "close", "reveal")
        ],
    ],
)
def test_the_hosts_buttons_are_the_hosts(
    server: Running, guest: httpx.Client, planned: Tasting, path: str
) -> None:
    answer = guest.post(path.format(id=planned.id), data={"bowl": "x", "name": "x"})
    assert answer.status_code == 403
    assert server.store.tasting(planned.id) == planned


def test_a_guest_at_the_front_door_is_sent_to_join(guest: httpx.Client) -> None:
    answer = guest.get("/")
    assert (answer.status_code, answer.headers["location"]) == (303, "/join")


def test_a_crash_says_that_what_was_saved_is_safe(
    server: Running, host: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def crash() -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(server.store, "tastings", crash)
    answer = host.get("/")
    assert answer.status_code == 500
    assert "What was saved is safe." in answer.text
    assert "a bug" not in answer.text
    assert answer.headers["content-security-policy"]


def test_a_store_that_cannot_be_written_is_explained(
    server: Running, host: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_coffee: object) -> None:
        raise StoreError("store.sqlite3", "the disk is full, nothing was saved", "Free some space")

    monkeypatch.setattr(server.store, "add_coffee", full)
    answer = host.post("/shelf/new", data={"name": "Alder Gate"})
    assert answer.status_code == 503
    assert "the disk is full, nothing was saved. Free some space." in answer.text


def test_a_guest_is_not_told_where_the_store_lies(
    server: Running, guest: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_anything: object) -> None:
        raise StoreError("/home/ana/store.sqlite3", "the disk is full", "Free some space")

    monkeypatch.setattr(server.store, "tasting_by_join_code", full)
    answer = guest.post("/join", data={"code": "K7QM", "nickname": "Ben"})
    assert answer.status_code == 503
    assert "On the laptop, the disk is full. Please tell the host, and try again" in answer.text
    assert "/home/ana" not in answer.text
