"""The debrief in a real browser: readable by all, on a phone and on a wall, in light and dark."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from tests.web.running import Running, host_cookie, running

from twobowls.cli import main
from twobowls.demo.sample import load_sample
from twobowls.tasting.tasting import Tasting

pytestmark = pytest.mark.browser
NOON = 1_795_600_000_000
LOOKS = [(width, scheme) for width in (1280, 360) for scheme in ("light", "dark")]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("debrief") / "store.sqlite3") as served:
        load_sample(served.store, NOON)
        yield served


@pytest.fixture(scope="module")
def tasting(server: Running) -> Tasting:
    return next(each for each in server.store.tastings() if each.state == "revealed")


@pytest.fixture(scope="module")
def kept_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kept")
    rows = [
        f"{taster},{coffee},{sensation},{round_},{strong + taster},{60 - taster}"
        for taster in range(4)
        for coffee, strong in (("Oro", 60), ("Brisa", 40))
        for sensation in ("acidity", "verdict")
        for round_ in ("hot", "cool")
    ]
    (folder / "marks.csv").write_text(
        "taster,coffee,sensation,round,intensity,liking\n" + "\n".join(rows) + "\n"
    )
    assert main(["analyse", str(folder / "marks.csv"), "--html", str(folder / "out.html")]) == 0
    return folder / "out.html"


def opened(chromium: Browser, address: str, width: int, scheme: str, base: str = "") -> Page:
    context = chromium.new_context(
        viewport={"width": width, "height": 800},
        color_scheme="dark" if scheme == "dark" else "light",
        bypass_csp=True,  # for the checker's own script; what the page itself does is watched below
    )
    if base:
        context.add_cookies([{"name": "twobowls_host", "value": host_cookie(), "url": base}])
    page = context.new_page()
    page.goto(address)
    return page


def check(page: Page) -> None:
    """Nothing to find fault with, folded or unfolded, and nothing wider than the screen."""
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    found = Axe().run(page).response["violations"]
    assert found == [], json.dumps(found, indent=1)[:3000]
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0


@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_the_hosts_debrief_is_readable_by_all(
    chromium: Browser, server: Running, tasting: Tasting, width: int, scheme: str
) -> None:
    address = f"{server.address}/tastings/{tasting.id}/debrief"
    page = opened(chromium, address, width, scheme, server.address)
    check(page)
    assert page.locator(".pad-drawing").count() == 7
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_a_private_debrief_is_readable_by_all(
    chromium: Browser, server: Running, tasting: Tasting, width: int, scheme: str
) -> None:
    key = next(iter(server.store.seat_keys(tasting.id).values()))
    page = opened(chromium, f"{server.address}/seat/{key}/debrief", width, scheme)
    check(page)
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_the_kept_page_is_readable_by_all(
    chromium: Browser, kept_file: Path, width: int, scheme: str
) -> None:
    page = opened(chromium, kept_file.as_uri(), width, scheme)
    check(page)
    page.context.close()


def test_a_finding_leads_to_its_row_and_unfolds_it(
    chromium: Browser, server: Running, tasting: Tasting
) -> None:
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    context.add_cookies([{"name": "twobowls_host", "value": host_cookie(), "url": server.address}])
    complaints: list[str] = []
    page = context.new_page()
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(f"{server.address}/tastings/{tasting.id}/debrief")
    link = page.locator(".finding-why a").first
    row = page.locator(f"[id='{(link.get_attribute('href') or '')[1:]}']")
    expect(row).to_be_hidden()
    link.click()
    expect(row).to_be_visible()
    expect(row).to_be_in_viewport()
    assert complaints == []
    context.close()


def test_colours_follow_the_theme_in_charts_and_pads(
    chromium: Browser, server: Running, tasting: Tasting
) -> None:
    inks = {}
    for scheme in ("light", "dark"):
        address = f"{server.address}/tastings/{tasting.id}/debrief"
        page = opened(chromium, address, 1280, scheme, server.address)
        inks[scheme] = [
            page.locator(each).first.evaluate("part => getComputedStyle(part).fill")
            for each in (".chart text", ".pad-name text")
        ]
        page.context.close()
    assert all(each.startswith("rgb(") for look in inks.values() for each in look)
    assert all(a != b for a, b in zip(inks["light"], inks["dark"], strict=True))
