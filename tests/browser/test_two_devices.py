"""Two devices on one seat: what one records stands on the other within a moment."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import OpenPhone
from tests.browser.real_table import RealTable, real_table
from tests.browser.touch import Pad
from tests.browser.waiting import until

from twobowls.tasting.records import Mark

pytestmark = pytest.mark.browser
SAVED = "All saved on the laptop"


@pytest.fixture
def table(tmp_path: Path) -> Iterator[RealTable]:
    with real_table(tmp_path) as served:
        yield served


def saved(page: Page) -> None:
    expect(page.locator(".seat-saved")).to_have_text(SAVED)


def test_two_devices_follow_each_other_and_nothing_goes_in_circles(
    table: RealTable, open_phone: OpenPhone
) -> None:
    address = table.seat("Ana")
    one, two = open_phone(address), open_phone(address)
    pads = Pad(one), Pad(two)
    codes = list(pads[0].state())
    asked: list[str] = []
    for page in (one, two):
        page.on("request", lambda request: asked.append(f"{request.method} {request.url}"))
        page.locator('[data-pad="acidity"]').click()
    for pad in pads:
        pad.show()
    pads[0].place(codes[0], 30, 80)
    until(two, lambda: pads[1].state()[codes[0]] == [30, 80], "the other device shows the mark")
    pads[1].place(codes[1], 60, 20)
    until(one, lambda: pads[0].state()[codes[1]] == [60, 20], "and the other way round")
    pads[1].place(codes[0], 50, 50)  # the same bowl, moved on the other device
    until(one, lambda: pads[0].state()[codes[0]] == [50, 50], "the latest counts on both")
    for page in (one, two):
        saved(page)
    one.wait_for_timeout(2000)
    assert sum(each.startswith("POST") for each in asked) == 3
    assert sum(each.startswith("GET") for each in asked) <= 6
    records = table.store.records(table.tasting_id)
    assert [type(each) for each in records] == [Mark] * 3


def test_a_device_that_was_out_of_reach_catches_up_both_ways(
    table: RealTable, open_phone: OpenPhone
) -> None:
    address = table.seat("Bo")
    one, two = open_phone(address), open_phone(address)
    pads = Pad(one), Pad(two)
    codes = list(pads[0].state())
    for page, pad in zip((one, two), pads, strict=True):
        page.locator('[data-pad="acidity"]').click()
        pad.show()
    two.context.set_offline(True)
    pads[0].place(codes[0], 30, 80)
    saved(one)
    pads[1].place(codes[1], 60, 20)
    expect(two.locator(".seat-saved")).to_contain_text("1 waiting on this phone")
    assert pads[1].state()[codes[0]] == [None, None]
    two.context.set_offline(False)
    saved(two)
    until(two, lambda: pads[1].state()[codes[0]] == [30, 80], "what it missed is there")
    until(one, lambda: pads[0].state()[codes[1]] == [60, 20], "what it kept is there, too")
