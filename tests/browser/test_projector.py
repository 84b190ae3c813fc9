"""The page for the wall: read from far off, live by itself, and the pads only after the close."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from tests.browser.conftest import OpenPhone
from tests.browser.real_laptop import running
from tests.browser.real_table import RealTable, real_table
from tests.browser.waiting import until, until_there
from tests.ports import lasting_port
from tests.store.tables import add_table, mark
from tests.web.running import host_cookie

from twobowls.store import open_store
from twobowls.web.settings import wall_clock_ms

pytestmark = pytest.mark.browser
STEP_MS = 4500  # of the play: wall-show.js
READ_MS = 4000  # in which what has come is read: every 2.5 s, looked at each second: projector.js


@pytest.fixture
def table(tmp_path: Path) -> Iterator[RealTable]:
    with real_table(tmp_path) as served:
        yield served


@pytest.fixture
def context(chromium: Browser, table: RealTable) -> Iterator[BrowserContext]:
    opened = chromium.new_context(viewport={"width": 1920, "height": 1080})
    opened.add_cookies([{"name": "twobowls_host", "value": host_cookie(), "url": table.url}])
    yield opened
    opened.close()


def on_the_wall(context: BrowserContext, table: RealTable) -> Page:
    """Open the page; its pads go on only when the test lets time pass."""
    page = context.new_page()
    page.clock.install()
    page.clock.pause_at(wall_clock_ms() / 1000 + 1)  # in seconds
    page.goto(f"{table.url}/tastings/{table.tasting_id}/projector")
    expect(page.locator("#round")).not_to_have_text("…")
    return page


def mark_all(table: RealTable, nickname: str, rounds: tuple[str, ...] = ("hot",)) -> None:
    """Let somebody place every bowl on two pads in some rounds."""
    seat, _key = table.store.join(table.tasting_id, nickname, wall_clock_ms())
    codes = [bowl.code for bowl in table.store.tasting(table.tasting_id).plan.bowls]
    marks = [
        mark(
            seat.id,
            code,
            sensation=sensation,
            round=key,
            intensity=20.0 + 15 * place,
            liking=70.0 - 10 * turn,
            at_ms=wall_clock_ms(),
        )
        for turn, key in enumerate(rounds)
        for place, code in enumerate(codes)
        for sensation in ("aroma", "acidity")
    ]
    table.store.add_records(seat.id, marks, wall_clock_ms())


def sizes(page: Page, *selectors: str) -> dict[str, float]:
    """Return the size of the letters on the screen, as shares of the picture's width."""
    script = """(selector) => [...document.querySelectorAll(selector)]
        .filter((node) => node.checkVisibility() && node.textContent.trim())
        .map((node) => parseFloat(getComputedStyle(node).fontSize)
            * (node.ownerSVGElement ? node.ownerSVGElement.getScreenCTM().a : 1) / innerWidth)"""
    return {each: min(page.evaluate(script, each)) for each in selectors}


def fits(page: Page) -> bool:
    script = """[document.documentElement.scrollHeight <= innerHeight,
        document.documentElement.scrollWidth <= innerWidth]"""
    return bool(page.evaluate(script) == [True, True])


@pytest.mark.parametrize("viewport", [(1920, 1080), (1280, 720)])
def test_it_is_read_from_the_far_side_of_the_room(
    context: BrowserContext, table: RealTable, viewport: tuple[int, int]
) -> None:
    mark_all(table, "Ada")
    page = on_the_wall(context, table)
    page.set_viewport_size({"width": viewport[0], "height": viewport[1]})
    until_there(page, f"innerWidth === {viewport[0]}")
    expect(page.locator(".wall-next").first).not_to_be_empty()
    expect(page.locator(".tasted .wall-warmth").first).not_to_be_empty()
    figures = (".wall-elapsed", ".wall-temperature")
    seen = sizes(page, ".wall-bowl .code", *figures, ".wall-next", ".wall-warmth", ".wall-round")
    assert fits(page)
    assert min(seen.values()) >= 0.017
    assert seen[".wall-temperature"] >= 0.04  # of a round that is tasted it is what matters
    table.store.close(table.tasting_id, wall_clock_ms())
    expect(page.locator(".wall-label-text").first).to_be_visible()
    seen = sizes(page, ".wall-label-text", ".wall-names li", ".wall-title", ".wall-ends")
    assert min(seen.values()) >= 0.017
    assert fits(page)


def test_it_counts_while_the_table_tastes_and_names_nobody(
    context: BrowserContext, table: RealTable
) -> None:
    page = on_the_wall(context, table)
    expect(page.locator("#facts")).to_contain_text("No seats taken")
    mark_all(table, "Ada")
    expect(page.locator("#facts")).to_contain_text("8 of 28 places marked")
    expect(page.locator("#facts")).to_contain_text("0 of 1 seat done")
    text = page.locator("body").inner_text()
    assert "Ada" not in text
    expect(page.locator("#pads")).to_be_hidden()
    assert page.locator(".wall-mark").count() == 0
    table.store.call_round(table.tasting_id, "warm", wall_clock_ms())
    expect(page.locator("#round")).to_have_text("Warm")


