import sys
import time
from pathlib import Path

import httpx
import pytest
from tests.browser.real_laptop import running

from twobowls.web.doors.host_ticket import GOOD_FOR_MS, HostTicket


def test_a_ticket_is_good_once_and_not_for_long() -> None:
    assert not HostTicket(None, 0).use("", 0)
    assert not HostTicket("abc", 0).use("abc", GOOD_FOR_MS + 1)
    ticket = HostTicket("abc", 0)
    assert ticket.use("abc", GOOD_FOR_MS)
    assert not ticket.use("abc", GOOD_FOR_MS)


def test_the_browser_is_started_with_a_ticket_and_not_with_the_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard, script = tmp_path / "arguments.txt", tmp_path / "browser.py"
    script.write_text(
        "import pathlib, sys\n"
        f"part = pathlib.Path({str(heard)!r} + '.part')\n"
        f"part.write_text(sys.argv[1])\npart.replace({str(heard)!r})\n"
    )
    monkeypatch.setenv("BROWSER", f"{sys.executable} {script} %s")
    with running(tmp_path / "store.sqlite3", "--open") as laptop:
        end = time.monotonic() + 60
        while not heard.exists():
            assert time.monotonic() < end
            time.sleep(0.05)
        address = heard.read_text()
        assert laptop.host_url.partition("?key=")[2] not in address
        first = httpx.get(address, timeout=60, trust_env=False)
        assert (first.status_code, first.headers["location"]) == (303, "/")
        assert "twobowls_host" in first.headers["set-cookie"]
        again = httpx.get(address, timeout=60, trust_env=False)
        assert again.status_code == 403
        assert "This address was good for one use" in again.text
        assert "set-cookie" not in again.headers
