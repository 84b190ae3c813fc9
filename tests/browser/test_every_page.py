"""axe finds nothing on any page, in any state, on a phone and wide, in light and dark.

The pages are taken from the table of operations, to which every route is held: a page that is
added without a line here makes the first test fail.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import resources
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from tests.browser.conftest import ARRIVED
from tests.browser.touch import seldom
from tests.browser.waiting import until_drawn, until_there
from tests.store.tables import add_table, mark
from tests.web.running import Running, host_cookie, running

from twobowls.demo.sample import load_sample
from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.tasting import State, Tasting
from twobowls.web.api_operations import OPERATIONS

pytestmark = pytest.mark.browser
STATES: tuple[State, ...] = ("planned", "open", "closed", "revealed")
ERROR = "(an error)"  # error pages belong to no route


@dataclass(frozen=True)
class World:
    """A served store: the sample, and a table in every state with a seat each."""

    server: Running
    tables: dict[str, Tasting]
    keys: dict[str, str]
    coffee: str


Then = Callable[[Page], None]


@dataclass(frozen=True)
class View:
    """One look at a page. ``path`` is its route, ``state`` picks the table."""

    path: str
    state: str = "open"
    name: str = ""
    query: str = ""
    guest: bool = False
    then: Then | None = None

    def address(self, world: World) -> str:
        table = world.tables[self.state]
        seat = table.seats[0].id if table.seats else ""
        shelf = self.path.startswith("/shelf")
        filled = self.path.replace("{id}", world.coffee if shelf else table.id)
        filled = filled.replace("{key}", world.keys[self.state]).replace("{seat}", seat)
        return f"{world.server.address}{filled}{self.query}"


def press(name: str) -> Then:
    return lambda page: page.get_by_role("button", name=name).first.click()


def send(button: str) -> Then:
    """Press what sends a form, and wait for the page that answers."""

    def then(page: Page) -> None:
        with page.expect_navigation():
            page.get_by_role("button", name=button).first.click()

    return then


def fill(values: dict[str, str], button: str) -> Then:
    def then(page: Page) -> None:
        for label, text in values.items():
            page.get_by_label(label, exact=True).fill(text)
        send(button)(page)

    return then


def welcomed(page: Page) -> None:
    page.get_by_role("button", name="Skip").click()
    page.get_by_role("button", name="I will take care").click()


def other_phone(page: Page) -> None:
    welcomed(page)
    seldom(page, "Go on with another phone")
    expect(page.get_by_role("img", name="QR code of the address below")).to_be_visible()


def sliders(page: Page) -> None:
    welcomed(page)
    seldom(page, "Use sliders instead")


def shown_pads(page: Page) -> None:
    """Wait until every mark of a pad has appeared."""
    expect(page.locator(".wall-mark").first).to_be_attached()
    page.keyboard.press("ArrowLeft")  # whoever turns the pads wants them to stay
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    until_there(page, "!document.getAnimations().some(({ playState }) => playState === 'running')")


def pasted(text: str) -> Then:
    def then(page: Page) -> None:
        page.get_by_label("or the rows themselves").fill(text)
        send("Look at it")(page)

    return then


LIST = "Coffee,Roaster,Price\nPale Door,Oro,12\nPale Door,,not a price\n,Nobody,3\n"
VIEWS = [
    View("/host", guest=True),
    View("/host", name="wrong key", guest=True, then=fill({"Key": "x"}, "Let me in")),
    View("/join", guest=True),
    View("/join", name="with code", guest=True, query="?code=ABCD"),
    View(
        "/join",
        name="wrong code",
        guest=True,
        then=fill({"Code of the tasting": "ZZZZ", "Your name at this table": "A"}, "Sit down"),
    ),
    View("/"),
    View("/shelf"),
    View("/shelf/new"),
    View("/shelf/new", name="no name", then=fill({"Name": " "}, "Put it on the shelf")),
    View("/shelf/{id}"),
    View("/shelf/import"),
    View("/shelf/import", name="nothing", then=send("Look at it")),
    View("/shelf/import", name="preview", then=pasted(LIST)),
    View("/tastings/new"),
    View("/tastings/new", name="nothing chosen", then=fill({"Seats": "x"}, "Plan it")),
    View("/tastings/{id}/sheet"),
    View("/tastings/{id}/sheet", state="late"),
    *[View("/tastings/{id}/bench", state=state) for state in (*STATES, "late", "empty")],
    *[View("/tastings/{id}/projector", state=state) for state in ("planned", "open")],
    *[
        View("/tastings/{id}/projector", state=state, then=shown_pads)
        for state in ("closed", "revealed")
    ],
    View("/tastings/{id}/seats/{seat}"),
    View("/tastings/{id}/reveal", state="closed"),
    View("/tastings/{id}/corrections"),
    View("/tastings/{id}/corrections", state="revealed"),
    View("/tastings/{id}/reveal", state="late"),
    View("/tastings/{id}/reveal", state="late", name="half filled", then=send("Reveal")),
    *[View("/tastings/{id}/debrief", state=state) for state in ("open", "closed", "revealed")],
    View("/tastings/{id}/debrief.html", state="revealed"),
    View("/seat/{key}", state="planned", guest=True),
    View("/seat/{key}", state="planned", name="waiting", guest=True, then=welcomed),
    View("/seat/{key}", guest=True, name="cautions", then=press("Skip")),
    View("/seat/{key}", guest=True, name="pad", then=welcomed),
    View("/seat/{key}", guest=True, name="sliders", then=sliders),
    View("/seat/{key}", guest=True, name="another phone", then=other_phone),
    *[View("/seat/{key}", state=state, guest=True) for state in ("closed", "revealed")],
    *[
        View("/seat/{key}/debrief", state=state, guest=True)
        for state in ("open", "closed", "revealed", "late")
    ],
    View(ERROR, name="403", guest=True, query="/shelf"),
    View(ERROR, name="404", query="/nothing"),
    View(ERROR, name="404 for a guest", guest=True, query="/seat/nobody"),
    View(ERROR, name="400", query="/tastings/new?like=nothing"),
]


def table_in(server: Running, state: str) -> tuple[Tasting, str]:
    """Bring a table with two people's marks to a state."""
    store, now = server.store, server.clock
    tasting = add_table(store, host_tastes=state == "late")
    if state == "empty":
        return store.open(tasting.id, now()), "nobody"
    seats = [store.join(tasting.id, name, now()) for name in ("Ada", "A name of 24 characters")]
    if state != "planned":
        store.open(tasting.id, now())
        for bowl in tasting.plan.bowls[:-1] if state == "open" else tasting.plan.bowls:
            store.pour(tasting.id, bowl.code, now())
        store.call_round(tasting.id, "hot", now())
        for number, (seat, _key) in enumerate(seats):
            marks = [
                mark(
                    seat.id,
                    bowl.code,
                    sensation=each.key,
                    round=round_key,
                    intensity=20.0 + 17 * place + 5 * number,
                    liking=80.0 - 15 * place + 3 * number,
                    at_ms=now(),
                )
                for place, bowl in enumerate(tasting.plan.bowls)
                for each in SENSATIONS
                for round_key in ("hot", "cool")
            ]
            store.add_records(seat.id, marks, now())
    if state in ("closed", "revealed", "late"):
        store.close(tasting.id, now())
    if state == "revealed":
        store.reveal(tasting.id, now(), {})
    return store.tasting(tasting.id), seats[0][1]


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    folder = tmp_path_factory.mktemp("every")
    with running(folder / "store.sqlite3", "http://192.0.2.7:8417") as server:
        load_sample(server.store, server.clock())
        made = {state: table_in(server, state) for state in (*STATES, "late", "empty")}
        yield World(
            server,
            {state: tasting for state, (tasting, _key) in made.items()},
            {state: key for state, (_tasting, key) in made.items()},
            server.store.coffees()[0].id,
        )


