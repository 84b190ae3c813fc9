"""One whole tasting in a real browser: a host, four phones, three coffees, a hidden repeat.

The host does everything through pages; the phones are touched. At the end the debrief's figures
are held against the exported marks: counts and raw means by plain arithmetic, posteriors by an
independent calculation (tests/browser/independent.py).
"""

import csv
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from tests.browser.conftest import PHONE
from tests.browser.independent import Row, differences
from tests.browser.real_laptop import running
from tests.browser.touch import Pad, to_round, words_of
from tests.browser.waiting import until_drawn

pytestmark = [pytest.mark.browser, pytest.mark.timeout(900)]

COFFEES = ("Harbour Light", "Copper Hill", "Long Meadow")
GUESTS = ("Ada", "Ben", "Cleo", "Dov")
SENSATIONS = ("aroma", "acidity", "bitterness", "sweetness", "body", "aftertaste", "verdict")
# What the guests would say of each coffee, (how strong, how much liked), before their noise.
TRUTH = {
    "Harbour Light": (72.0, 68.0),
    "Copper Hill": (50.0, 60.0),
    "Long Meadow": (26.0, 30.0),
}
Place = Callable[[str, str, str], tuple[float, float]]


class Host:
    """The host's browser."""

    def __init__(self, page: Page, base: str) -> None:
        self.page, self.base = page, base

    def fill_shelf(self) -> None:
        for name in COFFEES:
            self.page.goto(f"{self.base}/shelf/new")
            self.page.get_by_label("Name", exact=True).fill(name)
            self.page.get_by_role("button", name="Put it on the shelf").click()
            # the next page would call the form off while it is on its way
            self.page.wait_for_url(lambda url: not url.endswith("/shelf/new"))
        for name in COFFEES:
            expect(self.page.get_by_text(name).first).to_be_visible()

    def plan(self) -> str:
        """Plan with all coffees, four seats and one hidden repeat; return the tasting's id."""
        self.page.goto(f"{self.base}/tastings/new")
        for name in COFFEES:
            self.page.get_by_label(name).first.check()
        self.page.get_by_label("Name of the tasting").fill("Four at the window")
        self.page.get_by_label("Seats").fill("4")
        self.page.get_by_label("Hidden repeats").fill("1")
        self.page.locator("#asking_all").check()
        self.page.get_by_role("button", name="Plan it").click()
        self.page.wait_for_url("**/sheet*")
        found = re.search(r"/tastings/([0-9a-f]+)/sheet", self.page.url)
        assert found, self.page.url
        return found[1]

    def at_bench(self, tasting: str) -> None:
        self.page.goto(f"{self.base}/tastings/{tasting}/bench")

    def join_code(self) -> str:
        return self.page.locator(".big-code").inner_text().strip()

    def open_and_pour(self) -> list[str]:
        """Open the tasting and start every bowl's clock; return the codes."""
        opening = self.page.get_by_role("button", name="Open the tasting")
        opening.click()
        # every bowl has its button only once the page has come anew
        expect(opening).to_be_hidden()
        expect(self.page.get_by_role("button", name="Pour now")).to_have_count(4)
        codes = self.page.locator("[data-bowl]").evaluate_all(
            "bowls => bowls.map((bowl) => bowl.dataset.bowl)"
        )
        for code in codes:
            card = self.page.locator(f'[data-bowl="{code}"]')
            card.get_by_role("button", name=f"Pour now {code}").click()
            expect(card.locator("[data-correct]")).to_be_visible()
        return [str(code) for code in codes]

    def call(self, round_key: str) -> None:
        button = self.page.locator(f'button[data-round="{round_key}"]')
        button.click()
        sure = self.page.get_by_role("button", name="Yes, call it now")
        pressed = self.page.locator(f'button[data-round="{round_key}"][aria-pressed="true"]')
        expect(pressed.or_(sure)).to_be_visible()
        if sure.is_visible():  # the bowls were poured a moment ago
            sure.click()
        expect(button).to_have_attribute("aria-pressed", "true")

    def close_and_reveal(self) -> None:
        self.page.get_by_text("Close the tasting", exact=True).click()
        self.page.get_by_role("button", name="Yes, close it").click()
        self.page.get_by_role("link", name="Reveal the coffees").click()
        revealing = self.page.get_by_role("button", name="Reveal", exact=True)
        revealing.click()
        expect(revealing).to_be_hidden()


