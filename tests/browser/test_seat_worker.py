"""The page kept on the phone where the browser trusts the address, and the seat without that."""

from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from scripts.chromium import ARGUMENTS, find_chromium
from tests.browser.conftest import ARRIVED, PHONE, OpenPhone
from tests.browser.real_laptop import RealLaptop, running
from tests.browser.real_table import real_table
from tests.browser.touch import Pad, seldom
from tests.browser.waiting import until_kept, until_there
from tests.ports import lasting_port
from tests.store.tables import add_table
from tests.web.test_tls import make as make_certificate

from twobowls.store import open_store
from twobowls.web import static_files, worker_pages
from twobowls.web.settings import wall_clock_ms

pytestmark = pytest.mark.browser
NAME = "table.test"
CACHES = """async () => {
    const kept = {};
    for (const name of await caches.keys()) {
        const requests = await (await caches.open(name)).keys();
        kept[name] = requests.map(({url}) => new URL(url).pathname);
    }
    return kept;
}"""


@dataclass(frozen=True)
class Table:
    """A store with an open tasting and one seat, for a server that comes and goes."""

    path: Path
    port: str
    key: str

    def url(self, name: str = "127.0.0.1", scheme: str = "http") -> str:
        return f"{scheme}://{name}:{self.port}/seat/{self.key}"

    def served(self, *options: str) -> AbstractContextManager[RealLaptop]:
        return running(self.path, "--port", self.port, *options)


@pytest.fixture
def table(tmp_path: Path) -> Table:
    path = tmp_path / "tastings.sqlite3"
    with open_store(path) as store:
        tasting = add_table(store)
        store.open(tasting.id, wall_clock_ms())
        _seat, key = store.join(tasting.id, "Ana", wall_clock_ms())
        store.call_round(tasting.id, "hot", wall_clock_ms())
    return Table(path, str(lasting_port()), key)


@pytest.fixture
def phone(chromium: Browser) -> Iterator[BrowserContext]:
    context = chromium.new_context(**PHONE)
    yield context
    context.close()


def at_the_pad(page: Page) -> Pad:
    page.wait_for_selector(ARRIVED)
    if page.locator("#seat").get_attribute("data-screen") == "welcome":
        page.get_by_role("button", name="Skip").click()
        page.get_by_role("button", name="I will take care").click()
    expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")
    pad = Pad(page)
    pad.show()
    return pad


def controlled(page: Page) -> None:
    until_there(page, "navigator.serviceWorker.controller !== null")


def status(page: Page, text: str) -> None:
    expect(page.locator(".seat-saved")).to_contain_text(text)


def test_a_reload_works_while_the_laptop_is_off(phone: BrowserContext, table: Table) -> None:
    page = phone.new_page()
    with table.served():
        page.goto(table.url())
        assert page.evaluate("isSecureContext")  # this computer's own address is trusted
        pad = at_the_pad(page)
        first, second = list(pad.state())[:2]
        pad.place(first, 20, 30)
        status(page, "All saved on the laptop")
        until_kept(page, 1)
        controlled(page)
    pad.place(second, 60, 70)
    status(page, "1 waiting on this phone")
    page.reload()
    pad = at_the_pad(page)
    status(page, "1 waiting on this phone")
    status(page, "laptop out of reach")
    assert pad.state()[first] == [20, 30]
    assert pad.state()[second] == [60, 70]
    with table.served():
        expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop", timeout=90_000)
    with open_store(table.path) as store:
        (tasting,) = store.tastings()
        assert len(store.records(tasting.id)) == 2


def test_only_the_page_and_its_files_are_kept(phone: BrowserContext, table: Table) -> None:
    page = phone.new_page()
    with table.served():
        page.goto(table.url())
        at_the_pad(page)
        controlled(page)
        page.reload()
        at_the_pad(page)
        seldom(page, "Go on with another phone")
        expect(page.get_by_role("img", name="QR code of the address below")).to_be_visible()
        page.evaluate(f"fetch('/api/seats/{table.key}').then((answer) => answer.text())")
        page.goto(f"{table.url()}/debrief")
        kept = page.evaluate(CACHES)
        asked = phone.request.get(f"http://127.0.0.1:{table.port}/seat-worker.js")
        assert asked.headers["cache-control"] == "no-cache"
    ((name, paths),) = kept.items()
    assert name == f"twobowls-seat-{static_files.digest()}"
    files = [path for path in paths if path.startswith("/static/~")]
    assert sorted(files) == list(worker_pages.seat_files())
    assert [path for path in paths if path not in files] == [f"/seat/{table.key}"]
    assert len(files) > 50


