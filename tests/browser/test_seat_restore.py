"""A laptop that went back to a backup, or cannot write: phones notice, and bring what it lacks."""

import os
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.browser.conftest import ARRIVED, OpenPhone
from tests.browser.touch import Pad
from tests.browser.waiting import until_kept
from tests.faults.laptop import Laptop, running
from tests.faults.table import Table, set_table

from twobowls.store import open_store
from twobowls.store.wal import wal_path
from twobowls.tasting.records import Mark

pytestmark = pytest.mark.browser


@dataclass(frozen=True)
class Shop:
    """An evening in its hot round, on a laptop that will not live through it."""

    laptop: Laptop
    table: Table

    @property
    def seat_url(self) -> str:
        return f"{self.laptop.address}/seat/{self.table.phones[0].key}"

    @property
    def codes(self) -> list[str]:
        return list(self.table.phones[0].codes)

    def back_up(self) -> None:
        """Stop and start again, which makes a backup; phones come back by themselves."""
        port = self.laptop.port
        self.laptop.stop()
        self.laptop.start(port)

    def lose_the_store(self) -> None:
        """End at once, find the file gone, and go back to the backup."""
        port = self.laptop.port
        self.laptop.kill()
        for path in (self.table.store, wal_path(self.table.store)):
            path.unlink()
        restored = self.laptop.run("restore", "--store", str(self.table.store))
        assert restored.returncode == 0, restored.stderr
        self.laptop.start(port)

    def marks(self) -> list[tuple[str, float | None]]:
        """Read the marks from beside the running server."""
        with open_store(self.table.store) as store:
            records = store.records(self.table.tasting_id)
            return [(each.bowl, each.intensity) for each in records if isinstance(each, Mark)]


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    table = set_table(tmp_path / "store.sqlite3", 1)
    with running(table.store) as laptop:
        laptop.start()
        with laptop.host() as host:
            path = f"/tastings/{table.tasting_id}/round"
            assert host.post(path, data={"round": "hot"}).is_success
        yield Shop(laptop, table)


def wait_for(true: Callable[[], bool], at_most_s: float = 90) -> None:
    give_up = time.monotonic() + at_most_s
    while not true():
        assert time.monotonic() < give_up
        time.sleep(0.1)


def place(page: Page, code: str, intensity: int) -> None:
    pad = Pad(page)
    pad.show()
    pad.place(code, intensity, 50)
    expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop", timeout=90_000)


def test_an_open_page_brings_back_what_the_laptop_had_confirmed(
    shop: Shop, open_phone: OpenPhone
) -> None:
    page = open_phone(shop.seat_url)
    first, second = shop.codes[:2]
    place(page, first, 20)
    shop.back_up()
    place(page, second, 70)
    assert shop.marks() == [(first, 20), (second, 70)]
    shop.lose_the_store()
    wait_for(lambda: len(shop.marks()) == 2)  # nobody touches the phone
    assert shop.marks() == [(first, 20), (second, 70)]
    expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop")


def test_a_page_that_was_closed_meanwhile_does_so_when_it_is_opened(
    shop: Shop, open_phone: OpenPhone
) -> None:
    page = open_phone(shop.seat_url)
    first, second = shop.codes[:2]
    place(page, first, 20)
    shop.back_up()
    place(page, second, 70)
    until_kept(page, 2)
    page.goto("about:blank")
    shop.lose_the_store()
    assert shop.marks() == [(first, 20)]
    page.goto(shop.seat_url)
    wait_for(lambda: len(shop.marks()) == 2)
    assert shop.marks() == [(first, 20), (second, 70)]
    expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")
    assert Pad(page).state()[second] == [70, 50]


def test_a_seat_that_the_backup_does_not_know_is_taken_anew_with_its_marks(
    shop: Shop, open_phone: OpenPhone
) -> None:
    with shop.laptop.host() as host:
        code = host.get(f"/tastings/{shop.table.tasting_id}/bench", headers={"accept": "text/html"})
    join_code = code.text.partition("/join?code=")[2].partition('"')[0].partition("<")[0].strip()
    shop.back_up()
    page = open_phone(shop.seat_url)  # a page of the same phone, to come from
    first, second = shop.codes[:2]

    def join(name: str) -> None:
        page.goto(f"{shop.laptop.address}/join?code={join_code}")
        page.get_by_text("Somebody else joins").click()  # this phone has had another seat
        page.get_by_label("name").first.fill(name)
        page.get_by_role("button", name="Sit down").click()
        page.wait_for_selector(ARRIVED)

    join("Zoe")
    page.get_by_role("button", name="Skip").click()
    page.get_by_role("button", name="I will take care").click()
    place(page, first, 30)
    place(page, second, 60)
    until_kept(page, 2)
    shop.lose_the_store()
    assert shop.marks() == []
    expect(page.locator(".seat-saved")).to_contain_text("does not know this seat", timeout=90_000)
    join("Zoe")
    wait_for(lambda: len(shop.marks()) == 2)
    assert shop.marks() == [(first, 30), (second, 60)]
    with open_store(shop.table.store) as store:
        assert [seat.nickname for seat in store.tasting(shop.table.tasting_id).seats] == [
            "Guest 0",
            "Zoe",
        ]


def test_host_and_guest_see_that_nothing_can_be_saved_and_when_it_can_again(
    shop: Shop, open_phone: OpenPhone, chromium: Browser
) -> None:
    desk = chromium.new_context()
    bench = desk.new_page()
    bench.goto(shop.laptop.host_url)
    bench.goto(f"{shop.laptop.address}/tastings/{shop.table.tasting_id}/bench")
    expect(bench.locator("#unsaved")).to_be_hidden()
    page = open_phone(shop.seat_url)
    first, second = shop.codes[:2]
    place(page, first, 20)
    os.kill(shop.laptop.process.pid, signal.SIGUSR1)
    pad = Pad(page)
    pad.show()
    pad.place(second, 70, 50)
    saved = page.locator(".seat-saved")
    expect(saved).to_have_text(
        "1 waiting on this phone · the laptop cannot save now, please tell the host"
    )
    expect(bench.locator("#unsaved")).to_contain_text("the file may not be written to. Give")
    os.kill(shop.laptop.process.pid, signal.SIGUSR2)
    expect(saved).to_have_text("All saved on the laptop", timeout=90_000)
    expect(bench.locator("#unsaved")).to_be_hidden()
    assert shop.marks() == [(first, 20), (second, 70)]
    desk.close()
