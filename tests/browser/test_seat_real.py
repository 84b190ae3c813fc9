"""The seat against the tool itself: its policy, its stream, its store."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect
from tests.browser.conftest import OpenPhone
from tests.browser.real_table import RealTable, real_table
from tests.browser.touch import Pad

from twobowls.tasting.records import Mark, Note, Pick, Word
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
    first, second = list(pad.state())[:2]
    pad.place(first, 50, 60)
    pad.place(second, 54, 60)
    pad.finger.drag(pad.label(first), pad.point(56, 42))
    page.locator(".pick .choice", has_text="the same").first.click()
    page.locator(f'[data-words="{first}"]').click()
    page.get_by_role("button", name="Fruity", exact=True).click()
    page.get_by_role("button", name="citrus", exact=True).click()
    page.get_by_label(f"Note on {first}").fill("bright")
    page.get_by_role("heading", name="Words and a note").click()
    expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop")
    page.wait_for_timeout(1800)
    records = table.store.records(table.tasting_id)
    marks = [each for each in records if isinstance(each, Mark)]
    assert [mark.bowl for mark in marks] == [first, second, first]
    assert marks[-1].intensity == pytest.approx(56, abs=1)
    assert all(abs(mark.at_ms - wall_clock_ms()) < 20_000 for mark in marks)
    assert [type(each) for each in records[3:]] == [Pick, Word, Note]


def test_the_host_leads_and_the_seat_follows(table: RealTable, open_phone: OpenPhone) -> None:
    page = open_phone(table.seat("Bo"))
    table.store.call_round(table.tasting_id, "warm", wall_clock_ms())
    page.get_by_role("button", name="Go to the round Warm").click()
    expect(page.locator("bowl-pad:visible")).to_have_attribute("data-round", "warm")
    table.store.close(table.tasting_id, wall_clock_ms())
    expect(page.get_by_role("heading", name="Thank you, Bo.")).to_be_visible()
    page.get_by_role("link", name="See your own debrief").click()
    expect(page.locator("h1")).to_be_visible()


def test_the_tools_own_seat_page_is_under_100_kb_and_breaks_no_policy(
    table: RealTable, open_phone: OpenPhone
) -> None:
    page = open_phone(table.seat("Cy"))
    sizes: list[float] = []
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    protocol = page.context.new_cdp_session(page)
    protocol.send("Network.enable")
    protocol.send("Network.setCacheDisabled", {"cacheDisabled": True})
    protocol.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    page.reload()
    page.wait_for_selector("#seat[data-screen=tasting]")
    page.wait_for_timeout(500)
    assert len(sizes) > 40
    assert sum(sizes) < 100_000
    assert [text for text in said if "policy" in text.lower()] == []
