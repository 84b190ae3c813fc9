"""The store: the shelf, the tastings and everything that was recorded, in one SQLite file.

Reading and the host's commands block for a moment and may be called from any thread; the seats'
records have a way in for an event loop as well (`submit`). Nothing returns before it is on disk.
"""

import asyncio
import secrets
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from twobowls.errors import NotFoundError, StoreError
from twobowls.store import (
    batch_table,
    coffee_table,
    host_decisions,
    opened_debriefs,
    settings_table,
    tasting_tables,
)
from twobowls.store.acceptance import sort_out
from twobowls.store.clocks import fill_clocks
from twobowls.store.connections import explained
from twobowls.store.corrections import Correction
from twobowls.store.events import (
    Closed,
    DoorClosed,
    DoorOpened,
    Event,
    Opened,
    Planned,
    Poured,
    Reopened,
    RoundCalled,
    Unpoured,
    apply,
)
from twobowls.store.host_decisions import Decision
from twobowls.store.join_codes import clean_join_code, free_join_code
from twobowls.store.known import Known
from twobowls.store.nicknames import clean_nickname
from twobowls.store.opening import connect_writer
from twobowls.store.paths import default_path, resolved
from twobowls.store.readers import Readers
from twobowls.store.record_messages import (
    Message,
    Refusal,
    decode_log,
    from_records,
    to_record,
)
from twobowls.store.same_file import SameFile
from twobowls.store.seat_logs import Admitted, SeatLogs, admit
from twobowls.store.seat_places import Saved, SeatPlace
from twobowls.store.writer import Writer
from twobowls.tasting.coffees import Coffee, check_coffee
from twobowls.tasting.plan import Plan
from twobowls.tasting.records import Record
from twobowls.tasting.setup import Setup
from twobowls.tasting.tasting import Seat, Tasting

T = TypeVar("T")

FINAL = "This seat has opened its debrief; no more marks are taken from it."

TastingListener = Callable[[Tasting], None]
RecordListener = Callable[[str, str, Sequence[Message]], None]
TroubleListener = Callable[[StoreError | None], None]


