"""A whole evening by keyboard alone: Tab, Enter, Space, arrows and letters, never a mouse."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.store.tables import add_table
from tests.web.running import HOST_KEY, Running, running

pytestmark = [pytest.mark.browser, pytest.mark.timeout(600)]
NOW_ON = """() => {
    const node = document.activeElement;
    if (!node || node === document.body) return null;
    const label = node.labels?.[0] ?? document.querySelector(`label[for="${node.id}"]`);
    const style = getComputedStyle(node);
    const box = node.getBoundingClientRect();
    return {
        name: (node.getAttribute("aria-label") ?? (label ?? node).textContent)
            .trim().replace(/\\s+/g, " "),
        kind: node.tagName.toLowerCase(),
        seen: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
        inside: box.bottom > 0 && box.top < innerHeight,
    };
}"""


class Keys:
    """Hands on a keyboard."""

    def __init__(self, page: Page, base: str) -> None:
        self.page, self.base = page, base

    def go_to(self, name: str, kind: str = "") -> None:
        """Press Tab until the focus is on something with this name; each stop must be seen."""
        passed = []
        for _ in range(160):
            now = self.page.evaluate(NOW_ON)
            if now is not None and re.match(name, now["name"]) and kind in ("", now["kind"]):
                assert now["seen"], f"the focus cannot be seen on {now}"
                assert now["inside"], f"the focus is off the screen on {now}"
                return
            passed.append(now["name"] if now else None)
            self.page.keyboard.press("Tab")
        pytest.fail(f"no way to {name!r} by Tab; passed {passed[:40]}")

    def press(self, name: str, kind: str = "", key: str = "Enter") -> None:
        self.go_to(name, kind)
        self.page.keyboard.press(key)

    def follow(self, name: str, kind: str) -> None:
        """Press what leads to another page, and wait for it."""
        self.go_to(name, kind)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def choose(self, name: str, wanted: str) -> None:
        """Go down a list of choices until the right one is reached."""
        self.go_to(name, "select")
        chosen = "document.activeElement.selectedOptions[0].text"
        last = None
        while (now := self.page.evaluate(chosen)) != wanted:
            assert now != last, f"{wanted!r} is not among the choices of {name!r}"
            self.page.keyboard.press("ArrowDown")
            last = now

    def write(self, name: str, text: str) -> None:
        self.go_to(name)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Running]:
    with running(tmp_path / "store.sqlite3") as served:
        yield served


@pytest.fixture
def keys(chromium: Browser, server: Running) -> Iterator[Keys]:
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    yield Keys(context.new_page(), server.address)
    context.close()


def test_an_evening_is_run_by_keyboard(keys: Keys, server: Running) -> None:
    page = keys.page
    page.goto(f"{keys.base}/host")
    keys.write("Key", HOST_KEY)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Tastings", exact=True)).to_be_visible()

    keys.follow("Shelf", "a")
    keys.follow("Add a coffee", "a")
    for name in ("Harbour Light", "Copper Hill"):
        keys.write("Name", name)
        keys.follow("Save and add another", "button")
    keys.follow("Shelf", "a")
    keys.follow("Import a list", "a")
    keys.write("or the rows themselves", "Coffee,Roaster\nLong Meadow,Oro")
    keys.follow("Look at it", "button")
    keys.follow("Add", "button")
    expect(page.get_by_role("link", name="Long Meadow", exact=True)).to_be_visible()

    keys.follow("Tastings", "a")
    keys.follow("Plan", "a")
    for name in ("Harbour Light", "Copper Hill"):
        keys.press(name, "input", "Space")
    keys.follow("Plan it", "button")
    expect(page).to_have_url(re.compile("/sheet$"))
    tasting = server.store.tastings()[0]
    assert len(tasting.plan.bowls) >= 2

    keys.follow(r"(To the )?[Bb]ench", "a")
    keys.follow("Open the tasting", "button")
    expect(page.locator("[data-pour]").first).to_be_visible()
    codes = [bowl.code for bowl in tasting.plan.bowls]
    for code in codes:
        keys.press(f"Pour now {code}", "button")
        expect(page.locator(f'[data-bowl="{code}"] [data-correct]')).to_be_visible()
    keys.press(f"Correct the clock of {codes[0]}", "summary")
    keys.write(f"Poured so long ago|{codes[0]}", "12:30")
    page.keyboard.press("Enter")
    expect(page.locator(f'[data-bowl="{codes[0]}"] [data-elapsed]')).to_contain_text(
        re.compile(r"1[2-9]:\d\d")
    )
    keys.press("Hot", "button")
    expect(page.get_by_role("heading", name="Sure?")).to_be_visible()  # no thermometer was read
    keys.follow("Yes, call it now", "button")
    expect(page.locator('button[data-round="hot"]')).to_have_attribute("aria-pressed", "true")
    keys.write("Reads", "61.5")
    page.keyboard.press("Enter")
    expect(page.locator("#temperature")).to_have_value("")
    assert [each.temperature_c for each in server.store.tasting(tasting.id).probes] == [61.5]

    keys.press("Close the tasting", "summary")
    keys.follow("Yes, close it", "button")
    keys.follow("Reveal the coffees", "a")
    keys.follow("Reveal", "button")
    expect(page).to_have_url(re.compile("/debrief$"))
    assert server.store.tasting(tasting.id).state == "revealed"


def test_the_first_tab_offers_the_content(keys: Keys) -> None:
    keys.page.goto(f"{keys.base}/join")
    keys.page.locator("body").focus()
    keys.page.evaluate("document.activeElement.blur()")
    keys.press("Skip to the content", "a")
    assert keys.page.evaluate("document.activeElement.id") == "main"


def test_the_shelf_and_a_dead_phone_are_seen_to_by_keyboard(keys: Keys, server: Running) -> None:
    tasting = add_table(server.store)
    server.store.join(tasting.id, "Ada", server.clock())
    page = keys.page
    page.goto(f"{keys.base}/host?key={HOST_KEY}")
    page.goto(f"{keys.base}/shelf")
    keys.follow("Edit Alder Gate", "a")
    keys.write("Roaster", "Oro")
    keys.follow("Save", "button")
    keys.follow("Archive Bellwether", "button")
    names = {each.name: each.roaster for each in server.store.coffees()}
    assert names == {"Alder Gate": "Oro", "Copper Lane": ""}
    keys.press("1 coffee archived", "summary")
    keys.follow("Put back Bellwether", "button")
    assert len(server.store.coffees()) == 3
    page.goto(f"{keys.base}/tastings/{tasting.id}/bench")
    keys.follow("Other phone for Ada", "a")
    expect(page.get_by_role("img", name="QR code of the address below")).to_be_visible()
    keys.follow("Bench", "a")
    keys.follow("Plan sheet", "a")
    keys.press("Show which coffee is in which bowl", "summary")
    expect(page.locator("details.secret")).to_contain_text("Copper Lane")


def test_a_late_reveal_is_typed_in_by_keyboard(keys: Keys, server: Running) -> None:
    tasting = add_table(server.store, host_tastes=True)
    server.store.open(tasting.id, server.clock())
    server.store.close(tasting.id, server.clock())
    page = keys.page
    page.goto(f"{keys.base}/host?key={HOST_KEY}")
    page.goto(f"{keys.base}/tastings/{tasting.id}/reveal")
    names = ("Alder Gate", "Bellwether", "Alder Gate", "Copper Lane")
    wanted = dict(zip((bowl.code for bowl in tasting.plan.bowls), names, strict=True))
    for code in sorted(wanted):
        keys.choose(f"Bowl {code}", wanted[code])
    keys.follow("Reveal", "button")
    expect(page).to_have_url(re.compile("/debrief$"))
    coffees = {each.id: each.name for each in server.store.coffees(include_archived=True)}
    revealed = server.store.tasting(tasting.id)
    assert {b.code: coffees[b.coffee_id or ""] for b in revealed.plan.bowls} == wanted
