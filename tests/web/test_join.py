import httpx
import pytest
from tests.web.running import Running

from twobowls.tasting.tasting import Tasting


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


def test_guessing_codes_is_slowed_down_but_joining_is_not(
    server: Running, guest: httpx.Client, planned: Tasting
) -> None:
    names = [f"Guest {number}" for number in range(20)]
    assert {join(guest, planned.join_code, name).status_code for name in names} == {303}
    wrong = [join(guest, "ZZZZ", "Eve").status_code for _ in range(14)]
    assert wrong == [404] * 12 + [429] * 2
    slow = join(guest, planned.join_code, "Eve")
    assert "Too many wrong codes. Wait 10 seconds, then try again." in slow.text
    server.clock.now_ms += 11_000
    assert join(guest, planned.join_code, "Eve").status_code == 303


def test_a_code_ends_with_its_tasting(
    server: Running, guest: httpx.Client, tasting: Tasting
) -> None:
    server.store.close(tasting.id, server.clock())
    assert join(guest, tasting.join_code, "Late").status_code == 404
