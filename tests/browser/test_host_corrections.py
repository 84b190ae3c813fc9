"""A host on a small phone puts right, by taps, what went wrong at the table."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect
from tests.store.tables import add_table
from tests.web.running import Running, host_cookie, running

from twobowls.tasting.tasting import Tasting

pytestmark = pytest.mark.browser
SMALL: ViewportSize = {"width": 360, "height": 560}


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Running]:
    with running(tmp_path / "store.sqlite3") as server:
        yield server


@pytest.fixture
def tasting(served: Running) -> Tasting:
    """An open tasting of four bowls, one poured eight minutes ago, and two seats."""
    store = served.store
    table = store.open(add_table(store).id, served.clock())
    for name in ("Ana", "Ben"):
        store.join(table.id, name, served.clock())
    table = store.pour(table.id, table.plan.bowls[0].code, served.clock())
    served.clock.now_ms += 480_000
    return store.tasting(table.id)


@pytest.fixture
def page(chromium: Browser, served: Running, tasting: Tasting) -> Iterator[Page]:
    context = chromium.new_context(viewport=SMALL, has_touch=True, is_mobile=True)
    cookie = {"name": "twobowls_host", "value": host_cookie(), "url": served.address}
    context.add_cookies([cookie])  # type: ignore[list-item]
    page = context.new_page()
    page.goto(f"{served.address}/tastings/{tasting.id}/bench")
    yield page
    context.close()


def tap(page: Page, summary: str, button: str) -> None:
    """Open a question and answer it with yes."""
    page.locator("summary", has_text=re.compile(summary)).first.tap()
    page.get_by_role("button", name=button).locator("visible=true").first.tap()
    expect(page.get_by_role("status")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= SMALL["width"]


def test_every_correction_by_taps(served: Running, tasting: Tasting, page: Page) -> None:
    store, code = served.store, tasting.plan.bowls[0].code

    def now() -> Tasting:
        return store.tasting(tasting.id)

    page.get_by_label("Reads").fill("40")
    page.locator("#probe-bowl").select_option(code)
    page.get_by_role("button", name="Enter").tap()
    page.get_by_role("button", name="Yes, that is the reading").tap()
    expect(page.locator("#readings li")).to_have_count(1)
    page.get_by_role("button", name="Cool").tap()
    page.get_by_role("link", name="No, back to the bench").tap()
    assert now().round is None

    page.get_by_role("link", name="Put something right").tap()
    tap(page, f"{code} at ", "Yes, remove it")
    assert now().probes == ()
    tap(page, f"Set aside {code}", "Yes, set it aside")
    assert now().set_aside == {code}
    page.get_by_role("button", name=f"Bring it back {code}").tap()
    expect(page.get_by_role("status")).to_contain_text("counts again")
    assert now().set_aside == frozenset()

    known = {bowl.code: bowl.coffee_id for bowl in tasting.plan.bowls}
    other = next(each for each in tasting.setup.coffee_ids if each != known[code])
    page.locator("summary", has_text=f"Coffee in {code}").tap()
    page.locator(f"#coffee-{code}").select_option(other)
    page.get_by_role("button", name="Correct the coffee").locator("visible=true").tap()
    expect(page.get_by_role("status")).to_contain_text("The coffee of the bowl is corrected")
    assert {bowl.code: bowl.coffee_id for bowl in now().plan.bowls} == known | {code: other}

    first, second = now().seats
    page.locator("summary", has_text="Rename Ana").tap()
    page.locator("#nickname-1").fill("Anna")
    page.locator("[data-seat='1']").get_by_role("button", name="Save the name").tap()
    expect(page.get_by_role("heading", name="1 Anna")).to_be_visible()
    tap(page, "Remove Ben", "Yes, remove it")
    assert now().removed == {second.id}
    page.get_by_role("button", name="Let it count again").tap()
    expect(page.get_by_role("status")).to_contain_text("counts for itself again")
    tap(page, "Count as another seat: Ben", "Yes, count them together")
    assert now().merged == {second.id: first.id}

    page.get_by_label("Name of the tasting").fill("Late breakfast")
    page.get_by_role("button", name="Save the name").locator("visible=true").last.tap()
    expect(page).to_have_title(re.compile("Put right: Late breakfast"))
