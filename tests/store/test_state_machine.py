"""The store against a model in a few dictionaries.

Batches come again, whole or in other company; the store is closed and opened, loses its last
transaction's power in a crash, is backed up, goes back to a backup, and hears the phones again.
"""

import shutil
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from tests.store.tables import NOON, add_table, mark

from twobowls.store import open_store
from twobowls.store.backup_files import backup_folder, list_backups
from twobowls.store.backups import make_backup
from twobowls.store.events import fold
from twobowls.store.restoring import choose, restore
from twobowls.store.tasting_tables import read_events
from twobowls.tasting.records import Mark


@dataclass(frozen=True)
class Model:
    """What the store held when a backup was made."""

    state: str
    seats: tuple[str, ...]
    expected: dict[tuple[str, str], Mark]
    poured: dict[str, int]
    events: int


class StoreMachine(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "store.sqlite3"
        self.store = open_store(self.path)
        self.tasting_id = add_table(self.store, seats=2).id
        self.state = "planned"
        self.now_ms = NOON
        self.seats: list[str] = []
        self.expected: dict[tuple[str, str], Mark] = {}
        self.sent: list[list[Mark]] = []
        self.codes = [bowl.code for bowl in self.tasting.plan.bowls]
        self.poured: dict[str, int] = {}
        self.events = 1
        self.kept: dict[int, Model] = {}  # by the number of the backup

    @property
    def tasting(self):  # type: ignore[no-untyped-def]
        return self.store.tasting(self.tasting_id)

    def teardown(self) -> None:
        self.store.close_file()
        self.folder.cleanup()

    def tick(self) -> int:
        self.now_ms += 1000
        return self.now_ms

    @precondition(lambda self: self.state in ("planned", "open") and len(self.seats) < 4)
    @rule()
    def join(self) -> None:
        seat, _key = self.store.join(self.tasting_id, f"Guest {self.tick()}", self.tick())
        self.seats.append(seat.id)
        self.events += 1

    def empty_seats(self) -> list[str]:
        recorded = {seat for seat, _ in self.expected}
        return [seat for seat in self.seats if seat not in recorded]

    @precondition(lambda self: self.state in ("planned", "open") and self.empty_seats())
    @rule(data=st.data())
    def leave(self, data: st.DataObject) -> None:
        seat = data.draw(st.sampled_from(self.empty_seats()))
        self.store.leave(self.store.seat_keys(self.tasting_id)[seat], self.tick())
        self.seats.remove(seat)
        self.sent = [batch for batch in self.sent if batch[0].seat != seat]
        self.events += 1

    @precondition(lambda self: self.state == "planned")
    @rule()
    def open(self) -> None:
        self.store.open(self.tasting_id, self.tick())
        self.state = "open"
        self.events += 1

    @precondition(lambda self: self.state == "open")
    @rule(bowl=st.integers(0, 3))
    def pour(self, bowl: int) -> None:
        at_ms = self.tick()
        self.store.pour(self.tasting_id, self.codes[bowl], at_ms)
        self.poured[self.codes[bowl]] = at_ms
        self.events += 1

    @precondition(lambda self: self.seats)
    @rule(data=st.data(), count=st.integers(1, 4))
    def send(self, data: st.DataObject, count: int) -> None:
        seat = data.draw(st.sampled_from(self.seats))
        batch = [
            mark(
                seat,
                data.draw(st.sampled_from(self.codes)),
                at_ms=self.tick(),
                intensity=data.draw(st.one_of(st.none(), st.floats(0, 100))),
            )
            for _ in range(count)
        ]
        self.deliver(batch)
        self.sent.append(batch)

    @precondition(lambda self: self.sent)
    @rule(data=st.data())
    def send_again(self, data: st.DataObject) -> None:
        batch = data.draw(st.sampled_from(self.sent))
        self.deliver(list(reversed(batch)))

    @precondition(lambda self: len(self.sent) > 1)
    @rule(data=st.data())
    def send_in_other_company(self, data: st.DataObject) -> None:
        seat = data.draw(st.sampled_from(self.sent))[0].seat
        own = [each for batch in self.sent for each in batch if each.seat == seat]
        mixed = data.draw(st.lists(st.sampled_from(own), min_size=1, max_size=12))
        self.deliver(mixed)  # one record may be in it twice

    def deliver(self, batch: list[Mark]) -> None:
        saved = self.store.add_records(batch[0].seat, batch, self.tick()).saved
        for each in batch:
            if each.id in saved:
                self.expected.setdefault((each.seat, each.id), each)

    @precondition(lambda self: self.state == "open")
    @rule()
    def close(self) -> None:
        self.store.close(self.tasting_id, self.tick())
        self.state = "closed"
        self.events += 1

    @precondition(lambda self: self.state == "closed")
    @rule()
    def reopen(self) -> None:
        self.store.reopen(self.tasting_id, self.tick())
        self.state = "open"
        self.events += 1

    @precondition(lambda self: self.state == "closed")
    @rule()
    def reveal(self) -> None:
        self.store.reveal(self.tasting_id, self.tick())
        self.state = "revealed"
        self.events += 1

    @rule()
    def restart(self) -> None:
        self.store.close_file()
        self.store = open_store(self.path)

    @rule()
    def crash(self) -> None:
        """Go on with the files as a killed process leaves them."""
        crashed = Path(self.folder.name) / f"crashed{self.tick()}"
        shutil.copytree(self.path.parent, crashed, ignore=shutil.ignore_patterns("crashed*"))
        self.store.close_file()
        self.path = crashed / self.path.name
        self.store = open_store(self.path)

    @rule()
    def back_up(self) -> None:
        made = make_backup(self.path, self.tick())
        newest = made or list_backups(backup_folder(self.path))[0]
        model = Model(
            self.state, tuple(self.seats), dict(self.expected), dict(self.poured), self.events
        )
        assert made is not None or self.kept[newest.number] == model
        self.kept[newest.number] = model

    @precondition(lambda self: self.kept)
    @rule(data=st.data(), lost=st.booleans())
    def go_back(self, data: st.DataObject, lost: bool) -> None:
        """Restore a backup; the phones that it knows then send what it lacks, in any order."""
        there = [each.number for each in list_backups(backup_folder(self.path))]
        number = max(there) if lost else data.draw(st.sampled_from(there))
        self.store.close_file()
        if lost:
            self.path.unlink()
        restore(self.path, choose(self.path, None if lost else str(number))[0], self.tick())
        self.store = open_store(self.path)
        model = self.kept[number]
        self.state, self.events = model.state, model.events
        self.seats, self.poured = list(model.seats), dict(model.poured)
        self.expected = dict(model.expected)
        self.sent = [batch for batch in self.sent if batch[0].seat in self.seats]
        for batch in data.draw(st.permutations(self.sent)):
            self.deliver(batch)

    @invariant()
    def the_tasting_is_what_was_done_to_it(self) -> None:
        tasting = self.tasting
        assert (tasting.state, tasting.version) == (self.state, self.events)
        assert tasting.poured == self.poured
        assert [seat.id for seat in tasting.seats] == self.seats
        events = self.store._read(lambda db: list(read_events(db, self.tasting_id)))
        assert fold(events) == tasting

    @invariant()
    def every_acknowledged_record_is_there_once(self) -> None:
        found = [
            replace(record, since_pour_s=None, temperature_c=None)
            for record in self.store.records(self.tasting_id)
            if isinstance(record, Mark)
        ]
        key = [(each.seat, each.id) for each in found]
        assert len(set(key)) == len(key)
        opened = self.tasting.opened_ms or NOON
        assert {(each.seat, each.id): each for each in found} == {
            name: replace(each, at_ms=max(each.at_ms, opened))
            for name, each in self.expected.items()
        }

    @invariant()
    def every_record_can_be_asked_for_by_its_seat(self) -> None:
        for seat_id, key in self.store.seat_keys(self.tasting_id).items():
            held = [each.id for each in self.store.messages_of(self.store.place(key))]
            assert sorted(held) == sorted(i for seat, i in self.expected if seat == seat_id)


StoreMachine.TestCase.settings = settings(
    max_examples=10, stateful_step_count=25, deadline=None, derandomize=True
)
TestStore = StoreMachine.TestCase