def test_a_new_version_replaces_the_old_one_and_its_page(
    open_phone: OpenPhone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with real_table(tmp_path) as served:
        page = open_phone(served.seat("Ana"))
        controlled(page)
        old = static_files.digest()
        with monkeypatch.context() as patch:
            patch.setattr(static_files, "digest", lambda: "newer")
            patch.setattr(worker_pages, "digest", lambda: "newer")
            worker_pages.seat_files.cache_clear()
            worker_pages.worker_script.cache_clear()
            assert old in str(page.evaluate(CACHES))
            page.reload()
            at_the_pad(page)
            until_there(
                page, "caches.keys().then((names) => names.join() === 'twobowls-seat-newer')"
            )
            kept = "caches.match(location.pathname).then((page) => page.text())"
            assert "/static/~newer/css/seat.css" in page.evaluate(kept)
        worker_pages.seat_files.cache_clear()
        worker_pages.worker_script.cache_clear()


def test_a_seat_that_is_no_more_is_forgotten(open_phone: OpenPhone, tmp_path: Path) -> None:
    with real_table(tmp_path) as served:
        page = open_phone(served.seat("Ana"))
        controlled(page)
        page.reload()
        at_the_pad(page)
        gone = served.url + "/seat/nobody"
        put = "(path) => caches.keys().then(([name]) => caches.open(name))"
        page.evaluate(f"({put})().then((cache) => cache.put('/seat/nobody', new Response('old')))")
        page.goto(gone)
        expect(page.get_by_role("heading", name="There is nothing here")).to_be_visible()
        assert page.evaluate("caches.match('/seat/nobody').then((page) => page === undefined)")


@pytest.fixture
def elsewhere(chromium: Browser) -> Iterator[Browser]:
    """A browser to which our names are those of another computer, not of its own."""
    browser = chromium.browser_type.launch(
        executable_path=find_chromium(),
        args=[
            *ARGUMENTS,
            f"--host-resolver-rules=MAP {NAME} 127.0.0.1, MAP table.example 127.0.0.1",
            "--ignore-certificate-errors",
        ],
    )
    yield browser
    browser.close()


def test_a_plain_address_has_no_worker_and_the_page_is_shown_again_while_fresh(
    elsewhere: Browser, table: Table
) -> None:
    context = elsewhere.new_context(**PHONE)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    with table.served("--name", NAME):
        page.goto(table.url(NAME))
        pad = at_the_pad(page)
        assert page.evaluate("[isSecureContext, navigator.serviceWorker === undefined]") == [
            False,
            True,
        ]
        first, second = list(pad.state())[:2]
        pad.place(first, 20, 30)
        status(page, "All saved on the laptop")
        until_kept(page, 1)
    pad.place(second, 60, 70)
    status(page, "1 waiting on this phone")
    page.close()
    again = context.new_page()  # the tab that the phone threw away, opened once more
    again.on("pageerror", lambda error: errors.append(str(error)))
    again.goto(table.url(NAME))
    pad = at_the_pad(again)
    status(again, "1 waiting on this phone")
    assert pad.state()[first] == [20, 30]
    assert pad.state()[second] == [60, 70]
    with table.served("--name", NAME):
        expect(again.locator(".seat-saved")).to_have_text("All saved on the laptop", timeout=90_000)
        again.reload()
        assert at_the_pad(again).state()[second] == [60, 70]
    assert errors == []


def test_an_encrypted_address_is_kept(elsewhere: Browser, table: Table, tmp_path: Path) -> None:
    certificate, key = make_certificate(tmp_path, "table")
    tls = ("--tls-cert", str(certificate), "--tls-key", str(key))
    context = elsewhere.new_context(**PHONE, ignore_https_errors=True)
    page = context.new_page()
    with table.served(*tls):
        page.goto(table.url("table.example", "https"))
        at_the_pad(page)
        controlled(page)
    page.reload()
    at_the_pad(page)
    status(page, "laptop out of reach")


LOCKS = """window.held = 0;
Object.defineProperty(navigator, "wakeLock", {value: {request: async (kind) => {
    if (kind !== "screen") throw new Error(kind);
    window.held += 1;
    const lock = new EventTarget();
    lock.release = async () => { window.held -= 1; lock.dispatchEvent(new Event("release")); };
    window.lastLock = lock;
    return lock;
}}});"""


def test_the_screen_stays_on_while_there_is_something_to_mark(
    open_phone: OpenPhone, tmp_path: Path
) -> None:
    with real_table(tmp_path) as served:
        page = open_phone(served.seat("Ana"), welcomed=False, script=LOCKS)
        assert page.evaluate("held") == 0
        at_the_pad(page)
        until_there(page, "held === 1")
        page.evaluate("lastLock.release()")  # as the system does with a page out of sight
        page.evaluate("document.dispatchEvent(new Event('visibilitychange')); undefined")
        until_there(page, "held === 1")
        served.store.close(served.tasting_id, wall_clock_ms())
        expect(page.locator("#seat")).to_have_attribute("data-screen", "closed")
        until_there(page, "held === 0")


def test_a_browser_that_refuses_everything_does_no_harm(
    open_phone: OpenPhone, tmp_path: Path
) -> None:
    refusing = """
    navigator.serviceWorker.register = async () => { throw new Error("no"); };
    Object.defineProperty(navigator, "wakeLock",
        {value: {request: async () => { throw new Error("no"); }}});"""
    with real_table(tmp_path) as served:
        page = open_phone(served.seat("Ana"), script=refusing)
        pad = at_the_pad(page)
        pad.place(next(iter(pad.state())), 20, 30)
        status(page, "All saved on the laptop")
