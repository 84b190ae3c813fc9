"""Who is where: how many of its bowls and sensations each seat has marked in each round.

Counted as records arrive; a tasting's earlier records are read once, when its bench is first
looked at.
"""

import threading
from collections.abc import Sequence

from twobowls.store import Store
from twobowls.store.record_messages import MarkMessage, Message
from twobowls.tasting.asking import asked_in
from twobowls.tasting.records import Mark
from twobowls.tasting.tasting import Tasting

Places = dict[str, set[tuple[str, str]]]  # by round: bowls and sensations


class Progress:
    """Counts of every tasting that somebody watches."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._seats: dict[str, dict[str, Places]] = {}
        self._active: dict[str, set[str]] = {}
        self._counted: set[str] = set()
        self._counting = threading.Lock()

    def note(self, tasting_id: str, seat_id: str, messages: Sequence[Message]) -> None:
        """Count records that have just been stored."""
        seats = self._seats.get(tasting_id)
        if seats is None:
            return
        self._active[tasting_id].add(seat_id)
        for each in messages:
            if type(each) is MarkMessage:
                _add(seats, seat_id, each)

    def counts(self, tasting: Tasting) -> dict[str, dict[str, int]]:
        """Return the number of marked places by seat id and round key."""
        if tasting.id not in self._counted:
            with self._counting:  # a second page waits for the whole count, too
                self._count(tasting.id)
        seats = self._seats[tasting.id]
        return {
            seat_id: {key: len(places) for key, places in list(rounds.items())}
            for seat_id, rounds in list(seats.items())
        }

    def active(self, tasting_id: str) -> set[str]:
        """Return the seats that have recorded anything, of a tasting that `counts` knows."""
        return set(self._active.get(tasting_id, ()))

    def _count(self, tasting_id: str) -> None:
        """Read the records there are, while `note` adds those that arrive meanwhile."""
        if tasting_id in self._counted:
            return
        active = self._active.setdefault(tasting_id, set())
        seats = self._seats.setdefault(tasting_id, {})
        for record in self._store.records(tasting_id):
            active.add(record.seat)
            if isinstance(record, Mark):
                _add(seats, record.seat, record)
        self._counted.add(tasting_id)


def _add(seats: dict[str, Places], seat_id: str, mark: Mark | MarkMessage) -> None:
    """Count a mark once, though two threads may come with the same one."""
    places = seats.setdefault(seat_id, {}).setdefault(mark.round, set())
    places.add((mark.bowl, mark.sensation))


def expected(tasting: Tasting) -> dict[str, int]:
    """Return how many places a seat can mark in each round."""
    bowls = len(tasting.plan.bowls)
    return {key: bowls * len(pads) for key, pads in asked_in(tasting.setup).items()}
