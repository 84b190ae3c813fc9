"""What was read before and need not be read again: tastings as they stand, and seats' places."""

import threading

from twobowls.errors import NotFoundError
from twobowls.store import tasting_tables
from twobowls.store.acceptance import Frame, frame_of
from twobowls.store.readers import Readers
from twobowls.store.seat_places import SeatPlace
from twobowls.tasting.tasting import Tasting


class Known:
    """The newest state of each tasting that anybody asked for; any thread may ask."""

    def __init__(self, readers: Readers) -> None:
        self._readers = readers
        self._lock = threading.Lock()
        self._tastings: dict[str, Tasting] = {}
        self._frames: dict[str, tuple[int, Frame]] = {}
        self._places: dict[str, SeatPlace] = {}

    def tasting(self, tasting_id: str) -> Tasting:
        """Return a tasting as it stands.

        Raises
        ------
        NotFoundError
            There is no such tasting.
        """
        known = self._tastings.get(tasting_id)
        if known is None:
            known = self._readers.run(lambda db: tasting_tables.read_tasting(db, tasting_id))
            self.remember(known)
        return known

    def remember(self, tasting: Tasting) -> None:
        """Note a tasting, unless a newer state of it is known."""
        with self._lock:
            known = self._tastings.get(tasting.id)
            if known is None or known.version < tasting.version:
                self._tastings[tasting.id] = tasting

    def frame(self, tasting_id: str) -> Frame:
        """Return what the records of a tasting are held against now."""
        tasting = self.tasting(tasting_id)
        known = self._frames.get(tasting_id)
        if known is None or known[0] != tasting.version:
            known = self._frames[tasting_id] = (tasting.version, frame_of(tasting))
        return known[1]

    def place(self, key: str) -> SeatPlace:
        """Return where the records go of the seat that a key opens.

        Raises
        ------
        NotFoundError
            No seat has this key.
        """
        known = self._places.get(key)
        if known is None:
            found = self._readers.run(lambda db: tasting_tables.seat_by_key(db, key))
            if found is None or not self._is_taken(*found[1:]):
                raise NotFoundError("There is no such seat. Join again with the tasting's code.")
            known = self._places[key] = SeatPlace(*found, key)
        return known

    def forget(self, key: str) -> None:
        """Let a key that opens nothing any more be looked up again."""
        self._places.pop(key, None)

    def _is_taken(self, seat_id: str, tasting_id: str) -> bool:
        """Say whether a seat is still taken; one that was given up leaves its key behind."""
        return any(seat.id == seat_id for seat in self.tasting(tasting_id).seats)