def test_it_says_how_warm_each_bowl_is_in_the_round_that_runs(
    context: BrowserContext, table: RealTable
) -> None:
    page = on_the_wall(context, table)
    bowls = sorted(bowl.code for bowl in table.store.tasting(table.tasting_id).plan.bowls)
    card = page.locator(f'[data-bowl="{bowls[1]}"]')
    expect(card.locator(".wall-temperature")).to_contain_text("°C")
    expect(card.locator(".wall-warmth")).to_have_text("right for Hot")
    table.store.probe(table.tasting_id, bowls[1], 55.0, wall_clock_ms())
    expect(card.locator(".wall-temperature")).to_have_text("≈ 55 °C")
    table.store.call_round(table.tasting_id, "warm", wall_clock_ms())
    page.clock.run_for(1100)
    expect(card.locator(".wall-warmth")).to_have_text("still above 50 °C")
    expect(card.locator(".wall-dot")).to_have_attribute("data-tone", "2")


def test_it_counts_nobody_who_joined_twice_and_sits_on_one_seat_alone(
    context: BrowserContext, table: RealTable, open_phone: OpenPhone
) -> None:
    table.seat("Ada")  # joined, and left again without a mark
    page = on_the_wall(context, table)
    expect(page.locator("#facts")).to_contain_text("No seats taken")
    phone = open_phone(table.seat("Ada 2"))
    expect(page.locator("#facts")).to_contain_text("0 of 1 seat done")
    phone.goto("about:blank")
    expect(page.locator("#facts")).to_contain_text("No seats taken")


def test_once_closed_the_pads_fill_in_by_code_and_after_the_reveal_by_name(
    context: BrowserContext, table: RealTable
) -> None:
    mark_all(table, "Ada", ("hot", "warm"))
    mark_all(table, "Ben", ("hot",))
    page = on_the_wall(context, table)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    table.store.close(table.tasting_id, wall_clock_ms())
    expect(page.locator("#round")).to_have_text("What the table marked")
    expect(page.locator(".wall-title")).to_have_text("Aroma")
    expect(page.locator(".wall-mark")).to_have_count(8)  # two people, four bowls, hot
    expect(page.locator(".wall-rounds [aria-pressed=true]")).to_have_text("Hot")
    codes = sorted(b.code for b in table.store.tasting(table.tasting_id).plan.bowls)
    assert sorted(page.locator(".wall-label-text").all_text_contents()) == codes
    page.clock.run_for(STEP_MS)  # the play goes on by itself
    expect(page.locator(".wall-rounds [aria-pressed=true]")).to_have_text("Warm")
    expect(page.locator(".wall-mark")).to_have_count(4)
    page.clock.run_for(STEP_MS)
    expect(page.locator(".wall-title")).to_have_text("Acidity")
    assert "Amber Ridge" not in page.content()
    table.store.reveal(table.tasting_id, wall_clock_ms(), {})
    page.clock.run_for(READ_MS)
    expect(page.locator(".wall-names")).to_contain_text("Amber Ridge")
    labels = page.locator(".wall-label-text").all_text_contents()
    assert sorted(labels) == ["Amber Ridge", "Amber Ridge", "Low Meadow", "Third Gate"]
    assert [url for url in asked if url.endswith("/projector")] == []  # without a reload


def test_a_tasting_that_goes_on_after_all_hides_the_marks_again(
    context: BrowserContext, table: RealTable
) -> None:
    mark_all(table, "Ada")
    table.store.close(table.tasting_id, wall_clock_ms())
    page = on_the_wall(context, table)
    expect(page.locator(".wall-mark")).to_have_count(4)
    table.store.reopen(table.tasting_id, wall_clock_ms())
    expect(page.locator("#round")).to_have_text("Hot")
    expect(page.locator(".wall-elapsed").first).to_be_visible()
    assert page.locator(".wall-mark, .wall-label-text, .wall-thumb .wall-token").count() == 0
    table.store.close(table.tasting_id, wall_clock_ms())
    expect(page.locator(".wall-mark")).to_have_count(4)


def test_a_mark_that_comes_late_is_shown_too(context: BrowserContext, table: RealTable) -> None:
    mark_all(table, "Ada")
    seat, _key = table.store.join(table.tasting_id, "Ben", wall_clock_ms())
    made_ms = wall_clock_ms()
    table.store.close(table.tasting_id, wall_clock_ms())
    page = on_the_wall(context, table)
    page.get_by_role("button", name="Pause").click()
    expect(page.locator(".wall-mark")).to_have_count(4)
    code = table.store.tasting(table.tasting_id).plan.bowls[0].code
    late = mark(seat.id, code, sensation="aroma", at_ms=made_ms)
    table.store.add_records(seat.id, [late], wall_clock_ms())
    page.clock.run_for(READ_MS)
    expect(page.locator(".wall-mark")).to_have_count(5)