class Store:
    """One open store; see `open_store`."""

    def __init__(self, path: Path) -> None:
        self.path = path = resolved(path)
        database = connect_writer(path)
        self._writer = Writer(
            database, path, batch_table.insert_batches, self._note_trouble, SameFile(path).check
        )
        self._readers = Readers(path)
        self._known = Known(self._readers)
        self._logs = SeatLogs(self._readers)
        self._noted = self._read(opened_debriefs.seats)  # on the disk
        self._opened = set(self._noted)
        self._tasting_listeners: list[TastingListener] = []
        self._record_listeners: list[RecordListener] = []
        self._trouble_listeners: list[TroubleListener] = []
        self.trouble: StoreError | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close_file()

    def close_file(self) -> None:
        """Finish what waits to be written and close the file."""
        self._writer.close()
        self._readers.close()

    # -- listening ---------------------------------------------------------------------------

    def on_tasting(self, listener: TastingListener) -> None:
        """Call ``listener(tasting)`` after each host event, in whatever thread made it."""
        self._tasting_listeners.append(listener)

    def on_records(self, listener: RecordListener) -> None:
        """Call ``listener(tasting_id, seat_id, messages)`` after each batch is on disk."""
        self._record_listeners.append(listener)

    def on_trouble(self, listener: TroubleListener) -> None:
        """Call ``listener(error)`` when nothing can be saved any more, ``listener(None)`` after."""
        self._trouble_listeners.append(listener)

    # -- settings ----------------------------------------------------------------------------

    def setting(self, name: str, make: Callable[[], str]) -> str:
        """Return a stored setting; the first time, store what ``make`` returns."""
        return self._writer.run(lambda db: settings_table.get_or_insert(db, name, make))

    def known_setting(self, name: str) -> str | None:
        """Return a stored setting, or None."""
        return self._read(lambda db: settings_table.get(db, name))

    def change_setting(self, name: str, value: str) -> None:
        """Store another value of a setting."""
        self._writer.run(lambda db: settings_table.put(db, name, value))

    # -- shelf -------------------------------------------------------------------------------

    def coffees(self, include_archived: bool = False) -> tuple[Coffee, ...]:
        """Return the shelf in the order in which it was filled."""
        return self._read(lambda db: coffee_table.read_coffees(db, include_archived))

    def coffee(self, coffee_id: str) -> Coffee:
        """Return one coffee, archived or not."""
        return self._read(lambda db: coffee_table.read_coffee(db, coffee_id))

    def add_coffee(self, coffee: Coffee) -> Coffee:
        """Put a coffee on the shelf; an empty ``id`` is drawn. Return what was stored."""
        return self.add_coffees([coffee])[0]

    def add_coffees(self, coffees: Sequence[Coffee]) -> tuple[Coffee, ...]:
        """Put all of these coffees on the shelf, or none."""
        named = tuple(
            coffee if coffee.id else replace(coffee, id=secrets.token_hex(6)) for coffee in coffees
        )
        for coffee in named:
            check_coffee(coffee)

        def work(db: sqlite3.Connection) -> None:
            for coffee in named:
                coffee_table.insert_coffee(db, coffee)

        self._writer.run(work)
        return named

    def change_coffee(self, coffee: Coffee) -> Coffee:
        """Replace what is known of a coffee (found by its id)."""
        check_coffee(coffee)
        self._writer.run(lambda db: coffee_table.update_coffee(db, coffee))
        return coffee

    def archive_coffee(self, coffee_id: str, archived: bool = True) -> Coffee:
        """Take a coffee off the shelf, or put it back; its tastings keep it."""
        return self.change_coffee(replace(self.coffee(coffee_id), archived=archived))

    # -- tastings ----------------------------------------------------------------------------

    def add_tasting(self, setup: Setup, plan: Plan, now_ms: int) -> Tasting:
        """Store a planned tasting under a new id and join code."""
        for coffee_id in setup.coffee_ids:
            self.coffee(coffee_id)

        def work(db: sqlite3.Connection) -> Tasting:
            planned = Planned(
                id=secrets.token_hex(6),
                join_code=free_join_code(db),
                setup=setup,
                plan=plan,
                at_ms=now_ms,
            )
            return tasting_tables.insert_tasting(db, planned)

        return self._published(self._writer.run(work))

    def tasting(self, tasting_id: str) -> Tasting:
        """Return a tasting as it stands.

        Raises
        ------
        NotFoundError
            There is no such tasting.
        """
        return self._known.tasting(tasting_id)

    def tastings(self) -> tuple[Tasting, ...]:
        """Return all tastings, newest first."""
        ids = self._read(tasting_tables.tasting_ids)
        return tuple(self.tasting(tasting_id) for tasting_id in ids)

    def latest_ms(self) -> int:
        """Return the latest instant in any tasting that is not revealed yet; 0 when there is none.

        The host's time must not fall behind it, see `twobowls.web.host_clock`.
        """
        ids = [each.id for each in self.tastings() if each.state != "revealed"]
        return self._read(lambda db: max((tasting_tables.latest_ms(db, i) for i in ids), default=0))

    def tasting_by_join_code(self, typed: str) -> Tasting:
        """Return the tasting that can be joined by a code, however it was typed.

        Raises
        ------
        NotFoundError
            No tasting has that code, or it has ended.
        """
        code = clean_join_code(typed)
        found = self._read(lambda db: tasting_tables.tasting_id_by_code(db, code))
        if found is None or self.tasting(found).state not in ("planned", "open"):
            raise NotFoundError(
                "No tasting that can be joined has this code. Look at the host's screen again; "
                "codes end with their tasting."
            )
        return self.tasting(found)

    def join(self, tasting_id: str, nickname: str, now_ms: int) -> tuple[Seat, str]:
        """Give the next free seat to a new taster; return it and the key that opens it."""
        nickname = clean_nickname(nickname)
        seat_id, key = secrets.token_hex(6), secrets.token_urlsafe(18)
        decision = host_decisions.take_seat(seat_id, key, nickname, now_ms)
        tasting = self._command(tasting_id, decision)
        return next(seat for seat in tasting.seats if seat.id == seat_id), key

    def leave(self, key: str, now_ms: int) -> Tasting:
        """Give up the seat that a key opens; the key opens nothing any more.

        Raises
        ------
        ConflictError
            Something was recorded on it.
        """
        place = self.place(key)
        tasting = self._command(place.tasting_id, host_decisions.leave_seat(place, now_ms))
        self._known.forget(key)
        return tasting

    def open(self, tasting_id: str, now_ms: int) -> Tasting:
        """Take marks from now on."""
        return self._happen(tasting_id, Opened(at_ms=now_ms))

    def pour(self, tasting_id: str, bowl: str, at_ms: int) -> Tasting:
        """Start, or correct, the clock of a bowl."""
        return self._happen(tasting_id, Poured(bowl=bowl, at_ms=at_ms))

    def unpour(self, tasting_id: str, bowl: str, now_ms: int) -> Tasting:
        """Take back a clock that was started by mistake."""
        return self._happen(tasting_id, Unpoured(bowl=bowl, at_ms=now_ms))

    def call_round(self, tasting_id: str, round_key: str, now_ms: int) -> Tasting:
        """Send everybody to a round."""
        return self._happen(tasting_id, RoundCalled(round=round_key, at_ms=now_ms))

    def probe(self, tasting_id: str, bowl: str, temperature_c: float, at_ms: int) -> Tasting:
        """Note a thermometer reading in a bowl."""
        return self._command(tasting_id, host_decisions.note_reading(bowl, temperature_c, at_ms))

    def close(self, tasting_id: str, now_ms: int) -> Tasting:
        """Take no more marks that are made after now."""
        return self._happen(tasting_id, Closed(at_ms=now_ms))

    def reopen(self, tasting_id: str, now_ms: int) -> Tasting:
        """Take marks again, after a closing by mistake; a reveal cannot be undone."""
        return self._happen(tasting_id, Reopened(at_ms=now_ms))

    def close_door(self, tasting_id: str, now_ms: int) -> Tasting:
        """Let nobody new take a seat; those who sit go on."""
        return self._happen(tasting_id, DoorClosed(at_ms=now_ms))

    def open_door(self, tasting_id: str, now_ms: int) -> Tasting:
        """Let new guests take seats again."""
        return self._happen(tasting_id, DoorOpened(at_ms=now_ms))

    def reveal(
        self,
        tasting_id: str,
        now_ms: int,
        mapping: Mapping[str, str] | None = None,
        *,
        as_found: bool = False,
    ) -> Tasting:
        """Show which coffee was in which bowl.

        ``mapping`` (bowl code to coffee id) is needed when the host tasted too; otherwise it
        has the bowls that were poured with another coffee than planned. ``as_found`` lets it
        differ from the planned numbers of bowls.
        """
        decision = host_decisions.show_coffees(mapping or {}, now_ms, as_found=as_found)
        return self._command(tasting_id, decision)

    def correct(self, tasting_id: str, correction: Correction) -> Tasting:
        """Put something right; nothing that was recorded is lost by it."""
        return self._happen(tasting_id, correction)

    def rename_seat(self, tasting_id: str, seat_id: str, nickname: str, now_ms: int) -> Tasting:
        """Give a seat another name, unlike those of the others."""
        return self._command(tasting_id, host_decisions.rename_seat(seat_id, nickname, now_ms))

    # -- seats and their records -------------------------------------------------------------

    def place(self, key: str) -> SeatPlace:
        """Return where the records go of the seat that a key opens.

        Raises
        ------
        NotFoundError
            No seat has this key.
        """
        return self._known.place(key)

    def seat_by_key(self, key: str) -> tuple[Tasting, Seat]:
        """Return the tasting and the seat that a key opens."""
        place = self.place(key)
        tasting = self.tasting(place.tasting_id)
        return tasting, next(seat for seat in tasting.seats if seat.id == place.seat_id)

    def seat_keys(self, tasting_id: str) -> dict[str, str]:
        """Return the key of every seat of a tasting, by seat id (for the host only)."""
        taken = {seat.id for seat in self.tasting(tasting_id).seats}
        keys = self._read(lambda db: tasting_tables.seat_keys(db, tasting_id))
        return {seat_id: key for seat_id, key in keys.items() if seat_id in taken}

    def add_records(self, seat_id: str, records: Sequence[Record], received_ms: int) -> Saved:
        """Store records of one seat; one that was stored before counts as saved again.

        Raises
        ------
        NotFoundError
            There is no such seat.
        InputError
            A record has no proper id.
        """
        found = self._read(lambda db: tasting_tables.seat_by_id(db, seat_id))
        if found is None:
            raise NotFoundError("There is no such seat.")
        place = self.place(found[1])
        messages, spoilt = from_records(records)
        admitted = self._admit(place, messages, received_ms)
        if admitted.body:

            def work(db: sqlite3.Connection) -> bool:
                if self._is_final(place):
                    return False
                batch_table.insert_batches(db, [(place.number, received_ms, admitted.body)])
                return True

            try:
                stored = self._writer.run(work)
            except BaseException:
                admitted.give_back()
                raise
            if not stored:  # the debrief was opened in the same instant
                admitted.give_back()
                return self.add_records(seat_id, records, received_ms)
            self._note_stored(place, admitted)
        return Saved(tuple(each.id for each in admitted.taken), (*spoilt, *admitted.refused))

    async def submit(
        self, place: SeatPlace, messages: Sequence[Message], received_ms: int
    ) -> tuple[list[Message], list[Refusal]]:
        """Store records of one seat from an event loop; return what is on disk, and refusals."""
        found = self._admit(place, messages, received_ms)
        if found.body:
            try:
                await self._writer.append((place.number, received_ms, found.body))
            except BaseException:
                found.give_back()
                raise
            self._note_stored(place, found)
        return found.taken, found.refused

    async def open_debrief(self, place: SeatPlace, now_ms: int) -> None:
        """Take no more marks of a seat, as it is about to see its debrief.

        Called in the event loop of `submit`: what was handed over there before is on the disk
        before this returns, and what comes after is refused. A tasting that is opened again takes
        the seat's marks again.

        Raises
        ------
        StoreError
            It cannot be noted, so the debrief must not be shown.
        """
        if place.number in self._noted:
            return
        self._opened.add(place.number)
        try:
            await asyncio.to_thread(
                self._writer.run, lambda db: opened_debriefs.insert(db, place.number, now_ms)
            )
        except BaseException:
            self._opened -= {place.number} - self._noted
            raise
        self._noted.add(place.number)

    def _is_final(self, place: SeatPlace) -> bool:
        """Say whether a seat has seen what it recorded, and may not add to it."""
        return place.number in self._opened and self.tasting(place.tasting_id).state != "open"

    def _admit(self, place: SeatPlace, messages: Sequence[Message], received_ms: int) -> Admitted:
        log = self._logs.of(place)
        if not self._is_final(place):
            frame = self._known.frame(place.tasting_id)
            return admit(log, *sort_out(frame, messages, received_ms))
        late = {each.id for each in log.unknown(messages)}
        refused = [Refusal(id=each.id, error=FINAL) for each in messages if each.id in late]
        return admit(log, [each for each in messages if each.id not in late], refused)

    def _note_stored(self, place: SeatPlace, found: Admitted) -> None:
        found.log.note(found.fresh)
        self._tell_records(place, found.fresh)

    def records(self, tasting_id: str) -> tuple[Record, ...]:
        """Return everything the seats recorded, in the order of arrival, clocks filled in."""
        tasting = self.tasting(tasting_id)
        batches = self._read(lambda db: list(batch_table.read_batches(db, tasting_id)))
        with explained(self.path):
            records = [to_record(message, seat) for seat, message in decode_log(batches)]
        return fill_clocks(records, tasting)

    def messages_of(self, place: SeatPlace) -> list[Message]:
        """Return one seat's records as they were sent, in the order of arrival."""
        bodies = self._read(lambda db: batch_table.read_batches_of_seat(db, place.number))
        log = ((place.seat_id, body) for body in bodies)
        with explained(self.path):
            return [message for _seat, message in decode_log(log)]

    def log_length(self, tasting_id: str) -> int:
        """Return a number that grows whenever records of a tasting arrive."""
        return self._read(lambda db: batch_table.count_batches(db, tasting_id))

    # -- inside ------------------------------------------------------------------------------

    def _read(self, query: Callable[[sqlite3.Connection], T]) -> T:
        return self._readers.run(query)

    def _happen(self, tasting_id: str, event: Event) -> Tasting:
        return self._command(tasting_id, host_decisions.just(event))

    def _command(self, tasting_id: str, decide: Decision) -> Tasting:
        """Decide on the newest state inside the writer's transaction, then publish."""

        def work(db: sqlite3.Connection) -> Tasting:
            tasting = tasting_tables.read_tasting(db, tasting_id)
            event = decide(db, tasting)
            tasting_tables.append_event(db, tasting, event)
            return apply(tasting, event)

        return self._published(self._writer.run(work))

    def _note_trouble(self, trouble: StoreError | None) -> None:
        self.trouble = trouble
        for listener in self._trouble_listeners:
            listener(trouble)

    def _published(self, tasting: Tasting) -> Tasting:
        self._known.remember(tasting)
        for listener in self._tasting_listeners:
            listener(tasting)
        return tasting

    def _tell_records(self, place: SeatPlace, messages: Sequence[Message]) -> None:
        for listener in self._record_listeners:
            listener(place.tasting_id, place.seat_id, messages)


def open_store(path: Path | str | None = None) -> Store:
    """Open the store at ``path`` (or at its usual place), creating it if need be.

    Raises
    ------
    StoreError
        The file cannot be used; the message says why and what to do.
    """
    return Store(default_path() if path is None else Path(path))
