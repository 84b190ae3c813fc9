"""One Chromium for all browser tests; a phone is a context of its own."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright
from scripts.chromium import ARGUMENTS, find_chromium
from tests.browser.fake_laptop import FakeLaptop, serving

PHONE: dict[str, Any] = {
    "viewport": {"width": 360, "height": 740},
    "has_touch": True,
    "is_mobile": True,
    "device_scale_factor": 2,
}
# The first screen; before it, a busy laptop may let a phone wait.
ARRIVED = "#seat[data-screen]:not([data-screen=loading])"
OpenPhone = Callable[..., Page]
# As long as Playwright waits for a click. What fails is told later; what passes takes no longer.
expect.set_options(timeout=30_000)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """A running Chromium: Debian's, or the one that TWOBOWLS_CHROMIUM names."""
    path = find_chromium()
    if path is None:
        pytest.fail("The browser tests need Chromium: python scripts/chromium.py says how.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        yield browser
        browser.close()


@pytest.fixture
def laptop() -> Iterator[FakeLaptop]:
    """A fake laptop that serves one seat of an open tasting in its hot round."""
    with serving(FakeLaptop()) as served:
        yield served


@pytest.fixture
def open_phone(chromium: Browser) -> Iterator[OpenPhone]:
    """Open a phone's page on an address; any error in the page fails the test."""
    contexts = []
    errors: list[str] = []

    def opened(url: str, *, welcomed: bool = True, script: str = "", **more: Any) -> Page:
        context = chromium.new_context(**{**PHONE, **more})
        contexts.append(context)
        if script:
            context.add_init_script(script)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.goto(url)
        page.wait_for_selector(ARRIVED)
        if welcomed:
            page.get_by_role("button", name="Skip").click()
            page.get_by_role("button", name="I will take care").click()
        return page

    yield opened
    for context in contexts:
        context.close()
    assert errors == []
