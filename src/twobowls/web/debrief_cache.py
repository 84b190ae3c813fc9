"""Keeps the debriefs of the last tastings: computed once, whoever asks and however many."""

from collections import OrderedDict, defaultdict
from dataclasses import dataclass
from threading import Lock

from twobowls.debrief.own import OwnDebrief, own_debrief
from twobowls.debrief.tables import evening
from twobowls.debrief.tasting_debrief import TastingDebrief, debrief_of
from twobowls.store import Store
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.web.debrief_view import DebriefView, tasting_view

_MOST = 8


@dataclass(slots=True)
class _Entry:
    key: tuple[int, int]
    debrief: TastingDebrief
    view: DebriefView | None = None


class Debriefs:
    """The debriefs of one store.

    An entry counts for one version of a tasting and one length of its log, since a phone that
    was away may still bring marks after the tasting has closed. Whoever asks while it is being
    computed waits for it; other tastings are not held up.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._entries: OrderedDict[str, _Entry] = OrderedDict()
        self._locks: defaultdict[str, Lock] = defaultdict(Lock)
        self._all = Lock()

    def debrief(self, tasting: Tasting) -> TastingDebrief:
        """Return the debrief of a tasting as it stands."""
        with self._lock(tasting):
            return self._entry(tasting).debrief

    def view(self, tasting: Tasting) -> DebriefView:
        """Return the host's page of a tasting, with its drawings."""
        with self._lock(tasting):
            entry = self._entry(tasting)
            if entry.view is None:
                entry.view = tasting_view(entry.debrief)
            return entry.view

    def own(self, tasting: Tasting, seat: Seat) -> OwnDebrief:
        """Return what one seat is shown of itself."""
        with self._lock(tasting):
            counts_as = tasting.merged.get(seat.id, seat.id)
            known = {each.id: each for each in tasting.seats}
            return own_debrief(self._entry(tasting).debrief, known[counts_as])

    def _lock(self, tasting: Tasting) -> Lock:
        with self._all:
            return self._locks[tasting.id]

    def _entry(self, tasting: Tasting) -> _Entry:
        key = (tasting.version, self._store.log_length(tasting.id))
        entry = self._entries.get(tasting.id)
        if entry is None or entry.key != key:
            entry = _Entry(key, self._compute(tasting))
        with self._all:
            self._entries[tasting.id] = entry
            self._entries.move_to_end(tasting.id)
            while len(self._entries) > _MOST:
                self._entries.popitem(last=False)
        return entry

    def _compute(self, tasting: Tasting) -> TastingDebrief:
        coffees = {each.id: each for each in self._store.coffees(include_archived=True)}
        return debrief_of(evening(tasting, self._store.records(tasting.id), coffees))
