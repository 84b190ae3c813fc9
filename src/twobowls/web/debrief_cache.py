"""Keeps the debriefs of the last tastings: worked out once, whoever asks and however many.

One thing is worked out at a time, by a thread of its own: a table that looks at its debriefs must
not hold up another table's marks. Whoever asks for what is being worked out waits for that, and
while new marks are worked in the page as it was is shown.
"""

import asyncio
import logging
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

import anyio
from anyio import to_thread

from twobowls.debrief.own import own_debrief
from twobowls.debrief.tables import Evening, evening
from twobowls.debrief.tasting_debrief import TastingDebrief, debrief_of
from twobowls.store import Store
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.web.debrief_view import DebriefView, tasting_view
from twobowls.web.private_view import PrivateView, private_view

log = logging.getLogger(__name__)

PATIENCE_S = 2.0  # what most tables' debriefs take; beyond, the page as it was is better
_MOST = 8
T = TypeVar("T")
Key = tuple[int, int]  # version of the tasting, length of its log; both only grow


@dataclass(frozen=True, slots=True)
class Shown(Generic[T]):
    """Something made of a debrief; ``renewing`` while marks that came since are worked in."""

    made: T
    renewing: bool = False


@dataclass(slots=True)
class _Entry:
    """A debrief and what was made of it; ``before`` was made of the debrief before late marks."""

    key: Key
    debrief: TastingDebrief
    made: dict[str, Any] = field(default_factory=dict)
    before: dict[str, Any] = field(default_factory=dict)


class Debriefs:
    """The debriefs of one store.

    An entry counts for one version of a tasting and one length of its log, since a phone that
    was away may still bring marks after the tasting has closed.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._entries: OrderedDict[str, _Entry] = OrderedDict()
        self._flights: dict[tuple[str, str], asyncio.Task[None]] = {}
        self._working = anyio.CapacityLimiter(1)
        self._writing = anyio.CapacityLimiter(1)

    async def view(self, tasting: Tasting) -> Shown[DebriefView]:
        """Return the host's page of a tasting, with its drawings."""
        return await self._shown(tasting, "view", tasting_view, PATIENCE_S)

    async def own(self, tasting: Tasting, seat: Seat) -> Shown[PrivateView]:
        """Return the private page of one seat."""
        counts_as = tasting.merged.get(seat.id, seat.id)
        counted = next(each for each in tasting.seats if each.id == counts_as)

        def make(debrief: TastingDebrief) -> PrivateView:
            return private_view(debrief, seat, own_debrief(debrief, counted))

        return await self._shown(tasting, f"own {seat.id}", make, PATIENCE_S)

    async def file(self, tasting: Tasting, name: str, make: Callable[[TastingDebrief], T]) -> T:
        """Return a file of a debrief, always with the latest marks."""
        return (await self._shown(tasting, name, make, None)).made

    async def write(self, work: Callable[[], T]) -> T:
        """Return what ``work`` writes of things that are there, one thing at a time."""
        return await to_thread.run_sync(work, limiter=self._writing)

    def night(self, tasting: Tasting) -> Evening:
        """Return a tasting with its records as they stand; nothing of it is worked out."""
        coffees = {each.id: each for each in self._store.coffees(include_archived=True)}
        return evening(tasting, self._store.records(tasting.id), coffees)

    async def _shown(
        self,
        tasting: Tasting,
        what: str,
        make: Callable[[TastingDebrief], T],
        patience_s: float | None,
    ) -> Shown[T]:
        want = (tasting.version, await self.write(lambda: self._store.log_length(tasting.id)))
        while True:
            entry = self._entries.get(tasting.id)
            if entry is not None and what in entry.made and _covers(entry.key, want):
                return Shown(entry.made[what])
            flight = self._flight(tasting.id, what, make)
            old = None if patience_s is None else _as_it_was(entry, what, want)
            await asyncio.wait([flight], timeout=None if old is None else patience_s)
            if flight.done():
                flight.result()
            elif old is not None:
                return Shown(old[0], renewing=True)

    def _flight(
        self, tasting_id: str, what: str, make: Callable[[TastingDebrief], Any]
    ) -> asyncio.Task[None]:
        """Return the one task that is making this, begun here if there is none."""
        key = (tasting_id, what)
        flight = self._flights.get(key)
        if flight is None or flight.done():
            flight = asyncio.create_task(self._work(tasting_id, what, make))
            self._flights[key] = flight
            flight.add_done_callback(lambda done: self._landed(key, done))
        return flight

    def _landed(self, key: tuple[str, str], flight: asyncio.Task[None]) -> None:
        if self._flights.get(key) is flight:
            del self._flights[key]
        if not flight.cancelled():
            flight.exception()  # who waited has been told; nobody may have

    async def _work(
        self, tasting_id: str, what: str, make: Callable[[TastingDebrief], Any]
    ) -> None:
        await to_thread.run_sync(self._make, tasting_id, what, make, limiter=self._working)

    def _make(self, tasting_id: str, what: str, make: Callable[[TastingDebrief], Any]) -> None:
        """Make something of the debrief as the store stands now; one thread at a time is here."""
        tasting = self._store.tasting(tasting_id)
        key = (tasting.version, self._store.log_length(tasting_id))
        entry = self._entries.get(tasting_id)
        if entry is None or entry.key != key:
            same = entry is not None and entry.key[0] == key[0]
            before = {**entry.before, **entry.made} if entry is not None and same else {}
            entry = _Entry(key, debrief_of(self.night(tasting)), before=before)
            _tell(tasting, entry.debrief.failed)
        self._entries[tasting_id] = entry
        self._entries.move_to_end(tasting_id)
        while len(self._entries) > _MOST:
            self._entries.popitem(last=False)
        if what not in entry.made:
            told = set(entry.debrief.failed)
            entry.made[what] = made = make(entry.debrief)
            entry.before.pop(what, None)
            failed = entry.debrief.failed.items()
            _tell(tasting, {part: error for part, error in failed if part not in told})
            if isinstance(made, DebriefView):
                _tell(tasting, made.failures)


def _covers(key: Key, want: Key) -> bool:
    """Say whether something made at one point holds all that was there at another."""
    return key[0] >= want[0] and key[1] >= want[1]


def _as_it_was(entry: _Entry | None, what: str, want: Key) -> tuple[Any] | None:
    """Return what was made before the latest marks, but never before a reveal or a correction."""
    if entry is None or entry.key[0] != want[0]:
        return None
    for made in (entry.made, entry.before):
        if what in made:
            return (made[what],)
    return None


def _tell(tasting: Tasting, failed: Mapping[str, Exception]) -> None:
    """Write into the log which parts could not be worked out."""
    for part, error in failed.items():
        log.error("Debrief of %s: %s could not be worked out.", tasting.id, part, exc_info=error)
