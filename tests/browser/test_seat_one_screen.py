"""A round on one screen: nothing to scroll to, nothing covered, and few taps."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import OpenPhone
from tests.browser.fake_laptop import FakeLaptop, serving
from tests.browser.touch import Pad
from tests.browser.waiting import until_drawn

pytestmark = pytest.mark.browser
SIX = ("417", "862", "305", "588", "146", "739")
# Two of them close together, none upon another's label.
PLACES = ((10, 30), (21, 30), (45, 75), (75, 75), (50, 25), (80, 25))
PADS = ("aroma", "acidity", "bitterness", "sweetness", "body", "aftertaste", "verdict")
# The sizes, and the side of the square that there must be room for.
SIZES = {
    (360, 560): 210,
    (390, 664): 300,
    (412, 780): 380,
    (844, 390): 260,
    (683, 325): 195,
    (768, 1024): 680,
    (1366, 650): 500,
}
# What is not wholly on the screen, or lies under something else; and whether the page scrolls.
SEEN = """(parts) => {
    const problems = [];
    const root = document.scrollingElement;
    if (root.scrollHeight > innerHeight || root.scrollWidth > innerWidth) problems.push("scrolls");
    for (const part of parts) {
        const found = [...document.querySelectorAll(part)].filter((each) => each.clientWidth);
        if (!found.length) problems.push(`${part} is not there`);
        for (const node of found) {
            const {left, top, right, bottom} = node.getBoundingClientRect();
            if (left < 0 || top < 0 || right > innerWidth || bottom > innerHeight)
                problems.push(`${part} is cut off: ${[left, top, right, bottom]}`);
            for (const [x, y] of [[left + 3, top + 9], [right - 3, bottom - 9]]) {
                const over = document.elementFromPoint(x, y);
                const own = over && (node.contains(over) || over.closest("bowl-pad, .bowls"));
                if (!own) problems.push(`${part} is covered by ${over?.className}`);
            }
        }
    }
    return problems;
}"""
PRACTICE = ["bowl-pad .pad-square", "bowl-pad .pad-tray", ".practice-hint", ".practice .bar > *"]
ROUND = [
    ".pad-square",
    ".pad-tray",
    ".pad-readout",
    ".bowls",
    ".bar > :not([hidden])",
    ".pad-tools",
]


def seen(page: Page, parts: list[str], where: str) -> None:
    until_drawn(page)
    problems: list[str] = page.evaluate(SEEN, parts)
    assert problems == [], where


@pytest.mark.parametrize("size", list(SIZES), ids=str)
def test_the_whole_round_is_in_sight_without_scrolling(
    size: tuple[int, int], open_phone: OpenPhone
) -> None:
    viewport = {"width": size[0], "height": size[1]}
    with serving(FakeLaptop(codes=(SIX,))) as laptop:
        page = open_phone(laptop.url, welcomed=False, viewport=viewport)
        pad = Pad(page)
        seen(page, PRACTICE, "practice")
        pad.finger.tap(pad.point(20, 40))
        expect(page.locator(".practice-hint")).to_contain_text("drag it")
        pad.finger.drag(pad.label("honey"), pad.point(80, 60))
        seen(page, PRACTICE, "practice, both placed")
        page.get_by_role("button", name="Go on").click()
        page.get_by_role("button", name="I will take care").click()
        for key in PADS:
            page.locator(f'[data-pad="{key}"]').click()
            seen(page, [*ROUND, f'[data-pad="{key}"]', ".seat-more"], key)
            assert pad.box(".pad-square")["width"] >= SIZES[size] - 50 * (key == "aftertaste")
        page.locator('[data-pad="aftertaste"]').click()
        page.get_by_role("button", name="Start the wait").click()
        seen(page, [*ROUND, ".wait"], "the wait")
        before = pad.box(".pad-square")
        for place in PLACES:
            pad.finger.tap(pad.point(*place))
        expect(page.locator(".picks-panel")).to_be_visible()
        seen(page, [*ROUND, ".wait", ".picks .choice"], "a question")
        assert pad.box(".pad-square") == before  # nothing jumps under a finger
        laptop.change(round="warm")
        expect(page.get_by_role("button", name="Go to the round Warm")).to_be_visible()
        page.get_by_role("button", name="Later").click()
        page.get_by_role("button", name="Go to the round Warm").click()
        expect(page.get_by_role("button", name="Still so")).to_be_visible()
        seen(page, ROUND, "a later round, with one button more")


COUNT = """window.taps = 0; window.scrolls = 0;
addEventListener("pointerdown", () => { window.taps += 1; }, {capture: true});
addEventListener("scroll", ({target}) => {
    if (target === document) window.scrolls += 1;
}, {capture: true});"""


def tap_on(pad: Pad, selector: str) -> None:
    box = pad.page.locator(selector).bounding_box()
    assert box is not None
    pad.finger.tap((box["x"] + box["width"] / 2, box["y"] + box["height"] / 2))


@pytest.mark.parametrize(
    ("pads", "most"), [(PADS, 56), (("acidity", "sweetness", "body", "verdict"), 32)]
)
def test_a_round_takes_few_taps_and_no_scroll(
    pads: tuple[str, ...], most: int, open_phone: OpenPhone
) -> None:
    """With all the questions that a round can have."""
    small: dict[str, Any] = {"viewport": {"width": 360, "height": 560}, "script": COUNT}
    with serving(FakeLaptop(codes=(SIX,), asked={"hot": list(pads)})) as laptop:
        page = open_phone(laptop.url, **small)
        page.evaluate("window.taps = 0")
        pad = Pad(page)
        for key in pads:
            expect(page.locator(".pads-tab[aria-current]")).to_have_attribute("data-pad", key)
            for place in PLACES:
                pad.finger.tap(pad.point(*place))
            expect(page.locator(".pad-tray.empty")).to_be_visible()
            until_drawn(page)
            if page.locator(".picks-panel").is_visible():
                tap_on(pad, ".picks .choice >> nth=0")
                expect(page.locator(".picks-panel")).to_be_hidden()
            if key != pads[-1]:
                tap_on(pad, ".bar-next")
        expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop")
        assert len(laptop.marks(kind="mark")) == 6 * len(pads)
        picks = laptop.marks(kind="pick")
        assert len(picks) == min(6, len(pads))
        assert (picks[-1]["sensation"], picks[-1]["question"]) == ("verdict", "better")
        assert page.evaluate("window.taps") <= most
        assert page.evaluate("window.scrolls") == 0
