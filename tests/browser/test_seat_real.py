"""The seat against the tool itself: its policy, its stream, its store."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from tests.browser.conftest import PHONE, OpenPhone
from tests.browser.real_table import RealTable, real_table
from tests.browser.touch import Pad, seldom, words_of
from tests.browser.traffic import over_the_wire
from tests.browser.waiting import until
from tests.web.running import host_cookie

from twobowls.tasting.records import Mark, Note, Pick, Word
from twobowls.web.qr import qr_svg
from twobowls.web.settings import wall_clock_ms

pytestmark = pytest.mark.browser


@pytest.fixture
def table(tmp_path: Path) -> Iterator[RealTable]:
    with real_table(tmp_path) as served:
        yield served


def test_everything_a_taster_does_is_in_the_store(table: RealTable, open_phone: OpenPhone) -> None:
    page = open_phone(table.seat("Ana"))
    page.locator('[data-pad="acidity"]').click()
    pad = Pad(page)
    pad.show()
    first, second, *rest = list(pad.state())
    pad.place(first, 50, 60)
    pad.place(second, 54, 60)
    for number, code in enumerate(rest):  # a question waits until the pad is complete
        pad.place(code, 10, 10 + 20 * number)
    pad.finger.drag(pad.label(first), pad.point(56, 42))
    page.locator(".pick .choice", has_text="the same").first.click()
    words_of(page, first)
    page.get_by_role("button", name="Fruity", exact=True).click()
    page.get_by_role("button", name="citrus", exact=True).click()
    page.get_by_label(f"Note on {first}").fill("bright")
    page.get_by_role("heading", name="Words and a note").click()
    expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop")
    until(
        page,
        lambda: any(isinstance(each, Note) for each in table.store.records(table.tasting_id)),
        "the note is in the store",
    )
    records = table.store.records(table.tasting_id)
    marks = [each for each in records if isinstance(each, Mark)]
    assert [mark.bowl for mark in marks] == [first, second, *rest, first]
    assert marks[-1].intensity == pytest.approx(56, abs=1)
    assert all(abs(mark.at_ms - wall_clock_ms()) < 120_000 for mark in marks)
    assert [type(each) for each in records[3 + len(rest) :]] == [Pick, Word, Note]


def test_the_host_leads_and_the_seat_follows(table: RealTable, open_phone: OpenPhone) -> None:
    page = open_phone(table.seat("Bo"))
    table.store.call_round(table.tasting_id, "warm", wall_clock_ms())
    expect(page.locator("bowl-pad:visible")).to_have_attribute("data-round", "warm")
    table.store.close(table.tasting_id, wall_clock_ms())
    expect(page.get_by_role("heading", name="Thank you, Bo.")).to_be_visible()
    page.get_by_role("link", name="See your own debrief").click()
    page.wait_for_url("**/debrief")
    expect(page.locator("h1")).to_be_visible()


def test_a_thermometer_reading_sets_the_phones_right_too(
    table: RealTable, open_phone: OpenPhone
) -> None:
    bowls = [each.code for each in table.store.tasting(table.tasting_id).plan.bowls]
    for each in bowls:  # past the late end of the wait for the first sip
        table.store.pour(table.tasting_id, each, wall_clock_ms() - 1_400_000)
    page = open_phone(table.seat("Gus"))
    code, other = bowls[:2]

    def shown(bowl: str = code) -> int:
        text = page.locator(f'.bowl[data-code="{bowl}"] .bowl-words').inner_text()
        found = re.search(r"(\d+) °C", text)
        return int(found[1]) if found else 0

    guessed = shown()
    assert 40 < guessed < 60
    table.store.probe(table.tasting_id, code, guessed - 10.0, wall_clock_ms())
    until(page, lambda: 0 < shown() < guessed - 5, "the phone tells the warmth that was read")
    # no warmer after half the time: all bowls cool faster than the reading had made believe
    before = shown(other)
    table.store.pour(table.tasting_id, code, wall_clock_ms() - 700_000)
    until(page, lambda: 0 < shown(other) <= before - 2, "the reading is seen in the new light")


def test_the_tools_own_seat_page_is_under_100_kb_and_breaks_no_policy(
    table: RealTable, open_phone: OpenPhone
) -> None:
    # without the worker, which would answer the reload from what it has kept
    page = open_phone(table.seat("Cy"), service_workers="block")
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    sizes = over_the_wire(page)
    assert len(sizes) > 40
    assert sum(sizes) < 100_000
    assert [text for text in said if "policy" in text.lower()] == []


def test_a_swapped_phone_goes_on_with_everything(
    table: RealTable, open_phone: OpenPhone, chromium: Browser
) -> None:
    first = open_phone(table.seat("Dee"))
    pad = Pad(first)
    pad.show()
    code, other = list(pad.state())[:2]
    pad.place(code, 30, 80)
    expect(first.locator(".seat-saved")).to_have_text("All saved on the laptop")
    first.context.set_offline(True)
    pad.place(other, 60, 40)
    expect(first.locator(".seat-saved")).to_contain_text("1 waiting on this phone")
    seldom(first, "Go on with another phone")
    expect(first.get_by_text("The code to scan cannot be fetched now.")).to_be_visible()
    first.get_by_role("button", name="Close").click()
    first.context.set_offline(False)
    expect(first.locator(".seat-saved")).to_have_text("All saved on the laptop")
    seldom(first, "Go on with another phone")
    picture = first.get_by_role("img", name="QR code of the address below")
    expect(picture).to_be_visible()
    assert picture.evaluate("async (code) => { await code.decode(); return code.naturalWidth; }")
    address = first.locator("[data-seat-address]").inner_text()
    assert first.request.get(picture.evaluate("code => code.src")).body() == qr_svg(address)
    key = first.locator(".seat-key").inner_text()
    first.close()

    scanned = open_phone(address)
    assert Pad(scanned).state()[code] == [30, 80]
    assert Pad(scanned).state()[other] == [60, 40]
    typed = chromium.new_context(**PHONE).new_page()
    typed.goto(f"{table.url}/join")
    typed.get_by_text("I have a seat already").click()
    typed.get_by_label("Key of the seat").fill(key)
    typed.get_by_role("button", name="Go on").click()
    expect(typed.locator("#seat")).to_have_attribute("data-screen", "welcome")
    assert typed.url == address
    typed.context.close()


def test_a_dead_phone_is_replaced_from_the_bench(
    table: RealTable, open_phone: OpenPhone, chromium: Browser
) -> None:
    dead = open_phone(table.seat("Eve"))
    pad = Pad(dead)
    pad.show()
    code = next(iter(pad.state()))
    pad.place(code, 30, 80)
    expect(dead.locator(".seat-saved")).to_have_text("All saved on the laptop")
    dead.close()
    desk = chromium.new_context()
    desk.add_cookies([{"name": "twobowls_host", "value": host_cookie(), "url": table.url}])
    bench = desk.new_page()
    bench.goto(f"{table.url}/tastings/{table.tasting_id}/bench")
    bench.get_by_role("link", name="Other phone for Eve").click()
    bench.wait_for_url("**/seats/*")
    shown = bench.get_by_role("img", name="QR code of the address below")
    assert shown.evaluate("async (code) => { await code.decode(); return code.naturalWidth; }")
    address = bench.locator(".join a").inner_text()
    assert desk.request.get(shown.evaluate("code => code.src")).body() == qr_svg(address)
    desk.close()
    new = open_phone(address)
    assert Pad(new).state()[code] == [30, 80]
