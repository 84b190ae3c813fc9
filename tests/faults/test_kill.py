"""`kill -9` at random moments while a table tastes, again and again on the same store."""

import secrets
import threading
import time
from collections import defaultdict
from pathlib import Path

import httpx
from tests.faults.laptop import Laptop, running
from tests.faults.table import Table, Tasters, check_kept, set_table

SEATS, KILLS = 24, 3
ROUNDS = ("hot", "cool")
GIVE_UP_S = 120


class Host:
    """The host calls rounds and corrects clocks the whole time; knows what was confirmed."""

    def __init__(self) -> None:
        self.confirmed = 0
        self.unsure = 0
        self.round: set[str | None] = {None}  # the one that was called last, and perhaps one more

    def work(self, laptop: Laptop, table: Table) -> None:
        """Act until the laptop does not answer."""
        with laptop.host() as browser:
            for number in range(100_000):
                name = ROUNDS[number % 2]
                bowl = table.phones[0].codes[number % 4]
                try:
                    self._act(browser, f"/tastings/{table.tasting_id}/pour", {"bowl": bowl})
                    self.round = {*self.round, name}
                    self._act(
                        browser, f"/tastings/{table.tasting_id}/round", {"round": name, "sure": "1"}
                    )
                    self.round = {name}
                except httpx.HTTPError:
                    self.unsure += 1
                    return
                time.sleep(0.01)

    def _act(self, browser: httpx.Client, path: str, form: dict[str, str]) -> None:
        assert browser.post(path, data=form).status_code == 204
        self.confirmed += 1


def wait_for(tasters: Tasters, moment: int) -> None:
    """Wait until so many records more were promised."""
    moment += tasters.saved()
    give_up = time.monotonic() + GIVE_UP_S
    while tasters.saved() < moment:
        assert time.monotonic() < give_up
        time.sleep(0.002)


def check_bench(laptop: Laptop, table: Table, host: Host) -> None:
    """The bench shows what the seats have marked and what the host has done."""
    bench = laptop.bench(table.tasting_id)
    assert table.version + host.confirmed <= bench["version"]
    assert bench["version"] <= table.version + host.confirmed + host.unsure
    assert bench["round"] in host.round
    with laptop.guest() as browser:
        for phone, shown in zip(table.phones, bench["seats"], strict=True):
            records = browser.get(f"/api/seats/{phone.key}").json()["records"]
            places: dict[str, set[str]] = defaultdict(set)
            for record in records:
                places[record["round"]].add(record["bowl"] + record["sensation"])
            assert shown["marked"] == {name: len(each) for name, each in places.items()}
            assert {each["id"] for each in phone.saved} <= {each["id"] for each in records}


def test_everything_that_was_promised_survives_every_kill(tmp_path: Path) -> None:
    table = set_table(tmp_path / "store.sqlite3", SEATS)
    host = Host()
    with running(table.store) as laptop:
        for _ in range(KILLS):
            laptop.start()
            check_bench(laptop, table, host)
            hosting = threading.Thread(target=host.work, args=(laptop, table))
            hosting.start()
            tasters = Tasters(laptop.address, table.phones)
            wait_for(tasters, 150 + secrets.randbelow(900))
            laptop.kill()
            tasters.finish()
            hosting.join(90)
            assert not hosting.is_alive()
            assert tasters.odd == []
        laptop.start()
        check_bench(laptop, table, host)
        with laptop.guest() as browser:
            for phone in table.phones:
                phone.send(browser)
        assert [phone.waiting for phone in table.phones] == [[]] * SEATS
        check_bench(laptop, table, host)
        laptop.stop()
    found = table.found()
    check_kept(table, found)
    assert len(found) == sum(len(phone.saved) for phone in table.phones)
    assert len(found) > KILLS * 150
