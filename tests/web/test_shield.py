import httpx
import pytest
from tests.web.running import Running

PAGES = ["/join", "/host", "/nothing", "/api/seats/nothing", "/static/css/base.css"]


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_says_that_nothing_is_to_be_sniffed(guest: httpx.Client, path: str) -> None:
    headers = guest.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "server" not in headers
    assert "date" not in headers


@pytest.mark.parametrize("path", ["/join", "/host", "/nothing"])
def test_pages_run_nothing_that_is_not_ours(guest: httpx.Client, path: str) -> None:
    answer = guest.get(path)
    policy = answer.headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "style-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["referrer-policy"] == "same-origin"
    assert "<script>" not in answer.text
    assert "style=" not in answer.text
    assert " onclick" not in answer.text


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("127.0.0.1", 200),
        ("localhost:8417", 200),
        ("192.0.2.44:8417", 200),
        ("[2001:db8::1]:8417", 200),
        ("table.example", 200),
        ("TABLE.example.", 200),
        ("rebound.example", 421),
        ("127.0.0.1.rebound.example", 421),
        ("a b", 421),
    ],
)
def test_only_our_own_names_are_answered(guest: httpx.Client, name: str, status: int) -> None:
    answer = guest.get("/join", headers={"host": name})
    assert answer.status_code == status
    if status != 200:
        assert answer.json()["error"]["message"] == (
            "This server does not go by the name in the address."
        )


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 404),
        ({"sec-fetch-site": "same-origin"}, 404),
        ({"sec-fetch-site": "none"}, 404),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"origin": "http://elsewhere.example"}, 403),
        ({"origin": "null"}, 403),
    ],
    ids=["program", "same", "typed", "cross", "sibling", "origin", "null"],
)
def test_forms_of_other_sites_are_refused(
    guest: httpx.Client, headers: dict[str, str], status: int
) -> None:
    answer = guest.post("/join", data={"code": "ZZZZ", "nickname": "x"}, headers=headers)
    assert answer.status_code == status
    if status == 403:
        assert answer.json()["error"]["message"] == "This request came from another site's page."


def test_a_form_of_our_own_page_is_taken_where_browsers_send_an_origin_only(
    server: Running, guest: httpx.Client
) -> None:
    form = {"code": "ZZZZ", "nickname": "x"}
    assert guest.post("/join", data=form, headers={"origin": server.address}).status_code == 404


def test_too_much_at_once_is_refused_before_it_is_read(guest: httpx.Client) -> None:
    answer = guest.post("/join", content=b"x" * 2_000_001)
    assert answer.status_code == 413
    assert answer.json() == {"error": {"field": "body", "message": "Send at most 2 MB at once."}}


def test_a_body_of_unknown_length_is_refused(guest: httpx.Client) -> None:
    answer = guest.post("/join", content=iter([b"code=", b"ZZZZ"]))
    assert answer.status_code == 411
    assert "Content-Length" in answer.json()["error"]["message"]


def test_scripts_may_be_kept_for_good_under_a_name_that_changes(guest: httpx.Client) -> None:
    page = guest.get("/join").text
    start = page.index("/static/~")
    lasting = page[start : page.index('"', start)]
    kept = guest.get(lasting)
    assert kept.headers["cache-control"] == "public, max-age=31536000, immutable"
    plain = guest.get("/static/css/base.css")
    assert plain.headers["cache-control"] == "no-cache"
    again = guest.get("/static/css/base.css", headers={"if-none-match": plain.headers["etag"]})
    assert again.status_code == 304
    outdated = guest.get("/static/~0123456789ab/css/base.css")
    assert outdated.headers["cache-control"] == "no-cache"


@pytest.mark.parametrize("path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/~x/../a"])
def test_nothing_but_static_files_is_served(guest: httpx.Client, path: str) -> None:
    assert guest.get(path).status_code == 404


@pytest.mark.parametrize("path", ["/static/js/nothing.js", "/static/css/nothing.css", "/static/"])
def test_a_static_file_that_is_not_there_is_answered_with_a_guarded_page(
    guest: httpx.Client, path: str
) -> None:
    answer = guest.get(path)
    assert answer.status_code == 404
    assert "default-src 'self'" in answer.headers["content-security-policy"]
    assert answer.headers["x-frame-options"] == "DENY"


def test_refused_records_are_guarded_too(guest: httpx.Client) -> None:
    answer = guest.post("/api/seats/nobody/records", json={"records": []})
    assert answer.status_code == 404
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "content-security-policy" in answer.headers


def test_a_body_of_unknown_length_is_refused_where_none_is_expected(guest: httpx.Client) -> None:
    assert guest.request("GET", "/join", content=iter([b"x"])).status_code == 411
    assert guest.request("GET", "/join", content=b"x" * 2_000_001).status_code == 413


def test_long_names_are_neither_ours_nor_remembered(server: Running, guest: httpx.Client) -> None:
    server.shield._known_hosts.clear()
    for number in range(50):
        name = f"{number}." + "x" * 20_000
        assert guest.get("/join", headers={"host": name}).status_code == 421
    assert not server.shield._known_hosts