class Guest:
    """A guest's phone."""

    def __init__(self, context: BrowserContext, base: str, name: str) -> None:
        self.name, self.base = name, base
        self.page = context.new_page()

    def join(self, code: str) -> None:
        self.page.goto(f"{self.base}/join?code={code}")
        self.page.get_by_label("Your name at this table").fill(self.name)
        self.page.get_by_role("button", name="Sit down").click()
        self.page.get_by_role("button", name="Skip").click()
        self.page.get_by_role("button", name="I will take care").click()

    def order(self) -> list[str]:
        """Return the codes in the order in which this seat is to taste them."""
        key = self.page.url.rstrip("/").split("/")[-1]
        state = self.page.request.get(f"{self.base}/api/seats/{key}").json()
        return [str(code) for flight in state["flights"] for code in flight]

    def go_to_round(self, round_key: str, name: str) -> None:
        """Wait until the host has called it, and go there."""
        chip = self.page.locator(f'.chip[data-round="{round_key}"]')
        expect(chip).to_be_enabled()
        if chip.get_attribute("aria-pressed") != "true":
            self.page.get_by_role("button", name=f"Go to the round {name}").click()
        expect(chip).to_have_attribute("aria-pressed", "true")

    def mark_round(self, round_key: str, place: Place) -> None:
        for index, sensation in enumerate(SENSATIONS):
            self._put_off_question()
            self.page.locator(f'.pads-tab[data-pad="{sensation}"]').click()
            pad = Pad(self.page)
            pad.show()
            for code in self.order_cached:
                pad.place(code, *place(code, sensation, round_key))
            later = self.page.locator(".picks-panel").get_by_role("button", name="Later")
            if later.is_visible():  # two bowls sit close together
                later.click()
            placed = len(self.order_cached)
            assert sum(v[0] is not None for v in pad.state().values()) == placed, (
                f"{self.name}, {round_key}, pad {index}: {pad.state()}"
            )

        self._put_off_question()

    def _put_off_question(self) -> None:
        """A complete pad may ask about two bowls that came close."""
        until_drawn(self.page)
        later = self.page.locator('.picks [data-answer="later"]')
        if later.is_visible():
            later.click()

    @property
    def order_cached(self) -> list[str]:
        if not hasattr(self, "_order"):
            self._order = self.order()
        return self._order

    def all_saved(self) -> None:
        expect(self.page.locator(".seat-saved")).to_have_text("All saved on the laptop")


def _placer(guest: int, coffee_of: dict[str, str]) -> Place:
    """How this guest would place a bowl: the truth, an own leaning, and a noisy finger."""
    rng = np.random.default_rng([7, guest])
    offset = rng.normal(0, 6)
    own = {name: rng.normal(0, 4) for name in COFFEES}

    def place(code: str, sensation: str, round_key: str) -> tuple[float, float]:
        coffee = coffee_of[code]
        strong, liked = TRUTH[coffee]
        shift = offset + own[coffee] + (4 if round_key == "cool" and sensation == "acidity" else 0)
        x = strong + shift + rng.normal(0, 7)
        y = liked + own[coffee] + rng.normal(0, 7)
        return float(np.clip(x, 3, 97)), float(np.clip(y, 3, 97))

    return place


def _latest(rows: list[Row]) -> list[Row]:
    """Pick the mark that counts by the instants alone, without the export's own column."""
    latest: dict[tuple[str, ...], Row] = {}
    for row in sorted(rows, key=lambda each: int(each["at_ms"])):
        latest[row["seat"], row["bowl"], row["sensation"], row["round"]] = row
    return list(latest.values())


def test_a_whole_tasting(chromium: Browser, tmp_path: Path) -> None:
    with running(tmp_path / "tastings.sqlite3") as laptop:
        desk = chromium.new_context(viewport={"width": 1280, "height": 900})
        host = Host(desk.new_page(), laptop.base)
        host.page.goto(laptop.host_url)
        host.fill_shelf()
        tasting = host.plan()
        host.at_bench(tasting)
        code = host.join_code()
        contexts = [chromium.new_context(**PHONE) for _ in GUESTS]
        guests = [
            Guest(context, laptop.base, name)
            for context, name in zip(contexts, GUESTS, strict=True)
        ]
        for guest in guests:
            guest.join(code)
        codes = host.open_and_pour()
        assert len(codes) == 4

        coffee_of = _mapping_from_the_sheet(host, tasting)
        assert sorted(coffee_of) == sorted(codes)
        host.at_bench(tasting)
        placers = [_placer(index, coffee_of) for index in range(len(GUESTS))]
        for round_key, name in (("hot", "Hot"), ("warm", "Warm"), ("cool", "Cool")):
            host.call(round_key)
            for guest, placer in zip(guests, placers, strict=True):
                guest.go_to_round(round_key, name)
                guest.mark_round(round_key, placer)
        changed = _change_a_mind(guests[1])
        _say_a_word(guests[2])
        for guest in guests:
            guest.all_saved()

        assert _seat_debrief(guests[0]).status != 200, "nobody sees results before the close"
        host.close_and_reveal()
        got = host.page.request.get(f"{laptop.base}/tastings/{tasting}/debrief.json")
        debrief = got.json()
        exported = host.page.request.get(f"{laptop.base}/tastings/{tasting}/marks.csv").text()
        rows = list(csv.DictReader(io.StringIO(exported)))
        _check_the_marks(rows, coffee_of, changed)
        _check_the_figures(debrief, _latest(rows))
        _check_the_pages(host, guests, tasting)
        for context in (desk, *contexts):
            context.close()


