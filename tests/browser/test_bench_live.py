"""The bench goes on by itself: who is where, what was read, what is still missing."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect
from tests.browser.real_table import RealTable, real_table
from tests.store.tables import mark
from tests.web.running import host_cookie

from twobowls.web.settings import wall_clock_ms

pytestmark = pytest.mark.browser


@pytest.fixture
def table(tmp_path: Path) -> Iterator[RealTable]:
    with real_table(tmp_path) as served:
        yield served


@pytest.fixture
def bench(chromium: Browser, table: RealTable) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    context.add_cookies([{"name": "twobowls_host", "value": host_cookie(), "url": table.url}])
    page = context.new_page()
    page.goto(f"{table.url}/tastings/{table.tasting_id}/bench")
    yield page
    context.close()


def test_who_is_behind_is_told_as_it_stands(bench: Page, table: RealTable) -> None:
    bench.get_by_text("Close the tasting", exact=True).click()
    expect(bench.locator("#unfinished")).to_have_text("Nobody has taken a seat yet.")
    seat, _key = table.store.join(table.tasting_id, "Ada", wall_clock_ms())
    expect(bench.locator("#unfinished")).to_have_text("Ada has not marked everything yet.")
    expect(bench.get_by_role("link", name="Other phone for Ada")).to_be_visible()
    tasting = table.store.tasting(table.tasting_id)
    code = tasting.plan.bowls[0].code
    table.store.add_records(seat.id, [mark(seat.id, code, at_ms=wall_clock_ms())], wall_clock_ms())
    expect(bench.locator("#seats")).to_contain_text("1/28")


def test_a_button_that_leads_on_is_not_overtaken_by_the_news_of_itself(
    bench: Page, table: RealTable
) -> None:
    """The bench hears over its stream that the tasting has closed before its own form is back."""
    lost: list[str] = []
    bench.on("requestfailed", lambda request: lost.append(f"{request.method} {request.url}"))

    def slow(route: Route) -> None:
        answer = route.fetch(max_redirects=0)
        time.sleep(1)  # the news has long come
        route.fulfill(response=answer)

    bench.route("**/close", slow)
    bench.get_by_text("Close the tasting", exact=True).click()
    with bench.expect_navigation():
        bench.get_by_role("button", name="Yes, close it").click()
    expect(bench.locator("#bench")).to_have_attribute("data-state", "closed")
    assert [each for each in lost if each.startswith("POST")] == []


def test_a_reading_is_listed_at_once(bench: Page, table: RealTable) -> None:
    code = table.store.tasting(table.tasting_id).plan.bowls[1].code
    bench.get_by_label("Bowl", exact=True).select_option(code)
    bench.get_by_label("Reads").fill("58,5")
    bench.get_by_role("button", name="Enter").click()
    expect(bench.locator("#readings li")).to_have_count(1)
    expect(bench.locator("#readings li")).to_contain_text(f"{code} at ")
    expect(bench.locator("#readings li")).to_contain_text("58.5 °C")


def test_a_refusal_is_said_and_what_was_typed_stays(bench: Page) -> None:
    bench.get_by_label("Reads").fill("warm")
    bench.get_by_role("button", name="Enter").click()
    expect(bench.get_by_role("alert")).to_contain_text("is not a number. Give degrees Celsius")
    expect(bench.get_by_label("Reads")).to_have_value("warm")
