"""Who is where: how many of its bowls and sensations each seat has marked in each round.

Counted as records arrive; a tasting's earlier records are read once, when its bench is first
looked at.
"""

from collections.abc import Sequence

from twobowls.store import Store
from twobowls.store.record_messages import MarkMessage, Message
from twobowls.tasting.records import Mark
from twobowls.tasting.sensations import sensations_in
from twobowls.tasting.tasting import Tasting

Place = tuple[str, str, str]  # round, bowl, sensation


class _Seat:
    """One seat's marked places, and how many there are in each round."""

    __slots__ = ("counts", "places")

    def __init__(self) -> None:
        self.places: set[Place] = set()
        self.counts: dict[str, int] = {}

    def add(self, place: Place) -> None:
        if place not in self.places:
            self.places.add(place)
            self.counts[place[0]] = self.counts.get(place[0], 0) + 1


class Progress:
    """Counts of every tasting that somebody watches."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._seats: dict[str, dict[str, _Seat]] = {}

    def note(self, tasting_id: str, seat_id: str, messages: Sequence[Message]) -> None:
        """Count records that have just been stored."""
        seats = self._seats.get(tasting_id)
        if seats is None:
            return
        seat = seats.setdefault(seat_id, _Seat())
        for each in messages:
            if type(each) is MarkMessage:
                seat.add((each.round, each.bowl, each.sensation))

    def counts(self, tasting: Tasting) -> dict[str, dict[str, int]]:
        """Return the number of marked places by seat id and round key."""
        seats = self._seats.get(tasting.id)
        if seats is None:
            seats = self._seats[tasting.id] = {}
            for record in self._store.records(tasting.id):
                if isinstance(record, Mark):
                    seat = seats.setdefault(record.seat, _Seat())
                    seat.add((record.round, record.bowl, record.sensation))
        return {seat_id: dict(seat.counts) for seat_id, seat in list(seats.items())}


def expected(tasting: Tasting) -> dict[str, int]:
    """Return how many places a seat can mark in each round."""
    bowls = len(tasting.plan.bowls)
    return {each.key: bowls * len(sensations_in(each)) for each in tasting.setup.rounds}