def _mapping_from_the_sheet(host: Host, tasting: str) -> dict[str, str]:
    host.page.goto(f"{host.base}/tastings/{tasting}/sheet")
    host.page.locator("details.secret > summary").click()
    found = {}
    for row in host.page.locator("details.secret tbody tr").all():
        cells = row.locator("th, td").all_inner_texts()
        found[cells[0]] = cells[-1].removesuffix("(hidden repeat)").strip()
    return found


def _change_a_mind(guest: Guest) -> str:
    """Go back to the hot round and move one bowl on the sweetness pad; return its code."""
    to_round(guest.page, "hot")
    guest.page.locator('.pads-tab[data-pad="sweetness"]').click()
    pad = Pad(guest.page)
    pad.show()
    code = guest.order_cached[0]
    pad.place(code, 91, 12)
    guest.all_saved()
    return code


def _say_a_word(guest: Guest) -> None:
    words_of(guest.page, guest.order_cached[0])
    guest.page.locator('.chip[data-family="fruity"]').click()
    guest.page.get_by_role("button", name="Fruity, no finer").click()
    guest.page.locator(".words-chosen [data-feeling='disliked']").first.click()
    guest.page.get_by_label("Note on").fill("Too ripe for me.")
    guest.page.get_by_label("Note on").blur()


def _seat_debrief(guest: Guest) -> Any:
    return guest.page.request.get(f"{guest.page.url.rstrip('/')}/debrief")


def _check_the_marks(rows: list[Row], coffee_of: dict[str, str], changed: str) -> None:
    cells = len(GUESTS) * 4 * len(SENSATIONS) * 3
    latest = _latest(rows)
    assert len(latest) == cells
    assert sum(row["counts"] == "1" for row in rows) == cells
    assert len(rows) == cells + 1, "the mind that changed left both marks behind"
    assert all(row["coffee"] == coffee_of[row["bowl"]] for row in rows)
    assert {row["nickname"] for row in rows} == {""}, "nobody was told that files carry names"
    ben = str(GUESTS.index("Ben") + 1)
    (moved,) = [
        row
        for row in latest
        if (row["seat"], row["bowl"], row["sensation"], row["round"])
        == (ben, changed, "sweetness", "hot")
    ]
    assert float(moved["intensity"]) == pytest.approx(91, abs=1)
    assert float(moved["liking"]) == pytest.approx(12, abs=1)


def _check_the_figures(debrief: dict[str, Any], latest: list[Row]) -> None:
    fits = {(each["sensation"], each["scale"]): each for each in debrief["fits"]}
    assert set(fits) == {(name, scale) for name in SENSATIONS for scale in ("intensity", "liking")}
    for (sensation, _), fit in fits.items():
        assert fit["rows"] == sum(row["sensation"] == sensation for row in latest)
    for sensation, scale in (("acidity", "intensity"), ("verdict", "liking")):
        rows = [row for row in latest if row["sensation"] == sensation]
        contrasts = fits[sensation, scale]["contrasts"]
        found = differences(rows, scale, [(each["a"], each["b"]) for each in contrasts])
        for contrast in contrasts:
            theirs = found[contrast["a"], contrast["b"]]
            # The slow way is a random walk: half a point and 2 % of a deviation are its noise; ours
            # sums over some hundreds of points. Over 54 such comparisons of nine drawn tastings
            # the ratio of the two had a mean of 0.98 and a deviation of 0.028.
            assert contrast["difference"] == pytest.approx(theirs.difference, abs=0.8)
            assert contrast["se"] == pytest.approx(theirs.se, rel=0.15)
            assert contrast["probability"] == pytest.approx(theirs.probability, abs=0.015)


def _check_the_pages(host: Host, guests: list[Guest], tasting: str) -> None:
    host.page.goto(f"{host.base}/tastings/{tasting}/debrief")
    expect(host.page.get_by_text("Harbour Light").first).to_be_visible()
    guest = guests[3]
    expect(guest.page.locator("#seat")).to_have_attribute("data-screen", "closed")
    guest.page.get_by_role("link", name="See your own debrief").click()
    expect(guest.page.get_by_text("Harbour Light").first).to_be_visible()
    everything = guest.page.content()
    assert not [name for name in GUESTS if name != guest.name and name in everything]