def test_a_mark_that_was_moved_is_shown_where_it_rests(
    context: BrowserContext, table: RealTable
) -> None:
    """The phone was away when it was moved, and brings it after the close: no count changes."""
    mark_all(table, "Ada")
    made_ms = wall_clock_ms() + 1
    tasting = table.store.close(table.tasting_id, made_ms)
    page = on_the_wall(context, table)
    page.get_by_role("button", name="Pause").click()
    expect(page.locator(".wall-mark")).to_have_count(4)
    spots = "marks => marks.map((mark) => Number(mark.getAttribute('cx'))).sort((a, b) => a - b)"
    before = page.locator(".wall-mark").evaluate_all(spots)
    seat, code = tasting.seats[0], tasting.plan.bowls[0].code
    moved = mark(seat.id, code, sensation="aroma", intensity=95.0, at_ms=made_ms)
    table.store.add_records(seat.id, [moved], wall_clock_ms() + 1)
    page.clock.run_for(READ_MS)
    until(
        page,
        lambda: page.locator(".wall-mark").evaluate_all(spots)[:3] == before[1:],
        "the mark of the first bowl stands beyond the others",
    )


def test_the_pads_are_turned_by_keys_and_by_a_clicker(
    context: BrowserContext, table: RealTable
) -> None:
    mark_all(table, "Ada", ("hot", "warm"))
    table.store.close(table.tasting_id, wall_clock_ms())
    page = on_the_wall(context, table)
    now = page.locator(".wall-rounds [aria-pressed=true]")
    expect(now).to_have_text("Hot")
    page.keyboard.press("PageDown")
    expect(now).to_have_text("Warm")
    expect(page.get_by_role("button", name="Play")).to_be_visible()  # who turns wants it to stay
    page.keyboard.press("ArrowRight")
    expect(page.locator(".wall-title")).to_have_text("Acidity")
    page.keyboard.press("ArrowLeft")
    expect(page.locator(".wall-title")).to_have_text("Aroma")
    page.get_by_role("group", name="Pads").get_by_role("button", name="Acidity").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".wall-title")).to_have_text("Acidity")
    expect(page.get_by_role("img", name="Acidity, round Warm")).to_be_visible()
    page.get_by_role("button", name="Play").focus()
    page.keyboard.press("Space")  # over already: it begins anew
    expect(page.locator(".wall-title")).to_have_text("Aroma")


def test_nothing_moves_by_itself_where_less_motion_is_wished(
    chromium: Browser, table: RealTable
) -> None:
    mark_all(table, "Ada", ("hot", "warm"))
    table.store.close(table.tasting_id, wall_clock_ms())
    still = chromium.new_context(reduced_motion="reduce")
    still.add_cookies([{"name": "twobowls_host", "value": host_cookie(), "url": table.url}])
    page = on_the_wall(still, table)
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    expect(page.locator(".wall-mark")).to_have_count(4)
    moving = "document.getAnimations().filter((each) => each.playState === 'running').length"
    assert page.evaluate(moving) == 0
    page.clock.run_for(4 * STEP_MS)
    expect(page.locator(".wall-title")).to_have_text("Aroma")
    page.keyboard.press("ArrowRight")
    assert page.evaluate(moving) == 0
    still.close()


def test_it_comes_back_by_itself_after_the_laptop_was_restarted(
    chromium: Browser, tmp_path: Path
) -> None:
    path, port = tmp_path / "tastings.sqlite3", str(lasting_port())
    with open_store(path) as store:
        tasting = add_table(store)
        store.open(tasting.id, wall_clock_ms())
    context = chromium.new_context(viewport={"width": 1920, "height": 1080})
    page = context.new_page()
    with running(path, "--port", port) as laptop:
        page.goto(laptop.host_url)
        page.goto(f"{laptop.base}/tastings/{tasting.id}/projector")
        expect(page.locator("#round")).to_have_text("Soon")
    expect(page.locator("#link")).to_have_text("Connecting again …")
    with open_store(path) as store:  # what happened while the wall was cut off
        store.call_round(tasting.id, "hot", wall_clock_ms())
        store.pour(tasting.id, tasting.plan.bowls[0].code, wall_clock_ms() - 65_000)
    with running(path, "--port", port):
        expect(page.locator("#round")).to_have_text("Hot")
        card = page.locator(f'[data-bowl="{tasting.plan.bowls[0].code}"]')
        expect(card.locator("[data-elapsed]")).to_contain_text("1:")
        expect(page.locator("#link")).to_be_empty()
    context.close()
