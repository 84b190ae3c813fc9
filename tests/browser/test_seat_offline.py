"""Nothing lost: phones out of reach, reloads, refusals, two tabs, a wrong clock, plain http."""

import pytest
from playwright.sync_api import APIResponse, Browser, Page, Response, Route, expect
from scripts.chromium import ARGUMENTS, find_chromium
from tests.browser.conftest import PHONE, OpenPhone
from tests.browser.fake_laptop import KEY, FakeLaptop, serving
from tests.browser.touch import Pad, seldom
from tests.browser.waiting import stop_clock, until, until_drawn, until_kept

pytestmark = pytest.mark.browser


def status(page: Page, text: str) -> None:
    expect(page.locator(".seat-saved")).to_contain_text(text)


def pad_of(page: Page) -> Pad:
    pad = Pad(page)
    pad.show()
    return pad


def test_marks_wait_on_the_phone_while_it_is_offline_and_go_out_when_it_is_back(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = pad_of(page)
    status(page, "All saved on the laptop")
    page.context.set_offline(True)
    pad.place("417", 20, 30)
    pad.place("862", 60, 70)
    status(page, "2 waiting on this phone")
    status(page, "laptop out of reach")
    assert laptop.records == {}
    page.context.set_offline(False)
    status(page, "All saved on the laptop")
    assert {mark["bowl"] for mark in laptop.marks(kind="mark")} == {"417", "862"}


# Counts what is written down at the moment at which the page asks for the sending.
COUNTING = """
window.waiting = () => new Promise((resolve) => {
    const open = indexedDB.open("twobowls");
    open.onsuccess = () => {
        const all = open.result.transaction("outbox").objectStore("outbox").count();
        all.onsuccess = () => { open.result.close(); resolve(all.result); };
    };
});
window.kept = [];
const send = window.fetch.bind(window);
window.fetch = async (...what) => {
    if (String(what[0]).endsWith("/records")) window.kept.push(await window.waiting());
    return send(...what);
};"""


def test_records_are_on_the_phone_before_they_are_sent(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url, script=COUNTING)
    laptop.broken = True
    pad_of(page).place("417", 20, 30)
    status(page, "1 waiting on this phone")
    until(page, lambda: page.evaluate("kept.length"), "the record is sent")
    assert page.evaluate("kept[0]") == 1
    laptop.broken = False
    status(page, "All saved on the laptop")
    until(page, lambda: page.evaluate("waiting()") == 0, "nothing waits on the phone's disk")


def test_a_reload_while_the_laptop_is_down_resumes_with_everything(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = pad_of(page)
    pad.place("417", 20, 30)
    status(page, "All saved on the laptop")
    until_kept(page, 1)
    laptop.broken = True
    pad.place("862", 60, 70)
    status(page, "1 waiting")
    page.reload()
    status(page, "1 waiting on this phone")
    state = pad_of(page).state()
    assert (state["417"], state["862"]) == ([20, 30], [60, 70])
    pad_of(page).place("305", 80, 80)
    laptop.broken = False
    status(page, "All saved on the laptop")
    assert [mark["bowl"] for mark in laptop.marks(kind="mark")] == ["417", "862", "305"]


def test_another_phone_goes_on_with_the_same_seat(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    first = open_phone(laptop.url)
    pad_of(first).place("417", 20, 30)
    status(first, "All saved on the laptop")
    seldom(first, "Go on with another phone")
    address = first.locator("[data-seat-address]").inner_text()
    assert address == laptop.url
    second = open_phone(address)
    assert pad_of(second).state()["417"] == [20, 30]


def test_refusals_are_shown_with_their_reason_and_kept_until_read(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    laptop.refuse = "This tasting has closed; no more marks are taken."
    page = open_phone(laptop.url)
    pad_of(page).place("417", 20, 30)
    status(page, "1 not accepted")
    page.reload()
    status(page, "1 not accepted")
    page.get_by_role("button", name="Why were some not accepted?").click()
    expect(page.get_by_role("dialog")).to_contain_text("417, aroma, Hot")
    expect(page.get_by_role("dialog")).to_contain_text("no more marks are taken")
    page.get_by_role("button", name="Let them go").click()
    status(page, "All saved on the laptop")
    assert pad_of(page).state()["417"] == [None, None]


@pytest.mark.parametrize("away", [False, True], ids=["page open", "page away"])
def test_what_came_too_late_is_sent_when_the_host_opens_the_tasting_again(
    laptop: FakeLaptop, open_phone: OpenPhone, away: bool
) -> None:
    page = open_phone(laptop.url)
    pad = pad_of(page)
    page.context.set_offline(True)
    pad.place("417", 20, 30)
    status(page, "1 waiting")
    laptop.refuse = "This tasting has closed; no more marks are taken."
    laptop.change(state="closed")
    page.context.set_offline(False)
    status(page, "1 not accepted")
    expect(page.locator(".closed")).to_contain_text("No marks of yours are in it.")
    if away:
        page.goto("about:blank")
    laptop.refuse = ""
    laptop.change(state="open")
    if away:
        page.goto(laptop.url)
    status(page, "All saved on the laptop")
    assert len(laptop.marks(kind="mark")) == 1
    expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")


def test_what_waited_when_the_host_closed_is_still_sent(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = pad_of(page)
    page.context.set_offline(True)
    pad.place("417", 20, 30)
    status(page, "1 waiting")
    laptop.change(state="closed")
    page.context.set_offline(False)
    expect(page.locator("#seat")).to_have_attribute("data-screen", "closed")
    status(page, "All saved on the laptop")
    assert len(laptop.marks(kind="mark")) == 1
    expect(page.get_by_role("link", name="See your own debrief")).to_have_attribute(
        "href", f"/seat/{KEY}/debrief"
    )


def test_two_tabs_of_one_seat_agree_and_send_each_record_once(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    first = open_phone(laptop.url)
    second = first.context.new_page()
    second.goto(laptop.url)
    second.wait_for_selector("#seat[data-screen=tasting]")
    first.bring_to_front()
    pad_of(first).place("417", 20, 30)
    status(first, "All saved on the laptop")
    second.bring_to_front()
    pad = pad_of(second)
    until(second, lambda: pad.state()["417"] == [20, 30], "the second tab has heard of it")
    pad.place("417", 90, 90)
    status(second, "All saved on the laptop")
    first.bring_to_front()
    pad = pad_of(first)
    until(first, lambda: pad.state()["417"] == [90, 90], "the first tab has heard of it")
    assert [mark["intensity"] for mark in laptop.marks(bowl="417")] == [20, 90]


def test_a_tab_left_behind_sends_what_another_tab_wrote_down(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    first = open_phone(laptop.url)
    second = first.context.new_page()
    second.goto(laptop.url)
    second.wait_for_selector("#seat[data-screen=tasting]")
    laptop.broken = True
    first.bring_to_front()
    pad_of(first).place("417", 20, 30)
    status(first, "1 waiting")
    status(second, "1 waiting")
    first.close()
    laptop.broken = False
    status(second, "All saved on the laptop")
    assert len(laptop.marks(bowl="417")) == 1


@pytest.mark.parametrize("ahead_h", [-30, 0, 30])
def test_marks_carry_the_hosts_time_whatever_the_phones_clock_says(
    ahead_h: int, open_phone: OpenPhone
) -> None:
    with serving(FakeLaptop(clock_ahead_ms=ahead_h * 3_600_000)) as laptop:
        page = open_phone(laptop.url)
        pad = pad_of(page)
        pad.place("417", 20, 30)
        page.evaluate("const real = Date.now; Date.now = () => real() + 86400000; undefined")
        pad.place("862", 20, 60)
        status(page, "All saved on the laptop")
        for mark in laptop.marks(kind="mark"):
            assert abs(mark["at_ms"] - laptop.now_ms()) < 600_000


def test_a_restart_of_the_laptop_is_caught_up_with(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    laptop.broken = True
    laptop.stopping = True
    laptop.wake()
    until(page, lambda: not laptop.changed, "every stream has come to its end")
    laptop.round = "warm"
    laptop.version += 1
    laptop.broken = laptop.stopping = False
    expect(page.get_by_role("button", name="Go to the round Warm")).to_be_visible()


# Two seats of a year that is long over on this phone: one all saved, one with a mark not sent.
LONG_OVER = """() => new Promise((resolve, reject) => {
    const open = indexedDB.open("twobowls");
    open.onsuccess = () => {
        const writing = open.result.transaction(["tables", "outbox"], "readwrite");
        const table = {tasting: {name: "Old", state: "revealed"}, seat: {nickname: "Ana"},
            flights: [["417"]], now_ms: 1_600_000_000_000, records: []};
        for (const seat of ["saved", "unsent"]) writing.objectStore("tables").put({seat, table});
        const record = {kind: "mark", id: "a".repeat(32), at_ms: 1_600_000_000_000};
        writing.objectStore("outbox").put({seat: "unsent", id: record.id, record, error: null});
        writing.oncomplete = () => { open.result.close(); resolve(); };
        writing.onerror = () => reject(writing.error);
    };
})"""
SEATS = """() => new Promise((resolve) => {
    const open = indexedDB.open("twobowls");
    open.onsuccess = () => {
        const keys = open.result.transaction("tables").objectStore("tables").getAllKeys();
        keys.onsuccess = () => { open.result.close(); resolve(keys.result.sort()); };
    };
})"""


def test_what_is_long_over_does_not_fill_the_phone(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    page.evaluate(LONG_OVER)
    assert page.evaluate(SEATS) == [KEY, "saved", "unsent"]
    page.reload()
    until(page, lambda: page.evaluate(SEATS) == [KEY, "unsent"], "only what was not sent is left")


def test_a_line_that_has_gone_dead_is_noticed(laptop: FakeLaptop, open_phone: OpenPhone) -> None:
    """A phone that roams, or a laptop that slept: nobody tells the browser that it is cut off."""
    page = open_phone(laptop.url)
    stop_clock(page)
    page.reload()
    page.wait_for_selector("#seat[data-screen=tasting]")
    until(page, lambda: len(laptop.changed) == 1, "the phone listens")
    laptop.round = "warm"  # and no word of it, nor any beat, comes over the line
    laptop.version += 1
    page.clock.run_for(60_000)
    called = page.get_by_role("button", name="Go to the round Warm")
    expect(called.or_(page.locator(".followed:visible"))).to_be_visible()
    page.clock.run_for(11_000)  # and then it goes on by itself, unless it has done so by now
    expect(page.locator("bowl-pad:visible")).to_have_attribute("data-round", "warm")


def test_an_answer_that_the_news_has_overtaken_is_asked_for_again(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    """A phone that wakes reads the table; the host closes it while the answer is on its way."""
    page = open_phone(laptop.url)
    until(page, lambda: len(laptop.changed) == 1, "the phone listens")
    on_its_way: list[tuple[Route, APIResponse]] = []

    def hold(route: Route) -> None:
        if on_its_way:
            route.continue_()
        else:
            on_its_way.append((route, route.fetch()))

    page.route(f"**/api/seats/{KEY}", hold)
    page.evaluate("document.dispatchEvent(new Event('visibilitychange')); undefined")
    until(page, lambda: len(on_its_way) == 1, "the table as it still is has been read")
    laptop.change(state="closed")
    expect(page.locator("#seat")).to_have_attribute("data-screen", "closed")
    answers: list[Response] = []
    page.on("response", lambda response: answers.append(response))
    route, answer = on_its_way[0]
    route.fulfill(response=answer)
    until(page, lambda: len(answers) == 2, "it has been asked for again")
    assert [each.json()["tasting"]["state"] for each in answers] == ["open", "closed"]
    until_drawn(page)
    expect(page.locator("#seat")).to_have_attribute("data-screen", "closed")


@pytest.mark.parametrize(
    ("script", "keeps"),
    [
        ("Object.defineProperty(window, 'indexedDB', {value: undefined});", "localstorage"),
        (
            "Object.defineProperty(window, 'indexedDB', {value: undefined});"
            "Object.defineProperty(window, 'localStorage', {get() { throw new Error('no'); }});",
            "memory",
        ),
    ],
)
def test_a_browser_without_a_database_still_sends_everything(
    script: str, keeps: str, laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url, script=script)
    laptop.broken = True
    pad_of(page).place("417", 20, 30)
    status(page, "1 waiting on this phone")
    if keeps == "memory":
        status(page, "keep this page open until all is saved")
    else:
        page.reload()
        status(page, "1 waiting on this phone")
    laptop.broken = False
    status(page, "All saved on the laptop")
    assert len(laptop.marks(kind="mark")) == 1


def test_a_plain_http_address_that_the_browser_does_not_trust_is_enough(
    laptop: FakeLaptop, chromium: Browser
) -> None:
    name = "table.test"
    browser = chromium.browser_type.launch(
        executable_path=find_chromium(),
        args=[*ARGUMENTS, f"--host-resolver-rules=MAP {name} 127.0.0.1"],
    )
    context = browser.new_context(**PHONE)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(f"http://{name}:{laptop.port}/seat/{KEY}")
    assert page.evaluate("[isSecureContext, 'serviceWorker' in navigator]") == [False, False]
    page.get_by_role("button", name="Skip").click()
    page.get_by_role("button", name="I will take care").click()
    pad = pad_of(page)
    context.set_offline(True)
    pad.place("417", 20, 30)
    status(page, "1 waiting on this phone")
    context.set_offline(False)
    status(page, "All saved on the laptop")
    assert len(laptop.marks(kind="mark")) == 1
    assert errors == []
    browser.close()
