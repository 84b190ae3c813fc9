"""Back does not lose the seat, on a phone as guests have it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.browser.conftest import ARRIVED, PHONE
from tests.browser.real_table import RealTable, real_table

pytestmark = pytest.mark.browser


@pytest.fixture
def table(tmp_path: Path) -> Iterator[RealTable]:
    with real_table(tmp_path) as served:
        yield served


@pytest.fixture
def phone(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context(**{**PHONE, "viewport": {"width": 360, "height": 560}})
    yield context.new_page()
    context.close()


def sit_down(page: Page, name: str) -> None:
    page.get_by_label("Your name at this table").fill(name)
    page.get_by_role("button", name="Sit down").click()


def test_back_from_the_seat_leads_to_the_way_back_and_asks_for_nothing(
    table: RealTable, phone: Page
) -> None:
    code = table.store.tasting(table.tasting_id).join_code
    phone.goto(f"{table.url}/join")
    phone.get_by_label("Code of the tasting").fill("QQQQ")
    sit_down(phone, "Ana")
    expect(phone.get_by_text("No tasting that can be joined has this code.")).to_be_visible()
    phone.reload()  # the page is the answer to no form
    expect(phone.get_by_text("No tasting that can be joined has this code.")).to_be_visible()
    expect(phone.get_by_label("Your name at this table")).to_have_value("Ana")
    phone.get_by_label("Code of the tasting").fill(code)
    phone.get_by_role("button", name="Sit down").click()
    phone.wait_for_selector(ARRIVED)
    seat = phone.url
    phone.go_back()
    expect(phone.get_by_label("Your name at this table")).to_have_value("Ana")
    phone.goto(f"{table.url}/join?code={code}")
    phone.get_by_role("link", name="Back to Ana’s seat").click()
    phone.wait_for_selector(ARRIVED)
    assert phone.url == seat
    assert len(table.store.tasting(table.tasting_id).seats) == 1


def test_a_seat_taken_twice_is_given_up_where_the_former_one_is_taken_back(
    table: RealTable, phone: Page
) -> None:
    code = table.store.tasting(table.tasting_id).join_code
    for name in ("Ana", "Ana B"):
        phone.goto(f"{table.url}/join?code={code}")
        if name != "Ana":
            phone.get_by_text("Somebody else joins").click()
        sit_down(phone, name)
        phone.wait_for_selector(ARRIVED)
    phone.goto(f"{table.url}/join?code={code}")
    ghost = phone.locator(".held", has_text="Back to Ana B’s seat")
    ghost.get_by_role("button", name="Give up this empty seat").click()
    expect(phone.get_by_role("link", name="Back to Ana’s seat")).to_be_visible()
    expect(phone.locator(".held")).to_have_count(1)
    seats = table.store.tasting(table.tasting_id).seats
    assert [seat.nickname for seat in seats] == ["Ana"]
