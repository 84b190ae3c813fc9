"""Keeps the debriefs of the last tastings: computed once, whoever asks and however many."""

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock

from twobowls.debrief.tables import evening
from twobowls.debrief.tasting_debrief import TastingDebrief, debrief_of
from twobowls.store import Store
from twobowls.tasting.tasting import Tasting
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
    was away may still bring marks after the tasting has closed.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._entries: OrderedDict[str, _Entry] = OrderedDict()
        self._lock = Lock()

    def debrief(self, tasting: Tasting) -> TastingDebrief:
        """Return the debrief of a tasting as it stands."""
        with self._lock:
            return self._entry(tasting).debrief

    def view(self, tasting: Tasting) -> DebriefView:
        """Return the host's page of a tasting, with its drawings."""
        with self._lock:
            entry = self._entry(tasting)
            if entry.view is None:
                entry.view = tasting_view(entry.debrief)
            return entry.view

    def _entry(self, tasting: Tasting) -> _Entry:
        key = (tasting.version, self._store.log_length(tasting.id))
        entry = self._entries.get(tasting.id)
        if entry is None or entry.key != key:
            entry = _Entry(key, self._compute(tasting))
            self._entries[tasting.id] = entry
        self._entries.move_to_end(tasting.id)
        while len(self._entries) > _MOST:
            self._entries.popitem(last=False)
        return entry

    def _compute(self, tasting: Tasting) -> TastingDebrief:
        coffees = {each.id: each for each in self._store.coffees(include_archived=True)}
        return debrief_of(evening(tasting, self._store.records(tasting.id), coffees))
