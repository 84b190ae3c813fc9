"""The store against a model in a few dictionaries, with re-sent batches and restarts."""

import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from tests.store.tables import NOON, add_table, mark

from twobowls.store import open_store
from twobowls.store.events import fold
from twobowls.store.tasting_tables import read_events
from twobowls.tasting.records import Mark


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
        seat, _key = self.store.join(self.tasting_id, f"Guest {len(self.seats)}", self.tick())
        self.seats.append(seat.id)
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
    def reveal(self) -> None:
        self.store.reveal(self.tasting_id, self.tick())
        self.state = "revealed"
        self.events += 1

    @rule()
    def restart(self) -> None:
        self.store.close_file()
        self.store = open_store(self.path)

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


StoreMachine.TestCase.settings = settings(
    max_examples=8, stateful_step_count=20, deadline=None, derandomize=True
)
TestStore = StoreMachine.TestCase
