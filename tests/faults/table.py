"""A table full of phones: what each one has made, and what the laptop has promised to keep."""

import secrets
import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
from tests.store.tables import add_table

from twobowls.store import open_store
from twobowls.tasting.records import Mark, latest_marks
from twobowls.web.settings import wall_clock_ms

Record = dict[str, Any]


@dataclass
class Phone:
    """One seat's phone: an outbox, and the records that the laptop has said are saved."""

    key: str
    codes: Sequence[str]
    now_ms: int
    waiting: list[Record] = field(default_factory=list)
    saved: list[Record] = field(default_factory=list)

    def mark(self, **given: Any) -> Record:
        """Place a token; the record waits on the phone."""
        self.now_ms += 1
        record = {
            "kind": "mark",
            "id": secrets.token_hex(16),
            "bowl": self.codes[self.now_ms % len(self.codes)],
            "sensation": "body",
            "round": "hot",
            "intensity": self.now_ms % 101,
            "liking": 50,
            "at_ms": self.now_ms,
            **given,
        }
        self.waiting.append(record)
        return record

    def send(self, laptop: httpx.Client) -> httpx.Response:
        """Send all that waits; what the laptop says is saved waits no longer."""
        batch = list(self.waiting)
        answer = laptop.post(f"/api/seats/{self.key}/records", json={"records": batch})
        if answer.status_code == 200:
            ids = set(answer.json()["saved"])
            self.saved += [each for each in batch if each["id"] in ids]
            self.waiting = [each for each in self.waiting if each["id"] not in ids]
        return answer

    def on_the_laptop(self, laptop: httpx.Client) -> list[str]:
        """Return the ids of this seat's records as the laptop gives them back."""
        answer = laptop.get(f"/api/seats/{self.key}").raise_for_status()
        return [each["id"] for each in answer.json()["records"]]

    def bring_back(self, laptop: httpx.Client) -> httpx.Response:
        """Send what was confirmed once and the laptop does not have any more, as a phone does."""
        held = self.on_the_laptop(laptop)
        self.waiting += [each for each in self.saved if each["id"] not in held]
        return self.send(laptop)


@dataclass(frozen=True)
class Table:
    """An open tasting in a store, and the phones of its seats."""

    store: Path
    tasting_id: str
    phones: list[Phone]
    version: int

    def found(self) -> list[Mark]:
        """Read every mark from the store itself, which nobody serves now."""
        with open_store(self.store) as store:
            return [each for each in store.records(self.tasting_id) if isinstance(each, Mark)]


def set_table(store_path: Path, seats: int) -> Table:
    """Put an open tasting with so many seats into a new store."""
    now_ms = wall_clock_ms() - 60_000
    with open_store(store_path) as store:
        tasting = store.open(add_table(store, seats=seats).id, now_ms)
        codes = [bowl.code for bowl in tasting.plan.bowls]
        keys = [store.join(tasting.id, f"Guest {n}", now_ms)[1] for n in range(seats)]
        phones = [Phone(key, codes, now_ms) for key in keys]
        return Table(store_path, tasting.id, phones, store.tasting(tasting.id).version)


class Tasters:
    """Everybody marks as fast as the laptop answers, a thread each, until it does not."""

    def __init__(self, address: str, phones: Iterable[Phone], marks: int = 3) -> None:
        self._address = address
        self._marks = marks
        self._stopped = threading.Event()
        self.phones = list(phones)
        self.odd: list[str] = []  # answers that were neither "saved" nor the end
        self._threads = [threading.Thread(target=self._taste, args=(p,)) for p in self.phones]
        for thread in self._threads:
            thread.start()

    def _taste(self, phone: Phone) -> None:
        with httpx.Client(base_url=self._address, timeout=60, trust_env=False) as laptop:
            while not self._stopped.is_set():
                for _ in range(self._marks):
                    phone.mark()
                try:
                    answer = phone.send(laptop)
                except httpx.HTTPError:
                    return  # what was sent is still waiting; nobody knows whether it arrived
                if answer.status_code != 200 or answer.json()["refused"]:
                    self.odd.append(answer.text)
                    return

    def saved(self) -> int:
        """Return how many records the laptop has promised to keep so far."""
        return sum(len(phone.saved) for phone in self.phones)

    def finish(self) -> None:
        """Wait until everybody has noticed, or has been told, that it is over."""
        self._stopped.set()
        for thread in self._threads:
            thread.join(90)
            assert not thread.is_alive()


def check_kept(table: Table, found: Sequence[Mark]) -> None:
    """Every promised record is there once, nothing is there that nobody made, the latest counts."""
    ids = [mark.id for mark in found]
    saved = [each for phone in table.phones for each in phone.saved]
    made = [*saved, *(each for phone in table.phones for each in phone.waiting)]
    assert len(set(ids)) == len(ids)
    assert {each["id"] for each in saved} <= set(ids)
    assert set(ids) <= {each["id"] for each in made}
    assert {(m.id, m.bowl, m.intensity) for m in found} <= {
        (each["id"], each["bowl"], each["intensity"]) for each in made
    }
    newest: dict[tuple[str, str], Mark] = {}
    for mark in found:
        known = newest.get((mark.seat, mark.bowl))
        newest[mark.seat, mark.bowl] = max(known or mark, mark, key=lambda each: each.at_ms)
    assert {mark.id for mark in latest_marks(found)} == {mark.id for mark in newest.values()}
