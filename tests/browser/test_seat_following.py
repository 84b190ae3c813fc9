"""The phone goes on to the round that the host calls, by itself and at the right moment."""

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import OpenPhone
from tests.browser.fake_laptop import CODES, FakeLaptop, serving
from tests.browser.touch import Pad

from twobowls.tasting.setup import DRY_AROMA, HOT, WARM

pytestmark = pytest.mark.browser


def at_round(page: Page, key: str) -> None:
    expect(page.locator("bowl-pad:visible")).to_have_attribute("data-round", key)


def place_all(page: Page) -> None:
    pad = Pad(page)
    pad.show()
    for number, code in enumerate(CODES):
        pad.place(code, 20 + 20 * number, 70)


def test_a_complete_round_goes_on_at_once_and_back_is_one_tap(open_phone: OpenPhone) -> None:
    with serving(FakeLaptop(rounds=(DRY_AROMA, HOT, WARM), round="dry")) as laptop:
        page = open_phone(laptop.url)
        place_all(page)  # a round of aroma has one pad
        laptop.change(round="hot")
        at_round(page, "hot")
        notice = page.locator(".followed")
        expect(notice).to_contain_text("The host has called Hot. Marks now go there.")
        notice.get_by_role("button", name="Back to Dry aroma").click()
        at_round(page, "dry")
        expect(notice).to_be_hidden()
        expect(page.locator(".rounds-back")).to_have_text(
            "Marks now go to the round “Dry aroma” again. The table is at Hot."
        )
        page.wait_for_timeout(1500)
        at_round(page, "dry")
        laptop.change(round="warm")
        at_round(page, "warm")


def test_a_round_left_alone_goes_on_and_no_finger_is_taken_along(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    page.clock.install()
    page.locator('[data-pad="acidity"]').click()
    pad = Pad(page)
    pad.show()
    pad.finger.drag(pad.label("417"), pad.point(50, 50), lift=False)
    laptop.change(round="warm")
    expect(page.get_by_role("button", name="Go to the round Warm")).to_be_visible()
    page.clock.run_for(60_000)
    at_round(page, "hot")
    pad.finger.up()
    page.clock.run_for(9_000)
    at_round(page, "hot")
    page.clock.run_for(1_500)
    at_round(page, "warm")
    assert [mark["round"] for mark in laptop.marks(kind="mark")] == ["hot"]


def test_a_page_that_is_opened_anew_in_a_former_round_goes_on(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    at_round(page, "hot")
    page.reload()
    laptop.change(round="warm")
    page.reload()
    page.clock.install()
    page.wait_for_selector("#seat[data-screen=tasting]")
    page.clock.run_for(12_000)
    at_round(page, "warm")
