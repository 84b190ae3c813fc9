"""Every screen of the seat without an axe violation, in light and dark, and by keyboard alone."""

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from tests.browser.conftest import OpenPhone
from tests.browser.fake_laptop import FakeLaptop
from tests.browser.touch import Pad, close_sheet, more, seldom, to_round, words_of
from tests.browser.waiting import until

pytestmark = pytest.mark.browser


def clean(page: Page, where: str) -> None:
    """Fail with the rule and the elements if axe finds anything."""
    found: list[dict[str, Any]] = Axe().run(page).response["violations"]
    said = [(each["id"], [node["html"][:160] for node in each["nodes"]]) for each in found]
    assert said == [], where


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_screen(
    scheme: str, laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    laptop.round = None
    page = open_phone(laptop.url, welcomed=False, color_scheme=scheme)
    clean(page, "practice")
    Pad(page).place("lemon", 20, 30)
    clean(page, "practice, one placed")
    page.get_by_role("button", name="Skip").click()
    clean(page, "cautions")
    page.get_by_role("button", name="I will take care").click()
    clean(page, "waiting")
    laptop.change(round="hot")
    expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")
    page.locator('[data-pad="aftertaste"]').click()
    pad = Pad(page)
    pad.show()
    for code, intensity in (("417", 50), ("862", 54), ("305", 20), ("588", 90)):
        pad.place(code, intensity, 60)
    clean(page, "pad with questions")
    page.get_by_role("button", name="Later").click()
    words_of(page, "417")
    page.get_by_role("button", name="Fruity", exact=True).click()
    page.get_by_role("button", name="citrus", exact=True).click()
    clean(page, "words")
    close_sheet(page)
    more(page)
    clean(page, "rounds and more")
    close_sheet(page)
    laptop.change(round="warm")
    page.get_by_role("button", name="Go to the round Warm").click()
    clean(page, "warm round with ghosts")
    to_round(page, "hot")
    clean(page, "back in the hot round")
    seldom(page, "Use sliders instead")
    clean(page, "sliders")
    page.get_by_role("button", name="What is this?").click()
    clean(page, "guide")
    page.get_by_role("button", name="Close").click()
    seldom(page, "Go on with another phone")
    clean(page, "another phone")
    page.get_by_role("button", name="Close").click()
    laptop.refuse = "This tasting has closed."
    page.get_by_role("slider", name="588: Aftertaste, how strong").fill("30")
    page.get_by_role("button", name="Why were some not accepted?").click()
    clean(page, "refusals")
    page.get_by_role("button", name="Close").click()
    laptop.change(state="closed")
    expect(page.locator("#seat")).to_have_attribute("data-screen", "closed")
    clean(page, "closed")


def test_the_whole_round_can_be_marked_by_keyboard_alone(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url, has_touch=False, is_mobile=False)
    page.keyboard.press("Tab")
    for _ in range(200):
        name = page.evaluate("document.activeElement.getAttribute('aria-label')")
        if name == "417: how strong":
            break
        page.keyboard.press("Tab")
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("PageUp")
    page.keyboard.press("ArrowDown")
    until(
        page,
        lambda: any(mark["liking"] == 48 for mark in laptop.marks(kind="mark", bowl="417")),
        "where the token has come to rest is on the laptop",
    )
    expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop")
    assert laptop.marks(kind="mark", bowl="417")[-1]["intensity"] > 60


def test_a_screen_reader_hears_each_token_as_two_labelled_sliders(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = page.get_by_role("group", name="Aroma pad: left to right how strong")
    token = pad.get_by_role("group", name="417")
    expect(token.get_by_role("slider")).to_have_count(2)
    strength = token.get_by_role("slider", name="417: how strong")
    expect(strength).to_have_attribute("aria-valuetext", "not placed yet")
    # As TalkBack and VoiceOver move a slider: by its value, without keys.
    strength.evaluate(
        "range => { range.value = 80; range.dispatchEvent(new Event('input', {bubbles: true})); }"
    )
    expect(strength).to_have_attribute("aria-valuetext", "strong, 80")
    until(page, lambda: laptop.marks(kind="mark"), "the move is on the laptop")
    (mark,) = laptop.marks(kind="mark")
    assert (mark["intensity"], mark["liking"]) == (80, None)


def heard(page: Page, label: str) -> list[tuple[int, str, str, str]]:
    """Return (depth, role, name, range) of everything a screen reader is told inside a group."""
    protocol = page.context.new_cdp_session(page)
    nodes = protocol.send("Accessibility.getFullAXTree")["nodes"]
    by_id = {node["nodeId"]: node for node in nodes}

    def value(node: dict[str, Any], name: str) -> str:
        return str(node.get(name, {}).get("value", ""))

    def walk(node: dict[str, Any], depth: int) -> list[tuple[int, str, str, str]]:
        told = []
        inner = depth
        if not node["ignored"] and value(node, "role") not in ("InlineTextBox", "none", "generic"):
            properties = {each["name"]: each["value"].get("value") for each in node["properties"]}
            low, high = properties.get("valuemin"), properties.get("valuemax")
            ends = "" if high is None else f"{low}-{high}"
            told.append((depth, value(node, "role"), value(node, "name"), ends))
            inner += 1
        for child in node.get("childIds", ()):
            told += walk(by_id[child], inner)
        return told

    (group,) = [n for n in nodes if value(n, "role") == "group" and value(n, "name") == label]
    return walk(group, 0)


def test_the_accessibility_tree_of_a_pad_is_pairs_of_labelled_sliders(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = Pad(page)
    pad.show()
    pad.place("862", 80, 20)
    label = "Aroma pad: left to right how strong, bottom to top how much liked"
    expected = [
        (0, "group", label, ""),
        (1, "StaticText", "← hardly any smell", ""),
        (1, "StaticText", "fills the nose →", ""),
    ]
    for code in ("417", "862", "305", "588"):
        expected += [
            (1, "group", code, ""),
            (2, "slider", f"{code}: how strong", "0-100"),
            (2, "slider", f"{code}: how much you like it", "0-100"),
        ]
    expected += [(1, "status", "", ""), (2, "StaticText", "862: aroma strong, disliked", "")]
    assert heard(page, label) == expected
    said = "sliders => sliders.map((slider) => slider.ariaValueText)"
    assert page.get_by_role("group", name="862").get_by_role("slider").evaluate_all(said) == [
        "strong, 80",
        "disliked, 20",
    ]
    assert page.get_by_role("group", name="417").get_by_role("slider").evaluate_all(said) == [
        "not placed yet",
        "not placed yet",
    ]


def test_hostile_text_stays_text(laptop: FakeLaptop, open_phone: OpenPhone) -> None:
    page = open_phone(laptop.url)
    words_of(page, "417")
    page.get_by_label("Note on 417").fill('<img src=x onerror="document.title = 1">')
    page.get_by_role("heading", name="Words and a note").click()
    until(page, lambda: laptop.marks(kind="note"), "the note is on the laptop")
    assert laptop.marks(kind="note")[-1]["text"].startswith("<img")
    assert page.locator("img").count() == 0
    assert page.title() != "1"


def test_nothing_moves_where_less_motion_is_wished(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url, reduced_motion="reduce")
    moving = """() => [...document.querySelectorAll("#seat *")].filter((node) => {
        const style = getComputedStyle(node);
        return style.animationName !== "none" || style.transitionDuration.split(",")
          .some((time) => parseFloat(time) > 0 && style.transitionProperty !== "none");
    }).map((node) => node.className)"""
    assert page.evaluate(moving) == []
