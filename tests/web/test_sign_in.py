import httpx
from tests.web.running import HOST_KEY

from twobowls.cli.serve import new_key


def test_the_address_from_the_terminal_signs_the_host_in(guest: httpx.Client) -> None:
    answer = guest.get(f"/host?key={HOST_KEY}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "path=/" in cookie
    assert guest.get("/").status_code == 200


def test_the_key_can_be_typed(guest: httpx.Client) -> None:
    assert guest.post("/host", data={"key": f" {HOST_KEY} "}).status_code == 303
    assert guest.get("/shelf").status_code == 200


def test_a_wrong_key_lets_nobody_in(guest: httpx.Client) -> None:
    answer = guest.get("/host?key=wrong")
    assert answer.status_code == 403
    assert "That is not this server" in answer.text
    assert "set-cookie" not in answer.headers


def test_wrong_keys_and_codes_shut_the_host_not_out(guest: httpx.Client) -> None:
    for number in range(20):  # a picture on some site's page that points here could do this
        assert guest.get(f"/host?key={number}").status_code == 403
        assert guest.post("/host", data={"key": str(number)}).status_code == 403
    for _ in range(12):
        assert guest.post("/join", data={"code": "ZZZZ", "nickname": "Eve"}).status_code == 404
    assert guest.post("/host", data={"key": HOST_KEY}).status_code == 303
    assert guest.get("/shelf").status_code == 200


def test_no_number_of_tries_finds_a_key() -> None:
    keys = {new_key() for _ in range(100)}
    assert len(keys) == 100
    assert {len(key) for key in keys} == {24}  # 18 random bytes, 144 bits, six in a character