@pytest.fixture(scope="module")
def contexts(chromium: Browser, world: World) -> Iterator[dict[bool, BrowserContext]]:
    """The host's browser and a guest's. The checker's own script needs to get past the policy."""
    made = {}
    for guest in (False, True):
        context = chromium.new_context(bypass_csp=True, service_workers="block")
        made[guest] = context
    cookie = {"name": "twobowls_host", "value": host_cookie(), "url": world.server.address}
    made[False].add_cookies([cookie])  # type: ignore[list-item]
    yield made
    for context in made.values():
        context.close()


def test_no_page_is_left_out() -> None:
    pages = {
        each.path
        for each in OPERATIONS
        if each.method == "get" and any(answer.media == "text/html" for answer in each.answers)
    }
    assert {view.path for view in VIEWS} - {ERROR} == pages


CHECKER = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text()
RUN = "(options) => axe.run(document, options).then((found) => found.violations)"


def violations(page: Page, rules: str = "") -> list[dict[str, Any]]:
    """Run the checker; its script is put into each page once."""
    if page.evaluate("window.axe === undefined"):
        page.evaluate(CHECKER)
    options = {"runOnly": {"type": "rule", "values": [rules]}} if rules else {}
    found: list[dict[str, Any]] = page.evaluate(RUN, {"resultTypes": ["violations"], **options})
    return found


def clean(page: Page, rules: str = "") -> None:
    """Nothing to find fault with, folded parts included, and nothing wider than the screen."""
    found = violations(page, rules)
    assert found == [], json.dumps(found, indent=1)[:3000]
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0


def test_the_checker_does_find_faults(contexts: dict[bool, BrowserContext]) -> None:
    page = contexts[True].new_page()
    page.set_content('<main><h1>A</h1><img src="a.png"><p style="color: #ccc">pale</p></main>')
    assert {"image-alt", "html-has-lang"} <= {each["id"] for each in violations(page)}
    assert [each["id"] for each in violations(page, "color-contrast")] == ["color-contrast"]
    page.close()


@pytest.mark.parametrize(
    "view", VIEWS, ids=lambda view: f"{view.path} {view.state} {view.name}".strip()
)
def test_axe_finds_nothing(view: View, world: World, contexts: dict[bool, BrowserContext]) -> None:
    context = contexts[view.guest]
    page = context.new_page()
    try:
        show(page, view, world, context)
        for width in (1280, 360):
            page.set_viewport_size({"width": width, "height": 800})
            until_drawn(page)
            clean(page)
        page.emulate_media(color_scheme="dark")
        until_drawn(page)
        clean(page, "color-contrast")  # nothing else depends on the colours
    finally:
        page.close()
        if view.guest:
            forget(context, world)


def show(page: Page, view: View, world: World, context: BrowserContext) -> None:
    """Open a page and bring it to where it is looked at, with everything unfolded."""
    page.set_viewport_size({"width": 1280, "height": 800})
    address = world.server.address + view.query if view.path == ERROR else view.address(world)
    if view.path.endswith(".html"):  # a file to keep, which the browser would put away unseen
        page.set_content(context.request.get(address).text())
    else:
        page.goto(address)
    if view.path == "/seat/{key}":
        page.wait_for_selector(ARRIVED)
    if view.then is not None:
        view.then(page)
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")


def forget(context: BrowserContext, world: World) -> None:
    """Make the guest's phone a new one: a seat that was welcomed is not welcomed again."""
    page = context.new_page()
    page.goto(f"{world.server.address}/join")
    page.evaluate("localStorage.clear()")
    page.close()
