import httpx
from tests.web.running import HOST_KEY, Running


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


def test_guessing_the_key_is_slowed_down(server: Running, guest: httpx.Client) -> None:
    answers = [guest.post("/host", data={"key": str(number)}).status_code for number in range(14)]
    assert answers == [403] * 12 + [429] * 2
    slow = guest.post("/host", data={"key": HOST_KEY})
    assert "Too many wrong keys. Wait 10 seconds, then try again." in slow.text
    server.clock.now_ms += 11_000
    assert guest.post("/host", data={"key": HOST_KEY}).status_code == 303
